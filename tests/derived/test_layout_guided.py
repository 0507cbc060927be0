"""Laws of the guided layout: bands and grids on lines, neighbours a kerf apart where one cut may serve both."""

from __future__ import annotations

import itertools
import math
import pickle
import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.planning.layout import lay_out
from lagline.planning.layout_check import check_layout
from lagline.planning.layout_lines import straight_lines
from lagline.records.geometry import Line, Move, Outline
from lagline.records.job import Edge, EdgeUse, Plate, Stock
from lagline.records.plan import Blank, Layout
from lagline.shapes.region import polygon
from tests.generate import (
    SHAPES,
    STEEL,
    blank,
    circle,
    polygon_loop,
    random_blanks,
    random_plate,
    rectangle_blank,
    rectangle_plate,
    rounded,
)

KERF, GAP = 1.6, 6.0
PLATE = (rectangle_plate("plate", 2400, 1200, margin_mm=10),)


def rectangles(seed: int, kinds: int, most: int = 8) -> tuple[Blank, ...]:
    """Rectangles on a half-inch grid of sizes, as a shop draws them."""
    rng = random.Random(seed)
    sizes = [[12.7 * rng.randint(6, 32) for _ in range(2)] for _ in range(kinds)]
    return tuple(rectangle_blank(f"pad {i}", w, h, rng.randint(1, most)) for i, (w, h) in enumerate(sizes))


def guided(
    blanks: tuple[Blank, ...], plates: tuple[Plate, ...] = PLATE, gap: float = GAP, kerf: float = KERF
) -> Layout:
    """Lay out in bands; whatever the case, the layout holds."""
    layout = lay_out(blanks, plates, gap, seed=1, method="guided", kerfs_mm={STEEL.key: kerf} if kerf else {})
    assert check_layout(layout, blanks, plates) == ()
    assert all(f.code != "layout-check" for f in layout.findings)
    return layout


def lines(layout: Layout, blanks: tuple[Blank, ...], plates: tuple[Plate, ...] = PLATE, kerf: float = KERF) -> int:
    moves = [[(p.part, p.move) for p in layout.placed if p.plate == i] for i in range(len(plates))]
    return sum(straight_lines(m, blanks, plate, kerf) for m, plate in zip(moves, plates, strict=True))


def varied(seed: int, n: int) -> tuple[Blank, ...]:
    """Parts of all shapes whose edges are used differently, some with a tolerance, some to be bevelled."""
    rng = random.Random(f"varied {seed}")
    out = []
    for b in random_blanks(
        seed, n, low_mm=rng.choice((30, 100)), high_mm=rng.choice((150, 400)), most=rng.choice((2, 6))
    ):
        uses = [rng.choice((EdgeUse.FREE, EdgeUse.FREE, EdgeUse.WELD, EdgeUse.FIT)) for _ in b.part.edges]
        bevels = [30.0 if rng.random() < 0.05 else 0.0 for _ in b.part.edges]
        edges = tuple(Edge(e.name, u, a) for e, u, a in zip(b.part.edges, uses, bevels, strict=True))
        out.append(replace(b, part=replace(b.part, edges=edges, tolerance_mm=rng.choice((0.0, 0.0, 1.0)))))
    return tuple(out)


def offs(layout: Layout, blanks: tuple[Blank, ...]) -> list[list[float]]:
    """Where edges along the axes have the middles of their kerfs, across x and across y."""
    out: list[list[float]] = [[], []]
    for p in layout.placed:
        for s in p.move.outline(blanks[p.part].cut).outer.segments:
            if isinstance(s, Line) and s.length >= 25:
                for axis in (0, 1):
                    if abs(s.end[axis] - s.start[axis]) < 1e-6:
                        up = s.end[1 - axis] > s.start[1 - axis]  # the part on the left of travel
                        away = KERF / 2 if up == (axis == 0) else -KERF / 2
                        out[axis].append(s.start[axis] + away)
    return [sorted(v) for v in out]


@settings(deadline=None, max_examples=8)
@given(seed=st.integers(0, 10_000), gap=st.sampled_from((0.0, 2.0, 9.0, 20.0)), kerf=st.sampled_from((0.0, 1.6, 2.5)))
def test_nothing_overlaps_leaves_its_plate_or_is_lost(seed: int, gap: float, kerf: float) -> None:
    guided(varied(seed, 5), (random_plate(seed), random_plate(seed + 1)), gap, kerf)


@pytest.mark.deep
@settings(deadline=None, max_examples=200)
@given(seed=st.integers(0, 10**6), gap=st.sampled_from((0.0, 2.0, 9.0, 20.0)), kerf=st.sampled_from((0.0, 1.6, 2.5)))
def test_laws_hold_on_many_jobs(seed: int, gap: float, kerf: float) -> None:
    guided(varied(seed, 7), (random_plate(seed), random_plate(seed + 1)), gap, kerf)


