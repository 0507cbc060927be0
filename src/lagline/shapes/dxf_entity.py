"""One DXF entity to chains of segments, in millimetres in the world plane."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Iterator
from typing import Any

import numpy as np

from lagline.records.geometry import Arc, Line, Point, Segment
from lagline.shapes.arcs import FULL, from_bulge
from lagline.shapes.clean import Chain
from lagline.shapes.curves import CURVE_MM, MOST_VERTICES, ellipse, free

FURTHEST_MM = 1e7
FLAT_MM = 0.01
# kinds that may hold an outline but are not read
HOLDS_SHAPE = frozenset({"REGION", "BODY", "3DSOLID", "SURFACE", "MLINE", "MESH", "3DFACE", "SOLID", "TRACE", "HELIX"})


class NotFlat(Exception):
    """The entity does not lie in a plane seen from above."""


class Unusable(Exception):
    """The entity has numbers that no line has; the message says which."""


class _Plane:
    """From an entity's own plane to the drawing's, scaled to mm; only seen from above or from below."""

    def __init__(self, e: Any, factor: float) -> None:
        x, y, z = (float(c) for c in e.dxf.get("extrusion", (0, 0, 1)))
        size = math.sqrt(x * x + y * y + z * z)
        if not math.isfinite(size):
            raise Unusable("with an impossible direction")
        if size == 0:
            x, y, z, size = 0.0, 0.0, 1.0, 1.0
        if abs(x) + abs(y) > 1e-4 * size:
            raise NotFlat
        self.factor = factor
        # by the arbitrary axis rule a plane seen from below has its x axis reversed
        self.side = 1.0 if z > 0 else -1.0

    def point(self, x: float, y: float) -> Point:
        return (checked(x * self.factor) * self.side, checked(y * self.factor))

    def arc(self, centre: Point, radius: float, start: float, sweep: float) -> Arc:
        if self.side < 0:
            start, sweep = math.pi - start, -sweep
        return Arc(self.point(*centre), radius * self.factor, start, sweep)

    def height(self, z: float) -> float:
        return checked(z * self.factor) * self.side


def checked(value: float) -> float:
    """Return a coordinate [mm] that a plate can have; refuse NaN, infinity and what lies beyond 10 km."""
    if not math.isfinite(value):
        raise Unusable("with a coordinate that is no number")
    if abs(value) > FURTHEST_MM:
        raise Unusable("more than 10 km from the origin")
    return value


def _level(zs: Iterable[float], factor: float) -> float:
    heights = [checked(z * factor) for z in zs]
    if max(heights) - min(heights) > FLAT_MM:
        raise NotFlat
    return heights[0]


def _radius(e: Any) -> float:
    r = float(e.dxf.radius)
    if not (math.isfinite(r) and r > 0):
        raise Unusable(f"with a radius of {r:g}")
    return r


def _line(e: Any, factor: float) -> Iterator[tuple[Chain, float]]:
    a, b = e.dxf.start, e.dxf.end
    z = _level((a.z, b.z), factor)
    ends = [(checked(p.x * factor), checked(p.y * factor)) for p in (a, b)]
    yield (Line(ends[0], ends[1]),), z


def _arc(e: Any, factor: float) -> Iterator[tuple[Chain, float]]:
    plane, c = _Plane(e, factor), e.dxf.center
    sweep, start = FULL, 0.0
    if e.dxftype() == "ARC":
        start, end = math.radians(float(e.dxf.start_angle)), math.radians(float(e.dxf.end_angle))
        if not math.isfinite(start + end):
            raise Unusable("with an angle that is no number")
        sweep = (end - start) % FULL
        if sweep < 1e-9:
            sweep = FULL if abs(end - start) > 1 else 0.0
    if sweep == 0.0:
        return
    radius = _radius(e)
    checked(radius * factor)
    yield (plane.arc((c.x, c.y), radius, start % FULL, sweep),), plane.height(c.z)


def _bulged(points: list[tuple[float, float, float]], closed: bool, plane: _Plane) -> Chain:
    """Segments through x, y, bulge."""
    out: list[Segment] = []
    steps = itertools.pairwise([*points, points[0]] if closed else points)
    for (ax, ay, bulge), (bx, by, _) in steps:
        if not math.isfinite(bulge):
            raise Unusable("with a bulge that is no number")
        a, b = plane.point(ax, ay), plane.point(bx, by)
        if a != b:
            out.append(from_bulge(a, b, bulge * plane.side))
    return tuple(out)


def _lwpolyline(e: Any, factor: float) -> Iterator[tuple[Chain, float]]:
    plane = _Plane(e, factor)
    points = [(float(x), float(y), float(b)) for x, y, b in e.get_points("xyb")]
    if len(points) > 1:
        yield _bulged(points, bool(e.closed), plane), plane.height(float(e.dxf.get("elevation", 0.0)))


def _polyline(e: Any, factor: float) -> Iterator[tuple[Chain, float]]:
    if e.is_polygon_mesh or e.is_poly_face_mesh:
        raise NotFlat
    vertices = [v for v in e.vertices if not int(v.dxf.get("flags", 0)) & 16]  # 16: frame point of a curve
    if len(vertices) < 2:
        return
    places = [v.dxf.location for v in vertices]
    z = _level((p.z for p in places), factor)
    if e.is_3d_polyline:
        pts = [(checked(p.x * factor), checked(p.y * factor)) for p in places]
        pairs = itertools.pairwise([*pts, pts[0]] if e.is_closed else pts)
        yield tuple(Line(a, b) for a, b in pairs if a != b), z
        return
    plane = _Plane(e, factor)
    points = [(p.x, p.y, float(v.dxf.get("bulge", 0.0))) for p, v in zip(places, vertices, strict=True)]
    yield _bulged(points, bool(e.is_closed), plane), plane.height(places[0].z)


def _ellipse(e: Any, factor: float) -> Iterator[tuple[Chain, float]]:
    c, major, ratio = e.dxf.center, e.dxf.major_axis, float(e.dxf.ratio)
    start, end = float(e.dxf.start_param), float(e.dxf.end_param)
    if not all(map(math.isfinite, (ratio, start, end))) or ratio == 0:
        raise Unusable("with numbers that no ellipse has")
    side = _Plane(e, factor).side
    if abs(checked(major.z * factor)) > FLAT_MM:
        raise NotFlat
    u = (checked(major.x * factor), checked(major.y * factor))
    v = (-u[1] * ratio * side, u[0] * ratio * side)
    sweep = (end - start) % FULL or FULL
    piece = ellipse((checked(c.x * factor), checked(c.y * factor)), u, v, start, sweep)
    if piece is None:
        raise Unusable("with an axis of no length")
    yield (piece,), checked(c.z * factor)


def _spline(e: Any, factor: float) -> Iterator[tuple[Chain, float]]:
    given = np.array([tuple(p) for p in (*e.control_points, *e.fit_points)], dtype=float).reshape(-1, 3)
    if not np.isfinite(given).all():
        raise Unusable("with a coordinate that is no number")
    if len(given) < 2:
        raise Unusable("with fewer than two points")
    checked(float(np.abs(given).max()) * factor)
    z = _level(given[:, 2].tolist(), factor)
    vertices = itertools.islice(e.construction_tool().flattening(CURVE_MM / factor, 4), MOST_VERTICES + 1)
    points = np.array([(p.x, p.y) for p in vertices], dtype=float) * factor
    if len(points) > MOST_VERTICES:
        raise Unusable(f"that needs more than {MOST_VERTICES} vertices")
    if not np.isfinite(points).all():
        raise Unusable("with weights or knots that no curve has")
    closed = bool(e.closed) or float(np.hypot(*(points[0] - points[-1]))) < 1e-6
    if bool(e.closed) and float(np.hypot(*(points[0] - points[-1]))) > 1e-3:
        points = np.concatenate([points, points[:1]])
    piece = free(points, closed)
    if piece is not None:
        yield (piece,), z


DRAWN: dict[str, Callable[[Any, float], Iterator[tuple[Chain, float]]]] = {
    "LINE": _line,
    "ARC": _arc,
    "CIRCLE": _arc,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
    "ELLIPSE": _ellipse,
    "SPLINE": _spline,
}


def chains_of(e: Any, factor: float) -> Iterator[tuple[Chain, float]]:
    """Yield the entity's chains [mm] and their height [mm]; ``factor`` is the millimetres in a drawing unit."""
    for chain, z in DRAWN[e.dxftype()](e, factor):
        if chain:
            yield chain, z
