"""What the job costs, always as a range."""

from __future__ import annotations

import math
from dataclasses import replace

from lagline.records.figure import Basis, Figure, Spread
from lagline.trade.register import Limit, formula

SET_EFFICIENCY = Spread(0.85, 0.75, 0.9, default=True)
OFFCUT_SHARE = 0.5  # of new metal's price that metal in an offcut stands for: ours, half way between plate and scrap


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


@formula(
    "cost.tip-parts",
    text="cost = pieces x price of a set x share of the piece",
    gives="nozzles or electrodes [money]",
    source="price from the kit file; nozzle and electrode share a set's price about evenly: common practice, no source",
)
def tip_parts(pieces: Figure, per_set: float, share: Spread, currency: str) -> Figure:
    """Nozzles or electrodes used, at their share of a set's price."""
    return Figure(
        pieces.value * per_set * share.value,
        pieces.low * per_set * share.low,
        pieces.high * per_set * share.high,
        currency,
        "cost.tip-parts",
        pieces.basis,
        "wear and the price of a set in the kit file",
        (
            (pieces.unit, f"{pieces.value:.2f} ({pieces.low:.2f} to {pieces.high:.2f})"),
            ("price per set", f"{per_set:g}"),
            ("share of the set", f"{share.value:.0%}"),
        ),
    )


@formula(
    "cost.discs",
    text="cost = edge ground / edge a disc grinds x price",
    gives="grinding discs [money]",
    source="20 ft of edge a disc (10 to 50): common practice, no source; price from the kit file",
)
def discs(edge_mm: float, disc_mm: Spread, per_disc: float, currency: str) -> Figure:
    """Discs for an edge to be ground [mm], what one grinds [mm], its price."""
    return Figure(
        edge_mm / disc_mm.value * per_disc,
        edge_mm / disc_mm.high * per_disc,
        edge_mm / disc_mm.low * per_disc,
        currency,
        "cost.discs",
        _basis(disc_mm),
        "common practice, no source" if disc_mm.default else "kit file, quote",
        (("edge [m]", f"{edge_mm / 1000:.1f}"), ("a disc grinds [m]", f"{disc_mm.value / 1000:.1f}")),
    )


@formula(
    "cost.air",
    text="energy = air used x kWh for a cubic metre; cost = energy x price",
    gives="compressed air [money]",
    source="about 4 cfm to the horsepower and the motor's loss: common practice, no source",
)
def air(flow_s: float, use_l_min: Spread, kwh_m3: Spread, per_kwh: float, currency: str) -> Figure:
    """Power of the compressor for a time of flow [s], free air used [L/min], energy [kWh/m3], price per kWh."""

    def of(use: float, energy: float) -> float:
        return flow_s / 60 * use / 1000 * energy * per_kwh

    return Figure(
        of(use_l_min.value, kwh_m3.value),
        of(use_l_min.low, kwh_m3.low),
        of(use_l_min.high, kwh_m3.high),
        currency,
        "cost.air",
        _basis(kwh_m3),
        "common practice, no source" if kwh_m3.default else "kit file, quote",
        (
            ("free air [m3]", f"{flow_s / 60 * use_l_min.value / 1000:.1f}"),
            ("kWh per m3", f"{kwh_m3.value:g}"),
            ("price per kWh", f"{per_kwh:g}"),
        ),
    )


@formula(
    "cost.bits",
    text="cost = holes x bits for one",
    gives="drill bits [money]",
    source="common practice, no source",
)
def bits(holes: int, per_hole: Spread, currency: str) -> Figure:
    """Drill bits for a number of holes."""
    return Figure(
        holes * per_hole.value,
        holes * per_hole.low,
        holes * per_hole.high,
        currency,
        "cost.bits",
        _basis(per_hole),
        "common practice, no source" if per_hole.default else "kit file, quote",
        (("holes drilled", f"{holes}"),),
    )


@formula(
    "cost.plate",
    text="charge = worth - kept x min(0.5 price, worth/plate); least: what is left is all worth what it cost; most: "
    "none of it is worth anything",
    gives="metal charged to the job: the plate less the offcut kept [money]",
    source="price from the kit file; an offcut stands for half of new metal: ours, half way between plate and scrap",
)
def plate(
    worth: float, worth_most: float, plate_kg: float, left_kg: float, kept_kg: float, per_kg: float, currency: str
) -> Figure:
    """Metal charged for one plate.

    Parameters: what the plate is worth and the most it may be [money], its mass, the mass left of it and of the offcut
    that is kept [kg], price of new metal per kg. Returns [money].
    """
    each = worth / plate_kg
    value = worth - kept_kg * min(OFFCUT_SHARE * per_kg, each)
    return Figure(
        value,
        min(value, max(0.0, worth - left_kg * each)),
        max(worth, worth_most),
        currency,
        "cost.plate",
        Basis.KIT,
        "price in the kit file or on the rack; offcuts at half: ours",
        (
            ("plate [kg]", f"{plate_kg:.1f}"),
            ("left [kg]", f"{left_kg:.1f}"),
            ("offcut kept [kg]", f"{kept_kg:.1f}"),
            ("price per kg", f"{per_kg:g}"),
        ),
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


@formula(
    "cost.overhead",
    text="overhead = cost x share",
    gives="overhead [money]",
    source="share from the kit file or the quote",
)
def overhead(cost: Figure, share: float) -> Figure:
    """Overhead on what a job costs, a share of it (0 and up)."""
    return _scaled(cost, share, "cost.overhead")


@formula(
    "cost.margin",
    text="margin = (cost + overhead) share/(1 - share), a share of the price",
    gives="margin [money]",
    source="share from the kit file or the quote",
    limits=(Limit("margin", 0, 0.9, "-"),),
)
def margin(with_overhead: Figure, share: float) -> Figure:
    """Margin as a share of the price (0 to 0.9), on cost and overhead together. ValueError from 1 up."""
    if not 0 <= share < 1:
        raise ValueError(f"margin must be 0 to below 1 of the price, got {share}")
    return _scaled(with_overhead, share / (1 - share), "cost.margin")


@formula(
    "cost.price",
    text="price = cost + overhead + margin, low with low and high with high",
    gives="price of the job [money]",
    source="sum (derived)",
)
def price(cost: Figure, over: Figure, on_top: Figure) -> Figure:
    """Price from cost, overhead and margin [money]."""
    named = (("cost", cost), ("overhead", over), ("margin", on_top))
    return replace(total(named, cost.unit), formula="cost.price", source="cost, overhead and margin")


def _scaled(f: Figure, by: float, key: str) -> Figure:
    of = (("of", f"{f.value:.2f}"), ("times", f"{by:.4g}"))
    return Figure(f.value * by, f.low * by, f.high * by, f.unit, key, Basis.KIT, "kit file or quote", of)
