"""What a plan leaves: no offcut larger than the metal, none lost, areas that add up; judged by points, with an engine
of its own (even-odd crossings and distances to the path, no polygon library)."""

from __future__ import annotations

import itertools
import json
import math
from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely.geometry import Polygon

from lagline.cards import plan_json
from lagline.cards.draw_plate import plate_picture
from lagline.cards.kept_mark import clear_size
from lagline.planning.chain import plan
from lagline.planning.kit_file import generic_kit
from lagline.planning.offcuts import DRAWN_MM, kept_rectangle, offcuts_of, outline_of
from lagline.planning.plate_use import WORTH_MM, cleared
from lagline.records.geometry import Outline
from lagline.records.job import Job
from lagline.records.plan import Method, Plan
from lagline.shapes.region import pieces, polygon
from tests.generate import blank, circle, polygon_loop, random_job, rectangle_plate

Points = NDArray[np.float64]
Flags = NDArray[np.bool_]


def inside(outline: Outline, at: Points) -> Flags:
    """Even-odd over every loop of an outline."""
    odd = np.zeros(len(at), dtype=bool)
    for loop in outline.loops:
        pts = np.array(loop.points(0.005))
        for (x0, y0), (x1, y1) in zip(pts, np.roll(pts, -1, axis=0), strict=True):
            if y0 == y1:
                continue
            crosses = (at[:, 1] < y0) != (at[:, 1] < y1)
            odd ^= crosses & (at[:, 0] < x0 + (at[:, 1] - y0) * (x1 - x0) / (y1 - y0))
    return odd


def away(points: Points, at: Points) -> Points:
    """Distance of each place to a chain of points."""
    best = np.full(len(at), math.inf)
    for a, b in itertools.pairwise(points):
        along = b - a
        t = np.clip(((at - a) @ along) / max(float(along @ along), 1e-12), 0, 1)[:, None]
        best = np.minimum(best, np.hypot(*(at - (a + t * along)).T))
    return best


def sorted_out(made: Plan, plate: int, at: Points) -> dict[str, Flags]:
    """Say of each place whether it lies on the plate, in a part, in a kerf or hole, in an offcut."""
    parts = [p.move.outline(made.blanks[p.part].cut) for p in made.layout.placed if p.plate == plate]
    kerf = {s.id: s.kerf_mm.value for s in made.settings}
    gone = np.zeros(len(at), dtype=bool)
    for s in (s for s in made.steps if s.plate == plate):
        if s.path:
            chain = np.array([p for seg in s.path for p in seg.points(0.03)])
            gone |= away(chain, at) < kerf[s.setting] / 2 - 0.05
        elif s.method is Method.DRILL:
            rim = np.array([p for seg in s.line for p in seg.points(0.01)])
            gone |= np.hypot(*(at - (rim.min(axis=0) + rim.max(axis=0)) / 2).T) < s.diameter_mm / 2 - 0.02
    return {
        "plate": inside(made.job.plates[plate].outline, at),
        "part": np.any([inside(o, at) for o in parts], axis=0),
        "gone": gone,
        "offcut": np.any([inside(o.outline, at) for o in offcuts_of(made, plate)] or [np.zeros(len(at), bool)], axis=0),
    }


@lru_cache
def job_of(seed: int) -> Plan:
    blanks, plates = random_job(seed, 3)
    return plan(Job("law", "mm", tuple(b.part for b in blanks), plates, seed=seed, layout="quick"), generic_kit())


@pytest.mark.parametrize("seed", range(1, 5))
def test_offcuts_are_metal_and_areas_add_up(seed: int) -> None:
    made = job_of(seed)
    plate = made.job.plates[0].outline
    left, bottom, right, top = plate.bounds()
    n = 9_000
    # a lattice that repeats nowhere: the same places on every machine, even over the plate
    i = np.arange(n)
    across, up = (i + 0.5) / n, i * 0.618033988749895 % 1
    at = np.stack([left + (right - left) * across, bottom + (top - bottom) * up], axis=1)
    found = sorted_out(made, 0, at)
    assert not np.any(found["offcut"] & ~found["plate"])
    assert not np.any(found["offcut"] & found["part"])
    assert not np.any(found["offcut"] & found["gone"])
    kept = offcuts_of(made, 0)
    assert kept, "a law about offcuts wants one"
    each = (right - left) * (top - bottom) / n
    told = math.fsum(o.area_mm2 for o in kept)
    assert float(found["offcut"].sum()) * each == pytest.approx(told, rel=0.02)
    # plate = parts + kerf and swarf + offcuts + scrap, each counted by itself: scrap from what is left and falls
    after = cleared(0, made.job.plates[0], made.blanks, made.settings, made.layout, made.steps)
    scrap = after.left.area + after.drops.area - told
    parts = math.fsum(made.blanks[p.part].cut.area for p in made.layout.placed)
    cut = float((found["plate"] & found["gone"] & ~found["part"]).sum()) * each
    assert scrap >= 0
    assert parts + cut + told + scrap == pytest.approx(plate.area, rel=0.008)


