"""Flat cuts: square, mitre, onto a plate, and onto the face of a rectangular tube."""

from __future__ import annotations

import math

from lagline.records.finding import Finding, Severity
from lagline.records.setout import Number, SetOut, exact
from lagline.setouts.ask import Ask, Faults, Given, angle, length, maybe_length, shown_given
from lagline.setouts.pipe_cut import Case, Cut, numbers, tables, work
from lagline.setouts.pipe_fields import DIAMETER, FIXED, MARKS, MOST_MM, PAPER, TRIM, WALL, angle_faults, bore_faults
from lagline.setouts.pipe_picture import plane_picture
from lagline.setouts.pipe_saddle import DEGREES, angles, near, rings
from lagline.setouts.pipe_sheet import wrap_sheet, wrap_words
from lagline.setouts.pipe_steps import wrap_steps
from lagline.shapes.pipe_joint import Plane
from lagline.trade import pipe
from lagline.trade.pipe_saddle import LEAST_ANGLE_DEG, corner_radius
from lagline.trade.register import out_of_range

HEEL = ("heel", "side", "throat", "side")
MOST_TURN_DEG = 120.0


def plane_case(given: Given, where: str, tilt_deg: float, formula: str, source: str, *, twin: bool = False) -> Case:
    """Return a round pipe cut along a plane, from ``diameter``, ``wall``, ``marks`` and ``torch``."""
    count = int(given.word("marks"))
    marks, dense = rings(given["diameter"] / 2, given.get("wall"), count)
    torch = "fixed" if given.words.get("torch") == "fixed" else "radial"
    joint = Plane(math.radians(tilt_deg))
    return Case(
        where, marks, dense, DEGREES, angles(count), joint, torch, "touch", 0.0, formula, source,  # type: ignore[arg-type]
        near(given["diameter"] / 2, given.get("wall")), twin,
    )  # fmt: skip


def _answer(
    ask: Ask, given: Given, cut: Cut, title: str, more: tuple[Number, ...], top: str, quarters: tuple[str, ...],
    other: str, words: str, found: tuple[Finding, ...],
) -> SetOut:  # fmt: skip
    tilt = math.atan(cut.case.joint.gradient(cut.case.marks.x, cut.case.marks.y)[0][0])
    label = (title, f"{wrap_words(cut, given)}: outside and paper", "wrap print outwards, mark 1 on the top line")
    return SetOut(
        ask.kind, title, shown_given(ask, given), (*numbers(cut, given), *more), tables(cut),
        wrap_steps(cut, given, top), plane_picture(title, given["diameter"] / 2, tilt, cut, given, other, words),
        (wrap_sheet(cut, given, f"Wrap: {ask.name}", label, quarters),), (*cut.findings, *found),
    )  # fmt: skip


def square(given: Given) -> SetOut:
    """Return the line of a cut square to the pipe."""
    faults = Faults("pipe square")
    bore_faults(faults, given, "wall", given["diameter"] / 2, "the pipe")
    faults.raise_if_any()
    cut = work(plane_case(given, "pipe square", 0.0, "pipe.wrap", pipe.DERIVED), given)
    title = f"Square cut: {given.show(given['diameter'])} pipe"
    check = Number(
        "out_of_square_per_mm", "out of square across the pipe for each mm the ends of the wrap fail to meet",
        exact(1 / math.pi, "mm", "pipe.wrap", pipe.DERIVED),
    )  # fmt: skip
    made = _answer(
        SQUARE, given, cut, title, (check,), "anywhere; it only says where the wrap starts", ("1", "1/4", "1/2", "3/4"),
        "none", "", (),
    )  # fmt: skip
    true = (
        "True square: a straight-edged wrap lies square only if its edge meets itself. Pull it tight; if the edges "
        "miss each other sideways, slide until they meet. Then check with a square at two marks a quarter turn apart.",
    )
    return _with_steps(made, made.steps[:2] + true + made.steps[2:])


def _with_steps(made: SetOut, steps: tuple[str, ...]) -> SetOut:
    return SetOut(
        made.kind, made.title, made.given, made.numbers, made.tables, steps, made.picture, made.sheets, made.findings
    )


def mitre(given: Given) -> SetOut:
    """Return the end of each of two pipes that turn at a mitre."""
    turn = given["angle"]
    faults = Faults("pipe mitre")
    angle_faults(faults, turn, 1.0, "each pipe is cut at half the turn, and over 60 deg the heel is a knife edge",
                 MOST_TURN_DEG)  # fmt: skip
    bore_faults(faults, given, "wall", given["diameter"] / 2, "the pipe")
    faults.raise_if_any()
    half = turn / 2
    cut = work(plane_case(given, "pipe mitre", half, "pipe.plane-ordinate", pipe.STEELWORKER, twin=True), given)
    title = f"Mitre: {given.show(given['diameter'])} pipe turning {turn:g} deg, each cut at {half:g}"
    more = (
        Number("mitre_deg", "each cut, off square", exact(half, "deg", "pipe.turn-mitre", pipe.STEELWORKER)),
        Number("mitre_cutback_mm", "outside diameter times the tangent of half the turn",
               exact(pipe.mitre_cutback(given["diameter"], turn), "mm", "pipe.mitre-cutback", pipe.STEELWORKER)),
    )  # fmt: skip
    found = out_of_range("pipe.plane-ordinate", "pipe mitre", tilt_deg=half)
    top = "mark 1 is the heel, the outside of the turn; it is the same on both pipes, so cut two alike"
    return _answer(MITRE, given, cut, title, more, top, HEEL, "pipe", f"{turn:g}° turn", found)


