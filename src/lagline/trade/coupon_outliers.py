"""Readings that do not fit: found, asked about and set apart, never averaged in."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from lagline.records.coupon import Coupon
from lagline.records.finding import Finding, Severity
from lagline.trade.coupon_measure import CUT_FIELDS, Kind, Readings, as_value, expected, read
from lagline.trade.coupon_model import NAMES, Array, Condition, Gauss

APART = 4.0  # standard deviations from what all else says
PAIR_APART, PAIR_GAIN = 9.2, 8.0  # chi-square of two readings (1 %), and how much a swap must better it
FITS = 2.5
SLOWEST_MM_S, FASTEST_MM_S = 0.4, 85.0  # about 1 and 200 in/min: no hand cuts outside
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


def _odd(coupon: Coupon, label: str, message: str, allowed: str) -> Finding:
    return Finding("coupon-odd", Severity.CAUTION, f"coupon {coupon.id}, {label}", message, allowed)


def _positive(value: float | None) -> bool:
    return value is None or (math.isfinite(value) and value > 0)


def unusable(coupon: Coupon) -> tuple[frozenset[str] | None, tuple[Finding, ...]]:
    """What of a coupon cannot be a measurement at all. Returns the names to set aside, None for the whole coupon."""
    for name, value in (("thickness_mm", coupon.thickness_mm), ("current_a", coupon.current_a)):
        if not (math.isfinite(value) and value > 0):
            return None, (
                Finding(
                    "coupon-unusable",
                    Severity.CAUTION,
                    f"coupon {coupon.id}, {name}",
                    f"{value:g} is no thickness or current, so nothing is learned from this coupon",
                    "above 0",
                ),
            )
    aside: set[str] = set()
    found: list[Finding] = []

    def out(labels: tuple[str, ...], message: str, allowed: str) -> None:
        aside.update(labels)
        found.append(_odd(coupon, labels[0], message + ": set apart", allowed))

    for i, cut in enumerate(coupon.cuts):
        label = f"cuts[{i}]"
        for name, kind in CUT_FIELDS:
            value = getattr(cut, name)
            signed = kind in (Kind.GAP_RIGHT, Kind.GAP_LEFT, Kind.LAG)
            if value is not None and not (math.isfinite(value) and (signed or value > 0)):
                out((f"{label}.{name}",), f"{value:g} mm cannot be measured", "above 0 mm")
        v = cut.pace_mm_s if cut.seconds else None
        if not (_positive(cut.length_mm) and _positive(cut.seconds)) or (
            v is not None and not SLOWEST_MM_S <= v <= FASTEST_MM_S
        ):
            said = f"{v * 60 / 25.4:.3g} in/min" if v is not None and math.isfinite(v) else "no pace"
            out(
                (f"{label}.seconds",),
                f"{cut.length_mm} mm in {cut.seconds} s is {said}, which no hand cuts at",
                "seconds for the whole marked length, in mm; was it seconds an inch, or inches?",
            )
    for name in ("disc", "hole"):
        asked, got = getattr(coupon, f"{name}_asked_mm"), getattr(coupon, f"{name}_got_mm")
        if not (_positive(asked) and _positive(got)):
            out((f"{name}_got_mm", f"{name}_asked_mm"), f"{asked} mm asked and {got} mm got", "diameters above 0 mm")
    if not _positive(coupon.crater_mm):
        out(("crater_mm",), f"{coupon.crater_mm} mm cannot be measured", "above 0 mm")
    if coupon.supply_kpa_g is not None and not _positive(coupon.supply_kpa_g):
        found.append(_odd(coupon, "supply_kpa_g", f"{coupon.supply_kpa_g:g} kPa is no supply: left out", "above 0 kPa"))
    return frozenset(aside), tuple(found)


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


def _swaps(coupon: Coupon, r: Readings, before: Gauss, gross: frozenset[str]) -> tuple[frozenset[str], list[Finding]]:
    """Pairs of one cut that fit only the other way round, given everything else but what is grossly off."""
    aside: set[str] = set()
    found: list[Finding] = []
    if not len(r.value):
        return frozenset(), found
    f, _, s = _predict(r, before)
    index = {label: i for i, label in enumerate(r.labels)}
    for one, other, words in _PAIRS:
        both = [
            (index[a], index[b])
            for n in range(len(coupon.cuts))
            if (a := f"cuts[{n}].{one}") in index and (b := f"cuts[{n}].{other}") in index
        ]
        if not both:
            continue
        groups = [[pair] for pair in both] + ([both] if len(both) > 1 else [])
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
                labels = [r.labels[i] for i in at]
                if set(labels) & aside:
                    continue
                aside.update(labels)
                told = ", ".join(f"{r.raw[i]:.2f}" for i in at)
                allowed = f"{words} swapped? enter them the other way round"
                if one == "gap_right_mm" and len(group) > 1:
                    allowed += "; or the square side in the kit is the wrong one for this tip's swirl"
                found.append(
                    _odd(
                        coupon,
                        ", ".join(labels),
                        f"{told} mm fit far better with {words} the other way round: set apart",
                        allowed,
                    )
                )
    return frozenset(aside), found


def odd_readings(
    coupon: Coupon, condition: Condition, before: Gauss, aside: frozenset[str]
) -> tuple[frozenset[str], tuple[Finding, ...]]:
    """Find the readings that neither the belief before nor the rest of the coupon can explain.

    Worst first and one at a time, each judged against all that is left, until none is further off than four
    standard deviations. Returns everything to leave out, and a finding that names and asks for each.
    """
    found: list[Finding] = []
    # a slip by a factor of ten or more shows against the belief alone, and would drag its neighbours with it
    r = read(coupon, condition, aside)
    if len(r.value):
        f, _, s = _predict(r, before)
        alone = _Sight(r, f, np.sqrt(np.diag(s)))
        gross = [i for i in range(len(r.value)) if abs(alone.z(i, float(r.value[i]))) > APART + 1]
        swapped, found = _swaps(coupon, r, before, frozenset(r.labels[i] for i in gross))
        found += [_asked(coupon, alone, i) for i in gross if r.labels[i] not in swapped]
        aside = aside | swapped | {r.labels[i] for i in gross}
    while True:
        r = read(coupon, condition, aside)
        if not len(r.value):
            break
        sight = _left_out(r, before)
        z = np.abs((r.value - sight.middle) / sight.sd)
        worst = int(np.argmax(z))
        if z[worst] <= APART:
            break
        aside = aside | {r.labels[worst]}
        found.append(_asked(coupon, sight, worst))
    return aside, tuple(found)


def _asked(coupon: Coupon, sight: _Sight, i: int) -> Finding:
    r = sight.r
    guess = _guess(sight, i)
    low, high = (_raw(r, i, float(sight.middle[i] + s * 2 * sight.sd[i])) for s in (-1, 1))
    return _odd(
        coupon,
        r.labels[i],
        f"{_WORDS[_field(r.labels[i])]} {r.raw[i]:.2f} mm does not fit the rest, which says {low:.2f} to "
        f"{high:.2f} mm: set apart",
        f"{guess}? mend it, or measure again" if guess else "measure again, or set it aside",
    )


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
