"""What coupons say: of a bench before and after, of pace against thickness, of a tip along its life."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from lagline.cards import words
from lagline.cards.coupon_charts import drift_pictures, pace_picture
from lagline.desk import coupon_views
from lagline.records.errors import LaglineError
from lagline.web.coupon import choices, desk_of, typed_in
from lagline.web.coupon_asked import by_field, query, read_asked
from lagline.web.look import page

router = APIRouter()


@router.get("/coupons/drift")
def drift(request: Request) -> Response:
    found, findings = desk_of(request).drift()
    tips = [(d, f"{words.both(d.thickness_mm, 'in')} {d.metal}, {d.current_a:g} A", drift_pictures(d)) for d in found]
    return page(request, "coupon/drift.html", tips=tips, findings=findings)


@router.get("/coupons/learned")
def learned(request: Request) -> Response:
    desk = desk_of(request)
    typed = typed_in(request, desk)
    kits, offered = choices(request, typed)
    rows, findings, title, status, behind, ahead = (), (), "", 200, "", ""
    if typed.get("thickness"):
        try:
            a = read_asked(typed, kits)
            found, ahead, findings = coupon_views.learned(
                a.kit, desk.standing(), a.tip, a.metal, a.thickness_mm, a.current_a
            )
            rows = coupon_views.shown(found, a.units)
            title = f"Tip {a.tip}, {words.both(a.thickness_mm, a.units)} {a.metal}, {a.current_a:g} A"
            n = len({c for r in found for c in r.coupons})
            behind = f"{n} {'coupon' if n == 1 else 'coupons'} behind it" if n else "no coupon yet, defaults only"
        except LaglineError as e:
            findings, status = e.findings, 422
    return page(
        request, "coupon/learned.html", status, rows=rows, title=title, behind=behind, ahead=ahead, findings=findings,
        by_field=by_field(findings) if not rows else {}, query=query(typed), **offered,
    )  # fmt: skip


@router.get("/coupons/pace")
def pace(request: Request) -> Response:
    desk = desk_of(request)
    typed = typed_in(request, desk)
    kits, offered = choices(request, typed)
    view, svg, findings, status = None, "", (), 200
    if typed.get("thickness"):
        try:
            a = read_asked(typed, kits)
            view = coupon_views.pace_view(a.kit, desk.standing(), a.tip, a.metal, a.thickness_mm, a.current_a, a.units)
            svg = pace_picture(view.chart, a.units)
        except LaglineError as e:
            findings, status = e.findings, 422
    return page(
        request, "coupon/pace.html", status, svg=svg, view=view, findings=findings,
        by_field=by_field(findings), **offered,
    )  # fmt: skip
