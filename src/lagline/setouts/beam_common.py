"""What set-outs of beams share: cut rows, guide and corner numbers, edge rules, an elevation's arcs."""

from __future__ import annotations

import math
from collections.abc import Sequence

from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Point
from lagline.records.plan import Setting
from lagline.records.setout import Column, Number, Table, exact
from lagline.setouts.ask import Faults, Given
from lagline.setouts.bevel_able import NOT, ROUGH, Pass, one_pass
from lagline.trade import structural

GEOMETRY = "geometry (derived)"
SHEET_MOST_MM = 900.0


def cut_passes(given: Given, cuts: Sequence[tuple[str, float, float]]) -> tuple[Pass, ...]:
    """Return how the bench makes each cut: name, tilt [deg], thickness square to the face [mm]."""
    assert given.bench is not None
    return tuple(one_pass(n, given.bench, tilt, t / math.cos(math.radians(tilt))) for n, tilt, t in cuts)


def cuts_table(cuts: Sequence[Pass]) -> Table:
    """Cuts in order, as this bench makes them."""
    columns = (
        Column("cut", "cut"), Column("tilt_deg", "tilt", "deg"), Column("through_mm", "through", "mm"),
        Column("current_a", "current", "A"), Column("pace_mm_s", "pace", "mm/s"),
        Column("able", "this set"),
    )  # fmt: skip
    rows = tuple(
        (c.name, round(c.tilt_deg, 3), round(c.through_mm, 3), c.setting.current_a,
         round(c.setting.pace_mm_s.value, 3), c.able)
        for c in cuts
    )  # fmt: skip
    return Table("cuts", "Cuts, in order", columns, rows, "Start every one from an edge or a drilled hole.")


def able_findings(cuts: Sequence[Pass], given: Given, where: str) -> list[Finding]:
    """Say which cut is beyond this set."""
    out = []
    for c in dict.fromkeys(cuts):
        through = f"{c.name}: {given.show(c.through_mm)} through"
        at = f"at {c.setting.current_a:g} A"
        if c.able == NOT:
            ways = "the bench's own choice of current; a bigger set; a saw; oxy-fuel if it is steel"
            out.append(Finding("beam-beyond-set", Severity.NO_GO, where, f"{through} is beyond this set {at}", ways))
        elif c.able == ROUGH:
            ways = "a bigger set or a saw for a clean edge; else allow for grinding"
            out.append(Finding("beam-rough", Severity.CAUTION, where, f"{through} is only severed {at}", ways))
    return out


def of(key: str, words: str, value: float, formula: str, *, main: bool = False, source: str = GEOMETRY) -> Number:
    """A length of what was asked [mm]."""
    return Number(key, words, exact(value, "mm", formula, source), main)


def guide_numbers(s: Setting) -> list[Number]:
    """Guide distances on the square cut of the web or leg."""
    return [
        Number("offset_kept_mm", "line to guide, guide on the kept part", s.offset_kept_mm, main=True),
        Number("offset_drop_mm", "line to guide, guide on the drop", s.offset_drop_mm),
    ]


def corner_faults(radius_mm: float, s: Setting, given: Given, faults: Faults) -> None:
    """Refuse a re-entrant radius that the torch cannot follow."""
    least = s.kerf_mm.value / 2
    if radius_mm < least:
        allowed = f"{given.show(least)} or more with the torch; or drill a {given.show(2 * radius_mm)} hole first"
        allowed = allowed if radius_mm > 0.5 else f"{given.show(least)} or more; or a drilled hole of 3/4 in"
        message = f"a corner of {given.show(radius_mm)} is tighter than half the kerf: the torch cannot make it"
        faults.add("radius", message, allowed)


