"""Coupons as the pages show them: what a bench has learned before and after, and where each number comes from."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

from lagline.book.shelf import KIT
from lagline.cards import words
from lagline.cards.chart import Span, span_bars
from lagline.desk.coupon_desk import learned_from
from lagline.desk.job_desk import JobDesk
from lagline.planning.coupon_plan import CouponPlan, plan_coupon
from lagline.planning.kit_file import generic_kit, kit_from_text
from lagline.planning.learned import notes
from lagline.planning.pace_chart import PaceChart, compare_currents, pace_chart
from lagline.records.coupon import Belief, Coupon, CouponCut
from lagline.records.errors import LaglineError
from lagline.records.figure import Figure
from lagline.records.finding import Finding, sort_findings
from lagline.records.kit import Kit
from lagline.records.length import INCH_MM, show_length
from lagline.trade import coupon_model, coupon_predict
from lagline.trade.coupon_fit import as_belief, believe
from lagline.trade.set_aside import in_words, measurements, without_set_aside

IN = float(INCH_MM)
GRID = 24
_USUAL = {
    "in": (3.175, 6.35, 9.525, 12.7, 15.875, 19.05, 25.4),
    "mm": (3.0, 5.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 25.0),
}
Seen = Callable[[Coupon], bool]


def kits(desk: JobDesk) -> dict[str, Kit]:
    """Return the benches to choose from: the generic kit under an empty name, then each job's own kit by its slug."""
    out: dict[str, Kit] = {"": generic_kit()}
    for slug in desk.shelf.slugs():
        try:
            kit, _ = kit_from_text(desk.shelf.read(slug, KIT).text, KIT)
        except LaglineError:
            continue
        if kit.name not in {k.name for k in out.values()}:
            out[slug] = kit
    return out


@lru_cache(maxsize=16)
def _planned(kit: Kit, metal: str, thickness_mm: float, current_a: float, tip: str, belief: Belief, gouge: bool
             ) -> CouponPlan:  # fmt: skip
    return plan_coupon(kit, metal, thickness_mm, current_a, tip, belief, gouge)


def next_coupon(
    kit: Kit, coupons: tuple[Coupon, ...], tip: str, metal: str, thickness_mm: float, current_a: float, *, gouge: bool
) -> tuple[CouponPlan, tuple[float, float]]:
    """Return the next coupon to cut, and the kerf and cup radius now known [mm] that it is drawn with.

    A plan takes about a second; picture, print and form of one share it. Errors: LaglineError for an unknown tip.
    """
    belief, _ = believe(kit, tip, metal, counted_for(kit, coupons))
    made = _planned(kit, metal, thickness_mm, current_a, tip, belief, gouge)
    return made, kerf_and_cup(kit, belief, thickness_mm, current_a)


def kerf_and_cup(kit: Kit, belief: Belief, thickness_mm: float, current_a: float) -> tuple[float, float]:
    """Return kerf and cup radius as now known [mm]."""
    s = coupon_predict.sight(kit, belief)
    return coupon_predict.kerf(s, s.at(thickness_mm, current_a)).value, coupon_predict.cup(s).value


@dataclass(frozen=True, slots=True)
class LearnedRow:
    """One number: what was expected before any coupon, what is known now, and the coupons it was measured on."""

    key: str
    name: str
    before: Figure
    now: Figure
    coupons: tuple[str, ...]

    @property
    def share(self) -> float:
        """Width of the range now over before."""
        wide = _width(self.before)
        return _width(self.now) / wide if wide > 0 else 1.0


def _width(f: Figure) -> float:
    """Width of a range: as a factor for paces, which spread that way, else plain."""
    return math.log(f.high / f.low) if f.unit == "mm/s" and f.low > 0 else f.high - f.low


def _any_cut(read: Callable[[CouponCut], bool]) -> Seen:
    return lambda c: any(read(cut) for cut in c.cuts)