@pytest.mark.parametrize("seed", range(1, 5))
def test_nothing_worth_keeping_is_lost(seed: int) -> None:
    """Every piece left that is surely large enough has an offcut, smaller by no more than its edge drawn in."""
    made = job_of(seed)
    after = cleared(0, made.job.plates[0], made.blanks, made.settings, made.layout, made.steps)
    kept = [polygon(o.outline) for o in offcuts_of(made, 0)]
    for piece in (*pieces(after.left), *pieces(after.drops)):
        if min(kept_rectangle(piece, WORTH_MM + 3)[2:]) > 0:
            mine = [k for k in kept if piece.intersects(k.buffer(-1))]
            lost = piece.area - math.fsum(k.area for k in mine)
            assert mine
            assert -1e-3 <= lost <= 4 * DRAWN_MM * piece.length


def test_a_strip_cut_off_is_measured_by_hand() -> None:
    """600 x 400 with one 600 x 100 strip along the bottom: what stays is 600 by 300 less the kerf."""
    strip = blank("strip", Outline(polygon_loop([(0, 0), (600, 0), (600, 100), (0, 100)])))
    job = Job("strip", "mm", (strip.part,), (rectangle_plate("P", 600, 400),), layout="quick")
    made = plan(job, generic_kit())
    (kept,) = offcuts_of(made, 0)
    kerf = made.settings[0].kerf_mm.value
    _, _, wide, high = kept.rectangle_mm
    assert wide == pytest.approx(600, abs=0.1)
    assert 300 - kerf - 2.5 * DRAWN_MM <= high <= 300 - kerf
    assert kept.mass_kg == pytest.approx(kept.area_mm2 * 9.525 * 7.85e-6, rel=0.01)
    assert len(kept.outline.outer.segments) <= 8


def test_the_inside_of_a_ring_is_kept_when_large() -> None:
    def ring(inner: float) -> Plan:
        one = blank("ring", Outline(circle((0, 0), inner + 40, "rim"), (circle((0, 0), inner, "bore", hole=True),)))
        side = 2 * (inner + 40) + 30
        job = Job("ring", "mm", (one.part,), (rectangle_plate("P", side, side),), layout="quick")
        return plan(job, generic_kit())

    # the largest square in a circle of radius r has the side r * sqrt 2; kerf and run-in take some
    (disc,) = offcuts_of(ring(WORTH_MM), 0)
    assert disc.came_from == "drop"
    assert disc.area_mm2 < math.pi * WORTH_MM**2
    assert offcuts_of(ring(0.65 * WORTH_MM), 0) == ()


sides = st.floats(40, 400)


@settings(deadline=None, max_examples=25)
@given(sides, sides, sides, sides, st.floats(50, 200))
def test_kept_just_when_a_square_of_the_least_side_fits(a: float, b: float, c: float, d: float, least: float) -> None:
    """An L of two rectangles a x b and c x d at one corner: a square fits one of the two or neither."""
    ell = shapely.union_all([shapely.box(0, 0, a, b), shapely.box(0, 0, c, d)])
    assert isinstance(ell, Polygon)
    fits = max(min(a, b), min(c, d))
    if abs(fits - least) < 0.2:
        return
    assert (min(kept_rectangle(ell, least)[2:]) > 0) is (fits > least)


def test_an_outline_keeps_its_holes() -> None:
    area = shapely.box(0, 0, 300, 200) - shapely.box(50, 50, 90, 80)
    again = outline_of(area)
    assert again.area == pytest.approx(area.area)
    assert len(again.holes) == 1


def test_the_plan_as_json_holds_them() -> None:
    made = job_of(1)
    (use,) = json.loads(plan_json.to_json(made))["plates"]
    kept = offcuts_of(made, 0)
    assert [o["area_mm2"] for o in use["offcuts"]] == pytest.approx([o.area_mm2 for o in kept], abs=1e-3)
    assert use["offcuts"][0].keys() == {"outline", "rectangle_mm", "area_mm2", "mass_kg", "came_from"}


def test_nothing_of_a_plate_that_is_not_cut() -> None:
    strip = blank("strip", Outline(polygon_loop([(0, 0), (300, 0), (300, 100), (0, 100)])))
    plates = (rectangle_plate("P", 600, 400), rectangle_plate("Q", 6000, 1400))
    made = plan(Job("strip", "mm", (strip.part,), plates, layout="quick"), generic_kit())
    assert [len(offcuts_of(made, i)) for i in (0, 1)] == [1, 0]


@pytest.mark.parametrize("paper", [True, False])
def test_the_picture_shows_each_with_a_size_that_is_there(paper: bool) -> None:
    made = job_of(1)
    svg = plate_picture(made, 0, paper=paper).svg
    kept = offcuts_of(made, 0)
    assert svg.count('class="ll-kept"') == len(kept)
    for o in kept:
        wide, high = (int(v.removesuffix(" mm")) for v in clear_size(o.rectangle_mm, "mm").split(" x "))
        assert wide - 0.2 <= o.rectangle_mm[2] < wide + 1
        assert high - 0.2 <= o.rectangle_mm[3] < high + 1
        assert f"{wide} mm x {high} mm clear" in svg


def test_before_the_cuts_are_set_out_none_is_shown() -> None:
    made = replace(job_of(1), steps=(), plates=())
    assert "ll-kept" not in plate_picture(made, 0, paper=False).svg
