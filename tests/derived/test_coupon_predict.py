"""Figures from a belief: they hang together, invert each other, and name their coupons."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.planning.coupon_plan import plan_coupon
from lagline.planning.kit_file import generic_kit
from lagline.records.figure import Basis
from lagline.trade import coupon_measure as measure
from lagline.trade import coupon_model as m
from lagline.trade import coupon_predict as predict
from lagline.trade import pace
from lagline.trade.coupon_fit import as_belief, believe
from lagline.trade.kerf import kerf_of_tip
from lagline.trade.metals import METALS
from lagline.trade.register import get

sys.path.insert(0, str(Path(__file__).parents[1]))
from simulated_bench import Bench, cut_as_planned

KIT = generic_kit()
TIP, METAL, T, AMPS = "65 A", "steel", 9.525, 65.0
BENCH = Bench.drawn(33, KIT, TIP, METAL, T, AMPS)
BELIEF, _ = believe(KIT, TIP, METAL, (cut_as_planned(BENCH, plan_coupon(KIT, METAL, T, AMPS, TIP), "c-1", 1),))
SIGHT = predict.sight(KIT, BELIEF)
thick = st.floats(3.0, 16.0)


@pytest.mark.parametrize("metal", METALS)
@pytest.mark.parametrize("t", [3.0, 6.35, 12.7])
def test_without_coupons_mid_pace_and_kerf_are_the_defaults(metal, t):
    c = m.condition(KIT, TIP, metal, t, 65.0)
    mean = m.prior(KIT, TIP, metal).mean[None]
    width = kerf_of_tip(m.tip_of(KIT, TIP), 65.0).value
    anchor = pace.Anchor(KIT.power, KIT.power.rated_thickness_mm.value, m._rated_kerf(KIT))
    assert math.exp(m.ln_mid(mean, c)[0]) == pytest.approx(pace.pace_value(anchor, metal, t, 65.0, width), rel=1e-9)
    assert m.kerf_at(mean, c)[0] == pytest.approx(width, rel=1e-12)


@given(st.sampled_from(("steel", "stainless")), thick, st.floats(-0.4, 0.4), st.floats(-0.25, 0.25))
@settings(deadline=None, max_examples=25)
def test_the_bend_with_power_and_kerf_is_the_full_balance(metal, t, power, kerf):
    # the polynomial and v ~ 1/k against the heat balance solved anew at the shifted power and kerf
    c = m.condition(KIT, TIP, metal, t, 65.0)
    theta = m.prior(KIT, TIP, metal).mean[None].copy()
    theta[0, m.POWER], theta[0, m.KERF] = power, kerf
    heat = pace.heat_needed(metal, math.exp(c.ln_v0), math.exp(c.ln_k0)) * math.exp(power)
    exact = pace.pace_from_heat(metal, heat, math.exp(c.ln_k0 + kerf))
    assert float(m.ln_mid(theta, c)[0]) == pytest.approx(math.log(exact), abs=0.01)


@given(thick, st.floats(4.0, 20.0))
@settings(deadline=None, max_examples=25)
def test_thickness_at_a_pace_is_the_inverse(t, v):
    c = SIGHT.at(t, AMPS)
    found = np.exp(predict.ln_thickness_at(SIGHT.mean, c, math.log(v)))[0]
    if 0.5 * t < found < 2 * t:
        back = SIGHT.at(float(found), AMPS)
        assert math.exp(m.ln_mid(SIGHT.mean, back)[0]) == pytest.approx(v, rel=0.02)


@given(thick)
@settings(deadline=None, max_examples=20)
def test_offsets_edges_and_limits_hang_together(t):
    c = SIGHT.at(t, AMPS)
    kept, drop = predict.offsets(SIGHT, c)
    k, cup = predict.kerf(SIGHT, c), predict.cup(SIGHT)
    assert kept.value + drop.value == pytest.approx(2 * cup.value)  # R - k/2 and R + k/2
    assert drop.value - kept.value == pytest.approx(k.value)
    slow, fast, sever = predict.edges(SIGHT, c)
    mid = predict.mid_pace(SIGHT, c)
    assert math.sqrt(slow.value * fast.value) == pytest.approx(mid.value)  # by definition of mid
    assert slow.value < mid.value < fast.value < sever.value
    assert predict.kerf(SIGHT, c, mid.value).value == pytest.approx(k.value)
    for f in (kept, drop, k, cup, slow, fast, sever, mid):
        assert f.low <= f.value <= f.high
        assert f.basis is Basis.COUPON
        assert "c-1 of 2031-05-01" in f.source
        assert get(f.formula).source


def test_the_kept_offset_is_tighter_than_cup_and_kerf_apart():
    # R and k come from the same readings: their errors are not independent, and a plain sum of limits is too wide
    c = SIGHT.at(T, AMPS)
    kept, _ = predict.offsets(SIGHT, c)
    apart = predict.cup(SIGHT).half_spread + predict.kerf(SIGHT, c).half_spread / 2
    assert kept.half_spread < apart


def test_further_from_the_coupon_is_less_sure():
    def spread(t):
        f = predict.mid_pace(SIGHT, SIGHT.at(t, AMPS))
        return math.log(f.high / f.low)

    assert spread(T) < spread(4.0)
    assert spread(T) < spread(20.0)


def test_bevel_slows_by_true_thickness():
    flat = predict.mid_pace(SIGHT, SIGHT.at(T / math.cos(math.radians(30)), AMPS))
    assert predict.mid_pace(SIGHT, SIGHT.at(T, AMPS, 30.0)).value == pytest.approx(flat.value)


def test_lag_grows_with_pace_and_crater_with_thickness():
    c = SIGHT.at(T, AMPS)
    assert predict.lag(SIGHT, c, 6.0).value < predict.lag(SIGHT, c, 10.0).value
    assert predict.crater_radius(SIGHT, 12.7).value == pytest.approx(2 * predict.crater_radius(SIGHT, 6.35).value)
    right, left = predict.bevels(SIGHT)
    assert right.value < left.value


def test_without_coupons_figures_say_so():
    s = predict.sight(KIT, as_belief(m.prior(KIT, TIP, METAL), TIP, METAL))
    f = predict.mid_pace(s, s.at(T, AMPS))
    assert f.basis is Basis.DEFAULT
    assert "no coupon yet" in f.source


@given(st.floats(-3, 3), st.floats(0.02, 1.5))
@settings(deadline=None, max_examples=40)
def test_chances_of_words_sum_to_one_and_turn_over(x, half):
    p = measure.dross_chances(np.array(x), np.array(half))
    assert p.sum() == pytest.approx(1)
    assert (p > 0).all()
    mirrored = measure.dross_chances(np.array(-x), np.array(half))
    assert mirrored == pytest.approx(p[::-1])
