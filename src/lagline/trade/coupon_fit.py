"""From coupons to a belief: Newton to the most likely quantities, then their mean and spread by weighted samples."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np

from lagline.records.coupon import Belief, Coupon
from lagline.records.finding import Finding, Severity
from lagline.records.kit import Kit
from lagline.trade import coupon_model as m
from lagline.trade.coupon_measure import Readings, expected, log_likelihood, read
from lagline.trade.coupon_model import NAMES, Array, Condition, Gauss
from lagline.trade.coupon_outliers import odd_readings, unusable
from lagline.trade.wear import ARC_H_PER_SET

SAMPLES = 4096
ROUNDS = 2
WIDER = 1.1  # samples are drawn a little wider than the target, so that its tails are reached
SEED = 20
# What a whole tip's life does to the quantities, and what a new tip of the same kind brings, as standard deviations.
# A bore 10 % bigger is a worn out tip; the rest: common practice, no source.
LIFE = {
    "power": 0.05, "kerf": 0.10, "bevel_right": 1.0, "bevel_left": 1.0, "window": 0.15, "sever": 0.2, "lag": 0.1,
    "crater": 0.05,
}  # fmt: skip
NEW_TIP = {"power": 0.03, "kerf": 0.05, "bevel_right": 0.8, "bevel_left": 0.8, "window": 0.1, "sever": 0.1}
UNTOLD_LIFE = 0.1  # share of a life between two coupons that do not say how far the tip is


@cache
def normals(n: int, d: int) -> Array:
    """The same standard normal samples every time, one a row: evenly spread, mean nought and covariance one exactly."""
    from scipy.special import ndtri
    from scipy.stats.qmc import Sobol

    half = ndtri(Sobol(d, seed=SEED).random(n // 2))
    half = half @ np.linalg.inv(np.linalg.cholesky(half.T @ half / len(half))).T
    return np.concatenate([half, -half])


def log_posterior(u: Array, readings: Readings, before: Gauss) -> Array:
    """Log posterior of a batch in units of the belief before: theta = mean + L u, L its Cholesky factor."""
    factor = np.linalg.cholesky(before.cov)
    return np.asarray(log_likelihood(before.mean + u @ factor.T, readings) - 0.5 * np.square(u).sum(axis=1))


def laplace(readings: Readings, before: Gauss) -> tuple[Array, Array]:
    """Newton on the log posterior, in units of the belief before. Returns mode and covariance there.

    Gradient and curvature by central differences, all in one batch; a curvature below one half is lifted to it.
    """
    d = len(NAMES)
    h = 0.02
    eye = np.eye(d) * h
    pairs = [(i, j) for i in range(d) for j in range(i)]
    ij = np.array([eye[i] + eye[j] for i, j in pairs])
    steps = np.concatenate([np.zeros((1, d)), eye, -eye, ij, -ij])
    mode, cov = np.zeros(d), np.eye(d)
    best = -math.inf
    for _ in range(40):
        f = log_posterior(mode + steps, readings, before)
        best, up, down = float(f[0]), f[1 : d + 1], f[d + 1 : 2 * d + 1]
        gradient = (up - down) / (2 * h)
        curve = np.diag((up + down - 2 * best) / h**2)
        for (i, j), both, neither in zip(pairs, f[2 * d + 1 : 2 * d + 1 + len(pairs)], f[-len(pairs) :], strict=True):
            mixed = (both + neither + 2 * best - up[i] - down[i] - up[j] - down[j]) / (2 * h**2)
            curve[i, j] = curve[j, i] = mixed
        values, vectors = np.linalg.eigh(-curve)
        cov = (vectors / np.maximum(values, 0.5)) @ vectors.T
        step = cov @ gradient
        tries = np.array([0.5**i for i in range(12)])
        gained = log_posterior(mode + tries[:, None] * step, readings, before)
        pick = int(np.argmax(gained))
        if gained[pick] <= best + 1e-9:
            break
        mode = mode + tries[pick] * step
        if float(np.abs(tries[pick] * step).max()) < 1e-4:
            break
    return mode, cov


def _without_words(readings: Readings, before: Gauss, about: Array) -> tuple[Array, Array]:
    """Mean and covariance from the measured values alone, straightened about a point, in units of the belief before."""
    d = len(about)
    if not len(readings.value):
        return np.zeros(d), np.eye(d)
    factor = np.linalg.cholesky(before.cov)
    eye = 0.02 * np.eye(d)
    f = expected(before.mean + (about + np.concatenate([np.zeros((1, d)), eye, -eye])) @ factor.T, readings)
    slope = ((f[1 : d + 1] - f[d + 1 :]) / 0.04).T
    weighed = np.linalg.solve(readings.noise, slope).T
    cov = np.linalg.inv(np.eye(d) + weighed @ slope)
    return cov @ weighed @ (readings.value - f[0] + slope @ about), (cov + cov.T) / 2


def _log_gauss(u: Array, centre: Array, factor: Array) -> Array:
    e = np.linalg.solve(factor, (u - centre).T)
    return np.asarray(-0.5 * np.square(e).sum(axis=0) - np.log(np.diag(factor)).sum())


def fit(readings: Readings, before: Gauss) -> Gauss:
    """Mean and covariance after one coupon.

    Laplace at the mode, then its moments mended by importance sampling (twice, with fixed samples), since dross
    seen as words leaves a lopsided posterior whose mode is not its mean, and a word that may be the wrong one leaves
    a second hump. So half the samples come from about the last moments and half from what the measured values alone
    say, which covers every hump.
    """
    if not len(readings.value) and not len(readings.dross) and not len(readings.through):
        return before
    centre, cov = laplace(readings, before)
    other, other_cov = _without_words(readings, before, centre)
    z = normals(SAMPLES, len(NAMES))
    far = np.asarray(np.linalg.cholesky(other_cov), dtype=np.float64)
    outer = other + z @ far.T
    log_p_outer, log_q_outer = log_posterior(outer, readings, before), _log_gauss(outer, other, far)
    for _ in range(ROUNDS):
        near = np.asarray(WIDER * np.linalg.cholesky(cov), dtype=np.float64)
        inner = centre + z @ near.T
        u = np.concatenate([inner, outer])
        log_p = np.concatenate([log_posterior(inner, readings, before), log_p_outer])
        log_q = np.concatenate([_log_gauss(inner, other, far), log_q_outer])
        log_w = log_p - np.logaddexp(_log_gauss(u, centre, near), log_q)
        w = np.exp(log_w - log_w.max())
        w /= w.sum()
        centre = w @ u
        away = u - centre
        cov = (away * w[:, None]).T @ away
        cov = (cov + cov.T) / 2 + 1e-10 * np.eye(len(cov))
    factor = np.linalg.cholesky(before.cov)
    after = factor @ cov @ factor.T
    return Gauss(before.mean + factor @ centre, (after + after.T) / 2)


def widened(g: Gauss, how: dict[str, float], share: float = 1.0) -> Gauss:
    """Spread added for wear or a new tip: a random walk, so variances grow with the share of a life."""
    added = np.array([how.get(n, 0.0) ** 2 for n in NAMES]) * share
    return Gauss(g.mean, g.cov + np.diag(added))


def life_between(
    kit: Kit, was: tuple[int | None, float | None], now: tuple[int | None, float | None]
) -> tuple[float, bool]:
    """Share of a tip's life from one reading of (starts, arc minutes) to the next, and whether the tip is new since.

    Fewer starts or minutes than before mean a new tip of the same kind.
    """
    lives = (kit.bench.starts_per_tip_set.value, ARC_H_PER_SET.value * 60)
    told = [(a, b, per) for a, b, per in zip(was, now, lives, strict=True) if a is not None and b is not None]
    if not told:
        return UNTOLD_LIFE, False
    if any(b < a for a, b, _ in told):
        return max(b / per for _, b, per in told), True
    return max((b - a) / per for a, b, per in told), False


def _aged(kit: Kit, g: Gauss, was: tuple[int | None, float | None], now: tuple[int | None, float | None]) -> Gauss:
    share, new = life_between(kit, was, now)
    worn = widened(g, LIFE, share)
    return widened(worn, NEW_TIP) if new else worn


def _supply(coupons: tuple[Coupon, ...]) -> float:
    """The bench's usual air [kPa gauge]: what the latest coupon that tells it says."""
    told = [c.supply_kpa_g for c in coupons if c.supply_kpa_g is not None and c.supply_kpa_g > 0]
    return told[-1] if told else m.SUPPLY_KPA_G


