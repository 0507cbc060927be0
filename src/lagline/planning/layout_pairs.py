"""Two copies of a part, one turned half way round, laid together so that their boxes are smaller: triangles to
rectangles, angles into each other, the edges between them a kerf apart where one cut may make both."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import Polygon

from lagline.planning.layout_lines import facing
from lagline.planning.layout_shapes import Lie
from lagline.planning.layout_units import (
    FACING_MM,
    SLANT_MM,
    BadSide,
    Look,
    Sides,
    Unit,
    edge_of,
    sides_of,
    slanting,
    straight_edges,
)
from lagline.planning.passes import SHORTEST_STRAIGHT_MM
from lagline.records.geometry import Line, Move, Outline
from lagline.records.plan import Blank

EDGES = 6  # longest straight edges that are tried between two copies
SAVES = 0.85  # a pair is worth while when its box is smaller than this share of two boxes
TURN_RAD = 1e-9
NEAR_MM = 1e-6
THIN_MM = 2e-4  # how far a copy is shrunk to ask whether areas, not only edges, meet
GAP_SLACK_MM = 1e-3
Shift = tuple[float, float]


@dataclass(frozen=True, slots=True)
class _Two:
    """A lie and its counterpart turned half way round, both with their outlines at the origin."""

    one: Lie
    other: Lie
    outline: Outline
    turned: Outline


def pair_units(lies: tuple[Lie, ...], blank: Blank, gap_mm: float, kerf_mm: float, bad_side: BadSide) -> list[Unit]:
    """Return the pairs worth laying in bands, smallest box first; one for each way the pair's box may lie."""
    best: dict[tuple[float, float], Unit] = {}
    for lie in lies:
        other = _half_turn(lie, lies)
        if other is None:
            continue
        two = _Two(lie, other, lie.move(0, 0).outline(blank.cut), other.move(0, 0).outline(blank.cut))
        unit = _closest(two, blank, gap_mm, kerf_mm, bad_side)
        if unit is None or unit.width * unit.height > SAVES * 2 * lie.width * lie.height:
            continue
        box = (round(unit.width, 3), round(unit.height, 3))
        if box not in best:
            best[box] = unit
    return sorted(best.values(), key=lambda u: (round(u.width * u.height, 3), u.height))[:4]


def _half_turn(lie: Lie, lies: tuple[Lie, ...]) -> Lie | None:
    """Return the lie turned half way round from this one, None when it is not allowed or looks the same."""
    for k in lies:
        if k.mirror == lie.mirror and abs(math.remainder(k.turn - lie.turn - math.pi, 2 * math.pi)) < TURN_RAD:
            return k
    return None


def _closest(two: _Two, blank: Blank, gap_mm: float, kerf_mm: float, bad_side: BadSide) -> Unit | None:
    """Return the pair with the smallest box among those with edges just a kerf (or the gap) apart."""
    look = edge_of(two.one.part, blank, bad_side)
    found: list[tuple[float, float, Shift, float]] = []
    for apart in dict.fromkeys((kerf_mm, gap_mm)) if 0 < kerf_mm < gap_mm else (gap_mm,):
        for dx, dy in _shifts(two, apart):
            width = max(two.one.width, dx + two.one.width) - min(0.0, dx)
            height = max(two.one.height, dy + two.one.height) - min(0.0, dy)
            found.append((round(width * height, 3), round(height, 3), (dx, dy), apart))
    for area, _, shift, apart in sorted(found):
        if area > SAVES * 2 * two.one.width * two.one.height:
            return None
        unit = _pair(two, shift, apart, gap_mm, kerf_mm, look)
        if unit is not None:
            return unit
    return None


def _shifts(two: _Two, apart: float) -> list[Shift]:
    """Return where the turned copy may go: one straight edge that far from its counterpart, and held along it by a
    second such edge, or by the copies' boxes lining up."""
    edges = sorted(straight_edges(two.outline), key=lambda e: -e[1].length)[:EDGES]
    others = dict(straight_edges(two.turned))
    held = []
    for name, line in edges:
        if name in others:
            h = line.heading_start
            n = (math.sin(h), -math.cos(h))
            q, p = others[name].start, line.start
            held.append((n, apart - (q[0] - p[0]) * n[0] - (q[1] - p[1]) * n[1]))
    along = [((1.0, 0.0), 0.0), ((0.0, 1.0), 0.0)]
    out = []
    for (n, a), (m, b) in [*itertools.combinations(held, 2), *itertools.product(held, along)]:
        det = n[0] * m[1] - n[1] * m[0]
        if abs(det) > 1e-6:
            out.append(((a * m[1] - b * n[1]) / det, (n[0] * b - m[0] * a) / det))
    return out


def _pair(two: _Two, shift: Shift, apart: float, gap_mm: float, kerf_mm: float, look: Look) -> Unit | None:
    """Return the pair as a cell, None when the copies come too near each other."""
    move = Move(*shift)
    turned = move.outline(two.turned)
    a, b = two.one.shape, shapely.transform(two.other.shape, lambda p: p + np.array(shift))
    if a.distance(b) < apart - NEAR_MM or a.buffer(-THIN_MM, join_style="mitre").intersects(b):
        return None
    between: list[Line] = []
    if apart < gap_mm:
        between = _between(two.outline, turned, apart, look)
        if not between or not _only_there(a, b, between, gap_mm):
            return None
    x0, y0 = min(0.0, shift[0]), min(0.0, shift[1])
    x1, y1 = max(two.one.width, shift[0] + two.one.width), max(two.one.height, shift[1] + two.one.height)
    box = (x0, y0, x1, y1)
    slant = 2 * len(slanting(two.outline)) - sum(_slants(s) and s.length >= SHORTEST_STRAIGHT_MM for s in between)
    lies = ((two.one, -x0, -y0), (two.other, shift[0] - x0, shift[1] - y0))
    sides = _both(sides_of(two.outline, box, look), sides_of(turned, box, look))
    boxes = [(x, y, x + two.one.width, y + two.one.height) for x, y in ((0.0, 0.0), shift)]
    for own, outline in zip(boxes, (two.outline, turned), strict=True):
        edges = sides_of(outline, own, look)
        for side in range(4):
            # an edge just behind the side would be nearer than the gap to what lies a kerf beyond it
            if edges[side] and NEAR_MM < abs(own[side] - box[side]) < gap_mm - kerf_mm:
                sides = _alone(sides, side)
    return Unit(two.one.part, lies, x1 - x0, y1 - y0, sides, slant)


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


def _slants(line: Line) -> bool:
    return min(abs(line.end[0] - line.start[0]), abs(line.end[1] - line.start[1])) > SLANT_MM


def _alone(sides: Sides, side: int) -> Sides:
    """Return the sides, one of them no longer to be shared."""
    left, bottom, right, top = (
        tuple(replace(s, square=s.square and k != side) for s in t) for k, t in enumerate(sides)
    )
    return left, bottom, right, top


def _both(one: Sides, other: Sides) -> Sides:
    left, bottom, right, top = (
        tuple(sorted((*s, *t), key=lambda k: (k.low, k.high))) for s, t in zip(one, other, strict=True)
    )
    return left, bottom, right, top
