"""What a belief says of a cut: figures with 90 % limits, each naming the coupons behind it."""

from __future__ import annotations

import math
import operator
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from lagline.records.coupon import Belief
from lagline.records.figure import Basis, Figure
from lagline.records.kit import Kit
from lagline.trade import coupon_model as m
from lagline.trade.coupon_fit import as_gauss
from lagline.trade.coupon_model import Array, Condition
from lagline.trade.coupon_posterior import normals
from lagline.trade.register import Limit, formula

DRAWS = 2048
_T = Limit("thickness_mm", 0.8, 50, "mm", "hand torches")


@dataclass(frozen=True, slots=True)
class Sight:
    """A belief made ready for questions: its mean as a batch of one, and fixed samples of its spread."""

    kit: Kit
    belief: Belief
    mean: Array
    draws: Array

    def at(self, thickness_mm: float, current_a: float, bevel_deg: float = 0.0) -> Condition:
        """The condition of a plate [mm], current [A] and bevel [deg] on this bench's usual air."""
        return m.condition(self.kit, self.belief.tip, self.belief.metal, thickness_mm, current_a, bevel_deg)

    def figure(
        self, f: Callable[[Array], Array], unit: str, key: str, inputs: tuple[tuple[str, str], ...] = ()
    ) -> Figure:
        """A function of the quantities as a figure: its value at the mean, limits that hold 90 % of the samples."""
        value = float(f(self.mean)[0])
        low, high = (float(x) for x in np.quantile(f(self.draws), (0.05, 0.95)))
        basis = Basis.COUPON if self.belief.coupons else Basis.DEFAULT
        return Figure(
            value, min(low, value), max(high, value), unit, key, basis, source_of(self.belief),
            (("tip", self.belief.tip), ("metal", self.belief.metal), *inputs),
        )  # fmt: skip


def sight(kit: Kit, belief: Belief) -> Sight:
    """Make a belief ready for questions."""
    g = as_gauss(belief)
    draws = g.mean + normals(DRAWS, len(g.mean)) @ np.linalg.cholesky(g.cov).T
    return Sight(kit, belief, g.mean[None, :], draws)


def source_of(belief: Belief) -> str:
    """Name the coupons behind a belief, with their days."""
    if not belief.coupons:
        return "no coupon yet: defaults with their spread, common practice, no source"
    days = {n.removeprefix("date of "): f"{d:.0f}" for n, d in belief.reference if n.startswith("date of ")}
    told = []
    for c in belief.coupons:
        d = days.get(c, "")
        day = f"{d[:4]}-{d[4:6]}-{d[6:]}" if len(d) == 8 else ""
        told.append(f"{c} of {day}" if day and day not in c else c)
    return ("coupon " if len(told) == 1 else "coupons ") + ", ".join(told)


def _of(c: Condition) -> tuple[tuple[str, str], ...]:
    return (("true thickness [mm]", f"{c.thickness_mm:.4g}"), ("current [A]", f"{c.current_a:g}"))


def mid_pace(s: Sight, c: Condition) -> Figure:
    """Middle of the clean window [mm/s]."""
    return s.figure(lambda q: np.exp(m.ln_mid(q, c)), "mm/s", "coupon.mid-pace", _of(c))


def edges(s: Sight, c: Condition) -> tuple[Figure, Figure, Figure]:
    """Pace of slow dross, of fast dross, and where the cut no longer goes through [mm/s]."""

    def one(i: int) -> Figure:
        return s.figure(lambda q: np.asarray(np.exp(m.ln_edges(q, c)[i])), "mm/s", "coupon.edges", _of(c))

    return one(0), one(1), one(2)


def kerf(s: Sight, c: Condition, pace_mm_s: float | None = None) -> Figure:
    """Kerf at the top, at mid pace or at a pace [mm/s]. [mm]"""
    return s.figure(lambda q: _kerf(q, c, pace_mm_s), "mm", "coupon.kerf", (*_of(c), *_at(pace_mm_s)))


def _kerf(q: Array, c: Condition, pace_mm_s: float | None) -> Array:
    if pace_mm_s is None:
        return m.kerf_at(q, c)
    return np.asarray(m.kerf_at(q, c, np.array([math.log(pace_mm_s)]))[:, 0])


def _at(pace_mm_s: float | None) -> tuple[tuple[str, str], ...]:
    return () if pace_mm_s is None else (("pace [mm/s]", f"{pace_mm_s:.3g}"),)


