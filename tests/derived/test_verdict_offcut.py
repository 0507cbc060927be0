"""The largest clear rectangle, against brute force on obstacles with square sides and known shapes without."""

from __future__ import annotations

import itertools
import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.planning.plate_use import largest_rectangle

Box = tuple[float, float, float, float]


def brute(width: float, height: float, blocks: list[Box]) -> float:
    """Area of the largest empty rectangle: its sides lie on sides of blocks or of the plate. Every one is tried."""
    xs = sorted({0.0, width, *(v for b in blocks for v in (b[0], b[2]))})
    ys = sorted({0.0, height, *(v for b in blocks for v in (b[1], b[3]))})
    best = 0.0
    for (x0, x1), (y0, y1) in itertools.product(itertools.combinations(xs, 2), itertools.combinations(ys, 2)):
        if (x1 - x0) * (y1 - y0) > best and not any(
            b[0] < x1 and b[2] > x0 and b[1] < y1 and b[3] > y0 for b in blocks
        ):
            best = (x1 - x0) * (y1 - y0)
    return best


blocks_of = st.lists(
    st.tuples(st.integers(0, 900), st.integers(0, 500), st.integers(20, 300), st.integers(20, 300)).map(
        lambda b: (float(b[0]), float(b[1]), min(1000.0, b[0] + b[2]), min(600.0, b[1] + b[3]))
    ),
    max_size=6,
)


@settings(deadline=None, max_examples=25)
@given(blocks_of)
def test_square_sided_obstacles_are_exact(blocks: list[Box]) -> None:
    metal = shapely.box(0, 0, 1000, 600).difference(shapely.union_all([shapely.box(*b) for b in blocks]))
    left, bottom, width, height = largest_rectangle(metal, tuple(blocks))
    assert width * height == pytest.approx(brute(1000, 600, blocks), rel=1e-3, abs=1)
    if width:
        assert metal.buffer(1e-5).contains(shapely.box(left, bottom, left + width, bottom + height))


@settings(deadline=None, max_examples=20)
@given(st.lists(st.tuples(st.floats(0, 1000), st.floats(0, 600), st.floats(10, 200)), max_size=6))
def test_always_inside_and_no_side_can_move_out(discs: list[tuple[float, float, float]]) -> None:
    holes = shapely.union_all([shapely.Point(x, y).buffer(r) for x, y, r in discs])
    metal = shapely.box(0, 0, 1000, 600).difference(holes)
    left, bottom, width, height = largest_rectangle(metal)
    if not width:
        return
    sides = [left, bottom, left + width, bottom + height]
    assert metal.buffer(1e-5).contains(shapely.box(*sides))
    for i, step in enumerate((-0.2, -0.2, 0.2, 0.2)):
        moved = [v + step * (i == n) for n, v in enumerate(sides)]
        assert not metal.buffer(1e-9).contains(shapely.box(*moved))


def test_square_in_a_disc() -> None:
    """The largest rectangle in a circle of radius r is the square, 2 r^2; the grid is within 3 % of it."""
    _, _, w, h = largest_rectangle(shapely.Point(0, 0).buffer(300, quad_segs=64))
    assert 0.97 * 2 * 300**2 < w * h <= 2 * 300**2


def test_right_triangle() -> None:
    """Half of the triangle's area, at the middle of its long side."""
    _, _, w, h = largest_rectangle(shapely.Polygon([(0, 0), (800, 0), (0, 400)]))
    assert 0.97 * 80_000 < w * h <= 80_000


def test_nothing_left() -> None:
    assert largest_rectangle(shapely.Polygon()) == (0, 0, 0, 0)


def test_thin_slit_divides() -> None:
    """A kerf 2 mm wide across the plate at a place no grid line knows."""
    metal = shapely.box(0, 0, 1000, 500).difference(shapely.box(333.3, 0, 335.3, 500))
    left, _, w, h = largest_rectangle(metal)
    assert (left, w, h) == pytest.approx((335.3, 1000 - 335.3, 500), abs=0.1)
    assert math.isclose(w * h, 664.7 * 500, rel_tol=1e-3)
