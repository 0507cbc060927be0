"""Where a guided cut edge comes out against its line, and which of line, guide, tilt, offset, bevel and wear
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
NAMES = ("mark-out line", "guide", "tilt of the hand", "guide offset (cup and kerf)", "bevel of the face", "wear")
TILT_DEG = 1.0  # what a careful hand leans with the cup against a guide; common practice, no source


@dataclass(frozen=True, slots=True)
class EdgeInputs:
    """What places one guided edge; lengths mm, angles degrees. Each pair is (expected value, plus or minus).

    ``offset_mm`` is from the guide to the edge, cup and kerf together; half the kerf where no guide leads.
    ``wear_mm`` is how much wider the kerf has grown since it was measured.
    """

    line_mm: float
    guide_mm: float
    height_mm: float
    tilt_deg: float
    offset_mm: tuple[float, float]
    bevel_deg: tuple[float, float]
    thickness_mm: float
    wear_mm: tuple[float, float] = (0.0, 0.0)


def edge_error_mm(inputs: EdgeInputs, x: Sequence[float]) -> float:
    """How far the far edge of the kept face lies from its line, waste side positive. [mm]

    ``x``: error of the line, of the guide [mm], tilt [deg], offset [mm], bevel [deg], wear [mm]. The guide was set for
    the expected offset, the bevel expected was allowed for.
    """
    line, guide, tilt, offset, bevel, wear = x
    lean = inputs.height_mm * math.tan(math.radians(tilt))
    face = inputs.thickness_mm * (math.tan(math.radians(bevel)) - math.tan(math.radians(inputs.bevel_deg[0])))
    return line + guide + lean + offset - inputs.offset_mm[0] - wear / 2 + face


@formula(
    "tolerance.edge-place",
    text="e = line + guide + h tan(tilt) + (o - o0) - wear/2 + t (tan b - tan b0), o from guide to edge, spread by the "
    "law of propagation",
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
    a plus or minus of the same kind; where everything is small it is the root sum of squares.
    """
    given = (
        (0.0, inputs.line_mm),
        (0.0, inputs.guide_mm),
        (0.0, inputs.tilt_deg),
        inputs.offset_mm,
        inputs.bevel_deg,
        inputs.wear_mm,
    )
    sources = tuple(Source(n, value, abs(pm)) for n, (value, pm) in zip(NAMES, given, strict=True))
    return propagate(lambda x: edge_error_mm(inputs, x), sources)


def edge_figure(
    guide: Figure,
    offset_mm: Figure,
    bevel_deg: Figure,
    thickness_mm: float,
    height_mm: float,
    *,
    line: str = "scriber",
    wear_mm: tuple[float, float] = (0.0, 0.0),
) -> Figure:
    """Plus or minus on one edge [mm], with every contribution named, largest first.

    Parameters: what the way of leading the torch holds (``tolerance.method``), guide to edge [mm] (half the kerf where
    no guide leads), bevel of the kept face [deg], plate [mm], height of the guide's rub plus standoff [mm], kind of
    mark-out line, how much wider the kerf has grown since it was measured and its plus or minus [mm].
    The low end is the largest single contribution with the guide at its best, the high end the plain sum of all with
    the guide at its worst. A known growth of the kerf moves the edge one way and nothing has allowed for it, so it is
    added whole.
    """

    def parts(guide_mm: float) -> tuple[Propagated, list[float]]:
        placed = edge_place(
            EdgeInputs(
                method_tolerance("line", line).value,
                guide_mm,
                height_mm,
                TILT_DEG,
                (offset_mm.value, offset_mm.half_spread),
                (bevel_deg.value, bevel_deg.half_spread),
                thickness_mm,
                wear_mm,
            )
        )
        return placed, [abs(c.u) for c in placed.components]

    placed, _ = parts(guide.value)
    _, best = parts(guide.low)
    _, worst = parts(guide.high)
    moved = abs(placed.value)
    named = sorted(placed.components, key=lambda c: -abs(c.u))
    return Figure(
        placed.u + moved,
        max(best),
        math.fsum(worst) + moved,
        "mm",
        "tolerance.edge-place",
        offset_mm.basis if offset_mm.basis is Basis.COUPON else Basis.DEFAULT,
        f"law of propagation over the contributions named; offset: {offset_mm.source}",
        (
            *((f"{c.name} [mm]", f"{abs(c.u):.2f}") for c in named if c.u),
            *((("kerf grown by wear moves the edge [mm]", f"{moved:.2f}"),) if moved > 0.005 else ()),
        ),
    )
