"""Coupons: those in the book, the next one planned, and what was measured entered."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from lagline.book.coupons import KeptCoupon
from lagline.cards import coupon_card, words
from lagline.cards.coupon_picture import picture, seconds_text
from lagline.cards.coupon_sketches import sketch
from lagline.desk import coupon_views
from lagline.desk.coupon_desk import CouponDesk
from lagline.planning.kit_file import METALS
from lagline.records.coupon import Coupon
from lagline.records.errors import LaglineError
from lagline.records.finding import Finding, sort_findings
from lagline.records.kit import Kit
from lagline.records.length import seconds_per_inch
from lagline.trade.set_aside import measurements
from lagline.web.coupon_asked import (
    CUTS,
    FIRST,
    Asked,
    by_field,
    conditions_of,
    form_only,
    query,
    read_asked,
)
from lagline.web.files import sent
from lagline.web.forms import Form, read_form
from lagline.web.look import page

router = APIRouter()
Given = Annotated[Form, Depends(read_form)]


def desk_of(request: Request) -> CouponDesk:
    """Return the coupons these pages are over."""
    return request.app.state.coupons


def choices(request: Request, typed: Mapping[str, str]) -> tuple[dict[str, Kit], dict[str, Any]]:
    """Return the kits, and what every form of conditions offers."""
    kits = coupon_views.kits(request.app.state.desk)
    names = dict.fromkeys(t.name for k in kits.values() for t in k.torch.tips)
    if typed.get("tip"):
        names.setdefault(typed["tip"])
    offered = {
        "kits": [(k, kit.name) for k, kit in kits.items()],
        "metals": [(m, m) for m in METALS],
        "tips": [(n, n) for n in names],
        "typed": typed,
    }
    return kits, offered


def typed_in(request: Request, desk: CouponDesk) -> dict[str, str]:
    """Return the conditions asked for; without any, those of the last coupon."""
    given = {k: v[:200] for k, v in request.query_params.items()}
    if given.get("thickness") or given.get("tip"):
        return FIRST | given
    standing = desk.standing()
    if not standing:
        return FIRST | given
    kits = coupon_views.kits(request.app.state.desk)
    return conditions_of(standing[-1], kits, given.get("units", "in")) | given


# ---- the book ----


@dataclass(frozen=True, slots=True)
class Row:
    """One coupon in the list."""

    id: str
    date: str
    what: str
    told: str
    tip: str
    replaced_by: str | None


def what_of(c: Coupon) -> str:
    """Return what a coupon was cut in, in one line."""
    return f"{words.both(c.thickness_mm, 'in')} {c.metal}, {c.current_a:g} A"


def told_of(c: Coupon, apart: int = 0) -> str:
    """Return how much was measured on a coupon, and how much of it does not count as far as is known."""
    n = len(measurements(c))
    text = f"{len(c.cuts)} {'cut' if len(c.cuts) == 1 else 'cuts'}, {n} {'measurement' if n == 1 else 'measurements'}"
    text += f", {len(c.set_aside)} set aside" if c.set_aside else ""
    text += f", {apart} set apart" if apart else ""
    return text + (f", {c.starts} starts" if c.starts is not None else "")


def _row(k: KeptCoupon) -> Row:
    c = k.coupon
    return Row(c.id, c.date, what_of(c), told_of(c), c.tip, k.replaced_by)


@router.get("/coupons")
def shelf(request: Request, removed: str = "") -> Response:
    kept = desk_of(request).all()
    standing = [k for k in reversed(kept) if k.standing]
    tips = [(tip, [_row(k) for k in standing if k.coupon.tip == tip])
            for tip in dict.fromkeys(k.coupon.tip for k in standing)]  # fmt: skip
    known = {k.coupon.id for k in kept if k.removed}
    return page(
        request, "coupon/list.html", tips=tips, gone=[_row(k) for k in reversed(kept) if not k.standing],
        removed=removed if removed in known else "", findings=desk_of(request).drift()[1],
    )  # fmt: skip


# ---- planning ----


@dataclass(frozen=True, slots=True)
class CutLine:
    """One cut of a planned coupon as the page says it."""

    number: int
    seconds: str
    length: str
    beat: str
    rate: str
    teaches: str
    beat_s: float
    per: str


@dataclass(frozen=True, slots=True)
class Made:
    """A planned coupon ready for its page."""

    title: str
    under: str
    query: str
    svg: str
    cuts: tuple[CutLine, ...]
    thirds: tuple[tuple[str, str, str], ...]
    work: tuple[str, ...]
    cautions: tuple[str, ...]


def _planned(asked: Asked, coupons: tuple[Coupon, ...], typed: Mapping[str, str]) -> tuple[Made, tuple[Finding, ...]]:
    plan, (kerf, cup) = coupon_views.next_coupon(
        asked.kit, coupons, asked.tip, asked.metal, asked.thickness_mm, asked.current_a, gouge=asked.gouge
    )
    units = asked.units
    made = coupon_card.scrap_of(plan, asked.kit, units, kerf, cup)
    cuts = tuple(
        CutLine(
            c.number, seconds_text(c.seconds), words.tape(plan.length_mm, units),
            coupon_card.beat_text(c.pace_mm_s, c.seconds, units).partition(", ")[2],
            f"{c.pace_mm_s * 60 / 25.4:.0f} in/min" if units == "in" else f"{c.pace_mm_s:.1f} mm/s", c.teaches,
            seconds_per_inch(c.pace_mm_s) if units == "in" else 25 / c.pace_mm_s,
            "an inch" if units == "in" else "for 25 mm",
        )
        for c in plan.cuts
    )  # fmt: skip
    thirds = coupon_card.third_rows(plan, units) if made.last_waits else ()
    asked_for = {"current": f"{asked.current_a:g}"}
    asked_for |= {f"cut{n}.length": words.tape(plan.length_mm, units) for n in range(1, CUTS + 1)}
    if plan.turn_mm:
        asked_for["arm"] = f"{plan.turn_mm / 2:g} mm"
    return Made(
        coupon_card.title_of(plan, units),
        f"{coupon_card.under_title(plan, asked.kit)}. After it the pace is expected within about {plan.left:.0%} of "
        "today's spread.", query(typed, **asked_for),
        picture(made, paper=False), cuts, thirds, coupon_card.work_order(made), coupon_card.CAUTIONS,
    ), plan.findings  # fmt: skip


@router.get("/coupons/plan")
def plan(request: Request) -> Response:
    desk = desk_of(request)
    typed = typed_in(request, desk)
    kits, offered = choices(request, typed)
    made, findings, status = None, (), 200
    if "thickness" in request.query_params:
        try:
            made, findings = _planned(read_asked(typed, kits), desk.standing(), typed)
        except LaglineError as e:
            findings, status = e.findings, 422
    return page(
        request, "coupon/plan.html", status, made=made, findings=findings,
        by_field=by_field(findings) if not made else {}, **offered,
    )  # fmt: skip


@router.get("/coupons/plan/coupon.pdf")
def plan_pdf(request: Request) -> Response:
    return sent("coupon.pdf", printed(request, FIRST | dict(request.query_params)), show=True)


def printed(request: Request, typed: Mapping[str, str]) -> bytes:
    """Return the sheets of the coupon that is asked for. Errors: LaglineError."""
    asked = read_asked(typed, coupon_views.kits(request.app.state.desk))
    made, (kerf, cup) = coupon_views.next_coupon(
        asked.kit, desk_of(request).standing(), asked.tip, asked.metal, asked.thickness_mm, asked.current_a,
        gouge=asked.gouge,
    )  # fmt: skip
    return coupon_card.pdf(made, asked.kit, asked.paper, asked.units, kerf, cup)


# ---- entering ----


def entry_form(request: Request, typed: dict[str, str], findings: tuple[Finding, ...], replaces: str) -> Response:
    """Return the form to enter a coupon, with what was typed and what is wrong with it."""
    _, offered = choices(request, typed)
    numbers = [int(k[3:].partition(".")[0]) for k, v in typed.items() if v and k.startswith("cut") and "." in k
               and k[3:].partition(".")[0].isdecimal()]  # fmt: skip
    more = ("crater", "arm", "disc_asked", "disc_got", "hole_asked", "hole_got", "gouge_width", "gouge_depth",
            "gouge_length", "gouge_seconds", "gouge_pace")  # fmt: skip
    return page(
        request, "coupon/enter.html", 422 if findings else 200, findings=findings, by_field=by_field(findings),
        replaces=replaces, cuts=min(max([CUTS, *numbers]), 20), sketch=sketch,
        more_open=any(typed.get(k) for k in more), **offered,
    )  # fmt: skip


@router.get("/coupons/enter")
def form(request: Request) -> Response:
    return entry_form(request, typed_in(request, desk_of(request)), (), "")


@router.post("/coupons/enter")
def entered(request: Request, given: Given) -> Response:
    desk = desk_of(request)
    kits = coupon_views.kits(request.app.state.desk)
    kit = kits.get(given["kit"], kits[""])
    replaces = given["replaces"]
    try:
        kept = desk.add_form(form_only(given.text, kit), kit, replaces=replaces or None)
    except LaglineError as e:
        return entry_form(request, dict(given.text), sort_findings(e.findings), replaces)
    return RedirectResponse(f"/coupons/{kept.coupon.id}?kept=yes", 303)
