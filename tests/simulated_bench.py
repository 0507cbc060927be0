"""A bench whose true quantities are drawn from the prior and hidden; it cuts what it is told and measures as hands do.

The pace follows the full heat balance, not the polynomial the fit uses; lag and gaps are read in mm with their own
errors; the hand does not quite hold the pace asked for.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from lagline.records.coupon import Coupon, CouponCut, Dross
from lagline.records.kit import Kit
from lagline.trade import coupon_measure as cm
from lagline.trade import coupon_model as m
from lagline.trade.coupon_fit import _LIFE
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
        sd = np.array([_LIFE.get(n, 0.0) for n in m.NAMES]) * math.sqrt(share)
        self.truth = self.truth + self.dice.normal(0, 1, len(sd)) * sd
        self.starts += starts
