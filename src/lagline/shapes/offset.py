"""Parallel curves with their corners: allowance, kerf centre, template edge, all from one routine.

Positive amounts move a segment to the right of its travel, which is away from the material for an outline's loops
(outer loops run counter-clockwise, holes clockwise).

Glossary
--------
gap corner  : the moved segments no longer touch; each is carried on straight until they meet
tight corner: the moved segments cross; each is trimmed back to the crossing
lost        : a segment that vanishes (an inside radius smaller than the amount); its neighbours meet instead
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import shapely
import shapely.ops
from shapely.geometry import LineString
from shapely.geometry import Point as ShapelyPoint

from lagline.records.geometry import Arc, Free, Line, Loop, Point, Segment

TOUCH_MM = 1e-7
MITRE_LIMIT = 4.0  # a gap corner is carried on at most this many times the amount


@dataclass(frozen=True, slots=True)
class _Moved:
    index: int
    segment: Segment
    run_on_start: Point | None = None  # straight extension before the segment, for curves
    run_on_end: Point | None = None


def shift(segment: Segment, amount: float) -> Segment | None:
    """Return the parallel of a segment at ``amount`` [mm] to the right of travel, None when it vanishes."""
    if amount == 0:
        return segment
    match segment:
        case Line():
            h = segment.heading_start
            dx, dy = amount * math.sin(h), -amount * math.cos(h)
            return Line((segment.start[0] + dx, segment.start[1] + dy), (segment.end[0] + dx, segment.end[1] + dy))
        case Arc():
            radius = segment.radius + math.copysign(amount, amount * segment.sweep)
            return Arc(segment.centre, radius, segment.angle, segment.sweep) if radius > 1e-6 else None
        case Free():
            return _shift_free(segment, amount)


def _shift_free(segment: Free, amount: float) -> Free | None:
    closed = math.dist(segment.start, segment.end) < 1e-6
    if closed:
        return _shift_closed(segment, amount)
    curve = shapely.offset_curve(LineString(segment.vertices), -amount, quad_segs=32, join_style="round")
    lines = [g for g in shapely.get_parts(curve) if g.length > 1e-6]
    if not lines:
        return None
    line = max(lines, key=lambda g: g.length)
    pts = [(float(x), float(y)) for x, y in line.coords]
    h = segment.heading_start
    want = (segment.start[0] + amount * math.sin(h), segment.start[1] - amount * math.cos(h))
    if math.dist(pts[-1], want) < math.dist(pts[0], want):
        pts.reverse()
    return Free(tuple(pts))


def _shift_closed(segment: Free, amount: float) -> Free | None:
    ring = shapely.Polygon(segment.vertices)
    ccw = ring.exterior.is_ccw
    grown = ring.buffer(amount if ccw else -amount, quad_segs=32)
    if grown.is_empty:
        return None
    piece = max(shapely.get_parts(grown), key=lambda g: g.area)
    pts = [(float(x), float(y)) for x, y in piece.exterior.coords[:-1]]
    if piece.exterior.is_ccw != ccw:
        pts.reverse()
    h = segment.heading_start
    want = (segment.start[0] + amount * math.sin(h), segment.start[1] - amount * math.cos(h))
    first = min(range(len(pts)), key=lambda i: math.dist(pts[i], want))
    pts = pts[first:] + pts[:first]
    return Free((*pts, pts[0]))


def _crossings(a: Segment, b: Segment) -> list[Point]:
    """Points where the carriers of lines and arcs, or the vertices' chains of free curves, cross."""
    if isinstance(a, Free) or isinstance(b, Free):
        hit = LineString(a.points(0.002)).intersection(LineString(b.points(0.002)))
        return [(float(x), float(y)) for g in shapely.get_parts(hit) for x, y in g.coords[:1]]
    if isinstance(a, Line) and isinstance(b, Line):
        x = _line_line(a.start, a.heading_start, b.start, b.heading_start)
        return [] if x is None else [x]
    if isinstance(a, Arc) and isinstance(b, Arc):
        return _circle_circle(a, b)
    line, arc = (a, b) if isinstance(a, Line) else (b, a)
    assert isinstance(line, Line)
    assert isinstance(arc, Arc)
    return _line_circle(line, arc)


def _line_line(p: Point, h: float, q: Point, g: float) -> Point | None:
    cross = math.sin(g - h)
    if abs(cross) < 1e-9:
        return None
    u = ((q[0] - p[0]) * math.sin(g) - (q[1] - p[1]) * math.cos(g)) / cross
    return (p[0] + u * math.cos(h), p[1] + u * math.sin(h))


