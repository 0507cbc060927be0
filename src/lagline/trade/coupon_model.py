"""What a bench does not know about its own torch, as quantities with a spread, and how a cut follows from them.

Fourteen quantities, each Gaussian in the space named beside it. A batch of them is an array with one row a sample.
"Mid pace" is the geometric middle between the pace below which slow dross hangs and that above which fast dross does.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from lagline.records.errors import refuse
from lagline.records.kit import Kit, Tip
from lagline.trade import bevel, kerf, pace
from lagline.trade.register import Limit, formula

Array = NDArray[np.float64]
NAMES = (
    "power",  # ln factor on the power that reaches the cut front
    "falloff",  # exponent: that power falls as (t/t_rated)^-falloff
    "kerf",  # ln factor on the table's or the kit's kerf, at mid pace and the tip's full current
    "kerf_pace",  # exponent: kerf goes as (v/v_mid)^-kerf_pace
    "kerf_current",  # exponent: kerf goes as (I/I_tip)^kerf_current
    "kerf_air",  # exponent: kerf goes as (p/p_ref)^kerf_air
    "cup",  # cup radius at guide height [mm]
    "bevel_right",  # bevel of the face right of travel [deg]
    "bevel_left",  # and left [deg]
    "window",  # ln of ln(v_fast/v_mid), which is ln(v_mid/v_slow) too
    "sever",  # ln of ln(v_sever/v_fast)
    "lag",  # ln of the lag angle at mid pace [rad]
    "lag_pace",  # exponent: lag angle goes as (v/v_mid)^lag_pace
    "crater",  # ln factor on the usual pierce crater, 0.75 t in radius
)
POWER, FALLOFF, KERF, KERF_PACE, KERF_CURRENT, KERF_AIR, CUP, RIGHT, LEFT, WINDOW, SEVER, LAG, LAG_PACE, CRATER = range(
    len(NAMES)
)
NINETY = 1.6448536269514722  # standard deviations each side of the middle that hold 90 %
CRATER_RADII = 0.75
SUPPLY_KPA_G = 500.0  # where no coupon says what the air was
FAR = 20.0  # logarithms are held within, so that what is tried on the way to an answer stays finite: 5e8 either way

# Priors without a publication behind them: (mean, standard deviation).
FALLOFF_PRIOR = (0.0, 0.15)  # fitted on four to seven handbook rows it is nil, its spread is theirs (docs)
KERF_PACE_PRIOR = (0.1, 0.2)  # usual finding: narrower when faster; the S235 table says the opposite: wide
KERF_CURRENT_PRIOR = (0.5, 0.6)  # 0.5 across the trade's kerf band, 1.6 in the S235 table: wide
KERF_AIR_PRIOR = (0.0, 0.4)
WINDOW_PRIOR = (math.log(0.25), 0.4)
SEVER_PRIOR = (math.log(0.2), 0.6)  # severing 25 to 50 % thicker is 0.33 to 0.6 in ln pace beyond mid, less the window
LAG_PRIOR = (math.log(math.radians(7.5)), 0.35)  # 5 to 10 deg, also 5 to 15
LAG_PACE_PRIOR = (1.0, 0.5)
CRATER_PRIOR = (0.0, 0.21)  # 0.5 to 1 t


@dataclass(frozen=True, slots=True)
class Gauss:
    """Mean and covariance of the quantities."""

    mean: Array
    cov: Array

    def sd(self) -> Array:
        """Standard deviation of each quantity."""
        return np.sqrt(np.diag(self.cov))


@dataclass(frozen=True, slots=True)
class Condition:
    """One metal, true thickness, current and air: what the quantities are turned into paces and kerfs with.

    ``ln_v0`` is the default's pace and ``ln_k0`` the default's kerf; ``curve`` maps ln power beyond the default to
    ln pace beyond it (polynomial without constant, ``low`` to ``high``, straight outside).
    """

    metal: str
    thickness_mm: float
    current_a: float
    ln_t: float
    ln_i: float
    ln_p: float
    ln_v0: float
    ln_k0: float
    curve: tuple[float, ...]
    low: float
    high: float

    def gain(self, x: Array) -> Array:
        """ln pace beyond the default's for ln power beyond it."""
        inside = np.clip(x, self.low, self.high)
        y = np.zeros_like(inside)
        slope = np.zeros_like(inside)
        for degree, c in reversed(tuple(enumerate(self.curve, 1))):
            y = (y + c) * inside
            slope = slope * inside + degree * c
        return np.asarray(y + slope * (x - inside))


