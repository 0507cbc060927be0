"""How thick a set cuts: clean from the edge, just severed, and pierced."""

from __future__ import annotations

from lagline.records.figure import Basis, Figure
from lagline.records.kit import PowerSet
from lagline.trade.pace import (
    RATED_PACE_HIGH_MM_S,
    RATED_PACE_LOW_MM_S,
    RATED_PACE_MM_S,
    Anchor,
    Share,
    combined,
    thickness_at_pace,
)
from lagline.trade.register import Limit, formula

SEVER_LOW, SEVER_HIGH = 1.25, 1.5
_I = Limit("current_a", 15, 130, "A", "hand torches on air")


@formula(
    "severance.edge-limit",
    text="thickness whose clean pace is 10 in/min at this current and metal",
    gives="thickest clean cut from the edge [mm]",
    source="inverse of pace.heat-balance; rated thickness at about 10 in/min: common practice, no source",
    limits=(_I,),
)
def edge_limit(power: PowerSet, rated_kerf_mm: float, metal: str, current_a: float, kerf: Figure) -> Figure:
    """Thickest clean cut from the edge at a current [A]. [mm]

    In mild steel at rated current it is the rated thickness. Spread from the rating's own spread and from what
    a rated pace means (8 to 12 in/min).
    """
    rated = power.rated_thickness_mm

    def at(t: float, v: float) -> float:
        return thickness_at_pace(Anchor(power, t, rated_kerf_mm, v), metal, RATED_PACE_MM_S, current_a, kerf.value)

    value = at(rated.value, RATED_PACE_MM_S)
    shares = (
        Share("rated thickness", *(at(t, RATED_PACE_MM_S) / value for t in (rated.low, rated.high))),
        Share("rated pace", *(at(rated.value, v) / value for v in (RATED_PACE_LOW_MM_S, RATED_PACE_HIGH_MM_S))),
    )
    low, high = combined(value, shares)
    return Figure(
        value,
        low,
        high,
        "mm",
        "severance.edge-limit",
        Basis.DEFAULT if rated.default else Basis.KIT,
        "the set's rated thickness in the kit file",
        (
            ("metal", metal),
            ("current [A]", f"{current_a:g}"),
            ("rated [mm at A]", f"{rated.value:g} at {power.rated_current_a:g}"),
        ),
    )


@formula(
    "severance.sever-limit",
    text="1.25 to 1.5 times the clean limit",
    gives="thickest rough cut from the edge [mm]",
    source="sever 25 to 50 % beyond rated, with clean-up: common practice, no source",
    limits=(Limit("edge_limit_mm", 1, 60, "mm"),),
)
def sever_limit(edge: Figure) -> Figure:
    """Thickest plate that can be severed, roughly and slowly, from the edge. [mm] The value is the careful end."""
    return Figure(
        edge.value * SEVER_LOW,
        edge.low * SEVER_LOW,
        edge.high * SEVER_HIGH,
        "mm",
        "severance.sever-limit",
        edge.basis,
        "common practice, no source",
        (("clean limit [mm]", f"{edge.value:.4g}"),),
    )


@formula(
    "severance.pierce-limit",
    text="share times the clean limit, share about 0.5 (0.4 to 0.75)",
    gives="thickest plate to pierce [mm]",
    source="about half the edge-cut thickness: common practice, no source; share from the kit file",
    limits=(Limit("pierce_share", 0.4, 0.75, "-", "the trade's spread"),),
)
def pierce_limit(power: PowerSet, edge: Figure) -> Figure:
    """Thickest plate that can be pierced at the current of the given edge limit. [mm]"""
    share = power.pierce_share
    return Figure(
        edge.value * share.value,
        edge.value * share.low,
        edge.value * share.high,
        "mm",
        "severance.pierce-limit",
        Basis.DEFAULT if share.default else Basis.KIT,
        "common practice, no source" if share.default else "pierce share in the kit file",
        (("clean limit [mm]", f"{edge.value:.4g}"), ("share", f"{share.value:g}")),
    )
