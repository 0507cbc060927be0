"""What is drawn of a template: the picture with the true result and every mark, and the sheets at full scale."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import shapely
from shapely.geometry import LineString, Polygon

from lagline.records.geometry import Point
from lagline.records.setout import Area, Drawing, Stroke, Text
from lagline.setouts.ask import Given
from lagline.setouts.guide_boards import Boards, Hole
from lagline.setouts.guide_torch import Torch, both, made_for
from lagline.shapes.rolled import Mark, Rolled

ROOM = 0.075  # share of the picture that a number takes
FRAME_MM = 40.0
WIDE = 0.8  # width of a letter over the height of a capital


@dataclass(frozen=True, slots=True)
class Numbered:
    """A mark with its number, and the edge it is on."""

    number: int
    edge: str
    mark: Mark
    rolled: Rolled


def numbered(boards: Boards, outer: str) -> tuple[Numbered, ...]:
    """Return every mark of every template, numbered through."""
    out: list[Numbered] = []
    pairs = [(outer, boards.main), *((h.name, h.rolled) for h in boards.holes)]
    for name, rolled in pairs:
        if rolled is not None:
            for mark in rolled.marks:
                out.append(Numbered(len(out) + 1, name, mark, rolled))
    return tuple(out)


def _beside(n: Numbered, far: float) -> Point:
    """Where a mark's number stands: off the mark, away from the metal."""
    at = shapely.Point(n.mark.at)
    if n.mark.kind.endswith("corner"):
        # metal is missing towards it, or left away from it
        middle = Polygon(n.mark.zone).centroid
        way = 1.0 if n.mark.kind == "outer corner" else -1.0
    else:
        edge = Polygon(n.rolled.edge).exterior
        middle, way = edge.interpolate(edge.project(at)), 1.0
    dx, dy = way * (at.x - middle.x), way * (at.y - middle.y)
    size = math.hypot(dx, dy)
    if size < 1e-6:
        return (at.x, at.y)
    return (at.x + far * dx / size, at.y + far * dy / size)


def _spread(texts: list[Text], apart: float) -> tuple[Text, ...]:
    """The numbers that do not crowd each other; the table holds them all."""
    out: list[Text] = []
    for t in texts:
        if all(math.dist(t.at, o.at) >= apart for o in out):
            out.append(t)
    return tuple(out)


def _cup(rolled: Rolled, r: float) -> tuple[Stroke, ...]:
    """The cup against the middle of the longest straight of the edge."""
    ring = (*rolled.edge, rolled.edge[0])
    a, b = max(itertools.pairwise(ring), key=lambda s: math.dist(*s))
    h = math.atan2(b[1] - a[1], b[0] - a[0])
    middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    board = Polygon(rolled.edge)
    for side in (h + math.pi / 2, h - math.pi / 2):
        c = (middle[0] + r * math.cos(side), middle[1] + r * math.sin(side))
        if board.contains(shapely.Point(c)) == rolled.inside:
            return tuple(
                Stroke("mark", tuple((float(x), float(y)) for x, y in shapely.Point(c).buffer(q).exterior.coords))
                for q in (r, min(1.0, r / 6))
            )
    return ()


def _around(ring: tuple[Point, ...], by: float) -> tuple[Point, ...]:
    xs, ys = zip(*ring, strict=True)
    left, bottom, right, top = min(xs) - by, min(ys) - by, max(xs) + by, max(ys) + by
    return ((left, bottom), (right, bottom), (right, top), (left, top))


def picture(boards: Boards, marks: tuple[Numbered, ...], t: Torch) -> Drawing:
    """Return the part as it comes off (heavy) over the drawing (dashed), the board on it, the marks numbered."""
    main = boards.main
    drawn = tuple(boards.loop.points(0.02))
    openings = tuple(h.rolled.edge for h in boards.holes if h.rolled is not None and h.way == "opening")
    gone = tuple(h.rolled.left for h in boards.holes if h.rolled is not None)
    if main.inside:
        areas = (
            Area("metal", _around(main.edge, 1.6 * FRAME_MM), (main.left,)),
            Area("guide", _around(main.edge, FRAME_MM), (main.edge,)),
        )
    else:
        areas = (Area("metal", main.left, gone), Area("guide", main.edge, openings))
    strokes = [Stroke("hidden", drawn, closed=True), Stroke("cut", main.left, closed=True)]
    for h in boards.holes:
        if h.rolled is not None:
            strokes += [
                Stroke("hidden", tuple(h.loop.points(0.02)), closed=True),
                Stroke("cut", h.rolled.left, closed=True),
            ]
            if h.way == "own template":
                strokes.append(Stroke("guide", h.rolled.edge, closed=True))
        else:
            strokes += [Stroke("edge", tuple(h.loop.points(0.02)), closed=True), *_cross(h.centre, 0.7 * h.size_mm)]
    strokes += _cup(main, t.r)
    xs, ys = zip(*(p for a in areas for p in a.points), strict=True)
    size = max(max(xs) - min(xs), max(ys) - min(ys))
    words = [Text(_beside(n, 0.6 * ROOM * size), str(n.number)) for n in marks]
    return Drawing(
        "The part as it comes off, the drawing dashed, the template on it", areas, tuple(strokes),
        _spread(words, ROOM * size),
    )  # fmt: skip


