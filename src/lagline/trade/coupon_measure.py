"""What is read off a coupon, with what error, and how likely the readings are for given quantities.

The errors are those of tape, calliper, square and watch at a bench: common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from lagline.records.coupon import Coupon, CouponCut, Dross
from lagline.trade import coupon_model as m
from lagline.trade.coupon_model import Array, Condition

CALLIPER_MM = 0.12  # kerf at the top: calliper or feelers between ragged edges
CALLIPER_BOTTOM_MM = 0.25  # dross and rounding below
RULE_MM = 0.25  # steel rule or calliper from guide to a kerf edge
TRACK_MM = 0.3  # how far the hand lets the cup stray from the guide, the same for both edges of one cut
GAP_MM = 0.12  # feelers or a rule under a square
LEAN_DEG = 0.7  # the hand's lean in one cut: opens one face by what it closes the other
LAG_MM, LAG_SHARE = 0.3, 0.15  # reading the lines, and how unlike one another the lines of one face are
ARM_MM = 0.6  # a diameter: play of the arm twice, the same for the disc and the hole of one turn
ROUND_MM = 0.25  # reading a hand-cut diameter
CRATER_SHARE = 0.25
WATCH_S, TAPE_MM = 0.3, 1.0
EDGE_LN = 0.06  # dross does not set in at one pace: softness of an edge in ln pace
SEVER_LN = 0.06
WRONG_WORD = 0.03  # a cut called by the wrong word
WRONG_THROUGH = 0.01


class Kind(IntEnum):
    """What a reading is of."""

    KERF_TOP = 0
    KERF_BOTTOM = 1
    NEAR = 2
    FAR = 3
    GAP_RIGHT = 4
    GAP_LEFT = 5
    LAG = 6
    DISC = 7
    HOLE = 8
    CRATER = 9


CUT_FIELDS = (
    ("kerf_top_mm", Kind.KERF_TOP),
    ("kerf_bottom_mm", Kind.KERF_BOTTOM),
    ("guide_near_mm", Kind.NEAR),
    ("guide_far_mm", Kind.FAR),
    ("gap_right_mm", Kind.GAP_RIGHT),
    ("gap_left_mm", Kind.GAP_LEFT),
    ("lag_mm", Kind.LAG),
)
DROSS_CODE = {Dross.SLOW: 0, Dross.NONE: 1, Dross.FAST: 2}


@dataclass(frozen=True, slots=True)
class Readings:
    """A coupon made ready: measured values in the model's own space with their noise, and words seen at paces.

    ``value`` is mm, for gaps degrees, for the lag ln of radians, for the crater ln of its share of the usual.
    ``ln_v`` is the pace behind each value (NaN: mid pace). ``asked`` is twice the arm, pivot to tip centre, that a
    disc or hole was cut with: no kerf allowed for, so the disc comes a kerf small and the hole a kerf large.
    """

    condition: Condition
    plate_mm: float
    labels: tuple[str, ...]
    raw: Array
    value: Array
    noise: Array
    kind: Array
    ln_v: Array
    asked: Array
    dross_ln_v: Array
    dross: Array
    dross_soft: Array
    through_ln_v: Array
    through: Array
    through_soft: Array


def as_value(kind: int, raw: float, plate_mm: float) -> tuple[float, float]:
    """A raw reading [mm] in the model's space, with the standard deviation of reading it alone."""
    if kind in (Kind.GAP_RIGHT, Kind.GAP_LEFT):
        return math.degrees(math.atan(raw / plate_mm)), math.degrees(GAP_MM / plate_mm)
    if kind == Kind.LAG:
        seen = max(raw, LAG_MM / 2)
        return math.log(math.atan(seen / plate_mm)), math.hypot(LAG_SHARE, LAG_MM / seen)
    if kind == Kind.CRATER:
        return math.log(max(raw, 0.1) / (2 * m.CRATER_RADII * plate_mm)), CRATER_SHARE
    sd = {
        Kind.KERF_TOP: CALLIPER_MM,
        Kind.KERF_BOTTOM: CALLIPER_BOTTOM_MM,
        Kind.DISC: ROUND_MM,
        Kind.HOLE: ROUND_MM,
    }
    return raw, sd.get(Kind(kind), RULE_MM)


