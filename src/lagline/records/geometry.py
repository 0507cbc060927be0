"""Lines, arcs and free curves in the plane, joined to loops; millimetres, x right, y up.

Glossary
--------
segment : one :class:`Line`, :class:`Arc` or :class:`Free` curve, travelled from start to end
loop    : segments end to end, closed; counter-clockwise for an outer loop, clockwise for a hole
outline : one outer loop and the holes in it
turn    : the angle by which travel changes direction at a corner, left positive
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
from typing import TypeAlias

Point: TypeAlias = tuple[float, float]
JOIN_TOL_MM = 1e-6


@dataclass(frozen=True, slots=True)
class Line:
    """A straight segment."""

    start: Point
    end: Point

    @property
    def length(self) -> float:
        return math.dist(self.start, self.end)

    @property
    def heading_start(self) -> float:
        """Direction of travel at the start [rad]."""
        return math.atan2(self.end[1] - self.start[1], self.end[0] - self.start[0])

    @property
    def heading_end(self) -> float:
        return self.heading_start

    def reversed(self) -> Line:
        return Line(self.end, self.start)

    def points(self, tol_mm: float = 0.01) -> tuple[Point, ...]:  # noqa: ARG002
        """Vertices of a chain within ``tol_mm`` of the segment, ends included."""
        return (self.start, self.end)


@dataclass(frozen=True, slots=True)
class Arc:
    """A circular segment: centre, radius [mm], start angle and signed sweep [rad], sweep positive counter-clockwise.

    A sweep of plus or minus 2 pi is a full circle.
    """

    centre: Point
    radius: float
    angle: float
    sweep: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.radius) and self.radius > 0):
            raise ValueError(f"arc radius must be above zero, got {self.radius}")
        if not 0 < abs(self.sweep) <= 2 * math.pi + 1e-9:
            raise ValueError(f"arc sweep must be within a full turn, got {self.sweep}")

    def at(self, angle: float) -> Point:
        """Point on the circle at an absolute angle [rad]."""
        return (
            self.centre[0] + self.radius * math.cos(angle),
            self.centre[1] + self.radius * math.sin(angle),
        )

    @property
    def start(self) -> Point:
        return self.at(self.angle)

    @property
    def end(self) -> Point:
        return self.at(self.angle + self.sweep)

    @property
    def length(self) -> float:
        return self.radius * abs(self.sweep)

    @property
    def heading_start(self) -> float:
        return self.angle + math.copysign(math.pi / 2, self.sweep)

    @property
    def heading_end(self) -> float:
        return self.angle + self.sweep + math.copysign(math.pi / 2, self.sweep)

    @property
    def is_circle(self) -> bool:
        return abs(self.sweep) > 2 * math.pi - 1e-6

    def reversed(self) -> Arc:
        return Arc(self.centre, self.radius, self.angle + self.sweep, -self.sweep)

    def points(self, tol_mm: float = 0.01) -> tuple[Point, ...]:
        """Vertices on the arc whose chords stay within ``tol_mm`` of it, ends included."""
        step = 2 * math.acos(max(0.0, 1 - min(tol_mm / self.radius, 0.3)))
        n = max(2, math.ceil(abs(self.sweep) / step))
        return tuple(self.at(self.angle + self.sweep * i / n) for i in range(n + 1))


@dataclass(frozen=True, slots=True)
class Free:
    """Any other curve, as vertices dense enough to stand for it (made at 0.01 mm)."""

    vertices: tuple[Point, ...]

    def __post_init__(self) -> None:
        if len(self.vertices) < 2:
            raise ValueError("a free segment needs two vertices or more")

    @property
    def start(self) -> Point:
        return self.vertices[0]

    @property
    def end(self) -> Point:
        return self.vertices[-1]

    @property
    def length(self) -> float:
        v = self.vertices
        return sum(math.dist(a, b) for a, b in itertools.pairwise(v))

    @property
    def heading_start(self) -> float:
        return Line(self.vertices[0], self.vertices[1]).heading_start

    @property
    def heading_end(self) -> float:
        return Line(self.vertices[-2], self.vertices[-1]).heading_start

    def reversed(self) -> Free:
        return Free(self.vertices[::-1])

    def points(self, tol_mm: float = 0.01) -> tuple[Point, ...]:  # noqa: ARG002
        return self.vertices


Segment: TypeAlias = Line | Arc | Free


def wrap(angle: float) -> float:
    """Return the angle brought to (-pi, pi]."""
    return math.pi - (math.pi - angle) % (2 * math.pi)


def chain_points(segments: tuple[Segment, ...], tol_mm: float = 0.01) -> tuple[Point, ...]:
    """Vertices along an open chain of segments, shared ends once."""
    out: list[Point] = []
    for s in segments:
        pts = s.points(tol_mm)
        out.extend(pts[1:] if out and math.dist(out[-1], pts[0]) <= 1e-4 else pts)
    return tuple(out)


@dataclass(frozen=True, slots=True)
class Loop:
    """A closed chain. ``names`` holds one shop word per segment (``bottom``, ``e3``), unique in the part."""

    segments: tuple[Segment, ...]
    names: tuple[str, ...]

    def __post_init__(self) -> None:
        if not self.segments:
            raise ValueError("a loop needs at least one segment")
        if len(self.names) != len(self.segments):
            raise ValueError(f"{len(self.segments)} segments but {len(self.names)} names")
        for a, b in zip(self.segments, self.segments[1:] + self.segments[:1], strict=True):
            if math.dist(a.end, b.start) > 1e-3:
                raise ValueError(f"loop is open between {a.end} and {b.start}")

    @property
    def length(self) -> float:
        return sum(s.length for s in self.segments)

    def points(self, tol_mm: float = 0.01) -> tuple[Point, ...]:
        """Vertices round the loop, the first not repeated."""
        pts = chain_points(self.segments, tol_mm)
        return pts[:-1] if math.dist(pts[0], pts[-1]) <= 1e-3 and len(pts) > 3 else pts

    @property
    def area(self) -> float:
        """Signed area [mm2], counter-clockwise positive; arcs exact, free curves by their vertices."""
        total = 0.0
        for s in self.segments:
            p = (s.start, s.end) if isinstance(s, Arc) else s.points()
            total += sum(a[0] * b[1] - b[0] * a[1] for a, b in itertools.pairwise(p)) / 2
            if isinstance(s, Arc):
                total += s.radius**2 * (s.sweep - math.sin(s.sweep)) / 2
        return total

    def reversed(self) -> Loop:
        return Loop(tuple(s.reversed() for s in self.segments[::-1]), self.names[::-1])

    def turns(self) -> tuple[float, ...]:
        """Turn at the start of each segment [rad], left positive."""
        prev = self.segments[-1:] + self.segments[:-1]
        return tuple(wrap(s.heading_start - p.heading_end) for p, s in zip(prev, self.segments, strict=True))


@dataclass(frozen=True, slots=True)
class Outline:
    """One outer loop (counter-clockwise) and the holes in it (clockwise)."""

    outer: Loop
    holes: tuple[Loop, ...] = ()

    def __post_init__(self) -> None:
        if self.outer.area <= 0:
            object.__setattr__(self, "outer", self.outer.reversed())
        if any(h.area > 0 for h in self.holes):
            object.__setattr__(self, "holes", tuple(h.reversed() if h.area > 0 else h for h in self.holes))

    @property
    def loops(self) -> tuple[Loop, ...]:
        return (self.outer, *self.holes)

    @property
    def area(self) -> float:
        """Net area [mm2]."""
        return sum(loop.area for loop in self.loops)

    def bounds(self) -> tuple[float, float, float, float]:
        """Left, bottom, right, top [mm]."""
        pts = self.outer.points(0.01)
        xs, ys = [p[0] for p in pts], [p[1] for p in pts]
        return min(xs), min(ys), max(xs), max(ys)


@dataclass(frozen=True, slots=True)
class Move:
    """Mirror about the part's y axis (if asked), then turn about the origin [rad], then shift [mm]."""

    dx: float = 0.0
    dy: float = 0.0
    turn: float = 0.0
    mirror: bool = False

    def point(self, p: Point) -> Point:
        x = -p[0] if self.mirror else p[0]
        c, s = math.cos(self.turn), math.sin(self.turn)
        return (c * x - s * p[1] + self.dx, s * x + c * p[1] + self.dy)

    def segment(self, s: Segment) -> Segment:
        match s:
            case Line():
                return Line(self.point(s.start), self.point(s.end))
            case Arc():
                angle, sweep = (math.pi - s.angle, -s.sweep) if self.mirror else (s.angle, s.sweep)
                return Arc(self.point(s.centre), s.radius, wrap(angle + self.turn), sweep)
            case Free():
                return replace(s, vertices=tuple(map(self.point, s.vertices)))

    def loop(self, loop: Loop) -> Loop:
        """Return the moved loop; its sense of rotation is kept (a mirrored loop is reversed)."""
        moved = Loop(tuple(map(self.segment, loop.segments)), loop.names)
        return moved.reversed() if self.mirror else moved

    def outline(self, o: Outline) -> Outline:
        return Outline(self.loop(o.outer), tuple(map(self.loop, o.holes)))
