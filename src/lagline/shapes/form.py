"""Loops from a few points: the building blocks of the named shapes."""

from __future__ import annotations

import math
from collections.abc import Sequence

from lagline.records.geometry import Arc, Line, Loop, Point, Segment

FULL = 2 * math.pi


def circle(centre: Point, diameter_mm: float, name: str) -> Loop:
    """Return a full circle as one arc, counter-clockwise, starting on its right."""
    return Loop((Arc(centre, diameter_mm / 2, 0.0, FULL),), (name,))


def lines(points: Sequence[Point], names: Sequence[str]) -> Loop:
    """Return the closed polygon through the points; name ``i`` is the edge from point ``i`` to the next."""
    ends = [*points[1:], points[0]]
    return Loop(tuple(Line(a, b) for a, b in zip(points, ends, strict=True)), tuple(names))


def box(centre: Point, width_mm: float, height_mm: float, prefix: str = "") -> Loop:
    """Return a rectangle about a centre; edges ``bottom``, ``right``, ``top``, ``left`` after the prefix."""
    (cx, cy), w, h = centre, width_mm / 2, height_mm / 2
    corners = [(cx - w, cy - h), (cx + w, cy - h), (cx + w, cy + h), (cx - w, cy + h)]
    return lines(corners, [prefix + side for side in ("bottom", "right", "top", "left")])


def round_box(centre: Point, width_mm: float, height_mm: float, prefix: str = "") -> Loop:
    """Return a slot with two half-round ends, longer along its greater size; a circle when both are equal."""
    (cx, cy), w, h = centre, width_mm / 2, height_mm / 2
    r = min(w, h)
    if math.isclose(w, h):
        return circle(centre, 2 * r, prefix.rstrip("-") or "outside")
    names = tuple(prefix + side for side in ("bottom", "right", "top", "left"))
    half = math.pi
    segments: tuple[Segment, ...]
    if w > h:
        segments = (
            Line((cx - w + r, cy - r), (cx + w - r, cy - r)),
            Arc((cx + w - r, cy), r, -half / 2, half),
            Line((cx + w - r, cy + r), (cx - w + r, cy + r)),
            Arc((cx - w + r, cy), r, half / 2, half),
        )
    else:
        segments = (
            Arc((cx, cy - h + r), r, half, half),
            Line((cx + r, cy - h + r), (cx + r, cy + h - r)),
            Arc((cx, cy + h - r), r, 0.0, half),
            Line((cx - r, cy + h - r), (cx - r, cy - h + r)),
        )
    return Loop(segments, names)
