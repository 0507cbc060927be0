"""Coupons as the pages show them: what a bench has learned before and after, and where each number comes from."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from lagline.book.shelf import KIT
from lagline.cards import words
from lagline.cards.chart import Span, span_bars
from lagline.desk.job_desk import JobDesk
from lagline.planning.kit_file import generic_kit, kit_from_text
from lagline.records.coupon import Coupon, CouponCut
from lagline.records.errors import LaglineError
from lagline.records.figure import Figure
from lagline.records.finding import Finding
from lagline.records.kit import Kit
from lagline.records.length import INCH_MM, show_length
from lagline.trade import coupon_model, coupon_predict
from lagline.trade.coupon_fit import as_belief, believe

IN = float(INCH_MM)
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
        wide = self.before.half_spread
        return self.now.half_spread / wide if wide > 0 else 1.0


def _any_cut(read: Callable[[CouponCut], bool]) -> Seen:
    return lambda c: any(read(cut) for cut in c.cuts)


_PACED = _any_cut(lambda c: c.pace_mm_s is not None and (c.dross is not None or c.through is not None))
_KERF = _any_cut(lambda c: c.kerf_top_mm is not None or None not in (c.guide_near_mm, c.guide_far_mm))
_GUIDE = _any_cut(lambda c: c.guide_near_mm is not None or c.guide_far_mm is not None)
_GAPS = {
    "right": _any_cut(lambda c: c.gap_right_mm is not None),
    "left": _any_cut(lambda c: c.gap_left_mm is not None),
}


def learned(
    kit: Kit, coupons: tuple[Coupon, ...], tip: str, metal: str, thickness_mm: float, current_a: float
) -> tuple[tuple[LearnedRow, ...], tuple[Finding, ...]]:
    """Return before and after for pace, kerf, cup, both offsets and both bevels, and what the coupons leave to ask.

    Errors: LaglineError for a tip the kit does not have.
    """
    belief, found = believe(kit, tip, metal, coupons)
    views = []
    for b in (as_belief(coupon_model.prior(kit, tip, metal), tip, metal), belief):
        s = coupon_predict.sight(kit, b)
        c = s.at(thickness_mm, current_a)
        slow, fast, _ = coupon_predict.edges(s, c)
        kept, drop = coupon_predict.offsets(s, c)
        right, left = coupon_predict.bevels(s)
        views.append((coupon_predict.mid_pace(s, c), slow, fast, coupon_predict.kerf(s, c), coupon_predict.cup(s),
                      kept, drop, right, left))  # fmt: skip
    used = [c for c in coupons if c.id in belief.coupons]
    rows = [
        LearnedRow(key, name, before, now, tuple(c.id for c in used if seen(c)))
        for (key, name, seen), before, now in zip(_ROWS, *views, strict=True)
    ]
    return tuple(rows), found


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
    return 1.0, "mm", 2  # a sixty-fourth is coarser than what is learned


def _range(s: Span, unit: str, digits: int) -> str:
    return f"{s.low:.{digits}f} to {s.high:.{digits}f} {unit}"


def _value(f: Figure, units: str) -> str:
    if f.unit == "mm/s":
        beat, rate = (words.beat if units == "in" else words.beat_mm)(f)
        return f"{beat}, {rate.split(' ')[0]} {'in/min' if units == 'in' else 'mm/s'}"
    if f.unit == "deg":
        return f"{f.value:.1f}°"
    if units == "in":
        return f"{show_length(f.value, 'in', words.GUIDE_DENOMINATOR, mark_over_mm=math.inf)} ({f.value:.2f} mm)"
    return f"{f.value:.2f} mm"
