"""The heat of cutting in a thin plate, by explicit finite volumes: kerfs open as the torch passes, shut to heat.

The plate is squares of one size; a square is metal when its middle is. A cut parts every link between two squares whose
middles it parts, so that whatever it goes round is cut off, however crooked; the two squares of a link then share their
metal as the line runs between them. Heat goes in equal halves into the two, in all as much as the cut's length says.
Properties are constant (heat.warm-means), the loss to the air goes with the rise; rises are over the air's temperature.

Not to be believed nearer to a cut than about two kerfs or two squares, whichever is more: the molten slot, hot
properties and the plate's depth are left out.
"""

from __future__ import annotations

import copy
import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from lagline.records.errors import refuse
from lagline.records.geometry import Point
from lagline.trade.heat_plate import warm
from lagline.trade.register import Limit, formula

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

CELL_MM = 4.0  # wanted, where the work allows it
ACROSS = 40  # squares across the narrow side of a small plate
LEAST_CELL_MM = 0.25
MOST_CELLS = 1_000_000
MOST_WORK = 7.5e8  # squares times steps: about a second of one core
GROWTH = 0.3  # a resting step over the time since the arc went out
_STEADY = 0.16  # alpha dt/h^2 of a plain step: half squares are stable to 1/6, where the leading errors cancel too
_LEAD = (3, 5)  # squares
_STAGES_PER_STEP = 7.0  # stages a resting step takes, counted for the choice of squares


@dataclass(frozen=True, slots=True)
class Track:
    """One cut with the arc on: the kerf's middle, pace [mm/s], heat it leaves in both edges [J/mm] and before it moves
    [J], the time it stands [s], and half the kerf, by which it reaches beyond its ends [mm]."""

    points: tuple[Point, ...]
    pace_mm_s: float
    heat_j_mm: float
    stand_s: float = 0.0
    stand_j: float = 0.0
    half_kerf_mm: float = 0.0

    def __post_init__(self) -> None:
        numbers = (self.pace_mm_s, self.heat_j_mm, self.stand_s, self.stand_j, self.half_kerf_mm)
        if not all(math.isfinite(v) and v >= 0 for v in numbers) or self.pace_mm_s <= 0:
            raise refuse(
                "heat-bad-number", "cut", f"pace {self.pace_mm_s} mm/s, heat {self.heat_j_mm} J/mm, standing "
                f"{self.stand_s} s and {self.stand_j} J do not all make sense", "finite numbers, the pace above zero",
            )  # fmt: skip
        if len(self.points) < 2 or not all(math.isfinite(c) for p in self.points for c in p):
            raise refuse("heat-bad-number", "cut", "its line has no two places", "two places or more, finite")

    @property
    def length_mm(self) -> float:
        """Length of travel [mm]."""
        return math.fsum(math.dist(a, b) for a, b in itertools.pairwise(self.points))

    @property
    def seconds(self) -> float:
        """Time from striking the arc to its end [s]."""
        return self.stand_s + self.length_mm / self.pace_mm_s


@dataclass(frozen=True, slots=True)
class Links:
    """The links a cut parts, in order: distance along it [mm], whether the link runs along x, the square it begins
    at, and how much of the cut's length it stands for [mm]."""

    along_mm: Floats
    across: NDArray[np.uint8]
    row: Ints
    column: Ints
    share_mm: Floats
    part: Floats  # where the cut crosses it, 0 at the middle of its first square, 1 at that of its second
    weight: Floats  # of a line askew: how much the crossings along x and along y count, adding up to 1

    @property
    def cells(self) -> tuple[Ints, Ints]:
        """Rows and columns of the squares on either side, one side after the other."""
        up, right = 1 - self.across.astype(np.int64), self.across.astype(np.int64)
        return np.r_[self.row, self.row + up], np.r_[self.column, self.column + right]


