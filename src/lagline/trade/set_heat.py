"""The set as one warm body: a time constant from the duty points of its rating plate, and how long it may run.

Warmth is told as a share of the rise the set may have above air at 40 C: 0 cold, 1 at its limit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

from lagline.trade.duty import PERIOD_S, limit_cycle_peak
from lagline.trade.register import Limit, formula

RATING_C = 40.0  # ambient of the duty factor, IEC 60974-1 (from memory)
RISE_K, RISE_LOW_K, RISE_HIGH_K = 60.0, 40.0, 100.0  # inner rise at the limit: common practice, no source
PLATE_A = 0.5  # a rating plate is in whole amperes
LEAST_TAU_S, MOST_TAU_S = 20.0, 3600.0
_TAU = Limit("tau_s", LEAST_TAU_S, MOST_TAU_S, "s", "beyond an hour the points do not tell it from equal heating")


@dataclass(frozen=True, slots=True)
class SetHeat:
    """First-order warming: time constant with its spread from the plate's rounding [s], and the current [A] that
    brings the set just to its limit when it never rests."""

    tau_s: float
    tau_low_s: float
    tau_high_s: float
    full_a: float

    def final(self, current_a: float) -> float:
        """Warmth reached at a current that never rests [-]."""
        return (current_a / self.full_a) ** 2


def _tau(ratio: float, low_share: float, high_share: float) -> float:
    """The time constant at which the peaks of two rhythms are in a ratio; infinite for equal heating or steeper."""

    def peaks(tau: float) -> float:
        return limit_cycle_peak(high_share, PERIOD_S, tau) / limit_cycle_peak(low_share, PERIOD_S, tau)

    a, b = math.log(LEAST_TAU_S), math.log(1e6)
    if ratio >= peaks(math.exp(b)):
        return math.inf
    if ratio <= peaks(math.exp(a)):
        return LEAST_TAU_S
    for _ in range(80):
        m = (a + b) / 2
        a, b = (m, b) if peaks(math.exp(m)) < ratio else (a, m)
    return math.exp((a + b) / 2)


def _misfit(tau: float, points: tuple[tuple[float, float], ...]) -> float:
    levels = [2 * math.log(i) + math.log(limit_cycle_peak(x, PERIOD_S, tau)) for i, x in points]
    mean = math.fsum(levels) / len(levels)
    return math.fsum((v - mean) ** 2 for v in levels)


def _best_tau(points: tuple[tuple[float, float], ...]) -> float:
    """Least squares over every point, by a scan and golden sections in ln tau."""
    grid = [math.exp(math.log(LEAST_TAU_S) + i * math.log(1e6 / LEAST_TAU_S) / 200) for i in range(201)]
    k = min(range(201), key=lambda i: _misfit(grid[i], points))
    if k == 200:
        return math.inf
    a, b = math.log(grid[max(0, k - 1)]), math.log(grid[k + 1])
    g = (math.sqrt(5) - 1) / 2
    for _ in range(70):
        c, d = b - g * (b - a), a + g * (b - a)
        a, b = (a, d) if _misfit(math.exp(c), points) < _misfit(math.exp(d), points) else (c, b)
    return math.exp((a + b) / 2)


@formula(
    "set.time-constant",
    text="(I1/I2)^2 = P(X2)/P(X1), P(X) = (1 - exp(-X Tc/tau))/(1 - exp(-Tc/tau)), Tc = 600 s; solved for tau",
    gives="time constant of the set [s]",
    source="first order warming by I^2 through the plate's duty points (derived); duty factor over 10 min at 40 C, "
    "IEC 60974-1 (from memory)",
    limits=(_TAU,),
)
@cache
def set_heat(points: tuple[tuple[float, float], ...]) -> SetHeat | None:
    """Fit the warm body to duty points (current [A], share [0..1]), any order, no current twice.

    More than two points: least squares. The set's limit is the lowest of the peaks its own plate allows, so no point
    is overrun. None when the points do not tell a time constant below an hour, the plate's rounding to whole amperes
    counted in: one point, or points that lie on the square rule; equal heating is then all there is. ValueError for
    points that are none.
    """
    if not points or any(not (i > 0 and 0 < x <= 1) for i, x in points):
        raise ValueError(f"duty points must be (A above 0, share above 0 to 1), got {points}")
    known = sorted(points)
    (low_a, most), (high_a, least) = known[0], known[-1]
    if high_a <= low_a or most <= least:
        return None
    e = min(PLATE_A, low_a / 4)
    longest = _tau(((high_a + e) / (low_a - e)) ** 2, least, most)
    tau = _tau((high_a / low_a) ** 2, least, most) if len(known) == 2 else _best_tau(tuple(known))
    if longest > MOST_TAU_S or tau > MOST_TAU_S:
        return None
    shortest = _tau(max(1.0, (high_a - e) / (low_a + e)) ** 2, least, most)
    full = min(i * math.sqrt(limit_cycle_peak(x, PERIOD_S, tau)) for i, x in known)
    return SetHeat(tau, min(shortest, tau), max(longest, tau), full)


@formula(
    "set.level",
    text="limit = 1 + (40 - ambient)/rise; rise 100 K in cooler air, 40 K in hotter",
    gives="rise the set may have, as a share of the one at 40 C [-]",
    source="first order (derived); rise 40 to 100 K: common practice, no source, the cautious end taken each way",
    limits=(Limit("ambient_c", -30, 60, "C"),),
)
def level(ambient_c: float) -> float:
    """Share of the rated rise allowed in air at a temperature [C]: [-], 1 at 40 C, never below 0.05."""
    rise = RISE_HIGH_K if ambient_c < RATING_C else RISE_LOW_K
    return max(0.05, 1 + (RATING_C - ambient_c) / rise)


@formula(
    "set.warmth",
    text="w = w_final + (w0 - w_final) exp(-t/tau)",
    gives="warmth after a time [-]",
    source="first order warming (derived)",
    limits=(_TAU,),
)
def warmth_after(start: float, final: float, seconds: float, tau_s: float) -> float:
    """Warmth after a time [s] at a steady current (final 0: resting, fan on), from a start. [-]"""
    return final + (start - final) * math.exp(-seconds / tau_s)


@formula(
    "set.longest",
    text="t = tau ln((w_final - w0)/(w_final - limit))",
    gives="longest arc from a warmth [s]",
    source="first order warming (derived)",
    limits=(_TAU,),
)
def longest_s(start: float, final: float, limit: float, tau_s: float) -> float:
    """Longest arc before the set is at its limit: warmth at the start, final and limit [-]. [s], infinite when it never
    gets there."""
    if final <= limit:
        return math.inf
    return tau_s * math.log((final - start) / (final - limit)) if start < limit else 0.0


@formula(
    "set.rest",
    text="w0 = w_final - (w_final - limit) exp(t/tau); rest = tau ln(w/w0)",
    gives="shortest rest before an arc [s]",
    source="first order cooling, fan on (derived)",
    limits=(_TAU,),
)
def start_for(arc_s: float, final: float, limit: float, tau_s: float) -> float:
    """Warmth an arc of a length [s] may begin at; below 0 when it is too long even for a cold set. [-]"""
    if final <= limit:
        return limit
    return min(limit, final - (final - limit) * math.exp(min(700.0, arc_s / tau_s)))


@formula(
    "set.rhythm",
    text="X = -(tau/Tc) ln(1 - limit/w_final (1 - exp(-Tc/tau))), at most 1",
    gives="share of every ten minutes in a steady rhythm [-]",
    source="the limit cycle turned round (derived)",
    limits=(_TAU,),
)
def rhythm_share(final: float, limit: float, tau_s: float) -> float:
    """Share of ten minutes the arc may burn for ever, from the final warmth and the limit [-]. Passes through the
    duty points it was fitted to."""
    if final <= limit:
        return 1.0
    return min(1.0, -tau_s / PERIOD_S * math.log1p(limit / final * math.expm1(-PERIOD_S / tau_s)))
