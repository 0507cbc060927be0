"""Control charts of a tip: the stated rate of false alarms by simulation, real drifts found, one misreading ignored."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from lagline.records.coupon import Coupon, CouponCut
from lagline.records.finding import Severity
from lagline.trade import drift
from lagline.trade.drift import (
    ALLOWANCE,
    BOTH_WAYS,
    KERF_SCATTER,
    UP_ONLY,
    chart,
    coupons_to_false_alarm,
    reach,
    scores,
)
from lagline.trade.tip_drift import bevel_of, drift_findings, drifts, kerf_of

LIFE = 10


def lives(n, sd=None, growth=0.0, seed=3):
    """Kerfs of ``n`` tips over their life; the scatter of each drawn from the prior unless ``sd`` is given."""
    rng = np.random.default_rng(seed)
    s = KERF_SCATTER.sd * np.sqrt(KERF_SCATTER.worth / rng.chisquare(KERF_SCATTER.worth, n)) if sd is None else sd
    noise = rng.normal(0, 1, (n, LIFE)) * np.reshape(s, (-1, 1))
    return 2.0 + growth * np.linspace(0, 1, LIFE) + noise


def signalled(rows, *, both=False):
    return np.mean([chart(range(LIFE), r, KERF_SCATTER, both_ways=both).signal is not None for r in rows])


def markov_run_length(k, h, cells=200):
    """Brook and Evans 1972: the one-sided sum of normal scores as a Markov chain, started at nought."""
    w = 2 * h / (2 * cells - 1)
    edges = (np.arange(cells) + 0.5) * w
    at = np.arange(cells) * w
    to = stats.norm.cdf(edges[None, :] + k - at[:, None])
    q = np.diff(np.concatenate([np.zeros((cells, 1)), to], axis=1), axis=1)
    return float(np.linalg.solve(np.eye(cells) - q, np.ones(cells))[0])


@pytest.mark.parametrize(("k", "h"), [(0.25, 3), (0.25, 4), (0.25, 5), (0.25, 6), (0.5, 3), (0.5, 4), (0.5, 6)])
def test_formula_against_a_markov_chain(k, h):
    # the printed 336 for k 0.5, h 4 comes out of this chain too; the formula is an approximation
    assert coupons_to_false_alarm(k, h) == pytest.approx(markov_run_length(k, h), rel=0.03)


def test_scores_are_standard_normal_and_independent_when_nothing_drifts():
    z = np.array([scores(r, KERF_SCATTER)[1:] for r in lives(1500)], dtype=float)
    assert stats.kstest(z.ravel(), "norm").pvalue > 0.01
    for i in range(LIFE - 2):
        assert abs(np.corrcoef(z[:, i], z[:, i + 1])[0, 1]) < 0.1


def test_false_alarms_are_as_rare_as_stated():
    # stated: of tips with ten coupons 4 in 100 (kerf) and 3 in 100 (bevel)
    rows = lives(2500)
    assert 0.02 < signalled(rows) < 0.055
    assert 0.01 < signalled(rows, both=True) < 0.045


def test_false_alarms_where_the_scatter_is_not_the_priors():
    assert signalled(lives(600, sd=KERF_SCATTER.sd / 2)) < 0.02
    # stated: about 15 in 100 where the true scatter is twice the prior's
    assert signalled(lives(2000, sd=2 * KERF_SCATTER.sd)) == pytest.approx(0.15, abs=0.03)


def test_long_run_rate_is_that_of_the_formula():
    rng = np.random.default_rng(11)
    runs = []
    for _ in range(400):
        up, n = 0.0, 0
        while up <= UP_ONLY:
            up = max(0.0, up + min(3.0, rng.normal()) - ALLOWANCE)
            n += 1
        runs.append(n)
    stated = coupons_to_false_alarm(ALLOWANCE, UP_ONLY)
    assert stated == pytest.approx(77, abs=1)
    assert np.mean(runs) == pytest.approx(stated, rel=4 / math.sqrt(400))
    assert coupons_to_false_alarm(ALLOWANCE, BOTH_WAYS, both_ways=True) == pytest.approx(71, abs=1)


def test_a_tip_that_wears_is_found():
    # a kerf 0.5 mm wider at the end of a life of ten coupons, scatter as the prior says
    assert signalled(lives(400, sd=KERF_SCATTER.sd, growth=0.5)) > 0.8
    assert signalled(lives(400, sd=KERF_SCATTER.sd, growth=0.2)) > signalled(lives(400, sd=KERF_SCATTER.sd))


@given(st.lists(st.floats(1.9, 2.1), min_size=1, max_size=8), st.floats(-1e6, 1e6))
@settings(deadline=None, max_examples=80)
def test_one_coupon_alone_never_says_it(kerfs, odd):
    before = chart(range(len(kerfs)), kerfs, KERF_SCATTER)
    room = drift.MOST_SCORE - ALLOWANCE
    got = chart(range(len(kerfs) + 1), [*kerfs, odd], KERF_SCATTER)
    assert got.points[-1].up <= before.sum + room + 1e-9
    if before.sum <= UP_ONLY - room:
        assert got.signal == before.signal


@given(st.lists(st.floats(0.5, 5), min_size=0, max_size=12))
@settings(deadline=None, max_examples=80)
def test_sums_are_never_below_nought_and_finite(values):
    c = chart(range(len(values)), values, KERF_SCATTER, both_ways=True)
    assert all(p.up >= 0 and p.down >= 0 and math.isfinite(p.up + p.down) for p in c.points)
    up = chart(range(len(values)), values, KERF_SCATTER)
    mirrored = chart(range(len(values)), [-v for v in values], KERF_SCATTER, both_ways=True)
    assert [p.up for p in up.points] == pytest.approx([p.down for p in mirrored.points])


def test_reach_is_exact_on_a_line_and_widens_with_scatter():
    at = [0, 20, 40, 60]
    tight = reach(at, [2.0 + 0.002 * x for x in at], drift.Scatter(1e-6, 4), 2.2)
    assert tight is not None
    assert tight.value == pytest.approx(100)
    assert tight.low == pytest.approx(100, rel=1e-3)
    wide = reach(at, [2.0 + 0.002 * x for x in at], KERF_SCATTER, 2.2)
    assert wide is not None
    assert wide.low < 100
    assert wide.high is None  # the line may as well be level
    assert reach(at[:2], [2, 2.1], KERF_SCATTER, 2.2) is None
    assert reach(at, [2, 2, 2, 2], KERF_SCATTER, 2.2) is None
    assert reach([5, 5, 5], [2, 2.1, 2.2], KERF_SCATTER, 2.2) is None


# ---- tips from coupons ----


def coupon(n, kerf, **other):
    # coupon n is of day n
    base = Coupon(
        f"c-2026-03-{n:02d}-01", f"2026-03-{n:02d}", "65 A", "steel", 9.5, 65.0, (CouponCut(kerf_top_mm=kerf),)
    )
    return replace(base, **other)


def test_kerf_and_bevel_of_a_coupon():
    c = replace(coupon(1, 2.0), cuts=(
        CouponCut(kerf_top_mm=2.0, gap_right_mm=9.5), CouponCut(guide_near_mm=10.0, guide_far_mm=12.4), CouponCut(),
    ))  # fmt: skip
    assert kerf_of(c) == pytest.approx(2.2)
    assert bevel_of(c, "right") == pytest.approx(45)
    assert bevel_of(c, "left") is None


def test_a_worn_tip_is_told_with_its_numbers():
    found = drifts(coupon(n, 2.0 + 0.12 * n, arc_min=12.0 * n) for n in range(1, 9))
    (d,) = found
    assert d.along == "arc-min"
    assert "kerf [mm]" in d.going
    codes = {f.code: f for f in drift_findings(found)}
    assert codes["tip-going"].severity is Severity.CAUTION
    assert "from 0.083 in (2.12 mm) to 0.117 in (2.96 mm)" in codes["tip-going"].message
    assert "tip 65 A is going" in codes["tip-going"].message
    assert codes["tip-going"].where == "tip 65 A, steel 0.374 in (9.5 mm), 65 A"
    assert codes["tip-at-limit"].allowed == "change the tip"


def test_the_limit_is_told_ahead():
    found = drifts(coupon(n, 2.0 + 0.02 * n + 0.001 * (-1) ** n, starts=10 * n) for n in range(1, 25))
    (d,) = found
    assert d.along == "starts"
    early = drifts(coupon(n, 2.0 + 0.02 * n, starts=10 * n) for n in range(1, 9))
    assert early[0].reach is not None
    assert early[0].reach.value == pytest.approx(10 * (1.1 * 2.04 - 2.0) / 0.02, rel=1e-6)


def test_a_steady_tip_is_not_told():
    kerfs = (2.0, 2.1, 1.95, 2.05, 2.0, 1.9, 2.1)
    assert drift_findings(drifts(coupon(n, k) for n, k in enumerate(kerfs, 1))) == ()


def test_a_new_tip_begins_anew():
    worn = [coupon(n, 2.0 + 0.1 * n, starts=50 * n) for n in range(1, 8)]
    new = [coupon(n, 2.0, starts=10 * (n - 7)) for n in range(8, 11)]
    (d,) = drifts([*worn, *new])
    assert d.coupons == tuple(c.id for c in new)
    assert d.going == ()


def test_only_like_is_compared_with_like():
    unlike = [{"current_a": 40.0}, {"thickness_mm": 6.0}, {"metal": "aluminium"}, {"tip": "45 A"}]
    got = drifts(coupon(n, 2.0, **how) for n, how in enumerate([{}, *unlike, {"current_a": 66.0}], 1))
    assert [len(d.coupons) for d in got] == [1, 2, 1, 1, 1]


def test_what_is_set_aside_does_not_count():
    odd = coupon(3, 9.0, set_aside=("cuts[0].kerf_top_mm",))
    (d,) = drifts([coupon(1, 2.0), coupon(2, 2.0), odd])
    assert [p.value for p in dict(d.charts)["kerf [mm]"].points] == [2.0, 2.0]


def test_nothing_from_nothing():
    assert drifts([]) == ()
    (d,) = drifts([replace(coupon(1, 2.0), cuts=())])
    assert d.limit_mm is None
    assert drift_findings([d]) == ()
