"""How fast the torch may travel: a heat balance at the cut front, anchored on the set's own rating."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.records.figure import Basis, Figure
from lagline.records.kit import PowerSet
from lagline.trade.heat import cylinder_loss, half_loss
from lagline.trade.metals import hot_diffusivity, property_of
from lagline.trade.register import Limit, formula

INCH_MM = 25.4
RATED_PACE_MM_S = 10 * INCH_MM / 60
RATED_PACE_LOW_MM_S = 8 * INCH_MM / 60
RATED_PACE_HIGH_MM_S = 12 * INCH_MM / 60
AMBIENT_C = 20.0
# Twice the rms log error that the balance leaves on the handbook's steel rows, each left out in turn (docs/pace.md).
BALANCE_LOG_SPREAD = 0.22
# Behind the arc lies an open slot. Where conduction takes most of the heat that is seen in the handbook rows: left out
# in turn they are met to 0.34 by the leading half's loss, 0.40 by the whole cylinder's; a second book agrees. Steel and
# stainless, cut at higher Pe, are no better for it (docs/coupon-model.md).
LEADING_HALF = ("aluminium",)
_SLOWEST_MM_S = 1e-9

_T = Limit("thickness_mm", 0.8, 50, "mm", "hand torches; thinner sheet warps, thicker was not compared")
_I = Limit("current_a", 15, 130, "A", "hand torches on air")
_K = Limit("kerf_mm", 0.8, 4, "mm", "hand torch tips")


@formula(
    "pace.load-voltage",
    text="U2 = 80 + 0.4 I2 to 300 A, then 200 V; gouging U2 = 100 + 0.4 I2, then 220 V",
    gives="conventional load voltage [V]",
    source="IEC 60974-1 (from memory)",
    limits=(Limit("current_a", 0, 1000, "A"),),
)
def load_voltage(current_a: float, gouging: bool = False) -> float:
    """Conventional load voltage of a plasma set at a current [A], cutting or gouging. [V]"""
    return (100.0 if gouging else 80.0) + 0.4 * min(current_a, 300.0)


def voltage_at(power: PowerSet, current_a: float) -> float:
    """Arc voltage at a current [A]: the kit's at rated current, moved along the conventional line's slope. [V]"""
    if power.load_voltage_v <= 0:
        return load_voltage(current_a)
    return max(1.0, power.load_voltage_v + load_voltage(current_a) - load_voltage(power.rated_current_a))


@formula(
    "pace.heat-needed",
    text="P/t = v k rho h_melt + loss(Pe) k_th (Tm - T0), Pe = v (k/2)/alpha",
    gives="heat the cut front takes per depth of cut [W/mm]",
    source="energy balance (derived) with heat.cylinder-loss; properties from table metals",
    limits=(_K, Limit("pace_mm_s", 0.5, 200, "mm/s")),
)
def heat_needed(metal: str, pace_mm_s: float, kerf_mm: float) -> float:
    """Heat needed at the cut front, per mm of depth.

    Molten slot plus what the plate draws away, in aluminium through the leading half of the front only.
    Parameters: metal, pace [mm/s], kerf [mm]. Returns [W/mm]. Rises with pace and kerf.
    """
    rho = property_of(metal, "density").value * 1e-9
    melt = property_of(metal, "melt_heat").value * 1e3
    conductivity = property_of(metal, "hot_conductivity").value * 1e-3
    rise = property_of(metal, "melt").value - AMBIENT_C
    pe = pace_mm_s * kerf_mm / 2 / (hot_diffusivity(metal) * 1e6)
    loss = half_loss(pe) if metal in LEADING_HALF else cylinder_loss(pe)
    return pace_mm_s * kerf_mm * rho * melt + loss * conductivity * rise


@formula(
    "pace.from-heat",
    text="the v that solves P/t = v k rho h_melt + loss(Pe) k_th (Tm - T0)",
    gives="pace [mm/s]",
    source="inverse of pace.heat-needed (derived)",
    limits=(_K, Limit("heat_w_mm", 20, 20000, "W/mm")),
)
def pace_from_heat(metal: str, heat_w_mm: float, kerf_mm: float) -> float:
    """Pace at which a heat per depth [W/mm] is just used up in a kerf [mm]. [mm/s]

    Solved in the logarithm between 1e-9 mm/s and the pace without any conduction; one root, and 1e-9 mm/s where
    the heat is too little for any pace.
    """
    from scipy.optimize import brentq

    rho, melt = property_of(metal, "density").value * 1e-9, property_of(metal, "melt_heat").value * 1e3
    fastest = heat_w_mm / (kerf_mm * rho * melt)
    if fastest <= _SLOWEST_MM_S or heat_needed(metal, _SLOWEST_MM_S, kerf_mm) >= heat_w_mm:
        return _SLOWEST_MM_S
    root = brentq(
        lambda x: heat_needed(metal, math.exp(x), kerf_mm) - heat_w_mm,
        math.log(_SLOWEST_MM_S),
        math.log(fastest),
        xtol=1e-9,
        rtol=1e-12,
    )
    return math.exp(root)


@dataclass(frozen=True, slots=True)
class Anchor:
    """What ties the balance to one set: its rating, the kerf at rated current, and the pace the rating means."""

    power: PowerSet
    rated_thickness_mm: float
    rated_kerf_mm: float
    rated_pace_mm_s: float = RATED_PACE_MM_S


@formula(
    "pace.efficiency",
    text="eta = t_rated (v k rho h_melt + loss k_th dT at 10 in/min, steel) / (V I)",
    gives="share of arc power that reaches the cut front [-]",
    source="rated thickness means a clean cut at about 10 in/min: common practice, no source; balance derived",
    limits=(Limit("rated_thickness_mm", 3, 60, "mm"), Limit("rated_current_a", 15, 130, "A")),
)
def efficiency(anchor: Anchor) -> float:
    """Effective share of V I that the set must deliver to cut its rated mild steel at 10 in/min. [-]

    It takes in everything the balance leaves out (arc below the plate, melt superheat, jet), so it stands in
    for no physical constant; 0.4 to 0.8 is usual.
    """
    need = heat_needed("steel", anchor.rated_pace_mm_s, anchor.rated_kerf_mm) * anchor.rated_thickness_mm
    p = anchor.power
    return need / (voltage_at(p, p.rated_current_a) * p.rated_current_a)


def front_power_w(anchor: Anchor, current_a: float) -> float:
    """Power at the cut front in mild steel at a current [A]. [W]"""
    return efficiency(anchor) * voltage_at(anchor.power, current_a) * current_a


def _own_pace(anchor: Anchor, metal: str, thickness_mm: float, current_a: float, kerf_mm: float) -> float:
    share = property_of(metal, "share_of_steel").value
    return pace_from_heat(metal, share * front_power_w(anchor, current_a) / thickness_mm, kerf_mm)


@formula(
    "pace.heat-balance",
    text="eta V I share/t = v k rho h_melt + loss(Pe) k_th dT; other metals held within the trade's ratio to steel",
    gives="pace of a clean cut [mm/s]",
    source="energy balance (derived), anchored at rated thickness; ratios of metals: common practice, no source",
    limits=(_T, _I, _K),
)
def pace_value(anchor: Anchor, metal: str, thickness_mm: float, current_a: float, kerf_mm: float) -> float:
    """Best value of the pace.

    Parameters: anchor, metal, true thickness [mm], current [A], kerf [mm]. Returns [mm/s]; falls with thickness
    and kerf, rises with current. Stainless and aluminium go by their own properties and their efficiency on the
    handbook rows, but no further from steel than the trade's ratio (table metals, pace_ratio).
    """
    steel = _own_pace(anchor, "steel", thickness_mm, current_a, kerf_mm)
    if metal == "steel":
        return steel
    own = _own_pace(anchor, metal, thickness_mm, current_a, kerf_mm)
    ratio = property_of(metal, "pace_ratio")
    return min(max(own, ratio.low * steel), ratio.high * steel)


@formula(
    "pace.thickness-at",
    text="t = eta V I share/(v k rho h_melt + loss(Pe) k_th dT), held within the trade's ratio to steel",
    gives="thickness cut at a given pace [mm]",
    source="inverse of pace.heat-balance in thickness (derived)",
    limits=(_I, _K, Limit("pace_mm_s", 0.5, 200, "mm/s")),
)
def thickness_at_pace(anchor: Anchor, metal: str, pace_mm_s: float, current_a: float, kerf_mm: float) -> float:
    """Thickness [mm] whose clean pace is the given one [mm/s] at a current [A] and kerf [mm]; exact inverse."""
    power = front_power_w(anchor, current_a)

    def like_steel(ratio: float) -> float:
        return power / heat_needed("steel", pace_mm_s / ratio, kerf_mm)

    if metal == "steel":
        return like_steel(1.0)
    own = property_of(metal, "share_of_steel").value * power / heat_needed(metal, pace_mm_s, kerf_mm)
    ratio = property_of(metal, "pace_ratio")
    return min(max(own, like_steel(ratio.low)), like_steel(ratio.high))


@dataclass(frozen=True, slots=True)
class Share:
    """One contribution to a spread, as factors on the value."""

    name: str
    low: float
    high: float


def combined(value: float, shares: tuple[Share, ...]) -> tuple[float, float]:
    """Low and high of a value whose contributions are independent factors: root sum of squared logarithms."""
    down = math.sqrt(math.fsum(min(0.0, math.log(s.low)) ** 2 for s in shares))
    up = math.sqrt(math.fsum(max(0.0, math.log(s.high)) ** 2 for s in shares))
    return value * math.exp(-down), value * math.exp(up)


def pace_shares(
    power: PowerSet, rated_kerf_mm: float, metal: str, thickness_mm: float, current_a: float, kerf: Figure
) -> tuple[float, tuple[Share, ...]]:
    """Best pace [mm/s] and what each uncertain input does to it, each moved alone to its ends."""
    rated = power.rated_thickness_mm
    base = Anchor(power, rated.value, rated_kerf_mm)

    def at(anchor: Anchor = base, kerf_mm: float = kerf.value) -> float:
        return pace_value(anchor, metal, thickness_mm, current_a, kerf_mm)

    value = at()
    shares = [
        Share(
            "what rated pace means, 8 to 12 in/min",
            *(
                at(Anchor(power, rated.value, rated_kerf_mm, v)) / value
                for v in (RATED_PACE_LOW_MM_S, RATED_PACE_HIGH_MM_S)
            ),
        ),
        Share("rated thickness", *(at(Anchor(power, t, rated_kerf_mm)) / value for t in (rated.low, rated.high))),
        Share("kerf", at(kerf_mm=kerf.high) / value, at(kerf_mm=kerf.low) / value),
        Share("balance against handbook rows", math.exp(-BALANCE_LOG_SPREAD), math.exp(BALANCE_LOG_SPREAD)),
    ]
    if metal != "steel":
        steel = _own_pace(base, "steel", thickness_mm, current_a, kerf.value)
        own = _own_pace(base, metal, thickness_mm, current_a, kerf.value)
        ratio = property_of(metal, "pace_ratio")
        low, high = min(own, ratio.low * steel), max(own, ratio.high * steel)
        shares.append(Share(f"{metal} against steel", low / value, high / value))
    return value, tuple(shares)


def pace_figure(
    power: PowerSet, rated_kerf_mm: float, metal: str, thickness_mm: float, current_a: float, kerf: Figure
) -> Figure:
    """Pace of a clean cut as a figure [mm/s], each contribution to the spread named in its inputs."""
    value, shares = pace_shares(power, rated_kerf_mm, metal, thickness_mm, current_a, kerf)
    low, high = combined(value, shares)
    eta = efficiency(Anchor(power, power.rated_thickness_mm.value, rated_kerf_mm))
    return Figure(
        value,
        low,
        high,
        "mm/s",
        "pace.heat-balance",
        Basis.DEFAULT,
        "energy balance anchored on the set's rated thickness at 10 in/min; anchor is common practice, no source",
        (
            ("metal", metal),
            ("true thickness [mm]", f"{thickness_mm:.4g}"),
            ("current [A]", f"{current_a:g}"),
            ("arc voltage [V]", f"{voltage_at(power, current_a):.4g}"),
            ("kerf [mm]", f"{kerf.value:.3g}"),
            ("effective share of arc power", f"{eta:.3f}"),
            *((f"spread from {s.name}", f"{100 * (s.low - 1):+.0f} % {100 * (s.high - 1):+.0f} %") for s in shares),
        ),
    )


@formula(
    "pace.held",
    text="held pace = min(clean pace, fastest the hand follows)",
    gives="pace to hold [mm/s]",
    source="operator's band in the kit file; 15 to 40 in/min usual: common practice, no source",
    limits=(Limit("pace_mm_s", 15 * INCH_MM / 60, 60 * INCH_MM / 60, "mm/s", "the usual hand's band with a guide"),),
)
def held(pace: Figure, slowest_mm_s: float, fastest_mm_s: float) -> Figure:
    """The pace to hold: the clean pace, or the fastest the hand can follow when the arc would go faster. [mm/s]

    Parameters: clean pace, ends of the hand's band [mm/s]. A held pace spreads over the hand's own band.
    What the arc could carry is kept in the inputs.
    """
    if pace.value <= fastest_mm_s:
        return pace
    return Figure(
        fastest_mm_s,
        min(pace.low, slowest_mm_s, fastest_mm_s),
        fastest_mm_s,
        "mm/s",
        "pace.held",
        Basis.KIT,
        "operator's band in the kit file",
        (("the arc could carry [mm/s]", f"{pace.value:.3g} ({pace.low:.3g} to {pace.high:.3g})"), *pace.inputs),
    )


@formula(
    "pace.beat",
    text="beat = 25.4/v",
    gives="seconds per inch [s]",
    source="unit conversion (derived): 3 s/in is 20 in/min, 2 s/in is 30, 1 s/in is 60",
    limits=(Limit("pace_mm_s", 1, 50, "mm/s"),),
)
def beat_s(pace_mm_s: float) -> float:
    """Seconds per inch at a pace [mm/s]. [s]"""
    return INCH_MM / pace_mm_s