def coupon_condition(kit: Kit, coupon: Coupon, supply_kpa_g: float) -> Condition:
    """The condition a coupon was cut at, its air against the bench's usual."""
    air = coupon.supply_kpa_g if coupon.supply_kpa_g and coupon.supply_kpa_g > 0 else supply_kpa_g
    return m.condition(kit, coupon.tip, coupon.metal, coupon.thickness_mm, coupon.current_a, 0.0, air / supply_kpa_g)


def _carried(kit: Kit, g: Gauss, tip: str, metal: str, coupons: tuple[Coupon, ...]) -> Gauss:
    """Bring over what coupons of other tips and metals say: of the torch the cup, of the same tip its kerf too."""
    others = dict.fromkeys((c.tip, c.metal) for c in coupons if (c.tip, c.metal) != (tip, metal))
    known = {t.name for t in kit.torch.tips}
    for pair in others:
        if pair[0] not in known:
            continue
        theirs = tuple(c for c in coupons if (c.tip, c.metal) == pair)
        after, _, _ = _chain(kit, m.prior(kit, *pair), theirs, _supply(theirs))
        before = m.prior(kit, *pair)
        for i in (m.CUP, m.KERF) if pair[0] == tip else (m.CUP,):
            extra = 0.05**2 if i == m.KERF else 0.0  # another metal does not open quite the same kerf
            gain = 1 / (after.cov[i, i] + extra) - 1 / (before.cov[i, i] + extra)
            if gain > 1e-9:
                seen = (after.mean[i] / (after.cov[i, i] + extra) - before.mean[i] / (before.cov[i, i] + extra)) / gain
                g = _told(g, i, seen, 1 / gain)
    return g


