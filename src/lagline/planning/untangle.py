"""Keep run-ins apart: an arc that crosses an open kerf stutters and may go out."""

from __future__ import annotations

from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from lagline.records.finding import Finding, Severity
from lagline.records.plan import Cut, Setting


def untangle(
    cuts: tuple[Cut, ...], order: tuple[tuple[int, int], ...], settings: tuple[Setting, ...]
) -> tuple[tuple[tuple[int, int], ...], tuple[Finding, ...]]:
    """Return the order with entries changed where a run-in would cross one made before it.

    Parameters
    ----------
    cuts, order : cuts and (cut, entry) pairs from the order stage
    settings : for the kerf

    The first entry of the cut that crosses nothing is taken; where there is none the order's own stays and a note
    says so. Run-ins keep off the kerfs of other parts already (see ``planning/entries.py``).
    """
    kerf = {s.id: s.kerf_mm.value for s in settings}
    made: dict[int, list[BaseGeometry]] = {}
    out: list[tuple[int, int]] = []
    findings: list[Finding] = []
    for c, chosen in order:
        cut = cuts[c]
        before = made.setdefault(cut.plate, [])
        runs = [_run(cut, e, kerf[cut.setting]) for e in range(len(cut.entries))]
        ways = [chosen, *(e for e in range(len(cut.entries)) if e != chosen)]
        free = [e for e in ways if _apart(runs[e], before)]
        entry = free[0] if free else chosen
        if not free:
            findings.append(
                Finding(
                    "run-in-crosses",
                    Severity.NOTE,
                    f"cut {cut.id}",
                    f"{cut.passes[0].name}: its run-in crosses an open kerf, and the arc may stutter there",
                    "carry on at pace through it, or start from a place of your own in the waste",
                )
            )
        run = runs[entry]
        if run is not None:
            before.append(run)
        out.append((c, entry))
    return tuple(out), tuple(findings)


def _apart(run: BaseGeometry | None, others: list[BaseGeometry]) -> bool:
    return run is None or not any(run.intersects(b) for b in others)


def _run(cut: Cut, entry: int, kerf_mm: float) -> BaseGeometry | None:
    points = cut.entries[entry].run_in
    return LineString(points).buffer(kerf_mm / 2) if len(points) > 1 and points[0] != points[-1] else None
