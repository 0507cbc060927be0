"""Tilted cuts and the bevel nobody asked for."""

from __future__ import annotations

import math

from lagline.records.figure import Basis, Figure
from lagline.trade.register import Limit, formula

_ANGLE = Limit("bevel_deg", 0, 50, "deg", "beyond that the cut path is half as long again as the plate is thick")


@formula(
    "bevel.true-thickness",
    text="t' = t/cos(bevel)",
    gives="length of the cut path through the plate [mm]",
    source="geometry (derived)",
    limits=(_ANGLE,),
)
def true_thickness(thickness_mm: float, bevel_deg: float) -> float:
    """Length the arc must cut through a plate [mm] when the torch leans by the bevel [deg]. [mm]

    Check: 12 mm at 30 deg is 13.86 mm. ValueError at 90 deg and above.
    """
    if not 0 <= bevel_deg < 90:
        raise ValueError(f"bevel must be from 0 to under 90 deg, got {bevel_deg}")
    return thickness_mm / math.cos(math.radians(bevel_deg))


@formula(
    "bevel.top-shift",
    text="shift = t tan(bevel)",
    gives="distance between the top line and the bottom line of a bevelled face [mm]",
    source="geometry (derived)",
    limits=(_ANGLE,),
)
def top_shift(thickness_mm: float, bevel_deg: float) -> float:
    """How far the top line lies from the bottom line of a face, plate thickness [mm], bevel [deg]. [mm]"""
    return thickness_mm * math.tan(math.radians(bevel_deg))


@formula(
    "bevel.natural-good",
    text="1 to 3 deg",
    gives="bevel of the face on the square side [deg]",
    source="common practice, no source",
)
def natural_good() -> Figure:
    """Bevel to expect on the square side of the kerf from an upright torch. [deg]"""
    return Figure(2.0, 1.0, 3.0, "deg", "bevel.natural-good", Basis.DEFAULT, "common practice, no source")


@formula(
    "bevel.natural-bad",
    text="3 to 8 deg",
    gives="bevel of the face on the other side [deg]",
    source="common practice, no source",
)
def natural_bad() -> Figure:
    """Bevel to expect on the other side of the kerf from an upright torch. [deg]"""
    return Figure(5.0, 3.0, 8.0, "deg", "bevel.natural-bad", Basis.DEFAULT, "common practice, no source")