def _told(g: Gauss, i: int, seen: float, variance: float) -> Gauss:
    k = g.cov[:, i] / (g.cov[i, i] + variance)
    cov = g.cov - np.outer(k, g.cov[i])
    return Gauss(g.mean + k * (seen - g.mean[i]), (cov + cov.T) / 2)


def _chain(
    kit: Kit, g: Gauss, coupons: tuple[Coupon, ...], supply: float
) -> tuple[Gauss, tuple[Finding, ...], tuple[Coupon, ...]]:
    found: list[Finding] = []
    used: list[Coupon] = []
    for coupon in sorted(coupons, key=lambda c: (c.date, c.id)):
        bad, nonsense = unusable(coupon)
        found.extend(nonsense)
        if bad is None:
            continue
        if used:
            g = _aged(kit, g, (used[-1].starts, used[-1].arc_min), (coupon.starts, coupon.arc_min))
        c = coupon_condition(kit, coupon, supply)
        aside, odd = odd_readings(coupon, c, g, bad)
        found.extend(odd)
        g = fit(read(coupon, c, aside), g)
        used.append(coupon)
    return g, tuple(found), tuple(used)


def believe(
    kit: Kit,
    tip: str,
    metal: str,
    coupons: tuple[Coupon, ...],
    starts: int | None = None,
    arc_min: float | None = None,
) -> tuple[Belief, tuple[Finding, ...]]:
    """What coupons say of a tip on a metal.

    Each coupon in turn, oldest first: wear since the last one widens what was known, readings that do not fit are
    set apart and named in findings, the rest are learned from. ``starts`` and ``arc_min`` are the tip's today: wear
    since the last coupon widens again, and fewer than at the last coupon mean a new tip. Coupons of other tips and
    metals lend the cup radius, those of the same tip their kerf. Refuses a tip the kit does not have.
    """
    mine = tuple(c for c in coupons if (c.tip, c.metal) == (tip, metal))
    supply = _supply(tuple(sorted(mine, key=lambda c: (c.date, c.id))))
    g = _carried(kit, m.prior(kit, tip, metal), tip, metal, coupons)
    g, found, used = _chain(kit, g, mine, supply)
    known = {t.name for t in kit.torch.tips}
    found += tuple(
        Finding(
            "coupon-tip-unknown",
            Severity.CAUTION,
            f"coupon {c.id}",
            f"its tip '{c.tip}' is not in the kit {kit.name}, so nothing is learned from it",
            ", ".join(sorted(known)),
        )
        for c in coupons
        if c.tip not in known
    )
    if used and (starts is not None or arc_min is not None):
        g = _aged(kit, g, (used[-1].starts, used[-1].arc_min), (starts, arc_min))
    reference = [("supply_kpa_g", supply)]
    if used:
        last = used[-1]
        reference += [("thickness_mm", last.thickness_mm), ("current_a", last.current_a)]
        if last.starts is not None or starts is not None:
            reference.append(("starts", float(starts if starts is not None else last.starts or 0)))
    reference += [(f"date of {c.id}", float(c.date.replace("-", "") or 0)) for c in used if _is_date(c.date)]
    return as_belief(g, tip, metal, tuple(c.id for c in used), tuple(reference)), found


def _is_date(text: str) -> bool:
    parts = text.split("-")
    return len(parts) == 3 and all(p.isdigit() for p in parts)


def as_belief(
    g: Gauss, tip: str, metal: str, coupons: tuple[str, ...] = (), reference: tuple[tuple[str, float], ...] = ()
) -> Belief:
    """A Gaussian as the record that is kept."""
    rows = tuple(tuple(float(x) for x in row) for row in g.cov)
    return Belief(tip, metal, NAMES, tuple(float(x) for x in g.mean), rows, coupons, reference)


def as_gauss(belief: Belief) -> Gauss:
    """The Gaussian of a kept belief; quantities are found by name, so an older record in another order still reads."""
    if belief.names == NAMES:
        return Gauss(np.array(belief.mean), np.array(belief.covariance))
    at = [belief.names.index(n) for n in NAMES]
    return Gauss(np.array(belief.mean)[at], np.array(belief.covariance)[np.ix_(at, at)])


def without(coupon: Coupon, labels: tuple[str, ...]) -> Coupon:
    """The coupon with more readings set aside by name."""
    return replace(coupon, set_aside=tuple(dict.fromkeys((*coupon.set_aside, *labels))))
