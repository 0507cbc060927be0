"""A bolt circle set out with dividers: the chord to step, the coordinates, the chords that check it."""

from __future__ import annotations

import math

from lagline.trade.register import Limit, formula

_N = Limit("holes", 2, 200, "-")
_D = Limit("circle_mm", 5.0, 10_000.0, "mm")
_SOURCE = "geometry (derived): chord of a regular polygon"


@formula(
    "bolt-circle.chord",
    text="c = D sin(180 k/n)",
    gives="straight distance between hole centres k places apart [mm]",
    source=_SOURCE,
    limits=(_N, _D),
)
def chord_across(circle_mm: float, holes: int, places: int = 1) -> float:
    """Straight distance between centres ``places`` apart on a bolt circle of that diameter [mm]. [mm]

    Check: six holes, one place: the radius; opposite holes: the diameter.
    """
    return circle_mm * math.sin(math.pi * places / holes)


@formula(
    "bolt-circle.coordinates",
    text="x = D/2 cos(a0 + 360 i/n), y = D/2 sin(a0 + 360 i/n)",
    gives="hole centres from the circle's centre [mm]",
    source=_SOURCE,
    limits=(_N, _D),
)
def coordinates(circle_mm: float, holes: int, start_deg: float) -> tuple[tuple[float, float], ...]:
    """Centres of the holes from the circle's centre, x right, y up, the first at that angle from x [deg]. [mm]"""
    angles = [math.radians(start_deg) + 2 * math.pi * i / holes for i in range(holes)]
    return tuple((circle_mm / 2 * math.cos(a), circle_mm / 2 * math.sin(a)) for a in angles)


@formula(
    "bolt-circle.dividers",
    text="closing gap = n e/cos(180/n)",
    gives="gap left after stepping round with dividers set wrong by e [mm]",
    source="geometry (derived): each step turns by a chord's error over its half-angle's cosine",
    limits=(_N,),
)
def closing_gap(holes: int, error_mm: float) -> float:
    """Gap along the circle after stepping once round with dividers that are set wrong by ``error_mm``. [mm]

    First order in the error. ValueError for two holes, where dividers span the diameter and cannot step.
    """
    if holes < 3:
        raise ValueError("two holes lie on a diameter: nothing to step")
    return holes * error_mm / math.cos(math.pi / holes)
