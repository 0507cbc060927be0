"""A weld joint in section, with its sizes."""

from __future__ import annotations

import math

from lagline.records.geometry import Point
from lagline.records.setout import Area, Dim, Drawing, Text
from lagline.setouts.ask import Given
from lagline.trade.weld_joint import SHARED, Joint

CAP_POINTS = 12


def bevelled_face(j: Joint) -> tuple[Point, ...]:
    """The left plate's edge from top face to bottom face, root gap centred on x 0 [mm]."""
    half = 0.5 if j.kind in SHARED else 1.0
    one, two = (math.tan(math.radians(a) * half) for a in (j.angle_deg, j.second_deg))
    x, t = -j.gap_mm / 2, j.thickness_mm
    points = [(x - j.depth_mm * one, 0.0), (x, -j.depth_mm), (x, j.second_mm - t), (x - j.second_mm * two, -t)]
    return tuple(p for i, p in enumerate(points) if i == 0 or math.dist(p, points[i - 1]) > 1e-6)


def other_face(j: Joint) -> tuple[Point, ...]:
    """The right plate's edge from top to bottom: the mirror image where both are bevelled, else square."""
    if j.kind in SHARED:
        return tuple((-x, y) for x, y in bevelled_face(j))
    return ((j.gap_mm / 2, 0.0), (j.gap_mm / 2, -j.thickness_mm))


def groove_outlines(j: Joint) -> tuple[tuple[Point, ...], ...]:
    """The groove's section, flush with both faces: one outline, two where closed lands part it, none without any."""
    left, right = bevelled_face(j), other_face(j)
    if j.gap_mm > 1e-6:
        return ((*left, *reversed(right)),)
    first = (left[0], (0.0, -j.depth_mm), right[0])
    second = (left[-1], (0.0, j.second_mm - j.thickness_mm), right[-1])
    return tuple(g for g, d in ((first, j.depth_mm), (second, j.second_mm)) if d > 1e-6)


def _cap(left: float, right: float, y: float, high: float) -> tuple[Point, ...]:
    """A parabola on a face, from left to right."""
    n = CAP_POINTS
    return tuple((left + (right - left) * i / n, y + high * 4 * (i / n) * (1 - i / n)) for i in range(n + 1))


def section(j: Joint, cap_mm: float, tee: bool, given: Given) -> Drawing:
    """Return the picture of the joint; in a T the square plate runs on past both faces."""
    t = j.thickness_mm
    left, right = bevelled_face(j), other_face(j)
    reach = max(2.2 * t, j.first_width_mm * 1.1, 20.0)
    unit = (2 * reach + t) / 300 * 10
    plates = [Area("metal", ((-reach, 0.0), *left, (-reach, -t)))]
    if tee:
        x, wide = j.gap_mm / 2, max(0.8 * t, 10.0)
        plates.append(Area("metal", ((x, -t - 1.2 * t), (x + wide, -t - 1.2 * t), (x + wide, 1.2 * t), (x, 1.2 * t))))
    else:
        plates.append(Area("metal", ((reach, 0.0), (reach, -t), *reversed(right))))
    areas = [*plates, *(Area("weld", g) for g in groove_outlines(j))]
    if cap_mm > 0 and not tee:
        if right[0][0] - left[0][0] > 1e-6:
            areas.append(Area("weld", _cap(left[0][0], right[0][0], 0.0, cap_mm)))
        if j.second_mm:
            areas.append(Area("weld", _cap(left[-1][0], right[-1][0], -t, -cap_mm)))
    dims = [Dim((-reach, -t), (-reach, 0.0), given.show(t), 1.5 * unit)]
    if j.gap_mm > 0:
        y = -t if not j.second_mm else -t / 2
        dims.append(Dim((-j.gap_mm / 2, y), (j.gap_mm / 2, y), given.show(j.gap_mm), -(t + y) - 2.5 * unit))
    if j.kind != "square":
        dims.append(Dim(left[0], right[0], given.show(j.first_width_mm), 2.5 * unit + cap_mm))
        if j.land_mm > 0:
            top = -j.depth_mm
            x = -j.gap_mm / 2
            dims.append(Dim((x, top - j.land_mm), (x, top), given.show(j.land_mm), reach * 0.62 + x))
    texts = []
    if j.kind != "square":
        middle = -0.35 * reach if tee else (left[0][0] + right[0][0]) / 2
        texts.append(Text((middle, 5.2 * unit + cap_mm), f"{j.angle_deg:g} deg", 0.0, 4.0))
    if j.second_mm:
        texts.append(Text((-0.35 * reach if tee else 0.0, -t - 5.2 * unit - cap_mm), f"{j.second_deg:g} deg", 0.0, 4.0))
    return Drawing(f"Joint in section: {j.kind}", tuple(areas), (), tuple(texts), tuple(dims))
