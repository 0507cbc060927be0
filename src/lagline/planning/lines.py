"""Which straight edges of different parts lie on one line, so that one clamped straightedge serves them all.

Glossary
--------
edge    : one straight edge of a placed part as it is travelled, with the middle of its kerf
axis    : the direction of a line, 0 up to but not including 180 deg
forward : whether an edge is travelled along its axis; the part then lies on the torch's square side of that travel
run     : edges whose kerfs have one and the same middle line, near enough together for one straightedge
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from lagline.records.geometry import Line, Point

ANGLE_RAD = 2e-6  # over 5 m this is 0.01 mm
OFF_MM = 0.01


@dataclass(frozen=True, slots=True)
class Edge:
    """``part`` is an index into the layout, ``at`` which pass of its outline this is, ``path`` the kerf's middle."""

    part: int
    at: int
    line: Line
    path: Line

    @property
    def axis(self) -> float:
        h = self.line.heading_start % math.pi
        return 0.0 if math.pi - h < ANGLE_RAD / 2 else h

    @property
    def forward(self) -> bool:
        return math.cos(self.line.heading_start - self.axis) > 0


@dataclass(frozen=True, slots=True)
class Run:
    """Edges on one line. ``forward`` is the travel that gives the square side to the edges of the same mark."""

    axis: float
    off_mm: float  # of the kerf's middle, left of the axis through the origin
    edges: tuple[Edge, ...]

    @property
    def alone(self) -> bool | None:
        """The travel that edges without a part facing them fix; None when every edge has one."""
        sides = {e.forward for e in self.edges if not any(self._faces(e, o) for o in self.edges)}
        return sides.pop() if len(sides) == 1 else None

    def _faces(self, e: Edge, o: Edge) -> bool:
        (a, b), (c, d) = self.extent(e), self.extent(o)
        return e.forward != o.forward and min(b, d) - max(a, c) > OFF_MM

    def along(self, p: Point) -> float:
        """Distance of a point along the axis [mm]."""
        return p[0] * math.cos(self.axis) + p[1] * math.sin(self.axis)

    def extent(self, e: Edge) -> tuple[float, float]:
        """Where an edge's kerf begins and ends along the axis [mm]."""
        a, b = self.along(e.path.start), self.along(e.path.end)
        return min(a, b), max(a, b)

    def point(self, along_mm: float, off_mm: float = 0.0) -> Point:
        """The point that far along the axis, ``off_mm`` to the left of the kerf's middle [mm]."""
        c, s, n = math.cos(self.axis), math.sin(self.axis), self.off_mm + off_mm
        return along_mm * c - n * s, along_mm * s + n * c


def runs_of(edges: tuple[Edge, ...], reach_mm: float) -> tuple[Run, ...]:
    """Return every run of two parts' edges or more.

    Parameters
    ----------
    edges : straight edges of one plate
    reach_mm : what the longest straightedge serves in one clamping; edges that overlap or face each other across the
        kerf stay together beyond it

    Edges on opposite sides of one kerf line join only where they face each other, so that each run has one travel.
    """
    out: list[Run] = []
    for axis, same in _near(((e.axis, e) for e in edges), ANGLE_RAD):
        c, s = math.cos(axis), math.sin(axis)
        off = ((e.path.start[1] * c - e.path.start[0] * s, e) for e in same)
        for middle, line in _near(off, OFF_MM):
            out.extend(_split(Run(axis, middle, tuple(line)), reach_mm))
    return tuple(out)


def _near(pairs: Iterable[tuple[float, Edge]], within: float) -> list[tuple[float, list[Edge]]]:
    """Group (value, edge) pairs whose values follow each other that closely; the first value stands for its group."""
    groups: list[tuple[float, list[Edge]]] = []
    last = -math.inf
    for value, e in sorted(pairs, key=lambda p: (p[0], p[1].part, p[1].at)):
        if value - last > within:
            groups.append((value, []))
        groups[-1][1].append(e)
        last = value
    return groups


def _split(run: Run, reach_mm: float) -> list[Run]:
    """Cut a whole line into runs: facing edges first, then neighbours of one side within the straightedge's reach."""
    clumps: list[list[Edge]] = []
    end = -math.inf
    for e in sorted(run.edges, key=lambda e: (run.extent(e), e.part)):
        a, b = run.extent(e)
        if a < end - OFF_MM and clumps:
            clumps[-1].append(e)
        else:
            clumps.append([e])
        end = max(end, b)
    joined: list[tuple[list[Edge], bool | None]] = []  # with the side that fixes the travel, None while both may
    for clump in clumps:
        side = _one_side(clump)
        if joined:
            before, fixed = joined[-1]
            if (side is None or fixed is None or side == fixed) and _span(run, before + clump) <= reach_mm:
                joined[-1] = (before + clump, fixed if side is None else side)
                continue
        joined.append((clump, side))
    return [Run(run.axis, run.off_mm, tuple(edges)) for edges, _ in joined if len({e.part for e in edges}) > 1]


def _one_side(edges: list[Edge]) -> bool | None:
    sides = {e.forward for e in edges}
    return sides.pop() if len(sides) == 1 else None


def _span(run: Run, edges: list[Edge]) -> float:
    ends = [run.extent(e) for e in edges]
    return max(b for _, b in ends) - min(a for a, _ in ends)


def merged(extents: list[tuple[float, float]], gap_mm: float) -> list[tuple[float, float]]:
    """Join stretches that overlap or are no further apart than a gap [mm]."""
    out: list[tuple[float, float]] = []
    for a, b in sorted(extents):
        if out and a - out[-1][1] <= gap_mm:
            out[-1] = (out[-1][0], max(b, out[-1][1]))
        else:
            out.append((a, b))
    return out
