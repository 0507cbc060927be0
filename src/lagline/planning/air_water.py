"""Water on its way from intake to torch, with each kind of dryer."""

from __future__ import annotations

from dataclasses import dataclass

from lagline.data import table
from lagline.planning.air_path import at_torch_kpa_g, outside_kpa_abs
from lagline.records.kit import Air, Intake
from lagline.trade.moist_air import dew_point_c, humidity_ratio, water_class, water_g_m3

KINDS = ("none", "aftercooler", "refrigerated", "desiccant")
HERE = Intake(0.0, 20.0, 0.6, 20.0, "none")  # for a kit that does not say


@dataclass(frozen=True, slots=True)
class Water:
    """What becomes of the water in each cubic metre of free air [g/m3], and dew points [C].

    ``line_dew_c`` at the tank's pressure behind the dryer, ``torch_dew_c`` at the torch's; ``liquid_g_m3`` what
    condenses in the hose, its air as cool as the shop; ``iso`` the class of ISO 8573-1.
    """

    kind: str
    taken_in_g_m3: float
    drained_g_m3: float
    liquid_g_m3: float
    line_dew_c: float
    torch_dew_c: float
    iso: str


def _row(kind: str, key: str) -> float:
    return float(next(r[key] for r in table("air_dryers").rows if r["kind"] == kind))


def water(air: Air, kind: str, use_l_min: float) -> Water:
    """Return what becomes of the water with a kind of dryer; the tank at its cut-in, the wettest it lets through."""
    at = air.intake or HERE
    outside = outside_kpa_abs(air)
    tank = air.cut_in_kpa_g + outside
    taken = humidity_ratio(at.intake_c, outside, at.humidity)
    tank_c = at.tank_c
    if kind == "aftercooler":
        tank_c = min(tank_c, at.intake_c + _row(kind, "approach_k"))
    ratio = min(taken, humidity_ratio(tank_c, tank))
    if kind in ("refrigerated", "desiccant"):
        ratio = min(ratio, humidity_ratio(_row(kind, "dew_point_c"), tank))
    drained = water_g_m3(taken - ratio)
    hose = min(ratio, humidity_ratio(at.intake_c, tank))
    liquid = water_g_m3(ratio - hose)
    torch = at_torch_kpa_g(air, air.cut_in_kpa_g, use_l_min) + outside
    line_dew = dew_point_c(ratio, tank)
    return Water(
        kind, water_g_m3(taken), drained, liquid, line_dew, dew_point_c(hose, torch), water_class(line_dew, liquid)
    )
