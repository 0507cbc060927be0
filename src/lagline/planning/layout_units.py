"""What is laid in bands: cells with straight sides, made of one part or of two that share a slanting edge.

Glossary
--------
stretch : a straight edge of a part that lies on a side of its cell's box
unit    : a kind of cell: one way to lay one copy of a part, or two of them as a pair
kerf    : the width of the cut; two stretches that face each other just a kerf apart are made by one cut
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from lagline.planning.layout_shapes import Box, Lie, lies
from lagline.planning.passes import SHORTEST_STRAIGHT_MM
from lagline.records.geometry import Line, Outline
from lagline.records.job import EdgeUse
from lagline.records.plan import Blank

SLANT_MM = 1e-3  # across an axis, over which an edge is not along it
ON_MM = 1e-6  # an edge this near a side of the box lies on it
FACING_MM = 1.0  # edges that overlap by less than this do not face each other
STRAIGHT_SHARE = 0.25  # of its box's outline a part must have in straight sides to be laid in bands
DIRECTIONS = 3  # of straight edges that are laid along the axes, where a part may be turned at will
SAME_DEG = 1e-6
FACTORY_SHARE = 0.6  # of a part's side must be straight to lie on a plate's own edge
BadSide = Callable[[int, str], bool]  # may this edge of that part lie on the torch's worse side?

LEFT, BOTTOM, RIGHT, TOP = range(4)
SIDES = ("left", "bottom", "right", "top")


@dataclass(frozen=True, slots=True)
class Stretch:
    """From ``low`` to ``high`` along a side, from the cell's lower left corner [mm]."""

    low: float
    high: float
    square: bool  # no bevel is asked on it
    bad: bool  # it may lie on the torch's worse side
    free: bool  # used free or to be welded

    @property
    def length(self) -> float:
        return self.high - self.low

    @property
    def long(self) -> bool:
        """Whether a straightedge is clamped for it."""
        return self.length >= SHORTEST_STRAIGHT_MM

    def moved(self, by: float) -> Stretch:
        """Return it moved along the side."""
        return Stretch(self.low + by, self.high + by, self.square, self.bad, self.free)


Side = tuple[Stretch, ...]
Look = Callable[[str], tuple[bool, bool, bool]]  # of an edge: no bevel asked, may take the worse side, free or to weld
Sides = tuple[Side, Side, Side, Side]
Lies = tuple[tuple[Lie, float, float], ...]


@dataclass(frozen=True, slots=True)
class Unit:
    """A cell: ``lies`` with the places of their datums in it, its size, its sides (left, bottom, right, top).

    ``inner`` are the middles of kerfs across x and across y that are not on its sides; ``slanting`` counts the lines
    along neither axis.
    """

    part: int
    lies: Lies
    width: float
    height: float
    sides: Sides
    inner: tuple[tuple[float, ...], tuple[float, ...]]
    slanting: int

    @property
    def straight(self) -> float:
        """Share of the box's outline that is straight edges worth a straightedge."""
        return sum(s.length for side in self.sides for s in side if s.long) / (2 * (self.width + self.height))

    def cut(self, side: int) -> bool:
        """Whether a straightedge is clamped for that side."""
        return any(s.long for s in self.sides[side])

    def on_factory_edge(self, side: int) -> bool:
        """Whether the cell may lie on the plate's own edge with that side; pairs, whose tips would, may not."""
        extent = self.width if side in (BOTTOM, TOP) else self.height
        stretches = self.sides[side]
        run = sum(s.length for s in stretches)
        alone = len(self.lies) == 1
        return alone and run > FACTORY_SHARE * extent and all(s.free and s.square for s in stretches)


def edge_name(name: str) -> str:
    """Return the name an edge has in the job: pieces of one edge carry marks behind it."""
    return name.rstrip("+")


def shares(one: Side, other: Side) -> bool | None:
    """Whether two facing sides may be made by one cut: None when no stretches face each other.

    Every pair that faces must have no bevel, and one edge at least that may take the worse side.
    """
    faces = [(a, b) for a in one for b in other if min(a.high, b.high) - max(a.low, b.low) >= FACING_MM]
    if not faces:
        return None
    return all(a.square and b.square and (a.bad or b.bad) for a, b in faces)


def single(lie: Lie, blank: Blank, bad_side: BadSide, kerf_mm: float) -> Unit:
    """Return the cell of one copy."""
    outline, box = lie.move(0.0, 0.0).outline(blank.cut), (0.0, 0.0, lie.width, lie.height)
    return unit_of(((lie, 0.0, 0.0),), [outline], box, edge_of(lie.part, blank, bad_side), kerf_mm)