def _line_circle(line: Line, arc: Arc) -> list[Point]:
    h = line.heading_start
    c, s = math.cos(h), math.sin(h)
    fx, fy = line.start[0] - arc.centre[0], line.start[1] - arc.centre[1]
    along = -(fx * c + fy * s)
    away = fx * s - fy * c
    root = arc.radius**2 - away**2
    if root < 0:
        return []
    r = math.sqrt(root)
    return [(line.start[0] + u * c, line.start[1] + u * s) for u in (along - r, along + r)]


def _circle_circle(a: Arc, b: Arc) -> list[Point]:
    d = math.dist(a.centre, b.centre)
    if d < 1e-9:
        return []
    x = (d * d + a.radius**2 - b.radius**2) / (2 * d)
    root = a.radius**2 - x * x
    if root < 0:
        return []
    ex, ey = (b.centre[0] - a.centre[0]) / d, (b.centre[1] - a.centre[1]) / d
    y = math.sqrt(root)
    return [(a.centre[0] + x * ex - v * ey, a.centre[1] + x * ey + v * ex) for v in (y, -y)]


def cut_end(segment: Segment, at: Point) -> Segment | None:
    """Return the segment ended at a point on (or, for a line, beyond) it; None when nothing is left."""
    match segment:
        case Line():
            h = segment.heading_start
            u = (at[0] - segment.start[0]) * math.cos(h) + (at[1] - segment.start[1]) * math.sin(h)
            return Line(segment.start, at) if u > TOUCH_MM else None
        case Arc():
            angle = math.atan2(at[1] - segment.centre[1], at[0] - segment.centre[0])
            swept = (angle - segment.angle) * math.copysign(1, segment.sweep) % (2 * math.pi)
            if swept > abs(segment.sweep) + 1e-6 or swept < 1e-9:
                return None
            return Arc(segment.centre, segment.radius, segment.angle, math.copysign(swept, segment.sweep))
        case Free():
            chain = LineString(segment.vertices)
            u = chain.project(ShapelyPoint(at))
            if u <= TOUCH_MM:
                return None
            part = shapely.ops.substring(chain, 0, u)
            return Free(tuple((float(x), float(y)) for x, y in part.coords))


def cut_start(segment: Segment, at: Point) -> Segment | None:
    """Return the segment begun at a point on (or, for a line, before) it; None when nothing is left."""
    back = cut_end(segment.reversed(), at)
    return None if back is None else back.reversed()


def _try_join(a: _Moved, b: _Moved, limit: float, corner: Point) -> tuple[_Moved, _Moved] | _Moved:
    """Join two moved neighbours; returns the pair joined, or the one that is lost."""
    end, start = a.segment.end, b.segment.start
    if math.dist(end, start) < TOUCH_MM:
        return a, b
    h, g = a.segment.heading_end, b.segment.heading_start
    meet = _line_line(end, h, start, g)
    if meet is not None:
        u = (meet[0] - end[0]) * math.cos(h) + (meet[1] - end[1]) * math.sin(h)
        w = (start[0] - meet[0]) * math.cos(g) + (start[1] - meet[1]) * math.sin(g)
        if u >= -TOUCH_MM and w >= -TOUCH_MM:  # gap corner
            u, w = min(u, limit), min(w, limit)
            return _run_on(a, _ahead(end, h, u), after=True), _run_on(b, _ahead(start, g, -w), after=False)
    elif math.cos(g - h) > 0:  # smooth corner, unequal amounts: grow puts a step between them
        return a, b
    elif not isinstance(trimmed := _trim(a, b, corner), _Moved):
        return trimmed
    else:  # the tip of a spike: carry both sides on past it
        reach = min(limit, 2 * math.dist(end, corner))
        return _run_on(a, _ahead(end, h, reach), after=True), _run_on(b, _ahead(start, g, -reach), after=False)
    return _trim(a, b, corner)


def _ahead(p: Point, heading: float, distance: float) -> Point:
    return (p[0] + distance * math.cos(heading), p[1] + distance * math.sin(heading))


def _run_on(m: _Moved, to: Point, *, after: bool) -> _Moved:
    s = m.segment
    if isinstance(s, Line):
        return _Moved(m.index, Line(s.start, to) if after else Line(to, s.end), m.run_on_start, m.run_on_end)
    if after:
        return _Moved(m.index, s, m.run_on_start, to)
    return _Moved(m.index, s, to, m.run_on_end)


