"""Readings that cannot be measurements at all, and the question asked of every reading that is set apart."""

from __future__ import annotations

import math

from lagline.records.coupon import Coupon
from lagline.records.finding import Finding, Severity
from lagline.trade.coupon_measure import CUT_FIELDS, Kind

SLOWEST_MM_S, FASTEST_MM_S = 0.4, 85.0  # about 1 and 200 in/min: no hand cuts outside
BEYOND = "nothing in the model reaches so far, and the kit may say the wrong tip, cup or square side"


def _odd(coupon: Coupon, label: str, message: str, allowed: str) -> Finding:
    return Finding("coupon-odd", Severity.CAUTION, f"coupon {coupon.id}, {label}", message, allowed)


def set_apart(
    coupon: Coupon,
    labels: tuple[str, ...],
    misfit: str,
    allowed: str,
    why: str = BEYOND,
    said: tuple[str, ...] = (),
) -> Finding:
    """A finding that asks about readings; where their user said that they stand, it says why they do not."""
    tail = f", though you said that it stands: {why}" if set(said or labels) & set(coupon.stands) else ""
    return _odd(coupon, ", ".join(labels), f"{misfit}: set apart{tail}", allowed)


def _positive(value: float | None) -> bool:
    return value is None or (math.isfinite(value) and value > 0)


def _plain(value: float | None) -> str:
    return "no" if value is None else f"{value:g}"


def unusable(coupon: Coupon) -> tuple[frozenset[str] | None, tuple[Finding, ...]]:
    """What of a coupon cannot be a measurement at all. Returns the names to set aside, None for the whole coupon."""
    for name, value in (("thickness_mm", coupon.thickness_mm), ("current_a", coupon.current_a)):
        if not (math.isfinite(value) and value > 0):
            return None, (
                Finding(
                    "coupon-unusable",
                    Severity.CAUTION,
                    f"coupon {coupon.id}, {name}",
                    f"{value:g} is no thickness or current, so nothing is learned from this coupon",
                    "above 0",
                ),
            )
    aside: set[str] = set()
    found: list[Finding] = []

    def out(labels: tuple[str, ...], message: str, allowed: str, *also: str) -> None:
        aside.update(labels)
        found.append(set_apart(coupon, labels[:1], message, allowed, "it cannot be", (*labels, *also)))

    for i, cut in enumerate(coupon.cuts):
        label = f"cuts[{i}]"
        for name, kind in CUT_FIELDS:
            value = getattr(cut, name)
            signed = kind in (Kind.GAP_RIGHT, Kind.GAP_LEFT, Kind.LAG)
            if value is not None and not (math.isfinite(value) and (signed or value > 0)):
                out((f"{label}.{name}",), f"{value:g} mm cannot be measured", "above 0 mm")
        v = cut.pace_mm_s if cut.seconds else None
        if not (_positive(cut.length_mm) and _positive(cut.seconds)) or (
            v is not None and not SLOWEST_MM_S <= v <= FASTEST_MM_S
        ):
            said = f"{v * 60 / 25.4:.3g} in/min" if v is not None and math.isfinite(v) else "no pace"
            out(
                (f"{label}.seconds",),
                f"{_plain(cut.length_mm)} mm in {_plain(cut.seconds)} s is {said}, which no hand cuts at",
                "seconds for the whole marked length, in mm; was it seconds an inch, or inches?",
                f"{label}.length_mm",
            )
    for name in ("disc", "hole"):
        asked, got = getattr(coupon, f"{name}_asked_mm"), getattr(coupon, f"{name}_got_mm")
        if not (_positive(asked) and _positive(got)):
            say = f"{_plain(asked)} mm asked and {_plain(got)} mm got"
            out((f"{name}_got_mm", f"{name}_asked_mm"), say, "diameters above 0 mm")
    if not _positive(coupon.crater_mm):
        out(("crater_mm",), f"{coupon.crater_mm} mm cannot be measured", "above 0 mm")
    if coupon.supply_kpa_g is not None and not _positive(coupon.supply_kpa_g):
        found.append(_odd(coupon, "supply_kpa_g", f"{coupon.supply_kpa_g:g} kPa is no supply: left out", "above 0 kPa"))
    return frozenset(aside), tuple(found)
