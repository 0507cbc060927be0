"""Two copies of a part laid together so that their boxes are smaller: triangles to rectangles, angles into each other.

One copy lies as the other, or turned half way round; the edges between them are a kerf apart where one cut may make
both.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from lagline.planning.layout_lines import facing
from lagline.planning.layout_shapes import Lie
from lagline.planning.layout_units import (
    FACING_MM,
    BadSide,
    Look,
    Sides,
    Unit,
    edge_of,
    sides_of,
    straight_edges,
    unit_of,
)
from lagline.records.geometry import Line, Move, Outline
from lagline.records.plan import Blank

EDGES = 6  # longest straight edges that are tried between two copies
PLACES = 40  # places of one copy against the other that are tried, smallest box first
PARALLEL_RAD = 1e-9
SAVES = 0.85  # a pair is worth while when its box is smaller than this share of two boxes
TURN_RAD = 1e-9
NEAR_MM = 1e-6
THIN_MM = 2e-4  # how far a copy is shrunk to ask whether areas, not only edges, meet
GAP_SLACK_MM = 1e-3
Shift = tuple[float, float]


@dataclass(frozen=True, slots=True)
class _Two:
    """A lie and the one laid against it, both with their outlines at the origin."""

    one: Lie
    other: Lie
    outline: Outline
    against: Outline


def pair_units(lies: tuple[Lie, ...], blank: Blank, gap_mm: float, kerf_mm: float, bad_side: BadSide) -> list[Unit]:
    """Return the pairs worth laying in bands, smallest box first; one for each way the pair's box may lie."""
    best: dict[tuple[float, float], Unit] = {}
    seen: list[Lie] = []
    for lie in lies:
        if lie.shape.area > SAVES * lie.width * lie.height or any(_half_turn(lie, k) for k in seen):
            continue
        seen.append(lie)
        outline = lie.move(0, 0).outline(blank.cut)
        turned = next((k for k in lies if _half_turn(lie, k)), None)
        pairs = [_Two(lie, lie, outline, outline)]
        pairs += [_Two(lie, turned, outline, turned.move(0, 0).outline(blank.cut))] if turned else []
        unit = _closest(pairs, blank, gap_mm, kerf_mm, bad_side)
        if unit is not None:
            best.setdefault((round(unit.width, 3), round(unit.height, 3)), unit)
    return sorted(best.values(), key=lambda u: (round(u.width * u.height, 3), u.height))[:4]


def _half_turn(one: Lie, other: Lie) -> bool:
    """Whether one lies as the other does, turned half way round."""
    return one.mirror == other.mirror and abs(math.remainder(one.turn - other.turn - math.pi, 2 * math.pi)) < TURN_RAD


def _closest(pairs: list[_Two], blank: Blank, gap_mm: float, kerf_mm: float, bad_side: BadSide) -> Unit | None:
    """Return the pair with the smallest box among those with edges just a kerf (or the gap) apart, None when none is
    worth while."""
    one = pairs[0].one
    look, most = edge_of(one.part, blank, bad_side), SAVES * 2 * one.width * one.height
    found: list[tuple[float, float, int, Shift, float]] = []
    for apart in (kerf_mm, gap_mm) if 0 < kerf_mm < gap_mm else (gap_mm,):
        for n, two in enumerate(pairs):
            for dx, dy in _shifts(two, apart):
                width, height = one.width + abs(dx), one.height + abs(dy)
                if 2 * one.shape.area < width * height < most:
                    found.append((round(width * height, 3), round(height, 3), n, (dx, dy), apart))
    thin = one.shape.buffer(-THIN_MM, join_style="mitre")
    shapely.prepare(thin)
    for _, _, n, shift, apart in sorted(found)[:PLACES]:
        unit = _pair(pairs[n], thin, shift, (apart, gap_mm, kerf_mm), look)
        if unit is not None:
            return unit
    return None


