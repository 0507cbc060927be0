"""What lies on the plate at a given moment: parts, waste, open kerfs, what has fallen; and chalk hatching."""

from __future__ import annotations

import itertools
import math
from bisect import bisect_left
from collections.abc import Callable
from functools import lru_cache
from typing import TypeVar, cast

import numpy as np
import shapely
from shapely.geometry import LineString, MultiLineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from lagline.cards.raster import Floats, crossings, edges
from lagline.cards.svg import Box, outline_data, path_data
from lagline.planning.offcuts import offcuts_of
from lagline.records.geometry import Line, Outline, Point, Segment, chain_points, wrap
from lagline.records.plan import Cut, Plan, Step
from lagline.records.rack import Offcut
from lagline.shapes.region import chain_line, joined, loop_polygon, polygon

FLAT_MM = 0.05
CORNER_RAD = math.radians(20)

_T = TypeVar("_T")
_kept: list[tuple[Plan, dict[tuple[str, object], object]]] = []


def once(plan: Plan, what: str, key: object, make: Callable[[], _T]) -> _T:
    """Return a plan's derived thing, made once for the plan in hand (by identity: a plan is never changed)."""
    if not _kept or _kept[0][0] is not plan:
        _kept[:] = [(plan, {})]
    store = _kept[0][1]
    if (what, key) not in store:
        store[what, key] = make()
    return cast(_T, store[what, key])


def part_outline(plan: Plan, placed: int) -> Outline:
    """Return the cut outline of a placed copy where it lies."""

    def make() -> Outline:
        p = plan.layout.placed[placed]
        return p.move.outline(plan.blanks[p.part].cut)

    return once(plan, "outline", placed, make)


def part_areas(plan: Plan, plate: int) -> dict[int, Polygon]:
    """Return the cut outline of every placed copy on the plate, by index into the layout."""

    def make() -> dict[int, Polygon]:
        here = [i for i, p in enumerate(plan.layout.placed) if p.plate == plate]
        return {i: polygon(part_outline(plan, i), FLAT_MM) for i in here}

    return once(plan, "parts", plate, make)


def plate_area(plan: Plan, plate: int) -> Polygon:
    """Return the plate as a polygon."""
    return once(plan, "plate", plate, lambda: polygon(plan.job.plates[plate].outline, FLAT_MM))


def waste_area(plan: Plan, plate: int) -> BaseGeometry:
    """Return the plate less its parts: what is hatched (the kerf is drawn over it)."""
    return once(plan, "waste", plate, lambda: plate_area(plan, plate) - joined(part_areas(plan, plate).values()))


def kept_offcuts(plan: Plan, plate: int) -> tuple[Offcut, ...]:
    """Return the pieces of the plate that are worth keeping; none before its cuts are set out."""
    return once(plan, "offcuts", plate, lambda: offcuts_of(plan, plate) if plan.steps else ())


def keep_out_area(plan: Plan, plate: int) -> BaseGeometry:
    """Return what of a plate parts are kept out of."""
    closed = [loop_polygon(k, FLAT_MM) for k in plan.job.plates[plate].keep_out]
    return once(plan, "keep out", plate, lambda: plate_area(plan, plate) & joined(closed))


def cut_of(plan: Plan, step: Step) -> Cut:
    """Return the cut a step belongs to."""
    return once(plan, "cuts", None, lambda: {c.id: c for c in plan.cuts})[step.cut]


def loop_area(plan: Plan, step: Step) -> Polygon:
    """Return the area inside the loop of a step's cut."""
    return once(plan, "loop", step.cut, lambda: loop_polygon(cut_of(plan, step).loop, FLAT_MM))


def path_line(plan: Plan, step: Step) -> LineString:
    """Return the middle of a step's kerf as a line."""
    return once(plan, "path", step.number, lambda: chain_line(step.path, FLAT_MM))


def path_text(plan: Plan, step: Step) -> str:
    """Return a step's path as picture data."""
    return once(plan, "path text", step.number, lambda: path_data(step.path))


def part_text(plan: Plan, placed: int) -> str:
    """Return a placed copy's cut outline as picture data."""
    return once(plan, "part text", placed, lambda: outline_data(part_outline(plan, placed)))


def plate_text(plan: Plan, plate: int) -> str:
    """Return a plate's outline as picture data."""
    return once(plan, "plate text", plate, lambda: outline_data(plan.job.plates[plate].outline))


def kerf_mm(plan: Plan, step: Step) -> float:
    """Return the kerf width of a step [mm]."""
    return plan.setting(step.setting).kerf_mm.value


def bridge_left(plan: Plan, step: Step) -> tuple[Point, Point]:
    """Return where a bridge that a step leaves begins and ends: from kerf to kerf."""
    (x, y), h, half = step.path[-1].end, step.path[-1].heading_end, kerf_mm(plan, step) / 2
    a, b = half, half + step.leaves_mm
    return (x + a * math.cos(h), y + a * math.sin(h)), (x + b * math.cos(h), y + b * math.sin(h))


