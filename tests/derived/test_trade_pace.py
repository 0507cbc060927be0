"""Laws of the pace: monotone, exactly invertible, anchored, and its spread composed as it says."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.records.figure import Basis
from lagline.trade import pace
from lagline.trade.heat import cylinder_loss
from lagline.trade.kerf import from_bore
from lagline.trade.metals import METALS, hot_diffusivity, property_of
from lagline.trade.severance import edge_limit, pierce_limit

sys.path.insert(0, str(Path(__file__).parents[1]))
from kits import IPM, generic_kit

POWER = generic_kit().power
RATED_KERF = 1.95
ANCHOR = pace.Anchor(POWER, POWER.rated_thickness_mm.value, RATED_KERF)
metals = st.sampled_from(METALS)
thicknesses = st.floats(0.8, 60)
amps = st.floats(15, 130)
kerfs = st.floats(0.8, 4)


@given(metals, st.floats(0.01, 500), kerfs)
@settings(deadline=None, max_examples=60)
def test_pace_and_heat_are_each_others_inverse(metal, v, kerf):
    assert pace.pace_from_heat(metal, pace.heat_needed(metal, v, kerf), kerf) == pytest.approx(v, rel=1e-7)


@given(metals, thicknesses, amps, kerfs, st.floats(1.01, 3))
@settings(deadline=None, max_examples=60)
def test_pace_falls_with_thickness_and_kerf_and_rises_with_current(metal, t, i, k, factor):
    v = pace.pace_value(ANCHOR, metal, t, i, k)
    others = (
        v / pace.pace_value(ANCHOR, metal, t * factor, i, k),
        v / pace.pace_value(ANCHOR, metal, t, i, k * factor),
        pace.pace_value(ANCHOR, metal, t, i * factor, k) / v,
    )
    # under a thousandth of a millimetre in a second nothing is cut, and the solver may rest on its floor
    assert all(ratio > 1 for ratio in others) or v < 1e-3


@given(metals, st.floats(1, 100), amps, kerfs)
@settings(deadline=None, max_examples=60)
def test_thickness_at_a_pace_is_the_exact_inverse(metal, v, i, k):
    t = pace.thickness_at_pace(ANCHOR, metal, v, i, k)
    assert pace.pace_value(ANCHOR, metal, t, i, k) == pytest.approx(v, rel=1e-6)


def test_heat_needed_in_plain_figures():
    # 10 in/min, 2 mm kerf, steel, by hand from the table: 7850 kg/m3, 1.3 MJ/kg, 35.92 W/mK, 1490 K, 700.9 J/kgK
    v, k = 10 * IPM, 2.0
    melt = v * k * 7850e-9 * 1.3e6
    pe = v * 1.0 / (35.92 / (7850 * 700.9) * 1e6)
    assert pace.heat_needed("steel", v, k) == pytest.approx(melt + cylinder_loss(pe) * 35.92e-3 * 1490, rel=1e-9)
    assert melt == pytest.approx(86.4, abs=0.1)


def test_anchor_is_met_whatever_the_voltage():
    for volts in (0.0, 90.0, 140.0):
        power = generic_kit(load_voltage_v=volts).power
        anchor = pace.Anchor(power, 19.05, RATED_KERF)
        assert pace.pace_value(anchor, "steel", 19.05, 65, RATED_KERF) == pytest.approx(10 * IPM, rel=1e-9)


def test_effective_share_of_an_ordinary_set_is_a_share():
    # 0.3 to 0.6 of V I is the trade's guess for a plain 1/t rule: common practice, no source; the balance asks more
    assert 0.4 < pace.efficiency(ANCHOR) < 0.8


@given(metals, thicknesses, amps)
@settings(deadline=None, max_examples=40)
def test_other_metals_stay_within_the_trades_ratio(metal, t, i):
    # stainless 10-20 % slower; aluminium x1.2-1.5: common practice, no source
    ratio = property_of(metal, "pace_ratio")
    of_steel = pace.pace_value(ANCHOR, metal, t, i, 1.9) / pace.pace_value(ANCHOR, "steel", t, i, 1.9)
    assert ratio.low - 1e-9 <= of_steel <= ratio.high + 1e-9


def test_between_one_over_t_and_faster():
    # near capacity 1/t is optimistic on thick plate: halving the thickness more than doubles the pace (derived)
    thick, half = (pace.pace_value(ANCHOR, "steel", t, 65, 1.9) for t in (19.05, 19.05 / 2))
    assert half > 2 * thick
    # very thin, conduction fades against the slot and the rule tends to 1/t
    v1, v2 = (pace.pace_value(ANCHOR, "steel", t, 65, 1.9) for t in (0.02, 0.01))
    assert v2 / v1 == pytest.approx(2, rel=0.05)


@given(metals, st.floats(1.5, 30), st.floats(20, 65))
@settings(deadline=None, max_examples=30)
def test_spread_holds_the_value_and_is_the_root_sum_of_its_shares(metal, t, i):
    kerf = from_bore(1.3, i)
    value, shares = pace.pace_shares(POWER, RATED_KERF, metal, t, i, kerf)
    figure = pace.pace_figure(POWER, RATED_KERF, metal, t, i, kerf)
    assert figure.low < figure.value == value < figure.high
    assert figure.basis is Basis.DEFAULT
    for share in shares:
        assert share.low <= 1 + 1e-9 <= share.high + 2e-9
        assert figure.low <= value * share.low * (1 + 1e-9)
        assert figure.high >= value * share.high * (1 - 1e-9)
    down = math.sqrt(sum(math.log(s.low) ** 2 for s in shares))
    assert figure.low == pytest.approx(value * math.exp(-down), rel=1e-6)
    assert sum("spread from" in name for name, _ in figure.inputs) == len(shares)


def test_default_band_is_about_a_factor_two():
    kerf = from_bore(1.3, 65)
    figure = pace.pace_figure(POWER, RATED_KERF, "steel", 9.525, 65, kerf)
    assert 1.7 < figure.high / figure.low < 2.6


@given(metals, st.floats(20, 64))
@settings(deadline=None, max_examples=30)
def test_edge_limit_rises_with_current_and_pierce_stays_below(metal, i):
    kerf = from_bore(1.3, 65)
    low, high = (edge_limit(POWER, RATED_KERF, metal, a, kerf) for a in (i, i + 1))
    assert low.value < high.value
    assert pierce_limit(POWER, low).high < low.high
    # at its own edge limit every metal moves at the rated pace
    at = pace.pace_value(ANCHOR, metal, low.value, i, kerf.value)
    assert at == pytest.approx(10 * IPM, rel=1e-6)


def test_rated_plate_is_the_edge_limit_in_steel():
    kerf = from_bore(1.3, 65)
    figure = edge_limit(POWER, RATED_KERF, "steel", 65, kerf)
    assert kerf.value == pytest.approx(RATED_KERF)
    assert figure.value == pytest.approx(POWER.rated_thickness_mm.value)


def test_held_pace_is_the_hands():
    figure = pace.pace_figure(POWER, RATED_KERF, "steel", 1.5, 30, from_bore(1.1, 30))
    held = pace.held(figure, 15 * IPM, 40 * IPM)
    assert held.value == 40 * IPM < figure.value
    assert held.formula == "pace.held"
    assert held.basis is Basis.KIT
    assert pace.held(figure, 1.0, 1e4) is figure


def test_nothing_to_cut_with_is_no_pace_and_no_crash():
    assert 0 < pace.pace_from_heat("aluminium", 1e-6, 2.0) < 1e-3
    assert 0 < pace.pace_from_heat("steel", 1e9, 2.0) < math.inf


def test_voltage_follows_the_conventional_slope():
    power = generic_kit(load_voltage_v=110.0).power
    assert pace.voltage_at(power, 65) == 110
    assert pace.voltage_at(power, 45) == pytest.approx(110 - 0.4 * 20)
    assert pace.voltage_at(POWER, 45) == pytest.approx(98)


def test_diffusivities_are_of_the_right_size():
    # published at room temperature: steel 12-19, 304 3.95, aluminium 84-97 (1e-6 m2/s); hot means lie below or near
    assert [round(hot_diffusivity(m) * 1e6, 1) for m in METALS] == [6.5, 5.3, 76.0]
