"""Whether a tip is going: its coupons on a control chart over arc time or starts.

Each coupon is compared with the tip's coupons before it, so no reference run is needed. What is summed is how far it
lies above (or below) what those make likely, in standard deviations, less an allowance; the sum passes its limit
when a drift has gone on, not when one coupon was misread.

Glossary
--------
score   : how far a coupon lies from what the ones before it make likely, as a standard normal deviate
sum     : cumulative sum of scores less the allowance, never below nought
life    : the coupons of one tip from one change of tip to the next
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from lagline.trade.register import Limit, formula

# A tip lasts some ten coupons and wears slowly: a small allowance finds a slow drift in so short a run.
ALLOWANCE = 0.25
UP_ONLY, BOTH_WAYS = 4.0, 5.0  # limits of the sum; both ways doubles the chances of a false alarm, so it is higher
MOST_SCORE = 3.0  # below limit and allowance: one coupon alone never says that a tip is going
FARTHEST = 38.0  # where the normal tail is nought in doubles
LIMIT_SHARE = 1.10  # a bore 10 % bigger is done: common practice, no source; kerf goes with bore


@dataclass(frozen=True, slots=True)
class Scatter:
    """How far coupons of one tip lie apart when nothing changes: standard deviation, and how many coupons that
    figure is worth (degrees of freedom) against the tip's own."""

    sd: float
    worth: float


# Callipers in a rough kerf read to about 0.1 mm and the hand adds as much; a square and a feeler to about a degree.
KERF_SCATTER = Scatter(0.15, 4.0)  # mm; common practice, no source
BEVEL_SCATTER = Scatter(1.0, 4.0)  # deg; common practice, no source


@dataclass(frozen=True, slots=True)
class Point:
    """One coupon on the chart: place along the tip's life, value, score (None for the first), both sums."""

    at: float
    value: float
    score: float | None
    up: float
    down: float


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart of one quantity. ``signal`` is the first point whose sum passes the limit, None for none; only upward
    sums count unless ``both_ways``."""

    points: tuple[Point, ...]
    both_ways: bool
    signal: int | None

    @property
    def decision(self) -> float:
        """The limit of the sum."""
        return BOTH_WAYS if self.both_ways else UP_ONLY

    @property
    def sum(self) -> float:
        """The larger sum at the last coupon, 0 without one."""
        if not self.points:
            return 0.0
        last = self.points[-1]
        return max(last.up, last.down) if self.both_ways else last.up


@dataclass(frozen=True, slots=True)
class Reach:
    """Where along the tip's life a limit is reached: best, soonest, latest (None when it may never be)."""

    value: float
    low: float
    high: float | None


@formula(
    "drift.score",
    text="T = (x_n - mean_(n-1))/(s sqrt(1 + 1/(n-1))), t with nu0 + n - 2 degrees of freedom, turned into a normal "
    "deviate; s^2 = (nu0 s0^2 + SUM(x - mean)^2)/(nu0 + n - 2)",
    gives="how far a coupon lies from what those before it make likely [standard deviations]",
    source="self-starting chart, Hawkins 1987, The Statistician 36 (from memory), with a conjugate prior for the "
    "scatter (derived); scatter before the first coupon 0.15 mm and 1 deg, worth 4: common practice, no source",
    limits=(Limit("coupons", 2, 1000, "coupons", "the first has nothing to be compared with"),),
)
def scores(values: Sequence[float], scatter: Scatter) -> tuple[float | None, ...]:
    """Score of each value against those before it: None for the first, then independent standard normal deviates as
    long as nothing changes and the scatter is what its prior says.

    Parameters: values in order; scatter in their unit. Exact on average over the prior. With a true standard deviation
    twice the prior's about 15 of 100 tips with ten coupons are wrongly called in place of 4 (simulated), until the
    tip's own coupons have taught it better.
    """
    from scipy.special import ndtri, stdtr

    out: list[float | None] = []
    mean, squares = 0.0, 0.0
    for n, x in enumerate(values):  # n values before this one
        if n == 0:
            out.append(None)
        else:
            dof = scatter.worth + n - 1
            s = math.sqrt((scatter.worth * scatter.sd**2 + squares) / dof)
            t = (x - mean) / (s * math.sqrt(1 + 1 / n))
            # the lower tail on both sides, where it is exact; far out it is nought and the deviate is held
            p = float(stdtr(dof, -abs(t)))
            z = float(-ndtri(p)) if p > 0 else FARTHEST
            out.append(math.copysign(z, t))
        step = x - mean
        mean += step / (n + 1)
        squares += step * (x - mean)
    return tuple(out)


