"""Coupons for programs: what `lagline coupon` does, as JSON with the same keys."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Body, Depends, Query
from starlette.requests import Request
from starlette.responses import Response

from lagline.book.coupons import KeptCoupon
from lagline.desk import coupon_views
from lagline.desk.coupon_desk import CouponDesk
from lagline.records.coupon import Coupon
from lagline.records.errors import refuse
from lagline.records.figure import Figure
from lagline.records.finding import Finding
from lagline.records.kit import Kit
from lagline.trade.tip_drift import TipDrift
from lagline.web.api import Fault, finding_json
from lagline.web.coupon import printed
from lagline.web.coupon_asked import FIRST, read_asked
from lagline.web.files import sent

router = APIRouter(responses={422: {"model": Fault, "description": "The input cannot be used; why."}})


def _desk(request: Request) -> CouponDesk:
    return request.app.state.coupons


Desk = Annotated[CouponDesk, Depends(_desk)]
Bench = Annotated[str, Query(max_length=80, description="a job whose kit is meant; empty for the generic kit")]


def _kit(request: Request, key: str) -> Kit:
    kits = coupon_views.kits(request.app.state.desk)
    if key not in kits:
        raise refuse("bench-unknown", "kit", f'there is no bench "{key[:60]}"', ", ".join(kits) or "empty")
    return kits[key]


def coupon_json(c: Coupon) -> dict[str, Any]:
    """Return a coupon with its units in the keys."""
    return json.loads(json.dumps(asdict(c)))


def kept_json(k: KeptCoupon) -> dict[str, Any]:
    """Return a coupon with what was done to it."""
    acts = [asdict(a) for a in k.acts]
    more = {"replaces": k.replaces, "replaced_by": k.replaced_by, "removed": k.removed, "acts": acts}
    return coupon_json(k.coupon) | more


def _found(findings: tuple[Finding, ...]) -> list[dict[str, str]]:
    return [finding_json(f) for f in findings]


def _figure(f: Figure) -> dict[str, Any]:
    return {"value": f.value, "low": f.low, "high": f.high, "basis": str(f.basis), "source": f.source}


def _drift(d: TipDrift) -> dict[str, Any]:
    charts = {
        name: {"points": [asdict(p) for p in c.points], "sum_sd": c.sum, "decision_sd": c.decision, "signal": c.signal}
        for name, c in d.charts
    }
    return {
        "tip": d.tip, "metal": d.metal, "thickness_mm": d.thickness_mm, "current_a": d.current_a, "along": d.along,
        "coupons": list(d.coupons), "charts": charts, "kerf_limit_mm": d.limit_mm,
        "kerf_limit_at": asdict(d.reach) if d.reach is not None else None,
    }  # fmt: skip


@router.get("/api/coupons", summary="The coupons in the book; all of them with all=true")
def coupons(desk: Desk, all: bool = False) -> dict[str, Any]:  # noqa: A002
    """Return every standing coupon, with replaced and removed ones when asked."""
    return {"coupons": [kept_json(k) for k in desk.all() if all or k.standing]}


@router.post("/api/coupons", status_code=201, summary="Enter a coupon: named values as in a coupon file")
def add(
    request: Request,
    desk: Desk,
    given: Annotated[dict[str, Any], Body(description="tip, metal, thickness, current, cuts: [{length, seconds ...}]")],
    kit: Bench = "",
    replaces: Annotated[str, Query(max_length=40, description="the coupon this one corrects")] = "",
) -> dict[str, Any]:
    """Keep a coupon; doubtful values are kept and asked about, what cannot be true is refused."""
    entered = desk.add_fields(given, "coupon", _kit(request, kit), replaces=replaces or None)
    return coupon_json(entered.coupon) | {"findings": _found(entered.findings)}


@router.get("/api/coupons/learned", summary="What a bench's coupons teach: before and now, 90 % limits")
def learned(request: Request, desk: Desk, kit: Bench = "") -> dict[str, Any]:
    """Return one entry for each tip and metal that has coupons."""
    taught, findings = desk.taught(_kit(request, kit))
    out = []
    for t in taught:
        rows = {
            f"{name.replace(' ', '_')}_{now.unit.replace('/', '_')}": {
                "without_coupons": _figure(was),
                "now": _figure(now),
            }
            for name, was, now in t.rows
        }
        out.append({
            "tip": t.belief.tip, "metal": t.belief.metal, "coupons": list(t.belief.coupons),
            "thickness_mm": t.thickness_mm, "current_a": t.current_a, "figures_90_percent": rows,
        })  # fmt: skip
    return {"learned": out, "findings": _found(findings)}


@router.get("/api/coupons/drift", summary="Whether a tip is going: charts over its life")
def drift(desk: Desk) -> dict[str, Any]:
    """Return the charts of every tip."""
    found, findings = desk.drift()
    return {"tips": [_drift(d) for d in found], "findings": _found(findings)}


Text = Annotated[str, Query(max_length=80)]


@router.get("/api/coupons/plan", summary="The next coupon to cut: the paces that teach most now")
def plan(
    request: Request, desk: Desk, metal: Text, thickness: Text, tip: Text, current: Text = "", units: Text = "in",
    kit: Bench = "", gouge: bool = False,
) -> dict[str, Any]:  # fmt: skip
    """Return beats, what each cut teaches, and the third cut by what the first two showed."""
    typed = FIRST | {"metal": metal, "thickness": thickness, "tip": tip, "current": current, "units": units, "kit": kit}
    a = read_asked(typed, coupon_views.kits(request.app.state.desk))
    made, (kerf, cup) = coupon_views.next_coupon(
        a.kit, desk.standing(), a.tip, a.metal, a.thickness_mm, a.current_a, gouge=gouge
    )
    drawn = {"drawn_with_kerf_mm": kerf, "drawn_with_cup_radius_mm": cup}
    return json.loads(json.dumps(asdict(made))) | drawn | {"findings": _found(made.findings)}


@router.get("/api/coupons/plan/coupon.pdf", summary="The coupon at full scale with its form")
def plan_pdf(
    request: Request, metal: Text, thickness: Text, tip: Text, current: Text = "", units: Text = "in",
    kit: Bench = "", gouge: Text = "", paper: Text = "letter",
) -> Response:  # fmt: skip
    """Return the sheets; ``gouge=yes`` adds a gouge."""
    typed = {"metal": metal, "thickness": thickness, "tip": tip, "current": current, "units": units, "kit": kit,
             "gouge": gouge, "paper": paper}  # fmt: skip
    return sent("coupon.pdf", printed(request, typed), show=False)


@router.get("/api/coupons/{id_}", summary="One coupon with what was done to it")
def one(desk: Desk, id_: str) -> dict[str, Any]:
    """Return a coupon, standing or not."""
    return kept_json(desk.show(id_))


Field = Annotated[str, Query(max_length=80, description="cuts[1].kerf_top_mm, or cut 2 kerf top")]
Why = Annotated[str, Query(max_length=500)]


@router.post("/api/coupons/{id_}/set-aside", summary="Set a measurement aside: kept, not counted")
def set_aside(desk: Desk, id_: str, field: Field, why: Why = "") -> dict[str, Any]:
    """Return what is set aside."""
    return {"id": id_, "set_aside": list(desk.set_aside(id_, field, why).set_aside)}


@router.post("/api/coupons/{id_}/take-back", summary="Count a measurement again")
def take_back(desk: Desk, id_: str, field: Field, why: Why = "") -> dict[str, Any]:
    """Return what is still set aside."""
    return {"id": id_, "set_aside": list(desk.take_back(id_, field, why).set_aside)}


@router.post("/api/coupons/{id_}/remove", summary="Set a whole coupon aside")
def remove(desk: Desk, id_: str, why: Why = "") -> dict[str, Any]:
    """Mark it as removed; nothing is lost."""
    desk.remove(id_, why)
    return {"id": id_, "removed": True}


@router.post("/api/coupons/{id_}/put-back", summary="Take a removal back")
def put_back(desk: Desk, id_: str, why: Why = "") -> dict[str, Any]:
    """Let it count again."""
    return {"id": desk.put_back(id_, why).id, "removed": False}
