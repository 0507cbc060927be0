"""Open and shared cuts in the order stage: nothing cut from a loose piece, either end, hands, heat, kerfs begun in."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.planning import order_search
from lagline.planning.loose import PlateMetal
from lagline.planning.order import order_cuts
from lagline.planning.order_cost import HEAT_REACH_MM, plate_costs
from lagline.planning.order_search import Problem, Way
from lagline.records.finding import Severity
from lagline.records.plan import Cut, Start
from tests.grid_cuts import FRAME_MM, Grid, grid, open_cut, told_by_areas
from tests.sample_plan import kit

KIT = kit()
LEFT_HANDED = replace(KIT, operator=replace(KIT.operator, hand="left"))


def names(cuts: tuple[Cut, ...], metal: PlateMetal | None = None) -> list[str]:
    order, findings = order_cuts(cuts, KIT, 1, {0: metal} if metal else None)
    assert not findings
    return [cuts[i].id for i, _ in order]


def free(n: int) -> np.ndarray:
    """No precedence among n cuts."""
    return np.zeros((n, n), dtype=bool)


def kerfs(*cuts: Cut) -> dict[str, shapely.Polygon]:
    lines = {c.id: c.passes[0].path[0] for c in cuts}
    return {name: shapely.LineString([line.start, line.end]).buffer(1) for name, line in lines.items()}


@pytest.fixture(autouse=True)
def short_search(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is true of any order is true of one searched for a twentieth of the time."""
    monkeypatch.setattr(order_search, "MOVES_PER_TASK", order_search.MOVES_PER_TASK // 20)
    monkeypatch.setattr(order_search, "RESTARTS", (3, 3))


def keeps_its_laws(g: Grid, seed: int) -> None:
    order, findings = order_cuts(g.cuts, KIT, seed, {0: g.metal})
    assert sorted(i for i, _ in order) == list(range(len(g.cuts)))
    assert all(0 <= e < len(g.cuts[i].entries) for i, e in order)
    place = {g.cuts[i].id: p for p, (i, _) in enumerate(order)}
    assert all(place[a] < place[c.id] for c in g.cuts for a in c.after)
    freed, slips = told_by_areas(g.metal, [(g.cuts[i].id, e) for i, e in order])
    assert slips == []
    assert findings == ()
    assert freed
    assert order_cuts(g.cuts, KIT, seed, {0: g.metal}) == (order, findings)


@settings(deadline=None, max_examples=8)
@given(st.integers(0, 10**6), st.integers(1, 3), st.integers(1, 3), st.booleans(), st.booleans())
def test_nothing_on_a_grid_is_cut_from_a_loose_piece(
    seed: int, rows: int, columns: int, bricks: bool, both_ends: bool
) -> None:
    keeps_its_laws(grid(seed, rows, columns, bricks=bricks, both_ends=both_ends), seed)


@pytest.mark.deep
@settings(deadline=None, max_examples=100)
@given(st.integers(0, 10**6), st.integers(1, 6), st.integers(1, 6), st.booleans(), st.booleans())
def test_nothing_on_a_larger_grid_is_cut_from_a_loose_piece(
    seed: int, rows: int, columns: int, bricks: bool, both_ends: bool
) -> None:
    keeps_its_laws(grid(seed, rows, columns, bricks=bricks, both_ends=both_ends), seed)


def test_without_the_plate_loose_pieces_come_about() -> None:
    """The law above is not kept by chance: of four walls of bricks ordered without regard to it, some break it."""
    broken = 0
    for seed in range(4):
        g = grid(seed, 3, 3, bricks=True)
        order, _ = order_cuts(g.cuts, KIT, 1)
        broken += bool(told_by_areas(g.metal, [(g.cuts[i].id, e) for i, e in order])[1])
    assert broken


def test_where_no_order_will_do_the_piece_is_to_be_held() -> None:
    """A cut across the plate must come before one in the half it lets go."""
    plate = shapely.box(0, 0, 1000, 500)
    across = open_cut("across", (600, 0), (600, 500), start=Start.EDGE)
    inside = open_cut("inside", (800, 100), (800, 400), after=("across",))
    metal = PlateMetal(plate, (50, 50), kerfs(across, inside))
    order, findings = order_cuts((inside, across), KIT, 1, {0: metal})
    assert [i for i, _ in order] == [1, 0]
    (finding,) = findings
    assert (finding.code, finding.severity, finding.where) == ("cut-from-loose", Severity.CAUTION, "cut inside")
    assert "across" in finding.message
    assert "hold" in finding.allowed


def test_from_where_an_open_cut_ends_to_the_near_end_of_the_next() -> None:
    """Three lines side by side, out of each other's heat: there, back, and there again."""
    lines = tuple(open_cut(f"{k}", (0, y), (1500, y), both_ends=True) for k, y in enumerate((0.0, 100.0, 200.0)))
    order, _ = order_cuts(lines, KIT, 1)
    ends = [lines[c].entries[e] for c, e in order]
    for a, b in itertools.pairwise(ends):
        assert a.leave is not None
        assert a.leave[0] == b.run_in[0][0]


def test_the_walk_starts_where_an_open_cut_leaves() -> None:
    a, b = open_cut("a", (0, 0), (1000, 0)), open_cut("b", (1000, 300), (0, 300))
    p = plate_costs((a, b), KIT).problem(free(2))
    assert p.links(0, 1)[0, 0] == pytest.approx(300 / KIT.bench.walk_mm_s)
    assert p.links(1, 0)[0, 0] == pytest.approx(300 / KIT.bench.walk_mm_s)


def test_neighbouring_lines_are_not_cut_one_after_another() -> None:
    """Five lines, each within the heat of the next only."""
    gap = 0.6 * HEAT_REACH_MM
    lines = tuple(open_cut(f"{k}", (0, k * gap), (800, k * gap), both_ends=True) for k in range(5))
    order = [int(n) for n in names(lines)]
    assert all(abs(a - b) > 1 for a, b in itertools.pairwise(order))


def test_a_rip_is_hot_along_its_line_only() -> None:
    """Its part's outline reaches the other line, the rip itself does not."""
    rip = open_cut("rip", (0, 0), (100, 0))
    far = open_cut("far", (0, 1000), (100, 1000))
    beside = open_cut("beside", (rip.loop.segments[1].end[0], rip.loop.segments[1].end[1] + 65), (200, 300))
    p = plate_costs((rip, far, beside), KIT).problem(free(3))
    assert p.near[0, 1] == p.near[0, 2] == 0.0
    assert rip.loop.points()
    touching = open_cut("touching", (50, 0), (50, 400))
    p = plate_costs((rip, touching), KIT).problem(free(2))
    assert p.near[0, 1] > 0


def test_a_rip_is_neither_small_nor_a_strip() -> None:
    thin = open_cut("rip", (0, 0), (2000, 0))
    edge = open_cut("edge", (0, 500), (200, 500), role="edge")
    p = plate_costs((thin, edge), KIT).problem(free(2))
    assert p.late[0] == 0.0
    assert not p.must.any()


@pytest.mark.parametrize(("bench", "begins"), [(KIT, 1000.0), (LEFT_HANDED, 0.0)])
def test_the_hand_goes_its_own_way(bench: object, begins: float) -> None:
    """Along the near edge: a right hand from right to left, a left hand from left to right."""
    metal = PlateMetal(shapely.box(-200, -100, 1200, 900), (0, 800), {})
    cut = open_cut("a", (0, 0), (1000, 0), both_ends=True)
    ((_, entry),), _ = order_cuts((cut,), bench, 1, {0: metal})
    assert cut.entries[entry].run_in[0][0] == begins


def test_pulled_towards_the_body() -> None:
    """Square to the near edge: begun inside, ended at the edge."""
    metal = PlateMetal(shapely.box(0, 0, 4000, 900), (0, 800), {})
    cut = open_cut("a", (2000, 0), (2000, 300), both_ends=True)
    ((_, entry),), _ = order_cuts((cut,), KIT, 1, {0: metal})
    assert cut.entries[entry].leave == (2000, 0)


def test_round_the_plate_costs_more_than_a_reach() -> None:
    here, over = np.array([[0.0, 0.0], [0.0, 400.0], [0.0, 1000.0]]), np.array([0.0, 3000.0, 3000.0])
    none, no = np.zeros(3), np.zeros((3, 3))
    kind = np.zeros(3, dtype=np.int64)
    way = Way(over, over, 8000.0, 500.0)
    p = Problem(here, here, none, kind, kind, np.arange(4), no.astype(bool), no, none, 1.0, 0.0, way)
    assert p.links(0, 1)[0, 0] == 400.0  # a reach
    assert p.links(0, 2)[0, 0] == 3000.0  # round, the way that is shorter
    assert p.links(1, 2)[0, 0] == 600.0  # the same place to stand: straight
    assert (p.links_from(0)[0] == [p.links(0, j)[0, 0] for j in range(3)]).all()


def test_one_side_of_the_plate_then_the_other() -> None:
    """Short cuts along both long edges of a wide plate: the plan does not go round and round."""
    metal = PlateMetal(shapely.box(0, 0, 4000, 1500), (2000, 750), {})
    cuts = tuple(
        open_cut(f"{'near' if k % 2 else 'far'}{k}", (600.0 * k, y), (600.0 * k, y + 80), both_ends=True)
        for k in range(6)
        for y in [100.0 if k % 2 else 1320.0]
    )
    sides = [n[:3] for n in names(cuts, metal)]
    assert sum(a != b for a, b in itertools.pairwise(sides)) == 1


def test_a_cut_that_can_begin_in_a_kerf_waits_for_it() -> None:
    """The line first, then the edge from its kerf: one pierce less; without the kerf there is no such wait."""
    rip = open_cut("rip", (100, 500), (900, 500), (0, 1), both_ends=True)
    edge = open_cut("edge", (300, 500), (300, 200), (0,), role="edge")
    plate = shapely.box(0, 0, 1000, 1000)
    assert names((edge, rip), PlateMetal(plate, (50, 50), kerfs(rip, edge))) == ["rip", "edge"]
    p = plate_costs((edge, rip), KIT).problem(free(2), frozenset({0}))
    q = plate_costs((edge, rip), KIT).problem(free(2))
    assert p.own[0] == KIT.bench.start_s.value < q.own[0]


def test_the_wish_for_a_kerf_gives_way_to_what_would_come_loose() -> None:
    """The edge lies in metal that its line lets go: it is pierced first, not begun from the kerf in a loose piece."""
    plate = shapely.box(0, 0, 1000, 500)
    rip = open_cut("rip", (600, 0), (600, 500), (0, 1), start=Start.EDGE)
    edge = open_cut("edge", (600, 250), (900, 250), (0,), role="edge")
    assert names((rip, edge), PlateMetal(plate, (50, 50), kerfs(rip, edge))) == ["edge", "rip"]


def test_frame_of_the_grid_is_what_holds() -> None:
    """The helper's own frame: no line reaches the plate's edge."""
    g = grid(3, 2, 2, holes=False)
    rim = g.metal.metal.exterior
    assert all(k.distance(rim) > FRAME_MM / 2 for k in g.metal.kerfs.values())
