"""Pace against thickness for this bench, and which current leaves the hand most room between slow and fast dross."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.records.coupon import Belief, Coupon, Learned
from lagline.records.figure import Figure
from lagline.records.kit import Kit
from lagline.trade import coupon_model as m
from lagline.trade import coupon_predict as predict
from lagline.trade.coupon_fit import LIFE, as_belief
from lagline.trade.coupon_predict import Sight
from lagline.trade.lag import lag_angle_deg
from lagline.trade.pace import INCH_MM
from lagline.trade.set_aside import without_set_aside

THICKNESSES_MM = tuple(INCH_MM * n / 16 for n in (1, 2, 3, 4, 5, 6, 8, 10, 12, 16))
BEVELS_DEG = (15.0, 30.0, 45.0)


@dataclass(frozen=True, slots=True)
class ChartRow:
    """One thickness: middle of the clean window, its slow and fast edges, and where the cut is lost."""

    thickness_mm: float
    mid: Figure
    slow: Figure
    fast: Figure
    sever: Figure


@dataclass(frozen=True, slots=True)
class ChartPoint:
    """One cut of a coupon: ``seen`` is the dross's word, ``not through`` or empty."""

    coupon: str
    thickness_mm: float
    pace_mm_s: float
    current_a: float
    seen: str
    lag_deg: float | None


@dataclass(frozen=True, slots=True)
class Effect:
    """What something does to the pace: factor on mid pace, or None where only words can be said."""

    what: str
    factor: float | None
    why: str


@dataclass(frozen=True, slots=True)
class PaceChart:
    """Everything a chart of pace against thickness shows, for one tip, metal and current."""

    tip: str
    metal: str
    current_a: float
    hand_low_mm_s: float
    hand_high_mm_s: float
    rows: tuple[ChartRow, ...]
    points: tuple[ChartPoint, ...]
    effects: tuple[Effect, ...]
    source: str


@dataclass(frozen=True, slots=True)
class CurrentChoice:
    """One current: its window, and the part of the window that lies in the hand's band [mm/s, 0 for none]."""

    current_a: float
    tip: str
    mid: Figure
    slow: Figure
    fast: Figure
    room_mm_s: float
    in_hand: bool


def sight_of(kit: Kit, learned: Learned, tip: str, metal: str) -> Sight:
    """The belief of a tip on a metal ready for questions; what is believed without coupons when there are none."""
    belief: Belief = learned.of(tip, metal) or as_belief(m.prior(kit, tip, metal), tip, metal)
    return predict.sight(kit, belief)


