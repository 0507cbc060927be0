"""Laws of the quick layout, on generated parts and plates and on cases with one right answer."""

from __future__ import annotations

import math
import pickle

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.planning.layout import lay_out
from lagline.planning.layout_check import check_layout
from lagline.records.geometry import Outline
from lagline.records.job import Plate, Stock
from lagline.records.plan import Blank, Layout
from lagline.shapes.region import polygon
from tests.generate import (
    STEEL,
    blank,
    circle,
    polygon_loop,
    random_blanks,
    random_job,
    random_plate,
    rectangle_blank,
    rectangle_plate,
    rounded,
)


def laid(blanks: tuple[Blank, ...], plates: tuple[Plate, ...], gap_mm: float = 3.0, seed: int = 1) -> Layout:
    """Lay out quickly; whatever the case, the layout holds."""
    layout = lay_out(blanks, plates, gap_mm, seed=seed)
    assert check_layout(layout, blanks, plates) == ()
    assert all(f.code != "layout-check" for f in layout.findings)
    return layout


def boxes(layout: Layout, blanks: tuple[Blank, ...]) -> list[tuple[float, float, float, float]]:
    return [polygon(p.move.outline(blanks[p.part].cut)).bounds for p in layout.placed]


@settings(deadline=None, max_examples=5)
@given(seed=st.integers(0, 10_000), gap=st.sampled_from((0.0, 0.005, 2.0, 9.0)), plates=st.integers(1, 2))
def test_nothing_overlaps_leaves_its_plate_or_is_lost(seed: int, gap: float, plates: int) -> None:
    blanks, on = random_job(seed, 4, plates)
    layout = laid(blanks, on, gap, seed)
    named = {f.where for f in layout.findings if f.code in ("layout-no-room", "layout-too-large")}
    assert named == {blanks[k].part.name for k, _ in layout.unplaced}


@pytest.mark.deep
@settings(deadline=None, max_examples=150)
@given(seed=st.integers(0, 1_000_000), gap=st.sampled_from((0.0, 0.005, 2.0, 9.0)), n=st.integers(1, 10))
def test_laws_hold_on_many_jobs(seed: int, gap: float, n: int) -> None:
    blanks, on = random_job(seed, n, 2)
    laid(blanks, on, gap, seed)


def test_same_seed_gives_the_same_bytes() -> None:
    blanks, on = random_job(11, 5, 2)
    first, second = (lay_out(blanks, on, 4.0, seed=7) for _ in range(2))
    assert pickle.dumps(first) == pickle.dumps(second)


@pytest.mark.parametrize("seed", range(3))
def test_a_blank_moved_on_its_drawing_is_laid_at_the_same_place(seed: int) -> None:
    # where the drawing's origin lies must not matter: both are the same rectangle to the bench
    w, h = 200.0 + seed, 90.0
    here = rectangle_blank("strap", w, h, 3)
    away = blank("strap", Outline(polygon_loop([(x + 3000, y - 700) for x, y in ((0, 0), (w, 0), (w, h), (0, h))])), 3)
    plate = (rectangle_plate("plate", 700, 500, margin_mm=5),)
    a, b = (boxes(laid((k,), plate), (k,)) for k in (here, away))
    assert a == [pytest.approx(q, abs=1e-6) for q in b]


def test_empty_job() -> None:
    layout = laid((), (rectangle_plate("plate", 500, 500),))
    assert (layout.placed, layout.unplaced, layout.findings) == ((), (), ())


def test_quantity_of_nought_needs_no_plate() -> None:
    layout = laid((rectangle_blank("strap", 100, 50, 0),), ())
    assert (layout.placed, layout.findings) == ((), ())


def test_one_part_lies_in_the_datum_corner() -> None:
    blanks = (rectangle_blank("strap", 300, 80),)
    (box,) = boxes(laid(blanks, (rectangle_plate("plate", 1000, 600, margin_mm=10),)), blanks)
    assert box[:2] == pytest.approx((10, 10), abs=1e-3)


@pytest.mark.parametrize("margin", [0.0, 12.7])
@pytest.mark.parametrize("turned", [False, True])
def test_part_exactly_the_size_of_the_usable_metal(margin: float, turned: bool) -> None:
    w, h = 731.3, 402.9
    blanks = (rectangle_blank("cover", *((h, w) if turned else (w, h))),)
    layout = laid(blanks, (rectangle_plate("plate", w + 2 * margin, h + 2 * margin, margin_mm=margin),))
    assert len(layout.placed) == 1


def test_round_part_exactly_the_height_of_the_plate() -> None:
    blanks = (blank("disc", Outline(circle((0, 0), 150, "rim"))), rectangle_blank("strap", 100, 40))
    assert len(laid(blanks, (rectangle_plate("plate", 500, 300),)).placed) == 2


