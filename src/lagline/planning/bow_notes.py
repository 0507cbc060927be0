"""Strips that may bow when they are cut: how far, how far they may, and what keeps them straight."""

from __future__ import annotations

from lagline.records.figure import Figure
from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Line
from lagline.records.length import show_length
from lagline.records.plan import Blank, Cut, Layout, Setting
from lagline.trade.bow import edge_heat_j_mm, strip_camber

STRIP_ASPECT = 6.0
LONG_SHARE = 0.7  # an edge at least this share of a strip's length is one of its long edges
LEAST_MM = 1.0  # less than this nobody sees along a tape


def strip_findings(
    blanks: tuple[Blank, ...], settings: tuple[Setting, ...], layout: Layout, cuts: tuple[Cut, ...], units: str
) -> tuple[Finding, ...]:
    """Return a finding for every kind of strip laid out that may bow by more than a millimetre; a caution where it may
    spoil the part's tolerance."""
    out: list[Finding] = []
    for index in dict.fromkeys(p.part for p in layout.placed):
        camber = camber_of(blanks[index], settings)
        if camber is None or camber.high < LEAST_MM:
            continue
        part = blanks[index].part
        if any(c.role == "bridge" and layout.placed[i].part == index for c in cuts for i in c.parts):
            continue  # bridges hold it, and their own finding says so
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
                else "cut its long edges straight after each other, from alternate ends; where it must stay straighter "
                'give the part bridge = "5/8" (common practice, no source)',
            )
        )
    return tuple(out)


def strip_of(blank: Blank) -> tuple[float, float] | None:
    """Return width and length of a part that is a strip [mm]: a long straight edge, more than six times its width."""
    left, bottom, right, top = blank.cut.bounds()
    short, long = sorted((right - left, top - bottom))
    longest = max((s.length for s in blank.cut.outer.segments if isinstance(s, Line)), default=0.0)
    if not long > STRIP_ASPECT * short > 0 or longest < LONG_SHARE * long:
        return None
    return short, long


def camber_of(blank: Blank, settings: tuple[Setting, ...]) -> Figure | None:
    """Return the camber to expect of a part that is a strip, None for any other."""
    sizes = strip_of(blank)
    if sizes is None:
        return None
    short, long = sizes
    setting = next(s for s in settings if s.stock.key == blank.part.stock.key and s.bevel_deg == 0)
    stock = blank.part.stock
    heat = edge_heat_j_mm(stock.metal, stock.thickness_mm, max(setting.pace_mm_s.value, 0.5), setting.kerf_mm.value)
    return strip_camber(stock.metal, stock.thickness_mm, short, long, heat)


def _one_edge_uncut(index: int, layout: Layout, blank: Blank, cuts: tuple[Cut, ...]) -> bool:
    """Does any copy keep a long edge of the plate: fewer than two long straight cuts along it?"""
    left, bottom, right, top = blank.cut.bounds()
    long = LONG_SHARE * max(right - left, top - bottom)
    for i, placed in enumerate(layout.placed):
        if placed.part != index:
            continue
        mine = [c for c in cuts if i in c.parts and c.role in ("outline", "edge", "rip")]
        lines = [s for c in mine for p in c.passes for s in p.line if isinstance(s, Line) and s.length > long]
        if mine and len(lines) < 2:
            return True
    return False
