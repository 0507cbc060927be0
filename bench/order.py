"""The order search beside general solvers, counted on seeded cases; called by bench/run.py, or by itself.

By itself about ten minutes: ten cases of either kind, ten seconds for each way the routing solver is begun.
"""

from __future__ import annotations

import statistics
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))
BEGIN = ("PATH_CHEAPEST_ARC", "PARALLEL_CHEAPEST_INSERTION")
ROUTED_S = 10.0
SMALL = 10


def beside_routing(cases: int) -> list[str]:
    """Markdown rows: our walk and the routing solver's, measured in turn, and the ratios; time in seconds by the clock
    and of one core."""
    from lagline.planning.order_search import solve
    from tests.order_cases import closed_case, open_case
    from tests.order_judges import routed

    def row(name: str, values: list[float]) -> str:
        digits = (3, 2, 2, 3, 3, 3, 3, 3)
        return f"|{name}|{'|'.join(f'{v:.{d}f}' for v, d in zip(values, digits, strict=True))}|"

    out = [
        "|case|ours, m|s|of a core|cheapest arc, m|insertion, m|ratio|ratio|to the better|",
        "|-|-|-|-|-|-|-|-|-|",
    ]
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
                theirs.append(routed(p, ROUTED_S, begin) / 1000)
            took, worked = (statistics.mean(s) for s in zip(*spent, strict=True))
            ratio = [ours / t for t in theirs]
            rows.append([ours, took, worked, *theirs, *ratio, max(ratio)])
            out.append(row(f"{name} {seed}", rows[-1]))
        out.append(row(f"{name}, median", [statistics.median(column) for column in zip(*rows, strict=True)]))
    return out


def beside_proof(cases: int) -> list[str]:
    """Markdown rows: cases small enough to know the least cost, and how far above it the annealing comes."""
    import numpy as np

    from lagline.planning import order_search
    from tests.order_cases import closed_case, open_case
    from tests.order_judges import proven

    def by_sets(p: order_search.Problem) -> float:
        found = order_search.exact(p, 10**6)
        assert found is not None
        return p.cost(*found)

    def by_solver(p: order_search.Problem) -> float:
        least, bound = proven(p)
        return least if bound > least - 1e-3 else np.inf

    out = ["|cuts|ways in|kind|judge|cases with a proof|furthest above|", "|-|-|-|-|-|-|"]
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
        out.append(f"|{make(1).tasks}|{ways}|{kind}|{judge}|{known} of {cases}|{100 * max(0.0, above):.2f} %|")
    return out


def order(cases: int = 2, small: int = 3) -> None:
    """Print both tables; few cases unless asked."""
    for line in (*beside_proof(small), *beside_routing(cases)):
        print(line, flush=True)


if __name__ == "__main__":
    order(10, SMALL)
