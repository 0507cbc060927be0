"""What a torch leaves when its cup rolls round a template, and where that is not the drawing.

R is the cup's radius, k the kerf, d = R - k/2. A template is the drawing shrunk by d (a hole grown by d); the tip's
centre runs R off its edge, and the kerf eats k/2 to either side. The metal left is the drawing opened by d, then closed
by k/2: salient corners and radii under d come out with radius d, hollow ones under k/2 with k/2, all else as drawn.

Glossary
--------
salient : where the metal comes to a corner (an outside corner, a tongue)
hollow  : where the metal goes round a corner (a notch, the corner of a window)
mark    : a place where what comes off is not the drawing
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from lagline.records.geometry import Loop, Point
from lagline.shapes.reach import solid
from lagline.shapes.region import loop_polygon, pieces

TELL_MM = 0.03  # a difference under this is none
CORNER_DEG = 5.0  # a smaller turn is a smooth join to a hand; common practice, no source
TOGETHER_MM = 0.5  # differences nearer than this are one place
QUAD = 64


@dataclass(frozen=True, slots=True)
class Mark:
    """One place where the part differs from the drawing.

    ``kind`` is ``outer corner``, ``outer radius`` or ``tongue`` (metal missing), ``inner corner`` or ``notch`` (metal
    left). ``at`` is the corner, or the middle of the place; ``deep_mm`` how far the edge is off; ``zone`` holds the
    place; ``angle_deg`` is the corner's angle measured in the metal, 0 where there is none.
    """

    kind: str
    at: Point
    deep_mm: float
    zone: tuple[Point, ...]
    angle_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class Rolled:
    """A template for one loop: its edge, what it leaves, and where that is off. ``inside``: the cup runs in an opening.

    ``left`` bounds the metal that is kept (outside) or the hole that is made (inside).
    """

    inside: bool
    edge: tuple[Point, ...]
    left: tuple[Point, ...]
    marks: tuple[Mark, ...]


def _ring(p: Polygon) -> tuple[Point, ...]:
    return tuple((float(x), float(y)) for x, y in p.exterior.simplify(0.002).coords[:-1])


def _grown(area: BaseGeometry, by: float) -> BaseGeometry:
    return area.buffer(by, quad_segs=QUAD)


def roll(loop: Loop, cup_mm: float, kerf_mm: float, *, inside: bool) -> Rolled | None:
    """Return the template of a loop, None when it has no room: the part (or the hole) is too narrow everywhere.

    Parameters
    ----------
    loop : the drawn edge; outer loops counter-clockwise and holes clockwise, so that metal is on the left
    cup_mm, kerf_mm : cup radius R and kerf k [mm], R > k/2
    inside : the cup runs inside an opening (a hole is kept) rather than round a board (the part is kept)

    Where the template falls apart the largest piece is taken, and what the others would have led is marked.
    """
    d = cup_mm - kerf_mm / 2
    want = loop_polygon(loop)
    boards = pieces(_grown(want, d if inside else -d))
    if not boards:
        return None
    board = solid(boards[0])
    paths = pieces(_grown(board, -cup_mm if inside else cup_mm))
    if not paths:
        return None
    path = solid(paths[0])
    got = pieces(_grown(path, kerf_mm / 2 if inside else -kerf_mm / 2))
    if not got:
        return None
    left = solid(got[0])
    return Rolled(inside, _ring(board), _ring(left), _marks(loop, want, left, d, kerf_mm / 2, inside))


def shifted(rolled: Rolled, dx: float, dy: float) -> Rolled:
    """Return a template moved along, its marks with it [mm]."""
    if dx == 0 and dy == 0:
        return rolled

    def move(ring: tuple[Point, ...]) -> tuple[Point, ...]:
        return tuple((x + dx, y + dy) for x, y in ring)

    marks = tuple(replace(m, at=move((m.at,))[0], zone=move(m.zone)) for m in rolled.marks)
    return Rolled(rolled.inside, move(rolled.edge), move(rolled.left), marks)


def _marks(loop: Loop, want: Polygon, got: Polygon, d: float, half: float, inside: bool) -> tuple[Mark, ...]:
    more = got.difference(want.buffer(TELL_MM))
    less = want.buffer(-TELL_MM).difference(got)
    missing, extra = (more, less) if inside else (less, more)
    corners = _corners(loop)
    out: list[Mark] = []
    for lost, area in ((True, missing), (False, extra)):
        for zone in _places(area):
            out.append(_mark(zone, lost, want, got, corners, d if lost else half))
    return tuple(sorted(out, key=lambda m: (m.at[1], m.at[0])))


def _places(area: BaseGeometry) -> tuple[Polygon, ...]:
    """Connected places of a difference, those close together as one."""
    found = pieces(area)
    if not found:
        return ()
    groups = pieces(shapely.union_all([f.buffer(TOGETHER_MM / 2) for f in found]))
    return tuple(solid(g) for g in groups)


def _corners(loop: Loop) -> tuple[tuple[Point, float], ...]:
    """Sharp corners of a loop with their turn [rad]: salient left, hollow right."""
    if len(loop.segments) < 2:
        return ()
    least = math.radians(CORNER_DEG)
    return tuple((s.start, t) for s, t in zip(loop.segments, loop.turns(), strict=True) if abs(t) > least)


def _mark(
    zone: Polygon, lost: bool, want: Polygon, got: Polygon, corners: tuple[tuple[Point, float], ...], radius: float
) -> Mark:
    ring = _ring(zone)
    points = shapely.points(ring)
    off = [shapely.distance(points, g.exterior) for g in (want, got)]
    deep = max(0.0, float(max(o.max() for o in off)) - TOGETHER_MM / 2) + TELL_MM
    mine = [(p, t) for p, t in corners if (t > 0) == lost and zone.buffer(TELL_MM * 2).covers(shapely.Point(p))]
    if len(mine) == 1:
        (at, turn), reach = mine[0], 0.0
        # the rounding of a lone corner ends where its arc touches the sides
        reach = radius * math.tan(abs(turn) / 2) if abs(turn) < math.pi - 1e-6 else math.inf
        far = max(math.dist(at, p) for p in ring)
        if far <= 1.5 * reach + TOGETHER_MM:
            inner = math.degrees(math.pi - turn)
            return Mark("outer corner" if lost else "inner corner", at, deep, ring, inner)
    middle = zone.representative_point()
    at = (float(middle.x), float(middle.y))
    if not lost:
        return Mark("notch", at, deep, ring)
    # what a rounder edge loses is thin beside a lost tongue
    return Mark("outer radius" if not mine and deep < radius / 2 else "tongue", at, deep, ring)
