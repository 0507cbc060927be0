"""Coupons for programs: what `lagline coupon` does, as JSON with the same keys."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Body, Depends, Query
from starlette.requests import Request
from starlette.responses import Response

from lagline.desk import coupon_views
from lagline.desk.coupon_desk import CouponDesk
from lagline.desk.coupon_json import coupon_dict, drift_dict, kept_dict, said_dict, taught_dict
from lagline.records.errors import refuse
from lagline.records.finding import Finding, finding_dict
from lagline.records.kit import Kit
from lagline.web.api import Fault
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


def _found(findings: tuple[Finding, ...]) -> list[dict[str, str]]:
    return [finding_dict(f) for f in findings]


@router.get("/api/coupons", summary="The coupons in the book; all of them with all=true")
def coupons(desk: Desk, all: bool = False) -> dict[str, Any]:  # noqa: A002
    """Return every standing coupon, with replaced and removed ones when asked."""
    return {"coupons": [kept_dict(k) for k in desk.all() if all or k.standing]}


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
    return coupon_dict(entered.coupon) | {"findings": _found(entered.findings)}


@router.get("/api/coupons/learned", summary="What a bench's coupons teach: before and now, 90 % limits")
def learned(request: Request, desk: Desk, kit: Bench = "") -> dict[str, Any]:
    """Return one entry for each tip and metal that has coupons."""
    taught, findings = desk.taught(_kit(request, kit))
    return {"learned": [taught_dict(t) for t in taught], "findings": _found(findings)}


@router.get("/api/coupons/drift", summary="Whether a tip is going: charts over its life")
def drift(desk: Desk) -> dict[str, Any]:
    """Return the charts of every tip."""
    found, findings = desk.drift()
    return {"tips": [drift_dict(d) for d in found], "findings": _found(findings)}


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
    return kept_dict(desk.show(id_))


Field = Annotated[list[str], Query(max_length=40, description="cuts[1].kerf_top_mm, or cut 2 kerf top; once or more")]
Why = Annotated[str, Query(max_length=500)]


@router.post("/api/coupons/{id_}/set-aside", summary="Set a measurement aside: kept, not counted")
def set_aside(desk: Desk, id_: str, field: Field, why: Why = "") -> dict[str, Any]:
    """Return what is set aside and what stands."""
    return said_dict(desk.set_aside(id_, *field, why=why))


@router.post("/api/coupons/{id_}/stands", summary="Say that a measurement is right as it stands: counted, however odd")
def stands(desk: Desk, id_: str, field: Field, why: Why = "") -> dict[str, Any]:
    """Return what is set aside and what stands."""
    return said_dict(desk.stands(id_, *field, why=why))


@router.post("/api/coupons/{id_}/take-back", summary="Take back that a measurement is set aside, or that it stands")
def take_back(desk: Desk, id_: str, field: Field, why: Why = "") -> dict[str, Any]:
    """Return what still is set aside and what stands."""
    return said_dict(desk.take_back(id_, *field, why=why))


@router.post("/api/coupons/{id_}/remove", summary="Set a whole coupon aside")
def remove(desk: Desk, id_: str, why: Why = "") -> dict[str, Any]:
    """Mark it as removed; nothing is lost."""
    desk.remove(id_, why)
    return {"id": id_, "removed": True}


@router.post("/api/coupons/{id_}/put-back", summary="Take a removal back")
def put_back(desk: Desk, id_: str, why: Why = "") -> dict[str, Any]:
    """Let it count again."""
    return {"id": desk.put_back(id_, why).id, "removed": False}
