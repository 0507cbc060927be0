"""Bezier curves and ellipses to vertices within a tolerance, all parameters at once."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from lagline.records.geometry import Arc, Free, Line, Point, Segment
from lagline.shapes.arcs import FULL

CURVE_MM = 0.005  # flattening; with as much again for thinning a curve stays within 0.01 mm
MOST_VERTICES = 20_000


def as_points(array: NDArray[np.float64]) -> tuple[Point, ...]:
    """Return the rows of an array as points."""
    return tuple((float(x), float(y)) for x, y in array)


def bezier_points(controls: Sequence[Point], tol_mm: float = CURVE_MM) -> NDArray[np.float64]:
    """Return vertices of a quadratic or cubic Bezier curve whose chords stay within ``tol_mm`` [mm] of it.

    n = sqrt(d (d - 1) / 8 * max |P[i+2] - 2 P[i+1] + P[i]| / tol), from the bound on the second derivative.
    """
    p = np.asarray(controls, dtype=float)
    d = len(p) - 1
    bend = float(np.hypot(*(p[2:] - 2 * p[1:-1] + p[:-2]).T).max()) if d > 1 else 0.0
    n = min(MOST_VERTICES, max(1, math.ceil(math.sqrt(d * (d - 1) / 8 * bend / tol_mm))))
    t = np.linspace(0.0, 1.0, n + 1)[:, None]
    rows = sum(math.comb(d, i) * (1 - t) ** (d - i) * t**i * p[i] for i in range(d + 1))
    out = np.asarray(rows, dtype=float)
    out[0], out[-1] = p[0], p[-1]
    return out


def ellipse_points(
    centre: Point, u: Point, v: Point, start: float, sweep: float, tol_mm: float = CURVE_MM
) -> NDArray[np.float64]:
    """Return vertices of centre + u cos t + v sin t for t from start over the sweep [rad].

    u and v are any two conjugate half diameters; a chord over dt stays within max(|u|, |v|) sqrt(2) dt^2 / 8.
    """
    size = max(math.hypot(*u), math.hypot(*v)) * math.sqrt(2)
    n = math.ceil(abs(sweep) * math.sqrt(size / (8 * tol_mm)))
    t = start + sweep * np.linspace(0.0, 1.0, min(MOST_VERTICES, max(8, n)) + 1)[:, None]
    return np.asarray(np.array(centre) + np.cos(t) * np.array(u) + np.sin(t) * np.array(v), dtype=float)


def ellipse(centre: Point, u: Point, v: Point, start: float, sweep: float) -> Segment | None:
    """Return an ellipse's piece as an arc when u and v are square and equal, else as a free curve; None when flat."""
    ru, rv = math.hypot(*u), math.hypot(*v)
    cross = u[0] * v[1] - u[1] * v[0]
    sweep = max(-FULL, min(FULL, sweep))
    if not math.isfinite(ru + rv) or ru * rv == 0 or abs(cross) < 1e-9 * ru * rv or sweep == 0:
        return None
    if abs(ru - rv) <= 1e-6 * ru and abs(u[0] * v[0] + u[1] * v[1]) <= 1e-6 * ru * rv:
        side = math.copysign(1.0, cross)
        return Arc(centre, ru, math.atan2(u[1], u[0]) + side * start, side * sweep)
    return free(ellipse_points(centre, u, v, start, sweep), closed=abs(sweep) > FULL - 1e-9)


def free(points: NDArray[np.float64], closed: bool = False) -> Segment | None:
    """Return vertices thinned within 0.005 mm as a free curve or a line; None when shorter than a micron."""
    if closed:
        points[-1] = points[0]
    half = len(points) // 2
    if closed and half > 2:  # thinning keeps ends only: a closed curve is thinned in two halves
        first, second = (
            shapely.get_coordinates(shapely.LineString(p).simplify(CURVE_MM))
            for p in (points[: half + 1], points[half:])
        )
        thin = np.concatenate([first, second[1:]])
    else:
        thin = shapely.get_coordinates(shapely.LineString(points).simplify(CURVE_MM))
    if float(np.hypot(*np.diff(thin, axis=0).T).sum()) < 1e-3:
        return None
    vertices = as_points(thin)
    return Line(vertices[0], vertices[1]) if len(vertices) == 2 else Free(vertices)
