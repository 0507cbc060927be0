"""The heat of a plan: by the clock, told at the bench; drawn; and the ways to cut a strip."""

from __future__ import annotations

import itertools
import json
import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from lagline.cards.draw_heat import heat_svg
from lagline.cards.heat_on_card import card_heat
from lagline.cards.isolines import isolines, over
from lagline.cli.main import app
from lagline.planning.chain import plan as make_plan
from lagline.planning.heat import AIR_C, Halted, heat_of
from lagline.planning.heat_notes import bands, flat_findings, heat_findings, strip_bows
from lagline.planning.heat_order import instead
from lagline.planning.heat_tracks import burns_of, heat_left_j_mm
from lagline.planning.job_file import job_from_text
from lagline.planning.kit_file import generic_kit
from lagline.records.figure import Basis, Figure
from lagline.trade.bow import edge_heat_j_mm, strip_camber
from lagline.trade.bow_remedy import dish_depth_mm, dish_ratio, evens_out_s, hot_camber_mm, left_of_both
from lagline.trade.heat_plate import warm

JOB = """
name = "straps and a ring"
units = "mm"
stock = { metal = "steel", thickness = 6 }
parts = [{ name = "strap", shape = "rectangle", width = 420, height = 45, quantity = 2 },
         { name = "ring", shape = "ring", outside = 150, inside = 80 }]
plates = [{ name = "A", width = 600, height = 300 }]
layout = "quick"
"""


def planned(text=JOB):
    from pathlib import Path

    job, _ = job_from_text(text, Path(), "job.toml")
    return make_plan(job, generic_kit())


@pytest.fixture(scope="module")
def plan():
    return planned()


@pytest.fixture(scope="module")
def heat(plan):
    (only,) = heat_of(plan, frames=6)
    return only


def hurried(plan, factor):
    """The same plan with its rests and set-ups shrunk: every step struck as soon as the one before is done."""
    now, clocks = 0.0, []
    for c in plan.timetable.clocks:
        wait = factor * (c.end_s - c.arc_s - c.begin_s)
        clocks.append(replace(c, begin_s=now, end_s=now + wait + c.arc_s))
        now = clocks[-1].end_s
    return replace(plan, timetable=replace(plan.timetable, clocks=tuple(clocks)))


