"""How wide the cut is: as typed in the kit when it says so, otherwise from the bore with an honest spread."""

from __future__ import annotations

import itertools

from lagline.data import table
from lagline.records.figure import Basis, Figure
from lagline.records.kit import Tip
from lagline.trade.register import Limit, formula

BORES = 1.5
BORE_SPREAD = 0.15
_ON = "for whatever it was measured on"


def _interpolate(xs: list[float], ys: list[float], x: float) -> float:
    if x <= xs[0]:
        return ys[0]
    for (x0, y0), (x1, y1) in itertools.pairwise(zip(xs, ys, strict=True)):
        if x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return ys[-1]


@formula(
    "kerf.by-current",
    text="kerf low and high from the table, interpolated",
    gives="usual kerf band at a current [mm, mm]",
    source="table kerf_by_current: common practice, no source",
    limits=(Limit("current_a", 20, 105, "A", "the table's ends; held outside"),),
)
def band_by_current(current_a: float) -> tuple[float, float]:
    """Usual kerf band of a hand torch at a current [A]. Returns low and high [mm]; held at the table's ends."""
    rows = table("kerf_by_current").rows
    at = [float(r["current_a"]) for r in rows]
    low, high = ([float(r[c]) for r in rows] for c in ("kerf_low_mm", "kerf_high_mm"))
    return _interpolate(at, low, current_a), _interpolate(at, high, current_a)


@formula(
    "kerf.from-bore",
    text="kerf = 1.5 bore; spread covers 15 % either way and the usual band at the current",
    gives="kerf [mm]",
    source="common practice, no source",
    limits=(
        Limit("bore_mm", 0.6, 2.0, "mm", "hand torch tips"),
        Limit("current_a", 20, 105, "A", "the band's table"),
    ),
)
def from_bore(bore_mm: float, current_a: float) -> Figure:
    """Kerf of a tip nobody has measured yet.

    Parameters: bore [mm], current [A]. Returns a figure [mm] whose spread takes in wear, height and pace as
    the trade sees them; a five minute coupon replaces it.
    """
    value = BORES * bore_mm
    low, high = band_by_current(current_a)
    return Figure(
        value,
        min(low, value * (1 - BORE_SPREAD)),
        max(high, value * (1 + BORE_SPREAD)),
        "mm",
        "kerf.from-bore",
        Basis.DEFAULT,
        "common practice, no source",
        (("bore [mm]", f"{bore_mm:g}"), ("current [A]", f"{current_a:g}")),
    )


@formula(
    "kerf.measured",
    text="kerf as typed in the kit",
    gives="kerf [mm]",
    source="the tip's kerf in the kit file, for whatever it was measured on",
    limits=(Limit("kerf_mm", 0.3, 6, "mm", "outside this measure again"),),
)
def kerf_of_tip(tip: Tip, current_a: float) -> Figure:
    """Kerf of a tip at a current [A]: the user's own when the kit holds one, else :func:`from_bore`. [mm]"""
    own = tip.kerf_mm
    if own is None:
        return from_bore(tip.bore_mm, current_a)
    basis = Basis.DEFAULT if own.default else Basis.KIT
    source = "common practice, no source" if own.default else f"tip {tip.name}: as typed in the kit, {_ON}"
    return Figure(own.value, own.low, own.high, "mm", "kerf.measured", basis, source, (("tip", tip.name),))
