"""Beside the cut: peak temperature and cooling rate of the plate by the usual handbook formulas."""

from __future__ import annotations

import math

from lagline.trade.register import Limit, formula

_ADAMS = "Adams, as in AWS Welding Handbook vol. 1 ch. 3 (seen; attribution from memory)"


@formula(
    "heat.net-input",
    text="Hnet = f V I/v",
    gives="heat into the plate per length of travel [J/mm]",
    source="definition (derived)",
)
def net_input(voltage_v: float, current_a: float, share: float, pace_mm_s: float) -> float:
    """Net heat per length: voltage [V], current [A], share that arrives [-], pace [mm/s]. [J/mm]"""
    return share * voltage_v * current_a / pace_mm_s


@formula(
    "heat.peak-temperature",
    text="1/(Tp - T0) = sqrt(2 pi e) rho C t Y/Hnet + 1/(Tm - T0)",
    gives="peak temperature beside a full penetration pass [C]",
    source=_ADAMS,
    limits=(Limit("distance_mm", 0, 100, "mm", "thin plate, heat through its whole depth"),),
)
def peak_temperature(
    distance_mm: float,
    net_j_mm: float,
    thickness_mm: float,
    rho_c_j_mm3k: float,
    melt_c: float,
    ambient_c: float = 25.0,
) -> float:
    """Peak temperature at a distance from the melted edge.

    Parameters: distance [mm], net heat [J/mm], thickness [mm], volumetric heat capacity [J/mm3K], melting point
    and start temperature [C]. Returns [C]. Check: 720 J/mm on 5 mm at 3.0 mm gives 976 C.
    """
    k = math.sqrt(2 * math.pi * math.e) * rho_c_j_mm3k * thickness_mm * distance_mm / net_j_mm
    return ambient_c + 1 / (k + 1 / (melt_c - ambient_c))


@formula(
    "heat.peak-distance",
    text="Y = Hnet (1/(Tp - T0) - 1/(Tm - T0))/(sqrt(2 pi e) rho C t)",
    gives="distance at which a peak temperature is reached [mm]",
    source=_ADAMS,
    limits=(Limit("peak_c", 50, 1500, "C", "between start and melting temperature"),),
)
def peak_distance(
    peak_c: float, net_j_mm: float, thickness_mm: float, rho_c_j_mm3k: float, melt_c: float, ambient_c: float = 25.0
) -> float:
    """Distance from the melted edge at which a temperature [C] is the peak; inverse of the peak temperature. [mm]"""
    difference = 1 / (peak_c - ambient_c) - 1 / (melt_c - ambient_c)
    return net_j_mm * difference / (math.sqrt(2 * math.pi * math.e) * rho_c_j_mm3k * thickness_mm)


@formula(
    "heat.thickness-number",
    text="tau = t sqrt(rho C (Tc - T0)/Hnet)",
    gives="relative plate thickness [-]: over 0.9 thick, under 0.6 thin",
    source=_ADAMS,
)
def thickness_number(
    thickness_mm: float, rho_c_j_mm3k: float, at_c: float, net_j_mm: float, ambient_c: float = 25.0
) -> float:
    """Relative plate thickness that tells which cooling formula applies; split at 0.75. [-]"""
    return thickness_mm * math.sqrt(rho_c_j_mm3k * (at_c - ambient_c) / net_j_mm)


@formula(
    "heat.cooling-thin",
    text="R = 2 pi k rho C (t/Hnet)^2 (Tc - T0)^3",
    gives="cooling rate on the centre line of a thin plate [K/s]",
    source=_ADAMS,
    limits=(Limit("tau", 0, 0.75, "-"),),
)
def cooling_thin(
    conductivity_j_mmsk: float,
    rho_c_j_mm3k: float,
    thickness_mm: float,
    net_j_mm: float,
    at_c: float,
    ambient_c: float = 25.0,
) -> float:
    """Cooling rate at a temperature [C], thin plate: k [J/mm s K], rho C [J/mm3K], t [mm], Hnet [J/mm]. [K/s]"""
    return 2 * math.pi * conductivity_j_mmsk * rho_c_j_mm3k * (thickness_mm / net_j_mm) ** 2 * (at_c - ambient_c) ** 3


@formula(
    "heat.cooling-thick",
    text="R = 2 pi k (Tc - T0)^2/Hnet",
    gives="cooling rate on the centre line of a thick plate [K/s]",
    source=_ADAMS,
    limits=(Limit("tau", 0.75, 100, "-"),),
)
def cooling_thick(conductivity_j_mmsk: float, net_j_mm: float, at_c: float, ambient_c: float = 25.0) -> float:
    """Cooling rate at a temperature [C], thick plate: k [J/mm s K], Hnet [J/mm]. [K/s]"""
    return 2 * math.pi * conductivity_j_mmsk * (at_c - ambient_c) ** 2 / net_j_mm