_PACED = _any_cut(lambda c: c.pace_mm_s is not None and (c.dross is not None or c.through is not None))
_KERF = _any_cut(lambda c: c.kerf_top_mm is not None or None not in (c.guide_near_mm, c.guide_far_mm))
_GUIDE = _any_cut(lambda c: c.guide_near_mm is not None or c.guide_far_mm is not None)
_GAPS = {
    "right": _any_cut(lambda c: c.gap_right_mm is not None),
    "left": _any_cut(lambda c: c.gap_left_mm is not None),
}


def counted_for(kit: Kit, coupons: tuple[Coupon, ...]) -> tuple[Coupon, ...]:
    """Return the coupons that count for a kit: its bench's or nobody's, without what was set aside."""
    mine = (without_set_aside(c) for c in coupons if c.bench in ("", kit.name))
    return tuple(c for c in mine if measurements(c))


def learned(
    kit: Kit, coupons: tuple[Coupon, ...], tip: str, metal: str, thickness_mm: float, current_a: float
) -> tuple[tuple[LearnedRow, ...], str, tuple[Finding, ...]]:
    """Return before and after for pace, kerf, cup, both offsets and both bevels; the one measurement that would
    tighten most; and what the coupons leave to ask.

    Errors: LaglineError for a tip the kit does not have.
    """
    counted = counted_for(kit, coupons)
    belief, found = believe(kit, tip, metal, counted)
    views = []
    for b in (as_belief(coupon_model.prior(kit, tip, metal), tip, metal), belief):
        s = coupon_predict.sight(kit, b)
        c = s.at(thickness_mm, current_a)
        slow, fast, _ = coupon_predict.edges(s, c)
        kept, drop = coupon_predict.offsets(s, c)
        right, left = coupon_predict.bevels(s)
        views.append((coupon_predict.mid_pace(s, c), slow, fast, coupon_predict.kerf(s, c), coupon_predict.cup(s),
                      kept, drop, right, left))  # fmt: skip
    used = [c for c in counted if c.id in belief.coupons]
    rows = [
        LearnedRow(key, name, before, now, tuple(c.id for c in used if seen(c)))
        for (key, name, seen), before, now in zip(_ROWS, *views, strict=True)
    ]
    told = (replace(f, where=in_words(f.where), message=in_words(f.message)) for f in found)
    s = coupon_predict.sight(kit, belief)
    _, ahead = notes("", s, s.at(thickness_mm, current_a))
    return tuple(rows), f"{ahead.message.rpartition(': ')[2]} ({ahead.allowed})", sort_findings(told)


_ROWS: tuple[tuple[str, str, Seen], ...] = (
    ("pace", "pace", _PACED),
    ("slow", "slow dross below", _PACED),
    ("fast", "fast dross above", _PACED),
    ("kerf", "kerf", _KERF),
    ("cup", "cup radius at guide height", _GUIDE),
    ("kept", "guide to line, guide on the kept part", _GUIDE),
    ("drop", "guide to line, guide on the drop", _GUIDE),
    ("right", "bevel right of travel", _GAPS["right"]),
    ("left", "bevel left of travel", _GAPS["left"]),
)


@dataclass(frozen=True, slots=True)
class ShownRow:
    """A row ready for a page."""

    name: str
    now: str
    now_range: str
    before: str
    before_range: str
    times: str
    svg: str
    coupons: tuple[str, ...]


def shown(rows: Iterable[LearnedRow], units: str) -> tuple[ShownRow, ...]:
    """Return the rows in shop words and with their bars."""
    out = []
    for r in rows:
        scale, unit, digits = _scale(r.now.unit, units)
        spans = [Span(f.value * scale, f.low * scale, f.high * scale) for f in (r.before, r.now)]
        taught = bool(r.coupons)
        out.append(
            ShownRow(
                r.name,
                _value(r.now, units),
                _range(spans[1], unit, digits),
                _value(r.before, units) if taught else "",
                _range(spans[0], unit, digits) if taught else "",
                f"{r.share:.0%}" if taught else "",
                span_bars(spans[0] if taught else None, spans[1], unit, r.name),
                r.coupons,
            )
        )
    return tuple(out)