def test_a_grid_of_squares_takes_the_fewest_lines() -> None:
    # 12 = 4 x 3: 5 lines one way, 4 the other; 3 x 3 + 4 x 2 = 17 kerfs shared
    blanks = (rectangle_blank("pad", 100, 100, 12),)
    layout = guided(blanks)
    assert (lines(layout, blanks), len(layout.shared), layout.kerf_mm) == (9, 17, KERF)


def test_an_odd_number_takes_one_line_more() -> None:
    # 7 = 3 x 2 and one on its lines: 4 + 3, and one more for the last one's far side
    blanks = (rectangle_blank("pad", 100, 100, 7),)
    assert lines(guided(blanks), blanks) == 8


@pytest.mark.parametrize(
    "other",
    [
        {"use": EdgeUse.FIT},
        {"kerf": 0.0},
    ],
)
def test_no_kerf_or_no_edge_that_may_be_worse_keeps_the_gap(other: dict[str, object]) -> None:
    blanks = (rectangle_blank("pad", 100, 100, 12, use=other.get("use", EdgeUse.FREE)),)
    kerf = float(other.get("kerf", KERF))  # type: ignore[arg-type]
    layout = guided(blanks, kerf=kerf)
    assert layout.shared == ()
    assert lines(layout, blanks, kerf=kerf) == 14  # 4 x 3 with both sides of each: 8 + 6


def test_a_good_edge_shares_with_one_that_may_be_worse_and_not_with_another() -> None:
    # every kerf has a good side and a worse one: fit edges share with free ones only
    blanks = (rectangle_blank("rail", 300, 100, 2, use=EdgeUse.FIT), rectangle_blank("pad", 300, 100, 2))
    layout = guided(blanks)
    pairs = {tuple(sorted(blanks[layout.placed[k].part].part.name for k in p)) for p in layout.shared}
    assert pairs <= {("pad", "rail"), ("pad", "pad")}
    assert ("pad", "rail") in pairs


def test_bevelled_edges_are_never_shared() -> None:
    one = rectangle_blank("pad", 200, 100, 6)
    edges = tuple(Edge(e.name, EdgeUse.WELD, 30.0 if e.name in ("e1", "e3") else 0.0) for e in one.part.edges)
    blanks = (replace(one, part=replace(one.part, edges=edges)),)
    layout = guided(blanks)
    assert layout.shared
    for a, b in layout.shared:  # side by side, never one above the other
        boxes = [polygon(layout.placed[k].move.outline(blanks[0].cut)).bounds for k in (a, b)]
        flat = boxes[0][2] - boxes[0][0] > 150
        assert boxes[0][1 if flat else 0] == pytest.approx(boxes[1][1 if flat else 0], abs=1e-6)


def test_who_may_take_the_worse_side_is_asked() -> None:
    blanks = (rectangle_blank("pad", 100, 100, 6),)
    asked: set[tuple[int, str]] = set()

    def no(part: int, edge: str) -> bool:
        asked.add((part, edge))
        return False

    layout = lay_out(blanks, PLATE, GAP, seed=1, method="guided", kerfs_mm={STEEL.key: KERF}, bad_side=no)
    assert layout.shared == ()
    assert asked == {(0, f"e{n}") for n in range(1, 5)}


@pytest.mark.parametrize("seed", range(4))
def test_fewer_lines_than_the_quick_layout(seed: int) -> None:
    blanks = rectangles(seed, 6)
    quick = lay_out(blanks, PLATE, GAP, seed=1)
    layout = guided(blanks)
    assert len(layout.placed) >= len(quick.placed)
    assert lines(layout, blanks) < lines(quick, blanks) / 2


@pytest.mark.parametrize("seed", range(3))
def test_edges_on_one_line_are_so_exactly(seed: int) -> None:
    blanks = rectangles(seed, 5)
    for across in offs(guided(blanks), blanks):
        steps = [b - a for a, b in itertools.pairwise(across)]
        assert all(s < 1e-6 or s > 0.01 for s in steps)
        assert any(s < 1e-6 for s in steps)


def test_same_seed_gives_the_same_bytes() -> None:
    blanks = (*rectangles(7, 4), *random_blanks(7, 4))
    assert pickle.dumps(guided(blanks)) == pickle.dumps(guided(blanks))


def test_right_triangles_lie_in_pairs_along_their_slant() -> None:
    # 4 pairs in 2 x 2: 3 + 3 lines and 4 slants; every slant shared
    blanks = (blank("gusset", Outline(polygon_loop([(0, 0), (240, 0), (0, 180)])), 8),)
    layout = guided(blanks)
    assert lines(layout, blanks) == 10
    slants = 0
    for a, b in layout.shared:
        turns = [layout.placed[k].move.turn for k in (a, b)]
        slants += abs(abs(turns[0] - turns[1]) - math.pi) < 1e-9 and a % 4 != b
    assert slants >= 4


