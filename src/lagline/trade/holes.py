"""Holes: how small by hand, how tapered, and when to drill."""

from __future__ import annotations

import math

from lagline.records.figure import Basis, Figure
from lagline.records.finding import Finding, Severity
from lagline.trade.register import Limit, formula

SMALLEST_MM = 12.7


@formula(
    "holes.minimum",
    text="1.5 to 2 t, never under 1/2 in",
    gives="smallest hole to cut by hand [mm]",
    source="common practice, no source",
    limits=(Limit("thickness_mm", 0.8, 50, "mm"),),
)
def minimum_hole(thickness_mm: float) -> Figure:
    """Smallest hole diameter worth cutting by hand in a plate [mm]; smaller is drilled. [mm]"""
    low, mid, high = (max(SMALLEST_MM, f * thickness_mm) for f in (1.5, 1.75, 2.0))
    return Figure(
        mid,
        low,
        high,
        "mm",
        "holes.minimum",
        Basis.DEFAULT,
        "common practice, no source",
        (("thickness [mm]", f"{thickness_mm:g}"),),
    )


@formula(
    "holes.taper",
    text="taper on diameter = 2 t tan(a)",
    gives="difference of top and bottom diameter [mm]",
    source="geometry (derived)",
    limits=(Limit("bevel_deg", 0, 15, "deg"),),
)
def taper_on_diameter(thickness_mm: float, bevel_deg: float) -> float:
    """Difference between top and bottom diameter of a hole, thickness [mm], face bevel [deg]. [mm]

    Check: 12.7 mm at 1, 2, 3, 5 deg: 0.44, 0.89, 1.33, 2.2 mm.
    """
    return 2 * thickness_mm * math.tan(math.radians(bevel_deg))


def must_drill(diameter_mm: float, thickness_mm: float) -> bool:
    """True when a hole is smaller than the smallest to cut by hand (the figure's value)."""
    return diameter_mm < minimum_hole(thickness_mm).value


def bolt_hole_caution(where: str) -> Finding:
    """The caution that goes with every bolt hole someone means to cut by hand."""
    return Finding(
        "bolt-hole",
        Severity.CAUTION,
        where,
        "a hand-cut hole is a clearance or access hole, not a bolt hole: AISC M2.5 and RCSC 3.3 (from memory) hold "
        "thermally cut bolt holes to 1000 uin roughness and 1/16 in gouges, and AISC leaves hand guidance to holes "
        "other than bolt holes",
        "drill or punch it, or cut 1/16 to 1/8 in under and ream, unless the engineer of record says otherwise; "
        "the rim may be hard",
    )
