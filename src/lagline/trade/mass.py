"""What a piece weighs: before it drops, and for the price."""

from __future__ import annotations

from lagline.records.figure import Basis, Figure
from lagline.trade.metals import property_of
from lagline.trade.register import Limit, formula


@formula(
    "mass.of-area",
    text="m = rho A t",
    gives="mass of a flat piece [kg]",
    source="geometry (derived); density from table metals",
    limits=(Limit("thickness_mm", 0.3, 150, "mm"), Limit("area_mm2", 0, 1e8, "mm2")),
)
def mass_of_area(metal: str, area_mm2: float, thickness_mm: float) -> Figure:
    """Mass of a piece of plate: metal, area [mm2], thickness [mm]. [kg] Spread is the density's.

    Check: steel 12 x 12 x 1/2 in weighs 20 lb.
    """
    density = property_of(metal, "density")
    volume_m3 = area_mm2 * thickness_mm * 1e-9
    return Figure(
        density.value * volume_m3,
        density.low * volume_m3,
        density.high * volume_m3,
        "kg",
        "mass.of-area",
        Basis.STANDARD,
        density.source,
        (
            ("density [kg/m3]", f"{density.value:g}"),
            ("area [mm2]", f"{area_mm2:.0f}"),
            ("thickness [mm]", f"{thickness_mm:g}"),
        ),
    )
