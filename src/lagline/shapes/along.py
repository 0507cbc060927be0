"""Places along a chain of segments: by distance from its start."""

from __future__ import annotations

import math

import shapely.ops
from shapely.geometry import LineString

from lagline.records.geometry import Arc, Free, Line, Point, Segment


def chain_length(chain: tuple[Segment, ...]) -> float:
    """Length of a chain [mm]."""
    return sum(s.length for s in chain)


def part_of(segment: Segment, begin: float, end: float) -> Segment:
    """Return the stretch of a segment from ``begin`` to ``end`` [mm along it], 0 <= begin < end <= length."""
    match segment:
        case Line():
            return Line(_on_line(segment, begin), _on_line(segment, end))
        case Arc():
            per_mm = segment.sweep / segment.length
            return Arc(segment.centre, segment.radius, segment.angle + begin * per_mm, (end - begin) * per_mm)
        case Free():
            piece = shapely.ops.substring(LineString(segment.vertices), begin, end)
            return Free(tuple((float(x), float(y)) for x, y in piece.coords))


def _on_line(s: Line, at: float) -> Point:
    u = at / s.length if s.length else 0.0
    return (s.start[0] + u * (s.end[0] - s.start[0]), s.start[1] + u * (s.end[1] - s.start[1]))


def stretch(chain: tuple[Segment, ...], begin: float, end: float) -> tuple[Segment, ...]:
    """Return the stretch of a chain between two distances from its start [mm]."""
    out: list[Segment] = []
    at = 0.0
    for s in chain:
        lo, hi = max(begin - at, 0.0), min(end - at, s.length)
        if hi - lo > 1e-9:
            out.append(s if lo == 0.0 and hi == s.length else part_of(s, lo, hi))
        at += s.length
    return tuple(out)


def from_place(chain: tuple[Segment, ...], begin: float, overrun: float) -> tuple[Segment, ...]:
    """Return a closed chain gone round once from ``begin`` [mm], then ``overrun`` [mm] further."""
    total = chain_length(chain)
    again = stretch(chain, begin, min(begin + overrun, total))
    short = overrun - chain_length(again)
    return (*stretch(chain, begin, total), *stretch(chain, 0.0, begin), *again, *stretch(chain, 0.0, short))


def place(chain: tuple[Segment, ...], at: float) -> tuple[Point, float]:
    """Return the point and the heading [rad] at a distance along a chain [mm]."""
    for s in chain:
        if at <= s.length + 1e-9:
            if at <= 1e-9:
                return s.start, s.heading_start
            if at >= s.length - 1e-9:
                return s.end, s.heading_end
            rest = part_of(s, at, s.length)
            return rest.start, rest.heading_start
        at -= s.length
    return chain[-1].end, chain[-1].heading_end


def from_polar(p: Point, heading: float, distance: float) -> Point:
    """Return the point at a distance [mm] and heading [rad] from another."""
    return (p[0] + distance * math.cos(heading), p[1] + distance * math.sin(heading))
