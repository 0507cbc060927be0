"""How near to size a step will come out, and how near anyone should promise."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from lagline.planning.wear_plan import dryer_of, past_life, use_of
from lagline.records.figure import Figure
from lagline.records.geometry import Arc, Segment
from lagline.records.job import EdgeUse
from lagline.records.kit import Kit
from lagline.records.plan import ArmGuide, Blank, Layout, Method, Setting, Step, StraightGuide
from lagline.shapes.along import chain_length
from lagline.trade.edge_place import edge_figure
from lagline.trade.quality import size_tolerance
from lagline.trade.register import formula
from lagline.trade.tolerance import Contribution, method_tolerance, stack
from lagline.trade.wear import Use, bore_growth, nozzles

DRILL_MM = 0.5


def hand_fit(step: Step, setting: Setting, kit: Kit, tip_used: float = 0.0, part: int = -1) -> Figure:
    """Plus or minus a step holds [mm] on a placed part, by then that share of a tip's life used up (0 to 1).

    A drilled hole: the place of its centre; the drill makes the size.
    """
    if step.method is Method.DRILL:
        line = method_tolerance("line", "scriber")
        return stack(
            (
                Contribution("mark-out line", line.value, line.source),
                Contribution("punch mark and wander of the drill", DRILL_MM, "common practice, no source"),
            )
        )
    good = (step.square_side == step.kept_side) != (part in step.across)
    bevel = setting.bevel_good_deg if good else setting.bevel_bad_deg
    height = (kit.guides.height_mm if step.guide is not None else 0.0) + setting.standoff_mm.value
    grown = bore_growth(setting.kerf_mm.value, tip_used)
    return edge_figure(
        method_tolerance("guide", step.method.value),
        _offset(step, setting),
        bevel,
        setting.stock.thickness_mm,
        height,
        wear_mm=(grown / 2, grown / 2),
    )


def _offset(step: Step, setting: Setting) -> Figure:
    if step.guide is None:
        k = setting.kerf_mm
        return replace(k, value=k.value / 2, low=k.low / 2, high=k.high / 2)
    drop = isinstance(step.guide, StraightGuide) and step.guide.side == "drop"
    return setting.offset_mm("drop" if drop else "kept")


@formula(
    "fit.on-size",
    text="the stack; twice the stack on the diameter of a circle about one pivot; value and high end no less than "
    "ISO 9013 class 2 where its table has one",
    gives="plus or minus to expect on a size [mm]",
    source="the trade's figures are for a size as it comes off, for the circle arm on radius: common practice, no "
    "source; ISO 9013:2017 class 2 (seen), written for machines, as a ceiling on promises",
)
def size_fit(step: Step, setting: Setting, kit: Kit, size_mm: float, tip_used: float = 0.0, part: int = -1) -> Figure:
    """Plus or minus to promise on a size [mm] that a step's edge bounds.

    The low end is what luck gives and is not lifted to ISO 9013; the inputs say what the standard gives.
    """
    hand = hand_fit(step, setting, kit, tip_used, part)
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
        hand.basis,
        f"{hand.source}; the rest: common practice, no source; ISO 9013:2017 class 2 as a ceiling on promises",
        (
            ("size mm", f"{size_mm:.0f}"),
            ("stacked mm", f"{value:.2f} ({low:.2f} to {high:.2f})"),
            ("ISO 9013:2017 class 2", said),
            *hand.inputs,
        ),
    )


def tip_used(kit: Kit, tips: tuple[str, ...], steps: tuple[Step, ...], arcs_s: tuple[float, ...]) -> tuple[float, ...]:
    """Share of its nozzle's life that each set-up finds used by this job before it, nozzles begun new and changed as
    :mod:`lagline.planning.wear_plan` has it (0 to 1).

    Parameters: kit, the tip of each set-up, the set-ups in order, their arc times [s].
    """
    per_set, dryer = kit.bench.starts_per_tip_set, dryer_of(kit)
    spent: dict[str, Use] = {}
    out = []
    for tip, step, arc_s in zip(tips, steps, arcs_s, strict=True):
        before, asked = spent.get(tip, Use()), use_of(step, arc_s)
        after = before.plus(asked.edge_starts, asked.pierces, asked.arc_s)
        if before.starts and asked.starts and past_life(nozzles(after, per_set, dryer).value):
            before, after = Use(), asked
        out.append(min(1.0, nozzles(before, per_set, dryer).value))
        spent[tip] = after
    return tuple(out)


def bad_side_rule(blanks: tuple[Blank, ...], settings: tuple[Setting, ...]) -> Callable[[int, str], bool]:
    """Return which edge of which part (index, edge name) may lie on the worse side of a kerf shared with a neighbour.

    That face stands out at the bottom by t tan(bevel): the edge must be free or for welding and ask for no bevel, and
    the part's tolerance, where it has one, must hold the most of it.
    """
    worst = {
        s.stock.key: s.stock.thickness_mm * math.tan(math.radians(s.bevel_bad_deg.high))
        for s in settings
        if s.bevel_deg == 0
    }

    def rule(index: int, name: str) -> bool:
        part = blanks[index].part
        edge = next((e for e in part.edges if e.name == name.rstrip("+")), None)
        if edge is None or edge.use not in (EdgeUse.FREE, EdgeUse.WELD) or edge.bevel_deg:
            return False
        return not part.tolerance_mm or part.tolerance_mm >= worst.get(part.stock.key, math.inf)

    return rule


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


def size_of(step: Step, blanks: tuple[Blank, ...], layout: Layout, part: int) -> float:
    """The size a step's edge bounds [mm]: the diameter of a circle, else the longest side of the part, of a plate's
    trimmed edge its length."""
    circle = circle_of(step.line)
    if circle is not None:
        return 2 * circle.radius
    if part < 0:
        return chain_length(step.line)
    left, bottom, right, top = blanks[layout.placed[part].part].cut.bounds()
    return max(right - left, top - bottom)
