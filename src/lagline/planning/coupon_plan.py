"""What to cut on a scrap in five minutes: the paces that teach most, and what to measure.

Two paces are fixed beforehand; the third waits for what hangs on the first two. Chosen by what is expected to be left
unknown of the clean window after all three, over what is now believed possible.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lagline.records.coupon import Belief
from lagline.records.errors import refuse
from lagline.records.finding import Finding, Severity
from lagline.records.kit import Kit
from lagline.trade import coupon_model as m
from lagline.trade import holes, kerf, severance
from lagline.trade.coupon_fit import as_belief
from lagline.trade.coupon_measure import EDGE_LN, LAG_MM, LAG_SHARE, dross_chances, through_chance
from lagline.trade.coupon_model import Array, Condition
from lagline.trade.coupon_predict import Sight, clean_limit, edges, mid_pace, sight
from lagline.trade.pace import INCH_MM, RATED_PACE_MM_S

BEATS_S = (0.75, 1.0, 1.25, 1.5, 1.75, 2.0, 2.25, 2.5, 3.0, 3.5, 4.0, 4.5, 5.0, 6.0, 7.0)  # seconds an inch
STRETCH = 1.5  # a short scrap cut may go this far beyond the hand's band: to 60 in/min with a guide, down to 10
MARKED_MM = 6 * INCH_MM
WORDS = ("slow dross", "clean", "fast dross", "not through")
SLOW, NOT_THROUGH = 0, 3
MOST = 10_000
BEYOND_HELD = 1.25  # where every beat a hand holds easily failed, cut 3 goes so far beyond
WINDOW_WEIGHT = 0.25  # how much the window's width counts beside the middle
TRUTHS, PARTICLES, SHORTLIST = 128, 768, 8
HALF_WINDOW_SEEN = 0.5
SELDOM = 0.003  # rarer pairs of words contradict themselves: one of the two was misread


@dataclass(frozen=True, slots=True)
class PlannedCut:
    """One straight cut: beat [s/in], pace, seconds for the marked length, and what it teaches.

    ``learned`` is the share of the uncertainty of ln mid pace (variance) that this cut alone is expected to remove.
    """

    number: int
    beat_s: float
    pace_mm_s: float
    seconds: float
    learned: float
    teaches: str


@dataclass(frozen=True, slots=True)
class ThirdCut:
    """The third pace after what the first two showed (``slow dross``, ``clean``, ``fast dross``, ``not through``)."""

    first: str
    second: str
    cut: PlannedCut
    chance: float


@dataclass(frozen=True, slots=True)
class CouponPlan:
    """One coupon to cut. ``cuts`` are the first two and the likeliest third; ``thirds`` the whole choice.

    ``left`` is the spread of mid pace expected after the coupon over the spread now. ``turn_mm`` is twice the arm
    (pivot to tip centre) for a disc and its hole, 0 for none.
    """

    tip: str
    metal: str
    thickness_mm: float
    current_a: float
    length_mm: float
    cuts: tuple[PlannedCut, ...]
    thirds: tuple[ThirdCut, ...]
    left: float
    nick: bool
    turn_mm: float
    pierce: bool
    gouge: bool
    findings: tuple[Finding, ...] = ()

    def third_after(self, first: str, second: str) -> PlannedCut:
        """The third cut after two words.

        A pair that contradicts itself is not in the plan: then the likeliest third after the first word.
        """
        told = [t for t in self.thirds if t.first == first] or list(self.thirds)
        return max(told, key=lambda t: (t.second == second and t.first == first, t.chance)).cut


@dataclass(frozen=True, slots=True)
class _Seen:
    """What might be seen at every pace by every possible truth, and how well each particle explains it."""

    chance: Array  # particles x paces x words
    word: Array  # truths x paces
    log: Array  # paces x truths x particles
    mid: Array
    half: Array


def beats(kit: Kit) -> tuple[float, ...]:
    """Beats a hand can hold on a short cut [s/in], slowest first."""
    low, high = kit.operator.pace_low_mm_s / STRETCH, kit.operator.pace_high_mm_s * STRETCH
    held = tuple(b for b in reversed(BEATS_S) if low * 0.99 <= INCH_MM / b <= high * 1.01)
    if len(held) >= 3:
        return held
    return tuple(INCH_MM / v for v in np.geomspace(low, high, 7).tolist())


def _look(theta: Array, c: Condition, paces: Array, seed: int) -> _Seen:
    dice = np.random.default_rng(seed)
    mid, half = m.ln_mid(theta, c), np.exp(theta[:, m.WINDOW])
    fast_to_sever = np.exp(theta[:, m.SEVER])
    ln_v = np.log(paces)
    x = ln_v[None, :] - mid[:, None]  # particles x paces
    dross = dross_chances(x, half[:, None], EDGE_LN)
    through = through_chance((half + fast_to_sever)[:, None] - x)
    chance = np.concatenate([dross * through[..., None], (1 - through)[..., None]], axis=-1)
    lag = theta[:, m.LAG, None] + theta[:, m.LAG_PACE, None] * np.clip(x, -2, 2)
    truths = slice(0, TRUTHS)
    word = (dice.random((TRUTHS, len(paces), 1)) > np.cumsum(chance[truths], axis=-1)).sum(axis=-1).clip(0, 3)
    size = c.thickness_mm * np.tan(np.minimum(np.exp(lag[truths]), 1.4))
    sd = np.hypot(LAG_SHARE, LAG_MM / np.maximum(size, LAG_MM / 2))
    seen = lag[truths] + dice.standard_normal(sd.shape) * sd
    log = np.empty((len(paces), TRUTHS, len(theta)))
    for p in range(len(paces)):
        says = np.log(chance[:, p, :])[:, word[:, p]].T
        off = (seen[:, p, None] - lag[None, :, p]) / sd[:, p, None]
        log[p] = says - np.where(word[:, p, None] == 3, 0.0, 0.5 * off**2)
    return _Seen(chance, word, log, mid, half)


def _left(log: Array, seen: _Seen) -> tuple[Array, Array]:
    """Variance of ln mid pace left for each truth, and that joined with the window's."""
    w = np.exp(log - log.max(axis=-1, keepdims=True))
    w /= w.sum(axis=-1, keepdims=True)

    def variance(y: Array) -> Array:
        first = w @ y
        return np.asarray(w @ y**2 - first**2)

    ln_half = np.log(seen.half)
    mid = variance(seen.mid - seen.mid.mean())
    window = variance(ln_half - ln_half.mean())
    return mid, mid / seen.mid.var() + WINDOW_WEIGHT * window / ln_half.var()