def finite_exp(x: Array) -> Array:
    """e^x, x held within ``FAR`` of nought."""
    return np.asarray(np.exp(np.clip(x, -FAR, FAR)))


def tip_of(kit: Kit, name: str) -> Tip:
    """The kit's tip of that name; refuses one that is not in the kit."""
    for tip in kit.torch.tips:
        if tip.name == name:
            return tip
    known = ", ".join(t.name for t in kit.torch.tips)
    raise refuse("tip-unknown", "coupon, tip", f"'{name}' is not a tip of {kit.name}", known or "a kit with tips")


def _rated_kerf(kit: Kit) -> float:
    rated = kit.power.rated_current_a
    tips = sorted(kit.torch.tips, key=lambda t: (t.max_current_a, t.name))
    tip = next((t for t in tips if t.max_current_a >= rated - 1e-9), tips[-1])
    return kerf.kerf_of_tip(tip, rated).value


@lru_cache(maxsize=512)
def condition(
    kit: Kit,
    tip_name: str,
    metal: str,
    thickness_mm: float,
    current_a: float,
    bevel_deg: float = 0.0,
    air_ratio: float = 1.0,
) -> Condition:
    """Lay out a condition: default pace and kerf and how the pace bends with power, from the heat balance.

    Parameters: kit, tip, metal, plate thickness [mm], current [A], bevel [deg], air over the usual air [-].
    The heat a cut takes depends on v k alone, so the kerf's own effect on the pace is exact: v ~ 1/k.
    """
    tip = tip_of(kit, tip_name)
    true_mm = bevel.true_thickness(thickness_mm, bevel_deg)
    width = kerf.kerf_of_tip(tip, current_a).value
    anchor = pace.Anchor(kit.power, kit.power.rated_thickness_mm.value, _rated_kerf(kit))
    v0 = pace.pace_value(anchor, metal, true_mm, current_a, width)
    base = pace.heat_needed(metal, v0, width)
    steps = np.linspace(-1.2, 1.2, 13)
    x = np.array([math.log(pace.heat_needed(metal, v0 * math.exp(d), width) / base) for d in steps.tolist()])
    powers = np.stack([x, x**2, x**3], axis=1)
    curve = np.linalg.lstsq(powers, steps, rcond=None)[0]
    return Condition(
        metal,
        true_mm,
        current_a,
        math.log(true_mm / kit.power.rated_thickness_mm.value),
        math.log(current_a / tip.max_current_a),
        math.log(air_ratio),
        math.log(v0),
        math.log(width),
        tuple(curve.tolist()),
        float(x[0]),
        float(x[-1]),
    )


@lru_cache(maxsize=64)
def prior(kit: Kit, tip_name: str, metal: str) -> Gauss:
    """What is believed before any coupon.

    Limits of the kit and of the trade are read as 90 % limits. Power takes in what a rating means, the rated
    thickness, the balance against handbook rows and the metal against steel, at the rated thickness; the kerf's
    own share of the pace comes in by the kerf.
    """
    tip = tip_of(kit, tip_name)
    amps = min(tip.max_current_a, kit.power.rated_current_a)
    width = kerf.kerf_of_tip(tip, amps)
    t_ref = kit.power.rated_thickness_mm.value
    value, shares = pace.pace_shares(kit.power, _rated_kerf(kit), metal, t_ref, amps, width)
    low, high = pace.combined(value, tuple(s for s in shares if s.name != "kerf"))
    c = condition(kit, tip_name, metal, t_ref, amps)
    cup = kit.torch.cup_radius_mm
    good, bad = bevel.natural_good(), bevel.natural_bad()
    right, left = (good, bad) if kit.torch.square_side == "right" else (bad, good)
    pairs = (
        (0.0, math.log(high / low) / (2 * NINETY) / c.curve[0]),
        FALLOFF_PRIOR,
        (0.0, math.log(width.high / width.low) / (2 * NINETY)),
        KERF_PACE_PRIOR,
        KERF_CURRENT_PRIOR,
        KERF_AIR_PRIOR,
        (cup.value, (cup.high - cup.low) / (2 * NINETY)),
        (right.value, (right.high - right.low) / (2 * NINETY)),
        (left.value, (left.high - left.low) / (2 * NINETY)),
        WINDOW_PRIOR,
        SEVER_PRIOR,
        LAG_PRIOR,
        LAG_PACE_PRIOR,
        CRATER_PRIOR,
    )
    sd = np.maximum([s for _, s in pairs], 1e-4)  # a kit that claims no spread at all still has to be invertible
    return Gauss(np.array([m for m, _ in pairs]), np.diag(sd**2))