def _cross(at: Point, arm: float) -> tuple[Stroke, ...]:
    x, y = at
    return (
        Stroke("centre", ((x - arm, y), (x + arm, y))),
        Stroke("centre", ((x, y - arm), (x, y + arm))),
    )


def _words(lines: tuple[str, ...], room: shapely.Geometry) -> tuple[Text, ...]:
    """Words in the widest clear place of an area, as large as fits, up to 4 mm."""
    if room.is_empty:
        return ()
    circle: LineString = shapely.maximum_inscribed_circle(room, tolerance=0.5)
    (x, y), radius = circle.coords[0], circle.length
    size = min(4.0, 1.7 * radius / (WIDE * max(map(len, lines))))
    if size < 1.2:
        return ()
    step = 2.0 * size
    top = y + step * (len(lines) - 1) / 2
    return tuple(Text((x, top - i * step), line, 0.0, size) for i, line in enumerate(lines))


def sheets(name: str, boards: Boards, marks: tuple[Numbered, ...], t: Torch, given: Given) -> tuple[Drawing, ...]:
    """Return the templates at full scale: the board first, then each opening that has no room in it."""
    openings = [h for h in boards.holes if h.way == "opening"]
    led = [h.name for h in openings]
    out = [_board_sheet(name, boards, [n for n in marks if n.rolled is boards.main or n.edge in led], t, given)]
    for hole, times in boards.own:
        own = [n for n in marks if n.rolled is hole.rolled]
        out.append(_opening_sheet(name, hole, times, own, t, given))
    return tuple(out)


def _label(name: str, inside: bool, t: Torch, given: Given) -> tuple[str, ...]:
    side = (
        "INSIDE the opening; the board lies outside the line" if inside else "OUTSIDE; the board lies inside the line"
    )
    return (
        f"Template {name}: made for {made_for(t, given)}",
        f"Edge {both(t.kept.value, given)} from the cut line (dashed), on the metal that is kept. The cup rubs {side}.",
        "Hold it down with magnets, screws in the drop, or clamps out of the cup's way; no thinner than the cup needs.",
    )


def _numbers(marks: list[Numbered]) -> tuple[Text, ...]:
    return _spread([Text(_beside(n, 4.0), str(n.number), 0.0, 2.5) for n in marks], 7.0)


def _board_sheet(name: str, boards: Boards, marks: list[Numbered], t: Torch, given: Given) -> Drawing:
    main = boards.main
    openings = [h for h in boards.holes if h.way == "opening" and h.rolled is not None]
    strokes = [Stroke("cut", main.edge, closed=True)]
    strokes += [Stroke("cut", h.rolled.edge, closed=True) for h in openings if h.rolled is not None]
    strokes.append(Stroke("hidden", tuple(boards.loop.points(0.005)), closed=True))
    strokes += [Stroke("hidden", tuple(h.loop.points(0.005)), closed=True) for h in openings]
    taken: list[shapely.Geometry] = [Polygon(h.rolled.edge).buffer(2.0) for h in openings if h.rolled is not None]
    for at in (h.centre for h in boards.holes if h.way != "opening"):
        strokes += _cross(at, 8.0)
        taken.append(shapely.Point(at).buffer(9.0))
    if main.inside:
        strokes += _cross(_middle(main), 8.0)
        taken.append(shapely.Point(_middle(main)).buffer(9.0))
    room = Polygon(main.edge).difference(shapely.union_all(taken))
    cup = "cup inside this edge" if main.inside else "cup outside this edge"
    texts = (*_words((name, cup), room.buffer(-1.0)), *_numbers(marks))
    return Drawing(f"Template {name}", (), tuple(strokes), texts, (), _label(name, main.inside, t, given))


def _middle(rolled: Rolled) -> Point:
    c = Polygon(rolled.edge).centroid
    return (float(c.x), float(c.y))


def _opening_sheet(name: str, hole: Hole, times: int, marks: list[Numbered], t: Torch, given: Given) -> Drawing:
    assert hole.rolled is not None
    title = f"{name}, {hole.name}"
    xs, ys = zip(*hole.rolled.edge, strict=True)
    arm = max(max(xs) - min(xs), max(ys) - min(ys)) / 2 + 12
    strokes = (
        Stroke("cut", hole.rolled.edge, closed=True),
        Stroke("hidden", tuple(hole.loop.points(0.005)), closed=True),
        *_cross(hole.centre, arm),
    )
    used = f"Used {times} times: on every {hole.kind} of this size." if times > 1 else "Used once."
    below = min(ys) - 20
    texts = (Text((hole.centre[0], below), f"{title}: cup inside"), *_numbers(marks))
    return Drawing(
        f"Template {title}",
        (),
        strokes,
        texts,
        (),
        (*_label(title, True, t, given), f"{used} Board 2 in wider all round."),
    )
