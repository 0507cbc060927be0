"""Metal of any outline as a strip: the frame's laws, and the dense layout on plates that are no plain rectangles."""

from __future__ import annotations

import math
from collections import Counter

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon, box

from lagline.planning import dense_press
from lagline.planning.dense_frame import BRIDGE_MM, SLIT_MM, area_up_to, container, cut_to, frame, with_fewer_points
from lagline.planning.dense_task import ASIDE_MM, FRAME, around, frame_task, laid_down, proposals, solver_shape
from lagline.planning.layout import lay_out
from lagline.planning.layout_check import check_layout
from lagline.planning.layout_fill import Filling
from lagline.planning.layout_shapes import lies
from lagline.records.geometry import Outline
from lagline.records.job import Plate
from lagline.shapes.region import polygon
from tests.generate import STEEL, circle, polygon_loop, random_blanks, random_plate

GAP = 4.0
HOLED = Plate(
    "holed",
    "offcut",
    Outline(
        polygon_loop([(0, 0), (1200, 0), (1200, 700), (0, 700)]),
        (circle((350, 300), 90, "o1", hole=True), circle((820, 430), 120, "o2", hole=True)),
    ),
    STEEL,
    8.0,
)
ELL = Plate(
    "ell",
    "offcut",
    Outline(polygon_loop([(0, 0), (1100, 0), (1100, 400), (500, 400), (500, 800), (0, 800)])),
    STEEL,
    5.0,
)
# a rectangle whose four corners are no corners, standing on end, with an opening
TALL = Plate(
    "tall",
    "offcut",
    Outline(
        polygon_loop([(60, 0), (560, 0), (600, 80), (540, 1150), (480, 1200), (40, 1190), (0, 1100), (0, 90)]),
        (circle((250, 400), 80, "o1", hole=True),),
    ),
    STEEL,
    0.0,
)


def wide(plate: Plate, gap: float = GAP) -> tuple[Filling, shapely.geometry.base.BaseGeometry]:
    filling = Filling(0, plate, gap, {})
    return filling, laid_down(container(filling.usable(), gap, around(gap) - gap / 2), filling)


@settings(deadline=None, max_examples=25)
@given(seed=st.integers(0, 10_000), inset=st.sampled_from((0.0, 12.0, 60.0)))
def test_a_frame_is_one_simple_polygon_and_all_that_is_not_open(seed: int, inset: float) -> None:
    opening = polygon(random_plate(seed).outline).buffer(-inset)  # may fall in two
    opening = shapely.union_all([p for p in shapely.get_parts(opening) if p.area > 100])
    one = frame(opening, 8.0)
    assert one is not None
    assert one.is_valid
    assert not one.interiors
    x0, y0, x1, y1 = opening.bounds
    assert one.bounds == pytest.approx((x0 - 8, y0 - 8, x1 + 8, y1 + 8))
    # it covers what is not open, but for slits; it reaches into what is open only with bridges
    joins = len(shapely.get_parts(opening)) + sum(len(p.interiors) for p in shapely.get_parts(opening))
    across = math.hypot(x1 - x0, y1 - y0)
    rest = box(*one.bounds).difference(opening)
    assert rest.difference(one).area <= 2 * SLIT_MM * joins * across
    assert one.intersection(opening).area <= 2 * BRIDGE_MM * joins * across
    # no part gets out: what is open stays in pieces no wider than a slit
    assert box(*one.bounds).difference(one.buffer(SLIT_MM)).difference(opening.buffer(1e-6)).area < 1e-3


def test_the_block_behind_an_opening_is_part_of_the_frame() -> None:
    one = frame(box(0, 0, 400, 300), 5.0, behind=2.5)
    assert one is not None
    assert one.bounds == pytest.approx((-5, -5, 405 + 1000, 305))
    assert one.contains(box(406, -4, 1404, 304))


@settings(deadline=None, max_examples=25)
@given(seed=st.integers(0, 10_000), gap=st.sampled_from((0.0, 3.0, 14.0)))
def test_what_stays_in_the_container_keeps_its_part_on_free_metal(seed: int, gap: float) -> None:
    plate = random_plate(seed)
    free = polygon(plate.outline).buffer(-plate.margin_mm)
    within = container(free, gap, ASIDE_MM)
    assert within.area >= free.area
    # a disc with half the gap round it that stays inside the container has its own edge on free metal
    mids = within.buffer(-30 - gap / 2 - ASIDE_MM, quad_segs=64)
    parts = mids.buffer(30, quad_segs=64)
    assert free.buffer(0.15).covers(parts)