@formula(
    "heat.cells",
    text="h = 4 mm, less on small plates (a fortieth of the narrow side), more where squares x steps > 7.5e8",
    gives="size of the field's squares [mm]",
    source="derived: work goes with 1/h^4; the bounds are ours",
    limits=(Limit("cell_mm", 0.25, 200, "mm"),),
)
def choose_cell(
    area: BaseGeometry, metal: str, arc_s: float, rest_s: float, rests: int, most_work: float = MOST_WORK
) -> tuple[float, bool]:
    """Return the size of the squares [mm], and whether it is coarser than wanted to keep the work within bounds.

    Parameters: the plate, metal, time with the arc on and off [s], how often it goes out, squares times steps allowed.
    """
    left, bottom, right, top = area.bounds
    wanted = max(LEAST_CELL_MM, min(CELL_MM, min(right - left, top - bottom) / ACROSS))
    spread = warm(metal).diffusivity_mm2_s
    cell = wanted
    for _ in range(200):
        cells = (right - left) * (top - bottom) / cell**2
        step = _STEADY * cell**2 / spread
        each = rest_s / max(rests, 1) / step
        rested = rests * min(each, _STAGES_PER_STEP * math.sqrt(each)) if each > 0 else 0.0
        if cells <= MOST_CELLS and cells * (arc_s / step + rested) <= most_work:
            break
        cell *= 1.05
    return cell, cell > wanted