def corner_numbers(radius_mm: float, s: Setting) -> list[Number]:
    """Radius of the corner, and of a template's corner that makes it."""
    r, k = s.cup_radius_mm.value, s.kerf_mm.value
    kept = structural.template_corner(radius_mm, r, k, kept=True)
    drop = structural.template_corner(radius_mm, r, k, kept=False)
    out = [
        of("radius_mm", "re-entrant radius", radius_mm, "beam.template-corner", main=True),
        of("template_kept_mm", "hollow corner of a template on the kept part", kept, "beam.template-corner"),
        of("drill_mm", "or drill a hole of, tangent to both lines", 2 * radius_mm, "beam.template-corner"),
    ]
    if drop > 0:
        words = "round corner of a template on the drop"
        out.append(of("template_drop_mm", words, drop, "beam.template-corner"))
    return out


def corner_findings(radius_mm: float, key: str, given: Given, where: str) -> list[Finding]:
    """Say when a re-entrant radius is under what a rule wants: a key of the rules table."""
    rule = structural.rule(key)
    if radius_mm >= rule.value - 1e-6:
        return []
    message = f"a radius of {given.show(radius_mm)} is under the rule: {rule.words} {given.show(rule.value)}"
    return [Finding("corner-small", Severity.NO_GO, where, message, f"{given.show(rule.value)} or more; {rule.source}")]


def rules_table(keys: Sequence[str], given: Given) -> Table:
    """The edge rules that go with the work, each with its publication."""
    rows: list[tuple[float | str, ...]] = []
    for key in keys:
        r = structural.rule(key)
        value = f"{r.value:g}"
        if key in ("area_loss",):
            value = f"{100 * r.value:g} %"
        elif key in ("notch_ground", "reentrant_radius", "cope_radius", "cope_drill", "access_radius", "heavy_flange"):
            value = given.show(r.value)
        elif key == "roughness":
            value = f"{r.value:g} uin ({r.value * 0.0254:.0f} um)"
        elif key == "fairing":
            value = f"1 in {r.value:g}"
        elif key == "hand_guided":
            value = "accepted where no machine is feasible"
        rows.append((r.words, value, r.source))
    deep = structural.rule("notch_ground").value
    fair = given.show(structural.fair_length(deep))
    rows.append((f"fairing of a notch {given.show(deep)} deep, on each side of it", fair, "1 in 10 (derived)"))
    quarter = 6.35
    wide = given.show(structural.ground_width(quarter))
    rows.append(
        (f"narrowest metal in which a notch {given.show(quarter)} deep may be ground out", wide, "2 % (derived)")
    )
    columns = (Column("rule", "rule"), Column("figure", "figure"), Column("source", "publication"))
    return Table("rules", "Edges afterwards", columns, tuple(rows), "Local codes and the engineer decide.")


CUT_EDGE_RULES = ("notch_ground", "area_loss", "fairing", "roughness")
EDGE_RULES = (*CUT_EDGE_RULES, "hand_guided")


def arc(centre: Point, radius: float, start_deg: float, end_deg: float, steps: int = 16) -> tuple[Point, ...]:
    """Points along an arc, both ends in it."""
    out = []
    for i in range(steps + 1):
        a = math.radians(start_deg + (end_deg - start_deg) * i / steps)
        out.append((centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a)))
    return tuple(out)


def lines_table(rows: Sequence[tuple[str, str, str, float]]) -> Table:
    """Mark-out lines carried round: face, line, where it is measured from, distance [mm]."""
    columns = (
        Column("face", "face"), Column("line", "line"), Column("from", "measured from"),
        Column("distance_mm", "distance", "mm"),
    )  # fmt: skip
    return Table("lines", "Mark-out lines, carried round", columns, tuple((*r[:3], round(r[3], 3)) for r in rows))


HOT = Finding(
    "beam-falls", Severity.CAUTION, "beam",
    "a cut-off piece of beam is heavy and hot, and the beam may roll or spring when it parts",
    "block and clamp both sides, nobody under it, fire watch by your site's rules",
)  # fmt: skip
