"""Cuts run right across the plate: the offcut is one straight piece, and nothing else is any different."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.planning.cuts import make_cuts
from lagline.planning.estimate import cut_seconds
from lagline.planning.falls import falls_of, plate_metals
from lagline.planning.full_width import ADDED_MM, with_full_width
from lagline.planning.kit_file import generic_kit
from lagline.planning.order import order_cuts
from lagline.planning.plate_use import WORTH_MM, cleared
from lagline.planning.proof import Left, what_is_left
from lagline.planning.steps import make_steps, work_clamp
from lagline.records.figure import Spread
from lagline.records.finding import Finding
from lagline.records.geometry import Move
from lagline.records.job import Plate
from lagline.records.plan import Cut, Layout, Placed, Start, Step, StraightGuide
from lagline.shapes.region import pieces
from tests.cutting import box, plain_setting, turned
from tests.generate import rectangle_blank

STOCK = rectangle_blank("plate", 10, 10).part.stock
KERF = plain_setting(STOCK).kerf_mm.value
Spot = tuple[float, float]


@dataclass(frozen=True)
class Made:
    before: tuple[Cut, ...]
    cuts: tuple[Cut, ...]
    steps: tuple[Step, ...]
    left: tuple[Left, ...]
    loose: tuple[Finding, ...]
    metal: tuple[shapely.Polygon, ...]  # pieces left besides the parts

    @property
    def across(self) -> list[Cut]:
        return [c for c in self.cuts if c.passes[0].name.endswith("right across")]


def made(spots: list[Spot], size: Spot, plate: Spot, side: str = "right", kit=None, keep_out=()) -> Made:
    """Equal rectangles with their lower left corners there, from layout to what is left."""
    blank = rectangle_blank("cheek", *size)
    blank = replace(blank, part=replace(blank.part, quantity=len(spots)))
    setting, kit = plain_setting(STOCK), turned(kit or generic_kit(), side)
    sheet = Plate("A", "plate", box(*plate), STOCK, 10.0, keep_out=keep_out)
    placed = tuple(Placed(0, n, 0, Move(*at)) for n, at in enumerate(spots, 1))
    layout = Layout(placed, (), 12.0, "guided", (), (), KERF)
    given_ = ((blank,), (sheet,), layout, (setting,))
    before, _ = make_cuts(*given_, kit)
    cuts = with_full_width((sheet,), kit, (blank,), (setting,), layout, before)
    metals = plate_metals(cuts, *given_, {0: work_clamp(0, (sheet,), (blank,), layout)})
    order, loose = order_cuts(cuts, kit, 1, metals)
    falls = falls_of(cuts, order, (sheet,), metals)
    steps, _ = make_steps(cuts, order, *given_, kit, falls)
    left = what_is_left((sheet,), (blank,), layout, steps, (setting,))
    return Made(
        before, cuts, steps, left, loose, pieces(cleared(0, sheet, *given_[:1], (setting,), layout, steps).left)
    )


def band(columns: int, rows: int, size: Spot, apart: float, at: Spot) -> list[Spot]:
    return [
        (at[0] + i * (size[0] + apart), at[1] + j * (size[1] + apart))
        for j, i in itertools.product(range(rows), range(columns))
    ]


@given(
    st.integers(2, 4), st.integers(1, 2), st.floats(90, 240), st.floats(60, 160), st.sampled_from([KERF, 14.0]),
    st.sampled_from(["right", "left"]), st.floats(10, 120), st.booleans(),
)  # fmt: skip
@settings(deadline=None, max_examples=25)
def test_a_band_of_parts_leaves_a_straight_offcut(m, n, w, h, apart, side, ends, upright):
    """A band along the plate's near edge, a run of clear metal beyond: one cut from edge to edge parts them."""
    long, deep = m * w + (m - 1) * apart + 2 * ends, 20 + n * (h + apart) + 300
    spots = band(m, n, (w, h), apart, (ends, 20.0))
    size, plate = (w, h), (long, deep)
    if upright:  # the same with x and y changed
        spots, size, plate = [(y, x) for x, y in spots], (h, w), (deep, long)
    got = made(spots, size, plate, side)
    assert all(e.right for e in got.left)
    assert len(got.left) == m * n
    (cut,) = got.across
    (one,) = cut.passes
    (path,) = one.path
    k = 0 if not upright else 1
    assert {round(path.start[k], 3), round(path.end[k], 3)} in (
        {0.0, round(long + KERF / 2, 3)},
        {round(long, 3), round(-KERF / 2, 3)},
    )
    assert [e.start for e in cut.entries] == [Start.EDGE]
    assert isinstance(one.guide, StraightGuide)
    assert math.dist(*one.guide.near) >= long
    # the offcut comes off: its whole near side is one straight edge, the far side of the kerf
    top = 20 + n * h + (n - 1) * apart + KERF
    far = max(got.metal, key=lambda p: p.area)
    xy = shapely.get_coordinates(far)
    assert xy[:, 1 - k].max() == pytest.approx(deep, abs=1e-6)
    assert xy[:, 1 - k].min() == pytest.approx(top, abs=0.05)
    near = shapely.LineString([(top, -1), (top, long + 1)] if upright else [(-1, top), (long + 1, top)])
    straight = far.boundary.intersection(near.buffer(0.05, cap_style="flat")).length
    crossings = 2 * m  # where the cuts between the parts run on into the waste, as they do with any line
    assert straight > long - crossings * 2 * KERF
    assert 0 <= long * (deep - top) - far.area < crossings * KERF * (plain_setting(STOCK).lead_in_mm + 4 * KERF)
    assert not got.loose
    moved = [(a, b) for a, b in zip(got.before, got.cuts, strict=True) if a != b]
    assert [b for _, b in moved] == [cut]
    ((old, _),) = moved
    assert (old.id, old.serves, old.across, old.kept_side) == (cut.id, cut.serves, cut.across, cut.kept_side)


