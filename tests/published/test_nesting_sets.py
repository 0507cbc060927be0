"""The five open strip-packing sets (bench/data/nesting, dedicated to the public domain; source and counts in its
README): they are read as published, and the dense layout lays every piece, none on another, within what is possible.

Bounds only: the solver's answer follows the clock. The densities reached are measured by ``bench/nesting.py``.
"""

from __future__ import annotations

import pytest
from bench.nesting import SETS, WIDE_MM, Outcome, Strip, lagline, library, read

from lagline.records.geometry import Outline
from lagline.shapes.region import polygon
from tests.generate import polygon_loop

# types, pieces, strip height, total area: table of the README, counts of the published files
PUBLISHED = {
    "dighe1": (16, 16, 100.0, 10000.0),
    "dighe2": (10, 10, 100.0, 10000.0),
    "shapes0": (4, 43, 40.0, 1596.0),
    "swim": (10, 48, 5752.0, 25441305.0),
    "trousers": (17, 64, 79.0, 17206.5),
}


@pytest.mark.parametrize("name", SETS)
def test_sets_are_read_as_published(name: str) -> None:
    strip = read(name)
    types, pieces, height, area = PUBLISHED[name]
    assert (len(strip.outlines), strip.pieces) == (types, pieces)
    k = WIDE_MM / height
    assert strip.area_mm2 == pytest.approx(area * k * k, rel=1e-9)
    shapes = [(polygon(Outline(polygon_loop(list(ring)))), n) for ring, n in strip.outlines]
    assert all(s.is_valid and s.exterior.is_ccw for s, _ in shapes)
    assert sum(s.area * n for s, n in shapes) == pytest.approx(strip.area_mm2, rel=1e-6)


@pytest.mark.parametrize("name", ["dighe1", "dighe2"])
def test_the_jigsaws_fill_a_square(name: str) -> None:
    # density 1 is proven for these two: their pieces have the area of the square they were cut from
    assert read(name).density(WIDE_MM) == pytest.approx(1.0, rel=1e-9)


def sound(strip: Strip, outcome: Outcome) -> None:
    assert outcome.placed == strip.pieces
    assert outcome.faults == 0
    assert outcome.double_mm2 < 1.0  # of a square metre and more: sides that touch, to the check's micrometre
    assert outcome.density <= 1.0 + 1e-6


@pytest.mark.parametrize(("name", "least"), [("dighe2", 0.55), ("shapes0", 0.45)])
def test_pressed_for_a_second(name: str, least: float) -> None:
    strip = read(name)
    outcome = lagline(strip, 1, 1)
    sound(strip, outcome)
    assert outcome.density > least  # what the quick layout alone reaches, less a margin


@pytest.mark.deep
@pytest.mark.parametrize("name", SETS)
def test_pressed_for_ten_seconds_beside_the_bare_library(name: str) -> None:
    strip = read(name)
    ours = lagline(strip, 10, 1)
    sound(strip, ours)
    theirs = library(strip, 10, 1)
    assert ours.density > 0.85 * theirs.density  # one run each, on a machine that may be busy; medians in the bench
