"""The part of the independent check that is about the plate: inside its edge, off regions kept out, along the grain.

A copy keeps the margin, but where a straight edge of it lies on a factory edge of a plate that is not out of square:
free or to be welded, no bevel, longer in all than six tenths of the copy on that side.
"""

from __future__ import annotations

import math

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from lagline.records.geometry import Line, Outline
from lagline.records.job import EdgeUse, Plate
from lagline.records.plan import Blank
from lagline.shapes.region import loop_polygon, polygon

SLACK_MM = 1e-3
OUT_OF_SQUARE_MM = 1.6  # diagonals further apart than 1/16 in
LONG = 0.6
GRAIN_DEG = 0.011
_SIDES = ("left", "bottom", "right", "top")


def inside(area: Polygon, outline: Outline, blank: Blank, plate: Plate, *, pinned: bool) -> bool:
    """Whether a copy lies on the plate's metal, its margin kept; a pinned one need not keep it."""
    metal = polygon(plate.outline)
    if plate.margin_mm <= SLACK_MM or pinned:
        return bool(metal.buffer(SLACK_MM, join_style="mitre").covers(area))
    if metal.covers(area) and metal.boundary.distance(area) >= plate.margin_mm - SLACK_MM:
        return True
    strips = {side: s for side in range(4) if (s := _strip(side, outline, blank, plate)) is not None}
    if not strips or not metal.buffer(SLACK_MM, join_style="mitre").covers(area):
        return False
    with_strips: BaseGeometry = shapely.union_all([metal, *_corners(strips), *strips.values()])
    return bool(with_strips.covers(area) and with_strips.boundary.distance(area) >= plate.margin_mm - SLACK_MM)


def _strip(side: int, outline: Outline, blank: Blank, plate: Plate) -> Polygon | None:
    """Return a strip beyond the plate's side, where the copy may lie on that side; None where it may not."""
    if _SIDES[side] not in plate.factory_edges or abs(plate.diagonals_mm[0] - plate.diagonals_mm[1]) > OUT_OF_SQUARE_MM:
        return None
    axis, at = side % 2, plate.outline.bounds()[side]

    def lies_there(s: object) -> bool:
        return isinstance(s, Line) and all(abs(p[axis] - at) < SLACK_MM for p in (s.start, s.end))

    run = 0.0
    for name, s in zip(outline.outer.names, outline.outer.segments, strict=True):
        if lies_there(s):
            edge = blank.part.edge(name.rstrip("+"))
            if edge.use not in (EdgeUse.FREE, EdgeUse.WELD) or edge.bevel_deg:
                return None
            run += s.length
    bounds = outline.bounds()
    if run <= LONG * (bounds[3 - axis] - bounds[1 - axis]):
        return None
    ends = [p[1 - axis] for s in plate.outline.outer.segments if lies_there(s) for p in (s.start, s.end)]
    if not ends:
        return None
    deep = 3 * plate.margin_mm
    across = (at - deep, at + SLACK_MM) if side < 2 else (at - SLACK_MM, at + deep)
    return _box(axis, across, (min(ends), max(ends)))


def _corners(strips: dict[int, Polygon]) -> list[Polygon]:
    """Where two strips meet at a corner of the plate, the square between them."""
    out = []
    for upright in (strips[s] for s in (0, 2) if s in strips):
        for level in (strips[s] for s in (1, 3) if s in strips):
            if upright.distance(level) < 2 * SLACK_MM:
                out.append(_box(0, upright.bounds[0::2], level.bounds[1::2]))
    return out


def _box(axis: int, across: tuple[float, float], along: tuple[float, float]) -> Polygon:
    x, y = (across, along) if axis == 0 else (along, across)
    return shapely.box(x[0], y[0], x[1], y[1])


def kept_out(area: Polygon, plate: Plate) -> bool:
    """Whether a copy lies over a region of the plate that is kept out."""
    thin = area.buffer(-SLACK_MM, join_style="mitre")
    return any(loop_polygon(k).intersects(thin) for k in plate.keep_out)


def across_grain(blank: Blank, plate: Plate, turn: float, mirror: bool) -> bool:
    """Whether a copy's grain runs otherwise than the plate's."""
    if plate.grain_deg is None or blank.part.grain_deg is None:
        return False
    a = math.radians(blank.part.grain_deg)
    x, y = -math.cos(a) if mirror else math.cos(a), math.sin(a)
    on_plate = math.degrees(math.atan2(y, x) + turn)
    return abs(math.remainder(on_plate - plate.grain_deg, 180.0)) > GRAIN_DEG
