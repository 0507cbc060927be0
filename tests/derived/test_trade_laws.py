"""Laws of the small formulas: monotone, bounded, and consistent with each other."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.records.figure import Basis, Figure
from lagline.trade import air, bevel, duty, holes, kerf, mass, quality, safety, tolerance
from lagline.trade.edge_place import edge_figure

share = st.floats(0.05, 1)
current = st.floats(15, 130)


@given(st.lists(st.tuples(current, share), min_size=1, max_size=4, unique_by=lambda p: round(p[0], 3)), current)
@settings(deadline=None, max_examples=100)
def test_allowed_share_is_a_share(points, amps):
    assert 0 < duty.allowed_share(amps, tuple(points)) <= 1


@given(st.lists(current, min_size=1, max_size=4, unique_by=lambda i: round(i)), st.lists(share, min_size=4, max_size=4))
@settings(deadline=None, max_examples=100)
def test_more_current_never_means_more_time(currents, shares):
    # on a rating plate the share falls as the current rises: then the rule falls everywhere
    points = tuple(zip(sorted(currents), sorted(shares, reverse=True), strict=False))
    values = [duty.allowed_share(10 + i, points) for i in range(0, 140, 3)]
    assert all(b <= a + 1e-12 for a, b in zip(values, values[1:], strict=False))  # noqa: RUF007


@given(st.floats(1, 600), share)
@settings(deadline=None, max_examples=50)
def test_arc_and_its_rest_keep_the_share(arc, x):
    assert arc / (arc + duty.rest_for(arc, x)) == pytest.approx(x)


@given(share, st.floats(1, 1e6))
@settings(deadline=None, max_examples=50)
def test_limit_cycle_lies_between_share_and_one(x, tau):
    assert x - 1e-9 <= duty.limit_cycle_peak(x, 600, tau) <= 1 + 1e-12


@given(st.floats(10, 2000), st.floats(300, 1200), st.floats(1, 250), st.floats(1, 400), st.floats(1, 400))
@settings(deadline=None, max_examples=60)
def test_receiver_undoes_tank_time(tank, top, drop, use, make):
    t = air.tank_time_s(tank, top, top - drop, use, make)
    if math.isfinite(t):
        assert air.receiver_l(t, use, make, top, top - drop) == pytest.approx(tank, rel=1e-6)
    else:
        assert use <= make


@given(st.floats(0.5, 100), st.floats(0, 60))
@settings(deadline=None, max_examples=60)
def test_bevel_is_a_right_triangle(t, deg):
    assert math.hypot(t, bevel.top_shift(t, deg)) == pytest.approx(bevel.true_thickness(t, deg))
    assert holes.taper_on_diameter(t, deg) == pytest.approx(2 * bevel.top_shift(t, deg))


@given(current, current)
@settings(deadline=None, max_examples=60)
def test_kerf_band_never_narrows_with_current(a, b):
    low, high = sorted((a, b))
    for end in (0, 1):
        assert kerf.band_by_current(low)[end] <= kerf.band_by_current(high)[end] + 1e-12
    assert kerf.band_by_current(a)[0] < kerf.band_by_current(a)[1]


@given(st.floats(0.5, 150), st.integers(1, 4))
@settings(deadline=None, max_examples=60)
def test_a_coarser_range_allows_more(t, r):
    assert quality.perpendicularity(t, r) < quality.perpendicularity(t, r + 1)
    assert 2 * quality.profile_reduction(t) < t


@given(st.floats(0, 799))
@settings(deadline=None, max_examples=60)
def test_darkest_of_all_is_no_lighter_than_any(amps):
    rules = safety.lens_rules()
    darkest = safety.lens_shade(amps, rules)
    for rule in rules:
        shade = safety.lens_shade(amps, (rule,))
        assert shade is None or shade.value <= darkest.value
        assert shade is None or shade.value <= shade.high


@given(st.floats(1, 1e6), st.floats(0.5, 50))
@settings(deadline=None, max_examples=30)
def test_mass_is_linear_and_aluminium_is_about_a_third(area, t):
    steel, aluminium = (mass.mass_of_area(m, area, t).value for m in ("steel", "aluminium"))
    assert mass.mass_of_area("steel", 2 * area, t).value == pytest.approx(2 * steel)
    assert aluminium / steel == pytest.approx(0.344, abs=0.001)


def figure(value, low, high, unit="mm"):
    return Figure(value, low, high, unit, "kit.value", Basis.KIT, "test")


def test_every_contribution_is_named_and_a_free_hand_is_worse():
    bevel = figure(2, 1, 3, "deg")
    guided = edge_figure(tolerance.method_tolerance("guide", "straightedge"), figure(10, 9.5, 10.5), bevel, 9.5, 8.0)
    assert {n for n, _ in guided.inputs} == {
        "mark-out line [mm]",
        "guide [mm]",
        "tilt of the hand [mm]",
        "guide offset (cup and kerf) [mm]",
        "bevel of the face [mm]",
    }
    free = edge_figure(tolerance.method_tolerance("guide", "freehand"), figure(0.95, 0.8, 1.15), bevel, 9.5, 2.0)
    assert free.value > guided.value
    assert guided.low <= guided.value <= guided.high
    with pytest.raises(ValueError, match="straightedge"):
        tolerance.method_tolerance("guide", "wishful thinking")
    assert tolerance.on_size(guided, guided).value == pytest.approx(guided.value * math.sqrt(2))


def test_no_contribution_is_no_tolerance():
    assert tolerance.stack(()).value == 0