class TestByTheClock:
    def test_all_heat_of_all_cuts_goes_in(self, plan, heat):
        burns = burns_of(plan)
        want = sum(b.track.heat_j_mm * b.track.length_mm + b.track.stand_j for b in burns) / 1000
        assert heat.put_kj == pytest.approx(want, rel=0.03)  # run-ins over the plate's edge heat nothing
        assert heat.put_kj <= want + 1e-9
        arcs = {c.number: c for c in plan.timetable.clocks}
        for b in burns:
            assert b.struck_s + b.track.seconds == pytest.approx(arcs[b.number].end_s)

    def test_without_losses_the_last_moment_holds_all_of_it(self, plan):
        (h,) = heat_of(plan, losses=False, frames=3)
        last = h.frames[-1]
        rho_c = warm("steel").rho_c_j_mm3k * 6 * h.cell_mm**2
        assert last.rise.sum() * rho_c / 1000 == pytest.approx(h.put_kj, rel=0.02)  # squares along kerfs differ in size

    def test_rests_cool(self, plan):
        calm, quick = (heat_of(hurried(plan, f), most_work=2e8)[0] for f in (1.0, 0.02))
        assert quick.hottest_c >= calm.hottest_c  # the same where the hottest square is one that met cold metal
        assert max(q.hottest_c for q in quick.lines) > max(q.hottest_c for q in calm.lines)

    def test_a_moment_before_the_first_arc_is_cold_and_one_in_an_arc_is_not(self, plan):
        b = burns_of(plan)[0]
        (h,) = heat_of(plan, at_s=(0.0, b.struck_s + 0.6 * b.track.seconds), most_work=2e8)
        assert [f.at_s for f in h.frames] == [0.0, b.struck_s + 0.6 * b.track.seconds]
        assert h.frames[0].rise.max() == 0.0
        assert h.frames[1].rise.max() > 50

    def test_parts_are_fit_to_handle_after_they_come_loose_and_smaller_limits_take_longer(self, heat):
        assert len(heat.parts) == 3
        for p in heat.parts:
            assert p.loose_c > AIR_C
            assert p.handle_s is not None
            assert p.handle_s >= p.loose_s
            assert p.wait_s == pytest.approx(p.handle_s - p.loose_s)

    def test_a_parts_wait_is_that_of_a_lump_that_cools_to_the_air(self, heat):
        # from coming loose, when it is even again: mean rise x exp(-lambda t) = 30 K; the edge is hotter, so no sooner
        for p in heat.parts:
            if p.loose_c - AIR_C > 35:
                lump = math.log((p.loose_c - AIR_C) / 30) / heat.loss_per_s
                assert p.wait_s >= 0.97 * lump
                assert p.wait_s < lump + 600

    def test_hot_lines_are_told_with_a_wait_that_cools_them(self, plan):
        quick = hurried(plan, 0.0)
        heats = heat_of(quick, limit_c=60.0, most_work=2e8)
        told = [f for f in heat_findings(quick, heats, 60.0) if f.code == "heat-warm-line"]
        hot = [q for q in heats[0].lines if q.hottest_c > 60]
        assert len(told) == len(hot) > 0
        assert all("wait" in f.allowed for f in told)
        assert any(q.wait_s for q in hot)
        calm = heat_of(plan, limit_c=400.0, most_work=2e8)
        assert not [f for f in heat_findings(plan, calm, 400.0) if f.code == "heat-warm-line"]

    def test_what_is_cut_first_instead_waits_for_nothing_and_lies_cold(self):
        text = JOB.replace("quantity = 2", "quantity = 6")
        text = text.replace("width = 600, height = 300", "width = 900, height = 600")
        quick = hurried(planned(text), 0.0)
        limit = 60.0
        heats = heat_of(quick, limit_c=limit)
        first = instead(quick, heats[0])
        assert first
        steps, cuts = {s.number: s for s in quick.steps}, {c.id: c for c in quick.cuts}
        lines = {q.number: q for q in heats[0].lines}
        for hot, other in first.items():
            assert other > hot
            assert lines[hot].hottest_c > limit
            assert steps[other].group == 1
            done = {s.cut for s in quick.steps if s.number < hot}
            assert set(cuts[steps[other].cut].after) <= done
            assert steps[other].cut not in done
        said = [f.allowed for f in heat_findings(quick, heats, limit) if f.code == "heat-warm-line"]
        assert sum("lies cold" in text for text in said) == len(first)

    def test_it_can_be_stopped_and_tells_how_far_it_is(self, plan):
        told = []
        heat_of(plan, tell=lambda share, text: told.append(share), most_work=1e8)
        assert told == sorted(told)
        assert told[-1] <= 1.0
        with pytest.raises(Halted):
            heat_of(plan, stop=lambda: True)

    def test_a_plan_without_steps_has_no_heat(self, plan):
        none = replace(plan, steps=(), timetable=replace(plan.timetable, clocks=()))
        assert heat_of(none) == ()
        assert card_heat(none, 0)["svg"] == ""

    def test_a_huge_plate_is_worked_out_in_larger_squares_and_says_so(self):
        big = planned(JOB.replace("width = 600, height = 300", "width = 20000, height = 6000"))
        (h,) = heat_of(big, most_work=5e7)
        assert h.coarse
        assert h.solid.size < 1_050_000
        assert any(f.code == "heat-coarse" for f in heat_findings(big, (h,)))

    def test_same_plan_same_heat(self, plan, heat):
        (again,) = heat_of(plan, frames=6)
        assert np.array_equal(heat.peak, again.peak)
        assert heat_svg(plan, heat, paper=True) == heat_svg(plan, again, paper=True)


class TestBands:
    def test_the_field_agrees_with_the_handbook_where_it_resolves_the_band(self, plan, heat):
        found = [b for b in bands(plan, heat) if b.field_mm is not None]
        assert found
        for b in found:
            assert 0.7 * b.handbook_mm.low < b.field_mm < 1.5 * b.handbook_mm.high

    def test_hotter_is_narrower_and_slower_is_wider(self, plan, heat):
        widths = [b.handbook_mm.value for b in bands(plan, heat)]
        assert widths == sorted(widths, reverse=True)
        s = plan.settings[0]
        assert heat_left_j_mm(s, 5.0) > heat_left_j_mm(s, 10.0) > heat_left_j_mm(s, 20.0)


