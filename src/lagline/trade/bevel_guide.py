"""Where a guide goes for a leaning torch, and how high it has to be.

Cross-section across the cut, plate top at height 0. The cup is a straight cylinder of radius R about the torch's axis,
its rim square to the axis at the arc length s from the plate; the kerf is k wide across the axis, so k/cos a on the
plate. The guide is a bar of height h with an upright face.

over : the torch leans over the guide, and the guide's top corner bears on the side of the cup
away : the torch leans away from the guide, and the cup's rim bears on the guide's upright face
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.records.figure import Basis, Figure
from lagline.trade.register import Limit, formula

SOURCE = "derived: geometry of a leaning cup, kerf and guide"
_ANGLE = Limit("bevel_deg", 0, 60, "deg", "beyond that the cut path is over twice the plate's thickness")
_CUP = Limit("cup_radius_mm", 2.0, 40.0, "mm", "hand torch cups")
_KERF = Limit("kerf_mm", 0.3, 6.0, "mm", "hand plasma kerfs")
_ARC = Limit("arc_mm", 0.0, 40.0, "mm", "a longer arc goes out")
_HEIGHT = Limit("guide_mm", 0.0, 100.0, "mm")


def _trig(bevel_deg: float) -> tuple[float, float]:
    a = math.radians(bevel_deg)
    return math.sin(a), math.cos(a)


@formula(
    "bevel.least-arc",
    text="R tan a",
    gives="arc length at which the leaning cup's rim touches the plate [mm]",
    source=SOURCE,
    limits=(_ANGLE, _CUP),
)
def least_arc(cup_radius_mm: float, bevel_deg: float) -> float:
    """Shortest arc, along the torch, that a cup [mm] leaning by a bevel [deg] can hold. [mm]

    The low side of the rim is s cos a - R sin a above the plate. Check: R 11 mm at 45 deg: 11 mm.
    """
    return cup_radius_mm * math.tan(math.radians(bevel_deg))


@formula(
    "bevel.rim-height",
    text="s cos a + R sin a",
    gives="height of the rim's high side above the plate: least guide height for a torch that leans away [mm]",
    source=SOURCE,
    limits=(_ANGLE, _CUP, _ARC),
)
def rim_height(cup_radius_mm: float, bevel_deg: float, arc_mm: float) -> float:
    """How high the cup's rim stands on the side it leans away from: cup [mm], bevel [deg], arc length [mm]. [mm]"""
    sin, cos = _trig(bevel_deg)
    return arc_mm * cos + cup_radius_mm * sin


@formula(
    "bevel.guide-over",
    text="h tan a + (R - k/2)/cos a on the kept part, h tan a + (R + k/2)/cos a on the drop",
    gives="mark-out line to guide, the torch leaning over it [mm]",
    source=SOURCE,
    limits=(_ANGLE, _CUP, _KERF, _HEIGHT),
)
def over(cup_radius_mm: float, kerf_mm: float, bevel_deg: float, guide_mm: float, *, kept: bool) -> float:
    """Distance on the plate from the mark-out line to a guide that the torch leans over. [mm]

    Parameters: cup radius at the guide [mm], kerf [mm], bevel [deg], guide height [mm], whether the guide is on the
    kept part. At 0 deg it is R -+ k/2. Does not hold where the guide's corner is below the rim (see rim heights) or
    above the straight part of the cup.
    """
    sin, cos = _trig(bevel_deg)
    return guide_mm * sin / cos + (cup_radius_mm + (-kerf_mm if kept else kerf_mm) / 2) / cos


@formula(
    "bevel.guide-away",
    text="R cos a - s sin a - k/(2 cos a) on the kept part, + k/(2 cos a) on the drop",
    gives="mark-out line to guide, the torch leaning away from it [mm]",
    source=SOURCE,
    limits=(_ANGLE, _CUP, _KERF, _ARC),
)
def away(cup_radius_mm: float, kerf_mm: float, bevel_deg: float, arc_mm: float, *, kept: bool) -> float:
    """Distance on the plate from the mark-out line to a guide that the torch leans away from. [mm]

    Parameters: cup radius at its rim [mm], kerf [mm], bevel [deg], arc length [mm], whether the guide is on the kept
    part. At 0 deg it is R -+ k/2. Holds for a guide at least as high as the rim (bevel.rim-height).
    """
    sin, cos = _trig(bevel_deg)
    return cup_radius_mm * cos - arc_mm * sin + (-kerf_mm if kept else kerf_mm) / (2 * cos)