class Field:
    """The rise of every square of one plate, taken through cuts and rests."""

    def __init__(
        self, area: BaseGeometry, metal: str, thickness_mm: float, cell_mm: float, loss_per_s: float = 0.0,
        *, open_kerfs: bool = True,
    ) -> None:  # fmt: skip
        """Begin with a cold plate.

        Parameters
        ----------
        area : the plate, with its openings
        loss_per_s : heat.surface-loss; 0 switches it off
        open_kerfs : False leaves heat free to cross every kerf (for comparison with solutions of a whole plate)

        Errors: LaglineError for numbers that make no sense, and for a plate without a single square.
        """
        if not all(math.isfinite(v) for v in (thickness_mm, cell_mm, loss_per_s)) or min(thickness_mm, cell_mm) <= 0:
            raise refuse("heat-bad-number", "plate", f"thickness {thickness_mm} mm, square {cell_mm} mm, loss "
                         f"{loss_per_s} 1/s do not all make sense", "finite numbers, sizes above zero")  # fmt: skip
        left, bottom, right, top = area.bounds if not area.is_empty else (0.0, 0.0, 0.0, 0.0)
        columns, rows = (max(1, round(d / cell_mm)) for d in (right - left, top - bottom))
        if rows * columns > 4 * MOST_CELLS:
            raise refuse("heat-too-fine", "plate", f"{rows * columns} squares of {cell_mm:g} mm are too many",
                         f"at most {4 * MOST_CELLS}: larger squares")  # fmt: skip
        self.cell_mm, self.loss_per_s, self.open_kerfs = cell_mm, loss_per_s, open_kerfs
        self.x0 = (left + right - columns * cell_mm) / 2 - cell_mm / 2  # middle of the first, outer column
        self.y0 = (bottom + top - rows * cell_mm) / 2 - cell_mm / 2
        m = warm(metal)
        self.spread_mm2_s = m.diffusivity_mm2_s
        self.cell_j_k = m.rho_c_j_mm3k * thickness_mm * cell_mm**2
        shape = (rows + 2, columns + 2)
        self.metal: Bools = np.zeros(shape, dtype=np.bool_)
        shapely.prepare(area)
        x, y = np.meshgrid(self.x0 + cell_mm * np.arange(1, columns + 1), self.y0 + cell_mm * np.arange(1, rows + 1))
        self.metal[1:-1, 1:-1] = shapely.contains_xy(area, x, y)
        if not self.metal.any():
            raise refuse("heat-no-metal", "plate", f"no square of {cell_mm:g} mm has its middle on metal",
                         "a plate larger than a square")  # fmt: skip
        self._gx: Floats = np.zeros(shape)
        self._gy: Floats = np.zeros(shape)
        self._gx[:, :-1] = self.metal[:, :-1] & self.metal[:, 1:]
        self._gy[:-1] = self.metal[:-1] & self.metal[1:]
        size: Floats = np.ones(shape)
        for ring in shapely.get_rings(shapely.get_parts(area)):
            self._edge(size, self._crossed(shapely.get_coordinates(ring), 0.0))
        self.share = 1 / np.maximum(size, 0.5)  # a whole square over what belongs to the cell
        self.rise: Floats = np.zeros(shape)
        self.peak: Floats = np.zeros(shape)
        self._room = tuple(np.zeros(shape) for _ in range(3))
        self.put_j = 0.0
        self.idle_s = 0.0
        self.steps = 0  # plain steps and stages so far

    @property
    def held_j(self) -> float:
        """Heat in the plate now [J]."""
        return math.fsum((self.rise / self.share).sum(axis=1).tolist()) * self.cell_j_k

    @property
    def step_s(self) -> float:
        """Length of a plain step [s]."""
        return _STEADY * self.cell_mm**2 / self.spread_mm2_s

    def place(self, row: int, column: int) -> Point:
        """Middle of a square [mm]."""
        return (self.x0 + column * self.cell_mm, self.y0 + row * self.cell_mm)

    def at(self, p: Point, values: Floats | None = None) -> float:
        """Rise (or another value) at a place between four middles, straight between them [K]."""
        v = self.rise if values is None else values
        column, row = (p[0] - self.x0) / self.cell_mm, (p[1] - self.y0) / self.cell_mm
        j = min(max(math.floor(column), 0), v.shape[1] - 2)
        i = min(max(math.floor(row), 0), v.shape[0] - 2)
        a, b = column - j, row - i
        low, high = ((1 - a) * v[k, j] + a * v[k, j + 1] for k in (i, i + 1))
        return float((1 - b) * low + b * high)

    def labels(self, areas: Sequence[BaseGeometry]) -> Ints:
        """Which of some areas the middle of every metal square lies in; -1 for none."""
        out: Ints = np.full(self.metal.shape, -1, dtype=np.int64)
        rows, columns = self.metal.shape
        for k, area in enumerate(areas):
            left, bottom, right, top = area.bounds
            j0, j1 = (math.floor((v - self.x0) / self.cell_mm) for v in (left, right))
            i0, i1 = (math.floor((v - self.y0) / self.cell_mm) for v in (bottom, top))
            i0, i1, j0, j1 = max(i0, 0), min(i1 + 2, rows), max(j0, 0), min(j1 + 2, columns)
            if i0 >= i1 or j0 >= j1:
                continue
            shapely.prepare(area)
            x, y = np.meshgrid(self.x0 + self.cell_mm * np.arange(j0, j1), self.y0 + self.cell_mm * np.arange(i0, i1))
            out[i0:i1, j0:j1][shapely.contains_xy(area, x, y) & self.metal[i0:i1, j0:j1]] = k
        return out

    def links(self, track: Track) -> Links:
        """Return the links a cut parts, its reach of half a kerf beyond both ends included (with no heat)."""
        return self._crossed(_stretched(track), track.half_kerf_mm)

    def _edge(self, size: Floats, links: Links) -> None:
        """Give the squares along the plate's edge the metal that is there: more than a square, or less."""
        i, j = links.row, links.column
        k, m = i + 1 - links.across, j + links.across
        here, there = self.metal[i, j], self.metal[k, m]
        more = links.weight * (links.part - 0.5)
        np.add.at(size, (i, j), np.where(here & ~there, more, 0.0))
        np.add.at(size, (k, m), np.where(there & ~here, -more, 0.0))

    def _crossed(self, points: Floats, early_mm: float) -> Links:
        a, b = points[:-1], points[1:]
        d = b - a
        length = np.hypot(*d.T)
        before = np.r_[0.0, np.cumsum(length)[:-1]] - early_mm
        turn = np.abs(d) / np.maximum(length, 1e-300)[:, None]
        rows, columns = self.metal.shape
        found = []
        for axis, count in ((0, columns), (1, rows)):
            first = (self.x0, self.y0)[axis]
            other = (self.y0, self.x0)[axis]
            at = (np.c_[a[:, axis], b[:, axis]] - first) / self.cell_mm
            # a middle lies behind the cut's end or not: every one passed is passed once, where stretches meet too
            low, high = np.floor(at.min(axis=1)).astype(np.int64) + 1, np.floor(at.max(axis=1)).astype(np.int64) + 1
            low, high = np.clip(low, 0, count), np.clip(high, 0, count)
            n = high - low
            e = np.repeat(np.arange(len(n)), n)
            k = low[e] + np.arange(len(e)) - np.repeat(np.cumsum(n) - n, n)
            t = (k - at[e, 0]) / (at[e, 1] - at[e, 0])
            way = (a[e, 1 - axis] + t * d[e, 1 - axis] - other) / self.cell_mm
            side = np.floor(way).astype(np.int64)
            inside = (side >= 0) & (side < (rows, columns)[axis] - 1)
            row, column = (side, k) if axis == 0 else (k, side)
            along = before[e] + t * length[e]
            kind = np.full(len(e), axis, np.uint8)  # passing the middles of columns it parts links along y
            found.append(
                (along, kind, row, column, turn[e, axis] * self.cell_mm, way - side, turn[e, axis] ** 2, inside)
            )
        every = [np.concatenate(v) for v in zip(*found, strict=True)]
        order = np.argsort(every[0], kind="stable")
        order = order[every[-1][order]]
        return Links(*(v[order] for v in every[:-1]))

    def cut(
        self, track: Track, links: Links | None = None, until: Sequence[tuple[float, Callable[[], None]]] = ()
    ) -> None:
        """Cut along a track; ``until`` are moments from striking the arc [s] with what is to be done then."""
        from lagline.trade.heat_kernel import march

        links = links or self.links(track)
        when, kind, row, column, heat_a, heat_b, part = self._events(track, links)
        self.put_j += (math.fsum(heat_a.tolist()) + math.fsum(heat_b.tolist())) * self.cell_j_k
        done, now = 0, 0.0
        longest = min(self.step_s, self.cell_mm / track.pace_mm_s)
        stops = [*((min(max(s, 0.0), track.seconds), act) for s, act in until), (track.seconds, lambda: None)]
        for n, (stop, act) in enumerate(stops):
            steps = max(1, math.ceil((stop - now) / longest - 1e-9)) if stop > now or n == len(stops) - 1 else 0
            if steps:
                dt = max(stop - now, 1e-12) / steps
                due = len(when) if n == len(stops) - 1 else int(np.searchsorted(when, stop, "right"))
                done = march(
                    self.rise, self._room[0], self.peak, self.share, self._gx, self._gy,
                    self.spread_mm2_s * dt / self.cell_mm**2, self.loss_per_s * dt, steps, dt,
                    when[:due] - now, kind[:due], row[:due], column[:due],
                    heat_a[:due], heat_b[:due], part[:due], done,
                )  # fmt: skip
                self.steps += steps
                now = stop
            act()
        self.idle_s = 0.0

    def _events(self, track: Track, links: Links) -> tuple[Any, ...]:
        """When each link is parted and what heat its two squares get [K of a square]; standing comes first."""
        on = (links.along_mm >= 0) & (links.along_mm <= track.length_mm)
        share = np.where(on, links.share_mm, 0.0)
        total = share.sum()
        share = share * (track.length_mm / total) if total > 0 else share
        here = self.metal[links.row, links.column]
        there = self.metal[links.row + 1 - links.across, links.column + links.across]
        each = track.heat_j_mm * share / self.cell_j_k
        when = track.stand_s + np.clip(links.along_mm, 0.0, track.length_mm) / track.pace_mm_s
        # of a line along the plate's edge one half goes to nothing; with kerfs shut, heat goes in where the line runs
        first, second = (0.5, 0.5) if self.open_kerfs else (1 - links.part, links.part)
        first, second = (
            np.where(here, np.where(there, first, 0.5), 0.0),
            np.where(there, np.where(here, second, 0.5), 0.0),
        )
        none = np.zeros(len(each))
        place = (links.row, links.column)
        events: list[tuple[Any, ...]] = [(when, links.across | 2, *place, each * first, each * second, none)]
        solid = np.flatnonzero(on & here & there)
        if track.stand_j > 0 and len(solid):
            n, k = max(1, math.ceil(track.stand_s / self.step_s)), solid[0]
            add = np.full(n, track.stand_j / n / self.cell_j_k)
            at = track.stand_s * (np.arange(n) + 0.5) / n
            kind = np.full(n, links.across[k] | 2, np.uint8)
            where = (np.full(n, links.row[k]), np.full(n, links.column[k]))
            events.append((at, kind, *where, add / 2, add / 2, np.zeros(n)))
        elif not len(solid) and track.length_mm < self.cell_mm:
            events[0] = self._within(track)
        if self.open_kerfs:
            # the kerf opens a few squares ahead of the heat: else the side whose middles lie nearer to it loses its
            # heat round the front to the other
            far = min(max(_LEAD[0] * self.cell_mm, 6 * self.spread_mm2_s / track.pace_mm_s), _LEAD[1] * self.cell_mm)
            lead = far / track.pace_mm_s
            events.append(
                (np.maximum(when - lead, 0.0), links.across, *place, none, none, links.weight * (links.part - 0.5))
            )
        every = [np.concatenate(v) for v in zip(*events, strict=True)]
        order = np.lexsort((every[1] & 2, every[0]))
        return tuple(v[order] for v in every)

    def _within(self, track: Track) -> tuple[Any, ...]:
        """A cut so short that it parts no squares: its heat goes into the square it lies in, and nothing opens."""
        x, y = np.mean(np.array(track.points), axis=0)
        i, j = round((y - self.y0) / self.cell_mm), round((x - self.x0) / self.cell_mm)
        rows, columns = self.metal.shape
        inside = 0 <= i < rows - 1 and 0 <= j < columns - 1 and bool(self.metal[i, j])
        n = max(1, math.ceil(track.seconds / self.step_s)) if inside else 0
        at = track.seconds * (np.arange(n) + 0.5) / max(n, 1)
        each = np.full(n, (track.heat_j_mm * track.length_mm + track.stand_j) / self.cell_j_k / max(n, 1))
        return at, np.full(n, 2, np.uint8), np.full(n, i), np.full(n, j), each, np.zeros(n), np.zeros(n)

    def rest(self, seconds: float, told: Callable[[float], None] = lambda _: None) -> None:
        """Let the plate lie; ``told`` hears how much time has gone by after every step taken [s].

        Steps grow with the time since the arc went out. A long step that would leave the range of temperatures before
        it is taken in halves, at last in plain steps, which never do.
        """
        from lagline.trade.heat_kernel import march, rest

        if self.put_j == 0.0:
            told(seconds)
            return
        gone, shrink = 0.0, 1.0
        none, kind, cell = np.zeros(0), np.zeros(0, np.uint8), np.zeros(0, np.int64)
        steady = 2 / (12 * self.spread_mm2_s / self.cell_mm**2 + self.loss_per_s)
        while seconds - gone > 1e-9:
            wish = max(2 * self.step_s, GROWTH * self.idle_s)
            wish = min(wish, 0.3 / self.loss_per_s) if self.loss_per_s > 0 else wish
            left, tau = seconds - gone, wish * shrink
            tau = left if left < 1.3 * tau else tau
            if tau <= 4 * self.step_s:
                n = max(1, math.ceil(tau / self.step_s - 1e-9))
                march(
                    self.rise, self._room[0], self.peak, self.share, self._gx, self._gy,
                    self.spread_mm2_s * tau / n / self.cell_mm**2, self.loss_per_s * tau / n, n, tau / n,
                    none, kind, cell, cell, none, none, none, 0,
                )  # fmt: skip
                self.steps += n
            else:
                stages = 3
                while 0.95 * steady * (stages * stages + stages - 2) / 4 < tau:
                    stages += 2
                self.steps += stages
                if not rest(
                    self.rise, *self._room, self.peak, self.share, self._gx, self._gy,
                    self.spread_mm2_s * tau / self.cell_mm**2, self.loss_per_s * tau, stages,
                ):  # fmt: skip
                    shrink = tau / 2 / wish
                    continue
            shrink = min(1.0, 2 * shrink)
            gone += tau
            self.idle_s += tau
            told(gone)

    def copy(self) -> Field:
        """Return the field as it stands, to be taken another way."""
        other = copy.copy(self)
        for name in ("rise", "peak", "share", "_gx", "_gy"):
            setattr(other, name, getattr(self, name).copy())
        other._room = tuple(np.zeros_like(self.rise) for _ in range(3))
        return other


def _stretched(track: Track) -> Floats:
    """The track's places, with half a kerf more at either end."""
    p = np.array([track.points[0], *(b for a, b in itertools.pairwise(track.points) if a != b)], dtype=float)
    if len(p) < 2 or track.half_kerf_mm == 0:
        return p
    out, end = p[0] - p[1], p[-1] - p[-2]
    begin = p[0] + out / np.hypot(*out) * track.half_kerf_mm
    last = p[-1] + end / np.hypot(*end) * track.half_kerf_mm
    return np.vstack((begin, p, last))