def _between(words: tuple[int, int], at: tuple[int, int]) -> tuple[int, int]:
    """First and last place a third pace may have: faster than what hung as slow dross, slower than what did not go
    through; so that no beat that failed is cut again. ``at`` are the two places, slowest pace first. An empty span
    (last before first) lies between two neighbours or beyond the slowest.
    """
    lost = [p for w, p in zip(words, at, strict=True) if w == NOT_THROUGH]
    slow = [p for w, p in zip(words, at, strict=True) if w == SLOW]
    last = min(lost) - 1 if lost else MOST
    first = max(slow) + 1 if slow else 0
    return (first if first <= last + 1 else 0), last


def _thirds(seen: _Seen, a: int, b: int) -> tuple[NDArray[np.int_], Array]:
    """Best third pace for every pair of words at paces a and b, and the chance of the pair: both 4 x 4.

    By words alone, as they are all that a printed choice can go by: the third whose word is expected to leave least,
    of those that the words leave open.
    """
    count = len(WORDS)
    pick, pair = np.zeros((count, count), dtype=int), np.zeros((count, count))
    for x, y in itertools.product(range(count), repeat=2):
        w = seen.chance[:, a, x] * seen.chance[:, b, y]
        pair[x, y] = w.mean()
        third = (w / w.sum())[:, None, None] * seen.chance
        weight = third.sum(axis=0)
        left = np.zeros(len(weight))
        for q, share in ((seen.mid, 1.0), (np.log(seen.half), WINDOW_WEIGHT)):
            q = q - q.mean()
            first, second = (np.tensordot(q**n, third, axes=1) for n in (1, 2))
            left += share * (second - first**2 / weight).sum(axis=1) / q.var()
        from_, to = _between((x, y), (a, b))
        open_ = left[from_ : to + 1]
        pick[x, y] = from_ + int(np.argmin(open_)) if len(open_) else min(from_, len(left) - 1)
    return pick, pair


