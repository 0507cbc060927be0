"""Which job to do next when every job can be entered in several ways: sequence and entries of least cost.

Knows nothing of cutting. A *task* has *options*; an option has a place to enter, a place to leave, a cost of its
own and a kind of tool at either end. Few possible sequences: exact, by dynamic programming over the sets of
tasks done. Many: greedy, then annealing bounded by moves, then the exact choice of options for the sequence.
Same problem and seed, same answer.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

EXACT_SETS = 2500  # sets of tasks the exact search may visit; more than that is annealed
RESTARTS = (3, 20)  # fewest, most; more tries are worth more than longer ones
MOVES_PER_TASK = 8_000  # in each restart
MOST_MOVES = 6_000_000  # in all restarts together
# cooled in two stretches, in mean cost of a link: slowly while the sequence takes its shape, then quickly; set on
# random cases that are not the published ones, and on the demo's plates
COOLING = ((0.8, 0.7, 0.15), (0.2, 0.15, 1 / 120))  # share of the moves, warmth from, to
MENDING = ((0.5, 0.125, 1 / 120),)
QUICK = 0.5  # share of those moves in a quick try
MOST_OPTIONS = 4000  # the search holds a table of options by options [4 bytes each]; the exact choice sees them all


@dataclass(frozen=True, slots=True)
class Way:
    """Where one stands for each option, measured along a closed way round, and how far one reaches from there.

    Parameters
    ----------
    enter, leave : (m,) places on the way round [mm]
    length_mm : the whole way round [mm]
    reach_mm : two places no further apart than this are reached without going round [mm]
    """

    enter: Floats
    leave: Floats
    length_mm: float
    reach_mm: float


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
    way : the way round, None to go straight from anywhere to anywhere
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
    way: Way | None = None

    @property
    def tasks(self) -> int:
        return len(self.first) - 1

    @property
    def task_of(self) -> Ints:
        """The task of each option."""
        return np.repeat(np.arange(self.tasks), np.diff(self.first))

    def options(self, task: int) -> slice:
        """Where this task's options lie."""
        return slice(int(self.first[task]), int(self.first[task + 1]))

    def links(self, i: int, j: int) -> Floats:
        """Cost of going from task i to task j, one row for each option of i, one column for each of j [s]."""
        cost: Floats = self.between(self.options(i), self.options(j)) + self.near[i, j]
        return cost

    def links_from(self, i: int) -> Floats:
        """Cost of going from task i to every other, one row for each option of i, one column for every option [s]."""
        cost: Floats = self.between(self.options(i), slice(0, len(self.own))) + self.near[i, self.task_of]
        return cost

    def between(self, a: slice, b: slice) -> Floats:
        """Cost of the way and of changing tools from options ``a`` to options ``b`` [s]."""
        gap = self.leave[a][:, None, :] - self.enter[b][None, :, :]
        far: Floats = np.hypot(gap[..., 0], gap[..., 1])
        if self.way is not None:
            along = np.abs(self.way.leave[a][:, None] - self.way.enter[b][None, :])
            along = np.minimum(along, self.way.length_mm - along)
            far = np.where(far <= self.way.reach_mm, far, np.maximum(far, along))
        change = self.kind_out[a][:, None] != self.kind_in[b][None, :]
        cost: Floats = far / self.walk_mm_s + self.change_s * change
        return cost

    def cost(self, sequence: Ints, chosen: Ints) -> float:
        """Cost of a sequence of tasks with the options chosen, in the same order [s]."""
        total = float(self.own[chosen].sum() + (self.late[sequence] * np.arange(len(sequence))).sum())
        for i, j, a, b in zip(sequence[:-1], sequence[1:], chosen[:-1], chosen[1:], strict=True):
            total += float(self.links(i, j)[a - self.first[i], b - self.first[j]])
        return total

    def thinned(self, most: int) -> Problem:
        """Return the problem with the first options of each task only, so many that all together are at most
        ``most`` (but one each)."""
        keep = max(1, most // max(1, self.tasks))
        if len(self.own) <= most:
            return self
        nth = np.arange(len(self.own)) - self.first[self.task_of]
        kept = np.flatnonzero(nth < keep)
        first = np.concatenate([[0], np.cumsum(np.minimum(np.diff(self.first), keep))]).astype(np.int64)
        way = self.way and replace(self.way, enter=self.way.enter[kept], leave=self.way.leave[kept])
        return replace(
            self, enter=self.enter[kept], leave=self.leave[kept], own=self.own[kept], kind_in=self.kind_in[kept],
            kind_out=self.kind_out[kept], first=first, way=way,
        )  # fmt: skip


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
    if 1 << int((~problem.must.any(axis=0)).sum()) > most_sets:  # any of those that wait for nothing may be done
        return None
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
    p, task_of = problem, problem.task_of
    waiting = p.must.sum(axis=0)
    todo = np.ones(p.tasks, dtype=np.bool_)
    free = np.zeros(p.tasks, dtype=np.bool_)
    if start is not None and not waiting[start]:
        free[start] = True
    else:
        free = waiting == 0
    sequence: list[int] = []
    chosen: list[int] = []
    for place in range(p.tasks):
        cost = p.own + p.late[task_of] * place
        if sequence:
            cost = cost + p.links_from(sequence[-1])[chosen[-1] - p.first[sequence[-1]]]
        at = int(np.where(free[task_of], cost, np.inf).argmin())
        sequence.append(int(task_of[at]))
        chosen.append(at)
        todo[sequence[-1]] = False
        waiting = waiting - p.must[sequence[-1]]
        free = todo & (waiting == 0)
    return np.array(sequence, dtype=np.int64), np.array(chosen, dtype=np.int64)


def solve(
    problem: Problem, seed: int = 1, mend: Ints | None = None, *, quick: bool = False
) -> tuple[Ints, Ints, float]:
    """Return sequence, options and cost [s]: exact where few sequences are possible, else the best of the search.

    Parameters
    ----------
    seed : another seed, another search
    mend : a sequence that was good before more precedence was asked for; the search begins there, once
    quick : a rough answer will do: one try, with a share of the moves

    Never worse than :func:`greedy`, and for its sequence the options are the best there are.
    """
    if problem.tasks == 0:
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64), 0.0
    found = exact(problem)
    if found is not None:
        return *found, problem.cost(*found)
    from lagline.planning.order_anneal import Annealer  # numba: only when it is needed

    n = problem.tasks
    moves = min(MOST_MOVES // RESTARTS[0], MOVES_PER_TASK * n)
    restarts = 1 if quick else min(RESTARTS[1], max(RESTARTS[0], MOST_MOVES // moves))
    moves = int(moves * (QUICK if quick else 1))
    random = np.random.default_rng(seed)
    if mend is not None:
        starts = [in_turn(problem.must, mend)]
    else:
        firsts = [None, *random.choice(n, size=min(restarts - 1, n), replace=False).tolist()]
        starts = [greedy(problem, f)[0] for f in firsts]
    small = problem.thinned(MOST_OPTIONS)
    annealer = Annealer(small)
    best, least = starts[0], np.inf
    for sequence in starts:
        chosen, cost = annealer.options(sequence)
        link = max(cost - small.own[chosen].sum() - (small.late[sequence] * np.arange(n)).sum(), 1e-9) / n
        for share, warm, cool in COOLING if mend is None else MENDING:
            if cost < least - 1e-9:
                best, least = sequence, cost
            begin = int(random.integers(2**31))
            sequence = annealer.anneal(sequence, chosen, int(share * moves), warm * link, cool * link, begin)
            chosen, cost = annealer.options(sequence)
        if cost < least - 1e-9:
            best, least = sequence, cost
    chosen, cost = best_options(problem, best)
    # with all their options and to the last digit, the first sequence may come out before the best of the search
    first, other = best_options(problem, starts[0])
    if other < cost:
        best, chosen, cost = starts[0], first, other
    return best, chosen, cost


def in_turn(must: Bools, sequence: Ints) -> Ints:
    """Return the sequence with every task that stands too early held back until those before it are done."""
    waits = must.sum(axis=0)
    out: list[int] = []
    held: list[int] = []
    for task in sequence.tolist():
        held.append(task)
        k = 0
        while k < len(held):
            t = held[k]
            if waits[t]:
                k += 1
                continue
            held.pop(k)
            out.append(t)
            waits = waits - must[t]
            k = 0
    return np.array(out, dtype=np.int64)
