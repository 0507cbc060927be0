"""Weld joints in section: groove areas, weld metal, passes, and what each half is cut to.

Kinds: ``v`` and ``x`` (double V) share their angle between both plates, so it is the included angle; in a
``single-bevel`` and a ``k`` (double bevel) one plate stays square and the angle is that plate's bevel. ``square`` has
no bevel. R is the gap between the roots, f the land, d1 and d2 the depths of the grooves from either face.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.data import table
from lagline.records.figure import Basis, Figure
from lagline.trade.metals import property_of
from lagline.trade.register import Limit, formula

KINDS = ("v", "single-bevel", "x", "k", "square")
SHARED = ("v", "x")  # the groove angle is shared between two bevelled plates
DOUBLE = ("x", "k")
_T = Limit("thickness_mm", 1, 150, "mm")
_A = Limit("groove_deg", 0, 120, "deg")
_R = Limit("gap_mm", 0, 25, "mm", "wider gaps are built up first")
SOURCE = "geometry (derived)"


@dataclass(frozen=True, slots=True)
class Joint:
    """A joint in section [mm, deg]; ``depth_mm`` and ``second_mm`` are what the grooves take, the land the rest."""

    kind: str
    thickness_mm: float
    gap_mm: float
    land_mm: float
    angle_deg: float
    depth_mm: float
    second_mm: float = 0.0
    second_deg: float = 0.0

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise ValueError(f"no joint is called {self.kind}")
        if abs(self.depth_mm + self.second_mm + self.land_mm - self.thickness_mm) > 1e-6:
            raise ValueError("grooves and land do not make up the thickness")

    @property
    def first_width_mm(self) -> float:
        """Width of the groove at the first face."""
        return groove_width(self.gap_mm, self.depth_mm, self.angle_deg, self.kind in SHARED)

    @property
    def second_width_mm(self) -> float:
        """Width of the groove at the second face."""
        return groove_width(self.gap_mm, self.second_mm, self.second_deg, self.kind in SHARED)


def joint(
    kind: str, thickness_mm: float, gap_mm: float, land_mm: float, angle_deg: float,
    depth_mm: float | None = None, second_deg: float | None = None,
) -> Joint:  # fmt: skip
    """Return the joint; a double one without a depth is shared equally between its faces. A square one is all land."""
    if kind == "square":
        return Joint(kind, thickness_mm, gap_mm, thickness_mm, 0.0, 0.0)
    rest = thickness_mm - land_mm
    if kind not in DOUBLE:
        return Joint(kind, thickness_mm, gap_mm, land_mm, angle_deg, rest)
    first = rest / 2 if depth_mm is None else depth_mm
    second = angle_deg if second_deg is None else second_deg
    return Joint(kind, thickness_mm, gap_mm, land_mm, angle_deg, first, rest - first, second)


@formula(
    "joint.width",
    text="V: R + 2 d tan(a/2); bevel: R + d tan a",
    gives="width of the groove at the face [mm]",
    source=SOURCE,
    limits=(_R, _A),
)
def groove_width(gap_mm: float, depth_mm: float, groove_deg: float, shared: bool) -> float:
    """Width of a groove at its face: gap, depth [mm], groove angle [deg], whether both plates are bevelled. [mm]"""
    if shared:
        return gap_mm + 2 * depth_mm * math.tan(math.radians(groove_deg) / 2)
    return gap_mm + depth_mm * math.tan(math.radians(groove_deg))


@formula(
    "joint.groove-area",
    text="V: R t + d^2 tan(a/2); bevel: R t + d^2 tan(a)/2; double: R t + both grooves; square: R t",
    gives="section of the groove [mm2]",
    source=SOURCE,
    limits=(_T, _R, _A),
)
def groove_area(j: Joint) -> float:
    """Section of weld metal that fills the groove flush with both faces. [mm2]

    Check: 12 mm V of 60 deg, land 2, gap 3: 93.74 mm2; 12 mm bevel of 45 deg, the same land and gap: 86 mm2.
    """
    half = 0.5 if j.kind in SHARED else 1.0
    share = 1.0 if j.kind in SHARED else 0.5
    grooves = math.fsum(
        share * d**2 * math.tan(math.radians(a) * half)
        for d, a in ((j.depth_mm, j.angle_deg), (j.second_mm, j.second_deg))
    )
    return j.gap_mm * j.thickness_mm + grooves


@formula(
    "joint.cap-area",
    text="2/3 w c",
    gives="section of a cap above the face [mm2]",
    source="parabola on the groove's width (derived); real caps differ: common practice, no source",
    limits=(Limit("cap_mm", 0, 6, "mm"),),
)
def cap_area(width_mm: float, cap_mm: float) -> float:
    """Section of a cap (reinforcement) of that height on a groove of that width, taken as a parabola. [mm2]"""
    return 2 / 3 * width_mm * cap_mm


@formula(
    "joint.fillet-area",
    text="z^2/2",
    gives="section of an equal-leg fillet [mm2]",
    source=SOURCE,
    limits=(Limit("leg_mm", 0, 50, "mm"),),
)
def fillet_area(leg_mm: float) -> float:
    """Section of a flat fillet with two legs of that length. [mm2]"""
    return leg_mm**2 / 2


@formula(
    "joint.tee-fillet",
    text="T/4, at most 3/8 in",
    gives="leg of the fillet that reinforces a groove weld in a T or corner joint [mm]",
    source="AWS D1.1/D1.1M:2015 Figs. 3.2 and 3.3, note g (seen)",
    limits=(_T,),
)
def tee_fillet(thickness_mm: float) -> float:
    """Leg of the fillet on top of a T joint's groove weld. [mm] Check: 1/2 in gives 1/8, from 1-1/2 in up 3/8."""
    return min(thickness_mm / 4, 9.525)


