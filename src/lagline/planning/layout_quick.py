"""Quick layout: bigger parts first, each laid where it lengthens the used metal least; a few orders are tried.

Bounded by work, not by time, so that the same job and seed give the same layout on every machine.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable

from shapely.geometry.base import BaseGeometry

from lagline.planning.layout_fill import Filling, GrownKey, Spot, StampKey
from lagline.planning.layout_find import find
from lagline.planning.layout_raster import Stamp
from lagline.planning.layout_shapes import Lie
from lagline.records.job import Plate

WORK = 480  # lies times copies that may be searched before another order is no longer tried
ORDERS = 4


def plate_order(plates: tuple[Plate, ...]) -> list[int]:
    """Return plate indices in the order they are used up: offcuts before plates, smaller before larger."""
    return sorted(range(len(plates)), key=lambda i: (plates[i].kind != "offcut", plates[i].outline.area, i))


def measure(fillings: list[Filling], left: list[int], area: dict[int, float]) -> tuple[float, ...]:
    """How good a layout is, least best: area left over, whole plates used, offcut area used, length used."""
    used = [f for f in fillings if f.spots]
    return (
        round(sum(area[p] for p in left), 3),
        sum(f.area.area for f in used if f.plate.kind != "offcut"),
        sum(f.area.area for f in used if f.plate.kind == "offcut"),
        round(sum(f.used * (f.limits[3 - f.long_axis] - f.limits[1 - f.long_axis]) for f in used), 3),
    )


def sequence(copies: list[int], lies: dict[int, tuple[Lie, ...]], variant: int, rng: random.Random) -> list[int]:
    """Return the copies in the order they are laid: by area, by longest side, then by area shaken a little."""
    area = {p: lies[p][0].shape.area for p in lies}
    side = {p: max(lies[p][0].width, lies[p][0].height) for p in lies}
    box = {p: lies[p][0].width * lies[p][0].height for p in lies}
    match variant:
        case 0:
            key = {p: box[p] for p in lies}
        case 1:
            key = side
        case _:
            key = {p: math.sqrt(area[p] * box[p]) * rng.uniform(0.75, 1.3) for p in lies}
    return sorted(copies, key=lambda p: (-key[p], p))


def quick(
    lies: dict[int, tuple[Lie, ...]],
    copies: list[int],
    plates: list[tuple[int, Plate]],
    gap_mm: float,
    *,
    seed: int,
    progress: Callable[[float, str], None],
    cancelled: Callable[[], bool],
    show: Callable[[list[Filling], list[int]], None] = lambda _fillings, _left: None,
) -> tuple[list[Filling], list[int]]:
    """Lay the copies of one stock on its plates.

    Parameters
    ----------
    lies : the ways each part may lie
    copies : part index, once per copy
    plates : (index in the job, plate), in the order they are to be used
    gap_mm : clear distance between cut outlines [mm]
    show : shown the first try as it stands, then each better one

    Returns
    -------
    The plates with their parts, and the parts left over (once per copy).
    """
    area = {p: lies[p][0].shape.area for p in lies}
    stamps: dict[StampKey, Stamp] = {}
    grown: dict[GrownKey, BaseGeometry] = {}
    work = sum(len(lies[p]) for p in copies)
    orders = max(1, min(ORDERS, WORK * 2 // max(1, work)))
    rng = random.Random(seed)
    best: tuple[list[Filling], list[int]] | None = None
    for variant in range(orders):
        fillings = [Filling(i, plate, gap_mm, stamps, grown) for i, plate in plates]
        todo = sequence(copies, lies, variant, rng)

        def told(share: float, v: int = variant) -> None:
            progress((v + share) / orders, f"laying parts out, try {v + 1} of {orders}")

        mark = (math.inf,) if best is None else measure(*best, area)

        def beaten(left: list[int], so_far: list[Filling] = fillings, best_mark: tuple[float, ...] = mark) -> bool:
            return measure(so_far, left, area) > best_mark

        left = lay(lies, todo, fillings, told, cancelled, beaten)
        if cancelled():
            return best or (fillings, left)
        if measure(fillings, left, area) < mark:
            best = (fillings, left)
            show(*best)
    assert best is not None
    fillings, left = best
    for f in fillings:
        if f.spots and not cancelled():
            f.settle()
    if left:
        left = lay(lies, left, fillings, lambda _: None, cancelled)
    return fillings, left


def lay(
    lies: dict[int, tuple[Lie, ...]],
    todo: list[int],
    fillings: list[Filling],
    told: Callable[[float], None],
    cancelled: Callable[[], bool],
    beaten: Callable[[list[int]], bool] = lambda _left: False,
) -> list[int]:
    """Lay copies one by one on the first plate that takes them; return those that found no place.

    Given up, the rest left, when ``beaten`` says so of what found no place so far; more parts make it no better.
    """
    left: list[int] = []
    for n, part in enumerate(todo):
        if cancelled() or beaten(left):
            return left + todo[n:]
        told(n / len(todo))
        spot: Spot | None = None
        for filling in fillings:
            if part in filling.full:
                continue
            spot = find(filling, lies[part])
            if spot is not None:
                filling.put(spot)
                break
            filling.full.add(part)
        if spot is None:
            left.append(part)
    return left
