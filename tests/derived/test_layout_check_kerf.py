"""The independent check of shared kerfs, regions and grain finds each fault it is there for, and only then."""

from __future__ import annotations

from dataclasses import replace

import pytest

from lagline.planning.layout_check import check_layout
from lagline.records.geometry import Move, Outline
from lagline.records.job import Edge, EdgeUse, Pin
from lagline.records.plan import Blank, Layout, Placed
from tests.generate import blank, circle, polygon_loop, rectangle_blank, rectangle_plate

PLATE = (rectangle_plate("A", 600, 400, margin_mm=10),)
PAD = rectangle_blank("pad", 100, 60, 4)
KERF = 1.6


def layout(
    *at: tuple[float, float], shared: tuple[tuple[int, int], ...] = (), gap: float = 6.0, kerf: float = KERF
) -> Layout:
    return Layout(
        tuple(Placed(0, n + 1, 0, Move(x, y)) for n, (x, y) in enumerate(at)), (), gap, "guided", (), shared, kerf
    )


def faults(given: Layout, part: Blank = PAD) -> list[str]:
    blanks = (replace(part, part=replace(part.part, quantity=len(given.placed))),)
    return [f.message for f in check_layout(given, blanks, PLATE)]


def with_edges(part: Blank, *edges: Edge) -> Blank:
    named = {e.name: e for e in edges}
    return replace(part, part=replace(part.part, edges=tuple(named.get(e.name, e) for e in part.part.edges)))


GRID = ((50.0, 50.0), (151.6, 50.0), (50.0, 111.6), (151.6, 111.6))
PAIRS = ((0, 1), (0, 2), (1, 3), (2, 3))


def test_a_grid_a_kerf_apart_holds() -> None:
    assert faults(layout(*GRID, shared=PAIRS)) == []


def test_where_kerfs_cross_only_linked_parts_may_meet() -> None:
    # without the pairs that link them, the two across the corner are too near
    assert any("nearer than the gap" in m for m in faults(layout(GRID[0], GRID[3])))
    assert any("nearer than the gap" in m for m in faults(layout(*GRID, shared=PAIRS[:1])))


@pytest.mark.parametrize(
    ("second", "holds"),
    [
        ((151.6, 50.0), True),
        ((151.6, 80.0), True),  # along part of the edge
        ((151.59, 50.0), False),
        ((151.61, 50.0), False),
        ((151.6, 109.5), False),  # half a millimetre is no facing edge
        ((140.0, 50.0), False),
        ((156.0, 50.0), False),
        ((300.0, 50.0), False),
    ],
)
def test_only_just_a_kerf_apart_along_an_edge(second: tuple[float, float], holds: bool) -> None:
    assert (faults(layout((50.0, 50.0), second, shared=((0, 1),))) == []) == holds


def test_near_and_not_listed_is_a_fault() -> None:
    assert any("nearer than the gap" in m for m in faults(layout((50.0, 50.0), (151.6, 50.0))))


def test_no_kerf_no_sharing() -> None:
    assert faults(layout((50.0, 50.0), (151.6, 50.0), shared=((0, 1),), kerf=0.0))


@pytest.mark.parametrize("pair", [(1, 0), (0, 0), (0, 7), (-1, 1)])
def test_pairs_that_are_none(pair: tuple[int, int]) -> None:
    assert any("cannot" in m for m in faults(layout((50.0, 50.0), (151.6, 50.0), shared=((0, 1), pair))))


def test_one_edge_must_be_free_or_to_be_welded_and_none_bevelled() -> None:
    given = layout((50.0, 50.0), (151.6, 50.0), shared=((0, 1),))
    right, left = "e2", "e4"
    one = with_edges(PAD, Edge(right, EdgeUse.FIT))
    both = with_edges(one, Edge(left, EdgeUse.FIT))
    bevelled = with_edges(PAD, Edge(left, EdgeUse.WELD, 30.0))
    assert faults(given, one) == []
    assert any("worse side" in m for m in faults(given, both))
    assert any("bevelled" in m for m in faults(given, bevelled))


def test_arcs_share_no_kerf() -> None:
    disc = blank("disc", Outline(circle((0, 0), 50, "rim")))
    assert faults(layout((100.0, 100.0), (201.6, 100.0), shared=((0, 1),)), disc)


def test_sharing_one_edge_does_not_excuse_another_place() -> None:
    # a C and its neighbour: a kerf apart along the lower arm, 3 mm apart along the upper one
    c = blank(
        "C",
        Outline(polygon_loop([(0, 0), (100, 0), (100, 40), (30, 40), (30, 120), (98.6, 120), (98.6, 160), (0, 160)])),
    )
    bar = rectangle_blank("bar", 60, 160)
    placed = (Placed(0, 1, 0, Move(50, 50)), Placed(1, 1, 0, Move(151.6, 50)))
    both = Layout(placed, (), 6.0, "guided", (), ((0, 1),), KERF)
    assert any("share no kerf" in f.message for f in check_layout(both, (c, bar), PLATE))


def test_side_by_side_in_one_cluster_is_no_corner() -> None:
    # three in a row on a long bar, the last two 3 mm apart: linked through the bar, and yet too near
    bar = rectangle_blank("bar", 400, 60)
    placed = (
        Placed(0, 1, 0, Move(50, 50)),
        Placed(0, 2, 0, Move(153, 50)),
        Placed(1, 1, 0, Move(50, 111.6)),
    )
    blanks = (replace(PAD, part=replace(PAD.part, quantity=2)), bar)
    given = Layout(placed, (), 6.0, "guided", (), ((0, 2), (1, 2)), KERF)
    assert any("nearer than the gap" in f.message for f in check_layout(given, blanks, PLATE))


def test_regions_kept_out_and_grain_are_looked_at() -> None:
    blanks = (replace(PAD, part=replace(PAD.part, quantity=1, grain_deg=0.0)),)
    given = layout((50.0, 50.0))
    square = polygon_loop([(100, 80), (200, 80), (200, 200), (100, 200)])
    for plate, says in (
        (replace(PLATE[0], keep_out=(square,)), "kept out"),
        (replace(PLATE[0], grain_deg=90.0), "across the grain"),
    ):
        assert [says in f.message for f in check_layout(given, blanks, (plate,))] == [True]
    assert check_layout(given, blanks, (replace(PLATE[0], grain_deg=180.0),)) == ()


def test_a_pin_excuses_turn_margin_and_gap_and_no_overlap() -> None:
    blanks = (replace(PAD, part=replace(PAD.part, quantity=2)),)
    slanted = (Move(200, 5, 0.05), Move(305, 15, 0.0))
    pins = tuple(Pin("pad", "A", m) for m in slanted)
    given = Layout(tuple(Placed(0, n + 1, 0, m) for n, m in enumerate(slanted)), (), 6.0, "quick")
    assert len(check_layout(given, blanks, PLATE)) >= 3
    assert check_layout(given, blanks, PLATE, pins) == ()
    on_top = (Move(200, 50), Move(210, 50))
    given = Layout(tuple(Placed(0, n + 1, 0, m) for n, m in enumerate(on_top)), (), 6.0, "quick")
    assert check_layout(given, blanks, PLATE, tuple(Pin("pad", "A", m) for m in on_top))
