"""One straightedge for several edges: fewer set-ups, the same parts; neighbours may share a kerf."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.planning.cuts import make_cuts
from lagline.planning.kit_file import generic_kit
from lagline.planning.lines import Edge, runs_of
from lagline.planning.proof import what_is_left
from lagline.planning.steps import make_steps
from lagline.records.geometry import Line, Move, Outline
from lagline.records.job import Edge as Edge_
from lagline.records.job import EdgeUse, Plate
from lagline.records.plan import Cut, Layout, Placed, Start, Step
from tests.cutting import box, plain_setting, turned
from tests.generate import polygon_loop, rectangle_blank

STOCK = rectangle_blank("plate", 10, 10).part.stock


def grid(
    columns: int, rows: int, size: tuple[float, float], *, apart: float, at: tuple[float, float], side: str = "right",
    plate: tuple[float, float] = (1800, 1200), turn_deg: float = 0.0,
):  # fmt: skip
    """Equal rectangles in rows and columns, cut in the order the cuts come, each line before the next."""
    blank = rectangle_blank("plate", *size)
    blank = replace(blank, part=replace(blank.part, quantity=columns * rows))
    setting, kit = plain_setting(STOCK), turned(generic_kit(), side)
    turn = math.radians(turn_deg)
    c, s = math.cos(turn), math.sin(turn)
    steps = itertools.product(range(rows), range(columns))
    spots = [(i * (size[0] + apart), j * (size[1] + apart)) for j, i in steps]
    placed = tuple(
        Placed(0, n, 0, Move(at[0] + x * c - y * s, at[1] + x * s + y * c, turn)) for n, (x, y) in enumerate(spots, 1)
    )
    sheet = Plate("A", "plate", box(*plate), STOCK, 10.0)
    layout = Layout(placed, (), 12.0, "guided", (), (), setting.kerf_mm.value)
    cuts, findings = make_cuts((blank,), (sheet,), layout, (setting,), kit)
    order = tuple((i, 0) for i in range(len(cuts)))
    steps_, _ = make_steps(cuts, order, (blank,), (sheet,), layout, (setting,), kit)
    return cuts, steps_, what_is_left((sheet,), (blank,), layout, steps_, (setting,)), findings


def setups(steps: tuple[Step, ...]) -> int:
    return sum(not s.held for s in steps)


@given(
    st.integers(1, 4), st.integers(1, 4), st.floats(60, 200), st.floats(60, 200), st.sampled_from(["right", "left"]),
    st.floats(-20, 40), st.booleans(),
)  # fmt: skip
@settings(deadline=None, max_examples=25)
def test_a_grid_a_kerf_apart_comes_out_as_drawn_by_one_set_up_a_line(m, n, w, h, side, turn, shared):
    kerf = plain_setting(STOCK).kerf_mm.value
    apart = kerf if shared else 14.0
    at, plate = (620, 350), (1800, 1700)  # the largest grid, turned the farthest, lies on it
    cuts, steps, left, _ = grid(m, n, (w, h), apart=apart, at=at, side=side, plate=plate, turn_deg=turn)
    assert all(e.right for e in left)
    assert len(left) == m * n
    if m * n == 1:
        assert setups(steps) == 4
    elif shared:
        assert setups(steps) <= (m + 1 if n > 1 or m > 1 else 2) + n + 1 + 2  # one part's own ends stay its own
    # every edge of every part is made once
    lines = sum(len(c.parts) if c.role == "rip" else len(c.passes) for c in cuts)
    assert lines >= 2 * m * n


def test_three_by_four_takes_nine_set_ups_instead_of_forty_eight():
    kerf = plain_setting(STOCK).kerf_mm.value
    cuts, steps, left, findings = grid(4, 3, (150, 80), apart=kerf, at=(15, 15), plate=(1500, 900))
    assert setups(steps) == len(cuts) == 9
    assert all(e.right for e in left)
    assert not findings
    across = [c for c in cuts if c.across]
    assert len(across) == 3 + 2  # lines with parts on both sides
    assert all(set(c.serves).isdisjoint(c.across) for c in cuts)


def test_a_plate_cut_on_its_own_edges_needs_no_cut_there():
    _, steps, left, _ = grid(1, 1, (300, 200), apart=0, at=(0, 0), plate=(300, 200))
    assert not steps
    assert left[0].right
    _, steps, left, _ = grid(1, 1, (300, 200), apart=0, at=(0, 0), plate=(800, 600))
    assert setups(steps) == 2
    assert steps[0].start is Start.EDGE
    assert left[0].right


def test_far_parts_on_one_line_share_the_guide_and_the_arc_is_struck_anew():
    blanks = (rectangle_blank("a", 200, 100), rectangle_blank("b", 200, 100))
    setting, kit = plain_setting(STOCK), generic_kit()
    plate = Plate("A", "plate", box(1600, 600), STOCK, 10.0)
    layout = Layout((Placed(0, 1, 0, Move(100, 100)), Placed(1, 1, 0, Move(600, 100))), (), 12.0, "x")
    cuts, _ = make_cuts(blanks, (plate,), layout, (setting,), kit)
    rips = [c for c in cuts if c.role == "rip"]
    assert len(rips) == 2
    steps, _ = make_steps(cuts, tuple((i, 0) for i in range(len(cuts))), blanks, (plate,), layout, (setting,), kit)
    mine = [s for s in steps if s.cut == rips[0].id]
    assert [s.held for s in mine] == [False, True]
    assert mine[0].guide == mine[1].guide
    assert all(e.right for e in what_is_left((plate,), blanks, layout, steps, (setting,)))


def test_a_line_longer_than_the_straightedge_is_not_joined():
    edges = tuple(Edge(i, 0, *(Line((x, y), (x + 100, y)) for y in (0, -0.85))) for i, x in enumerate((0, 300, 5000)))
    (run,) = runs_of(edges, 1000)
    assert [e.part for e in run.edges] == [0, 1]


@pytest.mark.parametrize("off", [0.0, 0.004, 0.05])
def test_edges_on_one_line_only(off: float):
    edges = (Edge(0, 0, Line((0, 0), (100, 0)), Line((0, -1), (100, -1))),
             Edge(1, 0, Line((200, off), (300, off)), Line((200, off - 1), (300, off - 1))))  # fmt: skip
    assert len(runs_of(edges, 1000)) == (off < 0.01)


def test_opposite_sides_join_only_where_they_face_each_other():
    def edge(part: int, x: float, up: bool) -> Edge:
        a, b = (x, 0.85 if up else -0.85), (x + 100, 0.85 if up else -0.85)
        return Edge(part, 0, Line(*((a, b) if up else (b, a))), Line((x, 0), (x + 100, 0)))

    assert len(runs_of((edge(0, 0, True), edge(1, 50, False)), 1000)) == 1
    assert not runs_of((edge(0, 0, True), edge(1, 200, False)), 1000)


def waits(cut: Cut) -> bool:
    return any(e.start is Start.KERF for e in cut.entries)


def test_a_line_with_no_waste_behind_it_waits_for_the_kerf_it_begins_in():
    kerf = plain_setting(STOCK).kerf_mm.value
    cuts, _, left, _ = grid(2, 2, (150, 80), apart=kerf, at=(0, 0), plate=(302 - 0.3, 900))
    ids = {c.id for c in cuts}
    assert all(set(c.after) <= ids for c in cuts)
    assert all(c.after for c in cuts if waits(c))
    assert len(left) == 4


def shaped(points: list[tuple[float, float]]):
    """A part with these corners."""
    one = rectangle_blank("part", 10, 10)
    outline = Outline(polygon_loop(points))
    edges = tuple(Edge_(n, EdgeUse.FREE) for n in outline.outer.names)
    part = replace(one.part, outline=outline, edges=edges)
    return replace(one, part=part, finished=outline, cut=outline, area_mm2=outline.area)


COPED = [(0, 0), (250, 0), (250, 110), (200, 110), (200, 150), (0, 150)]
NOSED = [(0, 0), (200, 0), (200, 12), (20, 220), (0, 220)]


@pytest.mark.parametrize("points", [COPED, NOSED, [(0, 0), (180, 0), (150, 120), (30, 120)]])
@pytest.mark.parametrize("side", ["right", "left"])
@pytest.mark.parametrize("turn", [0.0, 90.0])
def test_inside_corners_and_noses_on_shared_lines_come_out_as_drawn(points, side: str, turn: float):
    """Three in a row, their like edges on one line, and as near as the gap allows."""
    blank = shaped(points)
    blank = replace(blank, part=replace(blank.part, quantity=3))
    setting, kit = plain_setting(STOCK), turned(generic_kit(), side)
    a = math.radians(turn)
    c, s = math.cos(a), math.sin(a)
    placed = tuple(Placed(0, n + 1, 0, Move(500 + 262 * n * c, 400 + 262 * n * s, a)) for n in range(3))
    plate = Plate("A", "plate", box(2000, 1600), STOCK, 10.0)
    layout = Layout(placed, (), 12.0, "guided")
    cuts, _ = make_cuts((blank,), (plate,), layout, (setting,), kit)
    assert any(c.role == "rip" for c in cuts)
    steps, _ = make_steps(cuts, tuple((i, 0) for i in range(len(cuts))), (blank,), (plate,), layout, (setting,), kit)
    for e in what_is_left((plate,), (blank,), layout, steps, (setting,)):
        assert e.right, e


def test_a_pair_a_kerf_apart_along_the_slope():
    """Two gussets, one turned half round, facing each other along the slope: one cut makes both slopes."""
    blank = shaped(NOSED)
    blank = replace(blank, part=replace(blank.part, quantity=2))
    setting, kit = plain_setting(STOCK), generic_kit()
    k = setting.kerf_mm.value
    h = math.hypot(180, 208)
    nx, ny = 208 / h * k, 180 / h * k  # away from the slope
    # turned half round about the middle of the slope, then a kerf further off
    placed = (Placed(0, 1, 0, Move(300, 300)), Placed(0, 2, 0, Move(300 + 220 + nx, 300 + 232 + ny, math.pi)))
    plate = Plate("A", "plate", box(1200, 1000), STOCK, 10.0)
    layout = Layout(placed, (), 12.0, "guided", (), ((0, 1),), k)
    cuts, _ = make_cuts((blank,), (plate,), layout, (setting,), kit)
    (rip,) = [c for c in cuts if c.role == "rip" and c.across]
    assert set(rip.parts) == {0, 1}
    steps, _ = make_steps(cuts, tuple((i, 0) for i in range(len(cuts))), (blank,), (plate,), layout, (setting,), kit)
    for e in what_is_left((plate,), (blank,), layout, steps, (setting,)):
        assert e.right, e
