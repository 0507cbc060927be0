"""Arcs from what drawings give: three points, a bulge, moved ends, or vertices that lie on a circle."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from lagline.records.geometry import Arc, Line, Point, Segment

FULL = 2 * math.pi
NEAR_MM = 0.02  # a curve this close to an arc is taken as the arc
STRAIGHT_MM = 0.005  # and this close to its chord as a line
LARGEST_RADIUS_MM = 1e6


def through(a: Point, mid: Point, b: Point) -> Segment:
    """Return the arc from a by mid to b, a line when the three are in line."""
    ax, ay, bx, by = a[0] - mid[0], a[1] - mid[1], b[0] - mid[0], b[1] - mid[1]
    cross = ax * by - ay * bx
    la, lb = ax * ax + ay * ay, bx * bx + by * by
    if abs(cross) <= 1e-12 * math.sqrt(la * lb) or cross == 0:
        return Line(a, b)
    cx, cy = (by * la - ay * lb) / (2 * cross), (ax * lb - bx * la) / (2 * cross)
    radius = math.hypot(cx, cy)
    if radius > LARGEST_RADIUS_MM:
        return Line(a, b)
    centre = (mid[0] + cx, mid[1] + cy)
    start = math.atan2(a[1] - centre[1], a[0] - centre[0])
    end = math.atan2(b[1] - centre[1], b[0] - centre[0])
    # travel is left-handed round the centre when mid lies to the right of the chord
    sweep = (end - start) % FULL if cross < 0 else -((start - end) % FULL)
    return Arc(centre, radius, start, sweep) if sweep else Line(a, b)


def from_bulge(a: Point, b: Point, bulge: float) -> Segment:
    """Return the segment from a to b with a bulge: the tangent of a quarter of the sweep, left turns positive."""
    chord = math.dist(a, b)
    if abs(bulge) < 1e-9 or chord == 0:
        return Line(a, b)
    sweep = 4 * math.atan(bulge)
    radius = chord / (2 * abs(math.sin(sweep / 2)))
    if radius > LARGEST_RADIUS_MM:
        return Line(a, b)
    # from the chord's middle to the centre, left of travel for a positive bulge under a half turn
    off = chord * (1 - bulge * bulge) / (4 * bulge)
    ux, uy = (b[0] - a[0]) / chord, (b[1] - a[1]) / chord
    centre = ((a[0] + b[0]) / 2 - uy * off, (a[1] + b[1]) / 2 + ux * off)
    return Arc(centre, radius, math.atan2(a[1] - centre[1], a[0] - centre[0]), sweep)


def moved_ends(arc: Arc, a: Point, b: Point) -> Segment:
    """Return the arc carried to new ends close to its own.

    Under a half turn it is turned and scaled with its chord, so the sweep stays; beyond, its middle point stays.
    """
    if math.dist(arc.start, a) + math.dist(arc.end, b) < 1e-9:
        return arc
    if abs(arc.sweep) > math.pi or math.dist(a, b) == 0:
        return through(a, arc.at(arc.angle + arc.sweep / 2), b)
    old = complex(arc.end[0] - arc.start[0], arc.end[1] - arc.start[1])
    if abs(old) < 1e-9:
        return Line(a, b)
    by = complex(b[0] - a[0], b[1] - a[1]) / old
    if not 0.5 < abs(by) < 2:  # an arc no longer than its ends were moved: nothing of it is left
        return Line(a, b)
    c = complex(arc.centre[0] - arc.start[0], arc.centre[1] - arc.start[1]) * by
    centre = (a[0] + c.real, a[1] + c.imag)
    return Arc(centre, abs(c), math.atan2(-c.imag, -c.real), arc.sweep)


def _off_circle(pts: NDArray[np.float64], centre: NDArray[np.float64], radius: float, chords: bool) -> float:
    """Furthest that vertices, and chord middles if asked, lie off a circle [mm]."""
    both = np.concatenate([pts, (pts[1:] + pts[:-1]) / 2]) if chords else pts
    return float(np.abs(np.hypot(*(both - centre).T) - radius).max())


def _sweep(pts: NDArray[np.float64], centre: NDArray[np.float64]) -> float | None:
    """Angle travelled about the centre, None when travel turns back."""
    angles = np.arctan2(*(pts - centre).T[::-1])
    steps = (np.diff(angles) + math.pi) % FULL - math.pi
    total = float(steps.sum())
    return total if bool((steps * total > 0).all()) else None


def closest_arc(vertices: Sequence[Point], tol_mm: float = NEAR_MM, chords: bool = True) -> Arc | Line | None:
    """Return the arc (full circle, line) through both ends that stays within ``tol_mm`` of the vertices, else None.

    With ``chords`` it stays as close to the chords between them, which are then a curve's own flattening.

    The centre is the least-squares one on the chord's bisector; of a closed curve, of all vertices.
    """
    pts = np.asarray(vertices, dtype=float)
    a, b = pts[0], pts[-1]
    chord = b - a
    size = float(np.ptp(pts, axis=0).max())
    if size == 0:
        return None
    if float(np.hypot(*chord)) < 1e-6:
        if len(pts) < 9:
            return None
        mean = pts[:-1].mean(axis=0)
        q = pts[:-1] - mean
        sol, *_ = np.linalg.lstsq(np.column_stack([2 * q, np.ones(len(q))]), (q**2).sum(axis=1), rcond=None)
        inside = float(sol[2] + sol[0] ** 2 + sol[1] ** 2)
        if inside <= 0:
            return None
        centre, radius = mean + sol[:2], math.sqrt(inside)
        sweep = _sweep(pts, centre)
        if sweep is None or abs(abs(sweep) - FULL) > 1e-6 or _off_circle(pts, centre, radius, chords) > tol_mm:
            return None
        angle = math.atan2(a[1] - centre[1], a[0] - centre[0])
        return Arc((float(centre[0]), float(centre[1])), radius, angle, math.copysign(FULL, sweep))
    half = float(np.hypot(*chord)) / 2
    unit = chord / (2 * half)
    normal = np.array([-unit[1], unit[0]])
    q = pts - (a + b) / 2
    up, along = q @ normal, q @ unit
    if float(np.abs(up).max()) <= STRAIGHT_MM and bool((np.diff(along) > 0).all()):
        return Line((float(a[0]), float(a[1])), (float(b[0]), float(b[1])))
    down = 2 * float((up * up).sum())
    t = float((up * ((q**2).sum(axis=1) - half * half)).sum()) / down
    radius = math.hypot(t, half)
    centre = (a + b) / 2 + t * normal
    if radius > LARGEST_RADIUS_MM or _off_circle(pts, centre, radius, chords) > tol_mm:
        return None
    sweep = _sweep(pts, centre)
    if sweep is None or abs(sweep) >= FULL:
        return None
    angle = math.atan2(a[1] - centre[1], a[0] - centre[0])
    return Arc((float(centre[0]), float(centre[1])), radius, angle, sweep)
