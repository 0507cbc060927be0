"""Lines of equal value over a grid of numbers: closed chains, higher ground always on the left hand."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
# corners a b c d from the lower left round, bits 1 2 4 8; sides south east north west 0 1 2 3
_TURNS: dict[int, tuple[tuple[int, int], ...]] = {
    1: ((0, 3),), 2: ((1, 0),), 4: ((2, 1),), 8: ((3, 2),),
    3: ((1, 3),), 6: ((2, 0),), 12: ((3, 1),), 9: ((0, 2),),
    7: ((2, 3),), 11: ((1, 2),), 13: ((0, 1),), 14: ((3, 0),),
    5: ((0, 3), (2, 1)), 10: ((1, 0), (3, 2)),
}  # fmt: skip


def isolines(values: Floats, level: float) -> list[Floats]:
    """Return the closed lines where a grid passes a level, as rows of (column, row); the rim must lie below it.

    Straight between neighbours; a saddle is taken as two hills apart.
    """
    high = values >= level
    if high[0].any() or high[-1].any() or high[:, 0].any() or high[:, -1].any():
        raise ValueError("the grid's rim is not below the level")
    code = high[:-1, :-1] + 2 * high[:-1, 1:] + 4 * high[1:, 1:] + 8 * high[1:, :-1]
    columns = values.shape[1]
    begin, end = [], []
    for kind, turns in _TURNS.items():
        i, j = np.nonzero(code == kind)
        at = i * columns + j
        side = (2 * at, 2 * (at + 1) + 1, 2 * (at + columns), 2 * at + 1)  # number of the link on each side
        for a, b in turns:
            begin.append(side[a])
            end.append(side[b])
    follows = dict(zip(np.concatenate(begin).tolist(), np.concatenate(end).tolist(), strict=True))
    out = []
    while follows:
        first, link = follows.popitem()
        chain = [first, link]
        while link != first:
            link = follows.pop(link)
            chain.append(link)
        out.append(_places(np.array(chain), values, level))
    return out


def _places(links: NDArray[np.int64], values: Floats, level: float) -> Floats:
    at, up = links // 2, links % 2
    i, j = np.divmod(at, values.shape[1])
    a, b = values[i, j], values[i + up, j + 1 - up]
    t = (level - a) / (b - a)
    return np.column_stack((j + t * (1 - up), i + t * up))


def over(values: Floats, level: float, corner: tuple[float, float], cell_mm: float, smooth_mm: float) -> BaseGeometry:
    """Return the area at or over a level in plate millimetres, its edge drawn to within ``smooth_mm``."""
    rings = [c * cell_mm + corner for c in isolines(values, level) if len(c) > 3]
    if not rings:
        return shapely.MultiPolygon()
    # rings lie in each other and never cross: what an odd number of them goes round is over the level
    lines = shapely.multilinestrings([shapely.linestrings(r) for r in rings])
    return shapely.make_valid(shapely.simplify(shapely.build_area(lines), smooth_mm))