@formula(
    "coupon.cup",
    text="R from (near + far)/2 over the cuts",
    gives="cup radius at guide height [mm]",
    source="guide distances R - k/2 and R + k/2 (derived), measured on coupons",
    limits=(Limit("cup_mm", 3, 30, "mm"),),
)
def cup(s: Sight) -> Figure:
    """Cup radius at guide height. [mm]"""
    return s.figure(lambda q: q[:, m.CUP], "mm", "coupon.cup")


@formula(
    "coupon.offset",
    text="kept: R - k/2; drop: R + k/2, with what one coupon says of R and k together",
    gives="guide to line on the kept part and on the drop [mm]",
    source="geometry (derived), measured on coupons",
    limits=(_T,),
)
def offsets(s: Sight, c: Condition, pace_mm_s: float | None = None) -> tuple[Figure, Figure]:
    """Guide offsets on the kept part and on the drop, at mid pace or at a pace [mm/s]. [mm]

    R and k are learned from the same guide readings, so their errors are not independent: these limits hold that.
    """

    def one(x: int, side: str) -> Figure:
        told = (("guide on", side), *_of(c), *_at(pace_mm_s))
        return s.figure(lambda q: q[:, m.CUP] + x * _kerf(q, c, pace_mm_s) / 2, "mm", "coupon.offset", told)

    return one(-1, "kept part"), one(1, "drop")


@formula(
    "coupon.bevel",
    text="atan(gap/t) over the cuts, the hand's lean of single cuts averaged out",
    gives="bevel of the face right and left of travel [deg]",
    source="geometry (derived), measured on coupons",
    limits=(Limit("bevel_deg", -10, 20, "deg"),),
)
def bevels(s: Sight) -> tuple[Figure, Figure]:
    """Bevel of the faces right and left of travel, torch upright; positive where the bottom stands out. [deg]"""
    right, left = (s.figure(operator.itemgetter((slice(None), i)), "deg", "coupon.bevel") for i in (m.RIGHT, m.LEFT))
    return right, left


def lag(s: Sight, c: Condition, pace_mm_s: float) -> Figure:
    """Angle by which the lines on the face trail at a pace [mm/s]. [deg]"""
    ln_v = np.array([math.log(pace_mm_s)])
    f = lambda q: np.degrees(np.minimum(np.exp(m.ln_lag(q, c, ln_v)[:, 0]), math.pi / 2))  # noqa: E731
    return s.figure(f, "deg", "coupon.lag", (*_of(c), *_at(pace_mm_s)))


@formula(
    "coupon.crater",
    text="crater radius = 0.75 t e^crater",
    gives="radius of the puddle a pierce leaves [mm]",
    source="0.5 to 1 t: common practice, no source; measured on coupons",
    limits=(_T,),
)
def crater_radius(s: Sight, thickness_mm: float) -> Figure:
    """Radius of the puddle round a pierce for a plate [mm]. [mm]"""
    return s.figure(lambda q: m.CRATER_RADII * thickness_mm * np.exp(q[:, m.CRATER]), "mm", "coupon.crater")


@formula(
    "coupon.clean-limit",
    text="thickness whose mid pace is 10 in/min",
    gives="thickest clean cut from the edge [mm]",
    source="inverse of coupon.mid-pace (derived); rated thickness at about 10 in/min: common practice, no source",
    limits=(Limit("current_a", 15, 130, "A", "hand torches on air"),),
)
def clean_limit(s: Sight, c: Condition, pace_mm_s: float) -> Figure:
    """Thickness whose mid pace is the given one [mm/s], found from a condition near it. [mm]"""
    return s.figure(
        lambda q: np.exp(ln_thickness_at(q, c, math.log(pace_mm_s))),
        "mm",
        "coupon.clean-limit",
        (("current [A]", f"{c.current_a:g}"), ("pace [mm/s]", f"{pace_mm_s:.3g}")),
    )


def ln_thickness_at(theta: Array, c: Condition, ln_v: float) -> Array:
    """ln of the true thickness [mm] whose mid pace is given, for a batch, seen from a condition near it.

    The power that the pace wants is found on the condition's curve; thickness shares the power out, 1 + falloff.
    """
    aim = ln_v - (m.ln_mid(theta, c) - c.gain(theta[:, m.POWER] - theta[:, m.FALLOFF] * c.ln_t))
    x = aim / c.curve[0]
    for _ in range(6):
        slope = (c.gain(x + 1e-3) - c.gain(x - 1e-3)) / 2e-3
        x = x - (c.gain(x) - aim) / np.maximum(slope, 0.2)
    spare = theta[:, m.POWER] - theta[:, m.FALLOFF] * c.ln_t - x
    return np.asarray(math.log(c.thickness_mm) + spare / np.maximum(1 + theta[:, m.FALLOFF], 0.3))
