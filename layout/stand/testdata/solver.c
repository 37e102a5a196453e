/* The stand solver once more, in strict C: the same algorithm as layout/stand, for one core. It is what BenchmarkSolver
   measures itself against; compile it with -O3 and without -ffast-math. It prints nanoseconds a problem, and the sums
   of what it found, which must be the Go program's. Usage: solver PROBLEMS ROUNDS */
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum { STACKS = 6, ROWS = 25, SEATS = 80, N = ROWS * SEATS, STEPS = 100, TABLE = 2 * STEPS + 1 };
static const double pi = 3.14159265358979323846, window = 0.03, lead = 0.01, slack = 1e-9, tie = 1e-12;
static double speed, latency = 0.004;
static double sx[STACKS], sy[STACKS], sz[STACKS], sl[STACKS], sr[STACKS];
static double x[N], y[N], z[N], w[N], dist[STACKS][N], total;
static double first[TABLE][N], ex[TABLE][N], ey[TABLE][N], refFirst[TABLE];
enum { SOME = (N + 6) / 7 };
static double ux[STACKS][N], uy[STACKS][N], roughX[TABLE][SOME], roughY[TABLE][SOME], qx7[SOME], qy7[SOME];
static int haveFirst[TABLE], haveEnergy[TABLE];
static const double rx = 0, ry = -36.6, rz = 18.3;

