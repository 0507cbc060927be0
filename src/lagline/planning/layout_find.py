"""The search for the next place on a plate: likely places from the grid, tested exactly and slid home.

Where the grid loses what just fits, the corners left by parts and plate are tried exactly as well.
"""

from __future__ import annotations

import math

import numpy as np

from lagline.planning.layout_fill import TOUCH_MM, Filling, Spot
from lagline.planning.layout_raster import lowest
from lagline.planning.layout_shapes import Lie

SLIDES = 3  # lies of one part slid home before the best is taken
TRIES = 6  # likely places looked at exactly, per lie
RECENT = 40  # neighbours whose corners are tried exactly


def find(plate: Filling, lies: tuple[Lie, ...]) -> Spot | None:
    """Return the best clear place for a part, None when none was found."""
    x0, y0, x1, y1 = plate.limits
    fits = [k for k in lies if k.width <= x1 - x0 + TOUCH_MM and k.height <= y1 - y0 + TOUCH_MM]
    coarse = max(0.1, plate.grid / 8)
    best: Spot | None = None
    if not plate.spots:  # exact try first: a part the size of the usable area has one place only
        here = [Spot(k, x0, y0) for k in fits if plate.clear(k, x0, y0)]
        best = min(here, key=plate.rank, default=None)
    square = [k for k in fits if k.square]
    slanted = [k for k in fits if not k.square]
    for near in (True, False):
        for some in (square, slanted):
            if best is not None and plate.rank(best)[0] <= round(plate.used / plate.grid):
                break  # no more metal used up: a slanted lie cannot be better
            slid = 0
            for end_cells, _, _, lie, places in _rough(plate, some, near=near):
                if best is not None and (slid == SLIDES or end_cells > plate.rank(best)[0] + 1):
                    break
                spot = _first_clear(plate, lie, places)
                if spot is not None:
                    spot = plate.slide(spot, 2 * plate.grid, coarse, plate.grid / 2)
                    slid += 1
                    if best is None or plate.rank(spot) < plate.rank(best):
                        best = spot
        if best is not None:
            break
    if best is None or plate.rank(best)[0] > round(plate.used / plate.grid):
        for lie in (k for k in fits if k.boxy and k.square):
            spot = _corner(plate, lie, best)
            if spot is not None and (best is None or plate.rank(spot) < plate.rank(best)):
                best = spot
    return best and plate.slide(best, 2 * plate.grid)


def _rough(plate: Filling, fits: list[Lie], *, near: bool) -> list[tuple[int, int, int, Lie, int]]:
    """Return the lies that have likely places on the grid, most promising first.

    ``near`` looks no further than one part beyond the metal already taken.
    """
    rough: list[tuple[int, int, int, Lie, int]] = []
    if not fits:
        return rough
    used, grid = plate.used, plate.grid
    reach = max(plate.run(k) for k in fits)
    plate.loose.look(math.ceil((used + plate.gap + reach) / grid) + 2 if near else None)
    for n, (lie, stamp) in enumerate(zip(fits, plate.stamp(fits), strict=True)):
        places = plate.loose.places(stamp)
        if places:
            column = plate.loose.cell(lowest(places))[0]
            end = max(used, column * grid + plate.run(lie))
            rough.append((round(end / grid), column, n, lie, places))
    return sorted(rough, key=lambda r: r[:3])


def _first_clear(plate: Filling, lie: Lie, places: int) -> Spot | None:
    g, tried = plate.grid, 0
    nudges = ((0.0, 0.0), (0.5, 0.0), (0.0, 0.5), (0.5, 0.5), (1.0, 0.0), (0.0, 1.0))
    while places and tried < TRIES:
        bit = lowest(places)
        x, y = plate.at(plate.loose.cell(bit))
        for dx, dy in nudges:
            if plate.clear(lie, x + dx * g, y + dy * g):
                return Spot(lie, x + dx * g, y + dy * g)
        places &= ~(0b111 << bit)  # neighbours in the column were as good as tried
        tried += 1
    safe = plate.safe()
    certain = safe.places(plate.safe_stamp(lie))
    if certain:
        i, j = safe.cell(lowest(certain))
        x, y = plate.at((i + 1, j + 1))
        if plate.clear(lie, x, y):
            return Spot(lie, x, y)
    return None


def _corner(plate: Filling, lie: Lie, best: Spot | None) -> Spot | None:
    """Try the lie exactly against edges of the plate and of parts, where a grid loses what just fits."""
    x0, y0, x1, y1 = plate.limits
    n, g = len(plate.spots), plate.gap
    b = plate.bounds[max(0, n - RECENT) : n]
    xs = np.unique(np.round(np.concatenate([[x0, x1 - lie.width], b[:, 2] + g]), 6))
    ys = np.unique(np.round(np.concatenate([[y0, y1 - lie.height], b[:, 3] + g]), 6))
    px, py = (a.ravel() for a in np.meshgrid(xs, ys, indexing="ij"))
    keep = (px + lie.width <= x1 + TOUCH_MM) & (py + lie.height <= y1 + TOUCH_MM)
    if best is not None:
        u, run = (px, lie.width) if plate.long_axis == 0 else (py, lie.height)
        keep &= u + run < plate.uv(best)[0] + plate.run(best.lie) - TOUCH_MM
    px, py = px[keep], py[keep]
    if len(px) and n:
        e = g - TOUCH_MM
        x, y, every = px[:, None], py[:, None], plate.bounds[:n]
        hit = (every[:, 0] < x + lie.width + e) & (every[:, 2] > x - e)
        hit &= (every[:, 1] < y + lie.height + e) & (every[:, 3] > y - e)
        clear = ~hit.any(axis=1)
        px, py = px[clear], py[clear]
    trials = list(zip(px.tolist(), py.tolist(), strict=True))
    trials += [
        (s.x + h[0] + g, s.y + h[1] + g)
        for s in plate.spots
        for h in s.lie.windows
        if h[2] - h[0] - 2 * g > lie.width - TOUCH_MM and h[3] - h[1] - 2 * g > lie.height - TOUCH_MM
    ]
    trials.sort(key=lambda p: p if plate.long_axis == 0 else p[::-1])
    return next((Spot(lie, x, y) for x, y in trials[:TRIES] if plate.clear(lie, x, y)), None)
