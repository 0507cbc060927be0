"""The annealing loop of the order search, compiled. Imported only when a job is too large for the exact search.

State: a sequence of tasks and one option for each. Moves: another option for a task; a run of tasks carried to beside
a near one; a run turned about; a run turned about, tasks that may not stand so put right, and its options chosen anew.
The cost of a move is worked out from what it changes; precedence is looked at last.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np
from numba import float64, njit, uint64

if TYPE_CHECKING:
    from lagline.planning.order_search import Bools, Ints, Problem

NEAREST = 10  # tasks beside which a run may be carried
OPTION, CARRY, TURN = 0.25, 0.85, 0.97  # shares of the moves, added up; the rest turns about and mends
LONGEST_TURN = 50
COOL_EVERY = 1000  # moves
TABLE = 1_000_000  # links worked out together [8 bytes each, a few times over]


def _compiled(function: Callable[..., Any]) -> Any:
    """Compile, keeping the result on disk where numba finds a folder it may write to (beside the module, else the
    user's cache folder), and only in memory where it finds none."""
    try:
        return njit(cache=True)(function)
    except RuntimeError:
        return njit(function)


@_compiled
def _random(state):  # type: ignore[no-untyped-def]
    """The next number from 0 to below 1 (xorshift, 64 bits)."""
    x = state[0]
    x ^= x << uint64(13)
    x ^= x >> uint64(7)
    x ^= x << uint64(17)
    state[0] = x
    return float64(x >> uint64(11)) / 9007199254740992.0


@_compiled
def _may_swap(seq, at, lo, mid, hi, after, followers, before, leaders):  # type: ignore[no-untyped-def]
    """May the run [lo, mid) come behind the run [mid, hi)?"""
    if mid - lo <= hi - mid:
        for p in range(lo, mid):
            for k in range(after[seq[p]], after[seq[p] + 1]):
                if mid <= at[followers[k]] < hi:
                    return False
    else:
        for p in range(mid, hi):
            for k in range(before[seq[p]], before[seq[p] + 1]):
                if lo <= at[leaders[k]] < mid:
                    return False
    return True


@_compiled
def _may_turn(seq, at, lo, hi, after, followers):  # type: ignore[no-untyped-def]
    """May the run [lo, hi) be turned about?"""
    for p in range(lo, hi - 1):
        for k in range(after[seq[p]], after[seq[p] + 1]):
            if at[followers[k]] < hi:
                return False
    return True


@_compiled
def _swap(seq, spare, lo, mid, hi):  # type: ignore[no-untyped-def]
    """Let the neighbouring runs [lo, mid) and [mid, hi) change places."""
    for k in range(lo, hi):
        spare[k - lo] = seq[k]
    for k in range(mid - lo, hi - lo):
        seq[lo + k - (mid - lo)] = spare[k]
    for k in range(mid - lo):
        seq[lo + hi - mid + k] = spare[k]


@_compiled
def _mended(seq, at, lo, hi, new, waits, held, after, followers, before, leaders):  # type: ignore[no-untyped-def]
    """Fill ``new`` with the run turned about, each task held back until those before it are done."""
    for p in range(lo, hi):
        t = seq[p]
        held[t] = 0
        waits[t] = 0
        for k in range(before[t], before[t + 1]):
            if at[leaders[k]] >= lo:
                waits[t] += 1
    end = 0
    for p in range(hi - 1, lo - 1, -1):
        if waits[seq[p]] > 0:
            held[seq[p]] = 1
            continue
        new[end] = seq[p]
        end += 1
        look = end - 1
        while look < end:
            t = new[look]
            look += 1
            for k in range(after[t], after[t + 1]):
                v = followers[k]
                if at[v] < hi:
                    waits[v] -= 1
                    if waits[v] == 0 and held[v] == 1:
                        new[end] = v
                        end += 1


@_compiled
def _choose(new, count, first, link, come, go, least, back):  # type: ignore[no-untyped-def]
    """Least cost of a run between the options ``come`` and ``go``, by dynamic programming; and its last option."""
    for k in range(count):
        f = first[new[k]]
        for o in range(f, first[new[k] + 1]):
            if k == 0:
                least[0, o - f] = link[come, o]
                continue
            g = first[new[k - 1]]
            cost, best = np.inf, g
            for v in range(g, first[new[k - 1] + 1]):
                through = least[k - 1, v - g] + link[v, o]
                if through < cost:
                    cost, best = through, v
            least[k, o - f] = cost
            back[k, o - f] = best
    f = first[new[count - 1]]
    cost, best = np.inf, f
    for o in range(f, first[new[count - 1] + 1]):
        through = least[count - 1, o - f] + link[o, go]
        if through < cost:
            cost, best = through, o
    return cost, best


@_compiled
def _run(  # type: ignore[no-untyped-def]
    seq, option, first, link, late, after, followers, before, leaders, near, moves, hot, cold, seed
):
    """``link`` has one row and one column more than there are options: from nowhere, to nowhere."""
    state = np.empty(1, np.uint64)
    state[0] = uint64(seed) * uint64(2654435761) + uint64(88172645463325252)
    for _ in range(20):
        _random(state)
    n, none = len(seq), link.shape[0] - 1
    widest = 0
    for t in range(n):
        widest = max(widest, first[t + 1] - first[t])
    at, spare, waits, held = np.empty(n, np.int64), np.empty(n, np.int64), np.empty(n, np.int64), np.empty(n, np.int64)
    least, back = np.empty((n, widest)), np.empty((n, widest), np.int64)
    summed = np.zeros(n + 1)  # of ``late`` along the sequence
    for p in range(n):
        at[seq[p]] = p
        summed[p + 1] = summed[p] + late[seq[p]]
    now = least_now = 0.0  # what has been gained or lost since the beginning
    best = seq.copy()
    warmth, cooling = hot, (cold / hot) ** (COOL_EVERY / moves)
    for move in range(1, moves + 1):
        if move % COOL_EVERY == 0:
            warmth *= cooling
        kind = _random(state)
        limit = -warmth * math.log(1.0 - _random(state))
        t = int(_random(state) * n)
        i = at[t]
        if kind < OPTION:
            wide = first[t + 1] - first[t]
            o, c = first[t] + int(_random(state) * wide), option[t]
            if o == c:
                continue
            come = option[seq[i - 1]] if i > 0 else none
            go = option[seq[i + 1]] if i < n - 1 else none
            gain = link[come, o] + link[o, go] - link[come, c] - link[c, go]
            if gain > limit:
                continue
            option[t] = o
            lo = hi = 0
        else:
            j = at[near[t, int(_random(state) * near.shape[1])]]
            if kind < CARRY:
                share = _random(state)
                length = 1
                if share > 0.8:
                    length = 2 + int(_random(state) * (n // 2))
                elif share > 0.5:
                    length = 2 + int(_random(state) * 5)
                if _random(state) < 0.5:  # the run that begins here goes behind its near one
                    a, b, to = i, i + length, j + 1
                else:  # the run that ends here goes before it
                    a, b, to = i - length + 1, i + 1, j
                if a < 0 or b > n or a <= to <= b:
                    continue
                lo, mid, hi = min(a, to), b if to > b else a, max(b, to)
                come = option[seq[lo - 1]] if lo > 0 else none
                go = option[seq[hi]] if hi < n else none
                a0, a1, b0, b1 = option[seq[lo]], option[seq[mid - 1]], option[seq[mid]], option[seq[hi - 1]]
                gain = (summed[mid] - summed[lo]) * (hi - mid) - (summed[hi] - summed[mid]) * (mid - lo)
                gain -= link[come, a0] + link[a1, b0] + link[b1, go]
                pick = option[t]
                if length == 1:
                    x, y = come, a0
                    if to > b:
                        x, y = b1, go
                        gain += link[come, b0]
                    else:
                        gain += link[a1, go]
                    if gain > limit:
                        continue
                    cost = np.inf
                    for o in range(first[t], first[t + 1]):
                        through = link[x, o] + link[o, y]
                        if through < cost:
                            cost, pick = through, o
                    gain += cost
                else:
                    gain += link[come, b0] + link[b1, a0] + link[a1, go]
                if gain > limit or not _may_swap(seq, at, lo, mid, hi, after, followers, before, leaders):
                    continue
                _swap(seq, spare, lo, mid, hi)
                option[t] = pick
            else:
                lo, hi = (i + 1, j + 1) if j > i else (j, i)  # the near one comes to stand beside this one
                if hi - lo < 2 or (kind < TURN and hi - lo > LONGEST_TURN):
                    continue
                come = option[seq[lo - 1]] if lo > 0 else none
                go = option[seq[hi]] if hi < n else none
                gain, c = 0.0, come
                for p in range(lo, hi):
                    o = option[seq[p]]
                    gain -= link[c, o] + late[seq[p]] * p
                    c = o
                gain -= link[c, go]
                if kind < TURN:
                    c = come
                    for p in range(lo, hi):
                        t = seq[lo + hi - 1 - p]
                        gain += link[c, option[t]] + late[t] * p
                        c = option[t]
                    gain += link[c, go]
                    if gain > limit or not _may_turn(seq, at, lo, hi, after, followers):
                        continue
                    for k in range((hi - lo) // 2):
                        p, q = lo + k, hi - 1 - k
                        seq[p], seq[q] = seq[q], seq[p]
                else:
                    _mended(seq, at, lo, hi, spare, waits, held, after, followers, before, leaders)
                    for k in range(hi - lo):
                        gain += late[spare[k]] * (lo + k)
                    cost, o = _choose(spare, hi - lo, first, link, come, go, least, back)
                    gain += cost
                    if gain > limit:
                        continue
                    for k in range(hi - lo - 1, -1, -1):
                        seq[lo + k] = spare[k]
                        option[spare[k]] = o
                        if k > 0:
                            o = back[k, o - first[spare[k]]]
        now += gain
        for p in range(lo, hi):
            at[seq[p]] = p
            summed[p + 1] = summed[p] + late[seq[p]]
        if now < least_now - 1e-6:
            least_now = now
            for p in range(n):
                best[p] = seq[p]
    return best


def _lists(pairs: Bools) -> tuple[Ints, Ints]:
    """For each row where its columns begin, and the columns."""
    begin = np.concatenate([[0], np.cumsum(pairs.sum(axis=1))]).astype(np.int64)
    return begin, np.nonzero(pairs)[1].astype(np.int64)


class Annealer:
    """A problem made ready for annealing."""

    def __init__(self, problem: Problem) -> None:
        p, n, m = problem, problem.tasks, len(problem.own)
        self.problem = problem
        self.link = np.zeros((m + 1, m + 1), dtype=np.float32)  # half the memory, and as much more of it close by
        task, step = p.task_of, max(1, TABLE // m)
        for at in range(0, m, step):
            rows = slice(at, min(at + step, m))
            self.link[rows, :m] = p.between(rows, slice(0, m)) + p.near[task[rows]][:, task] + p.own
        least = np.minimum.reduceat(np.minimum.reduceat(self.link[:m, :m], p.first[:-1]), p.first[:-1], axis=1)
        self.link[m, :m] = p.own
        least = np.minimum(least, least.T)
        np.fill_diagonal(least, np.inf)
        self.near = np.argsort(least, axis=1, kind="stable")[:, : min(NEAREST, n - 1)].astype(np.int64)
        must = p.must.astype(np.float32)
        direct = p.must & ~(must @ must > 0)
        self.lists = (*_lists(direct), *_lists(direct.T))

    def options(self, sequence: Ints) -> tuple[Ints, float]:
        """Return the options of least cost for a sequence, as nearly as single precision tells, and that cost [s]."""
        first, none, n = self.problem.first, len(self.problem.own), len(sequence)
        widest = int(np.diff(first).max())
        back = np.zeros((n, widest), dtype=np.int64)
        cost, last = _choose(sequence, n, first, self.link, none, none, np.zeros((n, widest)), back)
        chosen = [int(last)]
        for k in range(n - 1, 0, -1):
            chosen.append(int(back[k, chosen[-1] - first[sequence[k]]]))
        late = float((self.problem.late[sequence] * np.arange(n)).sum())
        return np.array(chosen[::-1], dtype=np.int64), float(cost) + late

    def anneal(self, sequence: Ints, chosen: Ints, moves: int, hot: float, cold: float, seed: int) -> Ints:
        """Return the best sequence met in ``moves`` random changes, cooled from ``hot`` to ``cold`` [s] of cost."""
        option = np.zeros(len(sequence), dtype=np.int64)
        option[sequence] = chosen
        best: Ints = _run(
            *(sequence.copy(), option, self.problem.first, self.link, self.problem.late),
            *(*self.lists, self.near, moves, hot, cold, seed),
        )
        return best
