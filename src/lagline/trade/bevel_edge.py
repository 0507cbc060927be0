"""Where the lines of a bevelled edge lie: mark-out line, feather edge and land, one side or two.

The root line is where the land is, or will be once it is ground; "in" is towards the kept metal.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.data import table
from lagline.records.figure import Basis, Figure
from lagline.trade.register import Limit, formula

SOURCE = "geometry (derived)"
_ANGLE = Limit("bevel_deg", 0, 60, "deg", "beyond that the cut path is over twice the plate's thickness")
_T = Limit("thickness_mm", 0.5, 150, "mm")
SIDES = ("bottom", "top", "both")


@dataclass(frozen=True, slots=True)
class Prep:
    """A bevelled edge as it is wanted.

    ``land_at`` is ``bottom`` (the bevel opens upwards), ``top`` (it opens downwards) or ``both`` (a bevel from either
    face, the land between). ``depth_mm`` is how deep the first bevel goes, ``second_mm`` the one from the other face,
    0 without one; the land is what they leave.
    """

    thickness_mm: float
    land_mm: float
    land_at: str
    angle_deg: float
    depth_mm: float
    second_mm: float = 0.0
    second_deg: float = 0.0

    def __post_init__(self) -> None:
        if abs(self.depth_mm + self.second_mm + self.land_mm - self.thickness_mm) > 1e-6:
            raise ValueError("bevels and land do not make up the thickness")


def prep(
    thickness_mm: float, land_mm: float, land_at: str, angle_deg: float,
    depth_mm: float | None = None, second_deg: float | None = None,
) -> Prep:  # fmt: skip
    """Return the edge; with two bevels and no depth given each takes half of what the land leaves."""
    rest = thickness_mm - land_mm
    if land_at != "both":
        return Prep(thickness_mm, land_mm, land_at, angle_deg, rest)
    first = rest / 2 if depth_mm is None else depth_mm
    return Prep(
        thickness_mm, land_mm, land_at, angle_deg, first, rest - first, angle_deg if second_deg is None else second_deg
    )


@formula(
    "bevel.set-in",
    text="land at the bottom: d tan a in from the root line, d = t - f; land at the top: f tan a out from it",
    gives="mark-out line on the face the torch is on, in from the root line [mm], negative outside it",
    source=SOURCE,
    limits=(_ANGLE, _T),
)
def set_in(edge: Prep) -> float:
    """How far in from the root line the first bevel's mark-out line lies, on the face that is cut from. [mm]

    Parameter: the edge. Positive towards the kept metal. The cut face passes through the line where bevel and land
    meet, whichever way the land is made. Check: 12 mm, land 2 mm, 30 deg: 10 tan 30 = 5.77 mm.
    """
    tan = math.tan(math.radians(edge.angle_deg))
    return -edge.land_mm * tan if edge.land_at == "top" else edge.depth_mm * tan


@formula(
    "bevel.feather",
    text="f tan a",
    gives="how far the feather edge stands out beyond the root line before the land is ground [mm]",
    source=SOURCE,
    limits=(_ANGLE, _T),
)
def feather(land_mm: float, bevel_deg: float) -> float:
    """Length that grinding a land [mm] onto a bevel [deg] cut to a feather edge takes off. [mm]"""
    return land_mm * math.tan(math.radians(bevel_deg))


@formula(
    "bevel.second-path",
    text="y = (d1 tan a1 + (t - d2) tan a2)/(tan a1 + tan a2); path = (t - y)/cos a2",
    gives="length of the second bevel's cut path when the first was cut through the whole plate [mm]",
    source=SOURCE,
    limits=(_ANGLE, _T),
)
def second_path(edge: Prep) -> float:
    """How far the arc cuts on the second bevel, from the second face to the first bevel's face. [mm]

    The two faces meet beyond the root line, y below the first face. Never more than (d2 + f)/cos a2.
    """
    one, two = math.tan(math.radians(edge.angle_deg)), math.tan(math.radians(edge.second_deg))
    y = (edge.depth_mm * one + (edge.thickness_mm - edge.second_mm) * two) / (one + two)
    return (edge.thickness_mm - y) / math.cos(math.radians(edge.second_deg))


@formula(
    "bevel.tip-of-two",
    text="f tan a1 tan a2/(tan a1 + tan a2)",
    gives="how far the ridge of two bevels stands out beyond the root line before the land is ground [mm]",
    source=SOURCE,
    limits=(_ANGLE, _T),
)
def tip_of_two(edge: Prep) -> float:
    """How far the ridge where two through-cut bevels meet stands out beyond the root line. [mm]"""
    one, two = math.tan(math.radians(edge.angle_deg)), math.tan(math.radians(edge.second_deg))
    return edge.land_mm * one * two / (one + two)


@formula(
    "bevel.land-wander",
    text="e/tan a",
    gives="how much the land gains or loses when the bevel's line is off by e [mm]",
    source="geometry (derived); e of a clamped straightedge from table hand_tolerance: common practice, no source",
    limits=(_ANGLE, Limit("off_mm", 0, 10, "mm")),
)
def land_wander(off_mm: float, bevel_deg: float) -> float:
    """Change of the land for a line that is off by so much on the plate [mm], bevel [deg]. [mm]

    Check: 1/32 in off at 45 deg: 1/32 in of land; at 30 deg 1.73 times that.
    """
    return off_mm / math.tan(math.radians(bevel_deg))


def straightedge_wander(bevel_deg: float) -> Figure:
    """What a clamped straightedge does to the land of a bevel [deg], from a good hand's to a usual one's. [mm]"""
    rows = table("hand_tolerance")
    (row,) = (r for r in rows.rows if (r["kind"], r["item"]) == ("guide", "straightedge"))
    low, high = (land_wander(float(row[k]), bevel_deg) for k in ("low_mm", "high_mm"))
    inputs = (("line off by [mm]", f"{row['low_mm']} to {row['high_mm']}"), ("bevel_deg", f"{bevel_deg:g}"))
    return Figure((low + high) / 2, low, high, "mm", "bevel.land-wander", Basis.DEFAULT, rows.source, inputs)
