"""The set's warmth against the definition of the duty factor, and cord and breaker figures."""

from __future__ import annotations

import math

import pytest

from lagline.data import table
from lagline.trade.duty import PERIOD_S, limit_cycle_peak, supply_multiplier
from lagline.trade.set_heat import level, longest_s, rhythm_share, set_heat, start_for, warmth_after
from lagline.trade.supply import ampacity_a, cord_drop_v, cord_ohm, drawn_a, generator_kva, input_kva, output_a

FOOT_M = 0.3048


@pytest.mark.parametrize(
    ("amps", "volts", "feet", "awg", "percent"),
    [(30, 240, 50, "12", 2.0), (30, 240, 100, "12", 4.0), (30, 240, 100, "10", 2.5), (20, 120, 50, "14", 4.2),
     (20, 120, 100, "14", 8.4)],
)  # fmt: skip
def test_cord_drop(amps, volts, feet, awg, percent):
    # round trip, copper at 20 C, 1.588, 0.999, 2.525 ohm per 1000 ft (derived)
    assert 100 * cord_drop_v(amps, feet * FOOT_M, awg) / volts == pytest.approx(percent, abs=0.05)


def test_table_of_conductors_is_the_gauge():
    # 0.127 mm x 92^((36 - n)/39), ASTM B258 (from memory); 1/58 ohm mm2/m, IEC 60028 (from memory)
    for r in table("awg").rows:
        d = 0.127 * 92 ** ((36 - int(r["awg"])) / 39)
        assert float(r["diameter_mm"]) == pytest.approx(d, abs=6e-4)
        assert float(r["ohm_per_1000ft"]) == pytest.approx(304.8 / 58 / (math.pi / 4 * d * d), rel=1e-3)
    # every third gauge doubles the area, as the trade knows it
    assert cord_ohm(100, "12") == pytest.approx(cord_ohm(100, "10") * 1.59, rel=0.01)
    assert ampacity_a("10", 1) == 30
    assert ampacity_a("10", 3) == 25


def test_nec_28_4_amperes():
    # 40 A at 50 %: 28.4 A (derived from NEC 2008 table 630.11(A)); a 10 AWG cord carries it, a 12 AWG does not
    need = 40 * supply_multiplier(50)
    assert need == pytest.approx(28.4)
    assert ampacity_a("12", 1) < need <= ampacity_a("10", 1)


def test_input_and_back():
    # U2 = 80 + 0.4 I2 (IEC 60974-1, from memory): 65 A at 106 V is 6.89 kW; over 0.85 and 0.9, 9.0 kVA
    kva = input_kva(65, 106, 0.85, 0.9)
    assert kva == pytest.approx(9.007, abs=1e-3)
    ohm = cord_ohm(30, "8", warm=True)
    line = drawn_a(kva, 240, 1, ohm)
    assert line * (240 - ohm * line) == pytest.approx(1000 * kva)
    assert output_a(line, 240, 1, ohm, 80, 0.85, 0.9) == pytest.approx(65)
    assert drawn_a(kva, 240, 1, 0) == pytest.approx(1000 * kva / 240)
    assert drawn_a(kva, 240, 1, 10) == math.inf
    assert drawn_a(kva, 400, 3, 0) == pytest.approx(1000 * kva / 400 / math.sqrt(3))
    # 1.3 to 1.5 times the set's kVA: common practice, no source
    assert generator_kva(10) == (14, 13, 15)


def test_time_constant_comes_back_from_points_made_with_it():
    for tau in (200.0, 600.0, 1500.0):
        full = 40.0
        points = tuple((full / math.sqrt(limit_cycle_peak(x, PERIOD_S, tau)), x) for x in (0.35, 0.6, 1.0))
        for some in (points, points[::2]):
            heat = set_heat(some)
            assert heat is not None
            assert heat.tau_s == pytest.approx(tau, rel=1e-3)
            assert heat.full_a == pytest.approx(full, rel=1e-6)
            assert heat.tau_low_s < heat.tau_s < heat.tau_high_s
            for amps, x in some:
                assert rhythm_share(heat.final(amps), 1.0, heat.tau_s) == pytest.approx(x, rel=1e-6)


def test_rhythm_of_the_plate_brings_the_set_just_to_its_limit():
    # limit cycle, first order (derived): peak/final = (1 - e^(-X Tc/tau))/(1 - e^(-Tc/tau)); played out in steps of a
    # tenth of a second until it repeats
    heat = set_heat(((60.0, 0.4), (40.0, 1.0)))
    assert heat is not None
    w, peak = 0.0, 0.0
    for _ in range(40):
        for tick in range(6000):
            on = heat.final(60.0) if tick < 2400 else 0.0
            w += (on - w) * 0.1 / heat.tau_s
            peak = max(peak, w)
    assert peak == pytest.approx(1.0, abs=2e-4)


def test_points_that_tell_no_time_constant():
    assert set_heat(((65.0, 0.4),)) is None
    # 46 A at 100 % beside 65 A at 50 % is equal heating, 65 sqrt(0.5) = 45.96, rounded
    assert set_heat(((65.0, 0.5), (46.0, 1.0))) is None
    assert set_heat(((85.0, 0.6), (66.0, 1.0))) is None
    assert set_heat(((65.0, 0.4), (50.0, 0.6), (40.0, 1.0))) is None  # steeper than equal heating
    for bad in ((), ((65.0, 0.0),), ((-1.0, 0.5),), ((65.0, math.nan),), ((65.0, 40.0),)):
        with pytest.raises(ValueError, match="duty points"):
            set_heat(bad)


def test_longest_rest_and_warmth_agree():
    tau, final = 600.0, 1.6
    t = longest_s(0.3, final, 1.0, tau)
    assert warmth_after(0.3, final, t, tau) == pytest.approx(1.0)
    assert start_for(t, final, 1.0, tau) == pytest.approx(0.3)
    assert longest_s(0.3, 0.9, 1.0, tau) == math.inf
    assert start_for(1e9, final, 1.0, tau) < 0


def test_ambient_is_the_ratings_at_40_c():
    # duty is rated in air at 40 C, IEC 60974-1 (from memory)
    assert level(40) == 1
    assert level(50) == pytest.approx(0.75)
    assert level(20) == pytest.approx(1.2)
