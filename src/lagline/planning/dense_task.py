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
TIGHT_MM = 0.002  # both in one where there is no gap
ROOMIER = 1e-5  # share by which the strip is made higher: the solver refuses a part just as high as it is
COARSER_MM = (0.05, 0.1, 0.2)  # as far as that for outlines of many points, which make the solver slow
FEW = 64
PLAIN = 10  # points that the solver leaves alone, in effect
THINNED = 5e-3  # share of its height by which it may make an outline of more points larger
FRAME = -1  # the frame's id (or the block's) among the parts
# The solver shortens the strip by a thousandth of its length at a time. A block at one end, as high as the strip, makes
# the steps longer: without it a short run spends its time walking down to lengths that matter.
BESIDE = 0.5  # length of the block on a square-cornered plate, in lengths the parts would cover without waste
BEHIND = 2.5  # length of the block behind an opening of any outline, in lengths of the opening
STEP = 1.2e-3  # share by which the strip may stay longer than the frame: a step, and a little
Ways = dict[int, tuple[Lie, ...]]


def around(gap_mm: float) -> float:
    """How much is added round each part for the solver [mm]; parts of many points may have a little more."""
    return gap_mm / 2 + ASIDE_MM + TRIM_MM if gap_mm else TIGHT_MM


def solver_shape(lie: Lie, gap_mm: float, *, fine: bool = False) -> Polygon:
    """Return the outside of a part with half the gap round it, thinned outwards, as the solver gets it.

    ``fine`` thins no more than is always done, however many points there are.
    """
    by = around(gap_mm)
    shape = Polygon(lie.shape.exterior).buffer(by, join_style="mitre")
    if gap_mm:
        shape = _thinned(Polygon(lie.shape.exterior).buffer(by, quad_segs=6), TRIM_MM)
    for trim in () if fine else COARSER_MM:
        if len(shape.exterior.coords) <= FEW:
            break
        shape = _thinned(Polygon(lie.rough.exterior).buffer(by + trim, quad_segs=6), trim)
    return Polygon(shape.exterior)


def _thinned(shape: Polygon, by_mm: float) -> Polygon:
    thin = shapely.simplify(shape, by_mm)
    return pieces(thin)[0] if thin.is_valid else shape


def items(ways: Ways, copies: list[int], filling: Filling, gap_mm: float) -> list[dict[str, Any]]:
    """Return the parts as the solver gets them: each its first lie, the turns measured from there.

    A turn in which a part is higher than the plate is left out, and where it has many points, which the solver thins
    outwards, one in which it is nearly as high: the solver does not bear it.
    """
    x0, y0, x1, y1 = filling.limits
    flat = filling.long_axis == 0
    height = (y1 - y0 if flat else x1 - x0) + 2 * around(gap_mm)
    quarter = 0.0 if flat else 270.0
    out = []
    for part, count in sorted(Counter(copies).items()):
        turns = [math.degrees(k.turn - ways[part][0].turn) + quarter for k in ways[part] if not k.mirror]
        for fine in (False, True):
            shape = solver_shape(ways[part][0], gap_mm, fine=fine)
            most = height * (1 + ROOMIER / 2 if len(shape.exterior.coords) <= PLAIN else 1 - THINNED)
            angles = sorted(a % 360 for a in turns if _height(shape, a) <= most)
            if angles and shape.is_valid and shape.area > 1.0:
                out.append({"id": str(part), "shape": _ring(shape), "demand": count, "angles": angles})
                break
    return out


def _height(shape: Polygon, angle_deg: float) -> float:
    box = turned(shape, math.radians(angle_deg), False).bounds
    return float(box[3] - box[1])


def _ring(shape: Polygon) -> list[list[float]]:
    return [[round(x, 6), round(y, 6)] for x, y in shape.exterior.coords[:-1]]


def strip_task(
    ways: Ways, copies: list[int], filling: Filling, gap_mm: float, seconds: float, seed: int
) -> dict[str, Any]:
    """Return the task for a square-cornered plate: the plate is the strip."""
    x0, y0, x1, y1 = filling.limits
    breadth = (y1 - y0) if filling.long_axis == 0 else (x1 - x0)
    edge = around(gap_mm)
    given = items(ways, copies, filling, gap_mm)
    area = sum(i["demand"] * Polygon(i["shape"]).area for i in given)
    length = BESIDE * area / breadth
    block = shapely.box(-edge - length, -edge, -edge, breadth + edge)
    height = breadth + 2 * edge
    return {
        "height": height * (1 + ROOMIER),
        "seconds": seconds,
        "seed": seed,
        "block": [edge, length, height * ROOMIER],
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


def proposals(rows: list[Row], ways: Ways, filling: Filling, offered: Counter[int], task: dict[str, Any]) -> list[Spot]:
    """Return the worker's places as spots on the plate, nearest the datum end first; none where the frame is lost.

    They are measured from the frame; where there is a block only, from the strip's corner. The solver may stand the
    block at either end or between: its length is taken out. By as much as the strip is higher than the plate, parts may
    stick out of the plate then, on the side away from the datum corner.
    """
    x0, y0, x1, _ = filling.limits
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
        middle = along + (left + lie.width / 2 if flat else low + lie.height / 2)
        u, v = along - origin[0], across - origin[1]
        if "block" in task:
            edge, length, higher = task["block"]
            v = across - edge - (0.0 if flat else higher)
            u = along - edge - (length if middle > origin[0] - edge - length / 2 else 0.0)
        x, y = (x0 + u, y0 + v) if flat else (x1 - v, y0 + u)
        spots.append(Spot(lie, x + left, y + low))
    return sorted(spots, key=lambda s: (s.x, s.y, s.lie.part) if flat else (s.y, s.x, s.lie.part))


def drawn_in(value: float, low: float, high: float) -> float:
    """Return the value brought between the limits when it is less than a millimetre outside them."""
    return min(max(value, low), high) if low - 1 < value < high + 1 else value
