"""A straightedge along a cut: how long, how often moved along, where it is held."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.trade.register import Limit, formula

SPACING_MM = 610.0  # between clamps, about 24 in; common practice, no source
FROM_END_MM = 25.0  # clamp's middle from the bar's end; common practice, no source
LEAST_USE_MM = 50.0  # a bar that leads less than this at a time is none; common practice, no source


@dataclass(frozen=True, slots=True)
class BarPlace:
    """The bar in one place; distances along the cut from its start [mm], clamps from the bar's own end.

    The bar begins before what it leads.
    """

    cut_from_mm: float
    cut_to_mm: float
    bar_from_mm: float
    bar_to_mm: float
    clamps_mm: tuple[float, ...]


@formula(
    "guide.bar-needed",
    text="cut + 2 overhangs",
    gives="straightedge that leads a cut from end to end [mm]",
    source="cup on the guide before the start and past the end: common practice, no source",
)
def bar_needed(cut_mm: float, overhang_mm: float) -> float:
    """Length of straightedge for a cut, from the cut and what the bar runs over each end [mm]. [mm]"""
    return cut_mm + 2 * overhang_mm


@formula(
    "guide.clamps",
    text="one near each end, others between so that none is over 24 in from the next",
    gives="places of the clamps along a bar [mm]",
    source="common practice, no source",
    limits=(Limit("bar_mm", 2 * FROM_END_MM, 20_000, "mm"),),
)
def clamps(bar_mm: float) -> tuple[float, ...]:
    """Where a bar is held, from its own end [mm]: two clamps or more. [mm]"""
    first, last = min(FROM_END_MM, bar_mm / 4), bar_mm - min(FROM_END_MM, bar_mm / 4)
    n = max(1, math.ceil((last - first) / SPACING_MM - 1e-9))
    return tuple(first + (last - first) * i / n for i in range(n + 1))


@formula(
    "guide.bar-places",
    text="n = ceil(cut/(bar - 2 overhangs)), equal stretches",
    gives="where a straightedge lies along the cut, place after place [mm]",
    source="geometry (derived)",
)
def bar_places(cut_mm: float, bar_mm: float, overhang_mm: float) -> tuple[BarPlace, ...]:
    """Where a bar lies so that it leads a cut whole, moved along as often as it must be; all [mm].

    ValueError when the bar leads less than 50 mm at a time.
    """
    use = bar_mm - 2 * overhang_mm
    if use < LEAST_USE_MM:
        raise ValueError(f"a bar of {bar_mm} mm leads only {use} mm at a time")
    n = max(1, math.ceil((cut_mm - 1e-6) / use))
    out = []
    for i in range(n):
        a, b = cut_mm * i / n, cut_mm * (i + 1) / n
        begin = (a + b - bar_mm) / 2
        out.append(BarPlace(a, b, begin, begin + bar_mm, clamps(bar_mm)))
    return tuple(out)
