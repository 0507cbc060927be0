"""An angle iron notched: a V to bend it round a corner, or an end cut back to lap over another angle."""

from __future__ import annotations

from lagline.records.finding import Finding, Severity, sort_findings
from lagline.records.geometry import Point
from lagline.records.setout import Area, Dim, Drawing, Number, SetOut, Stroke, Text
from lagline.setouts.ask import Ask, Faults, Field, Given, angle, choice, length, maybe_length, shown_given
from lagline.setouts.beam_common import (
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
)
from lagline.trade import structural

_FIELDS: tuple[Field, ...] = (
    length("thickness", "thickness of the legs", least=1, most=50),
    length("leg", "width of the leg that is notched, heel to toe", least=10, most=300),
    choice("kind", "bend: a V that closes when the other leg is bent; lap: an end cut back", "bend", "lap"),
    angle("turn", "bend: angle it is bent through", 90.0, least=0, most=180),
    maybe_length("fillet", "fillet inside the heel, measured", 0.0, most=40),
    maybe_length("to_corner", "bend: outside length wanted from the end to the corner; empty leaves it out"),
    maybe_length("over_leg", "lap: width of the other angle's leg that it lies over", most=300),
    maybe_length("over_thickness", "lap: thickness of the other angle; empty takes this one's", most=50),
    maybe_length("clearance", "lap: gap to the other angle's toe", 25.4 / 16, most=12.7),
    maybe_length("radius", "lap: re-entrant radius", 12.7, most=50),
)


def v_outline(leg: float, thickness: float, turn_deg: float) -> tuple[Point, ...]:
    """The V in the leg: toe at y 0, heel at y -leg, point on the other leg's inner face [mm]."""
    half = structural.notch_width(leg, thickness, turn_deg) / 2
    return ((-half, 0.0), (0.0, thickness - leg), (half, 0.0))


def lap_outline(long: float, deep: float, radius: float) -> tuple[Point, ...]:
    """The cut line of an end cut back: end at x 0, toe at y 0, heel below [mm]."""
    return ((0.0, -deep), *arc((long - radius, radius - deep), radius, -90, 0), (long, 0.0))


