"""Laws of the guided layout: bands and grids on lines, neighbours a kerf apart where one cut may serve both."""

from __future__ import annotations

import pickle
import random

import pytest

from lagline.planning.layout import lay_out
from lagline.planning.layout_check import check_layout
from lagline.planning.layout_lines import straight_lines
from lagline.records.job import EdgeUse, Plate
from lagline.records.plan import Blank, Layout
from tests.generate import STEEL, rectangle_blank, rectangle_plate

KERF, GAP = 1.6, 6.0


def rectangles(seed: int, kinds: int, most: int = 8) -> tuple[Blank, ...]:
    """Rectangles on a half-inch grid of sizes, as a shop draws them."""
    rng = random.Random(seed)
    sizes = [[12.7 * rng.randint(6, 32) for _ in range(2)] for _ in range(kinds)]
    return tuple(rectangle_blank(f"pad {i}", w, h, rng.randint(1, most)) for i, (w, h) in enumerate(sizes))


def guided(blanks: tuple[Blank, ...], plates: tuple[Plate, ...], gap: float = GAP, kerf: float = KERF) -> Layout:
    """Lay out in bands; whatever the case, the layout holds."""
    layout = lay_out(blanks, plates, gap, seed=1, method="guided", kerfs_mm={STEEL.key: kerf} if kerf else {})
    assert check_layout(layout, blanks, plates) == ()
    assert all(f.code != "layout-check" for f in layout.findings)
    return layout


def lines(layout: Layout, blanks: tuple[Blank, ...], plates: tuple[Plate, ...], kerf: float = KERF) -> int:
    moves = [[(p.part, p.move) for p in layout.placed if p.plate == i] for i in range(len(plates))]
    return sum(straight_lines(m, blanks, plate, kerf) for m, plate in zip(moves, plates, strict=True))


def test_a_grid_of_squares_takes_the_fewest_lines() -> None:
    # 12 = 4 x 3: 5 lines one way, 4 the other, 3 x 3 + 4 x 2 = 17 kerfs shared
    blanks = (rectangle_blank("pad", 100, 100, 12),)
    plate = (rectangle_plate("plate", 2400, 1200, margin_mm=10),)
    layout = guided(blanks, plate)
    assert (lines(layout, blanks, plate), len(layout.shared), layout.kerf_mm) == (9, 17, KERF)


def test_no_kerf_known_or_no_edge_that_may_be_worse_keeps_the_gap() -> None:
    plate = (rectangle_plate("plate", 2400, 1200, margin_mm=10),)
    for blanks, kerf in (
        ((rectangle_blank("pad", 100, 100, 12),), 0.0),
        ((rectangle_blank("pad", 100, 100, 12, use=EdgeUse.FIT),), KERF),
    ):
        layout = guided(blanks, plate, kerf=kerf)
        assert layout.shared == ()
        assert lines(layout, blanks, plate, kerf) <= 14  # 4 x 3 with both sides of each: 8 + 6


@pytest.mark.parametrize("seed", range(4))
def test_fewer_lines_than_the_quick_layout(seed: int) -> None:
    blanks, plate = rectangles(seed, 6), (rectangle_plate("plate", 2400, 1200, margin_mm=10),)
    quick = lay_out(blanks, plate, GAP, seed=1)
    layout = guided(blanks, plate)
    assert len(layout.placed) >= len(quick.placed)
    assert lines(layout, blanks, plate) < lines(quick, blanks, plate) / 2


def test_same_seed_gives_the_same_bytes() -> None:
    blanks, plate = rectangles(7, 6), (rectangle_plate("plate", 2400, 1200, margin_mm=10),)
    assert pickle.dumps(guided(blanks, plate)) == pickle.dumps(guided(blanks, plate))
