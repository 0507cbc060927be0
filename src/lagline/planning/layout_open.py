"""What of a plate is open to parts, and how a part may lie on it: regions kept out, pins, factory edges, grain."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from lagline.planning.layout_shapes import Lie, lies
from lagline.planning.layout_units import SIDES
from lagline.records.geometry import Line, Loop, Outline
from lagline.records.job import Plate
from lagline.records.plan import Blank
from lagline.shapes.region import joined, loop_polygon, pieces, polygon

GRAIN_DEG = 0.01  # how nearly a part's grain must lie along the plate's
ON_SIDE_MM = 1e-3
SQUARE_MM = 1.6  # diagonals that differ by no more than 1/16 in: what a tape reads; common practice, no source
ROUND = 32  # segments to a quarter circle


@dataclass(frozen=True, slots=True)
class Rim:
    """A side of the plate that may be a part's edge: which, where on its axis, from where to where along it [mm]."""

    side: int
    at: float
    low: float
    high: float


def out_of_square(plate: Plate) -> bool:
    """Whether the diagonals as taped show the plate out of square."""
    one, other = plate.diagonals_mm
    return abs(one - other) > SQUARE_MM


def rims(plate: Plate) -> tuple[Rim, ...]:
    """Return the plate's factory edges that are of use: straight, along an axis, the outermost on their side."""
    if out_of_square(plate):
        return ()
    bounds = plate.outline.bounds()
    out = []
    for s in plate.outline.outer.segments:
        for side, name in enumerate(SIDES):
            axis = side % 2
            if name in plate.factory_edges and isinstance(s, Line):
                low, high = sorted(p[1 - axis] for p in (s.start, s.end))
                if all(abs(p[axis] - bounds[side]) < ON_SIDE_MM for p in (s.start, s.end)) and high > low:
                    out.append(Rim(side, bounds[side], low, high))
    return tuple(out)


def open_metal(plate: Plate, taken: BaseGeometry, on: frozenset[Rim] = frozenset()) -> BaseGeometry:
    """Return where outlines may lie: the metal less its margin, keep-out regions and what is ``taken``.

    Along the rims in ``on`` the margin is nought.
    """
    metal: BaseGeometry = polygon(plate.outline)
    if plate.margin_mm:
        aside = [_beyond(r, on, 2 * plate.margin_mm) for r in on]
        metal = joined([metal, *aside]).buffer(-plate.margin_mm, quad_segs=ROUND, join_style="mitre")
        metal = metal.intersection(polygon(plate.outline)) if on else metal
    keep_out = [loop_polygon(k) for k in plate.keep_out]
    return metal.difference(joined([taken, *keep_out])) if keep_out or not taken.is_empty else metal


def _beyond(rim: Rim, on: frozenset[Rim], by: float) -> Polygon:
    """The strip outside the plate along a rim, carried on round a corner where another rim meets it; it reaches a
    little in, so that both join."""
    across = (rim.at - by, rim.at + by / 4) if rim.side < 2 else (rim.at - by / 4, rim.at + by)
    low, high = rim.low, rim.high
    for other in on:
        if other.side % 2 != rim.side % 2 and min(abs(rim.at - other.low), abs(rim.at - other.high)) < ON_SIDE_MM:
            low = low - by if abs(other.at - rim.low) < ON_SIDE_MM else low
            high = high + by if abs(other.at - rim.high) < ON_SIDE_MM else high
    x, y = (across, (low, high)) if rim.side % 2 == 0 else ((low, high), across)
    return shapely.box(x[0], y[0], x[1], y[1])


def grown(area: Polygon, by_mm: float) -> BaseGeometry:
    """Return the area with so much round it, not less anywhere."""
    # a polygon's round corners run inside the circle: made larger by what they lack
    return area.buffer(by_mm / math.cos(math.pi / (4 * 64)), quad_segs=64) if by_mm else area