def _bend(given: Given, faults: Faults, where: str) -> SetOut | None:
    leg, t, turn, fillet = given["leg"], given["thickness"], given["turn"], given["fillet"]
    if not 5 <= turn <= 150:
        allowed = "5 to 150 deg; a straight angle needs no notch, a tighter turn is two pieces"
        faults.add("turn", f"{turn:g} deg is no bend to notch for", allowed)
    for name in ("over_leg", "over_thickness"):
        faults.unless(given.get(name) is None, name, "a bend laps over nothing", "kind lap, or leave it out")
    cuts = cut_passes(given, (("leg, each side of the V", 0.0, t),))
    s = cuts[0].setting
    faults.raise_if_any()
    width, gain = structural.notch_width(leg, t, turn), structural.fold_gain(t, turn)
    line = v_outline(leg, t, turn)
    drill = max(2 * fillet, 3.0)
    numbers: list[Number] = [
        of("notch_width_mm", "width of the V at the toe", width, "beam.notch-width", main=True),
        of("notch_depth_mm", "depth of the V from the toe, to the other leg's inner face", leg - t, "beam.notch-width",
           main=True),
        of("fold_gain_mm", "the outside corner lies beyond the V's centre line by", gain, "beam.fold-gain"),
        of("drill_mm", "hole at the V's point", drill, "beam.notch-width"),
        *guide_numbers(s),
    ]  # fmt: skip
    corner = given.get("to_corner")
    if corner is not None:
        centre = corner - gain
        faults.unless(
            centre > width / 2, "to_corner", "the V runs off the end", given.show(width / 2 + gain) + " or more"
        )
        faults.raise_if_any()
        words = "from the end to the V's centre line"
        numbers.insert(0, of("centre_mm", words, centre, "beam.fold-gain", main=True))
    lines = [
        ("notched leg, toe", "each side of the V", "V's centre line", width / 2),
        ("notched leg, outer face", "V's point", "heel", t),
        ("notched leg, inner face", "V's point", "other leg's inner face", 0.0),
        ("other leg, outer face", "fold line, square across", "V's centre line", 0.0),
    ]
    found = [*able_findings(cuts, given, where)]
    if fillet > 1e-9:
        message = f"the fillet of {given.show(fillet)} inside the heel stands in the V's point and will not close"
        allowed = f"drill {given.show(drill)} at the point, or grind the fillet out over the V"
        found.append(Finding("notch-fillet", Severity.CAUTION, where, message, allowed))
    reach = max(width, leg) * 1.1
    u = 2 * reach / 300 * 10
    picture = Drawing(
        "Notched leg, seen square on",
        (
            Area("metal", ((-reach, 0.0), *line, (reach, 0.0), (reach, -leg), (-reach, -leg))),
            Area("waste", line),
        ),
        (Stroke("cut", line), Stroke("hidden", ((-reach, t - leg), (reach, t - leg))),
         Stroke("centre", ((0.0, 2 * u), (0.0, -leg - u)))),
        (Text((reach * 0.7, -leg / 2), f"bend {turn:g} deg", 0.0, 3.0),),
        (
            Dim((-width / 2, 0.0), (width / 2, 0.0), given.show(width), 2.5 * u),
            Dim((-reach, -leg), (-reach, 0.0), given.show(leg), 2.5 * u),
            Dim((reach, t - leg), (reach, 0.0), given.show(leg - t), -2.5 * u),
        ),
    )  # fmt: skip
    sheets: tuple[Drawing, ...] = ()
    if max(width, leg) <= SHEET_MOST_MM:
        label = (
            f"V notch for {turn:g} deg, {given.show(width)} wide",
            "upper edge on the toe, centre line on the mark",
        )
        strokes = (Stroke("cut", line), Stroke("edge", (line[0], line[-1])), Stroke("centre", ((0.0, 0.0), line[1])))
        sheets = (Drawing("Notch template", areas=(Area("paper", line),), strokes=strokes, label=label),)
    return SetOut(
        where,
        f"V notch in a {given.show(leg)} leg, {given.show(t)} thick, for a bend of {turn:g} deg",
        shown_given(NOTCH, given),
        tuple(numbers),
        tables=(lines_table(lines), cuts_table(cuts)),
        steps=(
            "Square the V's centre line across both legs, scribe the V on the notched leg from the toe.",
            f"Drill {given.show(drill)} at its point, so that it does not tear when it folds.",
            "Cut both sides of the V from the toe to the hole; keep the kerf in the waste.",
            "Heat the fold line if it is thick, bend until the V closes, check with a square, weld the V.",
        ),
        picture=picture,
        sheets=sheets,
        findings=sort_findings(found),
    )


