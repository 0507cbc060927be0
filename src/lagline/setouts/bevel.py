"""One bevelled edge: tilt, cut path, mark-out line, guide, and what the bench does with it."""

from __future__ import annotations

import math

from lagline.records.finding import sort_findings
from lagline.records.setout import Column, Number, SetOut, Table, exact
from lagline.setouts.ask import (
    Ask,
    Faults,
    Field,
    Given,
    angle,
    choice,
    count,
    length,
    maybe_length,
    number,
    shown_given,
)
from lagline.setouts.bevel_able import Pass, one_pass
from lagline.setouts.bevel_lean import FIELDS, guided, lean_numbers
from lagline.setouts.bevel_picture import section
from lagline.setouts.bevel_words import findings, own_taper, steps
from lagline.trade import bevel, bevel_edge
from lagline.trade.bevel_edge import Prep

FLATTEST_DEG, STEEPEST_DEG = 5.0, 60.0
GEOMETRY = "geometry (derived)"
SQUARE_FIRST = "square-first"
USUAL = "usual"

_FIELDS: tuple[Field, ...] = (
    length("thickness", "plate thickness", least=0.5, most=150),
    angle("angle", "bevel off square, 15 to 45 usual", least=0, most=90),
    maybe_length("land", "land (root face) left square", 0.0),
    choice("land_at", "where the land is, torch side up; both: a bevel from either face", "bottom", "top", "both"),
    maybe_length("depth", "both: depth of the first bevel; empty takes half of what the land leaves"),
    number("second_angle", "both: bevel from the second face; empty takes the first's", "deg", most=90),
    choice(
        "land_by",
        "how the land is made: ground after one cut, or the edge cut square first; usual: a bevel from one face is "
        "ground, from both cut square first",
        USUAL,
        "grind",
        SQUARE_FIRST,
    ),
    maybe_length("finished_length", "length wanted from the datum end; empty leaves the mark-out out", least=0.1),
    choice("measured_at", "where that length is measured", "root", "top", "bottom"),
    count("ends", "how many ends of that length have this bevel", 1, most=2),
    *FIELDS,
)


def _edge(given: Given, faults: Faults) -> Prep | None:
    t, land, a = given["thickness"], given["land"], given["angle"]
    second, at, depth = given.get("second_angle"), given.word("land_at"), given.get("depth")
    for name, value in (("angle", a), ("second_angle", second)):
        if value is not None and not FLATTEST_DEG <= value <= STEEPEST_DEG:
            better = "cut it square along a guide (guide straight)" if value < FLATTEST_DEG else "cut square and grind"
            allowed = f"{FLATTEST_DEG:g} to {STEEPEST_DEG:g} deg off square, 15 to 45 usual; else {better}"
            faults.add(name, f"{value:g} deg is no bevel to cut by hand", allowed)
    if land >= t - 1e-9:
        faults.add("land", f"a land of {given.show(land)} leaves no bevel on {given.show(t)}", f"under {given.show(t)}")
    if at != "both":
        for name, value in (("depth", depth), ("second_angle", second)):
            faults.unless(value is None, name, "only an edge bevelled from both faces has it", "land at both, or none")
    elif depth is not None and not 0 < depth < t - land:
        rest = given.show(max(t - land, 0))
        faults.add("depth", f"{given.show(depth)} leaves nothing for the second bevel", f"above 0, under {rest}")
    if at == "top" and given.word("land_by") == SQUARE_FIRST and land > 0:
        faults.add(
            "land_by",
            "with the land on top a torch above has no metal under its tip once the edge is square",
            "turn the plate over and give the land at the bottom; or grind the land",
        )
    if faults.found:
        return None
    return bevel_edge.prep(t, land, at, a, depth, second)


def is_square_first(given: Given, both_faces: bool) -> bool:
    """Whether the edge is cut square before it is bevelled.

    Bevelled from both faces it is, when nothing else is asked: else the first bevel goes through the whole plate.
    """
    by = given.word("land_by")
    return by == SQUARE_FIRST or (by == USUAL and both_faces)