def open_plates(plate: Plate, pinned: list[Polygon], gap_mm: float) -> list[Plate]:
    """Return the plate as the quick and dense ways see it: as it is, or, where copies are pinned on it or regions kept
    out, the open pieces of it, largest first, as plates without a margin, no two nearer than the gap."""
    if not pinned and not plate.keep_out:
        return [plate]
    open_ = open_metal(plate, joined([grown(a, gap_mm) for a in pinned]))
    out: list[Plate] = []
    taken: list[BaseGeometry] = []
    for piece in pieces(open_):
        for part in pieces(piece.difference(joined(taken))) if taken else (piece,):
            out.append(as_plate(plate, part))
            taken.append(grown(part, gap_mm))
    return out


def as_plate(plate: Plate, area: Polygon) -> Plate:
    """Return a piece of a plate as a plate that parts may lie on right up to its edge."""
    outline = Outline(_ring(area.exterior), tuple(_ring(r) for r in area.interiors))
    return replace(plate, outline=outline, margin_mm=0.0, keep_out=(), factory_edges=())


def _ring(ring: shapely.LinearRing) -> Loop:
    pts = [(float(x), float(y)) for x, y in ring.coords[:-1]]
    lines = [Line(a, b) for a, b in zip(pts, pts[1:] + pts[:1], strict=True) if math.dist(a, b) > 0]
    return Loop(tuple(lines), tuple(f"e{n}" for n in range(1, len(lines) + 1)))


def ways_on(index: int, blank: Blank, plate: Plate) -> tuple[Lie, ...]:
    """Return every different way the part may lie on the plate: its grain along the plate's, where both have one."""
    part = blank.part
    if plate.grain_deg is None or part.grain_deg is None:
        return lies(index, blank)
    out: list[Lie] = []
    for mirror in (False, True) if part.may_mirror else (False,):
        along = (plate.grain_deg - (180 - part.grain_deg if mirror else part.grain_deg)) % 180
        turns = part.turns_deg or (along, along + 180)
        turns = tuple(t for t in turns if abs(math.remainder(t - along, 180)) < GRAIN_DEG)
        if turns:
            able = replace(blank, part=replace(part, turns_deg=turns, may_mirror=mirror))
            out += [k for k in lies(index, able) if k.mirror == mirror]
    return tuple(out)


def along_grain(blank: Blank, plate: Plate, turn: float, mirror: bool) -> bool:
    """Whether a copy turned so [rad] has its grain along the plate's."""
    if plate.grain_deg is None or blank.part.grain_deg is None:
        return True
    grain = 180 - blank.part.grain_deg if mirror else blank.part.grain_deg
    return abs(math.remainder(math.degrees(turn) + grain - plate.grain_deg, 180)) < GRAIN_DEG


@dataclass(frozen=True, slots=True)
class Group:
    """Plates on which parts may lie in the same ways: (index in the job, plate), and the ways of each part.

    ``grained`` names the parts whose grain the plates' grain fixes.
    """

    plates: tuple[tuple[int, Plate], ...]
    lies: dict[int, tuple[Lie, ...]]
    grained: frozenset[int]


def groups_of(plates: list[tuple[int, Plate]], parts: list[int], blanks: tuple[Blank, ...]) -> list[Group]:
    """Return the plates in their order, those next to each other taken together where the grain makes no difference."""
    with_grain = frozenset(k for k in parts if blanks[k].part.grain_deg is not None)
    known: dict[float | None, dict[int, tuple[Lie, ...]]] = {}
    out: list[Group] = []
    last: float | None = None
    for i, plate in plates:
        grain = plate.grain_deg if with_grain else None
        if grain not in known:
            ways = {k: ways_on(k, blanks[k], plate) for k in parts}
            known[grain] = {k: w for k, w in ways.items() if w}
        if out and grain == last:
            out[-1] = replace(out[-1], plates=(*out[-1].plates, (i, plate)))
        else:
            out.append(Group(((i, plate),), known[grain], with_grain if grain is not None else frozenset()))
        last = grain
    return out
