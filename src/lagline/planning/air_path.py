"""From the compressor's intake to the torch: what is really made, what a tank holds, what reaches the torch."""

from __future__ import annotations

import math
from functools import cache

from lagline.records.kit import Air
from lagline.trade.air import FREE_AIR_KPA_ABS
from lagline.trade.air_line import (
    FITTING_M,
    REF_C,
    after_hose_kpa_abs,
    atmosphere_kpa_abs,
    before_hose_kpa_abs,
    delivery_l_min,
    hose_term,
)
from lagline.trade.moist_air import NORMAL_KPA_ABS, ZERO_C

LEAST_TANK_L = 1.0  # a bench without a tank still has hoses and a filter bowl


@cache
def made_l_min(air: Air) -> float:
    """Free air the compressor makes where it stands [L/min]."""
    at = air.intake
    if at is None:
        return air.delivery_l_min
    return delivery_l_min(air.delivery_l_min, at.altitude_m, at.intake_c, at.humidity)


@cache
def tank_ref_kpa(air: Air) -> float:
    """Pressure that stands for one volume of free air in the tank [kPa]: a warm tank holds less."""
    if air.intake is None:
        return FREE_AIR_KPA_ABS
    return FREE_AIR_KPA_ABS * (air.intake.tank_c + ZERO_C) / (REF_C + ZERO_C)


def tank_l(air: Air) -> float:
    """Volume of the tank [L]."""
    return max(air.tank_l, LEAST_TANK_L)


@cache
def outside_kpa_abs(air: Air) -> float:
    """Pressure of the air around, where gauges read nothing [kPa absolute]."""
    return NORMAL_KPA_ABS if air.intake is None else atmosphere_kpa_abs(air.intake.altitude_m)


@cache
def line_term(air: Air, use_l_min: float) -> float:
    """What hose and couplings take at a flow [kPa^2]."""
    line = air.line
    if line is None:
        return 0.0
    metres = line.hose_length_mm.value / 1000 + line.fittings * FITTING_M
    return hose_term(metres, line.hose_bore_mm.value, use_l_min)


def at_torch_kpa_g(air: Air, tank_kpa_g: float, use_l_min: float) -> float:
    """Pressure at the set's inlet, air flowing [kPa gauge]: the tank's less the loss, at most the regulator's."""
    outside = outside_kpa_abs(air)
    end = after_hose_kpa_abs(max(0.0, tank_kpa_g) + outside, line_term(air, use_l_min)) - outside
    return max(0.0, end if air.line is None else min(end, air.line.regulator_kpa_g))


@cache
def hose_wants_kpa_g(air: Air, use_l_min: float) -> float:
    """Pressure in the tank that leaves the torch what it needs behind the hose [kPa gauge]; 0 without a hose."""
    if air.line is None:
        return 0.0
    outside = outside_kpa_abs(air)
    return before_hose_kpa_abs(air.line.torch_least_kpa_g + outside, line_term(air, use_l_min)) - outside


@cache
def least_kpa_g(air: Air, use_l_min: float) -> float:
    """Tank pressure below which the torch starves at a flow [kPa gauge]: the kit's, or what the hose wants."""
    return max(air.least_kpa_g, hose_wants_kpa_g(air, use_l_min))


def falling_kpa_s(air: Air, use_l_min: float) -> float:
    """How fast the tank falls while the torch blows and the compressor runs [kPa/s]; below 0 where it rises."""
    return (use_l_min - made_l_min(air)) / 60 * tank_ref_kpa(air) / tank_l(air)


def longest_flow_s(air: Air, use_l_min: float) -> float:
    """Longest flow from a full tank, the compressor running [s]; infinite when it keeps up, 0 when it cannot begin."""
    room = air.cut_out_kpa_g - least_kpa_g(air, use_l_min)
    if room < 0:
        return 0.0
    falling = falling_kpa_s(air, use_l_min)
    return math.inf if falling <= 0 else room / falling
