"""What coupons say as charts: a tip's drift along its life, pace against thickness."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from statistics import fmean

from lagline.cards.chart import Axis, Band, Curve, Dot, axis, chart
from lagline.planning.pace_chart import ChartRow, PaceChart
from lagline.records.length import show_length
from lagline.trade.drift import BOTH_WAYS, UP_ONLY, Chart
from lagline.trade.tip_drift import TipDrift

_ALONG = {"arc-min": "arc minutes of the tip", "starts": "starts of the tip", "coupons": "coupons of the tip"}


@dataclass(frozen=True, slots=True)
class DriftPicture:
    """One quantity of a tip: its values along the life, the sum that is watched, and a plain sentence."""

    name: str
    values: str
    sums: str
    said: str
    going: bool


def drift_pictures(d: TipDrift) -> tuple[DriftPicture, ...]:
    """Return the charts of one tip; quantities with no coupon are left out."""
    return tuple(_picture(d, name, c) for name, c in d.charts if c.points)


def _along(d: TipDrift, c: Chart) -> Axis:
    return axis([p.at for p in c.points] + ([c.points[0].at + 1] if len(c.points) == 1 else []), _ALONG[d.along],
                least=0.0, most=5)  # fmt: skip


def _picture(d: TipDrift, name: str, c: Chart) -> DriftPicture:
    what, _, unit = name.partition(" [")
    unit = unit.rstrip("]")
    x = _along(d, c)
    values = [p.value for p in c.points]
    limit = d.limit_mm if name.startswith("kerf") else None
    y = axis([*values, *([limit] if limit else [])], f"{what}, {unit}", most=5)
    first = fmean(values[:3])
    curves = [Curve("its first three" if len(values) >= 3 else "so far", ((x.low, first), (x.high, first)), "edge")]
    if limit:
        curves.append(Curve("tip is done", ((x.low, limit), (x.high, limit)), "limit"))
    curves.append(Curve("", tuple((p.at, p.value) for p in c.points), "best"))
    dots = [
        Dot(p.at, p.value, f"{i}: {p.value:.2f} {unit} at {p.at:g}", odd=n == c.signal)
        for n, (p, i) in enumerate(zip(c.points, _ids(d, c), strict=True))
    ]
    told = f"{what} of tip {d.tip} over {len(values)} coupons, {min(values):.2f} to {max(values):.2f} {unit}"
    shown = chart(x, y, title=f"{what} of tip {d.tip}", desc=told, curves=curves, dots=dots, tall=280.0)
    return DriftPicture(name, shown, _sums(c, x, what), said(name, c), c.signal is not None)


def _ids(d: TipDrift, c: Chart) -> tuple[str, ...]:
    """Return the coupons of the points; a quantity not measured on every coupon has no ids to name."""
    return d.coupons if len(d.coupons) == len(c.points) else tuple(f"point {n}" for n in range(1, len(c.points) + 1))


def _sums(c: Chart, x: Axis, what: str) -> str:
    decision = BOTH_WAYS if c.both_ways else UP_ONLY
    top = max(decision, *(max(p.up, p.down) for p in c.points)) * 1.15
    y = Axis(0.0, top, tuple((float(v), str(v)) for v in range(0, int(top) + 1, 2 if top > 5 else 1)), "signs of wear")
    curves = [Curve("limit", ((x.low, decision), (x.high, decision)), "limit"),
              Curve("growing", tuple((p.at, p.up) for p in c.points), "best")]  # fmt: skip
    if c.both_ways:
        curves.append(Curve("shrinking", tuple((p.at, p.down) for p in c.points), "far"))
    told = f"Signs of wear stand at {c.sum:.1f}; the tip is called going at {decision:g}."
    return chart(x, y, title=f"Signs that {what} drifts", desc=told, curves=curves, tall=220.0)


def said(name: str, c: Chart) -> str:
    """Return in one plain sentence what a chart says."""
    what, _, unit = name.partition(" [")
    unit = unit.rstrip("]")
    n = len(c.points)
    if n == 1:
        return f"One coupon: {what} {_value(c.points[0].value, unit)}. A drift shows from the second on."
    first, last = c.points[0].value, c.points[-1].value
    if c.signal is not None:
        return (
            f"{what} went from {_value(first, unit)} to {_value(last, unit)} over {n} coupons, more than chance: "
            "the tip is going."
        )
    limit = BOTH_WAYS if c.both_ways else UP_ONLY
    return (
        f"{what} went from {_value(first, unit)} to {_value(last, unit)} over {n} coupons; that can be chance "
        f"(signs of wear {c.sum:.1f}; going at {limit:g})."
    )


def _value(value: float, unit: str) -> str:
    """A value in shop words: a kerf in decimals of an inch too, as a 1/64 is coarser than its drift."""
    return f"{value / 25.4:.3f} in ({value:.2f} mm)" if unit == "mm" else f"{value:.2f} {unit}"


_INCH_TICKS = (3.175, 6.35, 9.525, 12.7, 15.875, 19.05, 25.4, 31.75, 38.1)
_MM_TICKS = (2.0, 4.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 25.0, 30.0, 40.0)
_MARKS = {"slow": "s", "fast": "f", "not through": "x"}


def pace_picture(c: PaceChart, units: str) -> str:
    """Return pace against thickness: the hand's band, the clean window's edges and severance, coupons as points."""
    k = 60 / 25.4 if units == "in" else 1.0
    low, high = c.rows[0].thickness_mm, c.rows[-1].thickness_mm
    ticks = tuple(
        (t, show_length(t, "in", 16).rstrip('"') if units == "in" else f"{t:g}")
        for t in (_INCH_TICKS if units == "in" else _MM_TICKS)
        if low <= t <= high
    )
    x = Axis(low, high, ticks, "thickness, in" if units == "in" else "thickness, mm")
    top = max(1.5 * c.hand_high_mm_s, *(1.15 * p.pace_mm_s for p in c.points), c.rows[-1].sever.value * 1.1) * k
    step = 10 if units == "in" else 5
    step = step if top <= 8 * step else 2 * step
    y = Axis(0.0, top, tuple((float(v), str(v)) for v in range(0, int(top) + 1, step)),
             "pace, in/min" if units == "in" else "pace, mm/s")  # fmt: skip

    def line(of: Callable[[ChartRow], float]) -> tuple[tuple[float, float], ...]:
        return tuple((r.thickness_mm, of(r) * k) for r in c.rows)

    held = [((low, v * k), (high, v * k)) for v in (c.hand_low_mm_s, c.hand_high_mm_s)]
    bands = [Band("your hand holds this", held[0], held[1]),
             Band("", line(lambda r: r.mid.low), line(lambda r: r.mid.high), spread=True)]  # fmt: skip
    curves = [
        Curve("not through above", line(lambda r: r.sever.value), "limit"),
        Curve("fast dross above", line(lambda r: r.fast.value), "far"),
        Curve("best", line(lambda r: r.mid.value), "best"),
        Curve("slow dross below", line(lambda r: r.slow.value), "edge"),
    ]
    dots = [Dot(p.thickness_mm, p.pace_mm_s * k, f"{p.coupon}: {p.pace_mm_s * k:.0f}, {p.seen or 'not noted'}",
                mark=_MARKS.get(p.seen, "")) for p in c.points]  # fmt: skip
    told = "Pace against thickness; the table below holds the same numbers."
    title = f"Tip {c.tip}, {c.metal}, {c.current_a:g} A"
    return chart(x, y, title=title, desc=told, bands=bands, curves=curves, dots=dots, tall=400.0)