def bridges_standing(plan: Plan, plate: int, before: int) -> tuple[tuple[Point, Point], ...]:
    """Return the bridges that earlier steps have left when step ``before`` begins, by their two ends."""
    left = {s.path[-1].end for s in plan.steps if s.plate == plate and s.number < before and s.leaves_mm}
    ends = [
        (s.path[0].start, s.path[-1].end) for s in plan.steps if s.plate == plate and s.bridge and s.number > before
    ]
    return tuple(e for e in ends if any(math.dist(e[0], p) < 0.01 for p in left))


def is_inside(cut: Cut) -> bool:
    """True when the drop lies inside the loop (holes and windows)."""
    return cut.role not in ("outline", "edge", "rip", "bridge")


def frees(plan: Plan, plate: int) -> tuple[tuple[int, Polygon], ...]:
    """Return what each step of a plate opens, by step number: drops and parts that fall, holes drilled."""

    def make() -> tuple[tuple[int, Polygon], ...]:
        out: list[tuple[int, Polygon]] = []
        areas = part_areas(plan, plate)
        for s in plan.steps:
            if s.plate != plate:
                continue
            if parts := s.freed or ((s.placed,) if s.frees == "part" else ()):
                out.extend((s.number, Polygon(areas[i].exterior)) for i in parts)
            elif not s.path or (s.frees == "drop" and is_inside(cut_of(plan, s))):
                out.append((s.number, loop_area(plan, s)))
        return tuple(out)

    return once(plan, "frees", plate, make)


def fallen(plan: Plan, plate: int, before: int, view: Box | None = None) -> BaseGeometry:
    """Return the area no longer there when step ``before`` begins: drops and parts that earlier steps freed, and
    holes already drilled; with ``view`` only of that window."""
    areas = [a for n, a in frees(plan, plate) if n < before and (view is None or meets(a.bounds, view))]
    gone: BaseGeometry = joined(areas)
    return gone if view is None or gone.is_empty else clipped(gone, view)


def clipped(area: BaseGeometry, view: Box) -> BaseGeometry:
    """Return the part of an area in a window."""
    # the quick clipping may leave an area that touches itself, which later steps read wrongly
    quick: BaseGeometry = shapely.clip_by_rect(area, *view)
    return quick if quick.is_valid else area.intersection(box(*view))


def meets(a: Box, b: Box) -> bool:
    """True when two rectangles touch."""
    return a[0] <= b[2] and b[0] <= a[2] and a[1] <= b[3] and b[1] <= a[3]


def hatch_lines(area: BaseGeometry, gap: float, angle_deg: float = 45.0) -> Floats:
    """Return parallel lines across an area, ``gap`` [mm] apart, a row each of its two ends; the lines of any two areas
    line up."""
    turn = math.radians(angle_deg)
    c, s = math.cos(turn), math.sin(turn)
    back = np.array(((c, s), (-s, c)))  # rows times this are turned by +angle
    a, b = (e @ back.T for e in edges(area))
    if len(a) == 0:
        return np.empty((0, 2, 2))
    first = math.ceil(float(a[:, 1].min()) / gap)
    rows = math.floor(float(a[:, 1].max()) / gap) - first + 1
    row, x = crossings(a, b, first * gap, gap, max(rows, 0))
    y = (first + row[::2]) * gap
    x0, x1 = x[::2], x[1::2]
    long = x1 - x0 > 0.2 * gap
    ends = np.stack([np.column_stack([x0, y]), np.column_stack([x1, y])], axis=1)[long]
    out: Floats = ends @ back
    return out


def hatch(area: BaseGeometry, gap: float, angle_deg: float = 45.0) -> MultiLineString:
    """Return :func:`hatch_lines` as one geometry."""
    return MultiLineString(list(hatch_lines(area, gap, angle_deg)))


@lru_cache(maxsize=1024)
def _measured(path: tuple[Segment, ...]) -> tuple[tuple[Point, ...], tuple[float, ...]]:
    """Return the vertices along a path and their distances from its start."""
    pts = chain_points(path, FLAT_MM)
    return pts, (0.0, *itertools.accumulate(math.dist(a, b) for a, b in itertools.pairwise(pts)))


def point_along(path: tuple[Segment, ...], at_mm: float) -> tuple[Point, float]:
    """Return the point at a distance along a path, and the heading there [rad]."""
    pts, far = _measured(path)
    i = min(max(bisect_left(far, at_mm), 1), len(pts) - 1)
    a, b, d = pts[i - 1], pts[i], far[i] - far[i - 1]
    t = min(1.0, (at_mm - far[i - 1]) / d) if d > 0 else 1.0
    return (a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])), Line(a, b).heading_start


def beside(path: tuple[Segment, ...], middle_mm: float, length: float, off: float) -> tuple[Point, ...]:
    """Return a line of travel beside the path: ``length`` [mm] long about ``middle_mm``, ``off`` to the left."""
    total = _measured(path)[1][-1]
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
    pts = _measured(path)[0]
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
