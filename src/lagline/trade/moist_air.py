"""Water in compressed air: saturation, what a tank condenses, dew points, and the class of ISO 8573-1 reached."""

from __future__ import annotations

import math

from lagline.data import table
from lagline.trade.register import Limit, formula

ZERO_C = 273.15
WATER_OVER_AIR = 0.621945  # ratio of molar masses
DRY_AIR_J_KG_K = 287.042
VAPOUR_J_KG_K = 461.524
NORMAL_KPA_ABS = 101.325
_T = Limit("temperature_c", -100, 200, "C")
_F = Limit("temperature_c", -50, 100, "C")
_P = Limit("pressure_kpa_abs", 20, 2000, "kPa absolute")

# ln p [Pa] = a/T + b + c T + d T2 + e T3 + f T4 + g ln T, T in K
_ICE = (-5.6745359e3, 6.3925247, -9.6778430e-3, 6.2215701e-7, 2.0747825e-9, -9.4840240e-13, 4.1635019)
_WATER = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0, 6.5459673)
# alpha = sum a t^i, ln beta = sum b t^i, t in C
_ENHANCE_WATER = (
    (3.53624e-4, 2.9328363e-5, 2.6168979e-7, 8.5813609e-9),
    (-1.07588e1, 6.3268134e-2, -2.5368934e-4, 6.3405286e-7),
)
_ENHANCE_ICE = (
    (3.64449e-4, 2.9367585e-5, 4.8874766e-7, 4.3669918e-9),
    (-1.07271e1, 7.6215115e-2, -1.7490155e-4, 2.4668279e-6),
)


@formula(
    "moist.saturation",
    text="ln p = a/T + b + c T + d T^2 + e T^3 + f T^4 + g ln T, over ice below 0 C, over water above",
    gives="saturation pressure of water [kPa]",
    source="Hyland and Wexler 1983, as in the ASHRAE Handbook, Fundamentals (seen)",
    limits=(_T,),
)
def saturation_kpa(temperature_c: float) -> float:
    """Saturation pressure of pure water at a temperature [C]: [kPa]. ValueError outside -100 to 200 C.

    Check: 0.25990, 0.8725, 2.3388 kPa at -10, 5, 20 C.
    """
    if not -100 <= temperature_c <= 200:
        raise ValueError(f"saturation is known from -100 to 200 C, got {temperature_c}")
    t = temperature_c + ZERO_C
    a, b, c, d, e, f, g = _ICE if temperature_c < 0 else _WATER
    return math.exp(a / t + b + t * (c + t * (d + t * (e + t * f))) + g * math.log(t)) / 1000


@formula(
    "moist.enhancement",
    text="f = exp(alpha (1 - ps/p) + beta (p/ps - 1)), alpha and ln beta cubic in t",
    gives="how much more water air under pressure holds than the vacuum over water [-]",
    source="form and coefficients of Greenspan 1976 as refitted by Hardy 1998 (from memory)",
    limits=(_F, _P),
)
def enhancement(temperature_c: float, pressure_kpa_abs: float) -> float:
    """Enhancement factor at a temperature [C] and pressure [kPa absolute]: [-], at least 1.

    Check: saturated air at 20 C and 101.325 kPa holds 1.4758e-2 kg/kg, and 1.4695e-2 without it.
    """
    alphas, betas = _ENHANCE_ICE if temperature_c < 0 else _ENHANCE_WATER
    t, ps = temperature_c, saturation_kpa(temperature_c)
    alpha = alphas[0] + t * (alphas[1] + t * (alphas[2] + t * alphas[3]))
    beta = math.exp(betas[0] + t * (betas[1] + t * (betas[2] + t * betas[3])))
    return max(1.0, math.exp(alpha * (1 - ps / pressure_kpa_abs) + beta * (pressure_kpa_abs / ps - 1)))


@formula(
    "moist.ratio",
    text="W = 0.621945 pw/(p - pw), pw = RH f ps",
    gives="water in a kilogram of dry air [kg/kg]",
    source="ASHRAE Handbook, Fundamentals, humidity ratio (seen)",
    limits=(_F, _P, Limit("humidity", 0, 1, "-")),
)
def humidity_ratio(temperature_c: float, pressure_kpa_abs: float, humidity: float = 1.0) -> float:
    """Water per dry air at a temperature [C], pressure [kPa absolute] and relative humidity [0..1]: [kg/kg].

    ValueError where the water would boil.
    """
    vapour = humidity * enhancement(temperature_c, pressure_kpa_abs) * saturation_kpa(temperature_c)
    if vapour >= pressure_kpa_abs:
        raise ValueError(f"water boils at {temperature_c} C and {pressure_kpa_abs} kPa absolute")
    return WATER_OVER_AIR * vapour / (pressure_kpa_abs - vapour)


