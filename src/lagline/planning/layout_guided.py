"""Guided layout: straight-sided parts in bands and grids, so that one clamped straightedge serves many edges.

Round and free shapes go the quick way into what remains: windows, and the metal between and beside the bands. Bounded
by work, not by time, so that the same job and seed give the same layout on every machine.
"""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from lagline.planning.layout_bands import Kind, Taste, lay_bands
from lagline.planning.layout_blocks import Block, Cell
from lagline.planning.layout_board import Board
from lagline.planning.layout_fill import Filling, Spot, StampKey
from lagline.planning.layout_ground import Ground
from lagline.planning.layout_lines import straight_lines
from lagline.planning.layout_open import Group, as_plate, grown, open_plates
from lagline.planning.layout_pairs import pair_units
from lagline.planning.layout_pins import Pinned, Pins
from lagline.planning.layout_quick import lay, sequence
from lagline.planning.layout_raster import Stamp
from lagline.planning.layout_units import (
    STRAIGHT_SHARE,
    BadSide,
    Unit,
    along_axes,
    edge_of,
    single_units,
    unit_of,
)
from lagline.records.geometry import Move
from lagline.records.job import Plate
from lagline.records.plan import Blank
from lagline.shapes.region import joined, loop_polygon, pieces

WORK = 900  # copies times tries
TRIES = 16
FILLED = 2  # tries that are carried on with round and free parts, best first
LINE_MM = (math.inf, 200.0, 60.0)  # what a line is worth in length of plate, in turn
Rows = list[tuple[int, int, Move]]  # part, plate, place
Mark = tuple[float, ...]
Filled = tuple[Mark, Rows, list[int]]  # how good a layout is, where the copies lie, the parts left over


@dataclass(frozen=True, slots=True)
class Metal:
    """What one stock's parts are laid with: gap and kerf [mm], which edges may take the worse side, how long a line
    one straightedge serves [mm]."""

    gap_mm: float
    kerf_mm: float
    bad_side: BadSide = lambda _part, _edge: False
    reach_mm: float = math.inf


