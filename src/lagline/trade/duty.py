"""How long the set may run, and what it draws from the supply."""

from __future__ import annotations

import itertools
import math

from lagline.data import table
from lagline.trade.register import Limit, formula

PERIOD_S = 600.0
_SHARE = Limit("share", 0.05, 1, "-")


@formula(
    "duty.square-rule",
    text="X2 = X1 (I1/I2)^2, at most 1",
    gives="allowed share of a 10 minute period [-]",
    source="equal heating (derived); its use: common practice, no source, not a guarantee",
    limits=(Limit("current_ratio", 0.5, 1.5, "-", "far from the rated point other limits take over"),),
)
def square_rule(current_a: float, rated_a: float, rated_share: float) -> float:
    """Allowed share at a current [A] from one duty point (current [A], share). [-] Capped at 1."""
    return min(1.0, rated_share * (rated_a / current_a) ** 2)


@formula(
    "duty.allowed-share",
    text="between two duty points X = X1 (I1/I)^n through both; outside, n = 2 from the nearest; at most 1",
    gives="allowed share of a 10 minute period [-]",
    source="duty points from the kit file; duty factor over 10 min at 40 C, IEC 60974-1 (from memory)",
    limits=(Limit("current_a", 15, 130, "A"),),
)
def allowed_share(current_a: float, points: tuple[tuple[float, float], ...]) -> float:
    """Share of every 10 minutes the arc may burn at a current [A].

    Parameters: current [A]; duty points (current [A], share 0 to 1) from the rating plate, any order, one or more.
    Between points the power law through both neighbours; beyond the ends the square rule from the nearest; never
    above 1. Passes through every point. ValueError without a point or with one that is not a duty point.
    """
    if not points or any(not (i > 0 and 0 < x <= 1) for i, x in points):
        raise ValueError(f"duty points must be (A above 0, share above 0 to 1), got {points}")
    if not current_a > 0:
        raise ValueError(f"current must be above 0 A, got {current_a}")
    known = sorted(points)
    if current_a <= known[0][0]:
        return square_rule(current_a, *known[0])
    for (i1, x1), (i2, x2) in itertools.pairwise(known):
        if current_a <= i2:
            if i2 == i1:
                return min(x1, x2)
            n = math.log(x1 / x2) / math.log(i2 / i1)
            return float(min(1.0, x1 * (i1 / current_a) ** n))
    return square_rule(current_a, *known[-1])


@formula(
    "duty.rest",
    text="rest = arc (1/X - 1)",
    gives="rest that balances an arc time [s]",
    source="definition of the duty factor (derived)",
    limits=(_SHARE,),
)
def rest_for(arc_s: float, share: float) -> float:
    """Rest [s] that balances an arc time [s] at an allowed share. Check: 3.5 min at 35 % wants 6.5 min."""
    return arc_s * (1 / share - 1)


@formula(
    "duty.limit-cycle",
    text="peak/final = (1 - exp(-X Tc/tau))/(1 - exp(-Tc/tau))",
    gives="peak temperature rise of a set in steady on-off use over its rise when always on [-]",
    source="first order warming (derived)",
    limits=(_SHARE, Limit("tau_s", 1, 1e5, "s")),
)
def limit_cycle_peak(share: float, period_s: float, tau_s: float) -> float:
    """Peak warming in steady on-off use: share, period [s], time constant [s]. Returns a share of full warming [-].

    Tends to the share for slow sets (tau much longer than the period) and to 1 for quick ones.
    """
    return math.expm1(-share * period_s / tau_s) / math.expm1(-period_s / tau_s)


@formula(
    "duty.supply-multiplier",
    text="NEC table 630.11(A); the next higher listed duty",
    gives="multiplier on rated primary current [-]",
    source="NEC (NFPA 70) 2008, table 630.11(A)",
    limits=(Limit("duty_percent", 0, 100, "%"),),
)
def supply_multiplier(duty_percent: float, motor_generator: bool = False) -> float:
    """Multiplier for supply conductors at a duty [%], by the table's next higher row. [-] 20 % and less is one row."""
    if not 0 < duty_percent <= 100:
        raise ValueError(f"duty must be above 0 to 100 %, got {duty_percent}")
    column = "motor_generator" if motor_generator else "nonmotor"
    rows = sorted(table("nec_630_11_a").rows, key=lambda r: float(r["duty_percent"]))
    return next(float(r[column]) for r in rows if float(r["duty_percent"]) >= duty_percent)


@formula(
    "duty.group-supply",
    text="100 % of the two largest + 85 % of the third + 70 % of the fourth + 60 % of the rest",
    gives="feeder current for several sets [A]",
    source="NEC (NFPA 70) 2008, 630.11(B) (seen)",
)
def group_supply(currents_a: tuple[float, ...]) -> float:
    """Feeder current for several sets, each already times its multiplier, largest first as listed. [A]"""
    weights = (1.0, 1.0, 0.85, 0.70)
    return math.fsum(i * (weights[n] if n < len(weights) else 0.60) for n, i in enumerate(currents_a))


@formula(
    "duty.effective-current",
    text="I1eff = sqrt(I1^2 X + I0^2 (1 - X))",
    gives="effective supply current [A]",
    source="IEC 60974-1; NEC 630.12 note (from memory)",
    limits=(_SHARE,),
)
def effective_supply(rated_a: float, idle_a: float, share: float) -> float:
    """Effective supply current from rated and idle primary current [A] and duty share. [A]"""
    return math.sqrt(rated_a**2 * share + idle_a**2 * (1 - share))
