"""A weld access hole in a web under a flange: least sizes, shape, lines, template."""

from __future__ import annotations

import math

from lagline.records.finding import Finding, Severity, sort_findings
from lagline.records.geometry import Point
from lagline.records.setout import Area, Dim, Drawing, Number, SetOut, Stroke, Text, exact
from lagline.setouts.ask import Ask, Faults, Field, Given, angle, choice, length, maybe_length, shown_given
from lagline.setouts.beam_common import (
    EDGE_RULES,
    HOT,
    SHEET_MOST_MM,
    able_findings,
    arc,
    corner_faults,
    corner_findings,
    corner_numbers,
    cut_passes,
    cuts_table,
    guide_numbers,
    lines_table,
    of,
    rules_table,
)
from lagline.trade import structural
from lagline.trade.structural import rule

_FIELDS: tuple[Field, ...] = (
    length("web", "web thickness", least=2, most=150),
    length("flange_thickness", "flange thickness", least=2, most=150),
    length("depth", "depth of the beam", least=40, most=1500),
    angle("bevel", "bevel of the flange's end, its toe being how far back it reaches", 30.0, least=0, most=60),
    maybe_length("land", "land of that bevel", 0.0),
    maybe_length("hole_length", "length from the toe of the bevel; empty takes the least"),
    maybe_length("hole_height", "height under the flange's inner face; empty takes the least"),
    maybe_length("radius", "radius of the corner", 12.7, most=100),
    angle("run_out", "angle at which the hole runs out at the flange", 45.0, least=15, most=90),
    choice("at", "which flange", "top", "bottom"),
)


def hole_outline(long: float, high: float, radius: float, run_out_deg: float) -> tuple[Point, ...]:
    """The cut line: beam's end at x 0, flange's inner face at y 0, web below; from the end to the flange [mm]."""
    a = math.radians(run_out_deg)
    corner = long - (high / math.tan(a) if run_out_deg < 90 else 0.0)
    start = corner - radius * math.tan(a / 2)
    return ((0.0, -high), *arc((start, radius - high), radius, -90, run_out_deg - 90), (long, 0.0))


def _checked(given: Given, faults: Faults) -> tuple[float, float, float]:
    """Return toe, length from the beam's end, and height of the hole."""
    tw, tf, d, r = given["web"], given["flange_thickness"], given["depth"], given["radius"]
    faults.unless(given["land"] < tf, "land", "the land leaves no bevel on the flange", f"under {given.show(tf)}")
    toe = max(tf - given["land"], 0.0) * math.tan(math.radians(given["bevel"]))
    far, high = given.get("hole_length"), given.get("hole_height")
    long = toe + (structural.access_length(tw) if far is None else far)
    high = structural.access_height(tw) if high is None else high
    clear = d - 2 * tf
    if clear <= 0:
        faults.add("depth", "these sizes make no beam", f"over {given.show(2 * tf)}")
    elif not 0 < high <= clear / 2:
        allowed = f"above 0, up to {given.show(clear / 2)}: half the clear web"
        faults.add("hole_height", f"a hole {given.show(high)} high in {given.show(clear)} of clear web", allowed)
    a = math.radians(given["run_out"])
    if high > 0 and (high / math.sin(a) < r * math.tan(a / 2) - 1e-9):
        most = high / math.sin(a) / math.tan(a / 2)
        allowed = f"up to {given.show(most)}, or a higher hole"
        faults.add("radius", f"a corner of {given.show(r)} does not fit under the flange", allowed)
    start = long - (high / math.tan(a) if given["run_out"] < 90 else 0.0) - r * math.tan(a / 2)
    if start < -1e-9:
        allowed = f"{given.show(long - toe - start)} or more, a steeper run-out, or a smaller radius"
        faults.add("hole_length", "the hole is too short for its corner and its run-out", allowed)
    return toe, long, high


def _findings(given: Given, toe: float, long: float, high: float, where: str) -> list[Finding]:
    tw, show = given["web"], given.show
    out = corner_findings(given["radius"], "access_radius", given, where)
    least = structural.access_length(tw)
    if long - toe < least - 1e-6:
        message = f"{show(long - toe)} from the toe is shorter than the rule: {show(least)}"
        allowed = f"{show(least)}: 1.5 web thicknesses, at least 1-1/2 in; {rule('access_length').source}"
        out.append(Finding("hole-short", Severity.NO_GO, where, message, allowed))
    tall = structural.access_height(tw)
    if high < tall - 1e-6:
        message = f"{show(high)} is lower than the rule: {show(tall)}"
        allowed = f"{show(tall)}: the web thickness, at least 3/4 in, up to 2 in; {rule('access_height').source}"
        out.append(Finding("hole-low", Severity.NO_GO, where, message, allowed))
    heavy = rule("heavy_flange")
    if given["flange_thickness"] > heavy.value + 1e-6:
        message = f"a flange of {show(given['flange_thickness'])} is over 2 in: preheat to 150 F before cutting"
        allowed = f"grind the cut to bright metal, magnetic particle test; {heavy.source}"
        out.append(Finding("hole-heavy", Severity.CAUTION, where, message, allowed))
    return out


