"""What the job uses up in tips and electrodes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from lagline.data import table
from lagline.records.figure import Basis, Figure, Spread
from lagline.trade.register import Limit, formula

PIERCE_STARTS = Spread(4.0, 2.0, 6.0, default=True)
ARC_H_PER_SET = Spread(2.0, 1.0, 3.0, default=True)
PILOT_S = Spread(1.0, 0.5, 2.0, default=True)  # of pilot in air, each start
PILOT_TIMES = Spread(3.0, 1.0, 6.0, default=True)  # as hard on a nozzle as so much arc in metal
OUTLASTS = Spread(1.5, 1.0, 2.5, default=True)  # nozzles an electrode outlasts by hand
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


@dataclass(frozen=True, slots=True)
class Use:
    """What has been asked of a tip: starts that were no pierce, pierces, and time with the arc on [s]."""

    edge_starts: int = 0
    pierces: int = 0
    arc_s: float = 0.0

    @property
    def starts(self) -> int:
        return self.edge_starts + self.pierces

    def plus(self, edge_starts: int, pierces: int, arc_s: float) -> Use:
        """Return it with more asked."""
        return Use(self.edge_starts + edge_starts, self.pierces + pierces, self.arc_s + arc_s)


def air_share(dryer: str) -> Spread:
    """Share of the usual life that tip and electrode last on air dried so [-]; 1 for a dryer not known."""
    row = next((r for r in table("air_wear").rows if r["dryer"] == dryer), None)
    if row is None:
        return Spread.exact(1.0)
    return Spread(float(row["share"]), float(row["low"]), float(row["high"]), default=True)


@formula(
    "wear.nozzles",
    text="nozzles = max((edge starts + p pierces)/(starts x air), (arc + f pilot)/(life x air)); p = 4 (2 to 6), life "
    "= 2 h (1 to 3), pilot = 1 s (0.5 to 2) a start and f = 3 (1 to 6), air by the dryer",
    gives="nozzles used [nozzles]",
    source="1 to 3 arc-hours or 150 to 600 starts, a pierce several starts, pilot in air is worst, by hand the nozzle "
    "goes first: common practice, no source; p, f and the pilot's length are ours",
    limits=(Limit("starts_per_set", 150, 600, "starts", "the trade's spread"),),
)
def nozzles(use: Use, starts_per_set: Spread, dryer: str = "") -> Figure:
    """Nozzles used up.

    Parameters: what was asked of them, starts a set lasts [starts], how the air is dried (an own count of starts was
    made on one's own air: then it says nothing more). Returns [nozzles], a wide spread.
    """
    return _used("wear.nozzles", use, starts_per_set, dryer, pilot_times=PILOT_TIMES, outlasts=Spread.exact(1.0))


@formula(
    "wear.electrodes",
    text="electrodes = max((edge starts + p pierces)/starts, (arc + pilot)/life)/(air x outlasts), outlasts = 1.5 "
    "nozzles (1 to 2.5)",
    gives="electrodes used [electrodes]",
    source="by hand the nozzle goes first, the electrode at a pit of 1.0 to 1.6 mm: common practice, no source; how "
    "much longer it lasts is ours",
    limits=(Limit("starts_per_set", 150, 600, "starts", "the trade's spread"),),
)
def electrodes(use: Use, starts_per_set: Spread, dryer: str = "") -> Figure:
    """Electrodes used up; as :func:`nozzles`, but pilot in air is no worse for them than arc. [electrodes]"""
    once = Spread.exact(1.0)
    return _used("wear.electrodes", use, starts_per_set, dryer, pilot_times=once, outlasts=OUTLASTS)


def _used(key: str, use: Use, per_set: Spread, dryer: str, *, pilot_times: Spread, outlasts: Spread) -> Figure:
    air = air_share(dryer) if per_set.default else Spread.exact(1.0)

    def at(more: Callable[[Spread], float], less: Callable[[Spread], float]) -> float:
        starts = (use.edge_starts + more(PIERCE_STARTS) * use.pierces) / less(per_set)
        seconds = use.arc_s + more(pilot_times) * more(PILOT_S) * use.starts
        return max(starts, seconds / (3600 * less(ARC_H_PER_SET))) / (less(air) * less(outlasts))

    return Figure(
        at(lambda s: s.value, lambda s: s.value),
        at(lambda s: s.low, lambda s: s.high),
        at(lambda s: s.high, lambda s: s.low),
        "nozzles" if key == "wear.nozzles" else "electrodes",
        key,
        Basis.DEFAULT if per_set.default else Basis.KIT,
        "common practice, no source",
        (
            ("edge starts", f"{use.edge_starts}"),
            ("pierces", f"{use.pierces}"),
            ("arc time [min]", f"{use.arc_s / 60:.1f}"),
            ("pilot in air [s]", f"{PILOT_S.value * use.starts:.0f}"),
            ("starts per set", f"{per_set.value:g}"),
            ("air", f"{dryer or 'not known'}: {air.value:g} of the usual life"),
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
