"""Reading the face: how far the lines trail, and what that says of the pace. A clue with a wide spread, not a
measurement: the standard on cut faces gives drag no limits, and the trade does not agree on how much is right."""

from __future__ import annotations

import math

from lagline.records.figure import Basis, Figure, Spread
from lagline.trade.register import Limit, formula

# What a good cut shows: 5 to 10 deg behind, vertical is slow, others hold 30 to 40 right.
GOOD_DEG = Spread(7.5, 0.0, 35.0, default=True)
# Lines that lean this far belong to a cut that hardly gets through.
LOST_DEG = 45.0
# Such a cut goes as much faster than a clean one as severing goes beyond the rated thickness, 25 to 50 %.
LOST_RATIO = Spread(1.375, 1.25, 1.5, default=True)


@formula(
    "lag.angle",
    text="angle = atan(lag/t)",
    gives="lag angle: mean lean of the lines on the face [deg]",
    source="geometry (derived)",
    limits=(
        Limit("lag_mm", 0, 60, "mm", "beyond a plate's thickness the arc hardly got through"),
        Limit("thickness_mm", 0.5, 50, "mm", "plates a hand torch cuts"),
    ),
)
def lag_angle_deg(lag_mm: float, thickness_mm: float) -> float:
    """Mean lean of the lines on a cut face, from how far they trail at the bottom [mm] and the thickness [mm]. [deg]

    The lines are curved; this is the chord. ValueError for a thickness of nought or less.
    Check: 10 mm of lag in 10 mm of plate is 45 deg.
    """
    if thickness_mm <= 0:
        raise ValueError(f"thickness must be above zero, got {thickness_mm}")
    return math.degrees(math.atan2(lag_mm, thickness_mm))


@formula(
    "lag.length",
    text="lag = t tan(angle)",
    gives="how far the lines trail at the bottom [mm]",
    source="geometry (derived)",
    limits=(
        Limit("angle_deg", 0, 60, "deg", "beyond, the arc hardly got through"),
        Limit("thickness_mm", 0.5, 50, "mm", "plates a hand torch cuts"),
    ),
)
def lag_length(angle_deg: float, thickness_mm: float) -> float:
    """How far lines of a lean [deg] trail at the bottom of a plate [mm]. [mm]"""
    return thickness_mm * math.tan(math.radians(angle_deg))


@formula(
    "lag.pace-ratio",
    text="pace/good pace = 1 + (angle - good)(r - 1)/(45 - 7.5), good 7.5 (0 to 35) deg, r = 1.375 (1.25 to 1.5)",
    gives="pace that was led over the pace of a good cut [1]",
    source="good lines trail 5 to 10 deg, others hold 30 to 40 right, severing goes 25 to 50 % beyond clean: common "
    "practice, no source; the straight line between is ours",
    limits=(Limit("lag_deg", 0, LOST_DEG, "deg", "beyond, the arc hardly got through: back up and slow down"),),
)
def pace_ratio(lag_deg: float) -> Figure:
    """What the lean of the lines [deg] says of the pace: led pace over good pace, 1 for a good cut. [1]

    The spread holds both habits of the trade, so upright lines do not prove a slow cut, nor 30 deg a fast one.
    """
    run = LOST_DEG - GOOD_DEG.value

    def ratio(good: float, lost: float) -> float:
        return 1 + (lag_deg - good) * (lost - 1) / run

    corners = [ratio(g, r) for g in (GOOD_DEG.low, GOOD_DEG.high) for r in (LOST_RATIO.low, LOST_RATIO.high)]
    return Figure(
        ratio(GOOD_DEG.value, LOST_RATIO.value),
        min(corners),
        max(corners),
        "1",
        "lag.pace-ratio",
        Basis.DEFAULT,
        "common practice, no source",
        (("lag [deg]", f"{lag_deg:.1f}"),),
    )
