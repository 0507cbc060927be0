"""One coupon: what was measured, what is doubtful, and setting aside, all of which can be taken back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from lagline.desk import coupon_views
from lagline.planning.coupon_doubts import doubts
from lagline.records.coupon import Coupon
from lagline.records.finding import Finding, Severity
from lagline.records.kit import Kit
from lagline.records.length import show_pace
from lagline.trade.coupon_fit import believe
from lagline.trade.set_aside import in_words, measurements, without_set_aside
from lagline.web.coupon import Given, desk_of, entry_form, told_of, what_of
from lagline.web.coupon_asked import conditions_of, query, typed_of
from lagline.web.look import page

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Measured:
    """One measurement as the page says it."""

    name: str
    group: str
    words: str
    shown: str
    aside: bool


def _measured(c: Coupon) -> tuple[Measured, ...]:
    aside, out = set(c.set_aside), []
    for name, value in measurements(c):
        whole = in_words(name).replace("_kpa_g", "").replace("_mm_s", "").replace("_mm", "").replace("_", " ")
        cut = name.startswith("cuts[")
        group = " ".join(whole.split(" ")[:2]) if cut else "the rest"
        out.append(Measured(name, group, whole.removeprefix(group).strip() if cut else whole, _shown(name, value),
                            name in aside))  # fmt: skip
    return tuple(out)


def _shown(name: str, value: object) -> str:
    field = name.rpartition(".")[2]
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not isinstance(value, float | int):
        return str(value)
    if field == "seconds":
        return f"{value:g} s"
    if field.endswith("_mm_s"):
        return show_pace(value, "in")
    if field.endswith("_kpa_g"):
        return f"{value / 6.894757:.0f} psi ({value / 100:.1f} bar)"
    return f"{value / 25.4:.3f} in ({value:.2f} mm)"


def asked_about(coupon: Coupon, kits: Mapping[str, Kit], all_: tuple[Coupon, ...]) -> tuple[Finding, ...]:
    """Return what of a coupon is doubtful as it counts now: on its face, and beside all else that is known."""
    kit = next((k for k in kits.values() if k.name == coupon.bench), kits[""])
    counted = without_set_aside(coupon)
    found = [f for f in doubts(counted, "coupon", "in", kit) if f.severity is not Severity.NOTE]
    if coupon.tip in {t.name for t in kit.torch.tips}:
        _, odd = believe(kit, coupon.tip, coupon.metal, coupon_views.counted_for(kit, all_))
        found += [f for f in odd if f.where.startswith(f"coupon {coupon.id},")]
    return tuple(
        Finding(f.code, f.severity, in_words(f.where).removeprefix("coupon: ").removeprefix(f"coupon {coupon.id}, "),
                in_words(f.message), f.allowed)
        for f in found
    )  # fmt: skip


@router.get("/coupons/{id_}")
def one(request: Request, id_: str, kept: str = "", did: str = "", field: str = "") -> Response:
    desk = desk_of(request)
    found = desk.show(id_)
    kits = coupon_views.kits(request.app.state.desk)
    c = found.coupon
    measured = _measured(c)
    changed = None
    if field in {m.name for m in measured} and did in ("aside", "take-back"):
        said = f"{in_words(field)} {'is set aside: kept, not counted' if did == 'aside' else 'counts again'}."
        changed = {"said": said, "undo": "take-back" if did == "aside" else "aside", "field": field}
    return page(
        request, "coupon/one.html", kept=found, what=what_of(c), told=told_of(c), stored=kept == "yes",
        asked=asked_about(c, kits, desk.standing()) if found.standing else (), measured=measured, changed=changed,
        in_words=in_words, query=query(conditions_of(c, kits)),
    )  # fmt: skip


@router.get("/coupons/{id_}/correct")
def correct(request: Request, id_: str) -> Response:
    found = desk_of(request).show(id_)
    return entry_form(request, typed_of(found.coupon, coupon_views.kits(request.app.state.desk)), (), found.coupon.id)


@router.post("/coupons/{id_}/aside")
def set_aside(request: Request, id_: str, given: Given) -> Response:
    desk_of(request).set_aside(id_, given["field"])
    return RedirectResponse(f"/coupons/{id_}?{_did('aside', given['field'])}", 303)


@router.post("/coupons/{id_}/take-back")
def take_back(request: Request, id_: str, given: Given) -> Response:
    desk_of(request).take_back(id_, given["field"])
    return RedirectResponse(f"/coupons/{id_}?{_did('take-back', given['field'])}", 303)


def _did(what: str, field: str) -> str:
    return urlencode({"did": what, "field": field})


@router.post("/coupons/{id_}/off")
def off(request: Request, id_: str) -> Response:
    desk_of(request).remove(id_)
    return RedirectResponse(f"/coupons?removed={id_}", 303)


@router.post("/coupons/{id_}/back")
def back(request: Request, id_: str) -> Response:
    return RedirectResponse(f"/coupons/{desk_of(request).put_back(id_).id}", 303)
