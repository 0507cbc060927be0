"""A turn of several mitred pieces: lengths at throat, centre and heel, and the wraps of end piece and whole piece."""

from __future__ import annotations

import math

from lagline.records.finding import Finding
from lagline.records.geometry import Point
from lagline.records.setout import Area, Column, Dim, Drawing, Number, SetOut, Stroke, Table, Text, exact
from lagline.setouts.ask import Ask, Faults, Given, angle, count, length, maybe_length, shown_given
from lagline.setouts.pipe_cut import Cut, numbers, tables, work
from lagline.setouts.pipe_fields import DIAMETER, FIXED, MARKS, PAPER, TRIM, WALL, angle_faults, bore_faults
from lagline.setouts.pipe_picture import development
from lagline.setouts.pipe_plane import HEEL, plane_case
from lagline.setouts.pipe_sheet import piece_sheet, wrap_sheet, wrap_words
from lagline.setouts.pipe_steps import wrap_steps
from lagline.shapes.pipe_turn import Piece, turn_axis, turn_pieces
from lagline.trade import pipe
from lagline.trade.register import out_of_range

MOST_MITRE_DEG = 60.0


def _check(given: Given) -> None:
    d, turn, n, big = given["diameter"], given["angle"], given.count("pieces"), given["radius"]
    faults = Faults("pipe turn")
    angle_faults(faults, turn, 5.0, "a turn is more than a touch and less than a ring", 300.0)
    faults.unless(n >= 2, "pieces", f"{n} piece makes no turn", "2 or more; usual are 3 to 5 for 90 deg")
    faults.unless(
        big >= d / 2,
        "radius",
        f"a turn of radius {given.show(big)} is under half the diameter, {given.show(d / 2)}: its throat would have no "
        "length",
        f"{given.show(d / 2)} or more to the middle line; one and a half diameters, {given.show(1.5 * d)}, is usual",
    )
    bore_faults(faults, given, "wall", d / 2, "the pipe")
    if n >= 2:
        needed = math.ceil(turn / (2 * MOST_MITRE_DEG) - 1e-9) + 1
        mitre = pipe.turn_mitre(turn, n)
        faults.unless(
            mitre <= MOST_MITRE_DEG + 1e-9,
            "pieces",
            f"{n} pieces would be cut {mitre:g} deg off square: the heel is a knife edge",
            f"{needed} pieces or more for {turn:g} deg",
        )
    faults.raise_if_any()


def _numbers(given: Given, ends: Piece, mitre_deg: float) -> tuple[Number, ...]:
    turn, n, big, tangent = given["angle"], given.count("pieces"), given["radius"], given["tangent"]

    def mm(key: str, words: str, value: float, *, main: bool = False) -> Number:
        return Number(key, words, exact(value, "mm", "pipe.turn-piece", pipe.DERIVED), main)

    out = [
        Number("mitre_deg", "each cut, off square", exact(mitre_deg, "deg", "pipe.turn-mitre", pipe.STEELWORKER), True),
        Number("turn_per_weld_deg", "turn at each weld", exact(2 * mitre_deg, "deg", "pipe.turn-mitre",
                                                               pipe.STEELWORKER)),
        mm("end_throat_mm", "end piece, throat", ends.throat_mm + tangent),
        mm("end_centre_mm", "end piece, centre", ends.centre_mm + tangent, main=True),
        mm("end_heel_mm", "end piece, heel", ends.heel_mm + tangent),
        mm("centre_to_face_mm", "from where the middle lines cross to either face of the turn", _to_face(given)),
        mm("axis_length_mm", "length along the middle line, all pieces", 2 * (n - 1) * ends.centre_mm + 2 * tangent),
    ]  # fmt: skip
    if n > 2:
        out += [
            mm("middle_throat_mm", "whole piece, throat", 2 * ends.throat_mm),
            mm("middle_centre_mm", "whole piece, centre", 2 * ends.centre_mm, main=True),
            mm("middle_heel_mm", "whole piece, heel", 2 * ends.heel_mm),
        ]
    if abs(turn - 180) < 1e-9:
        out = [x for x in out if x.key != "centre_to_face_mm"]
        out.append(mm("face_to_face_mm", "from middle line to middle line of the two ends", 2 * big))
    return tuple(out)


def _to_face(given: Given) -> float:
    return given["radius"] * math.tan(math.radians(given["angle"]) / 2) + given["tangent"]


