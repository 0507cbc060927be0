"""Bands and grids: straight-sided cells laid so that few straight lines make all their edges.

Kind after kind is laid as a grid where it adds the fewest lines to those there are: on the lines of its neighbours,
a kerf apart from them where one cut may serve both. What does not go as one grid goes as smaller ones.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from lagline.planning.layout_blocks import Block, block_of
from lagline.planning.layout_board import Board
from lagline.planning.layout_units import Unit

SHAPES = 8  # grids tried for one kind
TRIES = 24  # places looked at exactly for one grid


@dataclass(frozen=True, slots=True)
class Kind:
    """Copies of one part still to be laid, the cells they may be laid in, and the grids of these made so far."""

    part: int
    units: tuple[Unit, ...]
    copies: int
    made: dict[tuple[int, int, int], Block]

    def grid(self, n: int, columns: int, rows: int, board: Board) -> Block:
        """Return the grid of the n-th unit."""
        if (n, columns, rows) not in self.made:
            self.made[n, columns, rows] = block_of(self.units[n], columns, rows, board.gap, board.kerf)
        return self.made[n, columns, rows]


@dataclass(frozen=True, slots=True)
class Taste:
    """What a try prefers. ``press`` is the axis along which the parts are pressed together; a line is worth ``line_mm``
    of plate along it."""

    press: int
    line_mm: float


@dataclass(frozen=True, slots=True)
class Place:
    """A place for a block, what it costs there [mm of plate], and the kerfs it shares."""

    cost: tuple[float, ...]
    block: Block
    x: float
    y: float
    links: list[tuple[int, int]]


def lay_bands(board: Board, kinds: list[Kind], taste: Taste, cancelled: Callable[[], bool]) -> dict[int, int]:
    """Lay the kinds on the board in their order; return how many copies of each part found no place."""
    left: dict[int, int] = {}
    for kind in kinds:
        copies = kind.copies
        while copies and not cancelled():
            place = best_grid(board, kind, copies, taste)
            if place is None:
                break
            board.put(place.block, place.x, place.y, place.links)
            copies -= place.block.columns * place.block.rows * len(place.block.unit.lies)
        if copies:
            left[kind.part] = copies
    return left


def best_grid(board: Board, kind: Kind, copies: int, taste: Taste) -> Place | None:
    """Return the cheapest place for a grid of as many of the copies as will go."""
    for count in _fewer(copies):
        best: Place | None = None
        for n, unit in enumerate(kind.units):
            for columns, rows in grids(unit, count // len(unit.lies), board):
                block = kind.grid(n, columns, rows, board)
                place = cheapest(board, block, taste, _beside_the_grid(kind, unit, columns, rows, count), best)
                if place is not None and (best is None or place.cost < best.cost):
                    best = place
        if best is not None:
            return best
    return None


def _beside_the_grid(kind: Kind, unit: Unit, columns: int, rows: int, count: int) -> int:
    """Lines a grid takes that do not depend on its place: slanting ones, and those of the copies not in it."""
    cells = columns * rows
    rest = count - cells * len(unit.lies)
    if not rest:
        return unit.slanting * cells
    other = kind.units[-1]  # one copy to a cell
    across = (1 + len(other.inner[1]), math.ceil(rest / rows) * (1 + len(other.inner[0])) + 1)
    return unit.slanting * cells + other.slanting * rest + across[rest >= columns]


def _fewer(copies: int) -> Iterator[int]:
    while copies:
        yield copies
        copies //= 2


def grids(unit: Unit, count: int, board: Board) -> list[tuple[int, int]]:
    """Return columns and rows of grids for that many cells, fewest lines first."""
    x0, y0, x1, y1 = board.ground.outer
    least = min(board.gap, board.kerf) if board.kerf > 0 else board.gap
    most_x = math.floor((x1 - x0 + least) / (unit.width + least) + 1e-9)
    most_y = math.floor((y1 - y0 + least) / (unit.height + least) + 1e-9)
    out = []
    for columns in range(1, min(count, most_x) + 1):
        rows = min(count // columns, most_y)
        if rows:
            rest = count - columns * rows
            lines = columns + rows + (1 + (rest - 1) // columns if rest else 0)
            out.append((lines, abs(columns - rows), columns, rows))
    out.sort()
    return [(c, r) for _, _, c, r in out[:SHAPES]]


def cheapest(board: Board, block: Block, taste: Taste, more_lines: int, best: Place | None) -> Place | None:
    """Return the cheapest clear place for a block, None when there is none or it is no better than ``best``."""
    xs, ys = (board.anchors(block, axis, press=taste.press == axis) for axis in (0, 1))
    if not len(xs) or not len(ys):
        return None
    lines_x, lines_y = board.new_lines(xs, block, 0), board.new_lines(ys, block, 1)
    fewest = int(lines_x.min() + lines_y.min()) + more_lines
    if best is not None and fewest * (taste.line_mm if taste.line_mm < math.inf else 1.0) > best.cost[0]:
        return None
    i, j = np.nonzero(board.clear(block, xs, ys))
    if not len(i):
        return None
    lines = lines_x[i] + lines_y[j] + more_lines
    x, y = xs[i], ys[j]
    ends = (x + block.width - board.bounds[0], y + block.height - board.bounds[1])
    along, across = ends[taste.press], ends[1 - taste.press]
    growth = np.round(np.maximum(along - board.reach[taste.press], 0.0), 3)
    cost = lines * taste.line_mm + growth if taste.line_mm < math.inf else lines.astype(np.float64)
    if best is not None and cost.min() > best.cost[0]:
        return None
    likely = np.lexsort((across, along, growth, cost))[:TRIES]
    for n in likely[board.inside(block, x[likely], y[likely])].tolist():
        mine = (float(cost[n]), float(growth[n]), float(along[n]), float(across[n]))
        if best is not None and mine >= best.cost:
            return None
        links = board.fits(block, float(x[n]), float(y[n]))
        if links is not None:
            return Place(mine, block, float(x[n]), float(y[n]), links)
    return None
