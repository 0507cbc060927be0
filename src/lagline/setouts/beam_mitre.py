"""Channel and angle mitred for a frame corner: lines on every face, and the tilt where a face stands up."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.records.finding import Finding, Severity, sort_findings
from lagline.records.setout import Area, Column, Dim, Drawing, Number, SetOut, Stroke, Table, Text, exact
from lagline.setouts.ask import Ask, Faults, Given, angle, choice, count, length, maybe_length, shown_given
from lagline.setouts.beam_common import CUT_EDGE_RULES, able_findings, cut_passes, cuts_table, of, rules_table
from lagline.trade import structural

_TURN = angle("turn", "angle the frame turns through: 90 for a square corner", 90.0, least=0, most=180)
_LONG = maybe_length("outside_length", "outside length of the piece, corner to corner or to its square end")
_ENDS = count("ends", "ends that are mitred", 2, most=2)


@dataclass(frozen=True, slots=True)
class Face:
    """One face of a shape as it lies in the frame: from ``y0`` to ``y1`` in from the frame's outside [mm].

    ``flat`` faces lie in the frame's plane and carry a slanting line; the others stand up and carry a square line at
    ``y0``, their outer face, cut with the torch tilted.
    """

    name: str
    y0: float
    y1: float
    flat: bool
    thickness_mm: float


@dataclass(frozen=True, slots=True)
class Lying:
    """A shape as it lies in the frame: how wide it is in the frame's plane, and its faces."""

    width_mm: float
    faces: tuple[Face, ...]


def channel_faces(depth: float, flange: float, web: float, flange_t: float, lies: str) -> Lying:
    """A channel: ``flat`` (web in the frame's plane), ``toes-in`` or ``toes-out`` (flanges in it)."""
    if lies == "flat":
        return Lying(
            depth,
            (
                Face("web", 0.0, depth, True, web),
                Face("outer flange, outer face", 0.0, flange_t, False, flange_t),
                Face("inner flange, outer face", depth, depth - flange_t, False, flange_t),
            ),
        )
    back = (
        Face("web, back", 0.0, web, False, web)
        if lies == "toes-in"
        else Face("web, back", flange, flange - web, False, web)
    )
    return Lying(flange, (Face("each flange", 0.0, flange, True, flange_t), back))


def angle_faces(flat: float, thickness: float, lies: str) -> Lying:
    """An angle with one leg flat in the frame; the standing leg at the ``heel-out`` or ``heel-in`` side."""
    y0, y1 = (0.0, thickness) if lies == "heel-out" else (flat, flat - thickness)
    return Lying(
        flat, (Face("flat leg", 0.0, flat, True, thickness), Face("standing leg, outer face", y0, y1, False, thickness))
    )


def offsets(face: Face, turn_deg: float) -> tuple[float, float]:
    """How far behind the long point the cut lies at the face's outside edge and at its other edge [mm].

    On a standing face both are its outer and its inner side, so their difference is what the tilt makes.
    """
    return structural.mitre_cutback(face.y0, turn_deg), structural.mitre_cutback(face.y1, turn_deg)


def _mitre(given: Given, lying: Lying, where: str, what: str, ask: Ask, faults: Faults) -> SetOut:
    turn, show = given["turn"], given.show
    if not 1 <= turn <= 150:
        allowed = "1 to 150 deg; 0 is a square end, over 150 the point is a splinter: butt and cap it"
        faults.add("turn", f"a turn of {turn:g} deg is no mitre", allowed)
    faults.raise_if_any()
    tilt, width = turn / 2, lying.width_mm
    back = structural.mitre_cutback(width, turn)
    long, ends = given.get("outside_length"), given.count("ends")
    if long is not None and long <= ends * back:
        faults.add("outside_length", "the mitres meet before the inside", f"over {show(ends * back)}")
    faults.raise_if_any()
    cuts = cut_passes(given, tuple((f.name, 0.0 if f.flat else tilt, f.thickness_mm) for f in lying.faces))
    numbers: list[Number] = [
        Number("mitre_deg", "mitre, off square", exact(tilt, "deg", "beam.mitre-cutback", "geometry (derived)"), True),
        of("cutback_mm", "short point behind the long point", back, "beam.mitre-cutback", main=True),
        of("slant_mm", "length of the slanting line", math.hypot(width, back), "beam.mitre-cutback"),
    ]
    if long is not None:
        numbers.append(of("inside_length_mm", "inside length, short point to the same", long - ends * back,
                          "beam.mitre-cutback", main=True))  # fmt: skip
    for n, c in zip(lying.faces, cuts, strict=True):
        if n.flat:
            s = c.setting
            numbers.append(Number("offset_kept_mm", f"{n.name}: line to guide on the kept part", s.offset_kept_mm))
            numbers.append(Number("offset_drop_mm", f"{n.name}: line to guide on the drop", s.offset_drop_mm))
    columns = (
        Column("face", "face"), Column("line", "line"), Column("outside_mm", "at its outside edge", "mm"),
        Column("inside_mm", "at its inside edge", "mm"), Column("tilt_deg", "tilt", "deg"),
    )  # fmt: skip
    rows: list[tuple[float | str, ...]] = []
    for f in lying.faces:
        a, b = offsets(f, turn)
        line = "slanting" if f.flat else "square across, at its outer face"
        rows.append((f.name, line, round(a, 3), round(b if f.flat else a, 3), 0.0 if f.flat else tilt))
    lines = Table("lines", "Lines, measured back from the long point", columns, tuple(rows), "Carry each round square.")
    found: list[Finding] = able_findings(cuts, given, where)
    if tilt > 50:
        message = f"a standing face is cut at {tilt:g} deg: long through, and the tilt is beyond what was compared"
        found.append(
            Finding("mitre-steep", Severity.CAUTION, where, message, "saw it, or two mitres with a piece between")
        )
    if tilt >= 5:
        message = f"where a face stands up the torch leans {tilt:g} deg along the piece, not across it"
        found.append(
            Finding("mitre-tilt", Severity.NOTE, where, message, "or cut it square there and grind to the line")
        )
    rules = (rules_table(CUT_EDGE_RULES, given),) if ask is CHANNEL else ()  # frames of angle iron are not under them
    return SetOut(
        where,
        f"{what}, mitre for a turn of {turn:g} deg",
        shown_given(ask, given),
        tuple(numbers),
        tables=(lines, cuts_table(cuts), *rules),
        steps=(
            "Mark the long point at the frame's outside; square a line from it right round the piece.",
            "Measure each face's distances back from that line and join them, all the way round.",
            "Check: the lines of neighbouring faces meet at their common edge.",
            f"Cut the flat face first, from its edge; tilt {tilt:g} deg where a face stands up.",
            "Lay two pieces together on a flat floor before welding: square, and diagonals alike.",
        ),
        picture=_picture(given, lying, turn, back),
        findings=sort_findings(found),
    )


