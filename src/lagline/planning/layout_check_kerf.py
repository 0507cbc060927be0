"""The part of the independent check that is about shared kerfs: who may be nearer than the gap, and how near.

Two parts nearer than the gap hold when they face each other along straight edges just a kerf apart and are listed as
sharing it; or when they only meet where such kerfs cross: linked by a few shared kerfs, a kerf apart or more, not
side by side.
"""

from __future__ import annotations

import math

import shapely
from shapely.geometry import LineString, Polygon

from lagline.records.geometry import Line, Outline
from lagline.records.job import EdgeUse
from lagline.records.plan import Blank, Layout

SLACK_MM = 1e-3
EXACT_MM = 1e-5  # how exactly a shared kerf is kept
PARALLEL_RAD = 1e-6
BESIDE_MM = 1.0  # edges that overlap by less are not side by side
LINKS = 4  # shared kerfs that may lie between parts that meet where kerfs cross


class Kerfs:
    """The shared kerfs of a layout; ``outlines`` and ``areas`` of the placed parts in plate coordinates."""

    def __init__(self, layout: Layout, blanks: tuple[Blank, ...], outlines: list[Outline], areas: list[Polygon]):
        self.layout, self.blanks, self.outlines, self.areas = layout, blanks, outlines, areas
        self.pairs = set(layout.shared)
        self.linked: dict[int, set[int]] = {}
        for a, b in layout.shared:
            self.linked.setdefault(a, set()).add(b)
            self.linked.setdefault(b, set()).add(a)

    def wrong(self, a: int, b: int) -> str:
        """Return what is wrong with a pair that is listed as sharing a kerf, "" when it holds."""
        placed, kerf = self.layout.placed, self.layout.kerf_mm
        if not (0 <= a < b < len(placed)) or kerf <= 0 or placed[a].plate != placed[b].plate:
            return "is listed as sharing a kerf and cannot"
        apart = self.areas[a].distance(self.areas[b])
        faces = [
            (n, m, stretch)
            for n, one in self._edges(a)
            for m, other in self._edges(b)
            if (stretch := _beside(one, other, kerf - EXACT_MM, kerf + EXACT_MM)) is not None
        ]
        if not faces or apart < kerf - EXACT_MM:
            return f"lies {apart:.4f} mm from a neighbour it shares a kerf of {kerf:.4f} mm with"
        for n, m, _ in faces:
            uses = [self.blanks[placed[k].part].part.edge(name.rstrip("+")) for k, name in ((a, n), (b, m))]
            if any(u.bevel_deg for u in uses):
                return "shares a kerf along an edge that is to be bevelled"
            if not any(u.use in (EdgeUse.FREE, EdgeUse.WELD) for u in uses):
                return "shares a kerf where neither edge may lie on the torch's worse side"
        near = self.areas[a].intersection(self.areas[b].buffer(max(0.0, self.layout.gap_mm - SLACK_MM)))
        shared = shapely.union_all([stretch for _, _, stretch in faces])
        if any(g.distance(shared) > SLACK_MM for g in shapely.get_parts(near) if not g.is_empty):
            return "comes nearer than the gap to a neighbour also where they share no kerf"
        return ""

    def meet(self, a: int, b: int) -> bool:
        """Whether two parts that share no kerf may be nearer than the gap: they meet where shared kerfs cross."""
        kerf, gap = self.layout.kerf_mm, self.layout.gap_mm
        if self.areas[a].distance(self.areas[b]) < kerf - EXACT_MM or b not in self._linked(a):
            return False
        return not any(
            _beside(one, other, 0.0, gap - SLACK_MM) for _, one in self._edges(a) for _, other in self._edges(b)
        )

    def _linked(self, a: int) -> set[int]:
        found, rim = {a}, {a}
        for _ in range(LINKS):
            rim = {n for k in rim for n in self.linked.get(k, ())} - found
            found |= rim
        return found

    def _edges(self, k: int) -> list[tuple[str, Line]]:
        loop = self.outlines[k].outer
        return [(n, s) for n, s in zip(loop.names, loop.segments, strict=True) if isinstance(s, Line)]


def _beside(one: Line, other: Line, low_mm: float, high_mm: float) -> LineString | None:
    """Return the stretch of the first edge that the other faces, that far in front of it; None when none does."""
    dx, dy, length = one.end[0] - one.start[0], one.end[1] - one.start[1], one.length
    ex, ey = other.end[0] - other.start[0], other.end[1] - other.start[1]
    if dx * ex + dy * ey >= 0 or abs(dx * ey - dy * ex) > PARALLEL_RAD * length * other.length:
        return None
    along, out = [], []
    for x, y in (other.start, other.end):
        px, py = x - one.start[0], y - one.start[1]
        along.append((px * dx + py * dy) / length)
        out.append((px * dy - py * dx) / length)  # outer loops run with the part on the left: out is to the right
    a, b = max(0.0, min(along)), min(length, max(along))
    if b - a < BESIDE_MM or min(out) < low_mm or max(out) > high_mm or not math.isfinite(a + b):
        return None
    return LineString([(one.start[0] + t * dx / length, one.start[1] + t * dy / length) for t in (a, b)])
