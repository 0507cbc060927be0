"""A window cut into small squares, so that "how much ink lies under this rectangle" is one look-up for many at once."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from lagline.cards.svg import Box

Floats = NDArray[np.float64]
_POLYGON = 3  # shapely's type number; a line is 1, a ring 2


def edges(area: BaseGeometry) -> tuple[Floats, Floats]:
    """Return the starts and ends of every edge of the polygons in a geometry."""
    parts = shapely.get_parts(area)
    rings = shapely.get_rings(parts[shapely.get_type_id(parts) == _POLYGON])
    a, b, _ = chains(rings)
    return a, b


def chains(lines: object) -> tuple[Floats, Floats, NDArray[np.int64]]:
    """Return the starts and ends of every stretch of an array of lines or rings, and which of them it is of."""
    points, owner = shapely.get_coordinates(lines, return_index=True)
    same = owner[:-1] == owner[1:]
    return points[:-1][same], points[1:][same], owner[:-1][same]


def crossings(a: Floats, b: Floats, first: float, gap: float, rows: int) -> tuple[NDArray[np.int64], Floats]:
    """Return row and x of every crossing of edges a-b with the level lines ``first + row * gap``, by row, then x.

    An edge owns its lower end and not its upper, so every row crosses a closed ring an even number of times.
    """
    low, high = np.minimum(a[:, 1], b[:, 1]), np.maximum(a[:, 1], b[:, 1])
    begin = np.clip(np.ceil((low - first) / gap), 0, rows).astype(np.int64)
    end = np.clip(np.ceil((high - first) / gap), 0, rows).astype(np.int64)
    count = end - begin
    e = np.repeat(np.arange(len(a)), count)
    row = begin[e] + np.arange(len(e)) - np.repeat(np.cumsum(count) - count, count)
    rise = b[e, 1] - a[e, 1]
    x = a[e, 0] + (first + row * gap - a[e, 1]) * (b[e, 0] - a[e, 0]) / rise
    order = np.lexsort((x, row))
    return row[order], x[order]


class Raster:
    """Squares of side ``cell`` [mm] over a window; arrays are indexed row from the bottom, then column."""

    def __init__(self, view: Box, cell: float) -> None:
        self.x, self.y, self.cell = view[0], view[1], cell
        self.shape = max(1, round((view[3] - view[1]) / cell)), max(1, round((view[2] - view[0]) / cell))

    def part(self, bounds: Box) -> tuple[Raster, tuple[slice, slice]]:
        """Return the squares that hold ``bounds`` as a raster of their own, and where they lie in this one."""
        rows, columns = self.shape
        i0 = min(max(math.floor((bounds[0] - self.x) / self.cell), 0), columns - 1)
        j0 = min(max(math.floor((bounds[1] - self.y) / self.cell), 0), rows - 1)
        i1 = min(max(math.ceil((bounds[2] - self.x) / self.cell), i0 + 1), columns)
        j1 = min(max(math.ceil((bounds[3] - self.y) / self.cell), j0 + 1), rows)
        small = Raster((0.0, 0.0, 0.0, 0.0), self.cell)
        small.x, small.y = self.x + i0 * self.cell, self.y + j0 * self.cell
        small.shape = j1 - j0, i1 - i0
        return small, (slice(j0, j1), slice(i0, i1))

    def fill(self, area: BaseGeometry) -> NDArray[np.bool_]:
        """Return which squares have their middle in the area."""
        rows, columns = self.shape
        row, x = crossings(*edges(area), self.y + self.cell / 2, self.cell, rows)
        column = np.clip(np.ceil((x - self.x) / self.cell - 0.5), 0, columns).astype(np.int64)
        turned = np.bincount(row * (columns + 1) + column, minlength=rows * (columns + 1))
        inside = np.cumsum(turned.reshape(rows, columns + 1), axis=1)[:, :columns] % 2
        return inside.astype(bool)

    def squares(self, points: Floats) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Return row and column of the square under each point, the nearest one for points outside."""
        rows, columns = self.shape
        row = np.clip(np.floor((points[:, 1] - self.y) / self.cell), 0, rows - 1).astype(np.int64)
        column = np.clip(np.floor((points[:, 0] - self.x) / self.cell), 0, columns - 1).astype(np.int64)
        return row, column

    def lengths(self, drawn: list[tuple[BaseGeometry, float]]) -> Floats:
        """Return the length of line in each square times its weight, outlines of areas counted as lines [mm]."""
        parts, owner = shapely.get_parts([g for g, _ in drawn], return_index=True)
        kind = shapely.get_type_id(parts)
        rings, of_ring = shapely.get_rings(parts[kind == _POLYGON], return_index=True)
        lines = np.concatenate([parts[(kind == 1) | (kind == 2)], rings])
        owners = np.concatenate([owner[(kind == 1) | (kind == 2)], owner[kind == _POLYGON][of_ring]])
        a, b, of_line = chains(lines)
        weights = np.array([w for _, w in drawn])[owners[of_line]]
        span = np.hypot(*(b - a).T)
        n = np.maximum(1, np.ceil(span / (0.7 * self.cell))).astype(np.int64)
        e = np.repeat(np.arange(len(a)), n)
        t = (np.arange(len(e)) - np.repeat(np.cumsum(n) - n, n) + 0.5) / n[e]
        at = (a[e] + t[:, None] * (b[e] - a[e]) - (self.x, self.y)) / self.cell
        rows, columns = self.shape
        seen = (at[:, 0] >= 0) & (at[:, 0] < columns) & (at[:, 1] >= 0) & (at[:, 1] < rows)
        column, row = at[seen].astype(np.int64).T
        each = (weights * span / n)[e][seen]
        # the type of counts, though with weights they are sums
        flat = np.bincount(row * columns + column, weights=each, minlength=rows * columns).astype(np.float64)
        return flat.reshape(rows, columns)

    def under(self, table: Floats, boxes: Floats) -> Floats:
        """Return the sum over the squares whose middles lie in each box, from a table made by :func:`summed`."""
        rows, columns = self.shape
        x = np.clip(np.rint((boxes[:, (0, 2)] - self.x) / self.cell), 0, columns).astype(np.int64)
        y = np.clip(np.rint((boxes[:, (1, 3)] - self.y) / self.cell), 0, rows).astype(np.int64)
        out: Floats = (
            table[y[:, 1], x[:, 1]] - table[y[:, 0], x[:, 1]] - table[y[:, 1], x[:, 0]] + table[y[:, 0], x[:, 0]]
        )
        return out

    def middle(self, row: int, column: int, tall: int, wide: int) -> tuple[float, float]:
        """Return the middle of a block of squares by its lowest, leftmost one [mm]."""
        return self.x + (column + wide / 2) * self.cell, self.y + (row + tall / 2) * self.cell


def summed(squares: NDArray[np.float64] | NDArray[np.bool_]) -> Floats:
    """Return the table of sums from the lower left corner up to each square's corner."""
    table = np.zeros((squares.shape[0] + 1, squares.shape[1] + 1))
    np.cumsum(np.cumsum(squares, axis=0, dtype=np.float64), axis=1, out=table[1:, 1:])
    return table


def clear_block(bad: Floats, tall: int, wide: int) -> tuple[int, int] | None:
    """Return the lowest left square of the block without a bad square that lies most in the middle of all such; the
    bad squares as a table made by :func:`summed`."""
    if tall >= bad.shape[0] or wide >= bad.shape[1]:
        return None
    total = bad[tall:, wide:] - bad[:-tall, wide:] - bad[tall:, :-wide] + bad[:-tall, :-wide]
    row, column = np.nonzero(total < 0.5)
    if len(row) == 0:
        return None
    k = int(np.argmin((row - row.mean()) ** 2 + (column - column.mean()) ** 2))
    return int(row[k]), int(column[k])
