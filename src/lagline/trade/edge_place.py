"""Where a guided cut edge comes out against its line, and which of line, guide, tilt, kerf, cup, bevel and wear
decides: the geometry of the cut carried through the law of propagation."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from lagline.records.figure import Basis, Figure
from lagline.trade.register import Limit, formula
from lagline.trade.tolerance import method_tolerance
from lagline.trade.uncertainty import Propagated, Source, propagate

COMMON = "common practice, no source"
NAMES = (
    "mark-out line",
    "guide",
    "tilt of the hand",
    "kerf spread",
    "cup radius spread",
    "bevel of the face",
    "wear of the tip",
)


@dataclass(frozen=True, slots=True)
class EdgeInputs:
    """What places one guided edge; lengths mm, angles degrees. Each pair is (expected value, plus or minus).

    ``wear_mm`` is how much wider the kerf has grown since it was measured. Without ``cup_radius_mm`` no guide leads.
    """

    line_mm: float
    guide_mm: float
    height_mm: float
    tilt_deg: float
    kerf_mm: tuple[float, float]
    cup_radius_mm: tuple[float, float] | None
    bevel_deg: tuple[float, float]
    thickness_mm: float
    wear_mm: tuple[float, float] = (0.0, 0.0)


def edge_error_mm(inputs: EdgeInputs, x: Sequence[float]) -> float:
    """How far the far edge of the kept face lies from its line, waste side positive. [mm]

    ``x``: error of the line, of the guide [mm], tilt [deg], kerf, cup radius [mm], bevel [deg], wear [mm]. The guide
    was set for the expected kerf and radius, the bevel expected was allowed for.
    """
    line, guide, tilt, kerf, radius, bevel, wear = x
    set_off = (inputs.cup_radius_mm[0] if inputs.cup_radius_mm else 0.0) - inputs.kerf_mm[0] / 2
    centre = guide + radius + inputs.height_mm * math.tan(math.radians(tilt))
    face = inputs.thickness_mm * (math.tan(math.radians(bevel)) - math.tan(math.radians(inputs.bevel_deg[0])))
    return line + centre - (kerf + wear) / 2 - set_off + face


@formula(
    "tolerance.edge-place",
    text="e = line + guide + R + h tan(tilt) - (k + wear)/2 - (R0 - k0/2) + t (tan b - tan b0), spread by the law of "
    "propagation",
    gives="where one cut edge comes out, with its plus or minus [mm]",
    source=f"geometry (derived); contributions from table hand_tolerance and the setting: {COMMON}",
    limits=(
        Limit("tilt_deg", 0, 15, "deg"),
        Limit("bevel_deg", 0, 30, "deg"),
        Limit("thickness_mm", 0.5, 50, "mm", "plates a hand torch cuts"),
    ),
)
def edge_place(inputs: EdgeInputs) -> Propagated:
    """Place of one cut edge against its line, waste side positive. [mm]

    Each plus or minus is taken as a multiple of its standard uncertainty, the same for all, so ``u`` of the result is
    a plus or minus of the same kind; where everything is small it equals ``tolerance.stack``.
    """
    radius = inputs.cup_radius_mm or (0.0, 0.0)
    given = (
        (0.0, inputs.line_mm),
        (0.0, inputs.guide_mm),
        (0.0, inputs.tilt_deg),
        inputs.kerf_mm,
        radius,
        inputs.bevel_deg,
        inputs.wear_mm,
    )
    sources = tuple(Source(n, value, abs(pm)) for n, (value, pm) in zip(NAMES, given, strict=True))
    return propagate(lambda x: edge_error_mm(inputs, x), sources)


def edge_figure(
    guide: str,
    kerf_mm: Figure,
    cup_radius_mm: Figure | None,
    bevel_deg: Figure,
    thickness_mm: float,
    height_mm: float,
    *,
    line: str = "scriber",
    tilt_deg: float = 1.0,
    wear_mm: tuple[float, float] = (0.0, 0.0),
) -> Figure:
    """Plus or minus on one edge [mm], with every contribution named, largest first.

    Parameters as in ``tolerance.edge_contributions``; ``wear_mm`` how much wider the kerf has grown since it was
    measured, and its plus or minus. The low end is the largest single contribution, the high end their plain sum.
    """
    placed = edge_place(
        EdgeInputs(
            method_tolerance("line", line).value,
            method_tolerance("guide", guide).value,
            height_mm,
            tilt_deg,
            (kerf_mm.value, kerf_mm.half_spread),
            (cup_radius_mm.value, cup_radius_mm.half_spread) if cup_radius_mm is not None else None,
            (bevel_deg.value, bevel_deg.half_spread),
            thickness_mm,
            wear_mm,
        )
    )
    parts = sorted(placed.components, key=lambda c: -abs(c.u))
    sizes = [abs(c.u) for c in parts]
    # a known growth of the kerf moves the edge one way; nothing has allowed for it, so it is added whole
    moved = abs(placed.value)
    return Figure(
        placed.u + moved,
        sizes[0] + moved,
        math.fsum(sizes) + moved,
        "mm",
        "tolerance.edge-place",
        Basis.DEFAULT,
        "law of propagation over the contributions named",
        tuple((f"{c.name} [mm]", f"{abs(c.u):.2f}") for c in parts if c.u),
    )
