"""Bolt circles: the chord to step with dividers, coordinates from the centre, chords that check, a sheet to punch."""

from __future__ import annotations

import math

from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Arc, Point
from lagline.records.setout import Area, Column, Dim, Drawing, Number, SetOut, Stroke, Table, Text, exact
from lagline.setouts.ask import Ask, Faults, Given, angle, choice, count, length, maybe_length, shown_given
from lagline.trade import arc_sizes, bolt_circle

DERIVED = "geometry (derived)"
OFF_MM = 25.4 / 64  # what dividers may be set wrong by
LAND_MM = 3.0  # thinner metal between holes burns through; common practice, no source
NUMBER_MM = 9.0  # room a hole's number takes on the sheet


def _circle(at: Point, radius: float) -> tuple[Point, ...]:
    return Arc(at, radius, 0.0, 2 * math.pi).points(max(radius / 3000, 0.005))[:-1]


def _start(given: Given) -> float:
    half = 180.0 / given.count("holes") if given.word("straddle") == "yes" else 0.0
    return given["start_angle"] + half


def _coordinates(given: Given) -> tuple[Point, ...]:
    return bolt_circle.coordinates(given["circle_diameter"], given.count("holes"), _start(given))


def _tables(given: Given) -> tuple[Table, ...]:
    n, d = given.count("holes"), given["circle_diameter"]
    hole = given.get("hole_diameter")
    rows = tuple(
        (float(i), (_start(given) + 360 * (i - 1) / n) % 360, x, y) for i, (x, y) in enumerate(_coordinates(given), 1)
    )
    placed = Table(
        "coordinates",
        "Hole centres from the middle",
        (Column("hole", "hole"), Column("angle_deg", "angle", "deg"), Column("x_mm", "across", "mm"),
         Column("y_mm", "up", "mm")),
        rows,
        "Across to the right and up, below zero to the left and down; angles anticlockwise from the right.",
    )  # fmt: skip
    checks: list[tuple[float | str, ...]] = []
    for k in range(1, n // 2 + 1):
        chord = bolt_circle.chord_across(d, n, k)
        checks.append((float(k), chord, *(() if hole is None else (chord - hole, chord + hole))))
    columns = [Column("places", "holes apart"), Column("centres_mm", "centre to centre", "mm")]
    if hole is not None:
        columns += [Column("inside_mm", "inside edges", "mm"), Column("outside_mm", "outside edges", "mm")]
    return placed, Table("checks", "Chords that check it", tuple(columns), tuple(checks))


def _numbers(given: Given) -> tuple[Number, ...]:
    n, d = given.count("holes"), given["circle_diameter"]
    hole = given.get("hole_diameter")
    out = [
        Number("radius_mm", "radius of the bolt circle",
               exact(d / 2, "mm", "bolt-circle.coordinates", DERIVED), main=True),
        Number("chord_mm", "dividers, from centre to centre of neighbours",
               exact(bolt_circle.chord_across(d, n), "mm", "bolt-circle.chord", DERIVED), main=True),
        Number("across_mm", "from a hole to the one farthest from it",
               exact(bolt_circle.chord_across(d, n, n // 2), "mm", "bolt-circle.chord", DERIVED), main=True),
        Number("pitch_deg", "angle from hole to hole", exact(360 / n, "deg", "bolt-circle.coordinates", DERIVED)),
        Number("arc_mm", "along the circle from hole to hole",
               exact(arc_sizes.arc_length(d / 2, 360 / n), "mm", "arc.length", DERIVED)),
    ]  # fmt: skip
    if n >= 3:
        gap = bolt_circle.closing_gap(n, OFF_MM)
        words = "gap after stepping round when the dividers are 1/64 in off"
        out.append(Number("closing_gap_mm", words, exact(gap, "mm", "bolt-circle.dividers", DERIVED)))
    if hole is not None:
        land = bolt_circle.chord_across(d, n) - hole
        out.append(Number("land_mm", "metal left between neighbours", exact(land, "mm", "bolt-circle.chord", DERIVED)))
    return tuple(out)


def _sheet(given: Given) -> Drawing:
    n, d = given.count("holes"), given["circle_diameter"]
    hole = given.get("hole_diameter")
    every = max(1, math.ceil(NUMBER_MM / max(bolt_circle.chord_across(d, n), 1e-9)))
    arm = 5.0 if hole is None else hole / 2 + 4.0
    arm = min(arm, 0.45 * bolt_circle.chord_across(d, n))
    strokes = [
        Stroke("centre", _circle((0.0, 0.0), d / 2), closed=True),
        Stroke("centre", ((-12.0, 0.0), (12.0, 0.0))),
        Stroke("centre", ((0.0, -12.0), (0.0, 12.0))),
    ]
    texts = []
    for i, (x, y) in enumerate(_coordinates(given), 1):
        strokes += [
            Stroke("mark", ((x - arm, y), (x + arm, y))),
            Stroke("mark", ((x, y - arm), (x, y + arm))),
        ]
        if hole is not None:
            strokes.append(Stroke("hidden", _circle((x, y), hole / 2), closed=True))
        if (i - 1) % every == 0 and i + every - 1 <= n:
            out = 1 + 2 * (arm + 5) / d
            texts.append(Text((x * out, y * out), str(i), 0.0, 2.6))
    what = f"{n} holes on {given.show(d)}"
    return Drawing(
        f"Bolt circle, {what}", (), tuple(strokes), tuple(texts), (),
        (
            f"Bolt circle: {what}, neighbours {given.show(bolt_circle.chord_across(d, n))} apart",
            "Lay the middle cross on the plate's centre lines, tape it down, and punch through each cross.",
        ),
    )  # fmt: skip


def _picture(given: Given) -> Drawing:
    n, d = given.count("holes"), given["circle_diameter"]
    hole = given.get("hole_diameter") or min(0.3 * bolt_circle.chord_across(d, n), 0.12 * d)
    spots = _coordinates(given)
    plate = d / 2 + max(1.2 * hole, 0.12 * d)
    a, b = spots[0], spots[1]
    if a[0] * b[1] - a[1] * b[0] < 0:
        a, b = b, a
    turn = math.radians(_start(given) + 180.0 / n)  # between the first two
    away = -(plate - d / 2 * math.cos(math.pi / n) + 0.1 * d)
    label = (d / 2 * math.cos(turn + math.pi), d / 2 * math.sin(turn + math.pi))
    return Drawing(
        "The bolt circle: neighbours by dividers, the middle to each",
        (Area("metal", _circle((0.0, 0.0), plate), tuple(_circle(p, hole / 2) for p in spots)),),
        (
            Stroke("centre", _circle((0.0, 0.0), d / 2), closed=True),
            Stroke("centre", ((-plate, 0.0), (plate, 0.0))),
            Stroke("centre", ((0.0, -plate), (0.0, plate))),
            Stroke("mark", (a, b)),
        ),
        (Text((0.35 * label[0], 0.35 * label[1]), f"on {given.show(d)}"),),
        (Dim(a, b, f"chord {given.show(bolt_circle.chord_across(d, n))}", away),),
    )


def bolt_holes(given: Given) -> SetOut:
    """Return the set-out of a bolt circle."""
    n, d = given.count("holes"), given["circle_diameter"]
    hole, chord = given.get("hole_diameter"), bolt_circle.chord_across(d, n)
    faults = Faults(CIRCLE.kind)
    if hole is not None and hole >= chord:
        most = math.floor(math.pi / math.asin(min(1.0, hole / d)) - 1e-9) if hole < d else 0
        works = f"holes under {given.show(chord)}" + (f", or at most {most} of them" if most >= 2 else "")
        faults.add(
            "hole_diameter", f"holes of {given.show(hole)} run into each other, {given.show(chord)} apart", works
        )
    faults.raise_if_any()
    findings = []
    if hole is not None and chord - hole < LAND_MM:
        message = f"only {given.show(chord - hole)} of metal is left between holes"
        findings.append(Finding("thin-land", Severity.CAUTION, CIRCLE.kind, message, "it burns through: drill them"))
    shown = given.show(chord)
    steps = [
        "Scribe the two centre lines, punch the middle, and scribe the bolt circle.",
        f"Set the first hole {'off' if given.word('straddle') == 'yes' else 'on'} the centre line as asked "
        f"({_start(given):g} deg from the right) and punch it lightly.",
        f"Set dividers to {shown} and step round: they must close on the first mark. Where they do not, "
        f"alter them by the gap over {n} and go round again before punching deep."
        if n >= 3
        else "Punch the other hole straight across the middle.",
        "Check the chords across with a rule, and each hole's distance across and up from the centre lines.",
        "Whether to cut, drill or ream them: see hole verdict.",
    ]
    return SetOut(
        CIRCLE.kind,
        f"Bolt circle: {n} holes on {given.show(d)}",
        shown_given(CIRCLE, given),
        _numbers(given),
        _tables(given),
        tuple(steps),
        _picture(given),
        (_sheet(given),),
        tuple(findings),
    )


CIRCLE = Ask(
    "hole", "circle", "Bolt circle: chord to step with dividers, coordinates, chords that check it, a sheet to punch.",
    (
        count("holes", "how many holes", least=2, most=200),
        length("circle_diameter", "diameter of the bolt circle", least=5, most=10_000),
        maybe_length("hole_diameter", "diameter of the holes", least=0.5, most=1_000),
        choice("straddle", "holes to either side of the centre lines instead of on them", "no", "yes"),
        angle("start_angle", "turn the first hole by this, anticlockwise from the right", 0.0, least=-360, most=360),
    ),
    bolt_holes,
    example=(("holes", "8"), ("circle_diameter", "9-1/2"), ("hole_diameter", "9/16"), ("straddle", "yes")),
)  # fmt: skip