def _squeezed(held: tuple[float, ...], words: tuple[int, int], at: tuple[int, int], pick: int) -> float:
    """The beat [s/in] of a third cut: the picked one, or where the words leave none, one between two neighbours,
    slower than the slowest, faster than the fastest."""
    first, last = _between(words, at)
    if last < 0:
        return held[0] * BEYOND_HELD
    if first >= len(held):
        return held[-1] / BEYOND_HELD
    return math.sqrt(held[last] * held[first]) if last < first else held[pick]


def plan_coupon(
    kit: Kit,
    metal: str,
    thickness_mm: float,
    current_a: float,
    tip: str,
    belief: Belief | None = None,
    gouge: bool = False,
    seed: int = 1,
) -> CouponPlan:
    """Plan one coupon.

    Parameters: kit, metal, plate [mm], current [A], tip, what is believed now (None: nothing learned yet), whether
    to add a gouge, seed. The first two paces leave the least expected uncertainty once the best third is added for
    each pair of words they may show; a third's choice weighs dross, lag and whether the cut went through. Same
    arguments, same plan. Refuses a tip the kit does not have, and a plate that the set does not cut.
    """
    if belief is None:
        belief = as_belief(m.prior(kit, tip, metal), tip, metal)
    s = sight(kit, belief)
    c = s.at(thickness_mm, current_a)
    held = beats(kit)
    paces = np.array([INCH_MM / b for b in held])
    _within_the_set(s, c, thickness_mm, kit.operator.pace_low_mm_s / STRETCH)
    order = np.random.default_rng(seed).permutation(len(s.draws))[:PARTICLES]
    seen = _look(s.draws[order], c, paces, seed)
    alone = np.array([_left(seen.log[p], seen)[0].mean() for p in range(len(paces))]) / seen.mid.var()
    pairs = list(itertools.combinations(range(len(paces)), 2))
    two = np.array([_left(seen.log[a] + seen.log[b], seen)[1].mean() for a, b in pairs])
    best: tuple[float, float, tuple[int, int], NDArray[np.int_], Array] | None = None
    for at in np.argsort(two, kind="stable")[:SHORTLIST].tolist():
        a, b = pairs[at]
        pick, pair = _thirds(seen, a, b)
        chosen = pick[seen.word[:, a], seen.word[:, b]]
        total = spread = 0.0
        for p in np.unique(chosen).tolist():
            group = chosen == p
            mid, score = _left(seen.log[a, group] + seen.log[b, group] + seen.log[p, group], seen)
            total += float(score.sum()) / TRUTHS
            spread += float(np.sqrt(np.maximum(mid, 0)).sum()) / TRUTHS
        if best is None or total < best[0]:
            best = (total, spread, (a, b), pick, pair)
    assert best is not None
    _, spread, (a, b), pick, pair = best

    def cut(number: int, p: int, beat: float | None = None) -> PlannedCut:
        beat = held[p] if beat is None else beat
        pace = INCH_MM / beat
        beyond = float(np.log(pace) - seen.mid.mean())
        return PlannedCut(
            number, beat, pace, beat * MARKED_MM / INCH_MM, float(1 - alone[p]),
            _teaches(beyond, float(np.exp(np.log(seen.half).mean()))),
        )  # fmt: skip

    def third(x: int, y: int) -> PlannedCut:
        p = int(pick[x, y])
        return cut(3, p, _squeezed(held, (x, y), (a, b), p))

    thirds = tuple(
        ThirdCut(WORDS[x], WORDS[y], third(x, y), float(pair[x, y]))
        for x, y in itertools.product(range(len(WORDS)), repeat=2)
        if pair[x, y] >= SELDOM
    )
    likely = max(thirds, key=lambda t: t.chance)
    width = kerf.kerf_of_tip(m.tip_of(kit, tip), current_a).value
    return CouponPlan(
        tip, metal, thickness_mm, current_a, MARKED_MM, (cut(1, a), cut(2, b), likely.cut), thirds,
        spread / float(seen.mid.std()), True, _turn(kit, thickness_mm, width),
        thickness_mm <= severance.pierce_limit(kit.power, clean_limit(s, c, RATED_PACE_MM_S)).value,
        gouge, _findings(kit, mid_pace(s, c).value, metal, thickness_mm, current_a),
    )  # fmt: skip