@settings(deadline=None, max_examples=25)
@given(seed=st.integers(0, 10_000), share=st.floats(0.1, 1.0))
def test_cut_to_holds_the_area_asked_for(seed: int, share: float) -> None:
    free = polygon(random_plate(seed).outline)
    some = cut_to(free, share * free.area)
    assert some.area == pytest.approx(share * free.area, rel=1e-6)
    assert area_up_to(free, some.bounds[2]) == pytest.approx(some.area, rel=1e-9)
    assert free.buffer(1e-6).covers(some)


def test_fewer_points_only_ever_take_metal_away() -> None:
    ring = Point(0, 0).buffer(200, quad_segs=200).difference(Point(20, 10).buffer(60, quad_segs=200))
    few = with_fewer_points(ring)
    assert shapely.get_num_coordinates(few) < 0.3 * shapely.get_num_coordinates(ring)
    assert ring.buffer(1e-3).covers(few)
    assert few.area > 0.98 * ring.area


@settings(deadline=None, max_examples=20)
@given(seed=st.integers(0, 10_000), gap=st.sampled_from((0.0, 5.0)))
def test_the_solver_gets_parts_no_smaller_than_they_are(seed: int, gap: float) -> None:
    (one,) = random_blanks(seed, 1)
    lie = lies(0, one)[0]
    shape = solver_shape(lie, gap)
    assert shape.is_valid
    assert len(shape.exterior.coords) <= 160
    assert shape.buffer(1e-3).covers(Polygon(lie.shape.exterior).buffer(gap / 2, quad_segs=6))


@pytest.mark.parametrize("plate", [ELL, TALL], ids=lambda p: p.name)
def test_every_part_comes_to_lie_inside_the_opening(plate: Plate) -> None:
    blanks = random_blanks(4, 9, low_mm=100, high_mm=260, kinds=("gusset", "ell", "cheek", "disc"))
    filling, opening = wide(plate)
    ways = {k: lies(k, b) for k, b in enumerate(blanks)}
    copies = [k for k, b in enumerate(blanks) for _ in range(b.part.quantity)]
    assert 0.15 < sum(blanks[k].area_mm2 for k in copies) / opening.area < 0.6
    task = frame_task(ways, copies, filling, with_fewer_points(opening), GAP, 5, 1)
    assert task is not None
    rows, trouble = dense_press.press(task, lambda share: None, lambda: False)
    assert trouble == ""
    assert {r[0] for r in rows} == {FRAME, *copies}
    for spot in proposals(rows, ways, filling, Counter(copies), task):
        assert filling.clear(spot.lie, spot.x, spot.y)
        filling.put(spot)
    assert Counter(s.lie.part for s in filling.spots) == Counter(copies)


@pytest.mark.parametrize("plate", [HOLED, TALL], ids=lambda p: p.name)
def test_dense_holds_on_metal_of_any_outline_and_is_never_worse(plate: Plate) -> None:
    blanks = random_blanks(8, 12, low_mm=80, high_mm=260, kinds=("gusset", "ell", "cheek"), most=2)
    quick = lay_out(blanks, (plate,), GAP, seed=1)
    dense = lay_out(blanks, (plate,), GAP, seed=1, method="dense", seconds=1)
    assert check_layout(dense, blanks, (plate,)) == ()
    assert [f.code for f in dense.findings if f.code in ("layout-dense", "layout-check")] == []
    left = [sum(blanks[k].area_mm2 * n for k, n in one.unplaced) for one in (quick, dense)]
    axis = 0 if plate is not TALL else 1
    ends = [
        max(polygon(p.move.outline(blanks[p.part].cut)).bounds[2 + axis] for p in one.placed) for one in (quick, dense)
    ]
    assert (round(left[1], 3), ends[1]) <= (round(left[0], 3), ends[0] + 1e-3)


@pytest.mark.deep
def test_pressing_finds_room_that_the_quick_way_does_not() -> None:
    metal, blanks = polygon(ELL.outline).buffer(-ELL.margin_mm).area, []
    for b in random_blanks(3, 60, low_mm=60, high_mm=200, kinds=("gusset", "ell", "cheek", "rectangle")):
        if sum(k.area_mm2 * k.part.quantity for k in [*blanks, b]) < 0.85 * metal:
            blanks.append(b)
    quick = lay_out(tuple(blanks), (ELL,), GAP, seed=1)
    dense = lay_out(tuple(blanks), (ELL,), GAP, seed=1, method="dense", seconds=30)
    assert check_layout(dense, tuple(blanks), (ELL,)) == ()
    left = [sum(blanks[k].area_mm2 * n for k, n in one.unplaced) for one in (quick, dense)]
    assert left[1] < left[0]
