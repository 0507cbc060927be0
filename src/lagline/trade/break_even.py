"""Torch, saw or drill: what each takes, and where they come to the same."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.data import table
from lagline.records.figure import Spread
from lagline.trade.register import Limit, formula


@dataclass(frozen=True, slots=True)
class Way:
    """What a way of cutting comes to: once for each cut, and for each mm of it [s, or money]."""

    once: float
    each_mm: float

    def of(self, length_mm: float) -> float:
        return self.once + self.each_mm * length_mm


def times_steel(metal: str) -> Spread:
    """How many times as long as mild steel a metal takes to saw or drill [-]."""
    row = next(r for r in table("saw_drill").rows if r["metal"] == metal)
    return Spread(float(row["times"]), float(row["low"]), float(row["high"]), default=True)


@formula(
    "even.saw",
    text="t = set-up + L thickness/rate x metal, metal = 1 steel, 2 (1.5 to 3) stainless, 0.5 (0.3 to 0.7) aluminium",
    gives="time of one saw cut [s]",
    source="set-up 1 to 5 min, 10 to 70 mm2/s of face from a hand band saw to an abrasive disc: common practice, no "
    "source",
    limits=(Limit("thickness_mm", 0.5, 60, "mm"),),
)
def saw_way(thickness_mm: float, setup_s: float, mm2_s: float, times: float) -> Way:
    """A saw's time: plate thickness [mm], set-up for a cut [s], face sawn in mild steel [mm2/s], times the metal."""
    return Way(setup_s, thickness_mm / mm2_s * times)


@formula(
    "even.length",
    text="L = (once_a - once_b)/(each_b - each_a)",
    gives="length of cut at which two ways come to the same [mm]",
    source="two straight lines (derived)",
)
def even_length_mm(a: Way, b: Way) -> float | None:
    """Length at which two ways come to the same [mm]; None when one of them is never the worse."""
    steeper = b.each_mm - a.each_mm
    if steeper == 0:
        return None
    length = (a.once - b.once) / steeper
    return length if length > 0 else None


@formula(
    "even.count",
    text="n = set-up/(torch - drill)",
    gives="holes from which fetching the drill pays [holes]",
    source="derived",
)
def even_count(setup: float, torch_each: float, drill_each: float) -> int | None:
    """Holes from which a drill's set-up pays, all in one unit; None when each hole is no cheaper drilled."""
    saved = torch_each - drill_each
    if saved <= 0:
        return None
    return max(1, math.ceil(setup / saved - 1e-9))
