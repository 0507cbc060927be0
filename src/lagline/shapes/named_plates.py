"""Named shapes with square sides: rectangle, strip, gusset, base plate, slotted plate.

Lengths are millimetres and keep the names they have in a job file. Every shape stands with its bottom left corner
at the origin; edges run bottom, right, top, left, and what is cut from a corner is named after the corner.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from lagline.records.geometry import Arc, Line, Loop, Outline, Point, Segment
from lagline.shapes.form import box, circle, lines, round_box
from lagline.shapes.named_values import CORNERS, Faults, Param, Shape, Values, may, need, show

# Each corner: its place in half sizes, the way along the edge that arrives, the way along the edge that leaves.
_CORNER: dict[str, tuple[Point, Point, Point]] = {
    "bottom-left": ((0, 0), (0, -1), (1, 0)),
    "bottom-right": ((1, 0), (1, 0), (0, 1)),
    "top-right": ((1, 1), (0, 1), (-1, 0)),
    "top-left": ((0, 1), (-1, 0), (0, -1)),
}


def rectangle(
    width: float,
    height: float,
    corner_radius: float = 0.0,
    chamfer: float = 0.0,
    cope_width: float = 0.0,
    cope_height: float = 0.0,
    cope_corners: Sequence[str] = ("top-right",),
    chamfer_corners: Sequence[str] = CORNERS,
) -> Outline:
    """Return a rectangle with corners coped square, chamfered or rounded.

    A corner named in ``cope_corners`` is coped when both cope sizes are above zero; of the others those in
    ``chamfer_corners`` are chamfered when the chamfer is; the rest take the radius. Edges ``bottom``, ``right``,
    ``top``, ``left``; a corner's own edges are named after it: ``top-right`` (chamfer or radius), ``top-right-cope-1``
    and ``top-right-cope-2``.
    """
    cut: list[tuple[list[Segment], list[str], Point, Point]] = []
    for name in CORNERS:
        (fx, fy), (ax, ay), (bx, by) = _CORNER[name]
        x, y = fx * width, fy * height

        def back(d: float, x: float = x, y: float = y, ax: float = ax, ay: float = ay) -> Point:
            return (x - ax * d, y - ay * d)

        def on(d: float, x: float = x, y: float = y, bx: float = bx, by: float = by) -> Point:
            return (x + bx * d, y + by * d)

        if cope_width > 0 and cope_height > 0 and name in cope_corners:
            arrive, leave = (cope_width, cope_height) if ax else (cope_height, cope_width)
            p, q = back(arrive), on(leave)
            inner = (p[0] + bx * leave, p[1] + by * leave)
            cut.append(([Line(p, inner), Line(inner, q)], [f"{name}-cope-1", f"{name}-cope-2"], p, q))
        elif chamfer > 0 and name in chamfer_corners:
            p, q = back(chamfer), on(chamfer)
            cut.append(([Line(p, q)], [name], p, q))
        elif corner_radius > 0:
            p, q, r = back(corner_radius), on(corner_radius), corner_radius
            centre = (p[0] + bx * r, p[1] + by * r)
            cut.append(([Arc(centre, r, math.atan2(p[1] - centre[1], p[0] - centre[0]), math.pi / 2)], [name], p, q))
        else:
            cut.append(([], [], (x, y), (x, y)))
    segments: list[Segment] = []
    names: list[str] = []
    for i, side in enumerate(("bottom", "right", "top", "left")):
        start, (corner, words, end, _) = cut[i][3], cut[(i + 1) % 4]
        if math.dist(start, end) > 1e-6:  # two radii of half the side leave no straight
            segments.append(Line(start, end))
            names.append(side)
        segments += corner
        names += words
    return Outline(Loop(tuple(segments), tuple(names)))


def strip(length: float, width: float, hole: float = 0.0, hole_from_end: float = 0.0, ends: str = "square") -> Outline:
    """Return a strip with square or round ends and, if asked, a hole near each end.

    Edges ``bottom``, ``right``, ``top``, ``left``, ``hole-left``, ``hole-right``.
    """
    mid = (length / 2, width / 2)
    outer = round_box(mid, length, width) if ends == "round" else box(mid, length, width)
    if hole <= 0:
        return Outline(outer)
    left, right = (hole_from_end, width / 2), (length - hole_from_end, width / 2)
    return Outline(outer, (circle(left, hole, "hole-left"), circle(right, hole, "hole-right")))


def gusset(leg_across: float, leg_up: float, snipe: float = 0.0, nose: float = 0.0) -> Outline:
    """Return a right-angled gusset with its square corner bottom left.

    ``snipe`` cuts the square corner off by that much along both legs (clear of the weld in the corner); ``nose`` is
    the square height left at both tips. Edges ``bottom``, ``nose-right``, ``slope``, ``nose-top``, ``left``, ``snipe``.
    """
    pts: list[Point] = [(snipe, 0.0), (leg_across, 0.0)]
    names = ["bottom"]
    if nose > 0:
        pts += [(leg_across, nose), (nose, leg_up)]
        names += ["nose-right", "slope", "nose-top"]
    else:
        names += ["slope"]
    pts.append((0.0, leg_up))
    names.append("left")
    if snipe > 0:
        pts.append((0.0, snipe))
        names.append("snipe")
    return Outline(lines(pts, names))


def _spread(n: int, size: float, edge: float, pitch: float) -> list[float]:
    """Centres of n holes along a side: by pitch about the middle when given, else evenly between edge distances."""
    if n == 1:
        return [size / 2]
    step = pitch if pitch > 0 else (size - 2 * edge) / (n - 1)
    return [size / 2 + step * (i - (n - 1) / 2) for i in range(n)]


def base_plate(
    width: float,
    height: float,
    hole: float = 0.0,
    rows: int = 2,
    columns: int = 2,
    edge_across: float = 0.0,
    edge_up: float = 0.0,
    pitch_across: float = 0.0,
    pitch_up: float = 0.0,
    pattern: str = "all",
    opening: float = 0.0,
    opening_width: float = 0.0,
    opening_height: float = 0.0,
    corner_radius: float = 0.0,
) -> Outline:
    """Return a base plate with holes in rows and columns and, if asked, an opening in the middle.

    Holes sit at edge distances (``edge_up`` as ``edge_across`` when not given) or at pitches about the middle;
    ``pattern`` ``rim`` leaves out those not in an outer row or column. Edges as of a rectangle, then ``hole-1`` (from
    bottom left, row by row), ``opening``, or ``opening-bottom`` and so on for a square one.
    """
    holes: list[Loop] = []
    if hole > 0:
        xs = _spread(columns, width, edge_across, pitch_across)
        ys = _spread(rows, height, edge_up or edge_across, pitch_up)
        for j, y in enumerate(ys):
            for i, x in enumerate(xs):
                if pattern == "all" or j in (0, rows - 1) or i in (0, columns - 1):
                    holes.append(circle((x, y), hole, f"hole-{len(holes) + 1}"))
    mid = (width / 2, height / 2)
    if opening > 0:
        holes.append(circle(mid, opening, "opening"))
    elif opening_width > 0 and opening_height > 0:
        holes.append(box(mid, opening_width, opening_height, "opening-"))
    return Outline(rectangle(width, height, corner_radius).outer, tuple(holes))


def slotted_plate(
    width: float,
    height: float,
    slot_length: float,
    slot_width: float,
    slots: int = 1,
    pitch: float = 0.0,
    direction: str = "across",
    ends: str = "round",
) -> Outline:
    """Return a plate with a row of equal slots about its middle.

    ``slot_length`` is overall. Slots lie ``across`` (along the width, stacked upwards) or stand ``up`` (along the
    height, side by side), ``pitch`` apart centre to centre. Edges as of a rectangle, then ``slot-1-bottom``,
    ``slot-1-right``, ``slot-1-top``, ``slot-1-left`` and on.
    """
    make = round_box if ends == "round" else box
    holes = []
    for i in range(slots):
        d = pitch * (i - (slots - 1) / 2)
        if direction == "across":
            holes.append(make((width / 2, height / 2 + d), slot_length, slot_width, f"slot-{i + 1}-"))
        else:
            holes.append(make((width / 2 + d, height / 2), slot_width, slot_length, f"slot-{i + 1}-"))
    return Outline(box((width / 2, height / 2), width, height), tuple(holes))


def _check_corners(v: Values, f: Faults) -> None:
    w, h = v["width"], v["height"]
    cope_w, cope_h = v["cope_width"], v["cope_height"]
    f.unless(
        (cope_w > 0) == (cope_h > 0),
        "cope_width" if cope_w <= 0 else "cope_height",
        f"a cope needs both sizes, {show(cope_w)} by {show(cope_h)} mm given",
        "cope_width and cope_height above 0, or neither",
    )
    takes: dict[str, tuple[float, float]] = {}
    for name in CORNERS:
        if cope_w > 0 and cope_h > 0 and name in v.corners["cope_corners"]:
            takes[name] = (cope_w, cope_h)
        elif v["chamfer"] > 0 and name in v.corners["chamfer_corners"]:
            takes[name] = (v["chamfer"],) * 2
        else:
            takes[name] = (v["corner_radius"],) * 2
    for side, a, b, axis, size in (
        ("bottom", "bottom-left", "bottom-right", 0, w),
        ("top", "top-left", "top-right", 0, w),
        ("left", "bottom-left", "top-left", 1, h),
        ("right", "bottom-right", "top-right", 1, h),
    ):
        taken = takes[a][axis] + takes[b][axis]
        # two radii of half the side are a round end; two copes or chamfers that meet leave a point or nothing
        rounded = takes[a] == takes[b] == (v["corner_radius"],) * 2 and math.isclose(taken, size)
        f.unless(
            taken < size or rounded,
            "",
            f"the corners take {show(taken)} mm of the {side} edge, which is {show(size)} mm",
            "smaller cope, chamfer or corner radius",
        )
    both = [("bottom-left", "top-right"), ("bottom-right", "top-left")]
    for a, b in both:
        coped = all(n in v.corners["cope_corners"] for n in (a, b)) and cope_w > 0 and cope_h > 0
        f.unless(
            not (coped and 2 * cope_w >= w and 2 * cope_h >= h),
            "cope_width",
            f"copes of {show(cope_w)} by {show(cope_h)} mm at {a} and {b} cut the part in two",
            f"under {show(w / 2)} mm wide or under {show(h / 2)} mm high",
        )


def _check_strip(v: Values, f: Faults) -> None:
    f.unless(
        v["length"] > v["width"] or v.texts["ends"] == "square",
        "length",
        f"a round-ended strip {show(v['length'])} mm long is not longer than its width {show(v['width'])} mm",
        f"over {show(v['width'])} mm",
    )
    if v["hole"] > 0:
        f.unless(
            v["hole_from_end"] > v["hole"] / 2,
            "hole_from_end",
            f"a {show(v['hole'])} mm hole {show(v['hole_from_end'])} mm from the end breaks the end",
            f"over {show(v['hole'] / 2)} mm, measured to the hole's centre",
        )


def _check_gusset(v: Values, f: Faults) -> None:
    for leg in ("leg_across", "leg_up"):
        f.unless(
            v["snipe"] + (v["nose"] if leg == "leg_up" else 0.0) < v[leg] or v["nose"] == 0 == v["snipe"],
            "snipe",
            f"a snipe of {show(v['snipe'])} mm is larger than {leg} {show(v[leg])} mm allows",
            f"under {show(v[leg])} mm less the nose",
        )
        f.unless(
            v["nose"] < v[leg],
            "nose",
            f"a nose of {show(v['nose'])} mm is not smaller than {leg} {show(v[leg])} mm",
            f"under {show(v[leg])} mm",
        )


def _check_base(v: Values, f: Faults) -> None:
    if v["hole"] > 0:
        for count, edge, pitch in (
            ("columns", "edge_across", "pitch_across"),
            ("rows", "edge_up", "pitch_up"),
        ):
            dist = v[edge] or v["edge_across"]
            f.unless(
                v.count(count) == 1 or v[pitch] > 0 or dist > v["hole"] / 2,
                edge,
                f"{v.count(count)} {count} of holes need {edge} or {pitch}; {show(dist)} mm given",
                f"{edge} over {show(v['hole'] / 2)} mm, or a {pitch}",
            )
            f.unless(
                not (v[pitch] > 0 and v[edge] > 0),
                pitch,
                f"both {edge} and {pitch} given",
                "one of them",
            )
    one = (v["opening_width"] > 0) == (v["opening_height"] > 0)
    f.unless(one, "opening_width", "a square opening needs width and height", "both, or neither")
    two = v["opening"] > 0 and v["opening_width"] > 0
    f.unless(not two, "opening", "a round and a square opening are both given", "one of them")
    f.unless(
        2 * v["corner_radius"] <= min(v["width"], v["height"]),
        "corner_radius",
        f"corners of {show(v['corner_radius'])} mm do not fit",
        f"at most {show(min(v['width'], v['height']) / 2)} mm",
    )


def _check_slots(v: Values, f: Faults) -> None:
    f.unless(
        v["slot_length"] >= v["slot_width"],
        "slot_length",
        f"a slot {show(v['slot_length'])} mm long is shorter than its width {show(v['slot_width'])} mm",
        f"at least {show(v['slot_width'])} mm, overall",
    )
    f.unless(
        v.count("slots") == 1 or v["pitch"] > v["slot_width"],
        "pitch",
        f"slots {show(v['slot_width'])} mm wide at a pitch of {show(v['pitch'])} mm run into each other",
        f"over {show(v['slot_width'])} mm",
    )


_W, _H = need("width", "size to the right"), need("height", "size upwards")
_RADIUS = may("corner_radius", "radius of the corners; 0 for sharp")


def _count(name: str, meaning: str, default: int) -> Param:
    return Param(name, meaning, "count", default, least=1, most=100)


PLATES = (
    Shape(
        "rectangle",
        "a rectangle; corners can be rounded, chamfered or coped (notched square)",
        (
            _W,
            _H,
            _RADIUS,
            may("chamfer", "chamfer along both edges; 0 for none"),
            Param("chamfer_corners", "which corners are chamfered", "corners", "all"),
            may("cope_width", "cope size to the right; 0 for none"),
            may("cope_height", "cope size upwards; 0 for none"),
            Param("cope_corners", "which corners are coped", "corners", "top-right"),
        ),
        _check_corners,
        lambda v: rectangle(
            v["width"],
            v["height"],
            v["corner_radius"],
            v["chamfer"],
            v["cope_width"],
            v["cope_height"],
            v.corners["cope_corners"],
            v.corners["chamfer_corners"],
        ),
    ),
    Shape(
        "strip",
        "a strip or strap, with a hole near each end if asked",
        (
            need("length", "length to the right"),
            need("width", "width of the strip"),
            may("hole", "diameter of the end holes; 0 for none"),
            may("hole_from_end", "from the end to the hole's centre"),
            Param("ends", "form of the ends", "choice", "square", choices=("square", "round")),
        ),
        _check_strip,
        lambda v: strip(v["length"], v["width"], v["hole"], v["hole_from_end"], v.texts["ends"]),
    ),
    Shape(
        "gusset",
        "a right-angled gusset, square corner bottom left",
        (
            need("leg_across", "leg to the right"),
            need("leg_up", "leg upwards"),
            may("snipe", "cut off the square corner along both legs; 0 for none"),
            may("nose", "square height left at both tips; 0 for sharp tips"),
        ),
        _check_gusset,
        lambda v: gusset(v["leg_across"], v["leg_up"], v["snipe"], v["nose"]),
    ),
    Shape(
        "base_plate",
        "a base plate with holes in rows and columns and an opening in the middle if asked",
        (
            _W,
            _H,
            may("hole", "diameter of the holes; 0 for none"),
            _count("rows", "rows of holes, upwards", 2),
            _count("columns", "columns of holes, to the right", 2),
            may("edge_across", "from the left and right edge to the hole centres"),
            may("edge_up", "from the bottom and top edge to the hole centres; 0 for as edge_across"),
            may("pitch_across", "between hole centres to the right, about the middle"),
            may("pitch_up", "between hole centres upwards, about the middle"),
            Param(
                "pattern", "all holes, or only those in outer rows and columns", "choice", "all", choices=("all", "rim")
            ),
            may("opening", "diameter of a round opening in the middle; 0 for none"),
            may("opening_width", "width of a square opening in the middle; 0 for none"),
            may("opening_height", "height of a square opening in the middle; 0 for none"),
            _RADIUS,
        ),
        _check_base,
        lambda v: base_plate(
            v["width"],
            v["height"],
            v["hole"],
            v.count("rows"),
            v.count("columns"),
            v["edge_across"],
            v["edge_up"],
            v["pitch_across"],
            v["pitch_up"],
            v.texts["pattern"],
            v["opening"],
            v["opening_width"],
            v["opening_height"],
            v["corner_radius"],
        ),
    ),
    Shape(
        "slotted_plate",
        "a plate with a row of equal slots about its middle",
        (
            _W,
            _H,
            need("slot_length", "overall length of a slot"),
            need("slot_width", "width of a slot"),
            _count("slots", "number of slots", 1),
            may("pitch", "between slot centres"),
            Param("direction", "slots lie across or stand up", "choice", "across", choices=("across", "up")),
            Param("ends", "form of the slot ends", "choice", "round", choices=("round", "square")),
        ),
        _check_slots,
        lambda v: slotted_plate(
            v["width"],
            v["height"],
            v["slot_length"],
            v["slot_width"],
            v.count("slots"),
            v["pitch"],
            v.texts["direction"],
            v.texts["ends"],
        ),
    ),
)
