"""Metal of any outline as a strip for the solver: all that is not free becomes one fixed item, the frame.

The solver knows one container, a strip, and no holes in items. The frame is as high as the strip; its inside is the
free metal. It is made one simple polygon: islands (openings of the plate) are held to the rest by thin bridges, each
inside is opened to the outside by a slit narrower than any part.
"""

from __future__ import annotations

import math

import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from lagline.shapes.region import pieces

BRIDGE_MM = 0.2
SLIT_MM = 0.2
CLOSED_MM = 0.1  # how much of what is not free may be overlooked in a corner
SLIVER_MM2 = 1.0
FEW = 150
COARSER_MM = (0.05, 0.1, 0.2, 0.4, 0.8)


def container(free: BaseGeometry, gap_mm: float, aside_mm: float) -> BaseGeometry:
    """Return where parts may go that have half the gap round them, so that the parts themselves stay on free metal.

    Half the gap wider than the free metal, but less where that would let a part over a sharp corner standing in.
    """
    for share in (1.0, 0.7, 0.4):
        wide = free.buffer(share * gap_mm / 2 + aside_mm, join_style="mitre")
        if free.buffer(CLOSED_MM).covers(wide.buffer(-gap_mm / 2 - aside_mm, quad_segs=16)):
            return wide
    return free.buffer(aside_mm, join_style="mitre")


def with_fewer_points(opening: BaseGeometry) -> BaseGeometry:
    """Return the opening a little smaller, with few enough points for the solver to be quick about it."""
    thinned = opening
    for by in COARSER_MM:
        if shapely.get_num_coordinates(thinned) <= FEW:
            break
        thinned = opening.buffer(-by, join_style="mitre").simplify(by)
    return thinned


def frame(opening: BaseGeometry, rim_mm: float, behind: float = 0.0) -> Polygon | None:
    """Return all that is not open within the opening's box and a rim round it, as one polygon without holes.

    At the far end it goes on as a block, ``behind`` times as long as the opening. None where that cannot be made.
    """
    x0, y0, x1, y1 = opening.bounds
    far = x1 + rim_mm + behind * (x1 - x0)
    body: BaseGeometry = box(x0 - rim_mm, y0 - rim_mm, far, y1 + rim_mm).difference(opening)
    body = shapely.union_all([p for p in pieces(body) if p.area > SLIVER_MM2])
    for _ in range(500):
        parts = pieces(body)
        if len(parts) > 1:
            rest = shapely.union_all(parts[:-1])
            body = shapely.union_all([body, _band(parts[-1], rest, BRIDGE_MM)])
        elif parts and parts[0].interiors:
            whole = parts[0]
            inside = min(whole.interiors, key=lambda r: (r.distance(whole.exterior), r.bounds))
            body = whole.difference(_band(inside, whole.exterior, SLIT_MM))
            body = shapely.union_all([p for p in pieces(body) if p.area > SLIVER_MM2])
        else:
            return parts[0] if parts and parts[0].is_valid else None
    return None


def _band(a: BaseGeometry, b: BaseGeometry, width_mm: float) -> BaseGeometry:
    """Return a thin band that joins two shapes where they are nearest, and reaches a little into both."""
    (ax, ay), (bx, by) = shapely.shortest_line(a, b).coords
    length = math.hypot(bx - ax, by - ay)
    if length < 1e-9:
        return shapely.Point(ax, ay).buffer(width_mm, quad_segs=2)
    return shapely.LineString([(ax, ay), (bx, by)]).buffer(width_mm / 2, cap_style="square")


def area_up_to(free: BaseGeometry, along: float) -> float:
    """Free area no further along than that."""
    return float(_up_to(free, along).area)


def _up_to(free: BaseGeometry, along: float) -> BaseGeometry:
    x0, y0, x1, y1 = free.bounds
    return free.intersection(box(x0 - 1, y0 - 1, min(along, x1 + 1), y1 + 1))


def cut_to(free: BaseGeometry, area: float) -> BaseGeometry:
    """Return the free metal up to where it holds that area, all of it where it holds less."""
    low, high = free.bounds[0], free.bounds[2]
    if area >= free.area:
        return free
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if area_up_to(free, middle) < area else (low, middle)
    return _up_to(free, high)
