"""Named shapes with a centre: disc, ring, flange, sector, regular polygon; and a polygon by its points.

Lengths are millimetres and keep the names they have in a job file; angles are degrees from the x axis,
counter-clockwise. Diameters, not radii, as they are taped.
"""

from __future__ import annotations

import math

from lagline.records.geometry import Arc, Line, Loop, Outline, Point
from lagline.shapes.form import circle, lines
from lagline.shapes.named_values import MOST, Faults, Param, Shape, Values, may, need, show


def disc(diameter: float) -> Outline:
    """Return a disc; edge ``outside``."""
    return Outline(circle((0.0, 0.0), diameter, "outside"))


def ring(outside: float, inside: float) -> Outline:
    """Return a flat ring; edges ``outside`` and ``inside``."""
    return Outline(circle((0.0, 0.0), outside, "outside"), (circle((0.0, 0.0), inside, "inside"),))


def flange(
    outside: float, bolt_circle: float, bolts: int, bolt_hole: float, inside: float = 0.0, start_angle: float = 0.0
) -> Outline:
    """Return a flange with equally spaced bolt holes; edges ``outside``, ``inside``, ``bolt-1`` and on."""
    holes = [circle((0.0, 0.0), inside, "inside")] if inside > 0 else []
    for i in range(bolts):
        a = math.radians(start_angle) + 2 * math.pi * i / bolts
        holes.append(circle((bolt_circle / 2 * math.cos(a), bolt_circle / 2 * math.sin(a)), bolt_hole, f"bolt-{i + 1}"))
    return Outline(circle((0.0, 0.0), outside, "outside"), tuple(holes))


def sector(outside: float, inside: float, angle: float) -> Outline:
    """Return a piece of a ring from the x axis round to the angle; edges ``outside``, ``inside``, ``start``, ``end``.

    With no inside it is a slice of a disc and has no ``inside`` edge.
    """
    turn, r_out, r_in = math.radians(angle), outside / 2, inside / 2
    c, s = math.cos(turn), math.sin(turn)
    out = Arc((0.0, 0.0), r_out, 0.0, turn)
    if r_in <= 0:
        pie = (Line((0.0, 0.0), (r_out, 0.0)), out, Line((r_out * c, r_out * s), (0.0, 0.0)))
        return Outline(Loop(pie, ("start", "outside", "end")))
    piece = (
        Line((r_in, 0.0), (r_out, 0.0)),
        out,
        Line((r_out * c, r_out * s), (r_in * c, r_in * s)),
        Arc((0.0, 0.0), r_in, turn, -turn),
    )
    return Outline(Loop(piece, ("start", "outside", "end", "inside")))


def polygon(sides: int, across_flats: float | None = None, across_corners: float | None = None) -> Outline:
    """Return a regular polygon standing on a flat; edges ``side-1`` (bottom) and on, counter-clockwise.

    Across flats is twice the distance from the centre to a flat, across corners twice that to a corner; with an odd
    number of sides a tape from flat to corner reads neither.
    """
    step = 2 * math.pi / sides
    r = across_flats / 2 / math.cos(step / 2) if across_flats is not None else (across_corners or 0.0) / 2
    first = -math.pi / 2 - step / 2
    pts = [(r * math.cos(first + step * i), r * math.sin(first + step * i)) for i in range(sides)]
    return Outline(lines(pts, [f"side-{i + 1}" for i in range(sides)]))


def points(points: tuple[Point, ...]) -> Outline:
    """Return the polygon through the points; edges ``e1`` (from the first point) and on, always counter-clockwise."""
    return Outline(lines(points, [f"e{i + 1}" for i in range(len(points))]))


def _check_ring(v: Values, f: Faults) -> None:
    f.unless(
        v["inside"] < v["outside"],
        "inside",
        f"inside {show(v['inside'])} mm leaves nothing of outside {show(v['outside'])} mm",
        "inside smaller than outside",
    )


