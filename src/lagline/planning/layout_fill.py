"""One plate while it is being filled: exact tests against metal already taken, and the search for the next place."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from lagline.planning.layout_raster import Bits, Field, Stamp, fill, fill_each, stamp
from lagline.planning.layout_shapes import Lie
from lagline.records.job import Plate
from lagline.shapes.region import polygon

TOUCH_MM = 1e-4  # how much nearer than the gap still counts as touching it
THIN_MM = 2e-4  # how far a lie is shrunk to ask whether areas, not only edges, meet
TIGHT_MM = 0.01  # below this gap areas are compared instead of distances
FINE_MM = 0.02  # how near to touching a part is slid
CELLS = 150_000  # grid points on a plate; sets the grid
_HALF = math.sqrt(0.5)


@dataclass(frozen=True, slots=True)
class Spot:
    """A clear place for a lie: datum at (x, y) on the plate."""

    lie: Lie
    x: float
    y: float


StampKey = tuple[int, float, bool, float, int]
GrownKey = tuple[int, float, bool, float]
Shapes = npt.NDArray[np.object_]


class Filling:
    """A plate, the parts laid on it so far, and the free metal on a grid."""

    def __init__(
        self,
        index: int,
        plate: Plate,
        gap_mm: float,
        stamps: dict[StampKey, Stamp],
        grown: dict[GrownKey, BaseGeometry] | None = None,
    ):
        """``stamps`` and ``grown`` keep what has been worked out about the lies, for other plates and tries."""
        self.index, self.plate, self.gap = index, plate, gap_mm
        self.area = polygon(plate.outline)
        x0, y0, x1, y1 = self.area.bounds
        m = plate.margin_mm
        self.limits = (x0 + m, y0 + m, x1 - m, y1 - m)
        self.long_axis = 0 if x1 - x0 >= y1 - y0 else 1
        self.plain = self.area.area > box(*self.area.bounds).area - 1e-6 and not self.area.interiors
        frame = box(x0 - 1e3, y0 - 1e3, x1 + 1e3, y1 + 1e3)
        solid = [Polygon(frame.exterior, [self.area.exterior]), *(Polygon(r) for r in self.area.interiors)]
        self.walls = np.array(solid, dtype=object)
        shapely.prepare(self.walls)
        self.grid = max(1.0, math.sqrt((x1 - x0) * (y1 - y0) / CELLS))
        self.spots: list[Spot] = []
        self.shapes = np.empty(16, dtype=object)
        self.bounds = np.full((16, 4), np.inf)
        self.full: set[int] = set()  # parts that found no place; metal only ever gets less
        self._stamps = stamps
        self._shapes = {} if grown is None else grown
        self._points = (
            max(1, math.ceil((self.limits[2] - self.limits[0]) / self.grid)),
            max(1, math.ceil((self.limits[3] - self.limits[1]) / self.grid)),
        )
        self.redraw()

    # -- the grid ---------------------------------------------------------------------------------------------

    def _oriented(self, bits: Bits) -> Bits:
        return bits if self.long_axis == 0 else bits.T

    def redraw(self) -> None:
        """Draw plate and parts on the grids afresh, when they are next asked for."""
        self._loose: Field | None = None
        self._loosely_drawn = 0
        self._safe: Field | None = None
        self._safely_drawn = 0

    @property
    def loose(self) -> Field:
        """The grid of free metal as it is drawn: where a mover fits on it, it may be clear."""
        if self._loose is None:
            self._loose, self._loosely_drawn = self._bare(0.0), 0
        for spot in self.spots[self._loosely_drawn :]:
            self._draw(self._loose, spot, self.gap)
        self._loosely_drawn = len(self.spots)
        return self._loose

    def usable(self, inset_mm: float = 0.0) -> BaseGeometry:
        """Return the metal inside the plate's margin, and so much further in."""
        return self.area.buffer(-self.plate.margin_mm - inset_mm, quad_segs=16)

    def _bare(self, inset_mm: float) -> Field:
        usable = self.usable(inset_mm)
        return Field(self._oriented(fill(usable, self.limits[:2], self.grid, self._points)).copy())

    def safe(self) -> Field:
        """Return the grid on which a safe mover that fits is clear for certain."""
        inset = _HALF * self.grid
        if self._safe is None:
            self._safe, self._safely_drawn = self._bare(inset), 0
        for spot in self.spots[self._safely_drawn :]:
            self._draw(self._safe, spot, self.gap + inset)
        self._safely_drawn = len(self.spots)
        self._safe.look()
        return self._safe

    def _draw(self, field: Field, spot: Spot, by_mm: float) -> None:
        grown = self._grown(spot.lie, by_mm)
        x, y = spot.x - self.limits[0], spot.y - self.limits[1]
        bx0, by0, bx1, by1 = grown.bounds
        i, j = math.floor((x + bx0) / self.grid), math.floor((y + by0) / self.grid)
        size = (math.ceil((bx1 - bx0) / self.grid) + 2, math.ceil((by1 - by0) / self.grid) + 2)
        bits = fill(grown, (i * self.grid - x, j * self.grid - y), self.grid, size)
        field.take(self._oriented(bits), (i, j) if self.long_axis == 0 else (j, i))

    def _size(self, lie: Lie) -> tuple[int, int]:
        return math.ceil(lie.width / self.grid), math.ceil(lie.height / self.grid)

    def stamp(self, lies: Sequence[Lie]) -> list[Stamp]:
        """The lies on the grid as drawn."""
        keys = [(k.part, k.turn, k.mirror, self.grid, self.long_axis) for k in lies]
        new = [(key, lie) for key, lie in zip(keys, lies, strict=True) if key not in self._stamps]
        if new:
            drawn = fill_each(
                [k.rough for _, k in new], [(0.0, 0.0)] * len(new), self.grid, [self._size(k) for _, k in new]
            )
            for (key, _), bits in zip(new, drawn, strict=True):
                self._stamps[key] = stamp(self._oriented(bits))
        return [self._stamps[key] for key in keys]

    def safe_stamp(self, lie: Lie) -> Stamp:
        """The lie with half a grid square round it, one point further out on every side."""
        g, (nx, ny) = self.grid, self._size(lie)
        return stamp(self._oriented(fill(self._grown(lie, _HALF * g), (-g, -g), g, (nx + 2, ny + 2))))

    def _grown(self, lie: Lie, by_mm: float) -> BaseGeometry:
        key = (lie.part, lie.turn, lie.mirror, by_mm)
        if key not in self._shapes:
            if by_mm < 0:
                self._shapes[key] = lie.shape.buffer(by_mm, join_style="mitre")
            else:
                self._shapes[key] = lie.rough.buffer(by_mm, quad_segs=8) if by_mm else lie.rough
        return self._shapes[key]

    # -- exact ------------------------------------------------------------------------------------------------

    def clear(self, lie: Lie, x: float, y: float) -> bool:
        """True when the lie, its datum at (x, y), keeps margin and gap to everything."""
        x0, y0, x1, y1 = self.limits
        if x < x0 - TOUCH_MM or y < y0 - TOUCH_MM:
            return False
        right, top = x + lie.width, y + lie.height
        if right > x1 + TOUCH_MM or top > y1 + TOUCH_MM:
            return False
        b, g = self.bounds[: len(self.spots)], self.gap
        near = ((b[:, 0] < right + g) & (b[:, 2] > x - g) & (b[:, 1] < top + g) & (b[:, 3] > y - g)).nonzero()[0]
        if near.size and self._meets(lie, x, y, self.shapes[near], g):
            return False
        return self.plain or not self._meets(lie, x, y, self.walls, self.plate.margin_mm)

    def _meets(self, lie: Lie, x: float, y: float, others: Shapes, apart_mm: float) -> bool:
        """True when the lie at (x, y) comes nearer than that to any of the others."""
        if apart_mm >= TIGHT_MM:
            shape, apart_mm = lie.at(x, y), apart_mm - TOUCH_MM
        else:
            thin, shift = self._grown(lie, -THIN_MM), np.array([x, y])
            shape = shapely.transform(thin, lambda a: a + shift)
        return bool(shapely.dwithin(others, shape, apart_mm).any())

    def put(self, spot: Spot) -> None:
        """Lay a part down."""
        n = len(self.spots)
        if n == len(self.shapes):
            self.shapes = np.concatenate([self.shapes, np.empty(n, dtype=object)])
            self.bounds = np.concatenate([self.bounds, np.full((n, 4), np.inf)])
        self.spots.append(spot)
        self._seat(n, spot)

    def _seat(self, n: int, spot: Spot) -> None:
        shape = spot.lie.at(spot.x, spot.y)
        shapely.prepare(shape)
        self.spots[n], self.shapes[n], self.bounds[n] = spot, shape, shape.bounds

    def slide(self, spot: Spot, reach_mm: float, fine_mm: float = FINE_MM, first_mm: float = 0.0) -> Spot:
        """Move a part towards the datum corner, along, across, along, until it is within ``fine_mm`` of touching.

        What faces a straight side parallel to the datum edges ends exactly at the gap.
        """
        at, lie = [spot.x, spot.y], spot.lie
        long, across = self.long_axis, 1 - self.long_axis
        for turn, axis in enumerate((long, across, long)):
            if turn == 2 and at[across] == (spot.x, spot.y)[across]:
                break  # nothing has changed since it was slid along
            room = min(reach_mm, at[axis] - self.limits[axis])
            step, growing = max(2 * fine_mm, first_mm), True
            while step > fine_mm:
                trial = list(at)
                trial[axis] -= step
                if step <= room and self.clear(lie, *trial):
                    at, room = trial, room - step
                    step *= 2 if growing else 0.5
                else:
                    step, growing = step / 2, False
            if fine_mm > FINE_MM or at[axis] <= self.limits[axis]:
                continue
            stops = self.bounds[: len(self.spots), 2 + axis] + self.gap
            near = stops[(stops < at[axis]) & (stops > at[axis] - 2 * fine_mm)].tolist()
            if at[axis] - 2 * fine_mm < self.limits[axis]:
                near.append(self.limits[axis])
            near.append(math.floor(at[axis] * 100) / 100)  # tidy figures when they are as good
            for stop in sorted(near):
                trial = list(at)
                trial[axis] = stop
                if self.clear(lie, *trial):
                    at = trial
                    break
        return Spot(lie, at[0], at[1])

    def settle(self, passes: int = 3, fine_mm: float = FINE_MM) -> None:
        """Slide every part towards the datum corner in turn, nearest first; nothing is lost.

        After the first pass only those are tried again that lie beside metal given up since.
        """
        given_up: list[npt.NDArray[np.float64]] | None = None
        beside = np.array([-1.0, -1.0, 1.0, 1.0]) * (self.gap + 2 * FINE_MM)
        for _ in range(passes):
            before, given_up = given_up, []
            for n in sorted(range(len(self.spots)), key=lambda k: (*self.uv(self.spots[k]), k)):
                spot, here = self.spots[n], self.bounds[n].copy()
                if before is not None and not _any_meet(here + beside, before + given_up):
                    continue
                self.bounds[n] = np.inf
                there = self.slide(spot, math.inf, fine_mm)
                self._seat(n, there)
                if abs(there.x - spot.x) + abs(there.y - spot.y) > 0.01:
                    given_up.append(here)
            if not given_up:
                break
        self.redraw()
        self.full = set()

    def uv(self, spot: Spot) -> tuple[float, float]:
        return (spot.x, spot.y) if self.long_axis == 0 else (spot.y, spot.x)

    def run(self, lie: Lie) -> float:
        return lie.width if self.long_axis == 0 else lie.height

    @property
    def used(self) -> float:
        """How far along the plate metal is taken, from its usable edge [mm]."""
        ends = self.bounds[: len(self.spots), 2 + self.long_axis]
        return float(ends.max() - self.limits[self.long_axis]) if len(ends) else 0.0

    def rank(self, spot: Spot) -> tuple[float, bool, float, float]:
        """How good a place is, least best: length used, parallel to the datum edges, near the datum corner."""
        u, v = self.uv(spot)
        end = max(self.used, u + self.run(spot.lie) - self.limits[self.long_axis])
        return (round(end / self.grid), not spot.lie.square, round(u + self.run(spot.lie) / 2, 1), round(v, 1))

    def at(self, cell: tuple[int, int]) -> tuple[float, float]:
        i, j = cell if self.long_axis == 0 else cell[::-1]
        return self.limits[0] + i * self.grid, self.limits[1] + j * self.grid


def _any_meet(one: npt.NDArray[np.float64], others: list[npt.NDArray[np.float64]]) -> bool:
    """True when a box meets any of the others."""
    if not others:
        return False
    b = np.array(others)
    return bool(((b[:, :2] < one[2:]) & (b[:, 2:] > one[:2])).all(axis=1).any())
