"""One coupon: what was measured, what is doubtful, what is set aside or right as it stands; all can be taken back."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from lagline.desk import coupon_views
from lagline.desk.coupon_desk import CouponDesk
from lagline.desk.coupon_questions import Asked, asked_about
from lagline.records.coupon import Coupon
from lagline.records.length import show_pace
from lagline.trade.set_aside import in_words, measurements
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
    state: str  # aside, stands, apart, or empty
    may_stand: bool


def _measured(c: Coupon, asked: Asked) -> tuple[Measured, ...]:
    may = {n for q in asked.questions if q.may_stand for n in q.names}
    out = []
    for name, value in measurements(c):
        state = ("aside" if name in c.set_aside else "stands" if name in c.stands
                 else "apart" if name in asked.apart else "")  # fmt: skip
        whole = in_words(name).replace("_kpa_g", "").replace("_mm_s", "").replace("_mm", "").replace("_", " ")
        cut = name.startswith("cuts[")
        group = " ".join(whole.split(" ")[:2]) if cut else "the rest"
        out.append(Measured(name, group, whole.removeprefix(group).strip() if cut else whole, _shown(name, value),
                            state, name in may))  # fmt: skip
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


_NOW = {"aside": "is set aside: kept, not counted", "stands": "stands: counted as it is, however odd",
        "take-back": "counts again", "ask": "is asked about again where it does not fit"}  # fmt: skip


@router.get("/coupons/{id_}")
def one(request: Request, id_: str, kept: str = "", did: str = "", field: str = "", was: str = "") -> Response:
    desk = desk_of(request)
    found = desk.show(id_)
    kits = coupon_views.kits(request.app.state.desk)
    c = found.coupon
    asked = asked_about(c, kits, desk.standing()) if found.standing else Asked()
    measured = _measured(c, asked)
    changed = None
    names = set(_fields(field))
    if names and names <= {m.name for m in measured} and did in ("aside", "stands", "take-back"):
        now = _NOW["ask" if (did, was) == ("take-back", "stands") else did]
        changed = {"said": f"{in_words(field)} {now}.", "undo": was if was in _NOW else "take-back", "field": field}
    return page(
        request, "coupon/one.html", kept=found, what=what_of(c), told=told_of(c, len(asked.apart)),
        stored=kept == "yes", asked=asked, measured=measured, changed=changed, in_words=in_words,
        query=query(conditions_of(c, kits)),
    )  # fmt: skip


@router.get("/coupons/{id_}/correct")
def correct(request: Request, id_: str) -> Response:
    found = desk_of(request).show(id_)
    return entry_form(request, typed_of(found.coupon, coupon_views.kits(request.app.state.desk)), (), found.coupon.id)


@router.post("/coupons/{id_}/aside")
def set_aside(request: Request, id_: str, given: Given) -> Response:
    return _say(desk_of(request), id_, given["field"], "aside")


@router.post("/coupons/{id_}/stands")
def stands(request: Request, id_: str, given: Given) -> Response:
    return _say(desk_of(request), id_, given["field"], "stands")


@router.post("/coupons/{id_}/take-back")
def take_back(request: Request, id_: str, given: Given) -> Response:
    return _say(desk_of(request), id_, given["field"], "take-back")


def _say(desk: CouponDesk, id_: str, field: str, what: str) -> Response:
    """Say something of one measurement or of several; the page then offers what was said before."""
    c = desk.show(id_).coupon
    names = _fields(field) or (field,)
    was = "aside" if names[0] in c.set_aside else "stands" if names[0] in c.stands else ""
    say = {"aside": desk.set_aside, "stands": desk.stands, "take-back": desk.take_back}[what]
    say(id_, *names)
    return RedirectResponse(f"/coupons/{id_}?{urlencode({'did': what, 'field': field, 'was': was})}", 303)


def _fields(text: str) -> tuple[str, ...]:
    return tuple(x for x in text.split(", ") if x)


@router.post("/coupons/{id_}/off")
def off(request: Request, id_: str) -> Response:
    desk_of(request).remove(id_)
    return RedirectResponse(f"/coupons?removed={id_}", 303)


@router.post("/coupons/{id_}/back")
def back(request: Request, id_: str) -> Response:
    return RedirectResponse(f"/coupons/{desk_of(request).put_back(id_).id}", 303)
