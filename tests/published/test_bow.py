"""Bow of strips: tendon-force rule of welding (from memory), numbers worked from it; unproven for plasma."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.planning.bow_notes import strip_findings
from lagline.planning.kit_file import generic_kit
from lagline.planning.settings import choose_settings
from lagline.records.finding import Severity
from lagline.records.geometry import Move
from lagline.records.plan import Layout, Placed
from lagline.trade.bow import edge_heat_j_mm, strip_camber
from tests.cutting import box, make_cuts
from tests.generate import rectangle_blank


@pytest.mark.parametrize(("width", "camber"), [(25, 5.8), (50, 1.4), (100, 0.4)])
def test_camber_worked_by_hand(width: float, camber: float):
    # 20 J/mm in 6 mm steel, 4 ft long, E 205 GPa: kappa = 6 F/(E t w2), camber = kappa L2/8 (derived)
    assert strip_camber("steel", 6, width, 1219, 20).value == pytest.approx(camber, abs=0.06)


@given(st.floats(20, 200), st.floats(300, 2000), st.floats(1, 100))
@settings(deadline=None, max_examples=50)
def test_camber_goes_with_length_squared_over_width_squared(w: float, long: float, q: float):
    one = strip_camber("steel", 6, w, long, q)
    assert strip_camber("steel", 6, 2 * w, long, q).value == pytest.approx(one.value / 4)
    assert strip_camber("steel", 6, w, 2 * long, q).value == pytest.approx(one.value * 4)
    assert one.low == pytest.approx(one.value / 3)
    assert one.high == pytest.approx(one.value * 3)


@pytest.mark.parametrize("metal", ["steel", "stainless", "aluminium"])
def test_a_slower_cut_leaves_more_heat(metal: str):
    heats = [edge_heat_j_mm(metal, 6, v, 1.8) for v in (5, 10, 20)]
    assert heats == sorted(heats, reverse=True)
    assert min(heats) > 0


def plan_of(width: float, tolerance: float, at: float = 100.0):
    from lagline.records.job import Plate

    blank = rectangle_blank("strap", 1200, width)
    blank = replace(blank, part=replace(blank.part, tolerance_mm=tolerance))
    kit = generic_kit()
    made, _ = choose_settings((blank,), kit, None)
    plate = Plate("A", "plate", box(2000, 800), blank.part.stock, 0.0)
    layout = Layout((Placed(0, 1, 0, Move(100, at)),), (), 12.0, "quick")
    cuts, _ = make_cuts((blank,), (plate,), layout, made, kit)
    return strip_findings((blank,), made, layout, cuts, "mm")


def test_a_narrow_strap_is_told_with_its_remedy_and_a_wide_plate_is_not():
    (told,) = plan_of(40, 0.0)
    assert told.severity is Severity.NOTE
    assert "brings most of it back" in told.message
    assert "alternate" in told.allowed
    assert not plan_of(600, 0.0)


def test_a_tolerance_it_may_spoil_makes_it_a_caution():
    (told,) = plan_of(40, 1.0)
    assert told.severity is Severity.CAUTION


def test_a_mill_edge_left_on_is_said():
    (told,) = plan_of(40, 0.0, at=0.0)
    assert "left as it is" in told.message
    assert told.allowed == "trim the mill edge too"


def test_the_tendon_force_is_okerbloms():
    # Okerblom, deformations of welded metal structures, 1958 (from memory): F = 0.335 alpha_T E/(rho c) a J/mm.
    # Steel of EN 1993-1-1 and EN 1993-1-2 (from memory): 12e-6 1/K, 205 GPa, 7850 kg/m3, 440 to 650 J/kgK
    from lagline.trade.bow import E_STEEL_MPA, FORCE_N_PER_J_MM

    low, high = (0.335 * 12e-6 * E_STEEL_MPA / (7850e-9 * c) for c in (650, 440))
    assert low < FORCE_N_PER_J_MM < high


def test_a_long_plate_buckles_as_timoshenkos():
    # Timoshenko and Gere, Theory of Elastic Stability (from memory): s = 4 pi2 E/(12 (1 - nu2)) (t/w)2; 3 mm on 300 mm
    # of steel, nu 0.3: 74.1 MPa. The push of the edges is put where it is just that
    from lagline.trade.bow import FORCE_N_PER_J_MM
    from lagline.trade.bow_remedy import dish_ratio

    heat = 74.1 * 300 * 3 / 2 / FORCE_N_PER_J_MM
    assert dish_ratio("steel", 3, 300, heat).value == pytest.approx(1.0, rel=2e-3)


def test_hot_bend_of_a_strip_by_hand():
    # a strip whose one edge holds q: T = 2 q (3 y/w - 1)/(rho c t w) is the straight part of it (derived), so the
    # bend is alpha_T 6 q/(rho c t w2); 20 J/mm, 6 mm, 25 mm by 4 ft, rho c .004007: 3.0e-3 x 6 x 20/(6 x 625) L2/8
    from lagline.trade.bow_remedy import hot_camber_mm

    assert hot_camber_mm("steel", 6, 25, 1219, 20) == pytest.approx(
        12e-6 / 0.004007 * 6 * 20 / 3750 * 1219**2 / 8, rel=1e-3
    )
