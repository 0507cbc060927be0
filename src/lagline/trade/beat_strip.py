"""A strip with a tick for every count: how far the hand goes in one."""

from __future__ import annotations

import math

from lagline.trade.register import Limit, formula

_PACE = Limit("pace_mm_s", 0.5, 100.0, "mm/s", "what a hand can follow")


@formula(
    "beat.tick",
    text="tick = v c r/a",
    gives="distance between ticks on a strip [mm]",
    source="definition; on a circle scaled by the strip's radius r over the arm a",
    limits=(_PACE,),
)
def tick_mm(pace_mm_s: float, count_s: float, strip_radius_mm: float = 1.0, arm_mm: float = 1.0) -> float:
    """Distance between ticks from the pace of the tip [mm/s] and the length of a count [s]. [mm]

    On a circle the strip lies at its own radius while the tip runs at the arm's; for a straight strip both are left.
    Check: 20 in/min, every 3 s: 1 in.
    """
    return pace_mm_s * count_s * strip_radius_mm / arm_mm


@formula(
    "beat.ticks",
    text="0, tick, 2 tick ... up to the end",
    gives="places of the ticks along a strip [mm]",
    source="definition",
)
def ticks(length_mm: float, spacing_mm: float) -> tuple[float, ...]:
    """Places of the ticks along a strip [mm], the start among them. [mm] ValueError for a spacing of nought or less."""
    if not spacing_mm > 0:
        raise ValueError(f"tick spacing must be above zero, got {spacing_mm}")
    return tuple(spacing_mm * i for i in range(math.floor(length_mm / spacing_mm + 1e-9) + 1))