@pytest.mark.parametrize(("w", "h"), [(1209.0, 200.0), (200.0, 1209.0)])
def test_a_row_that_just_fits_is_found(w: float, h: float) -> None:
    # 4 x 300 and three gaps of 3: the grid alone would lose the last one
    blanks = (rectangle_blank("cheek", 300, 200, 4),)
    assert len(laid(blanks, (rectangle_plate("plate", w, h),), 3.0).placed) == 4


def test_zero_gap_tiles_the_plate() -> None:
    blanks = (rectangle_blank("square", 100, 100, 12),)
    assert len(laid(blanks, (rectangle_plate("plate", 400, 300),), 0.0).placed) == 12


def test_a_hair_too_large_is_not_laid() -> None:
    blanks = (rectangle_blank("cover", 500.01, 300),)
    layout = laid(blanks, (rectangle_plate("plate", 500, 300),))
    assert layout.unplaced == ((0, 1),)
    assert [f.code for f in layout.findings] == ["layout-too-large"]
    assert "larger than every" in layout.findings[0].message
    assert '19-11/16" (500 mm) by 11-13/16" (300 mm)' in layout.findings[0].allowed  # 19.685 and 11.811 in, upwards


def test_what_would_do_names_a_turn() -> None:
    # 660 x 10 strap, only along the datum: longer than the plate, but at 30 degrees 577 by 339
    blanks = (rectangle_blank("strap", 660, 10, turns_deg=(0.0,)),)
    (finding,) = laid(blanks, (rectangle_plate("plate", 600, 400),)).findings
    assert "any angle" in finding.allowed
    free = (rectangle_blank("strap", 660, 10, turns_deg=()),)
    assert len(laid(free, (rectangle_plate("plate", 600, 400),)).placed) == 1


def test_no_room_left_is_counted_and_named() -> None:
    blanks = (rectangle_blank("cheek plate", 300, 300, 6),)
    layout = laid(blanks, (rectangle_plate("A", 700, 700, margin_mm=5),))
    assert (len(layout.placed), layout.unplaced) == (4, ((0, 2),))
    (finding,) = layout.findings
    assert finding.code == "layout-no-room"
    assert finding.message == "no room left on A for 2 of cheek plate"


def test_no_plate_of_that_metal() -> None:
    brass = Stock("stainless", "304", 6.0, "6 mm")
    blanks = (rectangle_blank("tab", 50, 50, 2, stock=brass), rectangle_blank("strap", 80, 50))
    layout = laid(blanks, (rectangle_plate("A", 500, 500),))
    assert layout.unplaced == ((0, 2),)
    (finding,) = layout.findings
    assert finding.code == "layout-no-plate"
    assert "6 mm stainless" in finding.message
    assert '3/8" steel' in finding.message


def test_offcuts_are_used_before_plates_and_small_ones_first() -> None:
    plates = (
        rectangle_plate("plate", 2000, 1000),
        rectangle_plate("large offcut", 500, 400, kind="offcut"),
        rectangle_plate("small offcut", 400, 300, kind="offcut"),
    )
    blanks = (rectangle_blank("cheek", 390, 290, 3),)
    layout = laid(blanks, plates)
    assert sorted(p.plate for p in layout.placed) == [0, 1, 2]
    assert [p.plate for p in layout.placed if p.copy == 1] == [2]


def test_windows_are_used() -> None:
    frame = Outline(polygon_loop([(0, 0), (400, 0), (400, 400), (0, 400)]), (rounded(300, 300, 10, "w", (50, 50)),))
    blanks = (blank("frame", frame), rectangle_blank("pad", 280, 280))
    layout = laid(blanks, (rectangle_plate("plate", 400, 400),), 5.0)
    assert len(layout.placed) == 2


def test_a_part_the_size_of_the_window_less_the_gap() -> None:
    hole = polygon_loop([(50, 50), (50, 350), (350, 350), (350, 50)], "w")
    frame = Outline(polygon_loop([(0, 0), (400, 0), (400, 400), (0, 400)]), (hole,))
    plate = (rectangle_plate("plate", 400, 400),)
    assert len(laid((blank("frame", frame), rectangle_blank("pad", 290, 290)), plate, 5.0).placed) == 2
    assert len(laid((blank("frame", frame), rectangle_blank("pad", 290.1, 290)), plate, 5.0).placed) == 1