def usable_pace(cut: CouponCut, label: str, aside: frozenset[str]) -> float:
    """ln pace of a cut, NaN when its length or seconds are missing, nonsense or set aside."""
    ok = (
        cut.length_mm is not None
        and cut.seconds is not None
        and math.isfinite(cut.length_mm)
        and math.isfinite(cut.seconds)
        and cut.length_mm > 0
        and cut.seconds > 0
        and not {f"{label}.length_mm", f"{label}.seconds"} & aside
    )
    return math.log((cut.length_mm or 1.0) / (cut.seconds or 1.0)) if ok else math.nan


def read(coupon: Coupon, condition: Condition, aside: frozenset[str] = frozenset()) -> Readings:
    """Make a coupon's readings ready, those named in ``aside`` (and by the coupon itself) left out."""
    aside = aside | frozenset(coupon.set_aside)
    rows: list[tuple[str, int, float, float, float]] = []  # label, kind, raw, ln pace, asked
    dross: list[tuple[float, int, float]] = []
    through: list[tuple[float, int, float]] = []
    for i, cut in enumerate(coupon.cuts):
        label = f"cuts[{i}]"
        ln_v = usable_pace(cut, label, aside)
        soft = math.hypot(WATCH_S / (cut.seconds or 1.0), TAPE_MM / (cut.length_mm or 1.0)) if ln_v == ln_v else 0.0
        severed = cut.through is not False or f"{label}.through" in aside
        for field, kind in CUT_FIELDS:
            raw = getattr(cut, field)
            if raw is None or f"{label}.{field}" in aside or (kind is Kind.LAG and not severed):
                continue
            if kind is Kind.LAG and math.isnan(ln_v):
                continue  # a lag says nothing without its pace
            rows.append((f"{label}.{field}", kind, raw, ln_v, 0.0))
        if math.isnan(ln_v):
            continue
        if cut.dross is not None and severed and f"{label}.dross" not in aside:
            dross.append((ln_v, DROSS_CODE[cut.dross], math.hypot(EDGE_LN, soft)))
        if cut.through is not None and f"{label}.through" not in aside:
            through.append((ln_v, int(cut.through), math.hypot(SEVER_LN, soft)))
    for name, kind in (("disc", Kind.DISC), ("hole", Kind.HOLE)):
        asked, got = getattr(coupon, f"{name}_asked_mm"), getattr(coupon, f"{name}_got_mm")
        if asked is not None and got is not None and not {f"{name}_asked_mm", f"{name}_got_mm"} & aside:
            rows.append((f"{name}_got_mm", kind, got, math.nan, asked))
    if coupon.crater_mm is not None and "crater_mm" not in aside:
        rows.append(("crater_mm", Kind.CRATER, coupon.crater_mm, math.nan, 0.0))
    plate = coupon.thickness_mm
    made = [as_value(k, raw, plate) for _, k, raw, _, _ in rows]
    noise = np.diag([sd**2 for _, sd in made]) if made else np.zeros((0, 0))
    _share_the_hand(noise, rows)
    d, t = np.array(dross).reshape(-1, 3), np.array(through).reshape(-1, 3)
    return Readings(
        condition,
        plate,
        tuple(r[0] for r in rows),
        np.array([r[2] for r in rows]),
        np.array([v for v, _ in made]),
        noise,
        np.array([r[1] for r in rows], dtype=float),
        np.array([r[3] for r in rows]),
        np.array([r[4] for r in rows]),
        d[:, 0],
        d[:, 1],
        d[:, 2],
        t[:, 0],
        t[:, 1],
        t[:, 2],
    )


def _share_the_hand(noise: Array, rows: list[tuple[str, int, float, float, float]]) -> None:
    """Add what two readings have in common: the cup off the guide, the torch leaning, the play of the arm."""
    places = {(label.partition(".")[0], kind): i for i, (label, kind, *_) in enumerate(rows)}
    for (cut, kind), i in places.items():
        if kind in (Kind.NEAR, Kind.FAR):
            noise[i, i] += TRACK_MM**2
        if kind in (Kind.GAP_RIGHT, Kind.GAP_LEFT):
            noise[i, i] += LEAN_DEG**2
        if kind == Kind.NEAR and (j := places.get((cut, Kind.FAR))) is not None:
            noise[i, j] = noise[j, i] = TRACK_MM**2
        if kind == Kind.GAP_RIGHT and (j := places.get((cut, Kind.GAP_LEFT))) is not None:
            noise[i, j] = noise[j, i] = -(LEAN_DEG**2)
    rounds = [i for i, row in enumerate(rows) if row[1] in (Kind.DISC, Kind.HOLE)]
    for i in rounds:
        noise[i, i] += ARM_MM**2
    if len(rounds) == 2 and rows[rounds[0]][4] == rows[rounds[1]][4]:  # one turn of the arm made both
        i, j = rounds
        noise[i, j] = noise[j, i] = ARM_MM**2