class TestPictures:
    def test_lines_carry_numbers_on_paper_and_one_hue_on_the_screen(self, plan, heat):
        paper, screen = heat_svg(plan, heat, paper=True), heat_svg(plan, heat, paper=False)
        assert 'class="ll-isoline"' in paper
        assert ">60<" in paper
        assert 'class="ll-hot"' not in paper
        assert 'class="ll-hot"' in screen
        import re

        fills = set(re.findall(r'class="ll-hot"[^>]*fill="(#\w+)"', screen))
        assert len(fills) == 1
        for text in (paper, screen):
            assert "Not believed within" in text

    @given(st.integers(0, 10**6), st.floats(0.2, 0.9))
    @settings(deadline=None, max_examples=25)
    def test_isolines_close_and_part_high_from_low(self, seed, level):
        r = np.random.default_rng(seed)
        values = np.zeros((14, 17))
        values[1:-1, 1:-1] = r.random((12, 15))
        for chain in isolines(values, level):
            assert np.allclose(chain[0], chain[-1])
        area = over(values, level, (0.0, 0.0), 1.0, 0.0)
        i, j = np.nonzero(values >= level)
        assert shapely.contains_xy(area, j.astype(float), i.astype(float)).all()
        i, j = np.nonzero(values < level - 1e-9)
        assert not shapely.contains_xy(area, j.astype(float), i.astype(float)).any()

    def test_an_isoline_of_a_cone_is_its_circle(self):
        y, x = np.mgrid[0:81, 0:81]
        cone = np.maximum(0.0, 38 - np.hypot(x - 40, y - 40))
        area = over(cone, 18.0, (-40.0, -40.0), 1.0, 0.0)
        assert area.area == pytest.approx(math.pi * 20**2, rel=2e-3)
        assert area.centroid.distance(shapely.Point(0, 0)) < 1e-6

    def test_the_card_has_one(self, plan):
        got = card_heat(plan, 0)
        assert got["svg"].startswith("<svg")
        assert any("tongs" in line for line in got["lines"])


class TestBow:
    def test_both_edges_leave_less_than_one_and_equal_ones_nothing(self):
        one = strip_camber("steel", 6, 40, 1200, 20)
        assert left_of_both(one, 20, 20, 20).value == 0
        rest = left_of_both(one, 20, 15, 26)
        assert 0 < rest.value < one.value
        assert rest.high <= one.high

    @given(st.sampled_from(["steel", "stainless", "aluminium"]), st.floats(20, 200), st.floats(2, 20))
    @settings(deadline=None, max_examples=30)
    def test_hot_bend_falls_with_width_squared_and_evens_out_with_it(self, metal, w, t):
        a, b = (hot_camber_mm(metal, t, k * w, 1000, 30) for k in (1, 2))
        assert a == pytest.approx(4 * b)
        assert evens_out_s(metal, 2 * w) == pytest.approx(4 * evens_out_s(metal, w))

    def test_thin_and_wide_dishes_and_thick_does_not(self):
        ratios = [dish_ratio("steel", t, 600, 20).value for t in (1, 2, 4, 8)]
        for a, b in itertools.pairwise(ratios):
            assert a == pytest.approx(8 * b)
        assert dish_depth_mm("steel", 8, 600, 20, 0.5) == 0
        assert dish_depth_mm("steel", 1, 600, 20, 3.0) > dish_depth_mm("steel", 1, 600, 20, 1.5) > 0

    def test_strips_of_a_plan_are_told_the_ways(self, plan):
        (strap,) = strip_bows(plan)
        assert strap.part == "strap"
        assert [w.way.split(",")[0] for w in strap.ways] == ["one long edge cut", "both long edges cut", "both"]
        assert strap.ways[0].left_mm.value > strap.ways[1].left_mm.value

    def test_thin_sheet_is_told_and_plate_is_not(self, plan):
        assert flat_findings(plan) == ()
        wide = JOB.replace("height = 45", "height = 120").replace(
            "width = 600, height = 300", "width = 900, height = 600"
        )
        thin = planned(wide.replace("thickness = 6", "thickness = 1"))
        assert any(f.code == "heat-out-of-flat" for f in flat_findings(thin))


def test_the_command_prints_one_object_and_refuses_what_makes_no_sense(tmp_path):
    path = tmp_path / "job.toml"
    path.write_text(JOB)
    run = CliRunner()
    got = run.invoke(app, ["heat", str(path), "--json", "--at", "8", "--out", str(tmp_path / "out")])
    assert got.exit_code == 0, got.output
    answer = json.loads(got.stdout)
    assert answer["plates"][0]["at"]["at_min"] == 8
    assert {p["part"] for p in answer["plates"][0]["parts"]} == {"strap #1", "strap #2", "ring"}
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["heat-0-at.svg", "heat-0.svg"]
    for bad in (["--at", "-1"], ["--at", "nan"], ["--limit", "5"]):
        refused = run.invoke(app, ["heat", str(path), "--json", *bad])
        assert refused.exit_code == 2
        assert "heat-bad-number" in refused.output
    told = run.invoke(app, ["heat", str(path)])
    assert "fit to handle" in told.output.replace("\n", " ")


def test_a_pace_of_nearly_nothing_ends_in_numbers(plan):
    s = plan.settings[0]
    fig = Figure(1e-9, 1e-9, 1e-9, "mm/s", "pace.held", Basis.KIT, "a test")
    slow = replace(plan, settings=(replace(s, pace_mm_s=fig), *plan.settings[1:]))
    (h,) = heat_of(slow, most_work=5e7)
    assert math.isfinite(h.hottest_c)
    assert math.isfinite(edge_heat_j_mm("steel", 6, 0.5, 1.8))
