"""A plate on which cells are laid in bands and columns: what is free, which straight lines there are already.

A line is known by the middle of its kerf. Edges whose kerfs have one middle are cut along one clamped straightedge:
edges in a row on one side of it, and neighbours just a kerf apart on both sides.
"""

from __future__ import annotations

import bisect
import itertools
import math

import numpy as np
import numpy.typing as npt
import shapely

from lagline.planning.layout_blocks import SAME_MM, Block, Cell, Floats, block_of, distinct, may_share
from lagline.planning.layout_ground import Ground
from lagline.planning.layout_units import BOTTOM, FACING_MM, LEFT, RIGHT, TOP, shares

MOST_ANCHORS = 120  # places along an axis that are tried
Ints = npt.NDArray[np.int64]


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

    def new_lines(self, at: Floats, block: Block, axis: int) -> Ints:
        """How many lines a block would add at each place along an axis."""
        middles = block.middles[axis]
        if not len(middles):
            return np.zeros(len(at), dtype=np.int64)
        known = self._known(at[:, None] + middles, axis)
        for side, column, extent in ((axis, 0, 0.0), (axis + 2, -1, block.extent(axis))):
            if block.unit.cut(side) and self.ground.may_be_edge(block, side):
                known[:, column] |= np.abs(at + extent - self.ground.rims[side].at) < SAME_MM
        count: Ints = (~known).sum(axis=1)
        return count

    def _known(self, want: Floats, axis: int) -> npt.NDArray[np.bool_]:
        have = np.array([-1e18, *self.lines[axis], 1e18])
        k = np.searchsorted(have, want)
        return np.asarray((have[k] - want < SAME_MM) | (want - have[k - 1] < SAME_MM))

    # -- places -----------------------------------------------------------------------------------------------

    def anchors(self, block: Block, axis: int, *, press: bool) -> Floats:
        """Places along an axis worth trying for a block: against the plate, on lines, beside and flush with cells.

        Of too many, those at the far end when the parts are pressed along this axis, else one in so many.
        """
        extent = block.extent(axis)
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
        return np.asarray(~(_words(meets_x)[:, None] & _words(meets_y)).any(axis=2))

    def inside(self, block: Block, xs: Floats, ys: Floats) -> npt.NDArray[np.bool_]:
        """At which of the places the block lies on usable metal."""
        e = SAME_MM
        ends = xs + block.width, ys + block.height
        x0, y0, x1, y1 = self.bounds
        inside = (xs >= x0 - e) & (ys >= y0 - e) & (ends[0] <= x1 + e) & (ends[1] <= y1 + e)
        able = any(self.ground.may_be_edge(block, s) for s in self.ground.rims)
        places = zip(xs.tolist(), ys.tolist(), strict=True)
        on = [self.ground.on(block, x, y) if able else frozenset() for x, y in places]
        for sides in set(on):
            at = np.array([o == sides for o in on])
            if sides or not self.ground.plain:
                at = np.flatnonzero(at if sides else at & inside)
                boxes = shapely.box(xs[at] + e, ys[at] + e, ends[0][at] - e, ends[1][at] - e)
                inside[at] = shapely.covers(self.ground.region(sides), boxes)
        return inside

    def fits(self, block: Block, x: float, y: float) -> list[tuple[int, int]] | None:
        """Return the kerfs the block's cells would share there, numbered as if laid; None when it comes too near to
        what is laid.

        Cells nearer than the gap must share a kerf, or both share with a third: where kerfs cross.
        """
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
            middles = (at + block.middles[axis]).tolist()
            if len(middles):
                middles = middles[axis in on : len(middles) - (axis + 2 in on)]
            for middle in middles:
                if not self._known(np.array([middle]), axis)[0]:
                    bisect.insort(self.lines[axis], middle)

    def pin(self, cell: Cell) -> None:
        """Take in a cell that lies where it is, whatever is near it."""
        block = block_of(cell.unit, 1, 1, self.gap, self.kerf)
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


def _words(bits: npt.NDArray[np.bool_]) -> npt.NDArray[np.uint64]:
    """Return each row's bits packed into whole words."""
    rows, length = bits.shape
    padded = np.zeros((rows, -(-length // 64) * 64 or 64), dtype=np.bool_)
    padded[:, :length] = bits
    return np.packbits(padded, axis=1).view(np.uint64)
