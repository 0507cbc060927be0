"""What the job uses up in tips and electrodes."""

from __future__ import annotations

from lagline.records.figure import Basis, Figure, Spread
from lagline.trade.register import Limit, formula

PIERCE_STARTS = Spread(4.0, 2.0, 6.0, default=True)
ARC_H_PER_SET = Spread(2.0, 1.0, 3.0, default=True)
WORN_BORE = 0.1


@formula(
    "wear.tip-sets",
    text="sets = max((edge starts + p pierces)/starts per set, arc time/arc time per set), p = 4 (2 to 6)",
    gives="tip and electrode sets used [sets]",
    source="1 to 3 arc-hours or 150 to 600 starts a set, a pierce several starts: common practice, no source",
    limits=(Limit("starts_per_set", 150, 600, "starts", "the trade's spread"),),
)
def tip_sets(edge_starts: int, pierces: int, arc_s: float, starts_per_set: Spread) -> Figure:
    """Tip sets a job uses.

    Parameters: edge starts, pierces, arc time [s], starts a set lasts. Returns [sets], a wide spread: what several
    starts a pierce stands for is ours (2 to 6).
    """
    hours = arc_s / 3600

    def used(per_pierce: float, per_set: float, hours_per_set: float) -> float:
        return max((edge_starts + per_pierce * pierces) / per_set, hours / hours_per_set)

    p, h = PIERCE_STARTS, ARC_H_PER_SET
    return Figure(
        used(p.value, starts_per_set.value, h.value),
        used(p.low, starts_per_set.high, h.high),
        used(p.high, starts_per_set.low, h.low),
        "sets",
        "wear.tip-sets",
        Basis.DEFAULT if starts_per_set.default else Basis.KIT,
        "common practice, no source",
        (
            ("edge starts", f"{edge_starts}"),
            ("pierces", f"{pierces}"),
            ("arc time [min]", f"{arc_s / 60:.1f}"),
            ("starts per set", f"{starts_per_set.value:g}"),
        ),
    )


@formula(
    "wear.bore-limit",
    text="change when the bore is 10 % bigger",
    gives="bore at which to change the tip [mm]",
    source="common practice, no source",
    limits=(Limit("bore_mm", 0.6, 2.0, "mm"),),
)
def bore_limit(bore_mm: float) -> float:
    """Bore [mm] at which a tip is done, from its new bore [mm]; also when oval, chamfered or nicked. [mm]"""
    return (1 + WORN_BORE) * bore_mm


@formula(
    "wear.kerf-growth",
    text="growth = 0.1 k, by the share of the tip's life used, to its end at 1",
    gives="how much wider the kerf is than the tip cut it new [mm]",
    source="kerf goes with the bore, and a bore 10 % bigger is a worn out tip; in proportion between: common practice, "
    "no source",
    limits=(Limit("kerf_mm", 0.3, 6.0, "mm"), Limit("tip_used", 0, 1, "-", "then the tip is changed")),
)
def bore_growth(kerf_mm: float, tip_used: float) -> float:
    """How much a kerf [mm] has grown when a share of its tip's life is used [-]. [mm]"""
    return WORN_BORE * kerf_mm * min(max(tip_used, 0.0), 1.0)
