"""Plates by sides and diagonals: the real parallelogram, against geometry and a hand formula of the trade."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.planning.job_file import job_from_text
from lagline.planning.job_plates import plate_lean
from lagline.records.errors import LaglineError
from lagline.records.finding import Severity


def plate(width, height, d1, d2):
    text = (
        'units = "mm"\nstock = { metal = "steel", thickness = 10 }\nparts = [{ shape = "disc", diameter = 20 }]\n'
        f"plates = [{{ width = {width!r}, height = {height!r}, diagonals = [{d1!r}, {d2!r}] }}]\n"
    )
    job, notes = job_from_text(text, None, "job.toml")
    return job.plates[0], notes


sides = st.floats(100, 3000)


@given(width=sides, height=sides, angle=st.floats(80, 100))
@settings(deadline=None, max_examples=100)
def test_the_taped_parallelogram_comes_back(width, height, angle):
    a = math.radians(angle)
    far = (width + height * math.cos(a), height * math.sin(a))
    near = (height * math.cos(a), height * math.sin(a))
    made, _ = plate(width, height, math.hypot(*far), math.dist((width, 0), near))
    bottom, right, top, left = made.outline.outer.segments
    assert bottom.start == (0, 0)
    assert bottom.end == pytest.approx((width, 0))
    assert right.end == pytest.approx(far, abs=1e-6 * width)
    assert top.end == pytest.approx(near, abs=1e-6 * width)
    assert [s.length for s in (bottom, right, top, left)] == pytest.approx([width, height, width, height])


@given(width=sides, height=sides)
@settings(deadline=None, max_examples=30)
def test_equal_diagonals_are_square_and_swapped_ones_lean_the_other_way(width, height):
    d = math.hypot(width, height)
    assert plate_lean(width, height, d, d, "x") == 0
    lean = plate_lean(width, height, d * 1.002, d * 0.998, "x")
    assert lean > 0
    assert plate_lean(width, height, d * 0.998, d * 1.002, "x") == -lean


@pytest.mark.parametrize(
    ("width", "height", "apart", "out", "degrees"),
    [(48, 24, 1 / 8, 0.070, 0.17), (12, 12, 1 / 16, 0.044, 0.21)],
)
def test_against_the_small_difference_formula(width, height, apart, out, degrees):
    # s = (d1 - d2) d / (2 w), derived, printed to three places: 48 x 24 in with diagonals 1/8 apart is 0.070 out
    d = math.hypot(width, height)
    lean = plate_lean(width, height, d + apart / 2, d - apart / 2, "x")
    assert lean == pytest.approx(out, abs=0.0006)
    assert math.degrees(math.asin(lean / height)) == pytest.approx(degrees, abs=0.006)


@pytest.mark.parametrize("pair", [(1500, 1500), (200, 200), (1118, 100), (3000, 3000), (1180, 1118), (0, 0)])
def test_diagonals_that_cannot_be_are_refused(pair):
    # sides 1000 and 500 give 1118
    with pytest.raises(LaglineError):
        plate(1000, 500, *pair)


def test_doubtful_tape_and_great_skew_are_said():
    d = math.hypot(1000, 500)
    _, notes = plate(1000, 500, d, d)
    assert not [n for n in notes if n.severity is Severity.CAUTION]
    _, notes = plate(1000, 500, d + 8, d + 8)
    assert "diagonal-doubtful" in {n.code for n in notes}
    _, notes = plate(1000, 500, d + 15, d - 15)
    assert "plate-skew" in {n.code for n in notes}