@formula(
    "joint.metal",
    text="m/L = rho A",
    gives="weld metal for each metre [kg/m]",
    source="geometry (derived); density from table metals",
    limits=(Limit("area_mm2", 0, 10000, "mm2"),),
)
def metal_per_metre(area_mm2: float, metal: str) -> Figure:
    """Weld metal for each metre of weld, its section given; spread is the density's. [kg/m]

    Check: 93.74 mm2 of steel: 0.736 kg/m.
    """
    d = property_of(metal, "density")
    inputs = (("area_mm2", f"{area_mm2:.2f}"), ("density [kg/m3]", f"{d.value:g}"))
    scale = area_mm2 * 1e-6
    return Figure(
        d.value * scale, d.low * scale, d.high * scale, "kg/m", "joint.metal", Basis.STANDARD, d.source, inputs
    )


def deposit(process: str) -> Figure:
    """Section that one pass of a process leaves, with its spread [mm2]. KeyError for a process not in the table."""
    for row in table("deposit_per_pass").rows:
        if row["process"] == process:
            v, low, high = (float(row[k]) for k in ("value_mm2", "low_mm2", "high_mm2"))
            source = table("deposit_per_pass").source
            return Figure(v, low, high, "mm2", "deposit_per_pass", Basis.DEFAULT, source, (("process", row["words"]),))
    raise KeyError(process)


@formula(
    "joint.passes",
    text="area over what one pass leaves, rounded up; two at least in a joint welded from both faces",
    gives="passes [-]",
    source="definition; what a pass leaves from table deposit_per_pass: common practice, no source",
    limits=(Limit("area_mm2", 0, 10000, "mm2"),),
)
def passes(area_mm2: float, one: Figure, least: int = 1) -> Figure:
    """Passes that fill a section: area [mm2], what one pass leaves with its spread, and the fewest there can be."""

    def count(each: float) -> float:
        return float(max(least, math.ceil(area_mm2 / each - 1e-9)))

    inputs = (("area_mm2", f"{area_mm2:.1f}"), ("one pass [mm2]", f"{one.value:g} ({one.low:g} to {one.high:g})"))
    return Figure(count(one.value), count(one.high), count(one.low), "", "joint.passes", one.basis, one.source, inputs)
