"""What each metal is: density, melting point, heat to melt and hot means, from one table with a source per value."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from lagline.data import table
from lagline.records.errors import refuse
from lagline.trade.register import Limit, formula

METALS = ("steel", "stainless", "aluminium")


@dataclass(frozen=True, slots=True)
class Property:
    """One property of one metal: value, its spread, unit, and the publication it is from."""

    value: float
    low: float
    high: float
    unit: str
    source: str


@cache
def property_of(metal: str, quantity: str) -> Property:
    """Return a metal's property, e.g. ``property_of("steel", "density")``.

    Quantities: ``density`` [kg/m3], ``melt`` [C], ``hot_conductivity`` [W/mK], ``hot_capacity`` [J/kgK],
    ``latent`` and ``melt_heat`` [kJ/kg], ``share_of_steel`` and ``pace_ratio`` [-].
    Refuses a metal that is not in the table; KeyError for a quantity that is not.
    """
    if metal not in METALS:
        raise refuse("metal-unknown", "metal", f"'{metal}' is not a metal in the table", ", ".join(METALS))
    for row in table("metals").rows:
        if row["metal"] == metal and row["quantity"] == quantity:
            return Property(float(row["value"]), float(row["low"]), float(row["high"]), row["unit"], row["source"])
    raise KeyError(f"{metal} {quantity}")


@formula(
    "metals.diffusivity",
    text="alpha = k / (rho c)",
    gives="thermal diffusivity [m2/s]",
    source="definition; properties from table metals",
    limits=(
        Limit("conductivity_w_mk", 1, 500, "W/mK"),
        Limit("density_kg_m3", 1000, 10000, "kg/m3"),
        Limit("capacity_j_kgk", 100, 2000, "J/kgK"),
    ),
)
def diffusivity(conductivity_w_mk: float, density_kg_m3: float, capacity_j_kgk: float) -> float:
    """Thermal diffusivity: how fast heat spreads.

    alpha = k/(rho c). Parameters: conductivity [W/mK], density [kg/m3], heat capacity [J/kgK]. Returns [m2/s].
    Check: 0.5 C steel, 53.6/(7833 x 465) = 14.72e-6 (data book prints 14.74e-6).
    """
    return conductivity_w_mk / (density_kg_m3 * capacity_j_kgk)


def hot_diffusivity(metal: str) -> float:
    """Diffusivity from the metal's hot means [m2/s]."""
    p = property_of
    return diffusivity(p(metal, "hot_conductivity").value, p(metal, "density").value, p(metal, "hot_capacity").value)