@formula(
    "bevel.touch-up",
    text="(h + R sin a)/cos a - s",
    gives="how far up the cup from its rim the guide's corner bears [mm]",
    source=SOURCE,
    limits=(_ANGLE, _CUP, _ARC, _HEIGHT),
)
def touch_up(cup_radius_mm: float, bevel_deg: float, arc_mm: float, guide_mm: float) -> float:
    """How far up from the rim a guide's top corner [mm high] bears on a cup that leans over it. [mm]

    Negative: the guide lies lower than the rim and nothing bears. Measure the cup's radius at this place.
    """
    sin, cos = _trig(bevel_deg)
    return (guide_mm + cup_radius_mm * sin) / cos - arc_mm


@formula(
    "bevel.tallest-guide",
    text="(s + L) cos a - R sin a",
    gives="tallest guide whose corner still bears on the straight part of the cup, L long [mm]",
    source=SOURCE,
    limits=(_ANGLE, _CUP, _ARC),
)
def tallest(cup_radius_mm: float, bevel_deg: float, arc_mm: float, cup_length_mm: float) -> float:
    """Tallest guide that a torch may lean over before it bears above the cup's straight part. [mm]"""
    sin, cos = _trig(bevel_deg)
    return (arc_mm + cup_length_mm) * cos - cup_radius_mm * sin


@dataclass(frozen=True, slots=True)
class Lean:
    """What a guide distance comes from: cup radius, kerf and arc length, each with its spread.

    An arc length by ``bevel.least-arc`` is not free: the rim lies on the plate, and it goes with the cup's radius.
    """

    cup: Figure
    kerf: Figure
    arc: Figure
    bevel_deg: float


def guide_figure(lean: Lean, guide_mm: float, *, kept: bool, leans_over: bool) -> Figure:
    """Distance from the mark-out line to the guide, with its spread [mm].

    Cup, kerf and arc length are taken as independent, an arc that rests on the cup's rim as moving with the cup: the
    root sum of squares of what each does.
    """
    rests = lean.arc.formula == "bevel.least-arc"

    def at(r: float, k: float, s: float) -> float:
        if leans_over:
            return over(r, k, lean.bevel_deg, guide_mm, kept=kept)
        return away(r, k, lean.bevel_deg, s, kept=kept)

    r, k, s = lean.cup, lean.kerf, lean.arc
    value = at(r.value, k.value, s.value)
    moves = [
        *(at(x, k.value, least_arc(x, lean.bevel_deg) if rests else s.value) - value for x in (r.low, r.high)),
        *(at(r.value, x, s.value) - value for x in (k.low, k.high)),
        *(at(r.value, k.value, x) - value for x in (s.low, s.high) if not rests),
    ]
    down = math.hypot(*(m for m in moves if m < 0))
    up = math.hypot(*(m for m in moves if m > 0))
    inputs = [
        ("cup_radius_mm", f"{r.value:.2f} ({r.low:.2f} to {r.high:.2f})"),
        ("kerf_mm", f"{k.value:.2f} ({k.low:.2f} to {k.high:.2f})"),
        ("bevel_deg", f"{lean.bevel_deg:g}"),
        ("guide_mm", f"{guide_mm:.2f}") if leans_over else ("arc_mm", f"{s.value:.2f} ({s.low:.2f} to {s.high:.2f})"),
    ]
    basis = Basis.DEFAULT if Basis.DEFAULT in (r.basis, k.basis) else r.basis
    key = "bevel.guide-over" if leans_over else "bevel.guide-away"
    return Figure(value, value - down, value + up, "mm", key, basis, SOURCE, tuple(inputs))