@formula(
    "drift.sums",
    text="up_n = max(0, up_(n-1) + z_n - 0.25), down_n = max(0, down_(n-1) - z_n - 0.25), z held to plus or minus 3; "
    "signal above 4, or above 5 where both ways count",
    gives="cumulative sums of a chart [standard deviations]",
    source="Page 1954, Biometrika 41 (from memory); held scores after Lucas and Crosier 1982 (from memory)",
    limits=(Limit("coupons", 2, 1000, "coupons", "the first has nothing to be compared with"),),
)
def chart(at: Sequence[float], values: Sequence[float], scatter: Scatter, *, both_ways: bool = False) -> Chart:
    """Chart values along a tip's life.

    Parameters: place of each [arc-min or starts], values in order, their scatter; whether a fall counts as well.
    With no drift an upward chart signals about once in 77 coupons, one that counts both ways about once in 71; of
    tips with ten coupons about 4 in 100 and 3 in 100 are wrongly called, since the sums begin at nought.
    """
    decision = BOTH_WAYS if both_ways else UP_ONLY
    up = down = 0.0
    signal = None
    points = []
    for n, (x, value, z) in enumerate(zip(at, values, scores(values, scatter), strict=True)):
        held = max(-MOST_SCORE, min(MOST_SCORE, z or 0.0))
        if z is not None:
            up, down = max(0.0, up + held - ALLOWANCE), max(0.0, down - held - ALLOWANCE)
        points.append(Point(x, value, z, up, down))
        if signal is None and (up > decision or (both_ways and down > decision)):
            signal = n
    return Chart(tuple(points), both_ways, signal)


@formula(
    "drift.false-alarms",
    text="coupons = (exp(2 k b) - 2 k b - 1)/(2 k^2), b = h + 1.166; half of it when both ways count",
    gives="mean number of coupons to a signal when nothing drifts [coupons]",
    source="Siegmund 1985, Sequential Analysis (from memory); k = 0.5: 336 at h = 4, 930 at h = 5, Montgomery, "
    "Statistical Quality Control (from memory)",
    limits=(
        Limit("allowance", 0.25, 0.5, "sd", "within 3 % of a Markov chain there; at 1 it is 6 % high"),
        Limit("decision", 3.0, 6.0, "sd", "within 3 % of a Markov chain there"),
    ),
)
def coupons_to_false_alarm(allowance: float, decision: float, *, both_ways: bool = False) -> float:
    """Mean number of coupons to a signal when nothing drifts, for an allowance and a limit in standard deviations."""
    two_kb = 2 * allowance * (decision + 1.166)
    once = (math.exp(two_kb) - two_kb - 1) / (2 * allowance**2)
    return once / 2 if both_ways else once


@formula(
    "drift.reach",
    text="x = x_mean + (limit - y_mean)/slope; soonest and latest from slope plus or minus t s/sqrt(Sxx)",
    gives="where along the tip's life a limit is reached [arc-min or starts]",
    source="straight line by least squares, scatter as in drift.score (derived); 10 % wider is done: common practice, "
    "no source",
    limits=(Limit("coupons", 3, 1000, "coupons", "two make a line whatever they are"),),
)
def reach(at: Sequence[float], values: Sequence[float], scatter: Scatter, limit: float) -> Reach | None:
    """Where a line through the values reaches a limit, with the 90 % spread of its slope.

    None with fewer than three coupons, all at one place, or a best slope that does not lead up to the limit.
    """
    n = len(at)
    if n < 3:
        return None
    x0, y0 = math.fsum(at) / n, math.fsum(values) / n
    sxx = math.fsum((x - x0) ** 2 for x in at)
    if sxx <= 0:
        return None
    slope = math.fsum((x - x0) * (y - y0) for x, y in zip(at, values, strict=True)) / sxx
    if slope <= 0:
        return None
    from scipy.special import stdtrit

    left = math.fsum((y - y0 - slope * (x - x0)) ** 2 for x, y in zip(at, values, strict=True))
    dof = scatter.worth + n - 2
    half = float(stdtrit(dof, 0.95)) * math.sqrt((scatter.worth * scatter.sd**2 + left) / dof / sxx)

    def where(m: float) -> float:
        return x0 + (limit - y0) / m

    best = where(slope)
    ends = [where(slope + half)] + ([where(slope - half)] if slope > half else [])
    latest = max(*ends, best) if slope > half else None
    return Reach(best, min(*ends, best), latest)
