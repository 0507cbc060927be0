"""Outlines for the law of templates: sharp and round corners, hollows, notches wide and narrow, holes of all sorts."""

from __future__ import annotations

import math
import random

import shapely

from lagline.records.geometry import Arc, Line, Loop, Outline, Point, Segment


def filleted(points: list[Point], radii: list[float], prefix: str) -> Loop:
    """Closed loop through points, each corner rounded by its radius where the sides have room."""
    n = len(points)
    cuts = []
    for i, (p, r) in enumerate(zip(points, radii, strict=True)):
        a, b = points[i - 1], points[(i + 1) % n]
        u = ((a[0] - p[0]) / math.dist(a, p), (a[1] - p[1]) / math.dist(a, p))
        v = ((b[0] - p[0]) / math.dist(b, p), (b[1] - p[1]) / math.dist(b, p))
        half = math.acos(max(-1.0, min(1.0, u[0] * v[0] + u[1] * v[1]))) / 2
        tangent = r / math.tan(half)
        room = 0.45 * min(math.dist(a, p), math.dist(b, p))
        if r <= 0 or half > math.radians(87) or tangent > room:
            cuts.append((p, p, None))
            continue
        bisector = (u[0] + v[0], u[1] + v[1])
        size = math.hypot(*bisector)
        far = r / math.sin(half)
        centre = (p[0] + far * bisector[0] / size, p[1] + far * bisector[1] / size)
        start = (p[0] + tangent * u[0], p[1] + tangent * u[1])
        end = (p[0] + tangent * v[0], p[1] + tangent * v[1])
        begin, stop = (math.atan2(q[1] - centre[1], q[0] - centre[0]) for q in (start, end))
        cuts.append((start, end, Arc(centre, r, begin, math.remainder(stop - begin, 2 * math.pi))))
    segments: list[Segment] = []
    for i, (_, end, arc) in enumerate(cuts):
        if arc is not None:
            segments.append(arc)
        segments.append(Line(end, cuts[(i + 1) % n][0]))
    return Loop(tuple(segments), tuple(f"{prefix}{i}" for i in range(len(segments))))


def _radius(rng: random.Random) -> float:
    return rng.choice((0.0, 0.0, rng.uniform(0.3, 4.0), rng.uniform(4.0, 40.0)))


def _ring(rng: random.Random, size: float) -> list[Point]:
    """A star-shaped ring of corners: hollow and salient, none too sharp to draw."""
    n = rng.randint(4, 9)
    turns = sorted(rng.uniform(0, 2 * math.pi) for _ in range(n))
    return [(size * rng.uniform(0.45, 1.0) * math.cos(a), size * rng.uniform(0.45, 1.0) * math.sin(a)) for a in turns]


def _notched(rng: random.Random, w: float, h: float) -> list[Point]:
    """A plate with a notch in its top, from narrower than a kerf to wide, square or a V."""
    at, deep = rng.uniform(0.3, 0.7) * w, rng.uniform(0.1, 0.5) * h
    half = rng.choice((rng.uniform(0.3, 2.0), rng.uniform(2.0, 30.0)))
    floor = [(at + half, h - deep), (at - half, h - deep)] if rng.random() < 0.6 else [(at, h - deep)]
    return [(0, 0), (w, 0), (w, h), (at + half, h), *floor, (at - half, h), (0, h)]


def _sound(loop: Loop) -> bool:
    area = shapely.Polygon(loop.points(0.005))
    return bool(area.is_valid and area.area > 100.0)


def _holes(rng: random.Random, outer: Loop) -> list[Loop]:
    """Holes that keep clear of the edge and of each other: round, square, slots."""
    room = shapely.Polygon(outer.points(0.05)).buffer(-6.0)
    out: list[Loop] = []
    for i in range(rng.randint(0, 3)):
        if room.is_empty or room.area < 400.0:
            break
        left, bottom, right, top = room.bounds
        c = (rng.uniform(left, right), rng.uniform(bottom, top))
        size = rng.choice((rng.uniform(0.4, 3.0), rng.uniform(3.0, 50.0)))
        if rng.random() < 0.5:
            hole = Loop((Arc(c, size, 0.0, 2 * math.pi),), (f"h{i}",))
        else:
            w, h, r = size, size * rng.uniform(0.5, 1.0), _radius(rng)
            ring = [(c[0] + x * w, c[1] + y * h) for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
            hole = filleted(ring, [r] * 4, f"h{i}-")
        area = shapely.Polygon(hole.points(0.05))
        if area.is_valid and room.contains(area):
            out.append(hole)
            room = room.difference(area.buffer(6.0))
    return out


def template_outline(seed: int) -> Outline:
    """One outline, repeatable by seed."""
    rng = random.Random(seed)
    while True:
        size = rng.uniform(40, 250)
        ring = _ring(rng, size) if rng.random() < 0.6 else _notched(rng, 2 * size, size * rng.uniform(0.6, 1.6))
        if min(math.dist(a, b) for a, b in zip(ring, ring[1:] + ring[:1], strict=True)) < 0.5:
            continue
        outer = filleted(ring, [_radius(rng) for _ in ring], "e")
        if _sound(outer):
            outline = Outline(outer)
            return Outline(outline.outer, tuple(_holes(rng, outline.outer)))
