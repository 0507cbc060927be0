"""A plate on which cells are laid in bands and columns: what is free, which straight lines there are already.

A line is known by the middle of its kerf. Edges whose kerfs have one middle are cut along one clamped straightedge:
edges in a row on one side of it, and neighbours just a kerf apart on both sides.
"""

from __future__ import annotations

import bisect
import itertools
import math
from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from lagline.planning.layout_open import open_metal, rims
from lagline.planning.layout_shapes import Box
from lagline.planning.layout_units import BOTTOM, FACING_MM, LEFT, RIGHT, TOP, Side, Unit, shares
from lagline.planning.plate_use import largest_rectangle
from lagline.records.job import Plate
from lagline.shapes.region import pieces

SAME_MM = 1e-5  # places this near are one
MOST_ANCHORS = 120  # places along an axis that are tried
MOST_CORNERS = 40  # corners of the metal's edge that are looked at
ROUGH_MM = 0.5  # how nearly its edge is followed for that
Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Block:
    """Cells of one unit in ``columns`` and ``rows``, ``pitch_x`` and ``pitch_y`` from one to the next."""

    unit: Unit
    columns: int
    rows: int
    pitch_x: float
    pitch_y: float

    @property
    def width(self) -> float:
        return (self.columns - 1) * self.pitch_x + self.unit.width

    @property
    def height(self) -> float:
        return (self.rows - 1) * self.pitch_y + self.unit.height

    @property
    def cells(self) -> list[tuple[float, float]]:
        """Lower left corners of the cells, from the block's own."""
        return [(i * self.pitch_x, j * self.pitch_y) for j in range(self.rows) for i in range(self.columns)]


@dataclass(frozen=True, slots=True)
class Cell:
    """A unit that lies with its lower left corner at (x, y)."""

    unit: Unit
    x: float
    y: float

    def side(self, k: int) -> Side:
        """Return the stretches of a side in plate coordinates."""
        by = self.x if k in (BOTTOM, TOP) else self.y
        return tuple(s.moved(by) for s in self.unit.sides[k])


def block_of(unit: Unit, columns: int, rows: int, gap_mm: float, kerf_mm: float) -> Block:
    """Return a grid of cells that share kerfs where they may, and keep the gap where not."""

    def pitch(extent: float, first: int, second: int) -> float:
        together = may_share(unit, unit, gap_mm, kerf_mm) and shares(unit.sides[first], unit.sides[second])
        return extent + (kerf_mm if together else gap_mm)

    return Block(
        unit,
        columns,
        rows,
        pitch(unit.width, RIGHT, LEFT),
        pitch(unit.height, TOP, BOTTOM),
    )


def may_share(one: Unit, other: Unit, gap_mm: float, kerf_mm: float) -> bool:
    """Whether cells may share kerfs at all: a kerf is known, and none is so narrow that the gap reaches across it."""
    return kerf_mm > 0 and min(one.width, one.height, other.width, other.height) >= gap_mm


class Ground:
    """A plate before cells are laid on it: where outlines may lie, and which of its sides may be a part's edge.

    ``obstacles`` are areas that cells keep off, the gap round them included.
    """

    def __init__(self, index: int, plate: Plate, obstacles: BaseGeometry):
        self.index, self.plate, self.obstacles = index, plate, obstacles
        self.rims = {r.side: r for r in rims(plate) if plate.margin_mm > 0}
        self.metal = self.region(frozenset())
        self.bounds: Box = self.metal.bounds if not self.metal.is_empty else (0.0, 0.0, 0.0, 0.0)
        x0, y0, x1, y1 = self.bounds
        self.plain = self.metal.area > (x1 - x0) * (y1 - y0) - 1e-6
        self.marks = _marks(self.metal, self.plain)

    @cache  # noqa: B019 - a ground lives no longer than its layout
    def region(self, sides: frozenset[int]) -> BaseGeometry:
        """Return where a cell may lie that has those sides on the plate's own edge."""
        region = open_metal(self.plate, self.obstacles, frozenset(self.rims[s] for s in sides))
        shapely.prepare(region)
        return region

    def on(self, block: Block, x: float, y: float) -> frozenset[int]:
        """Return which sides of a block there lie on a side of the plate that may be its edge."""
        at = (x, y, x + block.width, y + block.height)
        return frozenset(s for s, r in self.rims.items() if abs(at[s] - r.at) < SAME_MM and self.may_be_edge(block, s))

    def may_be_edge(self, block: Block, side: int) -> bool:
        """Whether a block may lie on the plate's own edge with a side; the cells behind must clear the margin."""
        wide = min(block.unit.width, block.unit.height) >= self.plate.margin_mm
        return side in self.rims and wide and block.unit.on_factory_edge(side)