def _picture(given: Given, toe: float, long: float, high: float) -> Drawing:
    """The end from the side: flange above with its bevel, hole in the web."""
    tf = given["flange_thickness"]
    line = hole_outline(long, high, given["radius"], given["run_out"])
    reach, deep = long * 1.5, high * 2.6
    land: tuple[Point, ...] = ((0.0, given["land"]),) if given["land"] > 1e-9 else ()
    flange: tuple[Point, ...] = ((0.0, 0.0), *land, (toe, tf), (reach, tf), (reach, 0.0))
    areas = (
        Area("metal", flange),
        Area("metal", (*line, (reach, 0.0), (reach, -deep), (0.0, -deep))),
        Area("waste", (*line, (0.0, 0.0))),
    )
    u = reach / 300 * 10
    dims = [
        Dim((0.0, tf), (long, tf), given.show(long), 5.0 * u),
        Dim((0.0, -high), (0.0, 0.0), given.show(high), 2.5 * u),
    ]
    if toe > 1e-6:
        dims.append(Dim((toe, tf), (long, tf), given.show(long - toe), 2.0 * u))
    texts = [Text((reach - 3.2 * u, 2 * u - deep), "web", 0.0, 3.0)]
    if tf > 2.2 * u:
        texts.append(Text((reach - 3.2 * u, tf / 2), "flange", 0.0, 3.0))
    return Drawing("Weld access hole from the side", areas, (Stroke("cut", line),), tuple(texts), tuple(dims))


def _sheet(given: Given, long: float, high: float) -> tuple[Drawing, ...]:
    if max(long, high) > SHEET_MOST_MM:
        return ()
    line = hole_outline(long, high, given["radius"], given["run_out"])
    return (
        Drawing(
            "Access hole template for the web",
            areas=(Area("paper", (*line, (0.0, 0.0))),),
            strokes=(Stroke("cut", line), Stroke("edge", ((0.0, -high), (0.0, 0.0), (long, 0.0)))),
            label=(
                f"Access hole {given.show(long)} long, {given.show(high)} high, radius {given.show(given['radius'])}",
                "upper edge on the inside of the flange (trim its corner for the fillet), left edge on the beam's end",
                "turn it over for the other face and for the other flange",
            ),
        ),
    )


def access_hole(given: Given) -> SetOut:
    """Return the set-out of a weld access hole."""
    where = "beam access-hole"
    assert given.bench is not None
    faults = Faults(where)
    toe, long, high = _checked(given, faults)
    cuts = cut_passes(given, (("web", 0.0, given["web"]),))
    web = cuts[0].setting
    corner_faults(given["radius"], web, given, faults)
    faults.raise_if_any()
    tf, d, at = given["flange_thickness"], given["depth"], given.word("at")
    other = "bottom" if at == "top" else "top"
    memory = rule("access_length").source
    start = hole_outline(long, high, given["radius"], given["run_out"])[1][0]
    least = exact(structural.access_height(given["web"]), "mm", "beam.access-height", rule("access_height").source)
    numbers = [
        of("hole_length_mm", "beam's end to where the hole meets the flange", long, "beam.access-length", main=True),
        of("toe_mm", "toe of the flange's bevel, back from the end", toe, "bevel.set-in"),
        of("least_length_mm", "least length from the toe", structural.access_length(given["web"]), "beam.access-length",
           source=memory),
        of("hole_height_mm", "height under the flange's inner face", high, "beam.access-height", main=True),
        Number("least_height_mm", "least height", least),
        of("other_mm", "line from the other flange's inner face", d - 2 * tf - high, "beam.access-height"),
        of("corner_at_mm", "the corner begins, back from the end", start, "beam.template-corner"),
        *corner_numbers(given["radius"], web),
        *guide_numbers(web),
    ]  # fmt: skip
    lines = (
        ("web, both faces", "along", f"{at} flange's inner face", high),
        ("web, both faces", "the same, where the fillet hides it", f"{other} flange's inner face", d - 2 * tf - high),
        ("web, both faces", "corner begins", "beam's end", start),
        ("flange, inner face", "hole runs out", "beam's end", long),
        ("flange, both edges", "the same, carried round", "beam's end", long),
    )
    return SetOut(
        where,
        f"Access hole {at}: {given.show(long)} long, {given.show(high)} high, corner {given.show(given['radius'])}",
        shown_given(HOLE, given),
        tuple(numbers),
        tables=(
            lines_table(lines),
            cuts_table(cuts),
            rules_table(("access_radius", "heavy_flange", *EDGE_RULES), given),
        ),
        steps=(
            "Carry the lines round: the flange hides the run-out from the side you cut.",
            f"Drill the corner, {given.show(2 * given['radius'])}, or cut it round the template.",
            "Cut from the end along the web into the corner, then up the run-out; stop short of the flange.",
            "Take the last of it to the flange with the grinder: no nick in the flange, no notch at the fillet.",
        ),
        picture=_picture(given, toe, long, high),
        sheets=_sheet(given, long, high),
        findings=sort_findings([*able_findings(cuts, given, where), *_findings(given, toe, long, high, where), HOT]),
    )


HOLE = Ask(
    "beam", "access-hole", "Weld access hole: least sizes, lines, corner, template.",
    _FIELDS, access_hole, thickness="web",
    # flange splice of the slipway cradle's side beam
    example=(("web", "5/16"), ("flange_thickness", "1/2"), ("depth", "9-15/16"), ("land", "1/16")),
)  # fmt: skip

ASKS = (HOLE,)
