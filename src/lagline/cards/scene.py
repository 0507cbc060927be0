"""What lies on the plate at a given moment: parts, waste, open kerfs, what has fallen; and chalk hatching."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from functools import lru_cache
from typing import cast

import shapely
from shapely.affinity import rotate, scale
from shapely.geometry import LineString, MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import polylabel

from lagline.records.geometry import Line, Point, Segment, chain_points, wrap
from lagline.records.plan import Cut, Plan, Step
from lagline.shapes.region import joined, loop_polygon, polygon

FLAT_MM = 0.05
CORNER_RAD = math.radians(20)


_kept: list[tuple[Plan, dict[tuple[str, int], object]]] = []


def _once(plan: Plan, what: str, key: int, make: Callable[[], object]) -> object:
    """Return a plan's derived geometry, made once for the plan in hand (by identity: a plan is never changed)."""
    if not _kept or _kept[0][0] is not plan:
        _kept[:] = [(plan, {})]
    store = _kept[0][1]
    if (what, key) not in store:
        store[what, key] = make()
    return store[what, key]


def part_areas(plan: Plan, plate: int) -> dict[int, Polygon]:
    """Return the cut outline of every placed copy on the plate, by index into the layout."""

    def make() -> dict[int, Polygon]:
        return {
            i: polygon(p.move.outline(plan.blanks[p.part].cut), FLAT_MM)
            for i, p in enumerate(plan.layout.placed)
            if p.plate == plate
        }

    return cast(dict[int, Polygon], _once(plan, "parts", plate, make))


def plate_area(plan: Plan, plate: int) -> Polygon:
    """Return the plate as a polygon."""
    return polygon(plan.job.plates[plate].outline, FLAT_MM)


def waste_area(plan: Plan, plate: int) -> BaseGeometry:
    """Return the plate less its parts: what is hatched (the kerf is drawn over it)."""

    def make() -> BaseGeometry:
        return plate_area(plan, plate) - joined(part_areas(plan, plate).values())

    return cast(BaseGeometry, _once(plan, "waste", plate, make))


def cut_of(plan: Plan, step: Step) -> Cut:
    """Return the cut a step belongs to."""
    return next(c for c in plan.cuts if c.id == step.cut)


def kerf_mm(plan: Plan, step: Step) -> float:
    """Return the kerf width of a step [mm]."""
    return plan.setting(step.setting).kerf_mm.value


def is_inside(cut: Cut) -> bool:
    """True when the drop lies inside the loop (holes and windows)."""
    return cut.role != "outline"


def fallen(plan: Plan, plate: int, before: int) -> BaseGeometry:
    """Return the area no longer there when step ``before`` begins: drops and parts that earlier steps freed, and
    holes already drilled."""
    areas: list[BaseGeometry] = []
    for s in plan.steps:
        if s.plate != plate or s.number >= before:
            continue
        cut = cut_of(plan, s)
        inside = is_inside(cut)
        if cut.role == "drill" or (inside and s.frees == "drop") or (not inside and s.frees == "part"):
            areas.append(loop_polygon(cut.loop, FLAT_MM))
    return joined(areas)


def hatch(area: BaseGeometry, gap: float, angle_deg: float = 45.0) -> MultiLineString:
    """Return parallel lines across an area, ``gap`` [mm] apart, clipped to it; the lines of any two areas line up."""
    if area.is_empty:
        return MultiLineString()
    flat = rotate(area, -angle_deg, origin=(0, 0))
    x0, y0, x1, y1 = flat.bounds
    first, last = math.ceil(y0 / gap), math.floor(y1 / gap)
    lines = MultiLineString([[(x0 - 1, k * gap), (x1 + 1, k * gap)] for k in range(first, last + 1)])
    back = rotate(lines.intersection(flat), angle_deg, origin=(0, 0))
    return MultiLineString([g for g in shapely.get_parts(back) if isinstance(g, LineString) and g.length > 0.2 * gap])


def point_along(path: tuple[Segment, ...], at_mm: float) -> tuple[Point, float]:
    """Return the point at a distance along a path, and the heading there [rad]."""
    pts = chain_points(path, FLAT_MM)
    left = at_mm
    for a, b in itertools.pairwise(pts):
        d = math.dist(a, b)
        if left <= d and d > 0:
            t = left / d
            return (a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])), Line(a, b).heading_start
        left -= d
    return pts[-1], Line(pts[-2], pts[-1]).heading_start


def beside(path: tuple[Segment, ...], middle_mm: float, length: float, off: float) -> tuple[Point, ...]:
    """Return a line of travel beside the path: ``length`` [mm] long about ``middle_mm``, ``off`` to the left."""
    total = sum(s.length for s in path)
    a, b = max(0.0, middle_mm - length / 2), min(total, middle_mm + length / 2)
    n = 2 if all(isinstance(s, Line) for s in path) else 12
    out = []
    for i in range(n):
        (x, y), h = point_along(path, a + (b - a) * i / (n - 1))
        out.append((x - off * math.sin(h), y + off * math.cos(h)))
    return tuple(out)


def arrow_head(tail: Point, tip: Point, size: float) -> tuple[Point, Point, Point]:
    """Return the triangle of an arrow that ends at ``tip``."""
    h = math.atan2(tip[1] - tail[1], tip[0] - tail[0])
    c, s = math.cos(h), math.sin(h)
    return (
        tip,
        (tip[0] - size * c + 0.42 * size * s, tip[1] - size * s - 0.42 * size * c),
        (tip[0] - size * c - 0.42 * size * s, tip[1] - size * s + 0.42 * size * c),
    )


@lru_cache(maxsize=256)
def longest_run(path: tuple[Segment, ...]) -> tuple[float, float]:
    """Return the middle of the longest run without a corner as a distance along the path, and its length [mm]."""
    pts = chain_points(path, FLAT_MM)
    runs: list[tuple[float, float]] = []
    at = begin = 0.0
    heading: float | None = None
    for a, b in itertools.pairwise(pts):
        d = math.dist(a, b)
        if d < 1e-9:
            continue
        new = Line(a, b).heading_start
        if heading is not None and abs(wrap(new - heading)) > CORNER_RAD:
            runs.append((at - begin, begin))
            begin = at
        at, heading = at + d, new
    runs.append((at - begin, begin))
    length, begin = max(runs)
    return begin + length / 2, length


def roomiest(area: BaseGeometry, text: str, *, upright: bool = False) -> Point | None:
    """Return the spot in an area with most room for a line of text, None for an area of no size."""
    # squeezed along the text, the widest room for the text becomes the largest inscribed circle
    squeeze = 1.0 / max(1.0, 0.5 * len(text))
    sx, sy = (1.0, squeeze) if upright else (squeeze, 1.0)
    flat = scale(area, sx, sy, origin=(0, 0))
    pieces = sorted(
        (p for p in shapely.get_parts(flat) if isinstance(p, Polygon) and p.area > 1.0), key=lambda p: -p.area
    )
    found = [(polylabel(p, p.area**0.5 / 25), p) for p in pieces[:3]]
    if not found:
        return None
    best = max(found, key=lambda f: f[1].boundary.distance(f[0]))[0]
    return best.x / sx, best.y / sy
