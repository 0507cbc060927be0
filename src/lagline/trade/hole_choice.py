"""How a hole is best made: cut by hand, drilled, cut under and brought to size, or asked about first."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from lagline.records.figure import Basis, Figure
from lagline.trade.holes import minimum_hole, must_drill
from lagline.trade.register import Limit, formula

COMMON = "common practice, no source"
INCH_MM = 25.4
UNDER_MM = (INCH_MM / 16, 3 * INCH_MM / 32, INCH_MM / 8)
REAM_MM = INCH_MM / 64  # left for the reamer; common practice, no source
RULE = "AISC M2.5 and RCSC 3.3, from memory"


class Way(StrEnum):
    """How a hole is made."""

    CUT = "cut it by hand"
    DRILL = "drill it"
    REAM = "cut it under, then drill or ream"
    ASK = "ask the engineer"


def _tenths(mm: float) -> str:
    return f"{mm:.1f} mm"


@dataclass(frozen=True, slots=True)
class HoleAsked:
    """A hole and what there is to make it with; lengths mm.

    ``use`` is ``clearance``, ``bolt``, ``fit`` or ``tapped``; ``structural`` says that a code of steelwork holds.
    ``tolerance_mm`` is the plus or minus asked for on the diameter, None for none; ``plus_minus_mm`` and ``taper_mm``
    what a cut hole keeps; ``cuts`` whether the set gets through; ``drill_max_mm`` the largest drill; ``show``
    says a length [mm] as the shop reads it.
    """

    diameter_mm: float
    thickness_mm: float
    use: str
    structural: bool
    tolerance_mm: float | None
    plus_minus_mm: float
    taper_mm: float
    cuts: bool
    drill_max_mm: float
    show: Callable[[float], str] = _tenths


@dataclass(frozen=True, slots=True)
class Verdict:
    """The way to take, why, and every way with whether it goes and why; ``stuck`` when none is open here."""

    way: Way
    why: str
    ways: tuple[tuple[Way, bool, str], ...]
    stuck: bool = False


@formula(
    "holes.under",
    text="cut diameter = D - 3/32 in (1/16 to 1/8)",
    gives="diameter to cut a hole that is brought to size afterwards [mm]",
    source=COMMON,
    limits=(Limit("diameter_mm", 6.0, 500.0, "mm"),),
)
def cut_under(diameter_mm: float) -> Figure:
    """Diameter to cut by hand where a drill or reamer brings the hole to size [mm]; the hard rim goes with it. [mm]"""
    less, mid, more = UNDER_MM
    return Figure(
        diameter_mm - mid,
        diameter_mm - more,
        diameter_mm - less,
        "mm",
        "holes.under",
        Basis.DEFAULT,
        COMMON,
        (("finished diameter [mm]", f"{diameter_mm:.2f}"),),
    )


@formula(
    "holes.tap-drill",
    text="d = D - p",
    gives="drill for a tapped hole [mm]",
    source="leaves about 77 % of a full thread: common practice, no source",
    limits=(Limit("diameter_mm", 2.0, 100.0, "mm"),),
)
def tap_drill(diameter_mm: float, pitch_mm: float) -> float:
    """Drill for a thread from its outside diameter and its pitch [mm]. [mm]

    Check: M10 x 1.5: 8.5 mm; 1/2 in of 13 to the inch: 10.75 mm, the shop's 27/64 in.
    ValueError unless the pitch is smaller than the diameter.
    """
    if not 0 < pitch_mm < diameter_mm:
        raise ValueError(f"a pitch of {pitch_mm} does not go with a thread of {diameter_mm} mm")
    return diameter_mm - pitch_mm


@formula(
    "holes.drill-steps",
    text="pilot about D/5 and 1/8 in or more, then about 0.6 D over 1/2 in, then D",
    gives="drills in order for one hole [mm]",
    source=COMMON,
    limits=(Limit("diameter_mm", 1.0, 100.0, "mm"),),
)
def drill_steps(diameter_mm: float) -> tuple[float, ...]:
    """Drills in order up to a diameter [mm], those before the last to whole sixteenths of an inch. [mm]"""
    sixteenth = INCH_MM / 16
    pilot = max(2, math.ceil(diameter_mm / 5 / sixteenth - 1e-9)) * sixteenth
    steps = [pilot] if pilot < 0.8 * diameter_mm else []
    if diameter_mm > INCH_MM / 2 + 1e-9:
        middle = round(0.6 * diameter_mm / sixteenth) * sixteenth
        steps += [middle] if middle > pilot else []
    return (*steps, diameter_mm)


def _cut(h: HoleAsked) -> tuple[bool, str]:
    least = minimum_hole(h.thickness_mm)
    if must_drill(h.diameter_mm, h.thickness_mm):
        return False, f"under {h.show(least.value)}, the least to cut by hand in this plate"
    if not h.cuts:
        return False, "the set does not get through"
    if h.use == "tapped":
        return False, "the rim may be hard and breaks taps"
    if h.use == "fit":
        return False, "a cut hole tapers and keeps no fit"
    if h.use == "bolt":
        return False, f"a hand-cut hole is no bolt hole unless the engineer says so ({RULE})"
    off = h.plus_minus_mm + h.taper_mm / 2
    if h.tolerance_mm is not None and off > h.tolerance_mm:
        return False, f"it comes out within {h.show(off)} either way, {h.show(h.tolerance_mm)} is asked for"
    return True, "a clearance or access hole, large enough for the plate"


def _drill(h: HoleAsked) -> tuple[bool, str]:
    if h.diameter_mm > h.drill_max_mm:
        return False, f"over the kit's largest drill, {h.show(h.drill_max_mm)}"
    return True, "round, straight and to size"


def _ream(h: HoleAsked) -> tuple[bool, str]:
    under = cut_under(h.diameter_mm).value
    if under <= 0 or must_drill(under, h.thickness_mm):
        return False, "cut under it would be smaller than a hand can cut in this plate"
    if not h.cuts:
        return False, "the set does not get through"
    if h.structural and h.use == "bolt":
        return True, "the cut rim goes; have it agreed"
    return True, "the cut rim and its taper go"


@formula(
    "holes.choice",
    text="clearance: cut if D >= 1.75 t, 1/2 in and within tolerance, else drill, else under and ream; bolt, tapped: "
    "drill, else under; fit: under and ream, else drill; structural bolt hole that no drill makes: ask",
    gives="how a hole is best made",
    source="common practice, no source; bolt holes: AISC M2.5, RCSC 3.3 (from memory)",
    limits=(Limit("thickness_mm", 0.8, 50.0, "mm"), Limit("diameter_mm", 1.0, 2000.0, "mm")),
)
def choose(h: HoleAsked) -> Verdict:
    """Choose how a hole is best made, with every way's reason."""
    open_ways = {Way.CUT: _cut(h), Way.DRILL: _drill(h), Way.REAM: _ream(h)}
    bolt = h.structural and h.use == "bolt"
    open_ways[Way.ASK] = (bolt, f"to leave it as cut wants the engineer's approval ({RULE})") if bolt else (
        False, "nothing to ask: the ways above do it"
    )  # fmt: skip
    order = {
        "clearance": (Way.CUT, Way.DRILL, Way.REAM),
        "bolt": (Way.DRILL, Way.ASK) if bolt else (Way.DRILL, Way.REAM),
        "fit": (Way.REAM, Way.DRILL),
        "tapped": (Way.DRILL, Way.REAM),
    }[h.use]
    ways = tuple((w, *open_ways[w]) for w in Way)
    for way in order:
        if open_ways[way][0]:
            return Verdict(way, open_ways[way][1], ways)
    return Verdict(Way.ASK, "no way here makes it: another shop, a hole saw or a larger drill", ways, stuck=True)
