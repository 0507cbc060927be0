"""What the set draws, and what a cord, a breaker and a generator make of it.

A licensed electrician and the local code have the last word.
"""

from __future__ import annotations

import math
from functools import cache

from lagline.data import table
from lagline.trade.register import Limit, formula

WARM_COPPER = 1.10  # resistance at 45 C over that at 20 C: 0.393 %/K (derived)
THOUSAND_FT_M = 304.8
GENERATOR = (1.4, 1.3, 1.5)  # kVA over the set's: common practice, no source
DROP_LOW, DROP_HIGH = 0.03, 0.05  # aim for no more: common practice, no source
MOST_BREAKER = 2.0  # of the rated primary current, NEC (NFPA 70) 2008, 630.12 (seen)
_I = Limit("current_a", 5, 400, "A")


@cache
def awg_sizes() -> tuple[str, ...]:
    """Sizes of conductor in the table, thinnest first."""
    return tuple(r["awg"] for r in table("awg").rows)


def conductor(awg: str) -> dict[str, str]:
    """Return a row of the table of conductors; KeyError for a size that is not there."""
    for r in table("awg").rows:
        if r["awg"] == awg:
            return r
    raise KeyError(awg)


def ampacity_a(awg: str, phases: int) -> float:
    """Current a flexible cord of that size may carry, single or three phase [A]."""
    return float(conductor(awg)["ampacity_2_a" if phases == 1 else "ampacity_3_a"])


@formula(
    "supply.input",
    text="S = U2 I2/(efficiency pf), U2 = 80 + 0.4 I2 or the kit's; I1 = S/U1, over sqrt(3) for three phases",
    gives="apparent power from the supply [kVA]",
    source="power balance (derived); load line of IEC 60974-1 (from memory)",
    limits=(_I, Limit("efficiency", 0.5, 1, "-"), Limit("power_factor", 0.4, 1, "-")),
)
def input_kva(current_a: float, arc_v: float, efficiency: float, power_factor: float) -> float:
    """Apparent power at an output current [A] and arc voltage [V]. [kVA]"""
    return arc_v * current_a / (efficiency * power_factor) / 1000


def line_current_a(kva: float, supply_v: float, phases: int) -> float:
    """Current in each line [A] at a power [kVA] and line voltage [V]."""
    return 1000 * kva / supply_v / (1.0 if phases == 1 else math.sqrt(3))


@formula(
    "supply.drop",
    text="drop = I k L R/1000 ft; k = 2 for single phase (out and back), sqrt(3) for three",
    gives="voltage lost in a cord [V]",
    source="Ohm (derived); resistance of the gauge at 20 C, times 1.1 where the copper is warm",
    limits=(Limit("length_m", 0, 300, "m"),),
)
def cord_drop_v(current_a: float, length_m: float, awg: str, phases: int = 1, warm: bool = False) -> float:
    """Voltage lost at a line current [A] over a cord's length one way [m]. [V]

    Check: 30 A over 100 ft of 12 AWG, single phase: 9.5 V, 4.0 % of 240 V.
    """
    return current_a * cord_ohm(length_m, awg, phases, warm)


def cord_ohm(length_m: float, awg: str, phases: int = 1, warm: bool = False) -> float:
    """What a cord's line current meets [ohm]: twice its length single phase, sqrt(3) times for three."""
    ways = 2.0 if phases == 1 else math.sqrt(3)
    ohm = float(conductor(awg)["ohm_per_1000ft"]) * length_m / THOUSAND_FT_M * (WARM_COPPER if warm else 1.0)
    return ways * ohm


@formula(
    "supply.drawn",
    text="I (U - R I) = S: I = (U - sqrt(U^2 - 4 R S))/(2 R)",
    gives="line current behind a cord, the set taking the same power at less voltage [A]",
    source="power balance, drop in phase with the voltage (derived)",
    limits=(Limit("length_m", 0, 300, "m"),),
)
def drawn_a(kva: float, supply_v: float, phases: int, ohm: float) -> float:
    """Line current [A] for a power [kVA] behind a cord [ohm, as its drop sees it]; infinite when the cord cannot carry
    that power at all. [A]"""
    va = 1000 * kva / (1.0 if phases == 1 else math.sqrt(3))
    if ohm <= 0:
        return va / supply_v
    root = supply_v**2 - 4 * ohm * va
    return (supply_v - math.sqrt(root)) / (2 * ohm) if root >= 0 else math.inf


@formula(
    "supply.most-output",
    text="S = I1 (U1 - R I1), U2 I2 = S efficiency pf, (U0 + 0.4 I2) I2 solved for I2, U0 = 80 V",
    gives="output current that a line current makes [A]",
    source="power balance turned round (derived); load line of IEC 60974-1 (from memory)",
    limits=(_I,),
)
def output_a(
    line_a: float, supply_v: float, phases: int, ohm: float, foot_v: float, efficiency: float, power_factor: float
) -> float:
    """Output current [A] that a line current [A] makes behind a cord; foot of the load line [V]. [A]"""
    watts = line_a * (supply_v - ohm * line_a) * (1.0 if phases == 1 else math.sqrt(3)) * efficiency * power_factor
    if watts <= 0:
        return 0.0
    return (-foot_v + math.sqrt(foot_v**2 + 1.6 * watts)) / 0.8


@formula(
    "supply.generator",
    text="1.4 (1.3 to 1.5) times the set's kVA",
    gives="size of a generator [kVA]",
    source="common practice, no source",
)
def generator_kva(kva: float) -> tuple[float, float, float]:
    """Generator for a set's power [kVA]: value, low, high [kVA]."""
    value, low, high = GENERATOR
    return kva * value, kva * low, kva * high