def passes(given: Given, edge: Prep, square_first: bool) -> tuple[Pass, ...]:
    """Return the cuts that make the edge, in order, as this bench cuts them."""
    bench = given.bench
    assert bench is not None
    cos = math.cos(math.radians(edge.angle_deg))
    cuts = []
    if square_first:
        cuts.append(one_pass("square cut", bench, 0.0, edge.thickness_mm))
    first = (edge.depth_mm if square_first else edge.thickness_mm) / cos
    cuts.append(one_pass("bevel" if edge.land_at != "both" else "first bevel", bench, edge.angle_deg, first))
    if edge.land_at == "both":
        cos2 = math.cos(math.radians(edge.second_deg))
        path = edge.second_mm / cos2 if square_first else bevel_edge.second_path(edge)
        cuts.append(one_pass("second bevel", bench, edge.second_deg, path))
    return tuple(cuts)


def _lines(given: Given, edge: Prep) -> list[tuple[str, float, str]]:
    """Mark-out lines by name: distance from the datum end for a wanted length, and on which face."""
    wanted = given.get("finished_length")
    if wanted is None:
        return []
    ends = given.count("ends")
    at_root = wanted + ends * _root_less(edge, given.word("measured_at"))
    out = [("mark_mm", at_root - ends * bevel_edge.set_in(edge), "mark-out line on the face the torch is on")]
    if edge.land_at == "both":
        tan = math.tan(math.radians(edge.second_deg))
        out.append(("mark_second_mm", at_root - ends * edge.second_mm * tan, "mark-out line on the second face"))
    out.append(("root_line_mm", at_root, "root line: square cut, or what is left when the land is ground"))
    return out


def _root_less(edge: Prep, measured_at: str) -> float:
    """How much longer the part is at its root line than where the length is measured, for one bevelled end [mm]."""
    tan = math.tan(math.radians(edge.angle_deg))
    if measured_at == "top" and edge.land_at != "top":
        return edge.depth_mm * tan
    if measured_at == "bottom" and edge.land_at == "top":
        return edge.depth_mm * tan
    if measured_at == "bottom" and edge.land_at == "both":
        return edge.second_mm * math.tan(math.radians(edge.second_deg))
    return 0.0


def _numbers(given: Given, edge: Prep, cuts: tuple[Pass, ...], square_first: bool) -> list[Number]:
    cut = next(c for c in cuts if c.tilt_deg)
    s = cut.setting
    inputs = (("thickness_mm", f"{edge.thickness_mm:g}"), ("bevel_deg", f"{edge.angle_deg:g}"))

    def of(key: str, words: str, value: float, formula: str, main: bool = False) -> Number:
        return Number(key, words, exact(value, "mm", formula, GEOMETRY, inputs), main)

    tilt = exact(edge.angle_deg, "deg", "bevel.true-thickness", GEOMETRY, inputs)
    inward = bevel_edge.set_in(edge)
    side = "in from" if inward >= 0 else "out from"
    out = [
        Number("tilt_deg", "tilt of the torch off square", tilt, main=True),
        of("through_mm", "metal along the arc", cut.through_mm, "bevel.true-thickness", True),
        of(
            "top_shift_mm", "top line from bottom line, cut through",
            bevel.top_shift(edge.thickness_mm, edge.angle_deg), "bevel.top-shift",
        ),
        of("set_in_mm", f"mark-out line, {side} the root line", abs(inward), "bevel.set-in"),
    ]  # fmt: skip
    if edge.land_mm > 0 and square_first:
        wander = bevel_edge.straightedge_wander(edge.angle_deg)
        out.append(Number("land_wander_mm", "the land comes out more or less by, along a straightedge", wander))
    if edge.land_mm > 0 and not square_first:
        what = bevel_edge.tip_of_two(edge) if edge.second_mm else bevel_edge.feather(edge.land_mm, edge.angle_deg)
        key = "bevel.tip-of-two" if edge.second_mm else "bevel.feather"
        out.append(of("grind_mm", "ground off the feather edge for the land", what, key))
    for key, mm, words in _lines(given, edge):
        whole = exact(mm, "mm", "bevel.set-in", GEOMETRY, (("length_mm", f"{given['finished_length']:g}"), *inputs))
        out.append(Number(key, f"datum to {words}", whole, main=key.startswith("mark")))
    if edge.second_mm:
        tan = math.tan(math.radians(edge.second_deg))
        out.append(of("depth_mm", "depth of the first bevel", edge.depth_mm, "bevel.set-in"))
        out.append(of("second_depth_mm", "depth of the second bevel", edge.second_mm, "bevel.set-in"))
        out.append(of("second_set_in_mm", "second face: line in from root line", edge.second_mm * tan, "bevel.set-in"))
        out.append(
            of("second_through_mm", "second bevel: metal along the arc", cuts[-1].through_mm, "bevel.second-path")
        )
    out.append(Number("pace_mm_s", "pace", s.pace_mm_s, main=True))
    amps = exact(s.current_a, "A", "given" if given.bench and given.bench.current_a else "settings", "the bench")
    out.append(Number("current_a", f"current, tip {s.tip}", amps, main=True))
    name, own = own_taper(given, s)
    out.append(Number("natural_bevel_deg", f"the cut's own bevel on its {name} side, on top of the tilt", own))
    return out