@formula(
    "coupon.mid-pace",
    text="ln v_mid = ln v0 + curve(power - falloff ln(t/t_rated)) - ln(kerf/kerf0)",
    gives="middle of the clean window [mm/s], as a logarithm",
    source="pace.heat-balance (derived), shifted by the bench's own quantities",
    limits=(
        Limit("thickness_mm", 0.8, 50, "mm", "hand torches"),
        Limit("current_a", 15, 130, "A", "hand torches on air"),
    ),
)
def ln_mid(theta: Array, c: Condition) -> Array:
    """Logarithm of mid pace [mm/s] for a batch of quantities at a condition."""
    shift = theta[:, KERF] + theta[:, KERF_CURRENT] * c.ln_i + theta[:, KERF_AIR] * c.ln_p
    return c.ln_v0 + c.gain(theta[:, POWER] - theta[:, FALLOFF] * c.ln_t) - shift


@formula(
    "coupon.kerf",
    text="k = k0 e^kerf (I/I_tip)^kerf_current (p/p_ref)^kerf_air (v/v_mid)^-kerf_pace",
    gives="kerf at the top [mm]",
    source="power laws about the usual kerf; exponents: common practice, no source, with wide spread",
    limits=(Limit("current_a", 20, 105, "A", "the kerf band's table"),),
)
def kerf_at(theta: Array, c: Condition, ln_v: Array | None = None) -> Array:
    """Kerf [mm] for a batch at mid pace, or at paces (one column each) whose logarithm is given."""
    ln_k = c.ln_k0 + theta[:, KERF] + theta[:, KERF_CURRENT] * c.ln_i + theta[:, KERF_AIR] * c.ln_p
    if ln_v is None:
        return finite_exp(ln_k)
    beyond = ln_v[None, :] - ln_mid(theta, c)[:, None]
    return finite_exp(ln_k[:, None] - theta[:, KERF_PACE, None] * np.clip(beyond, -2.0, 2.0))


@formula(
    "coupon.edges",
    text="v_slow = v_mid/e^w, v_fast = v_mid e^w, v_sever = v_fast e^s",
    gives="ends of the clean window and the pace where the cut no longer goes through [mm/s], as logarithms",
    source="the window's middle by definition; width and severance: common practice, no source",
    limits=(Limit("thickness_mm", 0.8, 50, "mm", "hand torches"),),
)
def ln_edges(theta: Array, c: Condition) -> tuple[Array, Array, Array]:
    """Logarithms of slow edge, fast edge and severance pace [mm/s] for a batch at a condition."""
    mid, half = ln_mid(theta, c), finite_exp(theta[:, WINDOW])
    return mid - half, mid + half, mid + half + finite_exp(theta[:, SEVER])


@formula(
    "coupon.lag",
    text="lag angle = lag_mid (v/v_mid)^lag_pace",
    gives="angle by which the lines trail [rad], as a logarithm",
    source="5 to 10 deg at a good pace, more when faster: common practice, no source",
    limits=(Limit("lag_deg", 0.5, 45, "deg", "lines flatter than that are not read"),),
)
def ln_lag(theta: Array, c: Condition, ln_v: Array) -> Array:
    """Logarithm of the lag angle [rad] for a batch at paces (one column each)."""
    beyond = ln_v[None, :] - ln_mid(theta, c)[:, None]
    return theta[:, LAG, None] + theta[:, LAG_PACE, None] * beyond
