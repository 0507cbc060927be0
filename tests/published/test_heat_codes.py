"""Hot properties, peak temperatures and cooling against codes and handbook examples."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from lagline.trade import cooling, heat
from lagline.trade.metals import diffusivity, property_of


@pytest.mark.parametrize(("t", "c"), [(20, 439.80), (300, 564.74), (700, 1008.16), (800, 803.26)])
def test_steel_capacity(t, c):
    # EN 1993-1-2 (from memory): derived values
    assert heat.steel_capacity(t) == pytest.approx(c, abs=0.01)


def test_steel_heat_to_1200():
    # integral of c from 20 to 1200 C = 827.06 kJ/kg (derived)
    assert heat.steel_heat(20, 1200) == pytest.approx(827.06, abs=0.005)


def test_steel_heat_is_the_integral_of_the_capacity():
    for low, high in ((20, 590), (590, 610), (610, 740), (720, 905), (20, 1200)):
        edges = sorted({low, high, *(e for e in (600, 735, 900) if low < e < high)})
        total = 0.0
        for a, b in itertools.pairwise(edges):
            x, w = np.polynomial.legendre.leggauss(200)
            total += (
                (b - a)
                / 2
                * sum(wi * heat.steel_capacity((a + b) / 2 + (b - a) / 2 * xi) for xi, wi in zip(x, w, strict=True))
            )
        assert heat.steel_heat(low, high) == pytest.approx(total / 1000, rel=1e-6)


def test_conductivity_of_the_codes():
    # EN 1993-1-2: 54 - .0333 T to 800 C, 27.3 above; annex C: 14.6 + .0127 T; EN 1999-1-2: .07 T + 190 (from memory)
    assert heat.steel_conductivity(20) == pytest.approx(53.334)
    assert heat.steel_conductivity(900) == 27.3
    assert heat.stainless_conductivity(500) == pytest.approx(20.95)
    assert heat.aluminium_conductivity(20) == pytest.approx(191.4)


@pytest.mark.parametrize(
    ("metal", "capacity", "conductivity", "top"),
    [
        ("steel", heat.steel_capacity, heat.steel_conductivity, 1200),
        ("stainless", heat.stainless_capacity, heat.stainless_conductivity, 1200),
        ("aluminium", heat.aluminium_capacity, heat.aluminium_conductivity, 660),
    ],
)
def test_hot_means_in_the_table_are_the_means_of_the_codes(metal, capacity, conductivity, top):
    # the table's hot means are said to be averages of the codes' formulas from 20 C up: here they are averaged again
    t = np.linspace(20, top, 40001)
    for quantity, f in (("hot_capacity", capacity), ("hot_conductivity", conductivity)):
        mean = np.trapezoid([f(x) for x in t], t) / (top - 20)
        assert property_of(metal, quantity).value == pytest.approx(mean, rel=3e-4)


@pytest.mark.parametrize(
    ("rho", "c", "k", "alpha"),
    [(7833, 465, 53.6, 14.72), (7801, 473, 43.3, 11.74), (7832, 434, 63.9, 18.8), (2702, 903, 237, 97.1)],
)
def test_diffusivity_of_printed_rows(rho, c, k, alpha):
    # heat and mass transfer data book (seen); aluminium at 300 K Incropera App. A (seen); 1e-6 m2/s
    assert diffusivity(k, rho, c) * 1e6 == pytest.approx(alpha, abs=0.05)


PLATE = {"net_j_mm": 720.0, "thickness_mm": 5.0, "rho_c_j_mm3k": 0.0044, "melt_c": 1510.0}
# the handbook rounds sqrt(2 pi e) to 4.13: its distances are longer by this
ROUNDED = math.sqrt(2 * math.pi * math.e) / 4.13


class TestAdams:
    # AWS Welding Handbook vol. 1 ch. 3 worked examples: inputs and answers from memory, agreeing with the formulas
    net = cooling.net_input(20, 200, 0.9, 5)

    def test_net_heat(self):
        assert self.net == pytest.approx(720)

    @pytest.mark.parametrize(("y", "tp"), [(1.5, 1184.16), (3.0, 975.58)])
    def test_peak(self, y, tp):
        assert cooling.peak_temperature(y / ROUNDED, **PLATE) == pytest.approx(tp, abs=0.01)
        assert cooling.peak_distance(tp, **PLATE) * ROUNDED == pytest.approx(y, abs=1e-4)

    @pytest.mark.parametrize(("tp", "t0", "y"), [(730, 25, 5.904), (430, 25, 14.230), (430, 200, 28.404)])
    def test_distance(self, tp, t0, y):
        assert cooling.peak_distance(tp, **PLATE, ambient_c=t0) * ROUNDED == pytest.approx(y, abs=0.001)

    def test_at_the_melted_edge_it_is_the_melting_point(self):
        assert cooling.peak_temperature(0, **PLATE) == pytest.approx(1510)

    def test_cooling(self):
        # 25 V, 300 A, f 0.9, 6 mm, k 0.028: 6 K/s at 550 C wants Hnet 819.8 J/mm, 8.234 mm/s, tau 0.3185
        rate = cooling.cooling_thin(0.028, 0.0044, 6, 819.8, 550)
        assert rate == pytest.approx(6.0, abs=0.001)
        assert cooling.net_input(25, 300, 0.9, 8.234) == pytest.approx(819.8, abs=0.05)
        assert cooling.thickness_number(6, 0.0044, 550, 819.8) == pytest.approx(0.3185, abs=5e-5)

    def test_thick_and_thin_meet(self):
        # equal where tau^2 = 1 (derived): R thin / R thick = tau^2
        tau = cooling.thickness_number(10, 0.0044, 550, 1500)
        ratio = cooling.cooling_thin(0.028, 0.0044, 10, 1500, 550) / cooling.cooling_thick(0.028, 1500, 550)
        assert ratio == pytest.approx(tau**2)