def _table(cuts: tuple[Pass, ...]) -> Table:
    columns = (
        Column("cut", "cut"),
        Column("tilt_deg", "tilt", "deg"),
        Column("through_mm", "through", "mm"),
        Column("current_a", "current", "A"),
        Column("tip", "tip"),
        Column("pace_mm_s", "pace", "mm/s"),
        Column("able", "this set"),
    )
    rows = tuple(
        (c.name, c.tilt_deg, round(c.through_mm, 3), c.setting.current_a, c.setting.tip,
         round(c.setting.pace_mm_s.value, 3), c.able)
        for c in cuts
    )  # fmt: skip
    return Table("cuts", "Cuts, in order", columns, rows, "Start every one from an edge.")


def cut(given: Given) -> SetOut:
    """Return the set-out of one bevelled edge."""
    where = "bevel cut"
    faults = Faults(where)
    edge = _edge(given, faults)
    faults.raise_if_any()
    assert edge is not None
    square_first = is_square_first(given, edge.land_at == "both")
    for key, mm, words in _lines(given, edge):
        faults.unless(mm > 0, "finished_length", f"{key}: nothing is left for the {words}", "a longer part")
    cuts = passes(given, edge, square_first)
    first = next(c for c in cuts if c.tilt_deg)
    over_kept = edge.land_at != "top"
    g = guided(given, first.setting, edge.angle_deg, over_kept, square_first, where, faults)
    faults.raise_if_any()
    numbers = [*_numbers(given, edge, cuts, square_first), *lean_numbers(g)]
    if edge.second_mm and abs(edge.second_deg - edge.angle_deg) > 1e-9:
        second = guided(given, cuts[-1].setting, edge.second_deg, True, square_first, where, faults)
        faults.raise_if_any()
        renamed = {n.key: n for n in lean_numbers(second)}
        for key in ("offset_kept_mm", "offset_drop_mm", "guide_height_mm"):
            if key in renamed:
                numbers.append(Number(f"second_{key}", f"second bevel: {renamed[key].words}", renamed[key].figure))
    what = {"bottom": "land at the bottom", "top": "land on top", "both": "from both faces"}[edge.land_at]
    return SetOut(
        where,
        f"Bevel {edge.angle_deg:g} deg on {given.show(edge.thickness_mm)}, land {given.show(edge.land_mm)}, {what}",
        shown_given(CUT, given),
        tuple(numbers),
        tables=(_table(cuts),),
        steps=steps(given, edge, square_first, g.height_mm, over_kept),
        picture=section(edge, g, given, through=not square_first),
        findings=sort_findings([*g.findings, *findings(given, edge, cuts, where, square_first)]),
    )


CUT = Ask(
    "bevel", "cut", "One bevelled edge: tilt, mark-out line, guide, pace, and whether the set can do it.",
    _FIELDS, cut, thickness="thickness",
    # the gussets of the slipway cradle: 1/2 in, welded with full penetration to the cheek plates
    example=(("thickness", "1/2"), ("angle", "30"), ("land", "1/16"), ("finished_length", "8-1/2")),
)  # fmt: skip

ASKS = (CUT,)
