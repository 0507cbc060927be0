"""Readings that do not fit: found, asked about and set apart, never averaged in unless their user says they stand."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from lagline.records.coupon import Coupon
from lagline.records.finding import Finding
from lagline.trade.coupon_measure import Kind, Readings, as_value, expected, read
from lagline.trade.coupon_model import NAMES, Array, Condition, Gauss
from lagline.trade.coupon_unusable import set_apart

APART = 4.0  # standard deviations from what all else says
BEYOND = 12.0  # and from the belief alone: no quantity of the model reaches there, whoever says that it stands
PAIR_APART, PAIR_GAIN = 9.2, 8.0  # chi-square of two readings (1 %), and how much a swap must better it
FITS = 2.5
_WORDS = {
    "kerf_top_mm": "kerf at the top",
    "kerf_bottom_mm": "kerf at the bottom",
    "guide_near_mm": "guide to near edge",
    "guide_far_mm": "guide to far edge",
    "gap_right_mm": "gap on the right",
    "gap_left_mm": "gap on the left",
    "lag_mm": "lag of the lines",
    "disc_got_mm": "disc",
    "hole_got_mm": "hole",
    "crater_mm": "crater",
}
_PAIRS = (
    ("gap_right_mm", "gap_left_mm", "right and left"),
    ("guide_near_mm", "guide_far_mm", "near and far"),
    ("kerf_top_mm", "kerf_bottom_mm", "top and bottom"),
)
_SLIPS = ((25.4, "inches entered as mm"), (1 / 25.4, "mm entered as inches"), (10.0, "a decimal point"), (0.1, "a "
          "decimal point"))  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Sight:
    """Each reading against what the belief before and all other readings say: middle and spread, left out in turn."""

    r: Readings
    middle: Array
    sd: Array

    def z(self, i: int, value: float) -> float:
        return (value - float(self.middle[i])) / float(self.sd[i])


def _predict(r: Readings, before: Gauss) -> tuple[Array, Array, Array]:
    """Expected readings at the belief's mean, their slopes, and their covariance with the noise."""
    h = 0.02 * before.sd()
    steps = np.diag(h)
    f = expected(np.concatenate([before.mean[None], before.mean + steps, before.mean - steps]), r)
    d = len(NAMES)
    slope = ((f[1 : d + 1] - f[d + 1 :]) / (2 * h[:, None])).T
    return f[0], slope, slope @ before.cov @ slope.T + r.noise


def _left_out(r: Readings, before: Gauss) -> _Sight:
    """Leave-one-out predictions, exact for a linear model: y_i - (S^-1 e)_i / (S^-1)_ii with variance 1/(S^-1)_ii."""
    f, _, s = _predict(r, before)
    e = r.value - f
    inverse = np.linalg.inv(s)
    diagonal = np.diag(inverse)
    return _Sight(r, r.value - (inverse @ e) / diagonal, 1 / np.sqrt(diagonal))


def _field(label: str) -> str:
    return label.rpartition(".")[2]


def _guess(sight: _Sight, i: int) -> str:
    """What slip would explain a reading, in words; empty when none does."""
    r = sight.r
    for factor, words in _SLIPS:
        value, _ = as_value(int(r.kind[i]), float(r.raw[i]) * factor, r.plate_mm)
        if abs(sight.z(i, value)) < FITS:
            return words
    return ""


@dataclass(frozen=True, slots=True)
class Standing:
    """Readings that do not fit and are left in, because their user says that they stand: names, and what does not."""

    labels: tuple[str, ...]
    misfit: str


@dataclass(frozen=True, slots=True)
class Judged:
    """A coupon looked over: names to leave out, a question for each of them, and those left in all the same."""

    aside: frozenset[str]
    asked: tuple[Finding, ...]
    standing: tuple[Standing, ...]