def unit_of(lies: Lies, outlines: list[Outline], box: Box, look: Look, kerf_mm: float) -> Unit:
    """Return the cell of parts with these outlines in a box."""
    sides: list[Side] = [(), (), (), ()]
    inner: tuple[set[float], set[float]] = (set(), set())
    slanting: set[tuple[float, float]] = set()
    for outline in outlines:
        on = sides_of(outline, box, look)
        sides = [(*a, *b) for a, b in zip(sides, on, strict=True)]
        for _, line in straight_edges(outline):
            h = line.heading_start
            x, y = line.start[0] + kerf_mm / 2 * math.sin(h), line.start[1] - kerf_mm / 2 * math.cos(h)
            level = [abs(line.end[k] - line.start[k]) < SLANT_MM for k in (0, 1)]
            if not any(level):
                axis = h % math.pi
                slanting.add((round(axis, 5), round(y * math.cos(axis) - x * math.sin(axis), 3)))
            elif not any(abs(line.start[k % 2] - box[k]) < ON_MM for k in range(4) if level[k % 2]):
                k = level.index(True)
                inner[k].add(round((x, y)[k] - box[k], 6))
    left, bottom, right, top = (tuple(sorted(s, key=lambda t: (t.low, t.high))) for s in sides)
    lines = (tuple(sorted(inner[0])), tuple(sorted(inner[1])))
    size = (box[2] - box[0], box[3] - box[1])
    return Unit(lies[0][0].part if lies else -1, lies, *size, (left, bottom, right, top), lines, len(slanting))


def edge_of(part: int, blank: Blank, bad_side: BadSide) -> Look:
    """Return what the edge of a name may do."""

    def look(name: str) -> tuple[bool, bool, bool]:
        edge = blank.part.edge(edge_name(name))
        return edge.bevel_deg == 0, bad_side(part, edge.name), edge.use in (EdgeUse.FREE, EdgeUse.WELD)

    return look


def sides_of(outline: Outline, box: Box, edge: Look) -> Sides:
    """Return the straight edges that lie on the sides of a box, measured from its lower left corner."""
    out: tuple[list[Stretch], ...] = ([], [], [], [])
    for name, line in straight_edges(outline, FACING_MM):
        for side in range(4):
            axis = side % 2
            if max(abs(p[axis] - box[side]) for p in (line.start, line.end)) < ON_MM:
                low, high = sorted(p[1 - axis] - box[1 - axis] for p in (line.start, line.end))
                out[side].append(Stretch(low, high, *edge(name)))
    left, bottom, right, top = (tuple(sorted(s, key=lambda t: (t.low, t.high))) for s in out)
    return left, bottom, right, top


def straight_edges(outline: Outline, least_mm: float = SHORTEST_STRAIGHT_MM) -> list[tuple[str, Line]]:
    """Return the straight outer edges with their names: those that a straightedge is clamped for, or that long."""
    loop = outline.outer
    return [
        (n, s) for n, s in zip(loop.names, loop.segments, strict=True) if isinstance(s, Line) and s.length >= least_mm
    ]


def may_take_bad_side(blanks: tuple[Blank, ...]) -> BadSide:
    """Return the rule where nothing is known of the cut: edges free or to be welded, of parts without tolerance."""

    def rule(part: int, name: str) -> bool:
        p = blanks[part].part
        return p.tolerance_mm == 0 and p.edge(name).use in (EdgeUse.FREE, EdgeUse.WELD)

    return rule


def along_axes(index: int, blank: Blank) -> tuple[Lie, ...]:
    """Return the ways a part that may be turned at will lies with one of its longest straight edges along an axis."""
    turns: list[float] = []
    for _, line in sorted(straight_edges(blank.cut), key=lambda e: -e[1].length):
        turn = -math.degrees(line.heading_start)
        if all(abs(math.remainder(turn - t, 90.0)) > SAME_DEG for t in turns):
            turns.append(turn)
    if not turns:
        return ()
    quarters = tuple(t + q for t in turns[:DIRECTIONS] for q in (0.0, 90.0, 180.0, 270.0))
    return lies(index, replace(blank, part=replace(blank.part, turns_deg=quarters)))


def single_units(ways: tuple[Lie, ...], blank: Blank, bad_side: BadSide, kerf_mm: float) -> tuple[Unit, ...]:
    """Return the cells in which one copy of a part may be laid in a band, straightest first: none for round and free
    shapes, one for each way its box may lie."""
    best: dict[tuple[float, float], Unit] = {}
    for lie in ways:
        unit = single(lie, blank, bad_side, kerf_mm)
        box = (round(unit.width, 3), round(unit.height, 3))
        if unit.straight >= STRAIGHT_SHARE and (box not in best or _rank(unit) > _rank(best[box])):
            best[box] = unit
    return tuple(sorted(best.values(), key=lambda u: (-round(u.straight, 6), -u.width, u.height)))


def _rank(unit: Unit) -> tuple[float, float]:
    at_datum = sum(s.length for k in (LEFT, BOTTOM) for s in unit.sides[k])
    return round(unit.straight, 6), round(at_datum / math.hypot(unit.width, unit.height), 6)
