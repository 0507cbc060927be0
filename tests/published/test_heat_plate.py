"""The heat field and its figures against codes, textbooks and handbook formulas."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from scipy.special import erf

from lagline.trade import heat
from lagline.trade.cooling import peak_temperature
from lagline.trade.heat_field import Field, Track
from lagline.trade.heat_plate import handle_c, line_source_rise, loss_per_s, marks, warm


def test_warm_means_are_the_codes_means():
    # EN 1993-1-2 (from memory): heat of steel from 20 to 300 C by its exact integral; k = 54 - .0333 T at 160 C
    assert warm("steel").rho_c_j_mm3k == pytest.approx(7850e-9 * heat.steel_heat(20, 300) * 1000 / 280)
    assert warm("steel").k_w_mmk == pytest.approx(0.054 - 3.33e-5 * 160)
    # annex C and EN 1999-1-2 (from memory): straight lines and a cubic, by many small steps
    t = np.linspace(20, 300, 200_001)
    assert warm("stainless").k_w_mmk == pytest.approx(1e-3 * (14.6 + 1.27e-2 * 160))
    mean = np.trapezoid(450 + 0.28 * t - 2.91e-4 * t**2 + 1.34e-7 * t**3, t) / 280
    assert warm("stainless").rho_c_j_mm3k == pytest.approx(7900e-9 * mean, rel=1e-8)
    assert warm("aluminium").rho_c_j_mm3k == pytest.approx(2700e-9 * (0.41 * 160 + 903))


def test_heat_to_1200_of_the_code():
    # EN 1993-1-2: integral of c from 20 to 1200 C = 827.06 kJ/kg (derived from the code, from memory)
    assert heat.steel_heat(20, 1200) == pytest.approx(827.06, abs=0.005)


def test_a_semi_infinite_solid_whose_face_is_held_cold():
    # Cengel Ex. 4-6: alpha .15e-6, Ti 15, Ts -10, T 0 C after 90 d at .8009 m (exact; chart .7776). Here the same
    # theta = erf(eta) at eta .37081 = .4 in a steel strip, by the field: one end held at nothing by an odd mirror
    eta = 0.37081
    assert erf(eta) == pytest.approx(0.4, abs=2e-5)
    assert 2 * eta * math.sqrt(0.15e-6 * 90 * 86400) == pytest.approx(0.8009, abs=1e-4)
    f = Field(shapely.box(0, 0, 800, 8), "steel", 10.0, 4.0)
    x = f.x0 + 4.0 * np.arange(f.rise.shape[1])
    f.rise[:] = np.where(f.metal, np.where(x > 400, 1.0, -1.0)[None, :], 0.0)
    f.put_j = 1.0
    seconds = 200.0
    for _ in range(100):
        f.idle_s = 0.0
        f.rest(seconds / 100)
    depth = 2 * eta * math.sqrt(warm("steel").diffusivity_mm2_s * seconds)
    assert f.at((400 + depth, 4)) == pytest.approx(0.4, abs=2e-3)


@pytest.mark.parametrize("aside", [10.0, 20.0])
def test_adams_is_the_fast_moving_line_source(aside):
    # Adams (AWS Welding Handbook vol. 1 ch. 3, attribution from memory) from the line itself, melting point far off
    power, pace, t = 4000.0, 40.0, 6.0
    rho_c = warm("steel").rho_c_j_mm3k
    adams = peak_temperature(aside, power / pace, t, rho_c, 1e9, 0.0)
    line = max(line_source_rise(power, pace, -x, aside, "steel", t) for x in np.geomspace(1, 4000, 2000))
    assert line == pytest.approx(adams, rel=0.02)
    f = Field(shapely.box(0, 0, 1000, 300), "steel", t, 4.0)
    f.cut(Track(((20, 150), (980, 150)), pace, power / pace))
    f.rest(20.0)
    j, i = round((500 - f.x0) / 4), round((150 + aside - f.y0) / 4)
    there = f.place(i, j)[1] - 150
    assert f.peak[i, j] == pytest.approx(peak_temperature(there, power / pace, t, rho_c, 1e9, 0.0), rel=0.03)


def test_loss_is_within_free_convection_and_radiation():
    # radiation 4 eps sigma T^3 of a scaled face, eps 0.8, at a mean of 60 C (derived) and free convection of gases,
    # 2 to 25 W/m2K (Incropera table 1.1, from memory)
    radiated = 4 * 0.8 * 5.670e-8 * 333**3
    film = loss_per_s("steel", 10.0) * warm("steel").rho_c_j_mm3k * 10 / 2 * 1e6
    assert radiated + 2 < film < radiated + 25
    assert loss_per_s("steel", 10.0, 0.0) == 0.0


def test_marks_have_words_and_sources():
    for metal in ("steel", "stainless", "aluminium"):
        found = marks(metal)
        assert [m.temperature_c for m in found] == [60, 150, 250, 500]
        assert all(m.word and m.source for m in found)
    # ISO 13732-1 (from memory): bare metal, 1 min: 51 C; 10 min: 48 C
    assert 48 <= handle_c().value <= 51
