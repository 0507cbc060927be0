"""What the solver is given for one plate, and its places brought back onto the plate.

The strip runs along the plate's longer side; a tall plate is pressed lying down, its right edge the strip's lower one.
"""

from __future__ import annotations

import math
from collections import Counter
from typing import Any

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from lagline.planning.dense_frame import frame
from lagline.planning.dense_press import Row
from lagline.planning.layout_fill import Filling, Spot
from lagline.planning.layout_shapes import Lie, turned
from lagline.shapes.region import pieces

ASIDE_MM = 0.03  # added round each part, so that rounding in the solver stays outside the gap
TRIM_MM = 0.02  # outlines are thinned by this for the solver
ROOMIER = 2e-4  # share by which the strip is made higher: the solver refuses an exact fit
COARSER_MM = (0.05, 0.1, 0.2)  # as far as that for outlines of many points, which make the solver slow
FEW = 64
FRAME = -1  # the frame's id (or the block's) among the parts
# The solver shortens the strip by a thousandth of its length at a time. A block at one end, as high as the strip, makes
# the steps longer: without it a short run spends its time walking down to lengths that matter.
BESIDE = 0.5  # length of the block on a square-cornered plate, in lengths the parts would cover without waste
BEHIND = 2.5  # length of the block behind an opening of any outline, in lengths of the opening
STEP = 1.2e-3  # share by which the strip may stay longer than the frame: a step, and a little
Ways = dict[int, tuple[Lie, ...]]


def solver_shape(lie: Lie, gap_mm: float) -> Polygon:
    """Return the outside of a part with half the gap round it, thinned outwards, as the solver gets it."""
    outside = Polygon(lie.rough.exterior)
    for trim in (TRIM_MM, *COARSER_MM):
        grown = outside.buffer(gap_mm / 2 + ASIDE_MM + trim, quad_segs=6)
        thin = shapely.simplify(grown, trim)
        shape = pieces(thin)[0] if thin.is_valid else grown
        if len(shape.exterior.coords) <= FEW:
            break
    return Polygon(shape.exterior)


def items(ways: Ways, copies: list[int], filling: Filling, gap_mm: float) -> list[dict[str, Any]]:
    """Return the parts as the solver gets them: each its first lie, the turns measured from there."""
    flat = filling.long_axis == 0
    x0, y0, x1, y1 = filling.limits
    breadth = y1 - y0 if flat else x1 - x0
    quarter = 0.0 if flat else 270.0
    out = []
    for part, count in sorted(Counter(copies).items()):
        shape = solver_shape(ways[part][0], gap_mm)
        angles = [
            math.degrees(k.turn - ways[part][0].turn) % 360
            for k in ways[part]
            if not k.mirror and (k.height if flat else k.width) <= breadth
        ]
        if angles and shape.is_valid and shape.area > 1.0:
            angles = sorted((a + quarter) % 360 for a in angles)
            out.append({"id": str(part), "shape": _ring(shape), "demand": count, "angles": angles})
    return out


def _ring(shape: Polygon) -> list[list[float]]:
    return [[round(x, 6), round(y, 6)] for x, y in shape.exterior.coords[:-1]]


def strip_task(
    ways: Ways, copies: list[int], filling: Filling, gap_mm: float, seconds: float, seed: int
) -> dict[str, Any]:
    """Return the task for a square-cornered plate: the plate is the strip."""
    x0, y0, x1, y1 = filling.limits
    breadth = (y1 - y0) if filling.long_axis == 0 else (x1 - x0)
    edge = gap_mm / 2 + ASIDE_MM + TRIM_MM
    given = items(ways, copies, filling, gap_mm)
    area = sum(i["demand"] * Polygon(i["shape"]).area for i in given)
    block = shapely.box(-edge - BESIDE * area / breadth, -edge, -edge, breadth + edge)
    return {
        "height": (breadth + 2 * edge) * (1 + ROOMIER),
        "seconds": seconds,
        "seed": seed,
        "items": [_frame_item(block), *given] if given else [],
    }


def _frame_item(shape: Polygon) -> dict[str, Any]:
    return {"id": str(FRAME), "shape": _ring(shape), "demand": 1, "angles": [0.0]}


def laid_down(area: BaseGeometry, filling: Filling) -> BaseGeometry:
    """Return an area of the plate as it lies along the strip."""
    x0, y0, x1, _ = filling.limits
    if filling.long_axis == 0:
        return shapely.transform(area, lambda a: a - (x0, y0))
    return shapely.transform(area, lambda a: np.column_stack([a[:, 1] - y0, x1 - a[:, 0]]))


def frame_task(
    ways: Ways,
    copies: list[int],
    filling: Filling,
    opening: BaseGeometry,
    gap_mm: float,
    seconds: float,
    seed: int,
) -> dict[str, Any] | None:
    """Return the task for an opening of any outline (lying along the strip), None where it has no frame."""
    _, bottom, _, top = opening.bounds
    shape = frame(opening, max(5.0, 0.01 * (top - bottom)), BEHIND)
    if shape is None:
        return None
    left, low, right, top = shape.bounds
    length = right - left
    return {
        "height": (top - low) * (1 + ROOMIER),
        "seconds": seconds,
        "seed": seed,
        "enough": length * (1 + STEP) + 1.0,
        "items": [_frame_item(shape), *items(ways, copies, filling, gap_mm)],
    }


def proposals(rows: list[Row], ways: Ways, filling: Filling, offered: Counter[int]) -> list[Spot]:
    """Return the worker's places as spots on the plate, nearest the datum end first; none where the frame is lost."""
    x0, y0, x1, y1 = filling.limits
    flat = filling.long_axis == 0
    spots: list[Spot] = []
    origin = next(((along, across) for part, _, along, across in rows if part == FRAME), None)
    if origin is None:
        return spots
    for part, angle, along, across in rows:
        if offered[part] <= 0:
            continue
        first = ways[part][0]
        wanted = math.radians(angle if flat else angle + 90)
        upright = [k for k in ways[part] if not k.mirror]
        off = [abs(math.remainder(k.turn - first.turn - wanted, 2 * math.pi)) for k in upright]
        lie = upright[off.index(min(off))]
        left, low, _, _ = turned(first.shape, lie.turn - first.turn, False).bounds
        u, v = along - origin[0], across - origin[1]
        x, y = (x0 + u, y0 + v) if flat else (x1 - v, y0 + u)
        spots.append(Spot(lie, _drawn_in(x + left, x0, x1 - lie.width), _drawn_in(y + low, y0, y1 - lie.height)))
    return sorted(spots, key=lambda s: (s.x, s.y, s.lie.part) if flat else (s.y, s.x, s.lie.part))


def _drawn_in(value: float, low: float, high: float) -> float:
    """Return the value brought between the limits when it is less than a millimetre outside them."""
    return min(max(value, low), high) if low - 1 < value < high + 1 else value