def _picture(given: Given, lying: Lying, turn: float, back: float) -> Drawing:
    """The mitred end, seen square on to the frame: outside at the top, long point at the left."""
    w = lying.width_mm
    reach = max(2.0 * w, back + 1.2 * w)
    line = ((0.0, 0.0), (back, -w))
    strokes = [Stroke("cut", line)]
    for f in lying.faces:
        if not f.flat:
            strokes.append(Stroke("hidden", ((structural.mitre_cutback(f.y1, turn), -f.y1), (reach, -f.y1))))
    u = reach / 300 * 10
    return Drawing(
        "Mitre, seen square on to the frame",
        (
            Area("metal", (line[0], (reach, 0.0), (reach, -w), line[1])),
            Area("waste", (line[0], line[1], (0.0, -w))),
        ),
        tuple(strokes),
        (Text((reach * 0.75, 2.2 * u), "frame's outside", 0.0, 3.0),),
        (
            Dim((0.0, -w), (back, -w), given.show(back), -2.5 * u),
            Dim((reach, -w), (reach, 0.0), given.show(w), -2.5 * u),
        ),
    )


def channel_mitre(given: Given) -> SetOut:
    """Return the set-out of a mitred channel."""
    where = "beam channel-mitre"
    faults = Faults(where)
    d, b, w, tf = (given[k] for k in ("depth", "flange_width", "web", "flange_thickness"))
    if 2 * tf >= d or w >= b:
        faults.add(
            "", "these sizes make no channel", "depth over twice the flange thickness, flange wider than the web"
        )
    lies = given.word("lies")
    what = f"Channel {given.show(d)} x {given.show(b)}, {lies.replace('-', ' ')}"
    return _mitre(given, channel_faces(d, b, w, tf, lies), where, what, CHANNEL, faults)


def angle_mitre(given: Given) -> SetOut:
    """Return the set-out of a mitred angle."""
    where = "beam angle-mitre"
    faults = Faults(where)
    flat, t, lies = given["flat_leg"], given["thickness"], given.word("lies")
    if t >= flat / 2:
        faults.add("flat_leg", "these sizes make no angle", f"a leg over {given.show(2 * t)}")
    what = f"Angle, {given.show(flat)} leg flat, {lies.replace('-', ' ')}"
    return _mitre(given, angle_faces(flat, t, lies), where, what, ANGLE, faults)


CHANNEL = Ask(
    "beam", "channel-mitre", "Mitred channel: lines on web and flanges, tilt where a face stands up.",
    (
        length("web", "web thickness", least=2, most=50),
        length("depth", "depth, back of flange to back of flange", least=20, most=600),
        length("flange_width", "flange width, back of web to toe", least=10, most=300),
        length("flange_thickness", "flange thickness, halfway out", least=2, most=50),
        choice("lies", "in the frame: web flat, or flanges flat with toes in or out", "flat", "toes-in", "toes-out"),
        _TURN, _LONG, _ENDS,
    ),
    channel_mitre, thickness="web",
    # end frame of the slipway cradle
    example=(
        ("web", "1/4"), ("depth", "6"), ("flange_width", "2"), ("flange_thickness", "5/16"), ("outside_length", "60"),
    ),
)  # fmt: skip

ANGLE = Ask(
    "beam", "angle-mitre", "Mitred angle iron: lines on both legs, tilt where a leg stands up.",
    (
        length("thickness", "thickness of the legs", least=1, most=50),
        length("flat_leg", "width of the leg that lies flat in the frame", least=10, most=300),
        choice("lies", "where the standing leg is: at the frame's outside or inside", "heel-out", "heel-in"),
        _TURN, _LONG, _ENDS,
    ),
    angle_mitre, thickness="thickness",
    # walkway frame of the slipway cradle
    example=(("thickness", "1/4"), ("flat_leg", "3"), ("outside_length", "36")),
)  # fmt: skip

ASKS = (CHANNEL, ANGLE)
