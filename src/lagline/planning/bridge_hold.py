"""What a strip may hang on: the pieces the cuts leave, and which long edges, bridged, hold every strip to the metal
under the work clamp."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from lagline.planning.bow_notes import LONG_SHARE
from lagline.planning.bridge_places import CORNER_MM, Side, places
from lagline.planning.ground import Ground
from lagline.planning.kerf_net import TEAR_MM, root_of
from lagline.planning.kerfs import kerfs_of
from lagline.records.geometry import Line, Outline, Point
from lagline.records.plan import Cut, Method, Pass, Start
from lagline.shapes.along import from_polar
from lagline.shapes.region import chain_line

BACK_MM = 60.0  # how deep metal beside a kerf is looked at
GOOD_BACK_MM = 25.0  # a web narrower than this bends with the strip, and is only hung on when nothing else is there
MATCH_MM = 0.05
BESIDE_MM = 0.5


def sides_of(
    outlines: Mapping[int, Outline],
    strips: Mapping[int, float],
    cuts: Sequence[Cut],
    mine: Sequence[int],
    kerfs_mm: Mapping[str, float],
) -> tuple[Side, ...]:
    """Return the edges that lie along straight passes which cut a long edge of some strip.

    Parameters
    ----------
    outlines : of every part on the plate
    strips : those that want bridges
    cuts, mine : all cuts, and which of them (by index) lie on this plate
    kerfs_mm : by setting
    """
    out: list[Side] = []
    for n in mine:
        cut = cuts[n]
        if cut.role not in ("outline", "edge", "rip") or not any(i in strips for i in cut.parts):
            continue
        for at, p in enumerate(cut.passes):
            if straight(p) is None:
                continue
            found = [
                s for i in cut.parts for s in _along(i, outlines[i], n, at, p, cut.kept_side, kerfs_mm[cut.setting])
            ]
            if any(s.long and s.strip in strips for s in found):
                out.extend(found)
    return tuple(out)


def straight(p: Pass) -> Line | None:
    """Return the path of a pass that one straightedge leads, None for any other."""
    if p.method is Method.STRAIGHTEDGE and not p.closed and len(p.path) == len(p.line) == 1:
        way = p.path[0]
        return way if isinstance(way, Line) else None
    return None


def _along(i: int, outline: Outline, n: int, at: int, p: Pass, kept: str, kerf: float) -> list[Side]:
    """The edges of a part half a kerf beside a path."""
    way = straight(p)
    assert way is not None
    c, s = math.cos(way.heading_start), math.sin(way.heading_start)
    left, bottom, right, top = outline.bounds()
    longest = max((e.length for e in outline.outer.segments if isinstance(e, Line)), default=0.0)
    out = []
    for e in outline.outer.segments:
        if not isinstance(e, Line) or abs(math.sin(e.heading_start - way.heading_start)) > 1e-4:
            continue
        (ax, ay), (bx, by) = ((q[0] - way.start[0], q[1] - way.start[1]) for q in (e.start, e.end))
        off = (ay * c - ax * s + by * c - bx * s) / 2
        if abs(abs(off) - kerf / 2) > MATCH_MM:
            continue
        u, v = sorted((ax * c + ay * s, bx * c + by * s))
        if u < -kerf or v > way.length + kerf:
            continue
        long = e.length >= LONG_SHARE * longest and e.length > max(right - left, top - bottom) / 2
        out.append(Side(i, n, at, max(u, 0.0), min(v, way.length), (off < 0) == (kept == "right"), long, kerf))
    return out


class Hold:
    """A plate once everything but bridges is cut: its pieces, and what lies beside a pass."""

    def __init__(
        self, ground: Ground, anchor: Point, cuts: Sequence[Cut], mine: Sequence[int], kerfs_mm: Mapping[str, float]
    ) -> None:
        self.ground, self.cuts, self.mine, self.kerfs_mm = ground, cuts, mine, kerfs_mm
        self.pieces = self.without([cuts[n] for n in mine])
        self._tree = shapely.STRtree(self.pieces)
        self._spot = shapely.Point(anchor)
        self.anchor = min(
            range(len(self.pieces)), key=lambda k: (self.pieces[k].distance(self._spot), -self.pieces[k].area)
        )

    def firm(self, strips: Mapping[int, float]) -> set[int]:
        """The pieces that hold a strip: what the work clamp bites, and other parts that still hang on it when nothing
        but the strips' own cuts is made, so that theirs may come after the bridges."""
        mine = [self.cuts[n] for n in self.mine]
        early = self.without([c for c in mine if any(i in strips for i in c.parts)])
        there = [g for g in early if g.contains(self._spot)]
        others = {i for c in mine if not any(j in strips for j in c.parts) for i in c.parts if i not in strips}
        spots = [self.ground.outlines[i].representative_point() for i in sorted(others)]
        spots = [p for p in spots if any(g.contains(p) for g in there)]
        found = self._tree.query(np.array(spots, dtype=object), predicate="within")[1] if spots else []
        return {self.anchor, *(int(k) for k in found)}

    def without(self, cuts: Sequence[Cut]) -> list[BaseGeometry]:
        """The pieces of the plate that some cuts leave."""
        # a run-in from an edge cuts off a narrow web; which one is taken is not known yet
        run_ins = [
            shapely.LineString(e.run_in).buffer(self.kerfs_mm[c.setting] / 2, quad_segs=4)
            for c in cuts
            for e in c.entries
            if e.start is Start.EDGE and e.run_in[0] != e.run_in[-1]
        ]
        gone = shapely.union_all([*kerfs_of(cuts, self.kerfs_mm).values(), *run_ins])
        return [g for g in shapely.get_parts(self.ground.plate - gone.buffer(TEAR_MM)) if g.area > 1.0]

    def piece_at(self, points: Sequence[Point]) -> int | None:
        """Return the piece that most of these points lie in, None when they lie in none."""
        found = self._tree.query(shapely.points(np.array(points)), predicate="within")[1]
        return int(np.bincount(found).argmax()) if len(found) else None

    def across(self, side: Side) -> tuple[int | None, int | None, float]:
        """Return the piece on the strip's side of a kerf, the one on the other, and how deep that is on average, no
        further than it is looked at [mm]."""
        way = self.cuts[side.cut].passes[side.at].path[0]
        h = way.heading_start
        right = self.cuts[side.cut].kept_side == "right"
        to_strip = h + (-1 if side.kept == right else 1) * math.pi / 2
        along = [from_polar(way.start, h, side.lo + (side.hi - side.lo) * (k + 0.5) / 15) for k in range(15)]
        near = side.kerf_mm / 2 + BESIDE_MM
        own = self.piece_at([from_polar(p, to_strip, near) for p in along])
        other = self.piece_at([from_polar(p, to_strip, -near) for p in along])
        if other is None:
            return own, None, 0.0
        a, b = (from_polar(from_polar(way.start, h, u), to_strip, -side.kerf_mm / 2) for u in (side.lo, side.hi))
        c, d = (from_polar(p, to_strip, -BACK_MM) for p in (b, a))
        deep = shapely.Polygon([a, b, c, d]).intersection(self.pieces[other]).area / max(side.hi - side.lo, 1.0)
        return own, other, deep

    def blocked(self, n: int, at: int, never: set[int]) -> list[tuple[float, float]]:
        """Where along a pass no bridge may stand: at other kerfs, and along parts that will have none [mm]."""
        way = self.cuts[n].passes[at].path[0]
        h, kerf = way.heading_start, self.kerfs_mm[self.cuts[n].setting]
        zone = shapely.LineString([way.start, way.end]).buffer(1.5 * kerf, cap_style="flat")
        near: list[BaseGeometry] = []
        for m in self.mine:
            for k, p in enumerate(self.cuts[m].passes):
                if p.path and (m, k) != (n, at):
                    near.append(zone & chain_line(p.path, 0.1))
        near.extend(zone & self.ground.outlines[i] for i in never if i in self.ground.outlines)
        out = []
        for piece in (p for g in near for p in shapely.get_parts(g)):
            points = shapely.get_coordinates(piece)
            if len(points):
                u = (points[:, 0] - way.start[0]) * math.cos(h) + (points[:, 1] - way.start[1]) * math.sin(h)
                out.append((float(u.min()) - CORNER_MM, float(u.max()) + CORNER_MM))
        return out


