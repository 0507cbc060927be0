"""Factory edges: a part's straight side may be the plate's own, where plate and edge allow it, and nowhere else."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from lagline.planning.layout import lay_out
from lagline.planning.layout_check import check_layout
from lagline.planning.layout_lines import straight_lines
from lagline.records.geometry import Move, Outline
from lagline.records.job import EdgeUse, Plate
from lagline.records.plan import Blank, Layout, Placed
from lagline.shapes.region import polygon
from tests.generate import STEEL, blank, polygon_loop, rectangle_blank, rectangle_plate, rounded

ALL = ("left", "bottom", "right", "top")
PLATE = replace(rectangle_plate("A", 900, 600, margin_mm=10), factory_edges=ALL)


def guided(blanks: tuple[Blank, ...], plate: Plate = PLATE) -> Layout:
    layout = lay_out(blanks, (plate,), 6.0, seed=1, method="guided", kerfs_mm={STEEL.key: 1.6})
    assert check_layout(layout, blanks, (plate,)) == ()
    assert all(f.code != "layout-check" for f in layout.findings)
    return layout


def near(layout: Layout, blanks: tuple[Blank, ...], plate: Plate = PLATE) -> list[set[str]]:
    """On which sides of the plate each copy lies."""
    out = []
    b = plate.outline.bounds()
    for p in layout.placed:
        box = polygon(p.move.outline(blanks[p.part].cut)).bounds
        out.append({name for k, name in enumerate(ALL) if abs(box[k] - b[k]) < 1e-6})
    return out


def test_a_part_the_size_of_the_plate_needs_no_cut() -> None:
    blanks = (rectangle_blank("cover", 900, 600),)
    layout = guided(blanks)
    assert near(layout, blanks) == [set(ALL)]
    assert straight_lines([(0, layout.placed[0].move)], blanks, PLATE, 1.6) == 0
    assert guided(blanks, replace(PLATE, factory_edges=("left", "bottom", "top"))).unplaced == ((0, 1),)


def test_the_corner_saves_two_lines() -> None:
    blanks = (rectangle_blank("pad", 200, 150),)
    layout = guided(blanks)
    (sides,) = near(layout, blanks)
    assert len(sides) == 2
    assert straight_lines([(0, layout.placed[0].move)], blanks, PLATE, 1.6) == 2


@pytest.mark.parametrize("side", ALL)
def test_only_the_sides_named(side: str) -> None:
    blanks = (rectangle_blank("pad", 200, 150, 6),)
    plate = replace(PLATE, factory_edges=(side,))
    lying = near(guided(blanks, plate), blanks, plate)
    assert {s for sides in lying for s in sides} == {side}


@pytest.mark.parametrize(
    "part",
    [
        rectangle_blank("pad", 200, 150, 6, use=EdgeUse.FIT),
        rectangle_blank("pad", 200, 150, 6, use=EdgeUse.MACHINED),
        blank("round", Outline(rounded(200, 150, 60)), 6),  # 80 of 200 and 30 of 150 straight
    ],
)
def test_edges_to_be_good_and_short_ones_keep_the_margin(part: Blank) -> None:
    assert not any(near(guided((part,)), (part,)))


def test_a_bevelled_edge_keeps_the_margin() -> None:
    one = rectangle_blank("pad", 200, 150, 4)
    bevelled = replace(one, part=replace(one.part, edges=tuple(replace(e, bevel_deg=30.0) for e in one.part.edges)))
    assert not any(near(guided((bevelled,)), (bevelled,)))


def test_a_plate_out_of_square_has_no_edge_to_lend_and_says_so() -> None:
    blanks = (rectangle_blank("pad", 200, 150, 6),)
    lean = Outline(polygon_loop([(0, 0), (900, 0), (912, 600), (12, 600)]))
    taped = replace(PLATE, outline=lean, diagonals_mm=(math.hypot(912, 600), math.hypot(888, 600)))
    layout = guided(blanks, taped)
    assert not any(near(layout, blanks, taped))
    (finding,) = layout.findings
    assert (finding.code, finding.where) == ("layout-factory-edge", "A")
    assert "out of square" in finding.message
    # leaning sides are no use; those along the datum edges are, where no diagonals say otherwise
    untaped = guided(blanks, replace(taped, diagonals_mm=(0.0, 0.0)))
    assert {s for sides in near(untaped, blanks, taped) for s in sides} <= {"bottom", "top"}


def test_diagonals_within_a_sixteenth_are_square() -> None:
    blanks = (rectangle_blank("pad", 200, 150, 6),)
    d = math.hypot(900, 600)
    assert any(near(guided(blanks, replace(PLATE, diagonals_mm=(d, d + 1.5))), blanks))
    assert not any(near(guided(blanks, replace(PLATE, diagonals_mm=(d, d + 1.7))), blanks))


@pytest.mark.parametrize(
    ("plate", "use", "at", "holds"),
    [
        (PLATE, EdgeUse.FREE, (300.0, 0.0), True),
        (PLATE, EdgeUse.FREE, (0.0, 0.0), True),
        (PLATE, EdgeUse.FREE, (700.0, 450.0), True),
        (PLATE, EdgeUse.FIT, (300.0, 0.0), False),
        (PLATE, EdgeUse.FREE, (300.0, 0.5), False),  # on the edge or the margin away, nothing between
        (PLATE, EdgeUse.FREE, (300.0, -0.5), False),
        (PLATE, EdgeUse.FREE, (5.0, 0.0), False),  # on the bottom, too near the left
        (replace(PLATE, factory_edges=("left",)), EdgeUse.FREE, (300.0, 0.0), False),
        (replace(PLATE, factory_edges=("left",)), EdgeUse.FREE, (0.0, 0.0), False),
        (replace(PLATE, diagonals_mm=(1080.0, 1083.0)), EdgeUse.FREE, (300.0, 0.0), False),
    ],
)
def test_the_check_accepts_just_that(plate: Plate, use: EdgeUse, at: tuple[float, float], holds: bool) -> None:
    blanks = (rectangle_blank("pad", 200, 150, use=use),)
    layout = Layout((Placed(0, 1, 0, Move(*at)),), (), 6.0, "guided")
    assert (check_layout(layout, blanks, (plate,)) == ()) == holds
