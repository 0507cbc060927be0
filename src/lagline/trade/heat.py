"""Heat into and through the plate: the moving cylinder, hot properties, peak temperature and cooling."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache
from typing import Any

from lagline.trade.register import Limit, formula

SERIES_FROM_PE = 15.0
# The sum cancels by e^Pe, so beyond Pe 15 double precision runs out. There the loss is taken as 4 p times a series in
# p^(-2/3), the form of short-wave scattering by a cylinder; its coefficients were fitted to the sum carried in
# up to 600 digits at Pe 20 to 600, and agree with it to 4e-10 (tests/derived/test_trade_cylinder.py).
_SERIES = (
    (0.99619302, -2 / 3),
    (0.02235494, -4 / 3),
    (0.01457334, -2.0),
    (-0.00973981, -8 / 3),
    (0.00370338, -10 / 3),
)
_CYLINDER_SOURCE = (
    "exact solution for an isothermal cylinder moving through a plate (derived); "
    "same problem as Schulz, Becker, Franke, Kemmerling and Herziger 1993, J. Phys. D 26:1357 (from memory)"
)
_PE = Limit("pe", 1e-12, 1e4, "-", "smaller or larger was never compared with the sum")


@formula(
    "heat.cylinder-loss",
    text="loss = -2 pi p SUM eps_n (-1)^n I_n(p)^2 K_n'(p)/K_n(p) - 2 Pe, p = Pe/2, eps_0 = 1 else 2",
    gives="heat lost sideways per unit depth over k dT, beyond the slot's own sensible heat [-]",
    source=_CYLINDER_SOURCE,
    limits=(_PE,),
)
def cylinder_loss(pe: float) -> float:
    """Conduction loss of a molten cylinder moving through a plate.

    By the Wronskian the sum equals 2 pi SUM eps_n (-1)^n I_n(p)/K_n(p), which is what is summed (scaled
    functions); from Pe 15 up its asymptotic series.
    Parameters: pe = v a/alpha with a the half width of the kerf [-]. Returns Q'/(k dT) - 2 Pe [-]; 0 at Pe 0.
    Check: Pe 1 gives 3.324482.
    """
    if pe < 0 or not math.isfinite(pe):
        raise ValueError(f"Pe must be zero or above, got {pe}")
    if pe < 1e-300:
        return 0.0
    p = pe / 2
    if pe >= SERIES_FROM_PE:
        return 4 * p * math.fsum(c * p**e for c, e in _SERIES)
    import numpy as np
    from scipy.special import ive, kve

    n = np.arange(2 * int(p) + 40)
    terms = np.where(n == 0, 1, 2) * (-1.0) ** n * ive(n, p) / kve(n, p)
    total = math.fsum(terms.tolist())
    return 2 * math.pi * total * math.exp(pe) - 2 * pe


@formula(
    "heat.cylinder-loss-fit",
    text="loss = 4 (Pe/2)^0.36",
    gives="the same loss by the usual short fit, for comparison [-]",
    source="Schulz et al. 1993, J. Phys. D 26:1357 (from memory); range by comparison with the exact sum (derived)",
    limits=(Limit("pe", 1, 40, "-", "6 % low at 1 and worse below, 8 % high at 40"),),
)
def cylinder_loss_fit(pe: float) -> float:
    """Short fit of the conduction loss.

    4 (Pe/2)^0.36 with Pe = v a/alpha, a half the kerf. With the whole width in Pe's place it would
    overstate the loss by 28 %. Returns [-]. Check: Pe 2 gives 4.0000 against 4.1065 exact.
    """
    return float(4 * (pe / 2) ** 0.36)


@formula(
    "heat.front-flux",
    text="q = p cos th - exp(-p cos th) SUM eps_n I_n(p) p K_n'(p)/K_n(p) cos n th, p = Pe/2",
    gives="flux at angle th from the front, times radius over k dT [-]",
    source=_CYLINDER_SOURCE,
    limits=(Limit("pe", 1e-6, 20, "-", "the sum cancels beyond"),),
)
def front_flux(pe: float, theta: float) -> float:
    """Local heat flux into the plate at angle theta [rad] from the direction of travel.

    Parameters: pe = v a/alpha [-], theta [rad]. Returns flux x a/(k dT) [-]. Usable on the leading half.
    """
    return float(_flux(pe, (theta,))[0])


def _flux(pe: float, thetas: tuple[float, ...]) -> Any:
    import numpy as np
    from scipy.special import ive, kve

    p = pe / 2
    n = np.arange(2 * int(p) + 60)
    k = kve(n, p)
    n, k = n[np.isfinite(k)], k[np.isfinite(k)]  # beyond, a term is nothing
    slope = -(kve(np.abs(n - 1), p) + kve(n + 1, p)) / 2
    terms = np.where(n == 0, 1, 2) * ive(n, p) * p * slope / k
    th = np.array(thetas)
    total = np.cos(np.outer(th, n)) @ np.where(np.isfinite(terms), terms, 0.0)
    return p * np.cos(th) - np.exp(p - p * np.cos(th)) * total


@formula(
    "heat.front-half",
    text="Q = integral of front flux from -pi/2 to pi/2",
    gives="heat into the plate from the leading half of the cylinder over k dT, per unit depth [-]",
    source=_CYLINDER_SOURCE,
    limits=(Limit("pe", 1e-6, 20, "-", "the sum cancels beyond"),),
)
def front_half(pe: float) -> float:
    """Heat through the leading half only. Parameters: pe = v a/alpha [-]. Returns [-]. Check: Pe 1 gives 4.05666."""
    import numpy as np

    legendre: Any = np.polynomial.legendre  # its stubs leave this one call untyped
    nodes, weights = legendre.leggauss(48)
    quarter = math.pi / 4
    flux = _flux(pe, tuple((quarter * (1 + nodes)).tolist()))
    return 2 * quarter * math.fsum((weights * flux).tolist())


@cache
def _half_share() -> tuple[Any, Any]:
    import numpy as np

    ln_pe = np.linspace(math.log(1e-3), math.log(SERIES_FROM_PE), 40)
    share = [(front_half(p) - 2 * p) / cylinder_loss(p) for p in np.exp(ln_pe).tolist()]
    return ln_pe, np.array(share)


@formula(
    "heat.half-loss",
    text="loss = front half flux - 2 Pe, held as a share of the whole cylinder's loss beyond Pe 15",
    gives="heat lost by the leading half alone per unit depth over k dT [-]",
    source="heat.front-half (derived): behind the arc lies an open slot, which conducts nothing",
    limits=(Limit("pe", 1e-3, 100, "-", "held as a share outside 0.001 to 15"),),
)
def half_loss(pe: float) -> float:
    """Conduction loss through the leading half of the molten cylinder. Parameters: pe [-]. Returns [-].

    Check: Pe 1 gives 4.05666 - 2.
    """
    import numpy as np

    ln_pe, share = _half_share()
    return float(np.interp(math.log(max(pe, 1e-12)), ln_pe, share)) * cylinder_loss(pe)


_EN = "EN 1993-1-2, carbon steel (from memory)"


@formula(
    "heat.steel-capacity",
    text="c = 425 + .773 T - 1.69e-3 T2 + 2.22e-6 T3 | 666 + 13002/(738 - T) | 545 + 17820/(T - 731) | 650",
    gives="heat capacity of carbon steel [J/kgK]",
    source=_EN,
    limits=(Limit("temperature_c", 20, 1200, "C"),),
)
def steel_capacity(temperature_c: float) -> float:
    """Heat capacity of carbon steel at a temperature [C], the transformation peak at 735 C included. [J/kgK]"""
    t = temperature_c
    if t < 600:
        return 425 + 0.773 * t - 1.69e-3 * t**2 + 2.22e-6 * t**3
    if t < 735:
        return 666 + 13002 / (738 - t)
    if t < 900:
        return 545 + 17820 / (t - 731)
    return 650.0


@formula(
    "heat.steel-heat",
    text="H = integral of c dT from T1 to T2",
    gives="heat to warm carbon steel [kJ/kg]",
    source=_EN,
    limits=(Limit("from_c", 20, 1200, "C"), Limit("to_c", 20, 1200, "C")),
)
def steel_heat(from_c: float, to_c: float) -> float:
    """Heat to warm carbon steel between two temperatures [C], integrated exactly piece by piece. [kJ/kg]

    Check: 20 to 1200 C gives 827.06 kJ/kg.
    """

    def up_to(t: float) -> float:
        total = 0.0
        pieces: tuple[tuple[float, float, Callable[[float], float]], ...] = (
            (-273.0, 600.0, lambda x: 425 * x + 0.773 * x**2 / 2 - 1.69e-3 * x**3 / 3 + 2.22e-6 * x**4 / 4),
            (600.0, 735.0, lambda x: 666 * x - 13002 * math.log(738 - x)),
            (735.0, 900.0, lambda x: 545 * x + 17820 * math.log(x - 731)),
            (900.0, math.inf, lambda x: 650 * x),
        )
        for low, high, primitive in pieces:
            if t > low:
                total += primitive(min(t, high)) - primitive(low)
        return total

    return (up_to(to_c) - up_to(from_c)) / 1000


@formula(
    "heat.steel-conductivity",
    text="k = 54 - 3.33e-2 T to 800 C, then 27.3",
    gives="conductivity of carbon steel [W/mK]",
    source=_EN,
    limits=(Limit("temperature_c", 20, 1200, "C"),),
)
def steel_conductivity(temperature_c: float) -> float:
    """Conductivity of carbon steel at a temperature [C]. [W/mK]"""
    return 54 - 3.33e-2 * temperature_c if temperature_c < 800 else 27.3


@formula(
    "heat.stainless-capacity",
    text="c = 450 + .280 T - 2.91e-4 T2 + 1.34e-7 T3",
    gives="heat capacity of stainless [J/kgK]",
    source="EN 1993-1-2 annex C (from memory)",
    limits=(Limit("temperature_c", 20, 1200, "C"),),
)
def stainless_capacity(temperature_c: float) -> float:
    """Heat capacity of stainless steel at a temperature [C]. [J/kgK]"""
    return 450 + 0.280 * temperature_c - 2.91e-4 * temperature_c**2 + 1.34e-7 * temperature_c**3


@formula(
    "heat.stainless-conductivity",
    text="k = 14.6 + 1.27e-2 T",
    gives="conductivity of stainless [W/mK]",
    source="EN 1993-1-2 annex C (from memory)",
    limits=(Limit("temperature_c", 20, 1200, "C"),),
)
def stainless_conductivity(temperature_c: float) -> float:
    """Conductivity of stainless steel at a temperature [C]. [W/mK]"""
    return 14.6 + 1.27e-2 * temperature_c


@formula(
    "heat.aluminium-capacity",
    text="c = .41 T + 903",
    gives="heat capacity of aluminium [J/kgK]",
    source="EN 1999-1-2 (from memory)",
    limits=(Limit("temperature_c", 20, 500, "C", "beyond the code's range, extended to melting for the hot mean"),),
)
def aluminium_capacity(temperature_c: float) -> float:
    """Heat capacity of aluminium at a temperature [C]. [J/kgK]"""
    return 0.41 * temperature_c + 903


@formula(
    "heat.aluminium-conductivity",
    text="k = .07 T + 190",
    gives="conductivity of aluminium, 3xxx and 6xxx [W/mK]",
    source="EN 1999-1-2 (from memory)",
    limits=(Limit("temperature_c", 20, 500, "C", "beyond the code's range, extended to melting for the hot mean"),),
)
def aluminium_conductivity(temperature_c: float) -> float:
    """Conductivity of 3xxx and 6xxx aluminium at a temperature [C]. [W/mK]"""
    return 0.07 * temperature_c + 190