@formula(
    "moist.density",
    text="rho = ps/(Rv T)",
    gives="water in a cubic metre of saturated space [g/m3]",
    source="gas law for vapour over Hyland-Wexler (derived); the handbook gives 17.3 g/m3 at 20 C (from memory)",
    limits=(_T,),
)
def vapour_g_m3(temperature_c: float, humidity: float = 1.0) -> float:
    """Water in a cubic metre at a temperature [C] and relative humidity [0..1]: [g/m3]. Check: 17.29 at 20 C."""
    return 1e6 * humidity * saturation_kpa(temperature_c) / (VAPOUR_J_KG_K * (temperature_c + ZERO_C))


@formula(
    "moist.enthalpy",
    text="h = 1.006 t + W (2501 + 1.86 t)",
    gives="heat in moist air above dry air and water at 0 C [kJ/kg of dry air]",
    source="ASHRAE Handbook, Fundamentals, approximate form for an ideal mixture (seen)",
    limits=(_F,),
)
def enthalpy_kj_kg(temperature_c: float, ratio: float) -> float:
    """Enthalpy of moist air at a temperature [C] and humidity ratio [kg/kg]: [kJ/kg]. Check: 57.55 at 20 C, wet."""
    return 1.006 * temperature_c + ratio * (2501 + 1.86 * temperature_c)


@formula(
    "moist.taken-in",
    text="g = 1000 rho_a W, rho_a = p_ref/(Ra T_ref)",
    gives="water that comes in with a cubic metre of free air, 20 C and 100 kPa dry [g/m3]",
    source="gas law and humidity ratio (derived)",
    limits=(_F, Limit("humidity", 0, 1, "-")),
)
def water_g_m3(ratio: float) -> float:
    """Water carried by a cubic metre of free air (dry, 20 C, 100 kPa) at a humidity ratio [kg/kg]: [g/m3]."""
    return 1000 * ratio * 100e3 / (DRY_AIR_J_KG_K * (20 + ZERO_C))


@formula(
    "moist.condensed",
    text="water = W(intake) - W(saturated in the tank), not below zero",
    gives="water left in the tank for each cubic metre of free air [g/m3]",
    source="humidity ratio (derived); 6.01 g/m3 for 20 C 70 % to 8 bar gauge 40 C without enhancement (derived)",
    limits=(_F, _P),
)
def condensed_g_m3(taken_in: float, tank_c: float, tank_kpa_abs: float) -> float:
    """Water condensed in a tank: humidity ratio taken in [kg/kg], tank [C, kPa absolute]. [g/m3 of free air]"""
    return water_g_m3(max(0.0, taken_in - humidity_ratio(tank_c, tank_kpa_abs)))


@formula(
    "moist.dew-point",
    text="W(saturated at t, p) = W, solved for t",
    gives="temperature at which water begins to form at a pressure [C]",
    source="inverse of the humidity ratio (derived)",
    limits=(_P, Limit("ratio", 0, 0.6, "kg/kg")),
)
def dew_point_c(ratio: float, pressure_kpa_abs: float) -> float:
    """Dew point (frost point below 0 C) of air with a humidity ratio [kg/kg] at a pressure [kPa absolute]. [C]

    By halving, to 1e-7 K. Air drier than saturated at -90 C gives -90.
    """
    low, high = -90.0, min(99.0, _boils_c(pressure_kpa_abs) - 0.5)
    while high - low > 1e-7:
        middle = (low + high) / 2
        low, high = (middle, high) if humidity_ratio(middle, pressure_kpa_abs) < ratio else (low, middle)
    return (low + high) / 2


def _boils_c(pressure_kpa_abs: float) -> float:
    low, high = -20.0, 199.0
    while high - low > 1e-3:
        middle = (low + high) / 2
        boils = saturation_kpa(middle) * 1.06 >= pressure_kpa_abs
        low, high = (low, middle) if boils else (middle, high)
    return low


@formula(
    "moist.class",
    text="the best class whose dew point is not below the air's; wetter than class 6 is 7 to 9 by liquid water",
    gives="class of water, ISO 8573-1 [-]",
    source="ISO 8573-1 (classes 1 to 6 seen, 7 to 9 from memory)",
)
def water_class(pressure_dew_point_c: float, liquid_g_m3: float = 0.0) -> str:
    """Class of ISO 8573-1 for a pressure dew point [C] and liquid water carried along [g/m3]: "1" to "9", or "X"."""
    rows = table("iso8573_water").rows
    if liquid_g_m3 <= 0:
        for r in rows:
            if r["dew_point_c"] and pressure_dew_point_c <= float(r["dew_point_c"]) + 1e-6:
                return r["class"]
    for r in rows:
        if r["liquid_g_m3"] and liquid_g_m3 <= float(r["liquid_g_m3"]):
            return r["class"]
    return "X"