def test_angles_lie_into_each_other() -> None:
    # legs of 60: one against the other's back, 300 + 60 + a kerf long
    ell = Outline(polygon_loop([(0, 0), (300, 0), (300, 60), (60, 60), (60, 300), (0, 300)]))
    blanks = (blank("angle", ell, 2),)
    layout = guided(blanks, (rectangle_plate("plate", 360 + KERF + 10, 310, margin_mm=5),))
    assert layout.unplaced == ()
    assert layout.shared == ((0, 1),)


def test_parts_turned_at_will_lie_along_the_axes() -> None:
    # the drawing is askew; its square corner comes to lie along the plate
    askew = Outline(
        polygon_loop([(math.cos(a) * r, math.sin(a) * r) for a, r in ((0.2, 0.001), (0.37, 300), (1.94, 200))])
    )
    blanks = (blank("knee", askew, 6, turns_deg=()),)
    layout = guided(blanks)
    square = [s for p in layout.placed for s in p.move.outline(askew).outer.segments
              if min(abs(s.end[0] - s.start[0]), abs(s.end[1] - s.start[1])) < 1e-6]  # fmt: skip
    assert len(square) >= 6


def test_round_parts_fill_windows_and_offcuts_first() -> None:
    frame = Outline(polygon_loop([(0, 0), (400, 0), (400, 400), (0, 400)]), (rounded(300, 300, 10, "w", (50, 50)),))
    blanks = (
        blank("frame", frame),
        blank("disc", Outline(circle((0, 0), 120, "rim"))),
        blank("cap", Outline(circle((0, 0), 70, "rim"))),
    )
    plates = (*PLATE, rectangle_plate("offcut", 160, 160, margin_mm=5, kind="offcut"))
    layout = guided(blanks, plates)
    where = {blanks[p.part].part.name: p for p in layout.placed}
    assert where["cap"].plate == 1
    window = polygon(where["frame"].move.outline(frame)).interiors[0].bounds
    disc = polygon(where["disc"].move.outline(blanks[1].cut)).bounds
    assert window[0] < disc[0]
    assert disc[2] < window[2]


def test_mixed_with_round_parts_few_lines_and_nothing_left() -> None:
    blanks = (
        rectangle_blank("cheek", 400, 300, 4),
        rectangle_blank("strap", 900, 60, 5),
        blank("gusset", Outline(polygon_loop([(0, 0), (250, 0), (0, 180)])), 8),
        blank("flange", SHAPES["ring"](random.Random(1), 220), 3),
        blank("pad", SHAPES["blob"](random.Random(2), 160), 5),
    )
    layout = guided(blanks)
    assert layout.unplaced == ()
    assert lines(layout, blanks) < lines(lay_out(blanks, PLATE, GAP, seed=1), blanks) / 2


# -- edge cases -----------------------------------------------------------------------------------------------


def test_empty_job() -> None:
    layout = guided(())
    assert (layout.placed, layout.unplaced, layout.findings) == ((), (), ())


def test_one_part_lies_in_the_datum_corner() -> None:
    blanks = (rectangle_blank("strap", 300, 80),)
    layout = guided(blanks)
    assert polygon(layout.placed[0].move.outline(blanks[0].cut)).bounds[:2] == pytest.approx((10, 10), abs=1e-6)


@pytest.mark.parametrize("margin", [0.0, 12.7])
def test_part_exactly_the_size_of_the_usable_metal(margin: float) -> None:
    w, h = 731.3, 402.9
    plate = (rectangle_plate("plate", w + 2 * margin, h + 2 * margin, margin_mm=margin),)
    assert len(guided((rectangle_blank("cover", h, w),), plate).placed) == 1


def test_larger_than_any_plate_is_named() -> None:
    layout = guided((rectangle_blank("cover", 2500.0, 300),))
    assert layout.unplaced == ((0, 1),)
    assert [f.code for f in layout.findings] == ["layout-too-large"]


def test_no_plate_of_that_metal() -> None:
    blanks = (rectangle_blank("tab", 50, 50, 2, stock=Stock("stainless", "304", 6.0, "6 mm")),)
    assert [f.code for f in guided(blanks).findings] == ["layout-no-plate"]


def test_five_hundred_small_parts() -> None:
    blanks = tuple(rectangle_blank(f"tab {n}", 30 + n % 7 * 5, 30 + n % 5 * 6, 12 + n % 3) for n in range(39))
    layout = guided(blanks)
    assert sum(b.part.quantity for b in blanks) == len(layout.placed) == 507
    assert lines(layout, blanks) < 120  # four sides each are 2028 edges


