"""The moving cylinder against exact values and against a hundred-digit sum of its own."""

from __future__ import annotations

import math
from decimal import Decimal, getcontext, localcontext
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.trade.heat import SERIES_FROM_PE, cylinder_loss, cylinder_loss_fit, front_flux, front_half
from lagline.trade.register import out_of_range

# exact values: Pe, Q'/(k dT), loss beyond 2 Pe, 4 (Pe/2)^0.36, fit/exact (derived)
EXACT = (
    (0.1, 2.003052, 1.803052, 1.3605, 0.755),
    (0.2, 2.531507, 2.131507, 1.7461, 0.819),
    (0.5, 3.720567, 2.720567, 2.4284, 0.893),
    (1, 5.324482, 3.324482, 3.1167, 0.937),
    (2, 8.106458, 4.106458, 4.0000, 0.974),
    (3, 10.663896, 4.663896, 4.6286, 0.992),
    (4, 13.111141, 5.111141, 5.1337, 1.004),
    (5, 15.490598, 5.490598, 5.5631, 1.013),
    (7, 20.121562, 6.121562, 6.2795, 1.026),
    (10, 26.875496, 6.875496, 7.1399, 1.038),
    (20, 48.631495, 8.631495, 9.1635, 1.062),
    (40, 90.851942, 10.851942, 11.7606, 1.084),
)
FRONT = (
    (0.02, 0.70089),
    (0.1, 1.17038),
    (0.2, 1.58971),
    (0.5, 2.61022),
    (1, 4.05666),
    (2, 6.63604),
    (4, 11.37251),
    (5, 13.64839),
    (10, 24.64736),
)


@pytest.mark.parametrize(("pe", "total", "loss", "fit", "ratio"), EXACT)
def test_tabulated_exact_values(pe, total, loss, fit, ratio):
    assert cylinder_loss(pe) == pytest.approx(loss, abs=1e-6)
    assert cylinder_loss(pe) + 2 * pe == pytest.approx(total, abs=1e-6)
    assert cylinder_loss_fit(pe) == pytest.approx(fit, abs=6e-5)
    assert cylinder_loss_fit(pe) / cylinder_loss(pe) == pytest.approx(ratio, abs=6e-4)


@pytest.mark.parametrize(("pe", "flux"), FRONT)
def test_front_half(pe, flux):
    # leading half only, over k dT (derived, by quadrature of the series)
    assert front_half(pe) == pytest.approx(flux, abs=2e-5)


@pytest.mark.parametrize("pe", [0.1, 1.0, 5.0])
def test_flux_all_round_is_the_whole(pe):
    # a second way to the total: the local flux integrated over the full turn
    n = 720
    mean = math.fsum(front_flux(pe, 2 * math.pi * i / n) for i in range(n)) / n
    assert 2 * math.pi * mean == pytest.approx(cylinder_loss(pe) + 2 * pe, rel=1e-9)


def test_using_the_wrong_pe_overstates_the_loss():
    # with v a/alpha in place of v a/(2 alpha): 28 %; with v w/alpha: 65 % (derived: 2^.36, 4^.36)
    assert cylinder_loss_fit(2 * 4) / cylinder_loss_fit(4) == pytest.approx(1.28, abs=0.005)
    assert cylinder_loss_fit(4 * 4) / cylinder_loss_fit(4) == pytest.approx(1.65, abs=0.005)


def test_the_fit_says_where_it_ends():
    assert out_of_range("heat.cylinder-loss-fit", "x", pe=0.5)
    assert not out_of_range("heat.cylinder-loss-fit", "x", pe=5)


@cache
def _gamma(digits: int) -> Decimal:
    """Euler's constant (Brent and McMillan 1980)."""
    getcontext().prec = digits + 10
    n = int(0.6 * digits) + 5
    a, b, t, h, k = Decimal(0), Decimal(0), Decimal(1), Decimal(0), 0
    while k < n or t > Decimal(10) ** (-digits - 8):
        a, b, k = a + t * h, b + t, k + 1
        t, h = t * Decimal(n) ** 2 / (k * k), h + Decimal(1) / k
    return a / b - Decimal(n).ln()


