"""Which job to do next when every job can be entered in several ways: sequence and entries of least cost.

Knows nothing of cutting. A *task* has *options*; an option has a place to enter, a place to leave, a cost of its
own and a kind of tool at either end. Few possible sequences: exact, by dynamic programming over the sets of
tasks done. Many: greedy, then annealing bounded by moves, then the exact choice of options for the sequence.
Same problem and seed, same answer.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

EXACT_SETS = 2500  # sets of tasks the exact search may visit; more than that is annealed
RESTARTS = (2, 6)  # fewest, most; small problems are cheap to try again
MOVES_PER_TASK = 2000  # in each restart
LEAST_MOVES, MOST_MOVES = 40_000, 400_000  # in each restart
HOT = 1.0  # starting warmth, in mean cost per task; with COOLED set on three random instances of 60 and 69 tasks
COOLED = 100.0  # starting over final warmth


@dataclass(frozen=True, slots=True)
class Problem:
    """Tasks 0..n-1 and their options 0..m-1; options of task i are ``first[i]`` up to ``first[i + 1]``.

    Parameters
    ----------
    enter, leave : (m, 2) places [mm]
    own : (m,) cost of the option itself [s]
    kind_in, kind_out : (m,) kind of tool in the hand on entering and on leaving
    first : (n + 1,) where each task's options begin
    must : (n, n) ``must[i, j]``: i comes before j; closed under "and so on" (see :func:`closure`)
    near : (n, n) cost of doing j straight after i [s]
    late : (n,) cost of each place further back in the sequence [s]
    walk_mm_s : pace between leaving and entering [mm/s]
    change_s : cost of another kind of tool [s]
    """

    enter: Floats
    leave: Floats
    own: Floats
    kind_in: Ints
    kind_out: Ints
    first: Ints
    must: Bools
    near: Floats
    late: Floats
    walk_mm_s: float
    change_s: float

    @property
    def tasks(self) -> int:
        return len(self.first) - 1

    def options(self, task: int) -> slice:
        """Where this task's options lie."""
        return slice(int(self.first[task]), int(self.first[task + 1]))

    def links(self, i: int, j: int) -> Floats:
        """Cost of going from task i to task j, one row for each option of i, one column for each of j [s]."""
        a, b = self.options(i), self.options(j)
        gap = self.leave[a][:, None, :] - self.enter[b][None, :, :]
        change = self.kind_out[a][:, None] != self.kind_in[b][None, :]
        cost: Floats = np.hypot(gap[..., 0], gap[..., 1]) / self.walk_mm_s + self.change_s * change + self.near[i, j]
        return cost

    def cost(self, sequence: Ints, chosen: Ints) -> float:
        """Cost of a sequence of tasks with the options chosen, in the same order [s]."""
        total = float(self.own[chosen].sum() + (self.late[sequence] * np.arange(len(sequence))).sum())
        for i, j, a, b in zip(sequence[:-1], sequence[1:], chosen[:-1], chosen[1:], strict=True):
            total += float(self.links(i, j)[a - self.first[i], b - self.first[j]])
        return total


def closure(before: Bools) -> Bools:
    """Return the transitive closure of "before" pairs; ValueError when a task would have to precede itself."""
    done = before.copy()
    for k in range(len(done)):
        done |= done[:, k, None] & done[None, k, :]
    if done.diagonal().any():
        raise ValueError(f"tasks {np.flatnonzero(done.diagonal()).tolist()} would have to come before themselves")
    return done


def best_options(problem: Problem, sequence: Ints) -> tuple[Ints, float]:
    """Return the options of least cost for a given sequence, exactly, and the whole cost [s]."""
    cost = problem.own[problem.options(sequence[0])]
    back: list[Ints] = []
    for i, j in itertools.pairwise(sequence):
        through = cost[:, None] + problem.links(i, j)
        back.append(through.argmin(axis=0))
        cost = through.min(axis=0) + problem.own[problem.options(j)]
    at = int(cost.argmin())
    chosen = [at]
    for step in reversed(back):
        chosen.append(int(step[chosen[-1]]))
    picked = problem.first[sequence] + np.array(chosen[::-1], dtype=np.int64)
    return picked, float(cost.min() + (problem.late[sequence] * np.arange(len(sequence))).sum())


