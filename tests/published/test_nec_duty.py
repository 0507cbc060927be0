"""Duty and supply against NEC (NFPA 70) 2008 article 630 and the rating rules."""

from __future__ import annotations

import math

import pytest

from lagline.data import table
from lagline.trade.duty import (
    allowed_share,
    effective_supply,
    group_supply,
    limit_cycle_peak,
    rest_for,
    square_rule,
    supply_multiplier,
)
from lagline.trade.pace import load_voltage


@pytest.mark.parametrize("row", table("nec_630_11_a").rows, ids=lambda r: r["duty_percent"])
def test_nonmotor_column_is_the_square_root_of_duty(row):
    # table 630.11(A) nonmotor = sqrt(duty) to two places (recomputed); .775 at 60 % is printed .78
    assert math.sqrt(float(row["duty_percent"]) / 100) == pytest.approx(float(row["nonmotor"]), abs=0.0055)
    assert supply_multiplier(float(row["duty_percent"])) == float(row["nonmotor"])


def test_forty_amps_at_half_duty():
    # worked: 40 A at 50 % is 28.4 A (derived from the table)
    assert 40 * supply_multiplier(50) == pytest.approx(28.4)


def test_worked_feeder():
    # 80x1.00, 70x.96, 60x.84, 50x.89, four 40x.81, four 25x.63 as listed: 336.75 A (derived from 630.11(B))
    multiplied = (80 * 1.00, 70 * 0.96, 60 * 0.84, 50 * 0.89, *[40 * 0.81] * 4, *[25 * 0.63] * 4)
    assert group_supply(multiplied) == pytest.approx(336.75, abs=0.005)


def test_between_rows_the_next_higher_duty_counts():
    assert supply_multiplier(35) == supply_multiplier(40) == 0.63
    assert supply_multiplier(5) == 0.45
    assert supply_multiplier(60, motor_generator=True) == 0.81
    with pytest.raises(ValueError, match="duty"):
        supply_multiplier(0)


def test_sixty_percent_is_six_on_four_off():
    # 10 min period: 60 % = 6 min on, 4 off (IEC 60974-1, from memory); 35 % = 3.5 on, 6.5 off (derived)
    assert rest_for(360, 0.6) == pytest.approx(240)
    assert rest_for(210, 0.35) == pytest.approx(390)


def test_square_rule():
    # X2 = X1 (I1/I2)^2, cap 100 % (derived)
    assert square_rule(50, 65, 0.4) == pytest.approx(0.676)
    assert square_rule(40, 65, 0.4) == 1.0


def test_effective_current():
    # I1eff = sqrt(I1^2 X + I0^2 (1 - X)) (IEC 60974-1, from memory): without idle current it is the NEC root rule
    assert effective_supply(40, 0, 0.5) == pytest.approx(40 * math.sqrt(0.5))
    assert effective_supply(40, 3, 1.0) == 40


def test_limit_cycle_ends():
    # -> X for tau >> Tc, -> 1 for tau << Tc (derived)
    assert limit_cycle_peak(0.4, 600, 1e8) == pytest.approx(0.4, rel=1e-4)
    assert limit_cycle_peak(0.4, 600, 1.0) == pytest.approx(1.0, rel=1e-12)


def test_duty_points_are_met_and_the_square_rule_goes_beyond():
    points = ((65.0, 0.4), (40.0, 1.0), (50.0, 0.6))
    for amps, share in points:
        assert allowed_share(amps, points) == pytest.approx(share)
    assert allowed_share(80, points) == pytest.approx(square_rule(80, 65, 0.4))
    assert allowed_share(20, points) == 1.0
    assert 0.4 < allowed_share(57, points) < 0.6
    for bad in ((), ((65.0, 0.0),), ((65.0, 40.0),)):
        with pytest.raises(ValueError, match="duty points"):
            allowed_share(50, bad)


def test_conventional_load_voltage():
    # U2 = 80 + 0.4 I2 to 300 A, then 200 V; gouging 100 + 0.4 I2, then 220 V (IEC 60974-1, from memory)
    assert [load_voltage(i) for i in (0, 45, 300, 400)] == pytest.approx([80, 98, 200, 200])
    assert [load_voltage(i, gouging=True) for i in (45, 300, 400)] == pytest.approx([118, 220, 220])
