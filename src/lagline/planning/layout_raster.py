"""Where a shape may go, asked of a grid of points held as bits of one whole number.

A plate is sampled at grid points; a bit is set where the point is free metal. The bits of a column run upwards
(second axis), the columns follow each other along the plate (first axis), so the lowest set bit is the place
nearest the datum. A shape is a set of the same points, cut into rectangles; a rectangle fits where every one of its
points is free, and that is found for all places at once by shifting the whole number onto itself (doubling).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

Bits = npt.NDArray[np.bool_]


def fill(geometry: BaseGeometry, corner: tuple[float, float], grid_mm: float, shape: tuple[int, int]) -> Bits:
    """Return which grid points lie inside an area (even-odd rule, exact at the points).

    Point (i, j) is at ``corner + (i + 0.5, j + 0.5) * grid_mm``; ``shape`` is the number of columns and rows.
    """
    return fill_each([geometry], [corner], grid_mm, [shape])[0]


def fill_each(
    geometries: Sequence[BaseGeometry],
    corners: Sequence[tuple[float, float]],
    grid_mm: float,
    shapes: Sequence[tuple[int, int]],
) -> list[Bits]:
    """Fill several areas at once, each on a grid of its own corner and shape."""
    columns, rows = np.array(shapes).T
    sizes = columns * (rows + 1)
    begin = np.cumsum(sizes) - sizes
    toggles = np.zeros(sizes.sum(), dtype=np.uint8)
    parts, of_part = shapely.get_parts(geometries, return_index=True)
    rings, of_ring = shapely.get_rings(parts, return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    if len(points):
        one = of_part[of_ring][ring]  # which of the areas a point belongs to
        points = (points - np.array(corners)[one]) / grid_mm - 0.5
        edges = np.flatnonzero(ring[1:] == ring[:-1])
        a, b, one = points[edges], points[edges + 1], one[edges]
        swap = a[:, 0] > b[:, 0]
        a[swap], b[swap] = b[swap], a[swap]
        first = np.clip(np.ceil(a[:, 0]), 0, columns[one]).astype(np.int64)
        last = np.clip(np.ceil(b[:, 0]), 0, columns[one]).astype(np.int64)
        count = last - first
        edge = np.repeat(np.arange(len(count)), count)
        column = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + np.repeat(first, count)
        slope = (b[edge, 1] - a[edge, 1]) / (b[edge, 0] - a[edge, 0])
        high = rows[one[edge]]
        row = np.clip(np.ceil(a[edge, 1] + slope * (column - a[edge, 0])), 0, high).astype(np.int64)
        np.bitwise_xor.at(toggles, begin[one[edge]] + column * (high + 1) + row, 1)
    out = []
    for k, (nu, nv) in enumerate(shapes):
        grid = toggles[begin[k] : begin[k] + sizes[k]].reshape(nu, nv + 1)
        out.append(np.bitwise_xor.accumulate(grid, axis=1)[:, :nv].astype(np.bool_))
    return out


@dataclass(frozen=True, slots=True)
class Stamp:
    """A shape on the grid: rectangles of points (column, row, columns, rows) that cover it."""

    blocks: tuple[tuple[int, int, int, int], ...]
    columns: int
    rows: int


def stamp(bits: Bits) -> Stamp:
    """Return the shape cut into rectangles: runs in a column, alike neighbouring columns taken together."""
    nu, nv = bits.shape
    padded = np.zeros((nu, nv + 2), dtype=np.int8)
    padded[:, 1:-1] = bits
    step = np.diff(padded, axis=1)
    up, down = np.argwhere(step == 1), np.argwhere(step == -1)
    runs: dict[tuple[int, int], list[int]] = {}
    for (i, j0), (_, j1) in zip(up.tolist(), down.tolist(), strict=True):
        runs.setdefault((j0, j1 - j0), []).append(i)
    blocks = []
    for (j, length), columns in runs.items():
        begin = previous = columns[0]
        for i in [*columns[1:], nu + 9]:
            if i != previous + 1:
                blocks.append((begin, j, previous - begin + 1, length))
                begin = i
            previous = i
    return Stamp(tuple(sorted(blocks)), nu, nv)


@dataclass(slots=True)
class Field:
    """The free points of one plate, and what has already been worked out about them."""

    free: Bits
    number: int = 0
    _all: int = 0
    _up: dict[int, int] = field(default_factory=dict)
    _block: dict[tuple[int, int], int] = field(default_factory=dict)
    _inside: dict[int, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._renew()

    def _renew(self) -> None:
        packed = np.packbits(self.free.ravel(), bitorder="little")
        self._all = int.from_bytes(packed.tobytes(), "little")
        self.look()

    def look(self, columns: int | None = None) -> None:
        """Look only at the first columns from here on (all of them when None): less to shift."""
        rows = self.free.shape[1]
        self.number = self._all if columns is None else self._all & ((1 << max(0, columns) * rows) - 1)
        self._up, self._block = {1: self.number}, {}

    def take(self, bits: Bits, at: tuple[int, int]) -> None:
        """Mark the points of ``bits``, its first point at (column, row) ``at``, as no longer free."""
        nu, nv = self.free.shape
        i, j = at
        i0, j0 = max(i, 0), max(j, 0)
        i1, j1 = min(i + bits.shape[0], nu), min(j + bits.shape[1], nv)
        if i1 > i0 and j1 > j0:
            self.free[i0:i1, j0:j1] &= ~bits[i0 - i : i1 - i, j0 - j : j1 - j]
            self._renew()

    def _rows(self, length: int) -> int:
        """Points from which ``length`` points upwards are all free."""
        if length not in self._up:
            half = 1 << (length - 1).bit_length() - 1
            number = self._rows(half)
            self._up[length] = number & number >> (length - half)
        return self._up[length]

    def _rectangle(self, columns: int, rows: int) -> int:
        """Points from which a rectangle of points up and along is all free."""
        if columns == 1:
            return self._rows(rows)
        if (columns, rows) not in self._block:
            half = 1 << (columns - 1).bit_length() - 1
            number = self._rectangle(half, rows)
            self._block[columns, rows] = number & number >> ((columns - half) * self.free.shape[1])
        return self._block[columns, rows]

    def places(self, shape: Stamp) -> int:
        """Return the bits of every place where the first point of the stamp's box may go."""
        nu, nv = self.free.shape
        if shape.columns > nu or shape.rows > nv:
            return 0
        if shape.rows not in self._inside:
            keep = np.zeros((nu, nv), dtype=np.bool_)
            keep[:, : nv - shape.rows + 1] = True
            packed = np.packbits(keep.ravel(), bitorder="little")
            self._inside[shape.rows] = int.from_bytes(packed.tobytes(), "little")
        found = self._inside[shape.rows]
        for i, j, columns, rows in shape.blocks:
            found &= self._rectangle(columns, rows) >> (i * nv + j)
            if not found:
                break
        return found

    def cell(self, bit: int) -> tuple[int, int]:
        """Column and row of a bit."""
        rows: int = self.free.shape[1]
        return divmod(bit, rows)


def lowest(number: int) -> int:
    """Index of the lowest set bit of a number above zero."""
    return (number & -number).bit_length() - 1