def _check_flange(v: Values, f: Faults) -> None:
    _check_ring(v, f)
    circle_d, hole, n = v["bolt_circle"], v["bolt_hole"], v.count("bolts")
    f.unless(
        circle_d + hole < v["outside"],
        "bolt_circle",
        f"holes of {show(hole)} mm on a {show(circle_d)} mm circle break the outside edge",
        f"bolt circle under {show(v['outside'] - hole)} mm",
    )
    f.unless(
        circle_d - hole > v["inside"],
        "bolt_circle",
        f"holes of {show(hole)} mm on a {show(circle_d)} mm circle "
        + ("break into the inside" if v["inside"] else "meet in the middle"),
        f"bolt circle over {show(v['inside'] + hole)} mm",
    )
    pitch = circle_d * math.sin(math.pi / n) if n > 1 else math.inf
    f.unless(
        pitch > hole,
        "bolts",
        f"{n} holes of {show(hole)} mm are {show(pitch)} mm apart and run into each other",
        "fewer or smaller holes, or a larger bolt circle",
    )


def _check_polygon(v: Values, f: Faults) -> None:
    given = [n for n in ("across_flats", "across_corners") if v.numbers.get(n, 0.0) > 0]
    f.unless(
        len(given) == 1,
        "across_flats",
        f"a polygon needs one of across_flats and across_corners, {len(given)} given",
        "give exactly one, above 0 mm",
    )


def _check_points(v: Values, f: Faults) -> None:
    pts = v.lists["points"]
    for i, (a, b) in enumerate(zip(pts, (*pts[1:], pts[0]), strict=True), 1):
        f.unless(math.dist(a, b) > 0.01, "points", f"point {i} and the next are the same place", "each point once")


def _fine(v: Values, f: Faults) -> None:
    """Nothing beyond the ranges."""


_OUT = need("outside", "outside diameter")
_IN = need("inside", "inside diameter")


ROUNDS = (
    Shape("disc", "a disc", (need("diameter", "diameter"),), _fine, lambda v: disc(v["diameter"])),
    Shape("ring", "a flat ring", (_OUT, _IN), _check_ring, lambda v: ring(v["outside"], v["inside"])),
    Shape(
        "flange",
        "a flange with bolt holes equally spaced on a circle",
        (
            _OUT,
            may("inside", "inside diameter; 0 for a blank flange"),
            need("bolt_circle", "diameter of the circle through the hole centres"),
            Param("bolts", "number of bolt holes", "count", required=True, least=1, most=200),
            need("bolt_hole", "diameter of the bolt holes"),
            Param("start_angle", "angle of the first hole from the x axis", "angle", 0.0, least=-360, most=360),
        ),
        _check_flange,
        lambda v: flange(
            v["outside"], v["bolt_circle"], v.count("bolts"), v["bolt_hole"], v["inside"], v["start_angle"]
        ),
    ),
    Shape(
        "sector",
        "a piece of a ring or of a disc",
        (
            _OUT,
            may("inside", "inside diameter; 0 for a slice of a disc"),
            Param("angle", "angle of the piece", "angle", required=True, least=0.5, most=359),
        ),
        _check_ring,
        lambda v: sector(v["outside"], v["inside"], v["angle"]),
    ),
    Shape(
        "polygon",
        "a regular polygon standing on a flat",
        (
            Param("sides", "number of sides", "count", required=True, least=3, most=60),
            may("across_flats", "twice the distance from the centre to a flat", None),
            may("across_corners", "twice the distance from the centre to a corner", None),
        ),
        _check_polygon,
        lambda v: polygon(v.count("sides"), v.numbers.get("across_flats"), v.numbers.get("across_corners")),
    ),
    Shape(
        "points",
        "a polygon by its corner points",
        (Param("points", "corner points in order, x to the right, y up", "points", required=True, most=MOST),),
        _check_points,
        lambda v: points(v.lists["points"]),
    ),
)