def _on_plate(given: Given, ask: Ask, title: str, found: tuple[Finding, ...]) -> SetOut:
    lean = given["angle"]
    faults = Faults(ask.kind)
    angle_faults(faults, lean, LEAST_ANGLE_DEG, "under 15 deg neither torch nor electrode reaches under the pipe", 90.0)
    bore_faults(faults, given, "wall", given["diameter"] / 2, "the pipe")
    faults.raise_if_any()
    cut = work(plane_case(given, ask.kind, 90.0 - lean, "pipe.plate-ordinate", pipe.DERIVED), given)
    long = given["diameter"] / math.sin(math.radians(lean))
    more = (Number("footprint_mm", "length of the pipe's footprint, the way it leans",
                   exact(long, "mm", "pipe.plate-ordinate", pipe.DERIVED)),)  # fmt: skip
    found = (*found, *out_of_range("pipe.plate-ordinate", ask.kind, angle_deg=lean))
    top = "mark 1 is on the open side of the lean, where the pipe is longest; half way round is under the lean"
    return _answer(ask, given, cut, title, more, top, ("open", "side", "under", "side"), "plate", f"{lean:g}°", found)


def plate(given: Given) -> SetOut:
    """Return the end of a pipe that stands on a flat plate at an angle."""
    title = f"Onto a plate: {given.show(given['diameter'])} pipe at {given['angle']:g} deg"
    return _on_plate(given, PLATE, title, ())


def tube_on_pipe(given: Given) -> SetOut:
    """Return the end of a round pipe that lands on the face of a rectangular tube."""
    d, face, t = given["diameter"], given["tube_width"], given.get("tube_wall")
    corner = given.get("corner_radius")
    if corner is None:
        corner = corner_radius(t) if t is not None else 0.0
    flat = face - 2 * corner
    faults = Faults("pipe tube-on-pipe")
    faults.unless(
        flat > 0, "corner_radius", f"corners of {given.show(corner)} leave no flat on a face of {given.show(face)}",
        f"under {given.show(face / 2)}",
    )  # fmt: skip
    faults.unless(
        abs(given["offset"]) + d / 2 <= face / 2 + 1e-9,
        "diameter",
        f"a pipe of {given.show(d)} overhangs a face of {given.show(face)}",
        f"a pipe up to {given.show(max(face - 2 * abs(given['offset']), 0.0))}, or weld a cap plate to the tube first "
        "(pipe plate)",
    )
    faults.raise_if_any()
    found: list[Finding] = []
    over = abs(given["offset"]) + d / 2 - flat / 2
    if over > 0.5:
        found.append(
            Finding(
                "on-the-corner", Severity.CAUTION, "pipe tube-on-pipe",
                f"the pipe's sides reach {given.show(over)} onto the tube's round corners, where the face falls away "
                f"by up to {given.show(corner - math.sqrt(max(corner**2 - min(over, corner) ** 2, 0.0)))}",
                f"a pipe up to {given.show(2 * (flat / 2 - abs(given['offset'])))}, or build the corner up with weld "
                "as your procedure allows",
            )
        )  # fmt: skip
    title = f"Round on a tube's face: {given.show(d)} pipe on a {given.show(face)} face at {given['angle']:g} deg"
    return _on_plate(given, TUBE, title, tuple(found))


_ROUND = (MARKS, WALL, FIXED, TRIM, PAPER)


SQUARE = Ask(
    "pipe", "square", "Square cut: a straight wrap, and how to see that it lies true.",
    (DIAMETER, MARKS, WALL, TRIM, PAPER), square, thickness="wall",
    example=(("diameter", "4-1/2"), ("wall", "0.237")),
)  # fmt: skip
MITRE = Ask(
    "pipe", "mitre", "Two-piece turn: wrap for both ends, each cut at half the turn.",
    (DIAMETER, angle("angle", "how far the run turns; 90 for a square elbow"), *_ROUND), mitre, thickness="wall",
    example=(("diameter", "4-1/2"), ("angle", "90"), ("wall", "0.237")),
)  # fmt: skip
PLATE = Ask(
    "pipe", "plate", "Pipe standing on a flat plate at an angle: wrap for its end.",
    (DIAMETER, angle("angle", "angle between pipe and plate; 90 stands upright"), *_ROUND), plate, thickness="wall",
    example=(("diameter", "4-1/2"), ("angle", "60"), ("wall", "0.237")),
)  # fmt: skip
TUBE = Ask(
    "pipe", "tube-on-pipe", "Round pipe landing on the face of a rectangular tube: wrap for its end.",
    (
        DIAMETER,
        length("tube_width", "width of the tube's face, across the pipe's lean", least=6, most=MOST_MM),
        angle("angle", "angle between pipe and tube", 90.0),
        maybe_length("offset", "pipe's middle beside the face's middle", 0.0, least=-MOST_MM, most=MOST_MM),
        maybe_length("corner_radius", "outside corner radius of the tube; empty: twice its wall", most=500),
        maybe_length("tube_wall", "wall of the tube", least=0.3, most=100),
        *_ROUND,
    ),
    tube_on_pipe, thickness="wall",
    example=(("diameter", "2-3/8"), ("tube_width", "4"), ("angle", "60"), ("tube_wall", "1/4"), ("wall", "0.154")),
)  # fmt: skip

ASKS = (SQUARE, MITRE, PLATE, TUBE)
