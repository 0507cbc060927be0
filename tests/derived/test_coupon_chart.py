"""Pace against thickness for a bench, and currents compared."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.planning.coupon_plan import plan_coupon
from lagline.planning.kit_file import generic_kit
from lagline.planning.pace_chart import chord_mm, compare_currents, pace_chart, points
from lagline.planning.settings import currents
from lagline.records.coupon import Learned
from lagline.records.figure import Basis
from lagline.trade.coupon_fit import believe, without

sys.path.insert(0, str(Path(__file__).parents[1]))
from simulated_bench import Bench, cut_as_planned

KIT = generic_kit()
TIP, METAL, T, AMPS = "65 A", "steel", 9.525, 65.0
BENCH = Bench.drawn(14, KIT, TIP, METAL, T, AMPS)
COUPON = cut_as_planned(BENCH, plan_coupon(KIT, METAL, T, AMPS, TIP), "c-1", 1)
LEARNED = Learned((believe(KIT, TIP, METAL, (COUPON,))[0],))


def test_every_line_falls_with_thickness_and_keeps_its_order():
    chart = pace_chart(KIT, LEARNED, TIP, METAL, AMPS, (COUPON,))
    for name in ("slow", "mid", "fast", "sever"):
        values = [getattr(r, name).value for r in chart.rows]
        assert values == sorted(values, reverse=True)
    for r in chart.rows:
        assert r.slow.value < r.mid.value < r.fast.value < r.sever.value
        assert r.mid.basis is Basis.COUPON
    assert "c-1" in chart.source
    assert [p.coupon for p in chart.points] == ["c-1"] * 3


def test_points_are_the_cuts_that_count():
    told = points((COUPON,))
    assert [p.pace_mm_s for p in told] == [pytest.approx(c.length_mm / c.seconds) for c in COUPON.cuts]
    assert all(p.seen for p in told)
    assert len(points((without(COUPON, ("cuts[1].seconds",)),))) == 2


def test_without_coupons_the_chart_says_default():
    chart = pace_chart(KIT, Learned(), TIP, METAL, AMPS)
    assert chart.points == ()
    assert chart.rows[0].mid.basis is Basis.DEFAULT


def test_effects_are_stated():
    chart = pace_chart(KIT, LEARNED, TIP, METAL, AMPS)
    by = {e.what: e for e in chart.effects}
    assert 1 > by["bevel 15 deg"].factor > by["bevel 30 deg"].factor > by["bevel 45 deg"].factor > 0
    assert next(e for w, e in by.items() if w.startswith("pipe")).factor < 1
    assert next(e for w, e in by.items() if w.startswith("tip")).factor == pytest.approx(math.exp(-0.1))
    assert next(e for w, e in by.items() if "galvanising" in w).factor is None


@given(st.floats(20, 300), st.floats(0.02, 0.45), st.floats(0, 0.999))
@settings(deadline=None, max_examples=60)
def test_chord_of_a_pipe_wall(outside, share, off):
    wall, y = outside * share, off * outside / 2
    chord = chord_mm(outside, wall, y)
    assert chord >= wall * (1 - 1e-9) or y > outside / 2 - wall  # never less than the wall until past the bore
    assert chord_mm(outside, wall, 0.0) == pytest.approx(wall)
    assert chord_mm(outside, wall, outside) == 0


@pytest.mark.parametrize(("outside", "wall"), [(60.3, 3.9), (114.3, 6.0), (50.0, 20.0)])
def test_chords_over_the_whole_width_make_up_the_ring(outside, wall):
    n = 20000
    ys = [(i + 0.5) * outside / 2 / n for i in range(n)]
    # over the bore the arc meets the near wall only, half of what lies there
    both = sum(chord_mm(outside, wall, y) * (2 if y < outside / 2 - wall else 1) for y in ys)
    ring = math.pi / 4 * (outside**2 - (outside - 2 * wall) ** 2)
    assert 2 * both * outside / 2 / n == pytest.approx(ring, rel=1e-3)


@pytest.mark.parametrize("t", [3.175, 6.35, 9.525])
def test_the_best_current_has_its_middle_in_the_hand_and_most_room(t):
    told = compare_currents(KIT, LEARNED, METAL, t, currents(KIT))
    best = told[0]
    assert best.in_hand
    assert KIT.operator.pace_low_mm_s <= best.mid.value <= KIT.operator.pace_high_mm_s
    assert best.room_mm_s == max(c.room_mm_s for c in told if c.in_hand)
    assert {c.current_a for c in told} == set(currents(KIT))


def test_thicker_wants_more_current_and_none_beyond_the_tips():
    best = [compare_currents(KIT, Learned(), METAL, t, currents(KIT))[0].current_a for t in (3.175, 6.35, 9.525)]
    assert best == sorted(best)
    assert compare_currents(KIT, Learned(), METAL, 6.35, (80.0,)) == ()