ROW = band(3, 1, (200, 120), 14.0, (60, 20))  # 60 to 688 along, 20 to 140 up
PLATE = (748.0, 500.0)


def names(got: Made) -> list[str]:
    return [c.id for c in got.across]


def test_a_row_with_clear_metal_beyond_is_the_measure_of_the_rest():
    got = made(ROW, (200, 120), PLATE)
    assert len(names(got)) == 1


@pytest.mark.parametrize(
    ("more", "plate", "why"),
    [
        ([(700.0, 80.0)], (960.0, 500.0), "a part stands where the cut would run on"),
        ([(300.0, 300.0)], PLATE, "parts on both sides, the second row by itself"),
        (band(3, 1, (200, 120), 14.0, (60, 300)), (748.0, 460.0), "two rows, parts beyond each inner line"),
        ([], (748.0, 140 + KERF + WORTH_MM - 1.0), "the offcut is too small"),
    ],
)
def test_it_is_left_as_it_is(more: list[Spot], plate: Spot, why: str):
    got = made([*ROW, *more], (200, 120), plate)
    assert got.cuts == got.before, why
    assert any(c.role == "rip" for c in got.cuts)
    assert all(e.right for e in got.left)


def test_an_offcut_just_large_enough_is_cut_off_straight():
    assert names(made(ROW, (200, 120), (748.0, 140 + KERF + WORTH_MM + 1.0)))


@pytest.mark.parametrize(("spare", "done"), [(ADDED_MM - 60 - 1, True), (ADDED_MM - 60 + 20, False)])
def test_no_more_arc_is_spent_on_it_than_the_limit(spare: float, done: bool):
    """Added: 60 mm before the row and what is spare behind it, less the few kerfs a cut runs on by in any case."""
    got = made(ROW, (200, 120), (688 + spare, 500.0))
    assert bool(names(got)) is done
    if done:
        ((old, new),) = [(a, b) for a, b in zip(got.before, got.cuts, strict=True) if a != b]
        assert sum(p.path[0].length for p in new.passes) - sum(p.path[0].length for p in old.passes) <= ADDED_MM


