/* The stand solver once more, in strict C: the same algorithm as layout/stands, for one core. It is what BenchmarkSolver
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
static double x[N], y[N], z[N], w[N], loud[STACKS][N], arrive[STACKS][N], total;
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
/* when the first significant of the stacks is heard at n seats */
static void hear(int n, const double g[STACKS], double *const level[STACKS], double *const when[STACKS], double *out) {
    static double loudest[N];
    const double share = 0.1 * (1 - 1e-9);
    for (int j = 0; j < n; j++) loudest[j] = 0, out[j] = INFINITY;
    for (int i = 0; i < STACKS; i++)
        for (int j = 0; j < n; j++) {
            double v = g[i] * g[i] * level[i][j];
            if (v > loudest[j]) loudest[j] = v;
        }
    for (int i = 0; i < STACKS; i++)
        for (int j = 0; j < n; j++) {
            double v = g[i] * g[i] * level[i][j];
            if (when[i][j] < out[j] - 1e-12 && v > 0 && v >= loudest[j] * share) out[j] = when[i][j];
        }
}
static const double *atPan(int k) {
    int row = k + STEPS;
    if (!haveFirst[row]) {
        double g[STACKS], l[STACKS], t[STACKS], *ls[STACKS], *ts[STACKS];
        gains(k, g);
        for (int i = 0; i < STACKS; i++) ls[i] = loud[i], ts[i] = arrive[i];
        hear(N, g, ls, ts, first[row]);
        for (int i = 0; i < STACKS; i++) {
            double d = distance(sx[i], sy[i], sz[i], rx, ry, rz);
            l[i] = level(1, d), t[i] = latency + d / speed, ls[i] = &l[i], ts[i] = &t[i];
        }
        hear(1, g, ls, ts, &refFirst[row]);
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
        double n = ex[row][j] * ex[row][j] + ey[row][j] * ey[row][j];
        if (n > 0) n = 1 / sqrt(n), ex[row][j] *= n, ey[row][j] *= n;
    }
    for (int j = 0; j < SOME; j++) roughX[row][j] = ex[row][7 * j], roughY[row][j] = ey[row][7 * j];
    haveEnergy[row] = 1;
}
static double px[N], py[N], costs[TABLE], roughs[TABLE];
static double dot(const double *a, const double *b, const double *c, const double *d, int n) {
    double s0 = 0, s1 = 0, s2 = 0, s3 = 0;
    int j = 0;
#ifndef ONE_SUM /* four sums, as the Go program has them, which the compiler may put side by side into one register */
    for (; j + 4 <= n; j += 4) {
        s0 += a[j] * b[j] + c[j] * d[j];
        s1 += a[j + 1] * b[j + 1] + c[j + 1] * d[j + 1];
        s2 += a[j + 2] * b[j + 2] + c[j + 2] * d[j + 2];
        s3 += a[j + 3] * b[j + 3] + c[j + 3] * d[j + 3];
    }
#endif
    for (; j < n; j++) s0 += a[j] * b[j] + c[j] * d[j];
    return s0 + s1 + s2 + s3;
}
static double rough(int k) {
    double *c = &roughs[k + STEPS];
    if (!isnan(*c)) return *c;
    energyAt(k);
    return *c = -dot(qx7, roughX[k + STEPS], qy7, roughY[k + STEPS], SOME);
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
static int wade(int k) {
    for (int dir = -1; dir <= 1; dir += 2)
        for (int n = k + dir; n >= -STEPS && n <= STEPS && rough(n) < rough(k); n += dir) k = n;
    return k;
}
static int fitPan(double qx, double qy) {
    for (int j = 0; j < N; j++) {
        double dx = qx - x[j], dy = qy - y[j], plan = dx * dx + dy * dy, f = plan > 0 ? w[j] / sqrt(plan) : 0;
        px[j] = dx * f, py[j] = dy * f;
    }
    for (int j = 0; j < SOME; j++) qx7[j] = px[7 * j], qy7[j] = py[7 * j];
    for (int i = 0; i < TABLE; i++) costs[i] = roughs[i] = NAN;
    enum { STRIDE = 5 };
    int best = 0, found = 0;
    for (int from = -STEPS; from < STEPS + STRIDE; from += STRIDE) {
        int k = from < STEPS ? from : STEPS, below = from - STRIDE, above = k + STRIDE;
        double v = rough(k);
        if (rough(below > -STEPS ? below : -STEPS) < v || rough(above < STEPS ? above : STEPS) < v) continue;
        k = descend(wade(k));
        if (!found || better(k, best)) best = k, found = 1;
    }
    return best;
}
typedef struct { double q, w; } need;
enum { BINS = 3 };
static need sorted[N];
static double before[N + 1], q[N], lo, hi;
static int32_t bin[N], starts[BINS * N + 1];
static int n;
static int byTime(const void *a, const void *b) {
    double d = ((const need *)a)->q - ((const need *)b)->q;
    return d < 0 ? -1 : d > 0;
}
static void fill(void) {
    double perBin = (BINS * n - 1) / (hi - lo);
    memset(starts, 0, sizeof starts);
    for (int j = 0; j < N; j++)
        if (!isinf(q[j])) starts[(bin[j] = (int32_t)((q[j] - lo) * perBin)) + 1]++;
    int32_t at = 0, most = 0;
    for (int b = 0; b <= BINS * n; b++) {
        if (starts[b] > most) most = starts[b];
        starts[b] = at += starts[b];
    }
    for (int j = 0; j < N; j++)
        if (!isinf(q[j])) sorted[starts[bin[j]]++] = (need){q[j], w[j]};
    int32_t from = 0;
    if (most > 32)
        for (int b = 0; b < BINS * n; b++) {
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
}
/* how many needs, the first, are so: below least; over the window late at tau; not early at tau */
static int below(double least) {
    int a = 0, b = n;
    while (a < b) { int m = (a + b) / 2; if (sorted[m].q < least) a = m + 1; else b = m; }
    return a;
}
static int late(double tau) {
    int a = 0, b = n;
    while (a < b) { int m = (a + b) / 2; if (tau - sorted[m].q > window + slack) a = m + 1; else b = m; }
    return a;
}
static int early(double tau) {
    int a = 0, b = n;
    while (a < b) { int m = (a + b) / 2; if (tau - sorted[m].q >= -slack) a = m + 1; else b = m; }
    return a;
}
static double mostSeats(double reference) {
    double own = reference > 0 ? reference : 0, top = reference + window > 0 ? reference + window : 0, at = own;
    int out = late(own), in = early(own);
    double best = before[in] - before[out];
    for (int i = below(own); i < n; i++) {
        double tau = sorted[i].q;
        if (tau > top) break;
        while (in < n && sorted[in].q <= tau + slack) in++;
        while (out < n && sorted[out].q < tau - window - slack) out++;
        double v = before[in] - before[out];
        if (v > best + 1e-9) best = v, at = tau;
    }
    return at;
}
static double needs(int k, double qx, double qy, double qz) {
    const double *f = atPan(k), perM = 1 / speed;
    lo = INFINITY, hi = -INFINITY, n = 0;
    for (int j = 0; j < N; j++) {
        double dx = qx - x[j], dy = qy - y[j], dz = qz - z[j], v = sqrt(dx * dx + dy * dy + dz * dz) * perM - f[j];
        if (isinf(q[j] = v)) continue;
        n++;
        if (v < lo) lo = v;
        if (v > hi) hi = v;
    }
    return distance(qx, qy, qz, rx, ry, rz) / speed - refFirst[k + STEPS];
}
static double median(void) {
    int a = 0, b = n - 1;
    while (a < b) { int m = (a + b) / 2; if (before[m + 1] >= before[n] / 2 * (1 - 1e-12)) b = m; else a = m + 1; }
    return sorted[a].q;
}
static double medianLateness(double tau) {
    int a = 0, b = n - 1;
    while (a < b) { int m = (a + b) / 2; if (before[n] - before[m + 1] < before[n] / 2 * (1 - 1e-12)) b = m; else a = m + 1; }
    return tau - sorted[a].q;
}
static uint64_t state;
static double uniform(void) {
    state = state * 6364136223846793005ull + 1442695040888963407ull;
    return (double)(state >> 11) / 9007199254740992.0;
}
int main(int argc, char **argv) {
    if (argc < 3) return 2;
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
                double d = distance(sx[i], sy[i], sz[i], x[j], y[j], z[j]), v = level(1, d);
                loud[i][j] = v, arrive[i][j] = latency + d / speed, ux[i][j] = v * dx / plan, uy[i][j] = v * dy / plan;
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
        for (int i = 0; i < problems; i++) {
            double qx = 80 * uniform() - 40, qy = 48 * uniform(), qz = 1.5;
            int k = fitPan(qx, qy);
            double own = needs(k, qx, qy, qz), ref = own + lead, never = hi;
            fill();
            double least = lead + median(), most = mostSeats(own), inside = before[early(most)] - before[late(most)];
            sums[0] += k, sums[1] += ref, sums[2] += most, sums[3] += least, sums[4] += never, sums[5] += inside / total;
            sums[6] += medianLateness(most);
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
