"""Which copies of a layout lie where a pin holds them, and where a copy lies in the numbers of a pin."""

from __future__ import annotations

import math

from lagline.records.geometry import Move
from lagline.records.job import Job, Part
from lagline.records.plan import Blank, Layout

SAME_MM, SAME_RAD = 1e-3, 1e-6


def held(job: Job, blanks: tuple[Blank, ...], layout: Layout) -> dict[int, int]:
    """Return for each placed copy that a pin holds (index into the layout) the pin (index into the job's pins)."""
    out: dict[int, int] = {}
    for n, pin in enumerate(job.pins):
        for i, p in enumerate(layout.placed):
            same = (blanks[p.part].part.name, job.plates[p.plate].name) == (pin.part, pin.plate)
            if same and i not in out and _same(p.move, pin.move):
                out[i] = n
                break
    return out


def _same(a: Move, b: Move) -> bool:
    return (
        math.hypot(a.dx - b.dx, a.dy - b.dy) < SAME_MM
        and abs(math.remainder(a.turn - b.turn, math.tau)) < SAME_RAD
        and a.mirror == b.mirror
    )


def left_bottom(part: Part, move: Move) -> tuple[float, float]:
    """Return how far the left and the bottom of a part, as drawn, lie from the datum corner [mm]."""
    left, bottom, _, _ = move.outline(part.outline).bounds()
    return left, bottom