def _marks(metal: BaseGeometry, plain: bool) -> tuple[Floats, Floats]:
    """Places along each axis where the metal's edges run or turn: cells may lie against them."""
    if metal.is_empty or plain:
        return np.array(metal.bounds[0::2]), np.array(metal.bounds[1::2])
    left, bottom, width, height = largest_rectangle(metal)
    rings = [r for p in pieces(metal) for r in (p.exterior, *p.interiors)]
    boxes = np.array([r.bounds for r in rings] + [(left, bottom, left + width, bottom + height)])
    corners = np.concatenate([shapely.get_coordinates(shapely.simplify(r, ROUGH_MM)) for r in rings])
    corners = corners if len(corners) <= MOST_CORNERS else corners[:0]
    x, y = (np.concatenate([boxes[:, k], boxes[:, k + 2], corners[:, k]]) for k in (0, 1))
    return distinct(x), distinct(y)


class Board:
    """One plate with the cells laid on it so far."""

    def __init__(self, ground: Ground, gap_mm: float, kerf_mm: float):
        self.ground, self.gap, self.kerf = ground, gap_mm, kerf_mm
        self.bounds = ground.bounds
        self.cells: list[Cell] = []
        self.boxes: Floats = np.empty((0, 4))
        self.near: list[set[int]] = []  # for each cell, those it shares a kerf with
        self.lines: tuple[list[float], list[float]] = ([], [])  # middles of kerfs across x, across y

    # -- lines ------------------------------------------------------------------------------------------------

    def middles(self, block: Block, axis: int) -> Floats:
        """Where the block's kerfs across an axis have their middles, from its lower left corner, each once."""
        unit, half = block.unit, self.kerf / 2
        count, pitch = (block.columns, block.pitch_x) if axis == 0 else (block.rows, block.pitch_y)
        extent = unit.width if axis == 0 else unit.height
        low, high = ((LEFT, RIGHT), (BOTTOM, TOP))[axis]
        at = [i * pitch - half for i in range(count) if unit.cut(low)]
        at += [i * pitch + extent + half for i in range(count) if unit.cut(high)]
        return distinct(np.array(at))

    def new_lines(self, at: Floats, block: Block, axis: int) -> Ints:
        """How many lines a block would add at each place along an axis."""
        middles = self.middles(block, axis)
        if not len(middles):
            return np.zeros(len(at), dtype=np.int64)
        known = self._known(at[:, None] + middles, axis)
        for side, column, extent in ((axis, 0, 0.0), (axis + 2, -1, self._extent(block, axis))):
            if block.unit.cut(side) and self.ground.may_be_edge(block, side):
                known[:, column] |= np.abs(at + extent - self.ground.rims[side].at) < SAME_MM
        count: Ints = (~known).sum(axis=1)
        return count

    @staticmethod
    def _extent(block: Block, axis: int) -> float:
        return block.width if axis == 0 else block.height

    def _known(self, want: Floats, axis: int) -> npt.NDArray[np.bool_]:
        have = np.array([-1e18, *self.lines[axis], 1e18])
        k = np.searchsorted(have, want)
        return np.asarray((have[k] - want < SAME_MM) | (want - have[k - 1] < SAME_MM))

    # -- places -----------------------------------------------------------------------------------------------

    def anchors(self, block: Block, axis: int, *, press: bool) -> Floats:
        """Places along an axis worth trying for a block: against the plate, on lines, beside and flush with cells.

        Of too many, those at the far end when the parts are pressed along this axis, else one in so many.
        """
        extent = self._extent(block, axis)
        low, high = self.bounds[axis], self.bounds[axis + 2]
        half, lines, marks = self.kerf / 2, np.array(self.lines[axis]), self.ground.marks[axis]
        at = np.concatenate(
            [
                marks,
                marks - extent,
                lines + half,
                lines - half - extent,
                self.boxes[:, axis + 2] + self.gap,
                self.boxes[:, axis],
                self.boxes[:, axis + 2] - extent,
            ]
        )
        at = at[(at >= low - SAME_MM) & (at <= high - extent + SAME_MM)]
        rims = self.ground.rims
        own = [rims[s].at - e for s, e in ((axis, 0.0), (axis + 2, extent)) if self.ground.may_be_edge(block, s)]
        at = distinct(np.concatenate([at, own]) if own else at)
        if len(at) > MOST_ANCHORS:
            at = at[-MOST_ANCHORS:] if press else at[:: len(at) // MOST_ANCHORS + 1]
        return at

    def clear(self, block: Block, xs: Floats, ys: Floats) -> npt.NDArray[np.bool_]:
        """For every place along x and along y, whether nothing comes nearer than a kerf: a first look, as boxes."""
        least = (min(self.gap, self.kerf) if self.kerf > 0 else self.gap) - SAME_MM
        x, y, b = xs[:, None], ys[:, None], self.boxes
        meets_x = (b[:, 0] < x + block.width + least) & (b[:, 2] > x - least)
        meets_y = (b[:, 1] < y + block.height + least) & (b[:, 3] > y - least)
        return np.asarray(meets_x.astype(np.float32) @ meets_y.astype(np.float32).T < 0.5)

    def inside(self, block: Block, x: float, y: float) -> bool:
        """Whether the block lies on usable metal."""
        e = SAME_MM
        on = self.ground.on(block, x, y)
        if not on:
            x0, y0, x1, y1 = self.bounds
            if x < x0 - e or y < y0 - e or x + block.width > x1 + e or y + block.height > y1 + e:
                return False
            if self.ground.plain:
                return True
        box = shapely.box(x + e, y + e, x + block.width - e, y + block.height - e)
        return bool(self.ground.region(on).covers(box))

    def fits(self, block: Block, x: float, y: float) -> list[tuple[int, int]] | None:
        """Return the kerfs the block's cells would share there, numbered as if laid; None when it may not lie there.

        Cells nearer than the gap must share a kerf, or both share with a third: where kerfs cross.
        """
        if not self.inside(block, x, y):
            return None
        first = len(self.cells)
        new = [Cell(block.unit, x + dx, y + dy) for dx, dy in block.cells]
        links = self._inner_links(block, first)
        b = self.boxes
        away = np.maximum(
            np.maximum(b[:, 0] - x - block.width, x - b[:, 2]), np.maximum(b[:, 1] - y - block.height, y - b[:, 3])
        )
        corners: list[tuple[int, int]] = []
        for n in np.flatnonzero(away < self.gap - SAME_MM).tolist():
            for k, cell in enumerate(new):
                dx = max(b[n, 0] - cell.x - cell.unit.width, cell.x - b[n, 2])
                dy = max(b[n, 1] - cell.y - cell.unit.height, cell.y - b[n, 3])
                if math.hypot(max(dx, 0.0), max(dy, 0.0)) >= self.gap - SAME_MM:
                    continue
                if not may_share(cell.unit, self.cells[n].unit, self.gap, self.kerf):
                    return None
                if self._facing(cell, self.cells[n], dx, dy):
                    links.append((n, first + k))
                elif max(dx, dy) >= self.kerf - SAME_MM and min(dx, dy) > -FACING_MM:
                    corners.append((n, first + k))
                else:
                    return None
        if corners:
            beside: dict[int, set[int]] = {}
            for i, j in links:
                beside.setdefault(i, set()).add(j)
                beside.setdefault(j, set()).add(i)
            for n, k in corners:
                if not ((self.near[n] | beside.get(n, set())) & beside.get(k, set())):
                    return None
        return links

    def _facing(self, one: Cell, other: Cell, dx: float, dy: float) -> bool:
        """Whether two cells face each other just a kerf apart and may share it."""
        for apart, k in ((dx, (LEFT, RIGHT)), (dy, (BOTTOM, TOP))):
            if abs(apart - self.kerf) < SAME_MM:
                low, high = k
                if k == (LEFT, RIGHT):
                    mine, theirs = (low, high) if one.x > other.x else (high, low)
                else:
                    mine, theirs = (low, high) if one.y > other.y else (high, low)
                if shares(one.side(mine), other.side(theirs)):
                    return True
        return False

    def _inner_links(self, block: Block, first: int) -> list[tuple[int, int]]:
        links = []
        for j, i in itertools.product(range(block.rows), range(block.columns)):
            k = first + j * block.columns + i
            if i and block.pitch_x - block.unit.width < self.kerf + SAME_MM:
                links.append((k - 1, k))
            if j and block.pitch_y - block.unit.height < self.kerf + SAME_MM:
                links.append((k - block.columns, k))
        return links if may_share(block.unit, block.unit, self.gap, self.kerf) else []

    def put(self, block: Block, x: float, y: float, links: list[tuple[int, int]]) -> None:
        """Lay a block down."""
        new = [Cell(block.unit, x + dx, y + dy) for dx, dy in block.cells]
        self.cells += new
        self.near += [set() for _ in new]
        for i, j in links:
            self.near[i].add(j)
            self.near[j].add(i)
        boxes = [[c.x, c.y, c.x + c.unit.width, c.y + c.unit.height] for c in new]
        self.boxes = np.concatenate([self.boxes, boxes])
        on = [s for s in self.ground.on(block, x, y) if block.unit.cut(s)]
        for axis, at in ((0, x), (1, y)):
            middles = (at + self.middles(block, axis)).tolist()
            if len(middles):
                middles = middles[axis in on : len(middles) - (axis + 2 in on)]
            for middle in middles:
                if not self._known(np.array([middle]), axis)[0]:
                    bisect.insort(self.lines[axis], middle)

    def pin(self, cell: Cell) -> None:
        """Take in a cell that lies where it is, whatever is near it."""
        block = Block(cell.unit, 1, 1, 0.0, 0.0)
        links = []
        for n, other in enumerate(self.cells):
            dx = max(other.x - cell.x - cell.unit.width, cell.x - other.x - other.unit.width)
            dy = max(other.y - cell.y - cell.unit.height, cell.y - other.y - other.unit.height)
            if self._facing(cell, other, dx, dy):
                links.append((n, len(self.cells)))
        self.put(block, cell.x, cell.y, links)

    @property
    def reach(self) -> tuple[float, float]:
        """How far along each axis metal is taken, from the usable edge [mm]."""
        if not self.cells:
            return 0.0, 0.0
        right, top = self.boxes[:, 2].max(), self.boxes[:, 3].max()
        return float(right) - self.bounds[0], float(top) - self.bounds[1]


def distinct(at: Floats) -> Floats:
    """Return the numbers in order, those that are the same but for rounding once."""
    at = np.sort(at)
    return at[np.concatenate([[True], np.diff(at) > SAME_MM])] if len(at) else at
