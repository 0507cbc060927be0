"""What comes loose, and when: on grids of shared cuts against plain areas, and on shapes small enough to see."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.planning.hang_on import hanging_order
from lagline.planning.loose import Atoms, PlateMetal
from lagline.planning.order_search import closure
from tests.grid_cuts import Grid, grid, told_by_areas

PLATE = shapely.box(0, 0, 200, 100)


def line(*points: tuple[float, float]) -> shapely.Polygon:
    return shapely.LineString(points).buffer(1.0)


@st.composite
def grids(draw: st.DrawFn, most: int = 3) -> Grid:
    rows, columns = draw(st.integers(1, most)), draw(st.integers(1, most))
    return grid(draw(st.integers(0, 10**6)), rows, columns, bricks=draw(st.booleans()))


@settings(deadline=None, max_examples=20)
@given(grids(), st.randoms(use_true_random=False))
def test_pieces_and_slips_are_those_of_plain_areas(g: Grid, random) -> None:
    order = g.order
    random.shuffle(order)
    told = Atoms(g.metal).check(order)
    freed, slips = told_by_areas(g.metal, order)
    assert [s.cut for s in told.slips] == slips
    assert list(told.pieces) == list(freed)
    for name, pieces in told.pieces.items():
        assert [p.area_mm2 for p in pieces] == pytest.approx(freed[name], abs=0.5)


@settings(deadline=None, max_examples=15)
@given(grids(), st.randoms(use_true_random=False))
def test_every_part_comes_loose_once(g: Grid, random) -> None:
    order = g.order
    random.shuffle(order)
    told = Atoms(g.metal).check(order)
    freed = [i for pieces in told.pieces.values() for p in pieces for i in p.parts]
    assert sorted(freed) == sorted(g.metal.parts)
    place = {name: p for p, (name, _) in enumerate(order)}
    for slip in told.slips:
        assert place[slip.by] < place[slip.cut]
        assert slip.by in told.pieces


@settings(deadline=None, max_examples=12)
@given(st.integers(0, 10**6), st.integers(0, 3), st.booleans())
def test_hanging_order_is_found_where_there_is_one(seed: int, pairs: int, bricks: bool) -> None:
    """Against every order of the lines of a small grid, with a little precedence at random."""
    g = grid(seed, 1, 2, holes=False, bricks=bricks)
    n = len(g.order)
    r = np.random.default_rng(seed)
    before = np.zeros((n, n), dtype=bool)
    for _ in range(pairs):
        i, j = r.choice(n, 2, replace=False)
        before[i, j] = True
        if (before & before.T).any() or _circles(before):
            before[i, j] = False
    must = closure(before)
    atoms = Atoms(g.metal)
    few = min(
        (len(atoms.check([g.order[t] for t in p]).slips) for p in itertools.permutations(range(n)) if _kept(p, must)),
        default=0,
    )
    made = hanging_order(atoms.net, g.order, must)
    assert sorted(made) == list(range(n))
    assert _kept(made, must)
    slips = atoms.check([g.order[t] for t in made]).slips
    assert (not slips) == (few == 0)


def _circles(before: np.ndarray) -> bool:
    try:
        closure(before)
    except ValueError:
        return True
    return False


def _kept(order: tuple[int, ...], must: np.ndarray) -> bool:
    place = np.argsort(np.array(order))
    return all(place[i] < place[j] for i, j in np.argwhere(must))


def test_a_cut_across_lets_the_far_half_go() -> None:
    told = Atoms(PlateMetal(PLATE, (10, 10), {"a": line((150, -5), (150, 105))})).check([("a", 0)])
    (piece,) = told.pieces["a"]
    assert piece.area_mm2 == pytest.approx(49 * 100, rel=0.01)
    assert piece.at[0] > 150


def test_held_on_the_other_side_the_near_half_goes() -> None:
    told = Atoms(PlateMetal(PLATE, (190, 10), {"a": line((150, -5), (150, 105))})).check([("a", 0)])
    assert told.pieces["a"][0].area_mm2 == pytest.approx(149 * 100, rel=0.01)


def test_a_cut_that_stops_short_lets_nothing_go() -> None:
    """One millimetre of metal holds; a twentieth does not."""
    kerfs = {"a": line((150, -5), (150, 98))}
    assert not Atoms(PlateMetal(PLATE, (10, 10), kerfs)).check([("a", 0)]).pieces
    kerfs = {"a": line((150, -5), (150, 98.95))}
    assert Atoms(PlateMetal(PLATE, (10, 10), kerfs)).check([("a", 0)]).pieces


def test_corners_that_touch_at_a_point_do_not_hold() -> None:
    """Two squares cut out corner to corner: neither holds the other."""
    plate = shapely.union(shapely.box(0, 0, 50, 50), shapely.box(50, 50, 100, 100))
    plate = shapely.union(plate, shapely.box(0, 60, 40, 100))
    told = Atoms(PlateMetal(shapely.box(0, 0, 100, 100), (5, 5), {"a": line((50, -5), (50, 105)),
                                                                 "b": line((-5, 50), (105, 50))}))  # fmt: skip
    assert [len(v) for v in told.check([("a", 0), ("b", 0)]).pieces.values()] == [1, 1]
    (quarter,) = told.check([("a", 0), ("b", 0)]).pieces["b"]
    assert quarter.area_mm2 == pytest.approx(49 * 49, rel=0.01)  # the loose half's own parting lets nothing more go


def test_a_shared_kerf_goes_with_the_first_of_two() -> None:
    """Two cuts over the same line: the second takes nothing, so it runs in nothing loose."""
    kerfs = {"a": line((150, -5), (150, 105)), "b": line((150, -5), (150, 105))}
    told = Atoms(PlateMetal(PLATE, (10, 10), kerfs)).check([("a", 0), ("b", 0)])
    assert list(told.pieces) == ["a"]
    assert not told.slips


def test_a_cut_in_what_has_come_loose_is_named() -> None:
    kerfs = {"a": line((150, -5), (150, 105)), "b": line((175, 20), (175, 80)), "c": line((50, 20), (50, 80))}
    told = Atoms(PlateMetal(PLATE, (10, 10), kerfs)).check([("a", 0), ("c", 0), ("b", 0)])
    (slip,) = told.slips
    assert (slip.cut, slip.by) == ("b", "a")
    assert 174 < slip.at[0] < 176


def test_the_run_in_of_the_way_begun_counts() -> None:
    """From an edge, the run-in closes the cut round a corner; from a pierce it does not."""
    kerfs = {"a": line((150, 50), (150, 105))}
    run_ins = {("a", 1): line((205, 50), (150, 50))}
    atoms = Atoms(PlateMetal(PLATE, (10, 10), kerfs, run_ins))
    assert not atoms.check([("a", 0)]).pieces
    assert atoms.check([("a", 1)]).pieces["a"][0].area_mm2 == pytest.approx(49 * 49, rel=0.01)


def test_a_part_in_a_window_falls_with_it_or_before() -> None:
    ring = shapely.box(40, 20, 120, 80).boundary.buffer(1)
    inner = shapely.box(60, 40, 100, 60)
    kerfs = {"window": ring, "part": inner.boundary.buffer(1)}
    atoms = Atoms(PlateMetal(PLATE, (10, 10), kerfs, {}, {7: inner.buffer(-1)}))
    told = atoms.check([("part", 0), ("window", 0)])
    assert told.pieces["part"][0].parts == (7,)
    assert not told.slips
    told = atoms.check([("window", 0), ("part", 0)])
    assert told.pieces["window"][0].parts == (7,)
    assert [s.cut for s in told.slips] == ["part"]


def test_cuts_it_does_not_know_and_plates_without_cuts() -> None:
    assert not Atoms(PlateMetal(PLATE, (10, 10), {})).check([("drill", 0)]).pieces
    assert not Atoms(PlateMetal(PLATE, (10, 10), {"a": line((50, 20), (50, 80))})).check([]).slips


def test_anchor_in_a_kerf_or_off_the_plate_holds_what_is_near_and_no_part() -> None:
    ring = shapely.box(40, 20, 120, 80).boundary.buffer(1)
    for anchor in ((40.0, 50.0), (-50.0, 50.0)):
        told = Atoms(PlateMetal(PLATE, anchor, {"a": ring}, {}, {0: shapely.box(41, 21, 119, 79)})).check([("a", 0)])
        assert told.pieces["a"][0].parts == (0,)


def test_a_large_grid_is_quick_to_ask() -> None:
    """Not timed: 90 lines and 80 cells go through, and the answer is whole."""
    g = grid(1, 8, 10, holes=False, bricks=True)
    told = Atoms(g.metal).check(g.order)
    assert sorted(i for v in told.pieces.values() for p in v for i in p.parts) == sorted(g.metal.parts)