def test_offcut_with_an_opening_where_a_part_nearly_fits() -> None:
    ring = circle((300, 150), 50, "opening", hole=True)
    outer = polygon_loop([(0, 0), (600, 0), (600, 300), (0, 300)])
    offcut = (Plate("offcut", "offcut", Outline(outer, (ring,)), STEEL, 0),)
    for width, count in ((250.0, 2), (250.2, 0)):
        blanks = (rectangle_blank("cheek", width, 300, 2, turns_deg=(0.0,)),)
        assert len(guided(blanks, offcut).placed) == count


def test_zero_gap_lays_cuts_that_may_be_one_a_kerf_apart_and_others_touching() -> None:
    blanks = (rectangle_blank("pad", 100, 100, 4, use=EdgeUse.FIT), rectangle_blank("strap", 100, 50, 4))
    layout = guided(blanks, gap=0.0)
    apart = [
        (
            polygon(a.move.outline(blanks[a.part].cut)).distance(polygon(b.move.outline(blanks[b.part].cut))),
            a.part + b.part,
        )
        for a, b in itertools.combinations(layout.placed, 2)
    ]
    assert any(d < 1e-6 for d, both in apart if both == 0)
    assert any(abs(d - KERF) < 1e-6 for d, both in apart if both > 0)


def test_plate_out_of_square() -> None:
    lean = polygon_loop([(0, 0), (800, 0), (840, 500), (40, 500)])
    plate = (Plate("plate", "plate", Outline(lean), STEEL, 6.0, (math.hypot(840, 500), math.hypot(760, 500))),)
    blanks = (rectangle_blank("cheek", 230, 230, 6),)
    layout = guided(blanks, plate)
    assert len(layout.placed) == 6
    assert lines(layout, blanks, plate) == 7  # a grid of 3 x 2 inside the lean


@pytest.mark.parametrize("seed", [2, 11, 17, 40])
def test_never_more_left_over_than_the_quick_way_leaves(seed: int) -> None:
    blanks = random_blanks(seed, 4, low_mm=100, high_mm=330, most=4)
    plate = (rectangle_plate("plate", 700, 600, margin_mm=5),)
    area = [
        sum(blanks[k].area_mm2 * n for k, n in layout.unplaced)
        for layout in (guided(blanks, plate, gap=5.0), lay_out(blanks, plate, 5.0, seed=1))
    ]
    assert area[0] <= area[1] + 1e-6


def test_more_than_bands_have_room_for_goes_the_quick_way_and_says_so() -> None:
    blanks = random_blanks(2, 4, low_mm=100, high_mm=330, most=4)
    layout = guided(blanks, (rectangle_plate("plate", 700, 600, margin_mm=5),), gap=5.0)
    (finding,) = [f for f in layout.findings if f.code == "layout-guided"]
    assert "no room for 2 of disc 2" in finding.message


def test_a_line_counts_once_for_each_reach_of_the_straightedge() -> None:
    # four pads in a row along the datum edge: bottoms, tops, and eight ends of their own
    blanks = (rectangle_blank("pad", 200, 100, 4),)
    moves = [(0, Move(x, 10)) for x in (10.0, 400.0, 1200.0, 2000.0)]
    for reach, times in ((math.inf, 1), (2200.0, 1), (1400.0, 2), (600.0, 3), (150.0, 4), (0.0, 4)):
        assert straight_lines(moves, blanks, PLATE[0], KERF, reach) == 2 * times + 8


def test_stopped_keeps_what_lies_so_far() -> None:
    asked = iter([False] * 6 + [True] * 10_000)
    blanks = (rectangle_blank("strap", 100, 50, 9), rectangle_blank("pad", 80, 90, 9))
    layout = lay_out(blanks, PLATE, GAP, seed=1, method="guided", cancelled=lambda: next(asked))
    assert check_layout(layout, blanks, PLATE) == ()
    assert "layout-stopped" in [f.code for f in layout.findings]


def test_only_one_kerf_is_shared_that_of_the_metal_with_most_parts() -> None:
    thin = Stock("steel", "plain", 6.0, "6 mm")
    blanks = (rectangle_blank("pad", 100, 100, 12), rectangle_blank("tab", 100, 100, 4, stock=thin))
    plates = (*PLATE, replace(PLATE[0], name="thin", stock=thin))
    layout = lay_out(blanks, plates, GAP, seed=1, method="guided", kerfs_mm={STEEL.key: KERF, thin.key: 1.1})
    assert check_layout(layout, blanks, plates) == ()
    assert layout.kerf_mm == KERF
    assert {layout.placed[k].part for p in layout.shared for k in p} == {0}
