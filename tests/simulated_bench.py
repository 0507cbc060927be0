"""A bench whose true quantities are drawn from the prior and hidden; it cuts what it is told and measures as hands do.

The pace follows the full heat balance, not the polynomial the fit uses; lag and gaps are read in mm with their own
errors; the hand does not quite hold the pace asked for.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from lagline.planning.coupon_plan import CouponPlan, plan_coupon
from lagline.records.coupon import Coupon, CouponCut, Dross
from lagline.records.kit import Kit
from lagline.trade import coupon_measure as cm
from lagline.trade import coupon_model as m
from lagline.trade import coupon_predict
from lagline.trade.coupon_fit import LIFE, as_belief, believe
from lagline.trade.pace import heat_needed, pace_from_heat

HAND_LN = 0.08  # how far a hand's pace over a whole cut is off the beat it was given


@dataclass
class Bench:
    """Hidden truth and the hand's dice."""

    kit: Kit
    tip: str
    metal: str
    thickness_mm: float
    current_a: float
    truth: np.ndarray
    dice: np.random.Generator
    starts: int = 10

    @classmethod
    def drawn(cls, seed: int, kit: Kit, tip: str, metal: str, thickness_mm: float, current_a: float) -> Bench:
        dice = np.random.default_rng(seed)
        p = m.prior(kit, tip, metal)
        truth = dice.multivariate_normal(p.mean, p.cov)
        return cls(kit, tip, metal, thickness_mm, current_a, truth, dice)

    @property
    def condition(self) -> m.Condition:
        return m.condition(self.kit, self.tip, self.metal, self.thickness_mm, self.current_a)

    def _kerf_mid(self) -> float:
        return float(m.kerf_at(self.truth[None], self.condition)[0])

    def mid(self, thickness_mm: float | None = None, current_a: float | None = None) -> float:
        """True mid pace by the full balance [mm/s]."""
        c = m.condition(self.kit, self.tip, self.metal, thickness_mm or self.thickness_mm, current_a or self.current_a)
        t = self.truth
        base = heat_needed(self.metal, math.exp(c.ln_v0), math.exp(c.ln_k0))
        heat = base * math.exp(t[m.POWER] - t[m.FALLOFF] * c.ln_t)
        return pace_from_heat(self.metal, heat, math.exp(c.ln_k0)) * math.exp(c.ln_k0) / float(m.kerf_at(t[None], c)[0])

    def kerf(self, pace: float | None = None) -> float:
        k = self._kerf_mid()
        return k if pace is None else k * (pace / self.mid()) ** -self.truth[m.KERF_PACE]

    def offsets(self) -> tuple[float, float]:
        """Guide to line on the kept part and on the drop, at mid pace."""
        return self.truth[m.CUP] - self.kerf() / 2, self.truth[m.CUP] + self.kerf() / 2

    def edges(self) -> tuple[float, float, float]:
        w, s = math.exp(self.truth[m.WINDOW]), math.exp(self.truth[m.SEVER])
        mid = self.mid()
        return mid * math.exp(-w), mid * math.exp(w), mid * math.exp(w + s)

    def _word(self, x: float) -> Dross:
        w = math.exp(self.truth[m.WINDOW])
        p = cm.dross_chances(np.array(x), np.array(w))
        return (Dross.SLOW, Dross.NONE, Dross.FAST)[int(self.dice.choice(3, p=p / p.sum()))]

    def cut(self, pace_asked: float, length_mm: float, nick: bool = True) -> CouponCut:
        d, t = self.dice, self.thickness_mm
        pace = pace_asked * math.exp(d.normal(0, HAND_LN))
        seconds = length_mm / pace
        x = math.log(pace / self.mid())
        short = math.log(self.edges()[2] / pace)
        through = bool(d.random() < float(cm.through_chance(np.array(short))))
        k = self.kerf(pace)
        right, left = self.truth[m.RIGHT], self.truth[m.LEFT]
        lean, stray = d.normal(0, cm.LEAN_DEG), d.normal(0, cm.TRACK_MM)
        angle = math.exp(self.truth[m.LAG] + self.truth[m.LAG_PACE] * x + d.normal(0, cm.LAG_SHARE))
        lag = t * math.tan(min(angle, 1.4)) + d.normal(0, cm.LAG_MM)
        rad = math.radians
        bottom = k - t * (math.tan(rad(right)) + math.tan(rad(left)))
        return CouponCut(
            length_mm=length_mm + d.normal(0, cm.TAPE_MM),
            seconds=max(0.5, seconds + d.normal(0, cm.WATCH_S)),
            through=through,
            kerf_top_mm=max(0.1, k + d.normal(0, cm.CALLIPER_MM)),
            kerf_bottom_mm=max(0.1, bottom + d.normal(0, cm.CALLIPER_BOTTOM_MM)) if through else None,
            guide_near_mm=self.truth[m.CUP] - k / 2 + stray + d.normal(0, cm.RULE_MM) if nick else None,
            guide_far_mm=self.truth[m.CUP] + k / 2 + stray + d.normal(0, cm.RULE_MM) if nick else None,
            gap_right_mm=t * math.tan(rad(right + lean)) + d.normal(0, cm.GAP_MM) if through else None,
            gap_left_mm=t * math.tan(rad(left - lean)) + d.normal(0, cm.GAP_MM) if through else None,
            lag_mm=max(0.0, lag) if through else None,
            dross=self._word(x) if through else None,
        )

    def coupon(self, name: str, day: int, cuts: tuple[CouponCut, ...], turn_mm: float = 0.0) -> Coupon:
        """``turn_mm``: twice the arm, when a disc and its hole are cut too."""
        d, k = self.dice, self.kerf()
        play = d.normal(0, cm.ARM_MM)
        disc, hole = (turn_mm + play + side * k + d.normal(0, cm.ROUND_MM) for side in (-1, 1))
        return Coupon(
            name, f"2031-05-{day:02d}", self.tip, self.metal, self.thickness_mm, self.current_a, cuts,
            bench=self.kit.name, starts=self.starts,
            disc_asked_mm=turn_mm or None, disc_got_mm=disc if turn_mm else None,
            hole_asked_mm=turn_mm or None, hole_got_mm=hole if turn_mm else None,
        )  # fmt: skip

    def wear(self, starts: int) -> None:
        """Age the tip by so many starts, the truth drifting."""
        share = starts / self.kit.bench.starts_per_tip_set.value
        sd = np.array([LIFE.get(n, 0.0) for n in m.NAMES]) * math.sqrt(share)
        self.truth = self.truth + self.dice.normal(0, 1, len(sd)) * sd
        self.starts += starts


