"""What about a part's shape matters to the hand: straights, arcs, free curves, holes, slots, windows, inside corners.

An inside corner is one where the metal goes round the corner (a notch, a cope, the corner of a window): travel round
an outer loop counter-clockwise or a hole clockwise turns right there.
"""

from __future__ import annotations

import math
import re

import shapely

from lagline.records.geometry import Arc, Free, Line, Loop, Outline, Point, Segment
from lagline.records.job import Feature
from lagline.shapes.region import loop_polygon

CORNER_DEG = 5.0  # a smaller turn is a smooth join as far as a hand can tell; common practice, no source
SLOT_RATIO = 2.0  # a slot is at least twice as long as wide; common practice, no source


def features(outline: Outline) -> tuple[Feature, ...]:
    """Return the features of an outline, outer loop first, in the loops' own order."""
    out: list[Feature] = list(_edges(outline.outer))
    out.extend(inside_corners(outline.outer))
    for hole in outline.holes:
        whole = hole_feature(hole)
        out.append(whole)
        if whole.kind != "hole":
            out.extend(_edges(hole))
            out.extend(inside_corners(hole))
    return tuple(out)


def _middle(s: Segment) -> Point:
    match s:
        case Line():
            return ((s.start[0] + s.end[0]) / 2, (s.start[1] + s.end[1]) / 2)
        case Arc():
            return s.at(s.angle + s.sweep / 2)
        case Free():
            return s.vertices[len(s.vertices) // 2]


def _edges(loop: Loop) -> tuple[Feature, ...]:
    kinds = {Line: "straight", Arc: "arc", Free: "free"}
    return tuple(
        Feature(kinds[type(s)], name, _middle(s), s.radius if isinstance(s, Arc) else s.length)
        for s, name in zip(loop.segments, loop.names, strict=True)
    )


def hole_feature(loop: Loop) -> Feature:
    """Return what a hole is: a round ``hole`` (diameter), a ``slot`` (width) or a ``window`` (its smaller side)."""
    circle = _circle(loop)
    name = _called(loop.names)
    if circle is not None:
        return Feature("hole", name, circle.centre, 2 * circle.radius)
    area = loop_polygon(loop)
    length, width = _sides(area)
    kind = "slot" if length >= SLOT_RATIO * width and _is_slot(loop, length * width, area.area, width) else "window"
    c = area.centroid
    return Feature(kind, name, (float(c.x), float(c.y)), width)


def _circle(loop: Loop) -> Arc | None:
    """The circle a loop is, whether drawn in one arc or several."""
    first = loop.segments[0]
    if not isinstance(first, Arc):
        return None
    same = all(
        isinstance(s, Arc) and math.dist(s.centre, first.centre) < 1e-3 and abs(s.radius - first.radius) < 1e-3
        for s in loop.segments
    )
    return first if same else None


def _is_slot(loop: Loop, box: float, area: float, width: float) -> bool:
    """True for a rectangle, or one with half-round ends: both fill their box but for the ends' corners."""
    square = abs(area - box) < 1e-3 * box
    round_ends = abs(area - (box - (1 - math.pi / 4) * width**2)) < 1e-3 * box
    return len(loop.segments) <= 8 and (square or round_ends)


def _sides(area: shapely.Polygon) -> tuple[float, float]:
    """Longer and shorter side of the smallest rectangle round an area [mm]."""
    corners = list(shapely.minimum_rotated_rectangle(area).exterior.coords)
    a, b = math.dist(corners[0], corners[1]), math.dist(corners[1], corners[2])
    return max(a, b), min(a, b)


def extent(outline: Outline) -> tuple[float, float]:
    """Return the longer and shorter side of the smallest rectangle round an outline [mm]."""
    return _sides(loop_polygon(outline.outer))


def _called(names: tuple[str, ...]) -> str:
    """What to call a hole with these edge names: its own name, or what they begin with."""
    if len(names) == 1:
        return names[0]
    stems = {re.split(r"[-.](?=[^-.]*$)", n)[0] for n in names}
    stem = stems.pop()
    return stem if not stems and stem != names[0] else f"{names[0]} to {names[-1]}"


def inside_corners(loop: Loop) -> tuple[Feature, ...]:
    """Return the sharp inside corners of a loop, with their turn [deg]."""
    if len(loop.segments) < 2:
        return ()
    before = loop.names[-1:] + loop.names[:-1]
    return tuple(
        Feature("inside corner", f"{a}/{b}", s.start, -math.degrees(turn))
        for a, b, s, turn in zip(before, loop.names, loop.segments, loop.turns(), strict=True)
        if turn < -math.radians(CORNER_DEG)
    )


def tightest_inside_arc(outline: Outline) -> tuple[str, float] | None:
    """Return name and radius [mm] of the smallest inside (hollow) arc that is not a whole round hole, if any."""
    found = [
        (s.radius, name)
        for loop in outline.loops
        if _circle(loop) is None
        for s, name in zip(loop.segments, loop.names, strict=True)
        if isinstance(s, Arc) and s.sweep < 0
    ]
    return (min(found)[1], min(found)[0]) if found else None