def _picture(given: Given, title: str, cut: Cut) -> Drawing:
    """The turn from the side: every piece, its middle line and the centre of the turn."""
    big, turn, n, tangent = given["radius"], math.radians(given["angle"]), given.count("pieces"), given["tangent"]
    r = given["diameter"] / 2
    axis = turn_axis(big, turn, n, tangent)
    step = turn / (n - 1)
    heads = [math.pi / 2 + step * i for i in range(n)]
    sides: list[tuple[Point, Point]] = []  # heel and throat at each joint
    for i, p in enumerate(axis):
        lean = 0.0 if i in (0, n) else step / 2
        before = heads[min(i, n - 1)] - (lean if i < n else 0.0)
        wide = r / math.cos(lean)
        across = before - math.pi / 2
        dx, dy = wide * math.cos(across), wide * math.sin(across)
        sides.append(((p[0] + dx, p[1] + dy), (p[0] - dx, p[1] - dy)))
    areas = tuple(Area("metal", (sides[i][0], sides[i + 1][0], sides[i + 1][1], sides[i][1])) for i in range(n))
    strokes = [Stroke("cut", sides[i]) for i in range(1, n)]
    strokes.append(Stroke("centre", axis))
    centre = (-big, tangent)
    strokes += [Stroke("hidden", (centre, (0.0, tangent))), Stroke("hidden", (centre, _end(big, tangent, turn)))]
    xs = [p[0] for s in sides for p in s] + [-big]
    size = max(max(xs) - min(xs), 1.0) / 120
    texts = [
        Text((centre[0] + 0.32 * big * math.cos(turn / 2), centre[1] + 0.32 * big * math.sin(turn / 2)),
             f"{given['angle']:g}°"),
        *(Text(((axis[i][0] + axis[i + 1][0]) / 2, (axis[i][1] + axis[i + 1][1]) / 2), str(i + 1)) for i in range(n)),
    ]  # fmt: skip
    dims = [
        Dim((-big, tangent), (0.0, tangent), f"R {given.show(big)}", -16 * size - tangent),
        Dim(sides[0][1], sides[0][0], given.show(2 * r), -30 * size),
    ]
    low, high = min(p[1] for s in sides for p in s), max(p[1] for s in sides for p in s)
    wide = max(0.75 * (max(xs) - min(xs)), 1.1 * (high - low))
    more = development(cut, max(xs) + 0.12 * wide, (low + high) / 2, wide)
    return Drawing(title, (*areas, *more[0]), (*strokes, *more[1]), (*texts, *more[2]), tuple(dims))


def _end(big: float, tangent: float, turn: float) -> Point:
    return (-big + big * math.cos(turn), tangent + big * math.sin(turn))


def _pieces_table(given: Given, pieces: tuple[Piece, ...]) -> Table:
    tangent = given["tangent"]
    rows = []
    for i, p in enumerate(pieces):
        more = tangent if i in (0, len(pieces) - 1) else 0.0
        row = (p.throat_mm + more, p.centre_mm + more, p.heel_mm + more, p.first_deg, p.last_deg)
        rows.append((i + 1, *(round(v, 6) for v in row)))
    columns = (
        Column("piece", "piece"), Column("throat_mm", "throat", "mm"), Column("centre_mm", "centre", "mm"),
        Column("heel_mm", "heel", "mm"), Column("first_deg", "first end off square", "deg"),
        Column("last_deg", "last end off square", "deg"),
    )  # fmt: skip
    return Table("pieces", "Pieces", columns, tuple(rows))


def turn(given: Given) -> SetOut:
    """Return a turn of mitred pieces."""
    _check(given)
    n, show = given.count("pieces"), given.show
    mitre = pipe.turn_mitre(given["angle"], n)
    pieces = turn_pieces(given["diameter"] / 2, given["radius"], math.radians(given["angle"]), n)
    case = plane_case(given, "pipe turn", mitre, "pipe.plane-ordinate", pipe.STEELWORKER, twin=True)
    cut = work(case, given)
    title = f"Turn: {show(given['diameter'])} pipe, {given['angle']:g} deg in {n} pieces, R {show(given['radius'])}"
    found: tuple[Finding, ...] = (
        *cut.findings,
        *out_of_range("pipe.plane-ordinate", "pipe turn", tilt_deg=mitre),
        *out_of_range("pipe.turn-piece", "pipe turn", radius_over_diameter=given["radius"] / given["diameter"]),
        *out_of_range("pipe.turn-mitre", "pipe turn", pieces=n),
    )
    label = (title, f"{wrap_words(cut, given)}: outside and paper", "mark 1 on the heel line, print outwards")
    sheets = [wrap_sheet(cut, given, "Wrap: end piece", label, HEEL)]
    if n > 2:
        sheets.append(piece_sheet(cut, given, 2 * pieces[0].centre_mm, "Wrap: whole piece, both ends", label, HEEL))
    steps = list(wrap_steps(cut, given, "mark 1 is the heel, the outside of the turn", "the wraps"))
    ends = f"End pieces: from base line to the square far end leave {show(pieces[0].centre_mm + given['tangent'])}"
    if n > 2:
        ends += f"; whole pieces are {show(2 * pieces[0].centre_mm)} between their base lines, cut alike at both ends"
    steps.insert(3, ends + ". Strike the heel line along every piece before the first cut.")
    steps.append(
        "Tack heel to heel line, three tacks a weld, and check the whole turn with a square or a protractor on the end "
        "faces before welding."
    )
    return SetOut(
        "pipe turn", title, shown_given(TURN, given),
        (*_numbers(given, pieces[0], mitre), *numbers(cut, given)), (_pieces_table(given, pieces), *tables(cut)),
        tuple(steps), _picture(given, title, cut), tuple(sheets), found,
    )  # fmt: skip


TURN = Ask(
    "pipe", "turn", "Turn of several mitred pieces: lengths of the pieces, and a wrap for end piece and whole piece.",
    (
        DIAMETER,
        angle("angle", "turn of the whole", 90.0, most=360.0),
        count("pieces", "pieces, the two ends counted", 3, least=0, most=24),
        length("radius", "radius of the turn, to the middle line", most=50_000),
        maybe_length("tangent", "straight left on each end piece past the turn", 0.0, most=10_000),
        MARKS, WALL, FIXED, TRIM, PAPER,
    ),
    turn, thickness="wall",
    example=(("diameter", "4-1/2"), ("angle", "90"), ("pieces", "4"), ("radius", "6-3/4"), ("wall", "0.237")),
)  # fmt: skip

ASKS = (TURN,)
