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
    return Made(before, cuts, steps, left, loose, pieces(cleared(0, sheet, *given_[:1], (setting,), layout, steps).left))


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
    assert abs(far.area - long * (deep - top)) < 0.15 * far.area
    assert xy[:, 1 - k].max() == pytest.approx(deep, abs=1e-6)
    print(xy[:, 1 - k].min() - top)
    assert xy[:, 1 - k].min() == pytest.approx(top, abs=0.05)
    assert not got.loose
    moved = [(a, b) for a, b in zip(got.before, got.cuts, strict=True) if a != b]
    assert [b for _, b in moved] == [cut]
    ((old, _),) = moved
    assert (old.id, old.serves, old.across, old.kept_side) == (cut.id, cut.serves, cut.across, cut.kept_side)