def expected(theta: Array, r: Readings) -> Array:
    """Expected value of every reading for a batch of quantities: one row a sample."""
    out = np.zeros((len(theta), len(r.value)))
    if not len(r.value):
        return out
    c, kind = r.condition, r.kind
    mid = m.ln_mid(theta, c)
    beyond = np.where(np.isnan(r.ln_v), 0.0, r.ln_v - mid[:, None])
    k = m.kerf_at(theta, c)[:, None] * m.finite_exp(-theta[:, m.KERF_PACE, None] * np.clip(beyond, -2.0, 2.0))
    for which in np.unique(kind).tolist():
        at = kind == which
        match int(which):
            case Kind.KERF_TOP:
                out[:, at] = k[:, at]
            case Kind.KERF_BOTTOM:
                lean = np.tan(np.radians(theta[:, m.RIGHT, None])) + np.tan(np.radians(theta[:, m.LEFT, None]))
                out[:, at] = k[:, at] - r.plate_mm * lean
            case Kind.NEAR:
                out[:, at] = theta[:, m.CUP, None] - k[:, at] / 2
            case Kind.FAR:
                out[:, at] = theta[:, m.CUP, None] + k[:, at] / 2
            case Kind.GAP_RIGHT:
                out[:, at] = theta[:, m.RIGHT, None]
            case Kind.GAP_LEFT:
                out[:, at] = theta[:, m.LEFT, None]
            case Kind.LAG:
                out[:, at] = theta[:, m.LAG, None] + theta[:, m.LAG_PACE, None] * np.clip(beyond[:, at], -2.0, 2.0)
            case Kind.DISC:
                out[:, at] = r.asked[at] - k[:, at]
            case Kind.HOLE:
                out[:, at] = r.asked[at] + k[:, at]
            case Kind.CRATER:
                out[:, at] = theta[:, m.CRATER, None]
    return out


def dross_chances(beyond: Array, half: Array, soft: Array | float = EDGE_LN) -> Array:
    """Chance of slow dross, none and fast dross, last axis, for ln pace beyond mid and half width of the window."""
    from scipy.special import ndtr

    slow, fast = ndtr(-(beyond + half) / soft), ndtr((beyond - half) / soft)
    none = ndtr((half - beyond) / soft) - slow
    sure = np.stack([slow, np.maximum(none, 0.0), fast], axis=-1)
    return np.asarray((1 - WRONG_WORD) * sure + WRONG_WORD / 3)


def through_chance(short: Array, soft: Array | float = SEVER_LN) -> Array:
    """Chance of a cut going through for ln severance pace less ln pace."""
    from scipy.special import ndtr

    return np.asarray(WRONG_THROUGH / 2 + (1 - WRONG_THROUGH) * ndtr(short / soft))


def log_words(theta: Array, r: Readings) -> Array:
    """Log chance of the words seen: dross and through, for a batch."""
    total = np.zeros(len(theta))
    if len(r.dross):
        beyond = r.dross_ln_v - m.ln_mid(theta, r.condition)[:, None]
        p = dross_chances(beyond, m.finite_exp(theta[:, m.WINDOW])[:, None], r.dross_soft)
        picked = np.take_along_axis(p, r.dross.astype(int)[None, :, None], axis=-1)[..., 0]
        total += np.log(picked).sum(axis=1)
    if len(r.through):
        _, _, sever = m.ln_edges(theta, r.condition)
        p = through_chance(sever[:, None] - r.through_ln_v, r.through_soft)
        total += np.log(np.where(r.through > 0.5, p, 1 - p)).sum(axis=1)
    return total


def log_likelihood(theta: Array, r: Readings, half: Array | None = None) -> Array:
    """Log likelihood of a coupon for a batch of quantities, constants left out.

    ``half`` may bring the inverse Cholesky factor of the noise.
    """
    total = log_words(theta, r)
    if len(r.value):
        w = np.linalg.inv(np.linalg.cholesky(r.noise)) if half is None else half
        e = (r.value - expected(theta, r)) @ w.T
        total -= 0.5 * np.square(e).sum(axis=1)
    return np.asarray(total)
