"""How near to size a step will come out, and how near anyone should promise."""

from __future__ import annotations

import math
from dataclasses import replace

from lagline.records.figure import Basis, Figure
from lagline.records.geometry import Arc, Segment
from lagline.records.kit import Kit
from lagline.records.plan import ArmGuide, Blank, Layout, Method, Setting, Step
from lagline.trade.quality import size_tolerance
from lagline.trade.register import formula
from lagline.trade.tolerance import Contribution, edge_contributions, method_tolerance, stack

DRILL_MM = 0.5


@formula(
    "fit.stack",
    text="sqrt(sum c^2) of guide, mark-out, tilt, kerf / 2, bevel, cup; low end: the largest of them, the guide at its "
    "best; high end: their sum, the guide at its worst",
    gives="plus or minus that a way of leading the torch holds [mm]",
    source="table hand_tolerance: common practice, no source; joined as in tolerance.stack",
)
def hand_fit(step: Step, setting: Setting, kit: Kit) -> Figure:
    """Plus or minus a step holds [mm]. A drilled hole: the place of its centre; the drill makes the size."""
    if step.method is Method.DRILL:
        line = method_tolerance("line", "scriber")
        return stack(
            (
                Contribution("mark-out line", line.value, line.source),
                Contribution("punch mark and wander of the drill", DRILL_MM, "common practice, no source"),
            )
        )
    square = step.square_side == step.kept_side
    height = (kit.guides.height_mm if step.guide is not None else 0.0) + setting.standoff_mm.value
    method = method_tolerance("guide", step.method.value)
    parts = edge_contributions(
        step.method.value,
        setting.kerf_mm,
        setting.cup_radius_mm if step.guide is not None else None,
        setting.bevel_good_deg if square else setting.bevel_bad_deg,
        setting.stock.thickness_mm,
        height,
    )
    joined, best, worst = (
        stack(tuple(replace(c, plus_minus_mm=mm) if c.name == "guide" else c for c in parts))
        for mm in (method.value, method.low, method.high)
    )
    return replace(joined, low=best.low, high=worst.high, formula="fit.stack")


@formula(
    "fit.on-size",
    text="the stack; twice the stack on the diameter of a circle about one pivot; value and high end no less than "
    "ISO 9013 class 2 where its table has one",
    gives="plus or minus to expect on a size [mm]",
    source="the trade's figures are for a size as it comes off, for the circle arm on radius: common practice, no "
    "source; ISO 9013:2017 class 2 (seen), written for machines, as a ceiling on promises",
)
def size_fit(step: Step, setting: Setting, kit: Kit, size_mm: float) -> Figure:
    """Plus or minus to promise on a size [mm] that a step's edge bounds.

    The low end is what luck gives and is not lifted to ISO 9013; the inputs say what the standard gives.
    """
    hand = hand_fit(step, setting, kit)
    if step.method is Method.DRILL:
        return hand
    times = 2.0 if isinstance(step.guide, ArmGuide) and circle_of(step.line) is not None else 1.0
    value, low, high = times * hand.value, times * hand.low, times * hand.high
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
            *hand.inputs,
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
