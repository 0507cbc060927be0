"""Grids of cells as they are laid on a plate, and where the middles of their kerfs are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lagline.planning.layout_units import BOTTOM, LEFT, RIGHT, TOP, Side, Unit, shares

SAME_MM = 1e-5  # places this near are one
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Block:
    """Cells of one unit in ``columns`` and ``rows``, ``pitch_x`` and ``pitch_y`` from one to the next.

    ``middles`` are those of its kerfs across x and across y, from its lower left corner, each once.
    """

    unit: Unit
    columns: int
    rows: int
    pitch_x: float
    pitch_y: float
    middles: tuple[Floats, Floats]

    @property
    def width(self) -> float:
        return (self.columns - 1) * self.pitch_x + self.unit.width

    @property
    def height(self) -> float:
        return (self.rows - 1) * self.pitch_y + self.unit.height

    def extent(self, axis: int) -> float:
        """Width or height."""
        return self.width if axis == 0 else self.height

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

    def middles(count: int, pitch: float, extent: float, low: int, high: int) -> Floats:
        one = list(unit.inner[low])
        one += [-kerf_mm / 2] if unit.cut(low) else []
        one += [extent + kerf_mm / 2] if unit.cut(high) else []
        return distinct(np.array([i * pitch + m for i in range(count) for m in one]))

    wide, tall = pitch(unit.width, RIGHT, LEFT), pitch(unit.height, TOP, BOTTOM)
    across_x = middles(columns, wide, unit.width, LEFT, RIGHT)
    across_y = middles(rows, tall, unit.height, BOTTOM, TOP)
    return Block(unit, columns, rows, wide, tall, (across_x, across_y))


def may_share(one: Unit, other: Unit, gap_mm: float, kerf_mm: float) -> bool:
    """Whether cells may share kerfs at all: a kerf is known, and none is so narrow that the gap reaches across it."""
    return kerf_mm > 0 and min(one.width, one.height, other.width, other.height) >= gap_mm


def distinct(at: Floats) -> Floats:
    """Return the numbers in order, those that are the same but for rounding once."""
    at = np.sort(at)
    return at[np.concatenate([[True], np.diff(at) > SAME_MM])] if len(at) else at
