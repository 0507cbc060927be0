"""A turn made of mitred pieces of straight pipe: half-mitred ends, whole pieces between."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.records.geometry import Point


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece by its middle line: throat, centre and heel length, and how far each end leans off square [deg]."""

    throat_mm: float
    centre_mm: float
    heel_mm: float
    first_deg: float
    last_deg: float


def half_mitre(turn: float, pieces: int) -> float:
    """Return how far each cut leans off square [rad]: the turn over twice the welds. ValueError below two pieces."""
    if pieces < 2:
        raise ValueError(f"a turn needs two pieces or more, got {pieces}")
    return turn / (2 * (pieces - 1))


def turn_pieces(radius_mm: float, turn_radius_mm: float, turn: float, pieces: int) -> tuple[Piece, ...]:
    """Return the pieces of a turn [rad] of that radius of the middle line [mm], for a pipe of that radius [mm].

    An end piece is (R - r) tan a, R tan a, (R + r) tan a at throat, centre and heel, a piece between twice that, with
    a = turn / (2 (n - 1)). ValueError when the throat would have no length left.
    """
    if turn_radius_mm < radius_mm:
        raise ValueError(f"a turn of radius {turn_radius_mm} mm has no throat on a pipe of radius {radius_mm} mm")
    a = half_mitre(turn, pieces)
    out = []
    for i in range(pieces):
        ends = (0.0 if i == 0 else math.degrees(a), 0.0 if i == pieces - 1 else math.degrees(a))
        halves = sum(1 for e in ends if e)
        share = halves * math.tan(a)
        throat, heel = share * (turn_radius_mm - radius_mm), share * (turn_radius_mm + radius_mm)
        out.append(Piece(throat, share * turn_radius_mm, heel, *ends))
    return tuple(out)


def turn_axis(turn_radius_mm: float, turn: float, pieces: int, tangent_mm: float = 0.0) -> tuple[Point, ...]:
    """Return the corners of the middle line [mm], first and last included.

    It sets out upwards from (0, 0) and turns left about (-R, tangent).
    """
    a = half_mitre(turn, pieces)
    x, y, heading = 0.0, 0.0, math.pi / 2
    points: list[Point] = [(x, y)]
    for i in range(pieces):
        halves = 1 if i in (0, pieces - 1) else 2
        length = halves * turn_radius_mm * math.tan(a) + (tangent_mm if halves == 1 else 0.0)
        x, y = x + length * math.cos(heading), y + length * math.sin(heading)
        points.append((x, y))
        heading += 2 * a
    return tuple(points)
