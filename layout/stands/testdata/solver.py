"""The stand solver with numpy: the same results as solver.c, whole arrays at a time. It is what BenchmarkSolver measures
itself against. It prints nanoseconds of processor time a problem, and the sums of what it found.
Usage: solver.py PROBLEMS ROUNDS"""
import sys
import time
import numpy as np

STACKS, ROWS, SEATS, STEPS = 6, 25, 80, 100
window, lead, slack = 0.03, 0.01, 1e-9
speed, latency = 343.2 * np.sqrt((20 + 273.15) / 293.15), 0.004
S = np.array([[-24 + 48 * i / (STACKS - 1), -2, 2.5] for i in range(STACKS)])
left = np.array([1.0 if i < STACKS // 2 else 0.0 for i in range(STACKS)])
right = 1 - left
t = np.repeat(np.arange(ROWS) / (ROWS - 1), SEATS)
s = np.tile((np.arange(SEATS) + 0.5) / SEATS - 0.5, ROWS)
L = np.stack([(60 + 40 * t) * s, -12 - 33 * t, 2 + 17 * t], axis=1)
w, R = np.ones(len(L)), np.array([0, -36.6, 18.3])
steps = np.arange(-STEPS, STEPS + 1)
order = np.lexsort((steps, np.abs(steps)))  # of equal costs the smallest |k|, then the smaller k
floor = 0.1 * (1 - 1e-9)


def table(seats):
    """First arrivals and energy directions, a row for each pan step."""
    theta = (steps / STEPS + 1) * np.pi / 4
    g = np.outer(np.cos(theta), left) + np.outer(np.sin(theta), right)
    g[g < 1e-6] = 0
    d = np.linalg.norm(seats[:, None, :] - S[None], axis=2)
    v = (g[:, None, :] / np.maximum(d, 0.01)[None]) ** 2
    heard = (v > 0) & (v >= v.max(axis=2, keepdims=True) * floor)
    first = np.where(heard, latency + d[None] / speed, np.inf).min(axis=2)
    plan = S[None, :, :2] - seats[:, None, :2]
    plan /= np.linalg.norm(plan, axis=2, keepdims=True)
    e = np.einsum("ksi,sij->ksj", v, plan)
    return first, e / np.linalg.norm(e, axis=2, keepdims=True)


def players(n):
    state, mask = 1, (1 << 64) - 1
    for _ in range(n):
        xy = []
        for _ in range(2):
            state = (state * 6364136223846793005 + 1442695040888963407) & mask
            xy.append((state >> 11) / 9007199254740992.0)
        yield np.array([80 * xy[0] - 40, 48 * xy[1], 1.5])


def solve(problems):
    sums = np.zeros(7)
    first, e = table(L)
    refFirst = table(R[None])[0][:, 0]
    ex, ey, total = np.ascontiguousarray(e[:, :, 0]), np.ascontiguousarray(e[:, :, 1]), w.sum()
    half = total / 2 * (1 - 1e-12)
    for p in problems:
        to = p[None, :2] - L[:, :2]
        to *= (w / np.linalg.norm(to, axis=1))[:, None]
        cost = 1 - (ex @ to[:, 0] + ey @ to[:, 1]) / total
        row = order[np.argmax(cost[order] <= cost.min() + 1e-12)]
        q = np.linalg.norm(p - L, axis=1) / speed - first[row]
        own = np.linalg.norm(p - R) / speed - refFirst[row]
        by = np.argsort(q, kind="stable")
        need, sw = q[by], np.cumsum(w[by])
        before = np.concatenate([[0], sw])
        least = lead + need[np.searchsorted(sw, half)]
        tau = np.sort(np.append(np.maximum(need, 0), max(own, 0)))
        tau = tau[(tau >= max(own, 0)) & (tau <= max(own + window, 0))]
        weight = before[np.searchsorted(need, tau + slack, "right")] - before[np.searchsorted(need, tau - window - slack, "left")]
        most = tau[np.argmax(weight > weight.max() - 1e-9)]
        late = most - need[::-1]
        inside = w[by][::-1][(late >= -slack) & (late <= window + slack)].sum() / total
        middle = late[np.searchsorted(np.cumsum(w[by][::-1]), half)]
        sums += [steps[row], own + lead, most, least, need[-1], inside, middle]
    return sums


problems = list(players(int(sys.argv[1])))
best = np.inf
for _ in range(int(sys.argv[2])):
    begun = time.process_time_ns()
    found = solve(problems)
    best = min(best, time.process_time_ns() - begun)
print(f"{best / len(problems):.1f}", *(f"{v:.12g}" for v in found))