def _scale(unit: str, units: str) -> tuple[float, str, int]:
    if unit == "mm/s":
        return (60 / IN, "in/min", 0) if units == "in" else (1.0, "mm/s", 1)
    if unit == "deg":
        return 1.0, "deg", 1
    return (1 / IN, "in", 3) if units == "in" else (1.0, "mm", 2)  # 1/64 is coarser than what is learned


def _range(s: Span, unit: str, digits: int) -> str:
    return f"{s.low:.{digits}f} to {s.high:.{digits}f} {unit}"


def _value(f: Figure, units: str) -> str:
    if f.unit == "mm/s":
        beat, rate = (words.beat if units == "in" else words.beat_mm)(f)
        return f"{beat}, {rate.split(' ')[0]} {'in/min' if units == 'in' else 'mm/s'}"
    if f.unit == "deg":
        return f"{f.value:.1f}°"
    if units == "in":
        return f"{f.value / IN:.3f} in ({f.value:.2f} mm)"
    return f"{f.value:.2f} mm"


@dataclass(frozen=True, slots=True)
class PaceView:
    """Pace against thickness ready for a page: the chart's data, the same in words, and currents compared."""

    chart: PaceChart
    table: tuple[tuple[str, ...], ...]
    effects: tuple[tuple[str, str, str], ...]
    currents: tuple[tuple[str, ...], ...]


def pace_view(
    kit: Kit, coupons: tuple[Coupon, ...], tip: str, metal: str, thickness_mm: float, current_a: float, units: str
) -> PaceView:
    """Return pace against thickness for a tip, metal and current [A], and the currents the set allows compared at a
    thickness. Errors: LaglineError for an unknown tip."""
    learned_, _ = learned_from(coupons, kit)
    near = tuple(c for c in counted_for(kit, coupons) if abs(c.current_a - current_a) <= 0.05 * current_a)
    share = current_a / kit.power.rated_current_a
    top = max(1.35 * kit.power.rated_thickness_mm.value * share, 8.0, *(1.1 * c.thickness_mm for c in near))
    grid = [1.5 * (top / 1.5) ** (n / (GRID - 1)) for n in range(GRID)]
    named = [t for t in _USUAL[units] if t <= top]
    drawn = pace_chart(kit, learned_, tip, metal, current_a, near, tuple(sorted({*grid, *named})))
    k, digits = (60 / IN, 0) if units == "in" else (1.0, 1)

    def said(*values: float) -> str:
        return " to ".join(f"{v * k:.{digits}f}" for v in values)

    table = tuple(
        (show_length(r.thickness_mm, units), said(r.mid.value), said(r.mid.low, r.mid.high),
         said(r.slow.value, r.fast.value), said(r.sever.value))
        for r in drawn.rows
        if r.thickness_mm in named
    )  # fmt: skip
    told = tuple((e.what, "" if e.factor is None else f"\N{MULTIPLICATION SIGN} {e.factor:.2f}", e.why)
                 for e in drawn.effects)  # fmt: skip
    least = math.ceil(kit.power.min_current_a / 5) * 5
    amps = {float(a) for a in range(least, int(kit.power.rated_current_a) + 1, 5)}
    amps |= {t.max_current_a for t in kit.torch.tips}
    currents = tuple(
        (f"{x.current_a:g} A", x.tip, said(x.mid.value), said(x.room_mm_s) if x.in_hand else "out of the hand's band")
        for x in compare_currents(kit, learned_, metal, thickness_mm, tuple(sorted(amps)))[:5]
    )
    return PaceView(drawn, table, told, currents)