def pace_chart(
    kit: Kit,
    learned: Learned,
    tip: str,
    metal: str,
    current_a: float,
    coupons: tuple[Coupon, ...] = (),
    thicknesses_mm: tuple[float, ...] = THICKNESSES_MM,
) -> PaceChart:
    """Make the chart's data for a tip, metal and current [A]; ``coupons`` are drawn as points.

    Refuses an unknown tip.
    """
    s = sight_of(kit, learned, tip, metal)
    rows = []
    for t in thicknesses_mm:
        c = s.at(t, current_a)
        rows.append(ChartRow(t, predict.mid_pace(s, c), *predict.edges(s, c)))
    middle = thicknesses_mm[len(thicknesses_mm) // 2]
    return PaceChart(
        tip,
        metal,
        current_a,
        kit.operator.pace_low_mm_s,
        kit.operator.pace_high_mm_s,
        tuple(rows),
        points(tuple(c for c in coupons if (c.tip, c.metal) == (tip, metal))),
        effects(s, middle, current_a),
        predict.source_of(s.belief),
    )


def points(coupons: tuple[Coupon, ...]) -> tuple[ChartPoint, ...]:
    """Every cut of the coupons that has a pace, with what was seen on it."""
    out = []
    for coupon in coupons:
        for cut in without_set_aside(coupon).cuts:
            v = cut.pace_mm_s if cut.seconds else None
            if v is None or not math.isfinite(v) or v <= 0:
                continue
            seen = "not through" if cut.through is False else str(cut.dross or "")
            lag = None if cut.lag_mm is None else lag_angle_deg(cut.lag_mm, coupon.thickness_mm)
            out.append(ChartPoint(coupon.id, coupon.thickness_mm, v, coupon.current_a, seen, lag))
    return tuple(out)


def _ratio(s: Sight, thickness_mm: float, other_mm: float, current_a: float, bevel_deg: float = 0.0) -> float:
    a, b = s.at(thickness_mm, current_a), s.at(other_mm, current_a, bevel_deg)
    return math.exp(float(m.ln_mid(s.mean, b)[0] - m.ln_mid(s.mean, a)[0]))


def chord_mm(outside_mm: float, wall_mm: float, off_centre_mm: float) -> float:
    """Length of metal a straight arc meets in a pipe wall, off its centre line: the near wall's chord. [mm]

    sqrt(R^2 - y^2) - sqrt(r^2 - y^2) inside the bore, sqrt(R^2 - y^2) doubled beyond it; 0 outside the pipe.
    """
    big, small = outside_mm / 2, outside_mm / 2 - wall_mm
    y = abs(off_centre_mm)
    if y >= big:
        return 0.0
    outer = math.sqrt(big**2 - y**2)
    return 2 * outer if y >= small else outer - math.sqrt(small**2 - y**2)


def effects(s: Sight, thickness_mm: float, current_a: float) -> tuple[Effect, ...]:
    """What bevel, pipe, coating and wear do to the pace on a plate [mm] at a current [A]."""
    out = [
        Effect(
            f"bevel {angle:g} deg",
            _ratio(s, thickness_mm, thickness_mm, current_a, angle),
            "a slanted cut is longer than the plate is thick",
        )
        for angle in BEVELS_DEG
    ]
    # a pipe of ten walls' outside, arc held upright half a radius off the centre line
    wall = chord_mm(10 * thickness_mm, thickness_mm, 2.5 * thickness_mm)
    out.append(
        Effect(
            "pipe, half a radius off the middle, torch not turned with it",
            _ratio(s, thickness_mm, wall, current_a),
            f"the arc meets {wall / thickness_mm:.2f} t of wall there; square to the wall it is t (geometry)",
        )
    )
    out.append(
        Effect(
            "tip at the end of its life",
            math.exp(-LIFE["kerf"]),
            "bore and kerf 10 % bigger, the same heat for more metal: a bore so much bigger is a worn out tip, common "
            "practice, no source",
        )
    )
    out.append(
        Effect(
            "paint, galvanising, mill scale",
            None,
            "no figure is known: clean a strip the cup's width, both sides; coatings smoke, and zinc fume is a hazard "
            "of its own; a coupon cut on the coated plate tells",
        )
    )
    return tuple(out)


def compare_currents(
    kit: Kit, learned: Learned, metal: str, thickness_mm: float, currents_a: tuple[float, ...], bevel_deg: float = 0.0
) -> tuple[CurrentChoice, ...]:
    """Compare currents for a plate, the one with most room first.

    Room is how much of the clean window, from slow to fast dross, lies in the band the hand holds [mm/s]; a current
    whose middle lies in the band comes before one whose middle does not. Each current goes with the smallest tip that
    carries it; currents no tip carries are left out.
    """
    tips = sorted(kit.torch.tips, key=lambda t: (t.max_current_a, t.name))
    low, high = kit.operator.pace_low_mm_s, kit.operator.pace_high_mm_s
    ready: dict[str, Sight] = {}
    out = []
    for amps in currents_a:
        tip = next((t for t in tips if t.max_current_a >= amps - 1e-9), None)
        if tip is None or amps > kit.power.rated_current_a + 1e-9:
            continue
        if tip.name not in ready:
            ready[tip.name] = sight_of(kit, learned, tip.name, metal)
        s = ready[tip.name]
        c = s.at(thickness_mm, amps, bevel_deg)
        slow, fast, _ = predict.edges(s, c)
        mid = predict.mid_pace(s, c)
        room = max(0.0, min(fast.value, high) - max(slow.value, low))
        out.append(CurrentChoice(amps, tip.name, mid, slow, fast, room, low <= mid.value <= high))
    return tuple(sorted(out, key=lambda x: (not x.in_hand, -x.room_mm_s, x.current_a)))
