"""Stored and free air: how long a tank lasts and how big it must be. Pressures say gauge or absolute."""

from __future__ import annotations

import math

from lagline.trade.register import Limit, formula

# ISO 1217 free air: 20 C, 1 bar absolute, dry (seen). Older US practice uses 14.7 psia.
FREE_AIR_KPA_ABS = 100.0
OLD_US_KPA_ABS = 101.3529
_P = Limit("kpa_g", 0, 1500, "kPa gauge")


@formula(
    "air.stored",
    text="free air = V (p1 - p2)/p_ref",
    gives="free air between two tank pressures [L]",
    source="gas law at constant temperature (derived); reference ISO 1217, 100 kPa absolute (seen)",
    limits=(_P,),
)
def stored_free_air(tank_l: float, from_kpa_g: float, to_kpa_g: float, ref_kpa_abs: float = FREE_AIR_KPA_ABS) -> float:
    """Free air a tank gives up between two pressures.

    Parameters: tank [L], pressures [kPa gauge; a difference, so gauge or absolute is the same], reference
    [kPa absolute]. Returns free air [L]; negative when the pressure rises.
    """
    return tank_l * (from_kpa_g - to_kpa_g) / ref_kpa_abs


@formula(
    "air.tank-time",
    text="t = V (p1 - p2)/p_ref/(use - make)",
    gives="time until the tank is down to p2 [s]",
    source="gas law (derived)",
    limits=(_P,),
)
def tank_time_s(
    tank_l: float,
    from_kpa_g: float,
    to_kpa_g: float,
    use_l_min: float,
    make_l_min: float,
    ref_kpa_abs: float = FREE_AIR_KPA_ABS,
) -> float:
    """Seconds until a tank falls from one pressure to another.

    Parameters: tank [L], pressures [kPa gauge], free air used and made [L/min], reference [kPa absolute].
    Returns [s]; infinite when the compressor keeps up.
    """
    short = use_l_min - make_l_min
    if short <= 0:
        return math.inf
    return 60 * stored_free_air(tank_l, from_kpa_g, to_kpa_g, ref_kpa_abs) / short


@formula(
    "air.pressure-rate",
    text="dp/dt = (make - use) p_ref/V",
    gives="rate of tank pressure [kPa/s]",
    source="gas law (derived)",
    limits=(_P,),
)
def pressure_rate(tank_l: float, make_l_min: float, use_l_min: float, ref_kpa_abs: float = FREE_AIR_KPA_ABS) -> float:
    """How fast the tank pressure moves: tank [L], free air made and used [L/min]. [kPa/s], negative when falling."""
    return (make_l_min - use_l_min) / 60 * ref_kpa_abs / tank_l


@formula(
    "air.receiver",
    text="V = t (use - make) p_ref/(p1 - p2)",
    gives="tank volume needed [L]",
    source="gas law (derived); the usual receiver sizing formula",
    limits=(_P,),
)
def receiver_l(
    time_s: float,
    use_l_min: float,
    make_l_min: float,
    from_kpa_g: float,
    to_kpa_g: float,
    ref_kpa_abs: float = FREE_AIR_KPA_ABS,
) -> float:
    """Tank [L] that carries a use for a time between two pressures. 0 when the compressor keeps up.

    Check: 350 used, 250 made cfm, 5 min, 100 to 60 psig, 14.7 psia: 183.75 ft3. ValueError when the pressure
    does not fall.
    """
    if from_kpa_g <= to_kpa_g:
        raise ValueError(f"pressure must fall, got {from_kpa_g} to {to_kpa_g} kPa gauge")
    return max(0.0, time_s / 60 * (use_l_min - make_l_min) * ref_kpa_abs / (from_kpa_g - to_kpa_g))


@formula(
    "air.actual-flow",
    text="q = q_std p_std/(p - RH p_sat) T/T_std",
    gives="flow at actual suction conditions",
    source="gas law with water vapour taken out (derived); a printed example without a citable title agrees",
    limits=(Limit("humidity", 0, 1, "-"),),
)
def actual_flow(
    standard_flow: float,
    pressure_abs: float,
    saturation_abs: float,
    humidity: float,
    temperature_abs: float,
    standard_pressure_abs: float,
    standard_temperature_abs: float,
) -> float:
    """Actual inlet flow for a standard dry flow; any consistent units, pressures and temperatures absolute."""
    dry = pressure_abs - humidity * saturation_abs
    return standard_flow * standard_pressure_abs / dry * temperature_abs / standard_temperature_abs