def test_more_arc_is_spent_where_it_saves_as_much_in_starts():
    kit = generic_kit()
    long = Spread(60.0, 30.0, 90.0)
    slow = replace(kit, bench=replace(kit.bench, start_s=long, pierce_s=long))
    spots = [(40.0, 20.0), (330.0, 20.0), (620.0, 20.0)]  # gaps of 90 mm: the arc is struck three times
    assert not names(made(spots, (200, 120), (960.0, 500.0), kit=kit))
    got = made(spots, (200, 120), (960.0, 500.0), kit=slow)
    ((old, new),) = [(a, b) for a, b in zip(got.before, got.cuts, strict=True) if a != b]
    assert (len(old.passes), len(new.passes)) == (3, 1)
    setting = plain_setting(STOCK)
    assert cut_seconds(new, setting, slow)[1] <= cut_seconds(old, setting, slow)[1]
    assert all(e.right for e in got.left)
    assert not got.loose


def test_no_place_the_user_keeps_out_is_cut_through():
    bad = Move(15.0, 130.0).loop(box(30, 30).outer)
    assert names(made(ROW, (200, 120), PLATE))
    got = made(ROW, (200, 120), PLATE, keep_out=(bad,))
    assert got.cuts == got.before


def test_a_straightedge_that_would_need_a_shift_more_leaves_it():
    kit = generic_kit()
    short = replace(kit, guides=replace(kit.guides, straightedges_mm=(628.0 + 80.0 + 1.0,)))
    got = made(ROW, (200, 120), PLATE, kit=short)
    assert any(c.role == "rip" for c in got.cuts)
    assert not names(got)


def test_of_two_lines_that_would_cross_one_is_cut():
    """A block in the corner: clear metal above it and beside it; the larger offcut is cut off, the other is not."""
    got = made(band(3, 2, (150, 120), 14.0, (12, 12)), (150, 120), (490 + 180, 266 + 250))
    assert len(names(got)) == 1
    assert all(e.right for e in got.left)
    assert not got.loose


def test_a_line_that_others_follow_is_only_cut_through_where_the_clamp_is_on_their_side():
    blank = rectangle_blank("cheek", 200, 120)
    setting, kit = plain_setting(STOCK), generic_kit()

    def changed(plate: Spot, up: float) -> bool:
        sheet = Plate("A", "plate", box(*plate), STOCK, 10.0)
        placed = tuple(Placed(0, n, 0, Move(x, y + up)) for n, (x, y) in enumerate(ROW, 1))
        layout = Layout(placed, (), 12.0, "guided", (), (), KERF)
        cuts, _ = make_cuts((blank,), (sheet,), layout, (setting,), kit)
        free = with_full_width((sheet,), kit, (blank,), (setting,), layout, cuts)
        cut = next(b for a, b in zip(cuts, free, strict=True) if a != b)
        other = next(n for n, c in enumerate(cuts) if c.role == "edge")
        tied = tuple(replace(c, after=(*c.after, cut.id)) if n == other else c for n, c in enumerate(cuts))
        return cut in with_full_width((sheet,), kit, (blank,), (setting,), layout, tied)

    assert not changed(PLATE, 0.0)  # the widest waste, and the clamp on it, is the offcut
    assert changed((748.0, 600.0), 230.0)  # it is below the row


def test_a_slanted_line_and_a_plate_with_bridges_are_left_alone():
    blank = rectangle_blank("cheek", 200, 120)
    setting, kit = plain_setting(STOCK), generic_kit()

    def done(turn_deg: float, bridged: bool) -> bool:
        sheet = Plate("A", "plate", box(*PLATE), STOCK, 10.0)
        a = math.radians(turn_deg)
        c, s = math.cos(a), math.sin(a)
        spots = [(60 + x * c, 60 + x * s) for x in (0, 214, 428)]
        layout = Layout(tuple(Placed(0, n, 0, Move(*p, a)) for n, p in enumerate(spots, 1)), (), 12.0, "guided")
        cuts, _ = make_cuts((blank,), (sheet,), layout, (setting,), kit)
        assert any(c.role == "rip" for c in cuts)
        if bridged:
            cuts = (*cuts, replace(next(c for c in cuts if c.role == "edge"), id="A-b1", role="bridge"))
        return with_full_width((sheet,), kit, (blank,), (setting,), layout, cuts) != cuts

    assert done(0.0, False)
    assert not done(5.0, False)
    assert not done(0.0, True)