def _shifts(two: _Two, apart: float) -> list[Shift]:
    """Return where the second copy may go: a straight edge of it that far from one of the first, held along it by a
    second such pair of edges, or by the copies' boxes lining up."""
    edges, others = (
        [s for _, s in sorted(straight_edges(o), key=lambda e: -e[1].length)[:EDGES]]
        for o in (two.outline, two.against)
    )
    held: list[tuple[Shift, float]] = []
    for line, across in itertools.product(edges, others):
        h = line.heading_start
        if abs(math.remainder(across.heading_start - h - math.pi, 2 * math.pi)) < PARALLEL_RAD:
            n = (math.sin(h), -math.cos(h))
            (qx, qy), (px, py) = across.start, line.start
            held.append((n, apart - (qx - px) * n[0] - (qy - py) * n[1]))
    along = [((1.0, 0.0), 0.0), ((0.0, 1.0), 0.0)]
    out = []
    for (n, a), (m, b) in [*itertools.combinations(held, 2), *itertools.product(held, along)]:
        det = n[0] * m[1] - n[1] * m[0]
        if abs(det) > 1e-6:
            out.append(((a * m[1] - b * n[1]) / det, (n[0] * b - m[0] * a) / det))
    return out


def _pair(
    two: _Two, thin: BaseGeometry, shift: Shift, distances_mm: tuple[float, float, float], look: Look
) -> Unit | None:
    """Return the pair as a cell, None when the copies come too near each other.

    ``thin`` is the first copy, shrunk a little; ``distances_mm`` are how far apart they lie, gap and kerf.
    """
    apart, gap_mm, kerf_mm = distances_mm
    a, b = two.one.shape, shapely.transform(two.other.shape, lambda p: p + np.array(shift))
    if thin.intersects(b) or a.distance(b) < apart - NEAR_MM:
        return None
    turned = Move(*shift).outline(two.against)
    between: list[Line] = []
    if apart < gap_mm:
        between = _between(two.outline, turned, apart, look)
        if not between or not _only_there(a, b, between, gap_mm):
            return None
    x0, y0 = min(0.0, shift[0]), min(0.0, shift[1])
    x1, y1 = max(two.one.width, shift[0] + two.one.width), max(two.one.height, shift[1] + two.one.height)
    box = (x0, y0, x1, y1)
    lies = ((two.one, -x0, -y0), (two.other, shift[0] - x0, shift[1] - y0))
    unit = unit_of(lies, [two.outline, turned], box, look, kerf_mm)
    boxes = [(x, y, x + two.one.width, y + two.one.height) for x, y in ((0.0, 0.0), shift)]
    for own, outline in zip(boxes, (two.outline, turned), strict=True):
        edges = sides_of(outline, own, look)
        for side in range(4):
            # an edge just behind the side would be nearer than the gap to what lies a kerf beyond it
            if edges[side] and NEAR_MM < abs(own[side] - box[side]) < gap_mm - kerf_mm:
                unit = replace(unit, sides=_alone(unit.sides, side))
    return unit


def _between(one: Outline, other: Outline, apart: float, look: Look) -> list[Line]:
    """Return the edges of the first copy that one cut makes together with the other's; none when any may not be."""
    out = []
    for e, line in straight_edges(one, FACING_MM):
        for f, across in straight_edges(other, FACING_MM):
            if facing(line, across, apart):
                (square, bad, _), (other_square, other_bad, _) = look(e), look(f)
                if not (square and other_square and (bad or other_bad)):
                    return []
                out.append(line)
    return out


def _only_there(a: Polygon, b: Polygon, between: list[Line], gap_mm: float) -> bool:
    """Whether the copies are nearer than the gap only along those edges."""
    near = shapely.get_parts(a.intersection(b.buffer(gap_mm - GAP_SLACK_MM)))
    edges = shapely.MultiLineString([[s.start, s.end] for s in between])
    return all(g.distance(edges) < NEAR_MM for g in near if not g.is_empty)


def _alone(sides: Sides, side: int) -> Sides:
    """Return the sides, one of them no longer to be shared."""
    left, bottom, right, top = (
        tuple(replace(s, square=s.square and k != side) for s in t) for k, t in enumerate(sides)
    )
    return left, bottom, right, top
