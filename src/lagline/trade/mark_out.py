"""Marking out a rectangle from two datum edges: its diagonal, and what unequal diagonals say about the corner."""

from __future__ import annotations

import math

from lagline.trade.register import Limit, formula

_SIDE = Limit("side_mm", 1.0, 100_000.0, "mm")


@formula(
    "mark-out.diagonal",
    text="d = sqrt(a^2 + b^2)",
    gives="diagonal of a rectangle [mm]",
    source="geometry (derived)",
    limits=(_SIDE,),
)
def diagonal(side_mm: float, other_mm: float) -> float:
    """Diagonal of a rectangle from its two sides [mm]. [mm]

    >>> diagonal(3.0, 4.0)
    5.0
    """
    return math.hypot(side_mm, other_mm)


@formula(
    "mark-out.diagonals-apart",
    text="d1 - d2 = 4 a s/(d1 + d2), d1, d2 = sqrt((a +- s)^2 + b^2 - s^2)",
    gives="difference of the diagonals of a rectangle that is out of square by s over its side b [mm]",
    source="geometry (derived)",
    limits=(_SIDE,),
)
def diagonals_apart(side_mm: float, other_mm: float, out_mm: float) -> float:
    """How far apart the diagonals are when the side ``side_mm`` leans ``out_mm`` off square over its own length. [mm]

    Parameters: the side that leans, the other side, how far its end lies off the square line [mm].
    Check: 24 in leaning 0.070 in beside 48 in: 1/8 in. ValueError when it leans further than it is long.
    """
    if abs(out_mm) >= side_mm:
        raise ValueError(f"a side of {side_mm} mm cannot lie {out_mm} mm off square")
    up_squared = side_mm**2 - out_mm**2
    long, short = (math.sqrt((other_mm + s) ** 2 + up_squared) for s in (abs(out_mm), -abs(out_mm)))
    return long - short


@formula(
    "mark-out.out-of-square",
    text="s = (d1^2 - d2^2)/(4 a)",
    gives="how far a side's end lies off the square line [mm]",
    source="geometry (derived)",
    limits=(_SIDE,),
)
def out_of_square(other_mm: float, diagonal_mm: float, other_diagonal_mm: float) -> float:
    """How far one side leans off square over its own length, from the other side and both diagonals [mm]. [mm]

    Check: 48 x 24 in, diagonals 1/8 in apart: 0.070 in over the 24.
    """
    return abs(diagonal_mm**2 - other_diagonal_mm**2) / (4 * other_mm)
