"""The annealing loop of the order search, compiled. Imported only when a job is too large for the exact search.

Only the sequence is annealed: every sequence is judged with its best options, by dynamic programming over the part
that changed, between costs kept for the part before and the part after.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np
from numba import njit

if TYPE_CHECKING:
    from lagline.planning.order_search import Ints, Problem


def _compiled(function: Callable[..., Any]) -> Any:
    """Compile, keeping the result on disk where numba finds a folder it may write to (beside the module, else the
    user's cache folder), and only in memory where it finds none."""
    try:
        return njit(cache=True)(function)
    except RuntimeError:
        return njit(function)


@_compiled
def _forward(lo, hi, seq, old, new, first, enter, leave, own, kind_in, kind_out, near, late, pace, change):  # type: ignore[no-untyped-def]
    """Fill ``new[p, o]``, the least cost up to and with option o at place p, for places lo to hi (hi not included),
    from ``old`` at the place before lo."""
    for p in range(lo, hi):
        j = seq[p]
        begin = first[j]
        for o in range(begin, first[j + 1]):
            least = 0.0
            if p > 0:
                i = seq[p - 1]
                least = np.inf
                for k in range(first[i], first[i + 1]):
                    back = old[p - 1, k - first[i]] if p == lo else new[p - 1, k - first[i]]
                    dx, dy = leave[k, 0] - enter[o, 0], leave[k, 1] - enter[o, 1]
                    cost = back + math.sqrt(dx * dx + dy * dy) / pace
                    if kind_out[k] != kind_in[o]:
                        cost += change
                    least = min(least, cost)
                least += near[i, j]
            new[p, o - begin] = least + own[o] + late[j] * p


@_compiled
def _backward(hi, seq, rest, first, enter, leave, own, kind_in, kind_out, near, late, pace, change):  # type: ignore[no-untyped-def]
    """Fill ``rest[p, o]``, the least cost of all that follows option o at place p, for places below hi."""
    for p in range(hi - 1, -1, -1):
        i = seq[p]
        for k in range(first[i], first[i + 1]):
            if p == len(seq) - 1:
                rest[p, k - first[i]] = 0.0
                continue
            j = seq[p + 1]
            least = np.inf
            for o in range(first[j], first[j + 1]):
                dx, dy = leave[k, 0] - enter[o, 0], leave[k, 1] - enter[o, 1]
                cost = own[o] + rest[p + 1, o - first[j]] + math.sqrt(dx * dx + dy * dy) / pace
                if kind_out[k] != kind_in[o]:
                    cost += change
                least = min(least, cost)
            rest[p, k - first[i]] = least + near[i, j] + late[j] * (p + 1)


@_compiled
def _run(  # type: ignore[no-untyped-def]
    seq, enter, leave, own, kind_in, kind_out, first, must, near, late, pace, change, moves, reach, hot, cold, seed
):
    np.random.seed(seed)
    n = len(seq)
    widest = 0
    for i in range(n):
        widest = max(widest, first[i + 1] - first[i])
    best = seq.copy()
    new = seq.copy()
    done = np.zeros((n, widest))
    rest = np.zeros((n, widest))
    trial = np.zeros((n, widest))
    _forward(0, n, seq, done, done, first, enter, leave, own, kind_in, kind_out, near, late, pace, change)
    _backward(n, seq, rest, first, enter, leave, own, kind_in, kind_out, near, late, pace, change)
    now = np.inf
    for o in range(first[seq[n - 1] + 1] - first[seq[n - 1]]):
        now = min(now, done[n - 1, o])
    best_cost = now
    for move in range(moves):
        warmth = hot * (cold / hot) ** (move / moves)
        kind = np.random.random()
        lo = int(np.random.random() * n)
        allowed = True
        if kind < 0.85:  # two neighbouring runs change places
            a = 1 if kind < 0.5 else 2 + int(4 * np.random.random())
            b = 1 + int(reach * np.random.random() ** 2)
            if np.random.random() < 0.5:
                a, b = b, a
            hi = lo + a + b
            if hi > n:
                continue
            for p in range(lo, lo + a):
                for q in range(lo + a, hi):
                    if must[seq[p], seq[q]]:
                        allowed = False
                        break
                if not allowed:
                    break
            if not allowed:
                continue
            for p in range(b):
                new[lo + p] = seq[lo + a + p]
            for p in range(a):
                new[lo + b + p] = seq[lo + p]
        else:  # a run turned about
            hi = lo + 2 + int(11 * np.random.random())
            if hi > n:
                continue
            for p in range(lo, hi):
                for q in range(p + 1, hi):
                    if must[seq[p], seq[q]]:
                        allowed = False
                        break
                if not allowed:
                    break
            if not allowed:
                continue
            for p in range(lo, hi):
                new[p] = seq[hi - 1 - (p - lo)]
        # `new` and `seq` agree outside lo to hi; one place more joins the trial to the costs kept for what follows.
        end = min(hi + 1, n)
        _forward(lo, end, new, done, trial, first, enter, leave, own, kind_in, kind_out, near, late, pace, change)
        cost = np.inf
        last = new[end - 1]
        for o in range(first[last + 1] - first[last]):
            cost = min(cost, trial[end - 1, o] + (rest[end - 1, o] if end > hi else 0.0))
        if cost <= now or np.random.random() < math.exp((now - cost) / warmth):
            now = cost
            for p in range(lo, hi):
                seq[p] = new[p]
            _forward(lo, n, seq, done, done, first, enter, leave, own, kind_in, kind_out, near, late, pace, change)
            _backward(hi, seq, rest, first, enter, leave, own, kind_in, kind_out, near, late, pace, change)
            if now < best_cost - 1e-9:
                best_cost = now
                for p in range(n):
                    best[p] = seq[p]
        else:
            for p in range(lo, hi):
                new[p] = seq[p]
    return best


def anneal(problem: Problem, sequence: Ints, moves: int, reach: int, hot: float, cold: float, seed: int) -> Ints:
    """Return the best sequence met in ``moves`` random changes, cooled from ``hot`` to ``cold`` [s] of cost.

    ``reach`` is how many places a run may be moved at once.
    """
    p = problem
    best: Ints = _run(
        *(sequence.copy(), p.enter, p.leave, p.own, p.kind_in, p.kind_out, p.first, p.must, p.near, p.late),
        *(float(p.walk_mm_s), float(p.change_s), moves, min(reach, p.tasks), hot, cold, seed),
    )
    return best
