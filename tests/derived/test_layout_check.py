"""The independent check finds each fault it is there for, and only then."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from lagline.planning.layout import without_faults
from lagline.planning.layout_check import check_layout
from lagline.planning.layout_raster import Field, fill, lowest, stamp
from lagline.records.geometry import Move, Outline
from lagline.records.job import Stock
from lagline.records.plan import Layout, Placed
from lagline.shapes.region import polygon
from tests.generate import blank, polygon_loop, random_blanks, rectangle_blank, rectangle_plate

PAIR = (rectangle_blank("cheek", 100, 100, 2, turns_deg=(0.0,)),)
PLATE = (rectangle_plate("A", 400, 200, margin_mm=10),)


def layout(*at: tuple[float, float], gap: float = 5.0, turn: float = 0.0, mirror: bool = False) -> Layout:
    placed = tuple(Placed(0, n + 1, 0, Move(x, y, turn, mirror)) for n, (x, y) in enumerate(at))
    return Layout(placed, (), gap, "quick")


def test_a_good_layout_has_no_fault() -> None:
    assert check_layout(layout((10, 10), (115, 10)), PAIR, PLATE) == ()


@pytest.mark.parametrize(
    ("given", "says"),
    [
        (layout((10, 10), (114.9, 10)), "nearer than the gap"),
        (layout((10, 10), (60, 60)), "nearer than the gap"),
        (layout((10, 10), (10, 10)), "nearer than the gap"),
        (layout((10, 10), (109.9, 10), gap=0.0), "nearer than the gap"),
        (layout((9.9, 10), (150, 10)), "nearer than the margin"),
        (layout((10, 10), (600, 10)), "nearer than the margin"),
        (layout((10, 10)), "1 placed, 0 left over"),
        (layout((210, 10), (330, 10), mirror=True), "mirrored"),
        (layout((110, 10), (215, 10), turn=math.pi / 2), "turned by an angle"),
    ],
)
def test_each_fault_is_found(given: Layout, says: str) -> None:
    assert any(says in f.message for f in check_layout(given, PAIR, PLATE))


def test_touching_is_no_fault_at_zero_gap() -> None:
    assert check_layout(layout((10, 10), (110, 10), gap=0.0), PAIR, PLATE) == ()


def test_other_metal_is_found() -> None:
    other = (replace(PLATE[0], stock=Stock("steel", "plain", 12.7, '1/2"')),)
    assert any("not made of" in f.message for f in check_layout(layout((10, 10), (115, 10)), PAIR, other))


def test_inside_a_window_is_clear_and_over_its_edge_is_not() -> None:
    hole = polygon_loop([(50, 50), (50, 150), (150, 150), (150, 50)], "w")
    frame = blank("frame", Outline(polygon_loop([(0, 0), (200, 0), (200, 200), (0, 200)]), (hole,)))
    blanks, plates = (frame, rectangle_blank("pad", 80, 80)), (rectangle_plate("A", 200, 200),)
    for x, faults in ((60, 0), (64, 0), (66, 1), (100, 1)):
        both = Layout((Placed(0, 1, 0, Move()), Placed(1, 1, 0, Move(x, 60))), (), 5.0, "quick")
        assert len(check_layout(both, blanks, plates)) == faults


def test_the_offender_is_taken_off_and_named() -> None:
    mended = without_faults(layout((10, 10), (60, 60)), PAIR, PLATE)
    assert (len(mended.placed), mended.unplaced) == (1, ((0, 1),))
    assert [f.code for f in mended.findings] == ["layout-check"]
    assert check_layout(mended, PAIR, PLATE) == ()


@pytest.mark.parametrize("seed", range(6))
def test_grid_fill_agrees_with_areas(seed: int) -> None:
    (one,) = random_blanks(seed, 1)
    shape = polygon(one.cut)
    x0, y0, x1, y1 = shape.bounds
    grid = 2.0
    size = (math.ceil((x1 - x0) / grid) + 2, math.ceil((y1 - y0) / grid) + 2)
    bits = fill(shape, (x0 - grid, y0 - grid), grid, size)
    # points against area: off by no more than a point for every grid step of edge
    assert abs(bits.sum() * grid**2 - shape.area) < shape.length * grid / 4


@pytest.mark.parametrize("seed", range(4))
def test_places_are_those_a_plain_search_finds(seed: int) -> None:
    import numpy as np

    rng = np.random.default_rng(seed)
    free = rng.random((23, 17)) < 0.9
    shape = rng.random((4, 5)) < 0.6
    shape[0, 0] = True
    number = Field(free.copy()).places(stamp(shape))
    for i in range(23):
        for j in range(17):
            inside = i + 4 <= 23 and j + 5 <= 17
            wanted = inside and bool((free[i : i + 4, j : j + 5] | ~shape).all())
            assert bool(number >> (i * 17 + j) & 1) == wanted
    if number:
        assert number >> lowest(number) & 1