def test_mirrored_only_where_it_may_be() -> None:
    # a lopsided gusset fits this offcut only when mirrored: the offcut is its mirror image
    shape = [(0.0, 0.0), (400.0, 0.0), (120.0, 300.0), (0.0, 300.0)]
    image = [(-x, y) for x, y in shape[::-1]]
    plate = Plate("offcut", "offcut", Outline(polygon_loop([(x + 400, y) for x, y in image])), STEEL, 0.0)
    outline = Outline(polygon_loop(shape))
    no = laid((blank("gusset", outline),), (plate,))
    yes = laid((blank("gusset", outline, may_mirror=True),), (plate,))
    assert (len(no.placed), len(yes.placed)) == (0, 1)
    assert yes.placed[0].move.mirror


def test_offcut_with_an_opening_where_a_part_nearly_fits() -> None:
    # 600 x 300 with an opening of 100 in the middle leaves 250 clear on each side
    ring = circle((300, 150), 50, "opening", hole=True)
    offcut = Plate(
        "offcut", "offcut", Outline(polygon_loop([(0, 0), (600, 0), (600, 300), (0, 300)]), (ring,)), STEEL, 0
    )
    both = laid((rectangle_blank("cheek", 250, 300, 2, turns_deg=(0.0,)),), (offcut,))
    none = laid((rectangle_blank("cheek", 250.2, 300, 2, turns_deg=(0.0,)),), (offcut,))
    assert (len(both.placed), len(none.placed)) == (2, 0)


def test_margin_is_kept_round_openings_too() -> None:
    ring = circle((300, 150), 50, "opening", hole=True)
    offcut = Plate(
        "offcut", "offcut", Outline(polygon_loop([(0, 0), (600, 0), (600, 300), (0, 300)]), (ring,)), STEEL, 8
    )
    blanks = (rectangle_blank("cheek", 234, 284, 2, turns_deg=(0.0,)),)
    assert len(laid(blanks, (offcut,)).placed) == 2
    large = (rectangle_blank("cheek", 234.2, 284, 2, turns_deg=(0.0,)),)
    assert len(laid(large, (offcut,)).placed) == 0


def test_l_shaped_offcut_takes_the_l() -> None:
    ell = polygon_loop([(0, 0), (600, 0), (600, 200), (200, 200), (200, 500), (0, 500)])
    offcut = Plate("offcut", "offcut", Outline(ell), STEEL, 0.0)
    turned = Outline(polygon_loop([(0, 0), (500, 0), (500, 200), (200, 200), (200, 600), (0, 600)]))
    assert len(laid((blank("same", Outline(ell)),), (offcut,)).placed) == 1
    assert len(laid((blank("other hand", turned),), (offcut,)).placed) == 0
    assert len(laid((rectangle_blank("pad", 200, 240, 3),), (offcut,), 0.0).placed) == 3


def test_plate_out_of_square() -> None:
    lean = polygon_loop([(0, 0), (800, 0), (840, 500), (40, 500)])
    plate = Plate("plate", "plate", Outline(lean), STEEL, 6.0, (math.hypot(840, 500), math.hypot(760, 500)))
    assert len(laid((rectangle_blank("cheek", 230, 230, 6),), (plate,)).placed) == 6


def test_many_small_parts() -> None:
    blanks = random_blanks(5, 12, low_mm=25, high_mm=60, most=8, kinds=("rectangle", "gusset", "ell", "cheek"))
    layout = laid(blanks, (rectangle_plate("plate", 900, 600, margin_mm=5),))
    assert layout.unplaced == ()
    # they lie together at the datum end: at least half of the length used is parts
    length = max(b[2] for b in boxes(layout, blanks))
    area = sum(b.area_mm2 * b.part.quantity for b in blanks)
    assert area > 0.5 * length * 600


def test_cancelled_leaves_the_rest_over_and_says_so() -> None:
    blanks = (rectangle_blank("strap", 100, 50, 9),)
    asked = iter([False] * 4 + [True] * 10_000)
    plates = (rectangle_plate("plate", 900, 600),)
    layout = lay_out(blanks, plates, 3.0, seed=1, cancelled=lambda: next(asked))
    assert 0 < len(layout.placed) < 9
    assert check_layout(layout, blanks, plates) == ()
    assert "layout-stopped" in [f.code for f in layout.findings]


def test_progress_rises_to_one() -> None:
    shares: list[float] = []
    lay_out(random_blanks(2, 4), (random_plate(3),), 3.0, seed=1, progress=lambda share, text: shares.append(share))
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


@pytest.mark.parametrize("gap", [-1.0, math.nan, math.inf])
def test_a_gap_that_is_none_is_a_bug(gap: float) -> None:
    with pytest.raises(ValueError, match="gap"):
        lay_out((), (), gap, seed=1)


def test_an_unknown_method_is_a_bug() -> None:
    with pytest.raises(ValueError, match="method"):
        lay_out((), (), 1.0, seed=1, method="best")