def _within_the_set(s: Sight, c: Condition, thickness_mm: float, slowest_mm_s: float) -> None:
    """Refuse a plate that even the slowest pace a hand can try is too fast for, with all that is known of the set."""
    fastest = edges(s, c)[2].high
    if fastest >= slowest_mm_s:
        return
    limit = clean_limit(s, s.at(s.kit.power.rated_thickness_mm.value, c.current_a), RATED_PACE_MM_S)
    raise refuse(
        "coupon-too-thick",
        "thickness",
        f"{_inches(thickness_mm)} is far beyond the set: tip {s.belief.tip} at {c.current_a:g} A does not go through "
        f"it at any pace a hand can try, {slowest_mm_s * 60 / INCH_MM:.0f} in/min or more",
        f"it cuts about {_inches(limit.value)} clean, at best {_inches(limit.high)}: a thinner scrap",
    )


def _inches(mm: float) -> str:
    return f"{mm / INCH_MM:.2f} in ({mm:.0f} mm)"


def _teaches(beyond: float, half: float) -> str:
    if beyond < -HALF_WINDOW_SEEN * half:
        return "where slow dross begins; kerf when slow"
    if beyond > HALF_WINDOW_SEEN * half:
        return "where fast dross begins or the cut no longer goes through; kerf when fast"
    return "the middle: how far the lines trail at a good pace, kerf, bevel, guide distances"


def _turn(kit: Kit, thickness_mm: float, kerf_mm: float) -> float:
    """Twice the smallest arm that leaves a hole worth cutting by hand, 0 when the arm cannot."""
    arm = max(kit.guides.arm_min_mm, (holes.minimum_hole(thickness_mm).value + kerf_mm) / 2)
    arm = math.ceil(arm / 5) * 5.0
    return 2 * arm if 0 < arm <= kit.guides.arm_max_mm else 0.0


def _findings(kit: Kit, mid: float, metal: str, t: float, amps: float) -> tuple[Finding, ...]:
    low, high = kit.operator.pace_low_mm_s / STRETCH, kit.operator.pace_high_mm_s * STRETCH
    if low <= mid <= high:
        return ()
    way = "less current or a thicker scrap" if mid > high else "more current or a thinner scrap"
    return (
        Finding(
            "coupon-out-of-hand",
            Severity.CAUTION,
            f"coupon, {metal} {t:g} mm at {amps:g} A",
            f"the clean pace is expected at {mid * 60 / INCH_MM:.0f} in/min, which a hand cannot try "
            "both sides of: kerf, offsets and bevel are learned, pace little",
            f"{way}; {low * 60 / INCH_MM:.0f} to {high * 60 / INCH_MM:.0f} in/min can be tried",
        ),
    )
