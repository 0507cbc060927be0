"""Whether the set cuts a bevel, and what would do when it does not: other current, two sides, a smaller angle."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from lagline.planning.settings import currents
from lagline.records.errors import LaglineError
from lagline.records.finding import Finding, Severity
from lagline.records.plan import Setting
from lagline.setouts.ask import Given
from lagline.setouts.bench import Bench
from lagline.trade.bevel_edge import Prep

CLEAN, ROUGH, NOT = "clean", "severs only", "not with this set"
SMALLER_DEG = (45.0, 37.5, 35.0, 30.0, 25.0, 22.5, 20.0, 15.0)


@dataclass(frozen=True, slots=True)
class Pass:
    """One cut: how the torch is tilted, how much metal it goes through, and how this bench cuts that."""

    name: str
    tilt_deg: float
    through_mm: float
    setting: Setting
    findings: tuple[Finding, ...]

    @property
    def able(self) -> str:
        """``clean``, ``severs only`` or ``not with this set``."""
        if not self.setting.edge_ok:
            return NOT
        return ROUGH if any(f.code == "sever-only" for f in self.findings) else CLEAN


def one_pass(name: str, bench: Bench, tilt_deg: float, through_mm: float) -> Pass:
    """Return how the bench makes one cut through so much metal along the arc [mm], tilted [deg]."""
    setting, found = bench.setting(tilt_deg, through_mm * math.cos(math.radians(tilt_deg)))
    return Pass(name, tilt_deg, through_mm, setting, found)


def _cuts(bench: Bench, tilt_deg: float, through_mm: float) -> bool:
    try:
        return one_pass("", bench, tilt_deg, through_mm).able == CLEAN
    except LaglineError:
        return False


def other_ways(given: Given, cut: Pass, edge: Prep, square_first: bool) -> tuple[str, ...]:
    """Return what would cut this bevel cleanly, easiest first; empty when nothing here would.

    Parameters: what was asked, the pass that does not go, the edge, and whether the edge is cut square first. Each way
    was tried on the bench's own numbers.
    """
    bench, show = given.bench, given.show
    assert bench is not None
    ways: list[str] = []
    tilt, cos = cut.tilt_deg, _cos(cut.tilt_deg)
    if not tilt:
        return ("saw it square", "sever it, full by the rough edge, and dress it") if cut.able == ROUGH else ()
    if bench.current_a is not None:
        good = [a for a in currents(bench.kit) if _cuts(replace(bench, current_a=a), tilt, cut.through_mm)]
        if good:
            ways.append(f"{good[0]:g} A or more: it then cuts clean")
    free = replace(bench, current_a=None) if ways else bench
    square = _square(free, edge.thickness_mm) if edge.land_at != "top" else ""
    deep = max(edge.depth_mm, edge.second_mm) if edge.second_mm else edge.depth_mm
    if square and not square_first and cut.through_mm > deep / cos + 0.01 and _cuts(free, tilt, deep / cos):
        ways.append(f"{square}, then the bevel: {show(deep / cos)} through instead of {show(cut.through_mm)}")
    half = (edge.thickness_mm - edge.land_mm) / 2 / cos
    if square and not edge.second_mm and _cuts(free, tilt, half):
        ways.append(f"{square}, then bevel half from either face: {show(half)} through each")
    flatter = next((a for a in SMALLER_DEG if a < tilt and _cuts(free, a, cut.through_mm * cos / _cos(a))), None)
    if flatter is not None:
        ways.append(f"{flatter:g} deg or less: {show(cut.through_mm * cos / _cos(flatter))} through")
    return tuple(ways)


def _square(bench: Bench, thickness_mm: float) -> str:
    """How the edge is made square first."""
    try:
        able = one_pass("", bench, 0.0, thickness_mm).able
    except LaglineError:
        able = NOT
    return {
        CLEAN: "cut the edge square first",
        ROUGH: "cut the edge square first (only severed: dress it)",
        NOT: "saw the edge square first",
    }[able]


def _cos(deg: float) -> float:
    return math.cos(math.radians(deg))


def able_finding(given: Given, cut: Pass, where: str, edge: Prep, square_first: bool) -> Finding:
    """Return the no-go or the caution that says what this set does with the pass, and what would work instead."""
    ways = other_ways(given, cut, edge, square_first)
    if not ways:
        by = "a saw or a grinder for the bevel" if cut.tilt_deg else "a saw"
        ways = ("a bigger set", by, "oxy-fuel if it is steel")
    what = f"{cut.name} goes through {given.show(cut.through_mm)}"
    if cut.able == NOT:
        message = f"{what}: beyond this set at {cut.setting.current_a:g} A"
        return Finding("bevel-beyond-set", Severity.NO_GO, where, message, "; ".join(ways))
    message = f"{what}: at {cut.setting.current_a:g} A it is only severed, rough and slow"
    return Finding("bevel-rough", Severity.CAUTION, where, message, "; ".join(ways))
