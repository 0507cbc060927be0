"""Propagation against a Monte Carlo judge and exact results; the place of a cut edge; ranges of a measured face."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.records.coupon import Coupon, CouponCut
from lagline.records.figure import Basis, Figure
from lagline.trade import guide, lag, quality, tolerance
from lagline.trade.edge_place import NAMES, EdgeInputs, edge_error_mm, edge_figure, edge_place
from lagline.trade.face import GAP_U_MM, faces_of, grade_face, said
from lagline.trade.uncertainty import Source, coverage_factor, effective_dof, propagate, rectangular

small = st.floats(0.01, 0.5)


def judge(function, sources, n=200_000, seed=5):
    """Monte Carlo: independent normal sources through the same function, one call on arrays."""
    rng = np.random.default_rng(seed)
    y = function([rng.normal(s.value, s.u, n) for s in sources])
    return float(y.mean()), float(y.std())


@given(st.lists(st.tuples(st.floats(-50, 50), st.floats(0.0, 3.0)), min_size=1, max_size=6))
@settings(deadline=None, max_examples=60)
def test_linear_is_exact(terms):
    sources = [Source(str(i), 1.0, u) for i, (_, u) in enumerate(terms)]
    got = propagate(lambda x: sum(c * v for (c, _), v in zip(terms, x, strict=True)), sources)
    assert got.u == pytest.approx(math.hypot(*(c * u for c, u in terms)), rel=1e-6, abs=1e-9)


@given(st.floats(1, 20), small, st.floats(1, 20), small, st.floats(-1, 1))
@settings(deadline=None, max_examples=60)
def test_correlated_sum_and_difference(a, ua, b, ub, r):
    sources = (Source("a", a, ua), Source("b", b, ub))
    total = propagate(sum, sources, correlation={("a", "b"): r}).u ** 2
    apart = propagate(lambda x: x[0] - x[1], sources, correlation={("a", "b"): r}).u ** 2
    assert total + apart == pytest.approx(2 * (ua**2 + ub**2), rel=1e-6)
    assert total - apart == pytest.approx(4 * r * ua * ub, rel=1e-5, abs=1e-8)


def test_second_order_of_a_product_is_exact():
    # var(xy) = y2 u_x2 + x2 u_y2 + u_x2 u_y2 for independent x, y
    got = propagate(lambda x: x[0] * x[1], (Source("x", 3, 0.4), Source("y", -2, 0.7)), second_order=True)
    assert got.u**2 == pytest.approx(4 * 0.16 + 9 * 0.49 + 0.16 * 0.49, rel=1e-6)


def test_second_order_of_a_square_is_exact():
    # var(x2) = 4 x2 u2 + 2 u4 for a normal x
    got = propagate(lambda x: x[0] ** 2, (Source("x", 1.5, 0.5),), second_order=True)
    assert got.u**2 == pytest.approx(4 * 2.25 * 0.25 + 2 * 0.0625, rel=1e-6)


def test_second_order_comes_nearer_to_monte_carlo():
    # pace from length and seconds, a tangent: curved enough for first order to be off by 5 %
    sources = (Source("length", 254.0, 1.0), Source("seconds", 4.0, 0.9), Source("lean", 0.9, 0.1))
    f = lambda x: x[0] / x[1] * np.tan(x[2])  # noqa: E731
    rng = np.random.default_rng(1)
    draws = [rng.normal(s.value, s.u, 400_000) for s in sources]
    draws[1] = np.clip(draws[1], 0.5, None)
    sd = float(np.asarray(f(draws)).std())
    first, second = propagate(f, sources).u, propagate(f, sources, second_order=True).u
    assert abs(second - sd) < abs(first - sd)


def test_effective_dof_limits():
    one = propagate(lambda x: x[0], (Source("a", 1, 0.3, 7),))
    assert one.dof == pytest.approx(7)
    assert math.isinf(propagate(lambda x: x[0], (Source("a", 1, 0.3),)).dof)
    two = propagate(sum, (Source("a", 1, 0.3, 7), Source("b", 1, 0.3, 7)))
    assert two.dof == pytest.approx(14)
    assert effective_dof((), (), 0.0) == math.inf


def test_rectangular_is_what_a_uniform_draw_shows():
    assert rectangular(0.6) == pytest.approx(np.random.default_rng(2).uniform(-0.6, 0.6, 400_000).std(), rel=0.01)


@pytest.mark.parametrize(("share", "dof"), [(0, 5), (1, 5), (0.9, 0.5), (0.9, -1)])
def test_no_coverage_factor_outside_its_range(share, dof):
    with pytest.raises(ValueError, match="share must"):
        coverage_factor(share, dof)


@pytest.mark.parametrize("bad", [(math.nan, 1), (1, math.inf), (1, -0.1)])
def test_a_source_is_finite(bad):
    with pytest.raises(ValueError, match="finite"):
        Source("x", *bad)


def test_correlation_is_checked():
    sources = (Source("a", 1, 0.1), Source("b", 1, 0.1))
    for pair, r in ((("a", "c"), 0.5), (("a", "b"), 1.5), (("a", "a"), 0.5)):
        with pytest.raises(ValueError, match="correlation"):
            propagate(sum, sources, correlation={pair: r})


# ---- place of an edge ----


def fig(value, low, high, unit="mm"):
    return Figure(value, low, high, unit, "test", Basis.DEFAULT, "test")


BAR = tolerance.method_tolerance("guide", "straightedge")


@given(st.floats(6, 14), st.floats(0, 1.0), st.floats(0, 4), st.floats(0, 1.5), st.floats(2, 25), st.floats(2, 15))
@settings(deadline=None, max_examples=60)
def test_where_it_is_linear_it_is_the_plain_stack(o, do, b, db, t, h):
    offset, bevel = fig(o, o - do, o + do), fig(b, b - db, b + db, "deg")
    slopes = t * (math.tan(math.radians(b + db)) - math.tan(math.radians(b - db))) / 2
    line = tolerance.method_tolerance("line", "scriber").value
    rest = [line, h * math.tan(math.radians(1.0)), do, slopes]
    placed = edge_figure(BAR, offset, bevel, t, h)
    # tan(b) is not straight: its slope at b is 1/cos2(b), so up to 1 % on the bevel's share
    assert placed.value == pytest.approx(math.hypot(BAR.value, *rest), rel=0.01)
    assert placed.low == pytest.approx(max(BAR.low, *rest), rel=0.01)
    assert placed.high == pytest.approx(math.fsum((BAR.high, *rest)), rel=0.01)


@pytest.mark.parametrize("bevel", [(2.0, 1.0), (5.0, 2.5), (12.0, 4.0)])
@pytest.mark.parametrize("t", [3.0, 10.0, 20.0])
def test_edge_against_monte_carlo(bevel, t):
    inputs = EdgeInputs(0.1, 1.2, 8.0, 1.0, (10.0, 0.5), bevel, t, (0.1, 0.05))
    got = edge_place(inputs)
    rng = np.random.default_rng(7)
    given_ = ((0, 0.1), (0, 1.2), (0, 1.0), (10.0, 0.5), bevel, (0.1, 0.05))
    draws = np.array([rng.normal(v, s, 40_000) for v, s in given_]).T
    y = np.array([edge_error_mm(inputs, x) for x in draws])
    assert got.u == pytest.approx(float(y.std()), rel=0.03)
    assert got.value == pytest.approx(-0.05)  # the kerf has grown by 0.1: half of it, towards the part
    assert [c.name for c in got.components] == list(NAMES)


def test_wear_nobody_allowed_for_is_added_whole():
    offset, bevel = fig(10, 9.8, 10.2), fig(2, 1, 3, "deg")
    new = edge_figure(BAR, offset, bevel, 10, 8)
    worn = edge_figure(BAR, offset, bevel, 10, 8, wear_mm=(0.4, 0.0))
    assert worn.value - new.value == pytest.approx(0.2)
    assert dict(worn.inputs)["kerf grown by wear moves the edge [mm]"] == "0.20"
    sizes = [float(v) for _, v in new.inputs]
    assert sizes == sorted(sizes, reverse=True)


def test_a_measured_offset_is_named_as_the_coupons():
    told = Figure(10, 9.8, 10.2, "mm", "coupon.offset", Basis.COUPON, "coupon c-2026-01-02-01")
    got = edge_figure(BAR, told, fig(2, 1, 3, "deg"), 10, 8)
    assert got.basis is Basis.COUPON
    assert "c-2026-01-02-01" in got.source


@given(st.floats(6, 14), st.floats(0, 1), st.floats(0, 1), st.floats(1, 3), st.floats(0, 0.5), st.floats(0, 0.5))
@settings(deadline=None, max_examples=60)
def test_offset_spread_is_that_of_cup_and_half_kerf(r, dr, er, k, dk, ek):
    cup, kerf = fig(r, r - dr, r + er), fig(k, k - dk, k + ek)
    kept, drop = guide.offset_figure("kept", cup, kerf), guide.offset_figure("drop", cup, kerf)
    assert (kept.value, drop.value) == pytest.approx((r - k / 2, r + k / 2))
    assert kept.value - kept.low == pytest.approx(math.hypot(dr, ek / 2))  # a wider kerf brings the guide nearer
    assert kept.high - kept.value == pytest.approx(math.hypot(er, dk / 2))
    assert drop.value - drop.low == pytest.approx(math.hypot(dr, dk / 2))
    assert drop.high - drop.value == pytest.approx(math.hypot(er, ek / 2))


# ---- faces and lag ----


@given(st.floats(0.5, 150), st.integers(1, 5))
@settings(deadline=None, max_examples=100)
def test_a_face_at_its_limit_is_in_that_range_or_a_better_one(t, r):
    u = quality.perpendicularity(t, r)
    got = quality.range_of_u(t, u)
    assert got is not None
    assert got <= r
    assert u <= quality.perpendicularity(t, got) + 1e-9
    assert quality.range_of_u(t, quality.perpendicularity(t, 5) * 1.001) is None


@given(st.floats(0.5, 150), st.integers(1, 4))
@settings(deadline=None, max_examples=100)
def test_roughness_likewise(t, r):
    assert quality.range_of_roughness(t, quality.roughness(t, r)) <= r
    assert quality.range_of_roughness(t, quality.roughness(t, 4) * 1.001) is None


@given(st.floats(1, 100), st.floats(0, 30))
@settings(deadline=None, max_examples=100)
def test_angle_and_angularity_agree_on_the_range(t, deg):
    assert quality.range_of_u(t, quality.angularity(t, deg)) == quality.range_of_angle(t, deg)
    assert quality.angularity(t, -deg) == quality.angularity(t, deg)


def test_angularity_by_hand():
    # 25.4 mm, da 1.5 at both edges: 22.4 mm of face; range 4 is 1.308 mm, 3.34 deg (derived in the table of angles)
    assert quality.angularity(25.4, 3.34) == pytest.approx(22.4 * math.tan(math.radians(3.34)))
    assert quality.range_of_u(25.4, quality.angularity(25.4, 3.33)) == 4
    assert quality.range_of_u(25.4, quality.angularity(25.4, 3.36)) == 5


@given(st.floats(0, 50), st.floats(0.5, 50))
@settings(deadline=None, max_examples=60)
def test_lag_angle_and_length_undo_each_other(mm, t):
    assert lag.lag_length(lag.lag_angle_deg(mm, t), t) == pytest.approx(mm, abs=1e-9)


def test_lag_and_pace():
    assert lag.lag_angle_deg(10, 10) == pytest.approx(45)
    ratios = [lag.pace_ratio(a) for a in (0, 7.5, 20, 45)]
    assert [r.value for r in ratios] == sorted(r.value for r in ratios)
    assert ratios[1].value == pytest.approx(1)
    assert ratios[3].value == pytest.approx(1.375)
    # both habits of the trade, 0 to 35 deg, are within the spread of a good cut
    for deg in (0, 7.5, 20, 35):
        figure = lag.pace_ratio(deg)
        assert figure.low <= 1 + 1e-12
        assert figure.high >= 1 - 1e-12
    with pytest.raises(ValueError, match="thickness"):
        lag.lag_angle_deg(1, 0)


# ---- graded faces of a coupon ----


@given(st.floats(1, 60), st.floats(-0.2, 0.2))
@settings(deadline=None, max_examples=80)
def test_a_graded_face_agrees_with_its_angle(t, share):
    gap = share * t
    got = grade_face(gap, t)
    assert got.u_mm == pytest.approx(quality.angularity(t, got.lean_deg), abs=1e-9)
    assert (got.best or 6) <= (quality.range_of_angle(t, abs(got.lean_deg)) or 6) <= (got.worst or 6)


def test_spread_of_a_face_against_monte_carlo():
    t, gap, da = 9.525, 0.5, quality.profile_reduction(9.525)
    rng = np.random.default_rng(4)
    thick, read = rng.normal(t, 0.02 * t, 200_000), rng.normal(gap, GAP_U_MM, 200_000)
    low, high = np.quantile(read * (thick - 2 * da) / thick, (0.025, 0.975))
    got = grade_face(gap, t)
    assert got.u_plus_minus_mm == pytest.approx((high - low) / 2, rel=0.02)
    # u 0.44 mm, 0.21 either way, at 9.5 mm: range 2 ends at 0.22, range 3 at 0.50, range 4 at 0.99
    assert (got.best, got.worst) == (3, 4)
    assert "range 3 to 4" in said(got)


def test_faces_of_a_coupon_without_what_is_set_aside():
    cuts = (CouponCut(gap_right_mm=0.1, gap_left_mm=9.0), CouponCut(gap_left_mm=0.8), CouponCut())
    c = Coupon("c", "2026-03-02", "65 A", "steel", 9.525, 65.0, cuts, set_aside=("cuts[1].gap_left_mm",))
    assert [(n, side) for n, side, _ in faces_of(c)] == [(1, "right"), (1, "left")]
    assert "beyond range 5" in said(faces_of(c)[1][2])