def chosen_sides(
    sides: Sequence[Side], widths: dict[int, float], never: set[int], hold: Hold
) -> tuple[tuple[Side, ...], tuple[int, ...]]:
    """Return the sides to be bridged, and the strips that nothing holds.

    The fewest that join every strip, through others where need be, to the piece under the work clamp or a part that is
    cut out later: good metal first, then a neighbouring strip, then a part, a narrow web last.
    """
    home: dict[int, int] = {}
    found: list[tuple[float, Side, int, int]] = []
    for side in sides:
        if not side.long or side.strip not in widths:
            continue
        own, other, deep = hold.across(side)
        if own is None:
            continue
        home[side.strip] = own
        if other is None or other == own:
            continue
        line = [s for s in sides if (s.cut, s.at) == (side.cut, side.at)]
        if not places([side], line, widths, hold.blocked(side.cut, side.at, never)):
            continue
        found.append((deep, side, own, other))
    strips = {piece: i for i, piece in home.items()}
    ranked = sorted(
        (((_rank(other, deep, strips, hold), -deep, side.cut, side.at, side.strip), side, own, other)
         for deep, side, own, other in found),
        key=lambda f: f[0],
    )  # fmt: skip
    firm = hold.firm(widths)
    parent = [hold.anchor if p in firm else p for p in range(len(hold.pieces))]
    chosen: list[tuple[Side, int, int]] = []
    for _, side, own, other in ranked:
        a, b = root_of(parent, own), root_of(parent, other)
        if a != b:
            parent[a] = b
            chosen.append((side, own, other))
    held = root_of(parent, hold.anchor)
    chosen = [c for c in chosen if root_of(parent, c[1]) == held]
    while True:  # what holds no strip is not worth a bridge
        count = np.bincount([p for c in chosen for p in c[1:]], minlength=len(hold.pieces))
        loose = [c for c in chosen if any(count[p] == 1 and p not in strips and p not in firm for p in c[1:])]
        if not loose:
            break
        chosen = [c for c in chosen if c not in loose]
    unheld = tuple(i for i in sorted(widths) if i not in home or root_of(parent, home[i]) != held)
    return tuple(c[0] for c in chosen), unheld


def _rank(other: int, deep: float, strips: Mapping[int, int], hold: Hold) -> float:
    if other in strips:
        return 1.0
    if deep < GOOD_BACK_MM:
        return 3.0
    return 0.0 if other == hold.anchor else 2.0
