"""The charts of each tip on the bench, from its coupons: kerf, and the bevel of both faces."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import fmean

from lagline.records.coupon import Coupon
from lagline.records.finding import Finding, Severity
from lagline.trade.drift import BEVEL_SCATTER, KERF_SCATTER, LIMIT_SHARE, Chart, Reach, chart, reach
from lagline.trade.set_aside import without_set_aside

LIKE_CURRENT, LIKE_THICKNESS = 0.05, 0.10  # shares within which kerf and bevel are compared
CODES = ("tip-going", "tip-at-limit", "tip-limit-ahead")
BASE = 3  # coupons of a new tip that its limit is reckoned from


@dataclass(frozen=True, slots=True)
class TipDrift:
    """One life of one tip at like conditions. ``along`` is ``arc-min``, ``starts`` or ``coupons``; charts by quantity
    (``kerf [mm]``, ``bevel right [deg]``, ``bevel left [deg]``); ``limit_mm`` the kerf at which the tip is done and
    ``reach`` where along its life; ``coupons`` the ids in order."""

    tip: str
    metal: str
    thickness_mm: float
    current_a: float
    along: str
    coupons: tuple[str, ...]
    charts: tuple[tuple[str, Chart], ...]
    limit_mm: float | None
    reach: Reach | None

    @property
    def going(self) -> tuple[str, ...]:
        """Quantities whose chart has signalled."""
        return tuple(name for name, c in self.charts if c.signal is not None)


def kerf_of(coupon: Coupon) -> float | None:
    """Mean kerf at the top over the cuts of a coupon: measured, or from both guide distances. [mm]"""
    found = []
    for c in coupon.cuts:
        if c.kerf_top_mm is not None:
            found.append(c.kerf_top_mm)
        elif c.guide_near_mm is not None and c.guide_far_mm is not None:
            found.append(c.guide_far_mm - c.guide_near_mm)
    return fmean(found) if found else None


def bevel_of(coupon: Coupon, side: str) -> float | None:
    """Mean lean of the faces right or left of travel over the cuts of a coupon. [deg]"""
    gaps = [c.gap_right_mm if side == "right" else c.gap_left_mm for c in coupon.cuts]
    found = [math.degrees(math.atan2(g, coupon.thickness_mm)) for g in gaps if g is not None]
    return fmean(found) if found else None


def drifts(coupons: Iterable[Coupon]) -> tuple[TipDrift, ...]:
    """Return the charts of every tip, metal and like condition, the tip's present life only, in order of tip.

    Measurements set aside do not count. A count of starts or arc time lower than a day before begins a new life.
    """
    counted = [without_set_aside(c) for c in coupons]
    out = []
    for tip in sorted({c.tip for c in counted}):
        life = _present_life([c for c in counted if c.tip == tip])
        for group in _alike(life):
            out.append(_of_group(group))
    return tuple(out)


def drift_findings(found: Iterable[TipDrift]) -> tuple[Finding, ...]:
    """Return what the charts say: a caution for a tip that is going or at its limit, a note for one near it."""
    out = []
    for d in found:
        plate = f"{d.thickness_mm / 25.4:.3f} in ({d.thickness_mm:.3g} mm)"
        where = f"tip {d.tip}, {d.metal} {plate}, {d.current_a:g} A"
        for name in d.going:
            c = dict(d.charts)[name]
            first, last = c.points[0].value, c.points[-1].value
            what = name.partition(" [")[0]
            say = f"{what} has drifted from {_told(name, first)} to {_told(name, last)} over {len(c.points)} coupons"
            say += f": tip {d.tip} is going"
            out.append(
                Finding("tip-going", Severity.CAUTION, where, say, "look at bore and electrode; cut a new coupon")
            )
        if d.reach is not None and d.limit_mm is not None and len(d.coupons) >= BASE:
            now = dict(d.charts)["kerf [mm]"].points[-1].at
            if d.reach.value <= now and "kerf [mm]" in d.going:
                say = f"kerf is past {_told('kerf [mm]', d.limit_mm)}, a tenth wider than new"
                out.append(Finding("tip-at-limit", Severity.CAUTION, where, say, "change the tip"))
            elif d.reach.high is not None and d.reach.value > now:
                say = (
                    f"kerf reaches {_told('kerf [mm]', d.limit_mm)}, a tenth wider than new, at about "
                    f"{d.reach.value:.0f} {d.along} ({max(d.reach.low, now):.0f} to {d.reach.high:.0f}; now {now:.0f})"
                )
                out.append(Finding("tip-limit-ahead", Severity.NOTE, where, say, "have a new tip ready"))
    return tuple(out)


def _told(name: str, value: float) -> str:
    """A value of a chart in shop words: a kerf in decimals of an inch, as 1/64 is coarser than its drift."""
    return f"{value / 25.4:.3f} in ({value:.2f} mm)" if name.endswith("[mm]") else f"{value:.1f} degrees"


def tips_used(findings: Iterable[Finding], tips: Iterable[str]) -> tuple[Finding, ...]:
    """Return findings without what charts say of tips that are not used."""
    places = tuple(f"tip {name}, " for name in tips)
    return tuple(f for f in findings if f.code not in CODES or f.where.startswith(places))


def _present_life(coupons: Sequence[Coupon]) -> list[Coupon]:
    """Coupons since the count of starts or arc time last fell back, in order."""
    ordered = sorted(coupons, key=lambda c: (c.date, len(c.id), c.id))
    begin = 0
    for n, (a, b) in enumerate(itertools.pairwise(ordered), 1):
        fell_starts = a.starts is not None and b.starts is not None and b.starts < a.starts
        fell_arc = a.arc_min is not None and b.arc_min is not None and b.arc_min < a.arc_min
        if fell_starts or fell_arc:
            begin = n
    return ordered[begin:]


def _alike(coupons: Sequence[Coupon]) -> list[list[Coupon]]:
    """Groups at like metal, current and thickness, each compared with its first."""
    groups: list[list[Coupon]] = []
    for c in coupons:
        for g in groups:
            if (
                g[0].metal == c.metal
                and abs(g[0].current_a - c.current_a) <= LIKE_CURRENT * g[0].current_a
                and abs(g[0].thickness_mm - c.thickness_mm) <= LIKE_THICKNESS * g[0].thickness_mm
            ):
                g.append(c)
                break
        else:
            groups.append([c])
    return groups


def _of_group(group: Sequence[Coupon]) -> TipDrift:
    along, places = _places(group)
    kerf = [(x, k) for x, c in zip(places, group, strict=True) if (k := kerf_of(c)) is not None]
    charts = [("kerf [mm]", chart([x for x, _ in kerf], [k for _, k in kerf], KERF_SCATTER))]
    for side in ("right", "left"):
        lean = [(x, b) for x, c in zip(places, group, strict=True) if (b := bevel_of(c, side)) is not None]
        line = chart([x for x, _ in lean], [b for _, b in lean], BEVEL_SCATTER, both_ways=True)
        charts.append((f"bevel {side} [deg]", line))
    limit = LIMIT_SHARE * fmean(k for _, k in kerf[:BASE]) if kerf else None
    ahead = reach([x for x, _ in kerf], [k for _, k in kerf], KERF_SCATTER, limit) if limit else None
    first = group[0]
    ids = tuple(c.id for c in group)
    return TipDrift(
        first.tip, first.metal, first.thickness_mm, first.current_a, along, ids, tuple(charts), limit, ahead
    )


def _places(group: Sequence[Coupon]) -> tuple[str, list[float]]:
    """Places along the tip's life: arc time when every coupon has it, else starts, else the coupon's number."""
    minutes = [c.arc_min for c in group if c.arc_min is not None]
    if len(minutes) == len(group):
        return "arc-min", minutes
    starts = [float(c.starts) for c in group if c.starts is not None]
    if len(starts) == len(group):
        return "starts", starts
    return "coupons", [float(n) for n in range(1, len(group) + 1)]
