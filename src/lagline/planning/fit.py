"""How near to size a step will come out, and how near anyone should promise."""

from __future__ import annotations

import math

from lagline.records.figure import Basis, Figure
from lagline.records.geometry import Arc, Segment
from lagline.records.kit import Kit
from lagline.records.plan import ArmGuide, Blank, Layout, Method, Setting, Step
from lagline.trade.quality import size_tolerance
from lagline.trade.register import formula
from lagline.trade.tolerance import edge_contributions, method_tolerance, on_size, stack


def edge_fit(step: Step, setting: Setting, kit: Kit) -> Figure:
    """Plus or minus on the place of the edge a step cuts [mm]: mark-out, guide, tilt, kerf, bevel and cup, stacked.

    A drilled hole: the place of its centre by the mark-out line alone; the drill makes the size.
    """
    if step.method is Method.DRILL:
        return method_tolerance("line", "scriber")
    square = step.square_side == step.kept_side
    height = (kit.guides.height_mm if step.guide is not None else 0.0) + setting.standoff_mm.value
    return stack(
        edge_contributions(
            step.method.value,
            setting.kerf_mm,
            setting.cup_radius_mm if step.guide is not None else None,
            setting.bevel_good_deg if square else setting.bevel_bad_deg,
            setting.stock.thickness_mm,
            height,
        )
    )


@formula(
    "fit.on-size",
    text="between two edges sqrt(e1^2 + e2^2); a circle about one pivot 2 e; value and high end no less than ISO 9013 "
    "class 2 where its table has one",
    gives="plus or minus to expect on a size [mm]",
    source="independent edges (derived); ISO 9013:2017 class 2 (seen), written for machines, as a ceiling on promises",
)
def size_fit(step: Step, setting: Setting, kit: Kit, size_mm: float) -> Figure:
    """Plus or minus to promise on a size [mm] that a step's edge bounds, the other edge cut the same way.

    The low end is what luck gives and is not lifted to ISO 9013; the inputs say what the standard gives.
    """
    edge = edge_fit(step, setting, kit)
    if step.method is Method.DRILL:
        return edge
    if isinstance(step.guide, ArmGuide) and circle_of(step.line) is not None:
        value, low, high = 2 * edge.value, 2 * edge.low, 2 * edge.high
    else:
        both = on_size(edge, edge)
        value, low, high = both.value, both.low, both.high
    iso = size_tolerance(setting.stock.thickness_mm, size_mm)
    said = f"{iso:g} mm" if iso is not None else "no value for this size and thickness"
    floor = iso or 0.0
    return Figure(
        max(value, floor),
        low,
        max(high, floor),
        "mm",
        "fit.on-size",
        Basis.DEFAULT,
        "contributions: common practice, no source; ISO 9013:2017 class 2 as a ceiling on promises",
        (
            ("size mm", f"{size_mm:.0f}"),
            ("stacked mm", f"{value:.2f} ({low:.2f} to {high:.2f})"),
            ("ISO 9013:2017 class 2", said),
            *edge.inputs,
        ),
    )


def circle_of(line: tuple[Segment, ...]) -> Arc | None:
    """Return the circle a line goes round, None when it is not one."""
    first = line[0]
    if not isinstance(first, Arc):
        return None
    whole = 0.0
    for s in line:
        if not isinstance(s, Arc) or math.dist(s.centre, first.centre) > 1e-3 or abs(s.radius - first.radius) > 1e-3:
            return None
        whole += abs(s.sweep)
    return first if whole > 2 * math.pi - 1e-3 else None


def size_of(step: Step, blanks: tuple[Blank, ...], layout: Layout) -> float:
    """The size a step's edge bounds [mm]: the diameter of a circle, else the longest side of the part."""
    circle = circle_of(step.line)
    if circle is not None:
        return 2 * circle.radius
    left, bottom, right, top = blanks[layout.placed[step.placed].part].cut.bounds()
    return max(right - left, top - bottom)
