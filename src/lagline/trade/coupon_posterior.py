"""A coupon's readings onto a belief: Newton to the most likely quantities, then mean and spread by weighted samples."""

from __future__ import annotations

import math
from functools import cache

import numpy as np

from lagline.trade.coupon_measure import Readings, expected, log_likelihood
from lagline.trade.coupon_model import NAMES, Array, Gauss

SAMPLES = 4096
ROUNDS, MOST_ROUNDS = 2, 10
ENOUGH = 400  # samples that count: below this the rounds go on
WIDER = 1.1  # samples are drawn a little wider than the target, so that its tails are reached
SEED = 20


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
    """Mean and covariance after one coupon."""
    return fitted(readings, before)[0]


def fitted(readings: Readings, before: Gauss) -> tuple[Gauss, float]:
    """Mean and covariance after one coupon, and how many samples they rest on.

    Laplace at the mode, then its moments mended by importance sampling (twice, with fixed samples; more often while
    few of them count, as when a reading far off is said to stand), since dross seen as words leaves a lopsided
    posterior whose mode is not its mean, and a word that may be the wrong one leaves a second hump. So half the
    samples come from about the last moments and half from what the measured values alone say, which covers every hump.
    How many count is (sum of weights)^2 over the sum of their squares.
    """
    if not len(readings.value) and not len(readings.dross) and not len(readings.through):
        return before, float(2 * SAMPLES)
    centre, cov = laplace(readings, before)
    other, other_cov = _without_words(readings, before, centre)
    z = normals(SAMPLES, len(NAMES))
    far = np.asarray(np.linalg.cholesky(other_cov), dtype=np.float64)
    outer = other + z @ far.T
    log_p_outer, log_q_outer = log_posterior(outer, readings, before), _log_gauss(outer, other, far)
    counted = 0.0
    for done in range(MOST_ROUNDS):
        if done >= ROUNDS and counted >= ENOUGH:
            break
        near = np.asarray(WIDER * np.linalg.cholesky(cov), dtype=np.float64)
        inner = centre + z @ near.T
        u = np.concatenate([inner, outer])
        log_p = np.concatenate([log_posterior(inner, readings, before), log_p_outer])
        log_q = np.concatenate([_log_gauss(inner, other, far), log_q_outer])
        log_w = log_p - np.logaddexp(_log_gauss(u, centre, near), log_q)
        w = np.exp(log_w - log_w.max())
        w /= w.sum()
        counted = float(1 / np.square(w).sum())
        centre = w @ u
        away = u - centre
        cov = (away * w[:, None]).T @ away
        cov = (cov + cov.T) / 2 + 1e-10 * np.eye(len(cov))
    factor = np.linalg.cholesky(before.cov)
    after = factor @ cov @ factor.T
    return Gauss(before.mean + factor @ centre, (after + after.T) / 2), counted