def _lap(given: Given, faults: Faults, where: str) -> SetOut:
    leg, t, fillet, r = given["leg"], given["thickness"], given["fillet"], given["radius"]
    over, over_t = given.get("over_leg"), given.get("over_thickness")
    faults.unless(
        over is not None, "over_leg", "a lap needs the width of the leg it lies over", "the other angle's leg"
    )
    faults.unless(given.get("to_corner") is None, "to_corner", "only a bend has a corner", "kind bend, or leave it out")
    thick = t if over_t is None else over_t
    long = (over or leg) - thick + given["clearance"]
    deep = leg - t - fillet
    faults.unless(long > 0, "over_leg", "the other leg is no wider than it is thick", f"over {given.show(thick)}")
    allowed = f"a fillet under {given.show(leg - t)}, or a wider leg"
    faults.unless(deep > 0, "fillet", "nothing of the leg is left to cut", allowed)
    if min(long, deep) > 0 and r > min(long, deep):
        faults.add(
            "radius", f"the corner's {given.show(r)} is larger than the notch", f"up to {given.show(min(long, deep))}"
        )
    cuts = cut_passes(given, (("leg", 0.0, t),))
    s = cuts[0].setting
    corner_faults(r, s, given, faults)
    faults.raise_if_any()
    line = lap_outline(long, deep, r)
    numbers = [
        of("notch_length_mm", "from the end back to the notch's end", long, "beam.cope-depth", main=True),
        of("notch_depth_mm", "depth of the notch from the toe", deep, "beam.cope-depth", main=True),
        of("left_mm", "left standing above the other leg's inner face", fillet, "beam.cope-depth"),
        *corner_numbers(r, s),
        *guide_numbers(s),
    ]
    lines = (
        ("notched leg, both faces", "square across", "end", long),
        ("notched leg, both faces", "along", "toe", deep),
        ("notched leg, outer face", "the same", "heel", t + fillet),
        ("other leg", "witness line", "end", long + 50.8),
    )
    reach = max(long * 1.8, leg)
    u = reach / 300 * 10
    picture = Drawing(
        "Notched leg, seen square on",
        (
            Area("metal", (*line, (reach, 0.0), (reach, -leg), (0.0, -leg))),
            Area("waste", (*line, (0.0, 0.0))),
        ),
        (Stroke("cut", line), Stroke("hidden", ((0.0, t - leg), (reach, t - leg)))),
        (),
        (
            Dim((0.0, 0.0), (long, 0.0), given.show(long), 2.5 * u),
            Dim((0.0, -deep), (0.0, 0.0), given.show(deep), 2.5 * u),
            Dim((reach, -leg), (reach, 0.0), given.show(leg), -2.5 * u),
        ),
    )
    label = (
        f"Lap notch {given.show(long)} long, {given.show(deep)} deep",
        "upper edge on the toe, left edge on the end",
    )
    strokes = (Stroke("cut", line), Stroke("edge", ((0.0, -deep), (0.0, 0.0), (long, 0.0))))
    sheet = Drawing("Notch template", areas=(Area("paper", (*line, (0.0, 0.0))),), strokes=strokes, label=label)
    return SetOut(
        where,
        f"Lap notch in a {given.show(leg)} leg: {given.show(long)} back, {given.show(deep)} deep",
        shown_given(NOTCH, given),
        tuple(numbers),
        tables=(lines_table(lines), cuts_table(cuts)),
        steps=(
            "Scribe both lines on both faces of the leg; the witness line stays when the cut is done.",
            "Drill the corner or cut it round the template, then from the end and from the toe into it.",
            "Lay it over the other angle; ease the heel where the other's toe is rounded.",
        ),
        picture=picture,
        sheets=(sheet,) if max(long, deep) <= SHEET_MOST_MM else (),
        findings=sort_findings([*able_findings(cuts, given, where), *corner_findings(r, "cope_radius", given, where)]),
    )


def notch(given: Given) -> SetOut:
    """Return the set-out of a notched angle iron."""
    where = "beam notch"
    assert given.bench is not None
    faults = Faults(where)
    if given["thickness"] >= given["leg"] / 2:
        allowed = f"a leg over {given.show(2 * given['thickness'])}"
        faults.add(
            "leg", f"a leg of {given.show(given['leg'])} is no angle at {given.show(given['thickness'])}", allowed
        )
    faults.raise_if_any()
    made = _bend(given, faults, where) if given.word("kind") == "bend" else _lap(given, faults, where)
    assert made is not None
    return made


NOTCH = Ask(
    "beam", "notch", "Angle iron notch: a V to bend it round a corner, or an end cut back to lap.",
    _FIELDS, notch, thickness="thickness",
    # the frame of the slipway cradle's walkway, bent from 3 x 3 x 1/4 angle
    example=(("thickness", "1/4"), ("leg", "3"), ("turn", "90"), ("fillet", "5/16"), ("to_corner", "36")),
)  # fmt: skip

ASKS = (NOTCH,)
