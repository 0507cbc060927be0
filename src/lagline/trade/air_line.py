"""Free air as the compressor's place makes it, and what hose and couplings leave of the tank's pressure."""

from __future__ import annotations

import math

from lagline.trade.moist_air import ZERO_C, saturation_kpa
from lagline.trade.register import Limit, formula

REF_C, REF_KPA_ABS = 20.0, 100.0  # ISO 1217 free air, dry (seen)
FITTING_M = 1.5  # of hose that one coupling is worth, 0.5 to 3: common practice, no source
_HOSE = (
    Limit("bore_mm", 3, 100, "mm"),
    Limit("flow_l_min", 0, 20_000, "L/min free air"),
)


@formula(
    "air.atmosphere",
    text="p = 101.325 (1 - 2.25577e-5 h)^5.2559",
    gives="pressure of the air at a height above the sea [kPa absolute]",
    source="ASHRAE Handbook, Fundamentals, standard atmosphere (seen)",
    limits=(Limit("altitude_m", -500, 5000, "m"),),
)
def atmosphere_kpa_abs(altitude_m: float) -> float:
    """Standard pressure at an altitude [m]: [kPa absolute]. ValueError outside -500 to 5000 m."""
    if not -500 <= altitude_m <= 5000:
        raise ValueError(f"altitude goes from -500 to 5000 m, got {altitude_m}")
    return float(101.325 * (1 - 2.25577e-5 * altitude_m) ** 5.2559)


@formula(
    "air.delivery",
    text="q = q_plate (p_atm - RH p_sat)/p_ref T_ref/T_intake",
    gives="free air a compressor makes where it stands, as air of ISO 1217 [L/min]",
    source="equal swept volume, gas law with the water taken out (derived)",
    limits=(
        Limit("altitude_m", 0, 5000, "m"),
        Limit("intake_c", -30, 60, "C"),
        Limit("humidity", 0, 1, "-"),
    ),
)
def delivery_l_min(plate_l_min: float, altitude_m: float, intake_c: float, humidity: float) -> float:
    """Free air made from the plate's [L/min], altitude [m], intake [C] and relative humidity [0..1]. [L/min]

    A piston sweeps the same volume wherever it stands; thinner, warmer, wetter air is less of it.
    """
    dry = atmosphere_kpa_abs(altitude_m) - humidity * saturation_kpa(intake_c)
    return plate_l_min * dry / REF_KPA_ABS * (REF_C + ZERO_C) / (intake_c + ZERO_C)


@formula(
    "air.hose",
    text="p1^2 - p2^2 = 2 L 1.6e12 q^1.85/d^5 (dp = L 1.6e12 q^1.85/(d^5 p) along the hose)",
    gives="half the fall of the square of the pressure along a hose [kPa^2]",
    source="handbook line loss, kPa, m, m3/s of free air, mm (seen; within 0.2 % of 450 L q^1.85/(d^5 p))",
    limits=_HOSE,
)
def hose_term(length_m: float, bore_mm: float, flow_l_min: float) -> float:
    """What a hose takes: length with its couplings [m], true bore [mm], free air [L/min]. [kPa^2]

    Over the pressure it is the loss of a short hose; squared pressures make it exact for a long one. ValueError for
    a bore that is none.
    """
    if not bore_mm > 0:
        raise ValueError(f"bore must be above 0 mm, got {bore_mm}")
    return float(length_m * 1.6e12 * (flow_l_min / 60_000) ** 1.85 / bore_mm**5)


def after_hose_kpa_abs(before_kpa_abs: float, term: float) -> float:
    """Pressure at the far end of a hose [kPa absolute] from that at its head and its term [kPa^2]; 0 when the hose
    cannot carry the flow at all."""
    return math.sqrt(max(0.0, before_kpa_abs**2 - 2 * term))


def before_hose_kpa_abs(after_kpa_abs: float, term: float) -> float:
    """Pressure wanted at a hose's head [kPa absolute] for one at its end, and its term [kPa^2]."""
    return math.sqrt(after_kpa_abs**2 + 2 * term)


@formula(
    "air.least-bore",
    text="d = (2 L 1.6e12 q^1.85/(p1^2 - p2^2))^(1/5)",
    gives="smallest bore that leaves a pressure at the end of a hose [mm]",
    source="the line loss turned round (derived)",
    limits=_HOSE,
)
def least_bore_mm(length_m: float, flow_l_min: float, before_kpa_abs: float, after_kpa_abs: float) -> float:
    """Smallest true bore: length with couplings [m], free air [L/min], pressures at head and end [kPa absolute]. [mm]

    ValueError when the pressure does not fall.
    """
    if before_kpa_abs <= after_kpa_abs:
        raise ValueError(f"pressure must fall, got {before_kpa_abs} to {after_kpa_abs} kPa absolute")
    return float((2 * hose_term(length_m, 1.0, flow_l_min) / (before_kpa_abs**2 - after_kpa_abs**2)) ** 0.2)