def _trim(a: _Moved, b: _Moved, corner: Point) -> tuple[_Moved, _Moved] | _Moved:
    best: tuple[float, Segment, Segment] | None = None
    lost: _Moved | None = None
    for x in _crossings(a.segment, b.segment):
        first, second = cut_end(a.segment, x), cut_start(b.segment, x)
        if first is None or second is None:
            lost = lost or (a if first is None else b)
            continue
        d = math.dist(x, corner)
        if best is None or d < best[0]:
            best = (d, first, second)
    if best is None:
        return lost or min(a, b, key=lambda m: m.segment.length)
    return (
        _Moved(a.index, best[1], a.run_on_start, a.run_on_end),
        _Moved(b.index, best[2], b.run_on_start, b.run_on_end),
    )


def parallel(
    loop: Loop, amounts: tuple[float, ...], run_on_limit_mm: float | None = None
) -> tuple[tuple[Segment, ...], ...]:
    """Return, for every segment of the loop, its parallel curve with its corners made.

    Parameters
    ----------
    loop : closed chain
    amounts : distance to the right of travel for each segment [mm]
    run_on_limit_mm : how far a gap corner is carried on at most; default 4 times the larger amount

    Returns
    -------
    One tuple of segments per segment of the loop, empty where the segment is lost. Ends of neighbours meet,
    except at gap corners cut short by the limit and at steps between unequal amounts on a smooth corner.

    Errors: ValueError when nothing is left.
    """
    if len(amounts) != len(loop.segments):
        raise ValueError(f"{len(loop.segments)} segments but {len(amounts)} amounts")
    limit = MITRE_LIMIT * max(map(abs, amounts)) if run_on_limit_mm is None else run_on_limit_mm
    live = [i for i, (s, a) in enumerate(zip(loop.segments, amounts, strict=True)) if shift(s, a) is not None]
    while live:
        moved = [_Moved(i, shift(loop.segments[i], amounts[i]) or loop.segments[i]) for i in live]
        lost: _Moved | None = None
        for k in range(len(moved)):
            j = (k + 1) % len(moved)
            if j == k:
                break
            corner = loop.segments[moved[j].index].start
            joined = _try_join(moved[k], moved[j], limit, corner)
            if isinstance(joined, _Moved):
                lost = joined
                break
            moved[k], moved[j] = joined
        if lost is None:
            chains: list[tuple[Segment, ...]] = [()] * len(loop.segments)
            for m in moved:
                before = () if m.run_on_start is None else (Line(m.run_on_start, m.segment.start),)
                after = () if m.run_on_end is None else (Line(m.segment.end, m.run_on_end),)
                chains[m.index] = tuple(s for s in (*before, m.segment, *after) if s.length > TOUCH_MM)
            return tuple(chains)
        live.remove(lost.index)
    raise ValueError("nothing is left of the loop at that distance")


def grow(loop: Loop, amounts: tuple[float, ...]) -> Loop:
    """Return the loop with every segment moved away from the material by its own amount, corners kept sharp.

    Parameters
    ----------
    loop : an outline's loop (outer counter-clockwise, hole clockwise)
    amounts : one per segment [mm]; negative moves into the material

    Errors: ValueError when the loop closes up or crosses itself at that distance.
    """
    segments: list[Segment] = []
    names: list[str] = []
    chains = parallel(loop, amounts)
    for name, chain in zip(loop.names, chains, strict=True):
        for s in chain:
            if segments and math.dist(segments[-1].end, s.start) > 1e-6:  # a step, or a corner cut short
                segments.append(Line(segments[-1].end, s.start))
                names.append(name)
            segments.append(s)
            names.append(name)
    if math.dist(segments[-1].end, segments[0].start) > 1e-6:
        segments.append(Line(segments[-1].end, segments[0].start))
        names.append(names[0])
    grown = Loop(tuple(segments), tuple(_unique(names)))
    ring = shapely.Polygon(grown.points(0.005))
    if not ring.is_valid or (grown.area > 0) != (loop.area > 0):
        raise ValueError("the loop crosses itself or closes up at that distance")
    return grown


def _unique(names: list[str]) -> list[str]:
    """Second and later pieces of one edge get a mark, so that names stay unique: ``e3``, ``e3+``, ``e3++``."""
    seen: dict[str, int] = {}
    out = []
    for n in names:
        seen[n] = seen.get(n, -1) + 1
        out.append(n + "+" * seen[n])
    return out
