"""Points round the outside of a round pipe or a rectangular tube, with the points straight behind them on the inside.

Glossary
--------
top line : the line along the pipe at x greatest, y nought; ``along`` is measured from it round the outside
x, y     : across the pipe, x towards the top line, y towards the side a quarter turn on; right of the top line when
           the pipe is looked at from outside with its joint end up
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Ring:
    """Places round a pipe: along the outside [mm], across it outside and inside [mm], and the outward normal.

    Without a wall inside and outside are the same points.
    """

    along: Floats
    x: Floats
    y: Floats
    inner_x: Floats
    inner_y: Floats
    normal_x: Floats
    normal_y: Floats
    perimeter: float
    wall: float | None


def round_ring(radius_mm: float, wall_mm: float | None, angles: Floats) -> Ring:
    """Return the places at these angles from the top line [rad] of a pipe of that outside radius [mm].

    ValueError when the wall leaves no bore.
    """
    if wall_mm is not None and not 0 < wall_mm < radius_mm:
        raise ValueError(f"wall {wall_mm} mm leaves no bore in a radius of {radius_mm} mm")
    c, s = np.cos(angles), np.sin(angles)
    inner = radius_mm - (wall_mm or 0.0)
    return Ring(
        angles * radius_mm, radius_mm * c, radius_mm * s, inner * c, inner * s, c, s, 2 * math.pi * radius_mm, wall_mm
    )


def box_perimeter(width_mm: float, height_mm: float, corner_mm: float) -> float:
    """Return the way round a rectangle with round corners [mm]: 2 (w + h) - 8 r + 2 pi r."""
    return 2 * (width_mm + height_mm) - (8 - 2 * math.pi) * corner_mm


def box_places(width_mm: float, height_mm: float, corner_mm: float) -> tuple[float, ...]:
    """Return where, along the outside from the middle of the top face, each flat and corner ends [mm]."""
    half, side, turn = width_mm / 2 - corner_mm, height_mm - 2 * corner_mm, math.pi / 2 * corner_mm
    lengths = (half, turn, side, turn, 2 * half, turn, side, turn, half)
    return tuple(float(v) for v in np.cumsum((0.0, *lengths)))


def box_ring(width_mm: float, height_mm: float, corner_mm: float, wall_mm: float | None, along: Floats) -> Ring:
    """Return the places that far round a rectangular tube [mm], from the middle of its top face.

    The height lies along x, the width along y. Inside corners have the outside radius less the wall, or are sharp.
    ValueError when wall or corner leave no flat or no bore.
    """
    w, h, r = width_mm / 2, height_mm / 2, corner_mm
    if not 0 <= r <= min(w, h):
        raise ValueError(f"corner radius {r} mm does not fit a tube of {width_mm} by {height_mm} mm")
    if wall_mm is not None and not 0 < wall_mm < min(w, h):
        raise ValueError(f"wall {wall_mm} mm leaves no bore in a tube of {width_mm} by {height_mm} mm")
    ends = box_places(width_mm, height_mm, corner_mm)
    piece = np.clip(np.searchsorted(ends, along, side="right") - 1, 0, 8)
    into = along - np.asarray(ends)[piece]
    # each flat: where it starts, which way it runs, its normal; each corner: its centre and the normal it starts with
    starts: tuple[tuple[float, float], ...] = (
        (h, 0), (h - r, w - r), (h - r, w), (r - h, w - r), (-h, w - r), (r - h, r - w), (r - h, -w),
        (h - r, r - w), (h, r - w),
    )  # fmt: skip
    normals = ((1, 0), (1, 0), (0, 1), (0, 1), (-1, 0), (-1, 0), (0, -1), (0, -1), (1, 0))
    base, normal = np.asarray(starts)[piece], np.asarray(normals, float)[piece]
    corner = piece % 2 == 1
    bend = np.where(corner, into / r if r > 0 else 0.0, 0.0)
    nx = normal[:, 0] * np.cos(bend) - normal[:, 1] * np.sin(bend)
    ny = normal[:, 0] * np.sin(bend) + normal[:, 1] * np.cos(bend)
    x = np.where(corner, base[:, 0] + r * nx, base[:, 0] - into * normal[:, 1])
    y = np.where(corner, base[:, 1] + r * ny, base[:, 1] + into * normal[:, 0])
    ix, iy = x, y
    if wall_mm is not None:
        inside = corner & (r > wall_mm)
        flat_x, flat_y = x - wall_mm * nx, y - wall_mm * ny
        ix = np.where(inside, flat_x, np.clip(flat_x, wall_mm - h, h - wall_mm))
        iy = np.where(inside, flat_y, np.clip(flat_y, wall_mm - w, w - wall_mm))
        sharp = corner & (r <= wall_mm)
        ix = np.where(sharp, np.sign(base[:, 0]) * (h - wall_mm), ix)
        iy = np.where(sharp, np.sign(base[:, 1]) * (w - wall_mm), iy)
    return Ring(along, x, y, ix, iy, nx, ny, box_perimeter(width_mm, height_mm, corner_mm), wall_mm)