static double distance(double ax, double ay, double az, double bx, double by, double bz) {
    double dx = ax - bx, dy = ay - by, dz = az - bz;
    return sqrt(dx * dx + dy * dy + dz * dz);
}
static void gains(int k, double g[STACKS]) {
    double theta = ((double)k / STEPS + 1) * pi / 4, l = cos(theta), r = sin(theta);
    for (int i = 0; i < STACKS; i++) {
        double v = sl[i] * l + sr[i] * r;
        g[i] = v >= 1e-6 ? v : 0;
    }
}
static double level(double g, double d) {
    double v = g / (d > 0.01 ? d : 0.01);
    return v * v;
}
static double arrive(const double g[STACKS], const double d[STACKS]) {
    static double floorv = 0;
    if (floorv == 0) floorv = pow(10, -1) * (1 - 1e-9);
    double lv[STACKS], loudest = 0, best = INFINITY;
    for (int i = 0; i < STACKS; i++) {
        lv[i] = level(g[i], d[i]);
        if (lv[i] > loudest) loudest = lv[i];
    }
    for (int i = 0; i < STACKS; i++) {
        if (!(lv[i] > 0 && lv[i] >= loudest * floorv)) continue;
        double t = latency + d[i] / speed;
        if (t < best - 1e-12) best = t;
    }
    return best;
}
static const double *atPan(int k) {
    int row = k + STEPS;
    if (!haveFirst[row]) {
        double g[STACKS], d[STACKS];
        gains(k, g);
        for (int j = 0; j < N; j++) {
            for (int i = 0; i < STACKS; i++) d[i] = dist[i][j];
            first[row][j] = arrive(g, d);
        }
        for (int i = 0; i < STACKS; i++) d[i] = distance(sx[i], sy[i], sz[i], rx, ry, rz);
        refFirst[row] = arrive(g, d);
        haveFirst[row] = 1;
    }
    return first[row];
}
static void energyAt(int k) {
    int row = k + STEPS;
    if (haveEnergy[row]) return;
    double g[STACKS];
    gains(k, g);
    memset(ex[row], 0, sizeof ex[row]);
    memset(ey[row], 0, sizeof ey[row]);
    for (int i = 0; i < STACKS; i++) {
        double v = g[i] * g[i];
        if (v > 0)
            for (int j = 0; j < N; j++) ex[row][j] += v * ux[i][j], ey[row][j] += v * uy[i][j];
    }
    for (int j = 0; j < N; j++) {
        double n = sqrt(ex[row][j] * ex[row][j] + ey[row][j] * ey[row][j]);
        if (n > 0) ex[row][j] /= n, ey[row][j] /= n;
    }
    for (int j = 0; j < SOME; j++) roughX[row][j] = ex[row][7 * j], roughY[row][j] = ey[row][7 * j];
    haveEnergy[row] = 1;
}
static double px[N], py[N], costs[TABLE];
static double dot(const double *a, const double *b, const double *c, const double *d, int n) {
    double s0 = 0, s1 = 0, s2 = 0, s3 = 0;
    int j = 0;
    for (; j + 4 <= n; j += 4) {
        s0 += a[j] * b[j] + c[j] * d[j];
        s1 += a[j + 1] * b[j + 1] + c[j + 1] * d[j + 1];
        s2 += a[j + 2] * b[j + 2] + c[j + 2] * d[j + 2];
        s3 += a[j + 3] * b[j + 3] + c[j + 3] * d[j + 3];
    }
    for (; j < n; j++) s0 += a[j] * b[j] + c[j] * d[j];
    return s0 + s1 + s2 + s3;
}
static double rough(int k) {
    energyAt(k);
    return -dot(qx7, roughX[k + STEPS], qy7, roughY[k + STEPS], SOME);
}
static double cost(int k) {
    double *c = &costs[k + STEPS];
    if (!isnan(*c)) return *c;
    energyAt(k);
    return *c = 1 - dot(px, ex[k + STEPS], py, ey[k + STEPS], N) / total;
}
static int better(int a, int b) {
    double ca = cost(a), cb = cost(b);
    if (fabs(ca - cb) > tie) return ca < cb;
    if (abs(a) != abs(b)) return abs(a) < abs(b);
    return a < b;
}
static int descend(int k) {
    int best = k;
    for (int dir = -1; dir <= 1; dir += 2)
        for (int n = best + dir; n >= -STEPS && n <= STEPS && cost(n) <= cost(best) + tie; n += dir)
            if (better(n, best)) best = n;
    return best;
}
static int fitPan(double qx, double qy) {
    for (int j = 0; j < N; j++) {
        double dx = qx - x[j], dy = qy - y[j], plan = sqrt(dx * dx + dy * dy);
        px[j] = plan > 0 ? w[j] * dx / plan : 0;
        py[j] = plan > 0 ? w[j] * dy / plan : 0;
    }
    for (int j = 0; j < SOME; j++) qx7[j] = px[7 * j], qy7[j] = py[7 * j];
    for (int i = 0; i < TABLE; i++) costs[i] = NAN;
    double coarse[TABLE];
    int at[TABLE], n = 0, best = 0;
    for (int k = -STEPS;; k += 5) {
        at[n] = k;
        coarse[n++] = rough(k);
        if (k == STEPS) break;
    }
    for (int i = 0; i < n; i++)
        if ((i == 0 || coarse[i] <= coarse[i - 1]) && (i == n - 1 || coarse[i] <= coarse[i + 1])) {
            int k = descend(at[i]);
            if (better(k, best)) best = k;
        }
    return best;
}
typedef struct { double q, w; } need;
static need sorted[N], unsorted[N];
static double before[N + 1], q[N];
static int32_t starts[N + 1];
static int byTime(const void *a, const void *b) {
    double d = ((const need *)a)->q - ((const need *)b)->q;
    return d < 0 ? -1 : d > 0;
}
static int fill(void) {
    int n = 0;
    for (int j = 0; j < N; j++)
        if (!isinf(q[j])) unsorted[n++] = (need){q[j], w[j]};
    double lo = unsorted[0].q, hi = lo;
    for (int i = 0; i < n; i++) {
        lo = unsorted[i].q < lo ? unsorted[i].q : lo;
        hi = unsorted[i].q > hi ? unsorted[i].q : hi;
    }
    double perBin = (n - 1) / (hi - lo);
    memset(starts, 0, sizeof starts);
    for (int i = 0; i < n; i++) starts[(int)((unsorted[i].q - lo) * perBin) + 1]++;
    for (int b = 1; b <= n; b++) starts[b] += starts[b - 1];
    for (int i = 0; i < n; i++) sorted[starts[(int)((unsorted[i].q - lo) * perBin)]++] = unsorted[i];
    int32_t from = 0;
    for (int b = 0; b < n; b++) {
        if (starts[b] - from > 32) qsort(sorted + from, starts[b] - from, sizeof(need), byTime);
        from = starts[b];
    }
    for (int i = 1; i < n; i++) {
        need v = sorted[i];
        int j = i;
        for (; j > 0 && sorted[j - 1].q > v.q; j--) sorted[j] = sorted[j - 1];
        sorted[j] = v;
    }
    double sum = 0;
    before[0] = 0;
    for (int i = 0; i < n; i++) before[i + 1] = sum += sorted[i].w;
    return n;
}
typedef struct { double lo, hi, best, at; int in, out, n; } slider;
static void weigh(slider *s, double tau) {
    if (tau < s->lo || tau > s->hi) return;
    while (s->in < s->n && sorted[s->in].q <= tau + slack) s->in++;
    while (s->out < s->n && sorted[s->out].q < tau - window - slack) s->out++;
    double v = before[s->in] - before[s->out];
    if (v > s->best + 1e-9) s->best = v, s->at = tau;
}
static double mostSeats(int n, double reference) {
    double own = reference > 0 ? reference : 0, top = reference + window > 0 ? reference + window : 0;
    slider s = {own, top, -INFINITY, own, 0, 0, n};
    int pending = 1;
    for (int i = 0; i < n; i++) {
        double tau = sorted[i].q > 0 ? sorted[i].q : 0;
        if (pending && own <= tau) weigh(&s, own), pending = 0;
        weigh(&s, tau);
    }
    if (pending) weigh(&s, own);
    return s.at;
}
static double needs(int k, double qx, double qy, double qz) {
    const double *f = atPan(k);
    for (int j = 0; j < N; j++) {
        double dx = qx - x[j], dy = qy - y[j], dz = qz - z[j];
        q[j] = sqrt(dx * dx + dy * dy + dz * dz) / speed - f[j];
    }
    return distance(qx, qy, qz, rx, ry, rz) / speed - refFirst[k + STEPS];
}
static double medianOf(need *all, int n, double sumAll) {
    double lo = INFINITY, hi = -INFINITY;
    for (int i = 0; i < n; i++) {
        lo = all[i].q < lo ? all[i].q : lo;
        hi = all[i].q > hi ? all[i].q : hi;
    }
    enum { BINS = 512 };
    double width = (hi - lo) / BINS, weight[BINS + 1] = {0}, half = sumAll / 2 * (1 - 1e-12), sum = 0;
    if (width == 0) return lo;
    for (int i = 0; i < n; i++) weight[(int)((all[i].q - lo) / width)] += all[i].w;
    int bin = 0, m = 0;
    for (; bin < BINS && sum + weight[bin] < half; bin++) sum += weight[bin];
    static need inside[N];
    for (int i = 0; i < n; i++)
        if ((int)((all[i].q - lo) / width) == bin) inside[m++] = all[i];
    qsort(inside, m, sizeof(need), byTime);
    for (int i = 0; i < m; i++)
        if ((sum += inside[i].w) >= half) return inside[i].q;
    return inside[m - 1].q;
}
static uint64_t state;
static double uniform(void) {
    state = state * 6364136223846793005ull + 1442695040888963407ull;
    return (double)(state >> 11) / 9007199254740992.0;
}
int main(int argc, char **argv) {
    int problems = atoi(argv[1]), rounds = atoi(argv[2]);
    speed = 343.2 * sqrt((20 + 273.15) / 293.15);
    for (int i = 0; i < STACKS; i++) {
        sx[i] = -24 + 48 * (double)i / (STACKS - 1), sy[i] = -2, sz[i] = 2.5;
        sl[i] = i < STACKS / 2, sr[i] = i >= STACKS / 2;
    }
    for (int r = 0, j = 0; r < ROWS; r++) {
        double t = (double)r / (ROWS - 1), wide = 60 + (100 - 60) * t;
        for (int s = 0; s < SEATS; s++, j++) {
            x[j] = wide * ((s + 0.5) / SEATS - 0.5), y[j] = -12 + (-45 - -12) * t, z[j] = 2 + (19 - 2) * t, w[j] = 1;
            total += w[j];
            for (int i = 0; i < STACKS; i++) {
                double dx = sx[i] - x[j], dy = sy[i] - y[j], plan = hypot(dx, dy);
                dist[i][j] = distance(sx[i], sy[i], sz[i], x[j], y[j], z[j]);
                ux[i][j] = level(1, dist[i][j]) * dx / plan, uy[i][j] = level(1, dist[i][j]) * dy / plan;
            }
        }
    }
    double best = INFINITY, sums[7];
    for (int round = 0; round < rounds; round++) {
        memset(haveFirst, 0, sizeof haveFirst);
        memset(haveEnergy, 0, sizeof haveEnergy);
        memset(sums, 0, sizeof sums);
        state = 1;
        struct timespec a, b;
        clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &a);
        for (int n = 0; n < problems; n++) {
            double qx = 80 * uniform() - 40, qy = 48 * uniform(), qz = 1.5;
            int k = fitPan(qx, qy);
            double own = needs(k, qx, qy, qz), ref = own + lead, never = -INFINITY, least = 0;
            for (int j = 0; j < N; j++) never = q[j] > never ? q[j] : never;
            int m = fill();
            for (int i = 0; i < m; i++)
                if (before[i + 1] >= before[m] / 2 * (1 - 1e-12)) { least = lead + sorted[i].q; break; }
            double most = mostSeats(m, own), inside = 0;
            static need all[N];
            for (int j = 0; j < N; j++) {
                double late = most - q[j];
                if (late >= -slack && late <= window + slack) inside += w[j];
                all[j] = (need){late, w[j]};
            }
            sums[0] += k, sums[1] += ref, sums[2] += most, sums[3] += least, sums[4] += never, sums[5] += inside / total;
            sums[6] += medianOf(all, N, total);
        }
        clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &b);
        double took = (b.tv_sec - a.tv_sec) * 1e9 + (b.tv_nsec - a.tv_nsec);
        if (took < best) best = took;
    }
    printf("%.1f", best / problems);
    for (int i = 0; i < 7; i++) printf(" %.12g", sums[i]);
    printf("\n");
    return 0;
}
