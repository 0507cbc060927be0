"""Strips that may bow when they are cut, and what keeps them straight."""

from __future__ import annotations

from lagline.records.figure import Figure
from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Line
from lagline.records.length import show_length
from lagline.records.plan import Blank, Cut, Layout, Setting
from lagline.trade.bow import edge_heat_j_mm, strip_camber

STRIP_ASPECT = 6.0
LEAST_MM = 1.0  # less than this nobody sees along a tape


def strip_findings(
    blanks: tuple[Blank, ...], settings: tuple[Setting, ...], layout: Layout, cuts: tuple[Cut, ...], units: str
) -> tuple[Finding, ...]:
    """Return a finding for every kind of strip laid out that may bow by more than a millimetre; a caution where it may
    spoil the part's tolerance."""
    out: list[Finding] = []
    for index in dict.fromkeys(p.part for p in layout.placed):
        camber = _camber(blanks[index], settings)
        if camber is None or camber.high < LEAST_MM:
            continue
        part = blanks[index].part
        low, value, high = (show_length(v, units, 32) for v in (camber.low, camber.value, camber.high))
        one = _one_edge_uncut(index, layout, blanks[index], cuts)
        spoils = 0 < part.tolerance_mm < camber.value
        rest = "here one long edge is left as it is" if one else "cutting the other brings most of it back"
        out.append(
            Finding(
                "strip-bow",
                Severity.CAUTION if spoils else Severity.NOTE,
                part.name,
                f"one long edge cut may bow it {value} ({low} to {high}: a welding rule, unproven here); {rest}",
                "trim the mill edge too"
                if one
                else "cut its long edges straight after each other, from alternate ends; where it must stay straight "
                "leave bridges of 1 in and cut them cold (common practice, no source)",
            )
        )
    return tuple(out)


def _camber(blank: Blank, settings: tuple[Setting, ...]) -> Figure | None:
    """Camber of a part that is a strip: long straight edges more than six times its width."""
    left, bottom, right, top = blank.cut.bounds()
    short, long = sorted((right - left, top - bottom))
    longest = max((s.length for s in blank.cut.outer.segments if isinstance(s, Line)), default=0.0)
    if not long > STRIP_ASPECT * short > 0 or longest < 0.7 * long:
        return None
    setting = next(s for s in settings if s.stock.key == blank.part.stock.key and s.bevel_deg == 0)
    stock = blank.part.stock
    heat = edge_heat_j_mm(stock.metal, stock.thickness_mm, max(setting.pace_mm_s.value, 0.5), setting.kerf_mm.value)
    return strip_camber(stock.metal, stock.thickness_mm, short, long, heat)


def _one_edge_uncut(index: int, layout: Layout, blank: Blank, cuts: tuple[Cut, ...]) -> bool:
    """Does any copy keep a long edge of the plate: fewer than two long straight cuts along it?"""
    left, bottom, right, top = blank.cut.bounds()
    long = 0.7 * max(right - left, top - bottom)
    for i, placed in enumerate(layout.placed):
        if placed.part != index:
            continue
        mine = [c for c in cuts if i in c.parts and c.role in ("outline", "edge", "rip")]
        lines = [s for c in mine for p in c.passes for s in p.line if isinstance(s, Line) and s.length > long]
        if mine and len(lines) < 2:
            return True
    return False