def _swaps(
    coupon: Coupon, stands: frozenset[str], r: Readings, before: Gauss, gross: frozenset[str]
) -> tuple[frozenset[str], list[Finding], list[Standing]]:
    """Pairs of one cut that fit only the other way round, given everything else but what is grossly off.

    A pair of which one is said to stand is not swapped: what stands of it is named, and the other judged by itself.
    """
    aside: set[str] = set()
    found: list[Finding] = []
    standing: list[Standing] = []
    f, _, s = _predict(r, before)
    index = {label: i for i, label in enumerate(r.labels)}
    said = {i for label, i in index.items() if label in stands}
    for one, other, words in _PAIRS:
        both = [
            (index[a], index[b])
            for n in range(len(coupon.cuts))
            if (a := f"cuts[{n}].{one}") in index and (b := f"cuts[{n}].{other}") in index
        ]
        if not both:
            continue
        free = [pair for pair in both if not said & set(pair)]
        groups = [[pair] for pair in both] + [g for g in ([free, both] if free != both else [both]) if len(g) > 1]
        for group in groups:
            at = [i for pair in group for i in pair]
            rest = [i for i in range(len(r.value)) if i not in at and r.labels[i] not in gross]
            middle, cov = f[at], s[np.ix_(at, at)]
            if rest:
                k = s[np.ix_(at, rest)] @ np.linalg.inv(s[np.ix_(rest, rest)])
                middle, cov = middle + k @ (r.value[rest] - f[rest]), cov - k @ s[np.ix_(rest, at)]
            inverse = np.linalg.inv(cov)
            e = r.value[at] - middle
            swapped = r.value[[x for i, j in group for x in (j, i)]] - middle
            as_is, if_swapped = float(e @ inverse @ e), float(swapped @ inverse @ swapped)
            limit = PAIR_APART if len(group) == 1 else 2 * len(group) + 8.0
            if as_is > limit and if_swapped < limit and as_is - if_swapped > PAIR_GAIN:
                held = [i for i in at if i in said]
                labels = tuple(r.labels[i] for i in held or at)
                if set(labels) & (aside | {x for known in standing for x in known.labels}):
                    continue
                told = ", ".join(f"{r.raw[i]:.2f}" for i in at)
                misfit = f"{told} mm fit far better with {words} the other way round"
                if held:
                    standing.append(Standing(labels, misfit))
                    continue
                aside.update(labels)
                allowed = f"{words} swapped? enter them the other way round, or say that they stand"
                if one == "gap_right_mm" and len(group) > 1:
                    allowed += "; or the square side in the kit is the wrong one for this tip's swirl"
                found.append(set_apart(coupon, labels, misfit, allowed))
    return frozenset(aside), found, standing


def odd_readings(coupon: Coupon, condition: Condition, before: Gauss, aside: frozenset[str]) -> Judged:
    """Find the readings that neither the belief before nor the rest of the coupon can explain.

    Worst first and one at a time, each judged against all that is left, until none is further off than four
    standard deviations. One that its user says stands is not left out, yet has no say in judging the others: what one
    odd reading says must not set the rest apart. One beyond all reach stays out whatever is said of it.
    """
    found: list[Finding] = []
    standing: list[Standing] = []
    held: set[str] = set()
    stands = frozenset(coupon.stands)

    def judge(sight: _Sight, i: int) -> None:
        nonlocal aside
        label, (misfit, allowed) = sight.r.labels[i], _misfit(sight, i)
        if label in stands:
            held.add(label)
            standing.append(Standing((label,), misfit))
        else:
            aside = aside | {label}
            found.append(set_apart(coupon, (label,), misfit, allowed))

    # a slip by a factor of ten or more shows against the belief alone, and would drag its neighbours with it
    r = read(coupon, condition, aside)
    if len(r.value):
        f, _, s = _predict(r, before)
        alone = _Sight(r, f, np.sqrt(np.diag(s)))
        far = np.abs((r.value - f) / alone.sd)
        gross = [i for i in range(len(r.value)) if far[i] > APART + 1]
        stands -= {r.labels[i] for i in gross if far[i] > BEYOND}
        swapped, found, standing = _swaps(coupon, stands, r, before, frozenset(r.labels[i] for i in gross))
        held = {label for known in standing for label in known.labels}
        for i in gross:
            if r.labels[i] not in swapped | held:
                judge(alone, i)
        aside = aside | swapped
    while len((r := read(coupon, condition, aside | held)).value):
        sight = _left_out(r, before)
        z = np.abs((r.value - sight.middle) / sight.sd)
        worst = int(np.argmax(z))
        if z[worst] <= APART:
            break
        judge(sight, worst)
    return Judged(aside, tuple(found), tuple(standing))


def _misfit(sight: _Sight, i: int) -> tuple[str, str]:
    """How a reading does not fit, and what its user can do."""
    r = sight.r
    guess = _guess(sight, i)
    low, high = (_raw(r, i, float(sight.middle[i] + s * 2 * sight.sd[i])) for s in (-1, 1))
    return (
        f"{_WORDS[_field(r.labels[i])]} {r.raw[i]:.2f} mm does not fit the rest, which says {low:.2f} to {high:.2f} mm",
        (f"{guess}? mend it, " if guess else "") + "measure again, set it aside, or say that it stands",
    )


def not_reckoned(coupon: Coupon, known: Standing) -> Finding:
    """A finding for readings said to stand that no belief was found for together with the rest."""
    why = "no figures were found that allow it beside the rest"
    return set_apart(coupon, known.labels, known.misfit, "measure again, or set it aside", why)


def _raw(r: Readings, i: int, value: float) -> float:
    match int(r.kind[i]):
        case Kind.GAP_RIGHT | Kind.GAP_LEFT:
            return r.plate_mm * math.tan(math.radians(value))
        case Kind.LAG:
            return r.plate_mm * math.tan(min(math.exp(value), 1.5))
        case Kind.CRATER:
            return math.exp(value) * 2 * 0.75 * r.plate_mm
        case _:
            return value