def _pi(digits: int) -> Decimal:
    def arctan_of_one_over(x: int) -> Decimal:
        t = total = Decimal(1) / x
        k = 1
        while abs(t / k) > Decimal(10) ** (-digits - 8):
            t, k = -t / (x * x), k + 2
            total += t / k
        return total

    return 4 * (4 * arctan_of_one_over(5) - arctan_of_one_over(239))


def long_sum(pe: float) -> float:
    """Loss by 2 pi SUM eps_n (-1)^n I_n/K_n - 2 Pe with own Bessel functions in enough digits to survive e^Pe."""
    digits = int(0.9 * pe) + 60
    with localcontext() as context:
        context.prec = digits
        p = Decimal(repr(pe)) / 2
        top = int(3 * pe) + 2 * digits
        i = [Decimal(0)] * (top + 2)
        i[top] = Decimal(10) ** (-3 * digits)
        for n in range(top, 0, -1):  # downwards, then scaled by I_0 + 2 SUM I_n = e^p
            i[n - 1] = 2 * n / p * i[n] + i[n + 1]
        scale = p.exp() / (i[0] + 2 * sum(i[1:]))
        i = [x * scale for x in i]
        k = [-((p / 2).ln() + _gamma(digits)) * i[0] + 2 * sum(i[2 * j] / j for j in range(1, top // 2))]
        k.append((1 / p - i[1] * k[0]) / i[0])  # Wronskian
        for n in range(1, top // 2):
            k.append(2 * n / p * k[n] + k[n - 1])
        total = sum((1 if n == 0 else 2) * (-1) ** n * i[n] / k[n] for n in range(top // 2))
        return float(2 * _pi(digits) * total - 2 * Decimal(repr(pe)))


@pytest.mark.parametrize("pe", [0.01, 0.3, 3.0, 12.0, 14.99, 15.0, 20.0, 25.0, 60.0, 150.0])
def test_against_a_hundred_digits(pe):
    assert cylinder_loss(pe) == pytest.approx(long_sum(pe), rel=2e-8)


@pytest.mark.deep
@pytest.mark.parametrize("pe", [1e-6, 1e-3, 18.0, 20.5, 22.0, 30.0, 90.0, 240.0, 500.0])
def test_against_many_more_digits(pe):
    assert cylinder_loss(pe) == pytest.approx(long_sum(pe), rel=2e-8)


def test_no_step_where_the_series_takes_over():
    below, above = cylinder_loss(SERIES_FROM_PE * (1 - 1e-9)), cylinder_loss(SERIES_FROM_PE)
    assert below == pytest.approx(above, rel=1e-6)


@given(st.floats(1e-9, 1e4), st.floats(1.0001, 3))
@settings(deadline=None, max_examples=120)
def test_loss_rises_with_pe(pe, factor):
    assert 0 < cylinder_loss(pe) < cylinder_loss(pe * factor)


def test_slow_limit_and_fast_limit():
    # a cylinder at rest loses nothing in the long run; slow: 2 pi/(ln(4/Pe) - gamma); fast: 2^(5/3) .996 Pe^(1/3)
    assert cylinder_loss(0) == 0
    assert cylinder_loss(1e-9) == pytest.approx(2 * math.pi / (math.log(4e9) - 0.5772156649), rel=1e-6)
    assert cylinder_loss(1e4) == pytest.approx(4 * 0.99619302 * 5000 ** (1 / 3), rel=1e-4)
    with pytest.raises(ValueError, match="Pe"):
        cylinder_loss(-1)
    with pytest.raises(ValueError, match="Pe"):
        cylinder_loss(math.nan)
