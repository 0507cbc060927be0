"""Coupons and what they teach as plain values, units in the keys: what command and page give to other programs."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Any

from lagline.book.coupons import KeptCoupon
from lagline.desk.coupon_desk import Taught
from lagline.records.coupon import Coupon
from lagline.records.figure import Figure
from lagline.trade.tip_drift import TipDrift


def coupon_dict(c: Coupon) -> dict[str, Any]:
    """Return a coupon."""
    out: dict[str, Any] = json.loads(json.dumps(asdict(c)))  # words as text, tuples as lists
    return out


def kept_dict(k: KeptCoupon) -> dict[str, Any]:
    """Return a coupon as it lies in the book, with what was done to it."""
    acts = [asdict(a) for a in k.acts]
    more = {"replaces": k.replaces, "replaced_by": k.replaced_by, "removed": k.removed, "acts": acts}
    return coupon_dict(k.coupon) | more


def said_dict(c: Coupon) -> dict[str, Any]:
    """Return what was said of a coupon's measurements: those set aside, those right as they stand."""
    return {"id": c.id, "set_aside": list(c.set_aside), "stands": list(c.stands)}


def _figure(f: Figure) -> dict[str, object]:
    return {"value": f.value, "low": f.low, "high": f.high, "basis": str(f.basis), "source": f.source}


def taught_dict(t: Taught) -> dict[str, Any]:
    """Return what the coupons of a tip and metal taught: each figure without them and now, 90 % limits."""
    rows = {
        f"{name.replace(' ', '_')}_{now.unit.replace('/', '_')}": {"without_coupons": _figure(was), "now": _figure(now)}
        for name, was, now in t.rows
    }
    head = {"tip": t.belief.tip, "metal": t.belief.metal, "coupons": list(t.belief.coupons)}
    return head | {"thickness_mm": t.thickness_mm, "current_a": t.current_a, "figures_90_percent": rows}


def drift_dict(d: TipDrift) -> dict[str, Any]:
    """Return the charts of one tip."""
    charts = {
        name: {"points": [asdict(p) for p in c.points], "sum_sd": c.sum, "decision_sd": c.decision, "signal": c.signal}
        for name, c in d.charts
    }
    return {
        "tip": d.tip,
        "metal": d.metal,
        "thickness_mm": d.thickness_mm,
        "current_a": d.current_a,
        "along": d.along,
        "coupons": list(d.coupons),
        "charts": charts,
        "kerf_limit_mm": d.limit_mm,
        "kerf_limit_at": asdict(d.reach) if d.reach is not None else None,
    }
