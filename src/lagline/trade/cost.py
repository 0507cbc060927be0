"""What the job costs, always as a range."""

from __future__ import annotations

import math

from lagline.records.figure import Basis, Figure, Spread
from lagline.trade.register import Limit, formula

SET_EFFICIENCY = Spread(0.85, 0.75, 0.9, default=True)


def _basis(spread: Spread) -> Basis:
    return Basis.DEFAULT if spread.default else Basis.KIT


@formula(
    "cost.labour",
    text="labour = time x rate",
    gives="labour [money]",
    source="rate from the kit file; labour is 60 to 80 % of a hand job: common practice, no source",
)
def labour(time_s: Figure, per_hour: Spread, currency: str) -> Figure:
    """Labour for a time [s] at a rate per hour, in the shop's money."""
    return Figure(
        time_s.value / 3600 * per_hour.value,
        time_s.low / 3600 * per_hour.low,
        time_s.high / 3600 * per_hour.high,
        currency,
        "cost.labour",
        _basis(per_hour),
        "time table and labour rate in the kit file",
        (("time [min]", f"{time_s.value / 60:.0f}"), ("rate per hour", f"{per_hour.value:g}")),
    )


@formula(
    "cost.power",
    text="energy = V I arc time/efficiency; cost = energy x price",
    gives="electric power for the arc [money]",
    source="derived; efficiency of a set 0.75 to 0.9: common practice, no source",
    limits=(Limit("current_a", 15, 130, "A"),),
)
def power(voltage_v: float, current_a: float, arc_s: float, per_kwh: float, currency: str) -> Figure:
    """Electric power of the arc: voltage [V], current [A], arc time [s], price per kWh; the compressor is extra."""
    kwh = voltage_v * current_a * arc_s / 3.6e6
    e = SET_EFFICIENCY
    return Figure(
        kwh / e.value * per_kwh,
        kwh / e.high * per_kwh,
        kwh / e.low * per_kwh,
        currency,
        "cost.power",
        Basis.DEFAULT,
        "arc power over the set's efficiency: common practice, no source",
        (("arc energy [kWh]", f"{kwh:.3f}"), ("price per kWh", f"{per_kwh:g}")),
    )


@formula("cost.tips", text="tips = sets x price", gives="tips and electrodes [money]", source="price from the kit file")
def tips(sets: Figure, per_set: float, currency: str) -> Figure:
    """Tips and electrodes for a number of sets at a price each."""
    return Figure(
        sets.value * per_set,
        sets.low * per_set,
        sets.high * per_set,
        currency,
        "cost.tips",
        sets.basis,
        "tip sets used and their price in the kit file",
        (("sets", f"{sets.value:.2f}"), ("price each", f"{per_set:g}")),
    )


@formula("cost.plate", text="plate = mass x price", gives="metal [money]", source="price from the kit file")
def plate(mass: Figure, per_kg: float, currency: str) -> Figure:
    """Metal for a mass [kg] at a price per kg: what leaves the shelf, parts and drops."""
    return Figure(
        mass.value * per_kg,
        mass.low * per_kg,
        mass.high * per_kg,
        currency,
        "cost.plate",
        Basis.KIT,
        "mass and price per kg in the kit file",
        (("mass [kg]", f"{mass.value:.1f}"), ("price per kg", f"{per_kg:g}")),
    )


@formula(
    "cost.total",
    text="total = SUM parts, low with low and high with high",
    gives="cost of the job [money]",
    source="sum (derived)",
)
def total(parts: tuple[tuple[str, Figure], ...], currency: str) -> Figure:
    """Sum of named costs, low ends with low ends and high with high: a range to quote from, not a confidence."""
    return Figure(
        math.fsum(f.value for _, f in parts),
        math.fsum(f.low for _, f in parts),
        math.fsum(f.high for _, f in parts),
        currency,
        "cost.total",
        Basis.DEFAULT,
        "sum of the parts named",
        tuple((name, f"{f.value:.2f} ({f.low:.2f} to {f.high:.2f})") for name, f in parts),
    )
