"""The order search beside general solvers, counted on seeded cases; called by bench/run.py, or by itself.

By itself about ten minutes on a quiet machine: ten cases of either kind, ten seconds of a core for each way the
routing solver is begun.
"""

from __future__ import annotations

import itertools
import math
import statistics
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from lagline.planning.order_search import Problem  # noqa: E402
from tests.order_judges import routed  # noqa: E402

BEGIN = ("PATH_CHEAPEST_ARC", "PARALLEL_CHEAPEST_INSERTION")
ROUTED_S = 10.0
SMALL = 10

Order = tuple[tuple[int, int], ...]


def beside_routing(cases: int) -> Iterator[str]:
    """Markdown rows: our walk and the routing solver's, measured in turn, and the ratios; time in seconds by the clock
    and of one core."""
    from lagline.planning.order_search import solve
    from tests.order_cases import closed_case, open_case

    def row(name: str, values: list[float]) -> str:
        digits = (3, 2, 2, 3, 3, 3, 3, 3)
        return f"|{name}|{'|'.join(f'{v:.{d}f}' for v, d in zip(values, digits, strict=True))}|"

    yield "|case|ours, m|s|of a core|cheapest arc, m|insertion, m|ratio|ratio|to the better|"
    yield "|-|-|-|-|-|-|-|-|-|"
    for name, case in (("closed", closed_case), ("open", open_case)):
        rows = []
        solve(case(100))  # compiled
        for seed in range(1, cases + 1):
            p = case(seed)
            spent, ours, theirs = [], 0.0, []
            for begin in BEGIN:
                clock, core = time.perf_counter(), time.process_time()
                ours = solve(p)[2] / 1000
                spent.append((time.perf_counter() - clock, time.process_time() - core))
                theirs.append(_routed_on_a_core(p, begin) / 1000)
            took, worked = (statistics.mean(s) for s in zip(*spent, strict=True))
            ratio = [ours / t for t in theirs]
            rows.append([ours, took, worked, *theirs, *ratio, max(ratio)])
            yield row(f"{name} {seed}", rows[-1])
        yield row(f"{name}, median", [statistics.median(column) for column in zip(*rows, strict=True)])


def _routed_on_a_core(p: Problem, begin: str) -> float:
    """What the routing solver reaches with its seconds of one core, however busy the machine is."""
    seconds = ROUTED_S
    while True:
        core = time.process_time()
        cost = routed(p, seconds, begin)
        worked = time.process_time() - core
        if worked > 0.95 * ROUTED_S:
            return cost
        seconds *= 1.05 * ROUTED_S / max(worked, ROUTED_S / 10)


def beside_proof(cases: int) -> Iterator[str]:
    """Markdown rows: cases small enough to know the least cost, and how far above it the annealing comes."""
    import numpy as np

    from lagline.planning import order_search
    from tests.order_cases import closed_case, open_case
    from tests.order_judges import proven

    def by_sets(p: Problem) -> float:
        found = order_search.exact(p, 10**6)
        assert found is not None
        return p.cost(*found)

    def by_solver(p: Problem) -> float:
        least, bound = proven(p, 300.0)
        return least if bound > least - 1e-3 else np.inf

    yield "|cuts|ways in|kind|judge|cases with a proof|furthest above|"
    yield "|-|-|-|-|-|-|"
    exact = order_search.exact
    for judge, least_of, make, ways in (
        ("constraint solver", by_solver, lambda s: closed_case(s, (2, 2), 6, 4), "4"),
        ("constraint solver", by_solver, lambda s: open_case(s, 1, 7, 4), "2 or 4"),
        ("sets of tasks", by_sets, lambda s: closed_case(s, (3, 2), 12), "8"),
        ("sets of tasks", by_sets, lambda s: open_case(s, 1, 12), "2 or 8"),
    ):
        above, known = 0.0, 0
        for seed in range(1, cases + 1):
            p = make(seed)
            least = least_of(p)
            order_search.exact = lambda *_: None  # type: ignore[assignment]
            ours = order_search.solve(p, seed)[2]
            order_search.exact = exact
            if np.isfinite(least):
                known += 1
                above = max(above, ours / least - 1)
        kind = "open and closed" if "or" in ways else "closed"
        yield (f"|{make(1).tasks}|{ways}|{kind}|{judge}|{known} of {cases}|{100 * max(0.0, above):.2f} %|")


@dataclass(frozen=True)
class Demo:
    """The demo's job put in order: walks [m], time of one core [s], cuts that run in loose metal."""

    cuts: int
    rounds: int
    walk_m: float
    placed_m: float
    spent_s: float
    slips: int
    careless: int


def demo(method: str) -> Demo:
    """Put the demo in order, laid out in one way."""
    from lagline.desk.demo import write_demo
    from lagline.planning import order as stage
    from lagline.planning.choose_layout import gap_between
    from lagline.planning.cuts import make_cuts
    from lagline.planning.falls import plate_metals
    from lagline.planning.intake import intake
    from lagline.planning.job_file import read_job
    from lagline.planning.kit_file import read_kit
    from lagline.planning.layout import lay_out
    from lagline.planning.loose import Atoms
    from lagline.planning.settings import choose_settings
    from lagline.planning.steps import work_clamp

    with tempfile.TemporaryDirectory() as folder:
        write_demo(Path(folder))
        job, _ = read_job(Path(folder) / "job.toml")
        kit, _ = read_kit(Path(folder) / "kit.toml")
    blanks, _ = intake(job)
    settings, _ = choose_settings(blanks, kit, None)
    laid = lay_out(blanks, job.plates, gap_between(job, kit, settings), seed=1, method=method)
    cuts, _ = make_cuts(blanks, job.plates, laid, settings, kit)
    anchors = {i: work_clamp(i, job.plates, blanks, laid) for i in {c.plate for c in cuts}}
    metals = plate_metals(cuts, blanks, job.plates, laid, settings, anchors)

    def walk(sequence: Order) -> float:
        ends = [(cuts[c], cuts[c].entries[e]) for c, e in sequence]
        return sum(
            math.dist(a.leave or a.run_in[-1], b.run_in[0])
            for (one, a), (other, b) in itertools.pairwise(ends)
            if one.plate == other.plate
        )

    def slips(sequence: Order) -> int:
        by_plate = {n: [(cuts[c].id, e) for c, e in sequence if cuts[c].plate == n] for n in metals}
        return sum(len(Atoms(metals[n]).check(o).slips) for n, o in by_plate.items())

    rounds, solve = 0, stage.solve

    def counted(*args: Any, **more: Any) -> Any:
        nonlocal rounds
        rounds += 1
        return solve(*args, **more)

    stage.order_cuts(cuts, kit, 1, metals)  # compiled
    stage.solve = counted
    core = time.process_time()
    made, _ = stage.order_cuts(cuts, kit, 1, metals)
    spent = time.process_time() - core
    stage.solve = solve
    careless, _ = stage.order_cuts(cuts, kit, 1)
    placed = tuple((i, 0) for i in range(len(cuts)))
    return Demo(len(cuts), rounds, walk(made) / 1000, walk(placed) / 1000, spent, slips(made), slips(careless))


def order(cases: int = 2, small: int = 3) -> None:
    """Print both tables; few cases unless asked."""
    for line in itertools.chain(beside_proof(small), beside_routing(cases)):
        print(line, flush=True)


if __name__ == "__main__":
    order(10, SMALL)