class Guided:
    """The guided layout of one stock. ``copies`` counts what is to be laid; ``groups`` are its plates."""

    def __init__(
        self, blanks: tuple[Blank, ...], copies: Counter[int], groups: list[Group], pins: Pins, metal: Metal
    ) -> None:
        self.blanks, self.copies, self.groups, self.pins, self.metal = blanks, copies, groups, pins, metal
        self.area = {p: blanks[p].cut.area for p in copies}
        self.units = [{p: self._units(g, p) for p in copies if p in g.lies} for g in groups]
        self.made: list[dict[int, dict[tuple[int, int, int], Block]]] = [{p: {} for p in copies} for _ in groups]
        self.stamps: dict[StampKey, Stamp] = {}
        self.fixed: dict[int, list[Cell]] = {}
        self.grounds: dict[int, Ground] = {}
        for g in groups:
            for i, plate in g.plates:
                cells = [(p, self._cell(p)) for p in pins.on(i)]
                self.fixed[i] = [c for _, c in cells if c is not None]
                around: BaseGeometry = joined([grown(p.area, metal.gap_mm) for p, c in cells if c is None])
                self.grounds[i] = Ground(i, plate, around)

    def _units(self, group: Group, part: int) -> tuple[Unit, ...]:
        lies, m = group.lies[part], self.metal
        if not self.blanks[part].part.turns_deg and part not in group.grained:
            lies = along_axes(part, self.blanks[part])
        singles = single_units(lies, self.blanks[part], m.bad_side, m.kerf_mm)
        if not singles or self.copies[part] < 2:
            return singles
        return (*pair_units(lies, self.blanks[part], m.gap_mm, m.kerf_mm, m.bad_side), *singles)

    def _cell(self, pinned: Pinned) -> Cell | None:
        """Return a pinned copy as a cell that others line up with, None for one without straight sides along axes."""
        k = pinned.placed.part
        outline, box = pinned.placed.move.outline(self.blanks[k].cut), pinned.area.bounds
        look = edge_of(k, self.blanks[k], self.metal.bad_side)
        unit = unit_of((), [outline], box, look, self.metal.kerf_mm)
        return Cell(unit, box[0], box[1]) if unit.straight >= STRAIGHT_SHARE else None

    def run(
        self,
        seed: int,
        progress: Callable[[float, str], None],
        cancelled: Callable[[], bool],
        show: Callable[[Rows, list[int]], None],
    ) -> tuple[Rows, list[int]]:
        """Return where the copies lie, and the parts left over (once per copy); the first try is shown at once, then
        better ones."""
        rng = random.Random(seed)
        tries = max(1, min(TRIES, WORK // max(1, self.copies.total())))
        kinds = [plate.kind == "offcut" for g in self.groups for _, plate in g.plates]
        both = any(kinds) and not all(kinds)
        tried: list[tuple[Mark, int, dict[int, list[Spot]]]] = []
        best: Filled | None = None
        for n in range(tries):
            if cancelled() and tried:
                break
            progress(0.7 * n / tries, f"laying parts in bands, try {n + 1} of {tries}")
            taste = Taste(n % 2, LINE_MM[n // 2 % len(LINE_MM)])
            spots = self._bands(taste, self._order(n, rng), both and n % 3 == 2, cancelled)
            tried.append((self.measure(spots), n, spots))
            if best is None:
                best = self._filled(spots, cancelled)
                show(*best[1:])
        assert best is not None
        tried.sort(key=lambda t: t[:2])
        for k, (before, n, spots) in enumerate(tried[:FILLED]):
            if cancelled() or (k and not best[2] and before[:3] > tried[0][0][:3]):
                break
            progress(0.7 + 0.3 * k / FILLED, "filling what remains")
            if n > 0 and (done := self._filled(spots, cancelled))[0] < best[0]:
                best = done
                show(*best[1:])
            if not self._free():
                break
        return best[1], best[2]

    def _filled(self, spots: dict[int, list[Spot]], cancelled: Callable[[], bool]) -> Filled:
        """Return a try with the rest laid too: how good it is, where the copies lie, what is left over."""
        spots = dict(spots)
        left = self._fill(spots, cancelled)
        rows = [(s.lie.part, i, s.lie.move(s.x, s.y)) for i, some in spots.items() for s in some]
        return self.measure(spots), rows, left

    def _free(self) -> list[int]:
        """Parts without straight sides, which are never laid in bands."""
        return [p for p in self.copies if not any(units.get(p) for units in self.units)]

    def _order(self, n: int, rng: random.Random) -> list[int]:
        """Return the parts in the order they are laid: widest, longest, largest first, then shaken a little."""
        boxes = {p: [(k.width, k.height) for g in self.groups for k in g.lies.get(p, ())] for p in self.copies}
        parts = [p for p in self.copies if boxes[p]]
        low, high = ({p: f(boxes[p][0]) for p in parts} for f in (min, max))
        match n // 2:
            case 0:
                key = {p: (-round(low[p], 3), -round(high[p], 3)) for p in parts}
            case 1:
                key = {p: (-round(high[p], 3), -round(low[p], 3)) for p in parts}
            case 2:
                key = {p: (-round(low[p] * high[p] * self.copies[p], 3), 0.0) for p in parts}
            case _:
                key = {p: (-low[p] * high[p] * rng.uniform(0.6, 1.6), 0.0) for p in parts}
        return sorted(parts, key=lambda p: (key[p], p))

    def _bands(
        self, taste: Taste, order: list[int], plates_only: bool, cancelled: Callable[[], bool]
    ) -> dict[int, list[Spot]]:
        """Return the straight-sided parts laid in bands, plate after plate, offcuts left to the others or not."""
        left = Counter(self.copies)
        spots: dict[int, list[Spot]] = {}
        for group, units, made in zip(self.groups, self.units, self.made, strict=True):
            for i, plate in group.plates:
                if plates_only and plate.kind == "offcut":
                    spots[i] = []
                    continue
                board = Board(self.grounds[i], self.metal.gap_mm, self.metal.kerf_mm)
                for cell in self.fixed[i]:
                    board.pin(cell)
                kinds = [Kind(p, units[p], left[p], made[p]) for p in order if left[p] and units.get(p)]
                lay_bands(board, kinds, taste, cancelled)
                spots[i] = [Spot(lie, c.x + dx, c.y + dy) for c in board.cells for lie, dx, dy in c.unit.lies]
                left.subtract(s.lie.part for s in spots[i])
        return spots

    def _fill(self, spots: dict[int, list[Spot]], cancelled: Callable[[], bool]) -> list[int]:
        """Lay the quick way what is not laid yet, in windows first; return what is left over."""
        left = Counter(self.copies)
        left.subtract(s.lie.part for some in spots.values() for s in some)
        todo = sorted(left.elements())
        for group in self.groups:
            able = [p for p in todo if p in group.lies]
            if not able:
                continue
            able = sequence(able, group.lies, 0, random.Random(0))
            todo = [p for p in todo if p not in group.lies]
            able = lay(group.lies, able, windows := self._windows(group, spots), lambda _: None, cancelled)
            for f in windows:
                spots[f.index] = spots[f.index] + f.spots
            fillings: list[tuple[Filling, int]] = []
            for i, plate in group.plates:
                fillings += [(f, len(f.spots)) for f in self._fillings(i, plate, spots[i])]
            over = lay(group.lies, able, [f for f, _ in fillings], lambda _: None, cancelled)
            todo = sorted(over + todo)
            for f, n in fillings:
                spots[f.index] = spots[f.index] + f.spots[n:]
        return todo

    def _windows(self, group: Group, spots: dict[int, list[Spot]]) -> list[Filling]:
        """Return the windows of parts laid on the group's plates, small ones first, as metal to be filled."""
        gap_mm = self.metal.gap_mm
        small = min((min(k.width, k.height) for ways in group.lies.values() for k in ways), default=math.inf)
        out = []
        for i, plate in group.plates:
            taken = [loop_polygon(k) for k in plate.keep_out] + [grown(p.area, gap_mm) for p in self.pins.on(i)]
            for s in spots[i]:
                for ring in s.lie.shape.interiors:
                    ring_here = shapely.transform(ring, lambda a, by=(s.x, s.y): a + by)
                    window = Polygon(ring_here).buffer(-gap_mm, join_style="mitre")
                    for piece in pieces(window.difference(joined(taken))):
                        x0, y0, x1, y1 = piece.bounds
                        if min(x1 - x0, y1 - y0) >= small:
                            out.append(Filling(i, as_plate(plate, piece), gap_mm, self.stamps))
        return sorted(out, key=lambda f: f.area.area)

    def _fillings(self, index: int, plate: Plate, spots: list[Spot]) -> list[Filling]:
        """Return what is open of a plate, the parts that lie there on it."""
        out = []
        for piece in open_plates(plate, [p.area for p in self.pins.on(index)], self.metal.gap_mm):
            filling = Filling(index, piece, self.metal.gap_mm, self.stamps)
            for s in spots:
                box = shapely.box(s.x, s.y, s.x + s.lie.width, s.y + s.lie.height)
                if box.distance(filling.area) <= self.metal.gap_mm:
                    filling.put(s)
            out.append(filling)
        return out

    def measure(self, spots: dict[int, list[Spot]]) -> Mark:
        """How good a layout is, least best: area left over, whole plates used, straight lines, offcuts, metal used."""
        left = Counter(self.copies)
        whole = offcuts = strip = 0.0
        lines = 0
        for i, some in spots.items():
            if not some:
                continue
            left.subtract(s.lie.part for s in some)
            plate = self.grounds[i].plate
            area = plate.outline.area
            whole, offcuts = (whole, offcuts + area) if plate.kind == "offcut" else (whole + area, offcuts)
            x0, y0, x1, y1 = plate.outline.bounds()
            right, top = max(s.x + s.lie.width for s in some), max(s.y + s.lie.height for s in some)
            strip += min((right - x0) * (y1 - y0), (top - y0) * (x1 - x0))
            moves = [(s.lie.part, s.lie.move(s.x, s.y)) for s in some]
            moves += [(p.placed.part, p.placed.move) for p in self.pins.on(i)]
            lines += straight_lines(moves, self.blanks, plate, self.metal.kerf_mm, self.metal.reach_mm)
        over = sum(self.area[p] * n for p, n in left.items())
        return (round(over, 3), whole, lines, offcuts, round(strip, 3))