def word_of(cut: CouponCut) -> str:
    """What the cutter says of a cut, in the plan's words."""
    if cut.through is False or cut.dross is None:
        return "not through"
    return {Dross.SLOW: "slow dross", Dross.NONE: "clean", Dross.FAST: "fast dross"}[cut.dross]


def cut_as_planned(bench: Bench, plan: CouponPlan, name: str, day: int) -> Coupon:
    """Cut a planned coupon: two paces, then the third by what hung on them; disc and hole when planned."""
    first, second = (bench.cut(c.pace_mm_s, plan.length_mm) for c in plan.cuts[:2])
    third = bench.cut(plan.third_after(word_of(first), word_of(second)).pace_mm_s, plan.length_mm)
    return bench.coupon(name, day, (first, second, third), plan.turn_mm)


@dataclass
class Proof:
    """What a run of benches showed after one coupon and after three."""

    benches: int
    prior_sd: float
    cover: dict[str, float]
    cover_three: dict[str, float]
    ratio: np.ndarray  # spread of ln mid pace after one coupon over before
    ratio_three: np.ndarray
    offset_90: np.ndarray  # half width of the 90 % limits of the kept offset after one coupon [mm]
    offset_90_three: np.ndarray
    apart: int  # readings set apart though nothing was wrong with them
    readings: int


def prove(
    kit: Kit, tip: str, metal: str, thickness_mm: float, current_a: float, benches: int, three: bool = True
) -> Proof:
    """Draw benches, cut and measure the planned coupon (and two more, thirty starts apart), and count."""
    plan = plan_coupon(kit, metal, thickness_mm, current_a, tip)
    before = coupon_predict.sight(kit, as_belief(m.prior(kit, tip, metal), tip, metal))
    c = before.at(thickness_mm, current_a)
    sd = float(m.ln_mid(before.draws, c).std())
    inside: dict[str, list[bool]] = {"pace": [], "kerf": [], "kept offset": [], "drop offset": []}
    inside_three: dict[str, list[bool]] = {k: [] for k in inside}
    ratio: list[float] = []
    ratio_three: list[float] = []
    width: list[float] = []
    width_three: list[float] = []
    apart = readings = 0
    for seed in range(benches):
        bench = Bench.drawn(1000 + seed, kit, tip, metal, thickness_mm, current_a)
        coupons: list[Coupon] = []
        for n in range(3 if three else 1):
            if n:
                bench.wear(30)
            coupons.append(cut_as_planned(bench, plan, f"c{n}", n + 1))
            if n == 1:
                continue
            belief, found = believe(kit, tip, metal, tuple(coupons))
            s = coupon_predict.sight(kit, belief)
            kept, drop = coupon_predict.offsets(s, c)
            near, far = bench.offsets()
            told = (
                ("pace", coupon_predict.mid_pace(s, c), bench.mid()),
                ("kerf", coupon_predict.kerf(s, c), bench.kerf()),
                ("kept offset", kept, near),
                ("drop offset", drop, far),
            )
            for what, figure, truth in told:
                (inside_three if n else inside)[what].append(figure.low <= truth <= figure.high)
            (ratio_three if n else ratio).append(float(m.ln_mid(s.draws, c).std()) / sd)
            (width_three if n else width).append(kept.half_spread)
            if not n:
                apart += len(found)
                readings += len(cm.read(coupons[0], c).labels)
    return Proof(
        benches, sd, {k: float(np.mean(v)) for k, v in inside.items()},
        {k: float(np.mean(v)) for k, v in inside_three.items() if v},
        np.array(ratio), np.array(ratio_three), np.array(width), np.array(width_three), apart, readings,
    )  # fmt: skip