def exact(problem: Problem, most_sets: int = EXACT_SETS) -> tuple[Ints, Ints] | None:
    """Return sequence and options of least cost, or None when more than ``most_sets`` sets of tasks can occur.

    Cost[set done, option last used] over the sets that precedence allows, one layer for each number of tasks done.
    """
    n, m = problem.tasks, len(problem.own)
    need = [sum(1 << int(i) for i in np.flatnonzero(problem.must[:, j])) for j in range(n)]
    sets: list[set[int]] = [{0}]
    for _ in range(n):
        sets.append({s | 1 << j for s in sets[-1] for j in range(n) if not s >> j & 1 and not need[j] & ~s})
        if sum(map(len, sets)) > most_sets:
            return None
    slices = [problem.options(j) for j in range(n)]
    links = np.block([[problem.links(i, j) for j in range(n)] for i in range(n)])
    cost = {0: np.zeros(0)}
    for place, layer in enumerate(sets[1:]):
        for done in sorted(layer):
            row = np.full(m, np.inf)
            for j in range(n):
                left = done & ~(1 << j)
                if left == done or left not in cost or need[j] & ~left:
                    continue
                before = (cost[left][:, None] + links[:, slices[j]]).min(axis=0) if place else 0.0
                row[slices[j]] = before + problem.own[slices[j]] + problem.late[j] * place
            cost[done] = row
    task_of = np.repeat(np.arange(n), np.diff(problem.first))
    done = (1 << n) - 1
    chosen = [int(cost[done].argmin())]
    while True:
        done &= ~(1 << int(task_of[chosen[-1]]))
        if not done:
            break
        chosen.append(int((cost[done] + links[:, chosen[-1]]).argmin()))
    picked = np.array(chosen[::-1], dtype=np.int64)
    return task_of[picked], picked


def greedy(problem: Problem, start: int | None = None) -> tuple[Ints, Ints]:
    """Return the sequence that always takes the cheapest allowed next step, from ``start`` when it may be first."""
    n = problem.tasks
    waiting = problem.must.sum(axis=0)
    free = [start] if start is not None and not waiting[start] else [j for j in range(n) if not waiting[j]]
    todo = set(range(n))
    sequence: list[int] = []
    chosen: list[int] = []
    while todo:
        best = (np.inf, -1, -1)
        for j in free:
            cost = problem.own[problem.options(j)] + problem.late[j] * len(sequence)
            if sequence:
                cost = cost + problem.links(sequence[-1], j)[chosen[-1] - problem.first[sequence[-1]]]
            at = int(cost.argmin())
            best = min(best, (float(cost[at]), j, at))
        sequence.append(best[1])
        chosen.append(int(problem.first[best[1]]) + best[2])
        todo.remove(best[1])
        waiting = waiting - problem.must[best[1]]
        free = sorted(j for j in todo if not waiting[j])
    return np.array(sequence, dtype=np.int64), np.array(chosen, dtype=np.int64)


def solve(problem: Problem, seed: int = 1) -> tuple[Ints, Ints, float]:
    """Return sequence, options and cost [s]: exact where few sequences are possible, else the best of the search.

    Never worse than :func:`greedy`, and for its sequence the options are the best there are.
    """
    if problem.tasks == 0:
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64), 0.0
    found = exact(problem)
    if found is not None:
        return *found, problem.cost(*found)
    from lagline.planning.order_anneal import anneal  # numba: only when it is needed

    n = problem.tasks
    moves = min(MOST_MOVES, max(LEAST_MOVES, MOVES_PER_TASK * n))
    restarts = min(RESTARTS[1], max(RESTARTS[0], 150 // n))
    random = np.random.default_rng(seed)
    starts = [None, *random.choice(n, size=restarts - 1).tolist()]
    best: tuple[Ints, Ints, float] | None = None
    for start in starts:
        sequence, _ = greedy(problem, start)
        chosen, cost = best_options(problem, sequence)
        hot = HOT * max(cost, 1e-9) / n
        better = anneal(problem, sequence, moves, n, hot, hot / COOLED, int(random.integers(2**31)))
        better_chosen, better_cost = best_options(problem, better)
        if better_cost < cost:
            sequence, chosen, cost = better, better_chosen, better_cost
        if best is None or cost < best[2] - 1e-9:
            best = sequence, chosen, cost
    assert best is not None
    return best
