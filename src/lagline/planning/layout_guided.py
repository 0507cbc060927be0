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

from lagline.planning.layout_bands import Kind, Taste, lay_bands
from lagline.planning.layout_board import Board, usable_metal
from lagline.planning.layout_fill import Filling, Spot, StampKey
from lagline.planning.layout_lines import straight_lines
from lagline.planning.layout_quick import lay, sequence
from lagline.planning.layout_raster import Stamp
from lagline.planning.layout_shapes import Lie
from lagline.planning.layout_units import BadSide, units_of
from lagline.records.job import Plate
from lagline.records.plan import Blank

WORK = 600  # copies times tries
TRIES = 8
Done = tuple[list[Filling], list[int]]


@dataclass(frozen=True, slots=True)
class Metal:
    """What one stock's parts are laid with: gap and kerf [mm], and which edges may take the worse side."""

    gap_mm: float
    kerf_mm: float
    bad_side: BadSide


def guided(
    lies: dict[int, tuple[Lie, ...]],
    copies: list[int],
    plates: list[tuple[int, Plate]],
    blanks: tuple[Blank, ...],
    metal: Metal,
    *,
    seed: int,
    progress: Callable[[float, str], None],
    cancelled: Callable[[], bool],
    first: Callable[[list[Filling], list[int]], None] = lambda _fillings, _left: None,
) -> Done:
    """Lay the copies of one stock on its plates, straight-sided parts in bands.

    Parameters and result as for the quick layout.
    """
    units = {p: units_of(w, blanks[p], metal.bad_side) for p, w in lies.items()}
    count = Counter(copies)
    banded = [p for p in count if units[p]]
    tries = max(1, min(TRIES, WORK // max(1, len(copies))))
    usable = {i: usable_metal(plate) for i, plate in plates}
    rng = random.Random(seed)
    stamps: dict[StampKey, Stamp] = {}
    best: tuple[tuple[float, ...], Done] | None = None
    for n in range(tries):
        if cancelled() and best is not None:
            break
        progress(n / tries, f"laying parts in bands, try {n + 1} of {tries}")
        taste = _taste(n)
        order = _order(banded, lies, n, rng)
        left = Counter(count)
        fillings = []
        for i, plate in plates:
            board = Board(i, plate, usable[i], metal.gap_mm, metal.kerf_mm)
            lay_bands(board, [Kind(p, units[p], left[p]) for p in order if left[p]], taste, cancelled)
            filling = Filling(i, plate, metal.gap_mm, stamps)
            for cell in board.cells:
                for lie, dx, dy in cell.unit.lies:
                    filling.put(Spot(lie, cell.x + dx, cell.y + dy))
                    left[lie.part] -= 1
            fillings.append(filling)
        todo = sequence(list(left.elements()), lies, 0, rng)
        over = lay(lies, todo, fillings, lambda _: None, cancelled)
        mark = measure(fillings, over, lies, blanks, metal.kerf_mm)
        if best is None:
            first(fillings, over)
        if best is None or mark < best[0]:
            best = (mark, (fillings, over))
    assert best is not None
    return best[1]


def _taste(n: int) -> Taste:
    return Taste(n % 2, (math.inf, math.inf, 150.0, 150.0, 40.0, 40.0)[n % 6])


def _order(parts: list[int], lies: dict[int, tuple[Lie, ...]], n: int, rng: random.Random) -> list[int]:
    """Return the parts in the order they are laid: longest, tallest, largest first, then shaken a little."""
    low = {p: min(min(k.width, k.height) for k in lies[p]) for p in parts}
    high = {p: max(max(k.width, k.height) for k in lies[p]) for p in parts}
    match n // 2:
        case 0:
            key = {p: (-round(low[p], 3), -round(high[p], 3)) for p in parts}
        case 1:
            key = {p: (-round(high[p], 3), -round(low[p], 3)) for p in parts}
        case _:
            key = {p: (-low[p] * high[p] * rng.uniform(0.6, 1.6), 0.0) for p in parts}
    return sorted(parts, key=lambda p: (key[p], p))


def measure(
    fillings: list[Filling], left: list[int], lies: dict[int, tuple[Lie, ...]], blanks: tuple[Blank, ...], kerf: float
) -> tuple[float, ...]:
    """How good a layout is, least best: area left over, whole plates used, straight lines, offcuts, metal used."""
    used = [f for f in fillings if f.spots]
    strip = 0.0
    for f in used:
        ends = f.bounds[: len(f.spots), 2:].max(axis=0)
        x0, y0, x1, y1 = f.area.bounds
        strip += min((float(ends[0]) - x0) * (y1 - y0), (float(ends[1]) - y0) * (x1 - x0))
    return (
        round(sum(lies[p][0].shape.area for p in left), 3),
        sum(f.area.area for f in used if f.plate.kind != "offcut"),
        sum(straight_lines([(s.lie.part, s.lie.move(s.x, s.y)) for s in f.spots], blanks, kerf) for f in used),
        sum(f.area.area for f in used if f.plate.kind == "offcut"),
        round(strip, 3),
    )
