"""The rack: what lies on it, with pictures; putting something there, scrapping, putting back; a job that was cut."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from lagline.book.rack import RackCut
from lagline.cards.kept_mark import clear_size
from lagline.cards.rack_picture import item_svg
from lagline.cards.scene import kept_offcuts
from lagline.cards.words import plan_mark
from lagline.desk.rack_desk import RackDesk
from lagline.desk.rack_views import cut_text, from_text, size_text, sizes, state_text, units_of
from lagline.planning.job_stock import COATINGS, METALS
from lagline.planning.rack_use import described, weight
from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Finding
from lagline.records.length import show_length
from lagline.records.plan import Plan
from lagline.records.rack import RackItem, RackState
from lagline.web.forms import Form, read_form
from lagline.web.look import page

router = APIRouter()
Given = Annotated[Form, Depends(read_form)]
MOST_SHOWN = 200
FIRST = {"units": "in", "metal": METALS[0], "coating": COATINGS[0], "kind": "offcut", "copies": "1"}


@dataclass(frozen=True, slots=True)
class ItemCard:
    """One item in the list."""

    mark: str
    what: str
    size: str
    kg: str
    more: str
    state: str


def desk_of(request: Request) -> RackDesk:
    """Return the rack these pages are over."""
    rack: RackDesk = request.app.state.desk.rack
    return rack


def _card(item: RackItem) -> ItemCard:
    size = sizes(item)
    worth = f"worth {item.worth:.2f}" if item.worth is not None else ""
    more = ", ".join(t for t in (item.called, item.place, worth) if t)
    what = f"{described(item.stock)} {item.kind}"
    return ItemCard(
        item.mark, what, size_text(item, size), weight(size.mass_kg, units_of(item)), more, state_text(item)
    )


@router.get("/rack")
def shelf(request: Request, put: str = "", gone: str = "", metal: str = "", fell: str = "") -> Response:
    items = [k.item for k in desk_of(request).all()]
    here = [i for i in items if i.state is RackState.ON]
    metals = sorted({described(i.stock) for i in here})
    shown = [i for i in here if metal not in metals or described(i.stock) == metal]
    known = {i.mark: i for i in items}
    return page(
        request, "rack/list.html", cards=[_card(i) for i in reversed(shown[-MOST_SHOWN:])], many=len(shown),
        most=MOST_SHOWN, metals=metals, metal=metal if metal in metals else "",
        gone=[_card(i) for i in reversed(items) if i.state is not RackState.ON][:MOST_SHOWN],
        put=[m for m in put[:2000].split(" ") if m in known], scrapped=gone if gone in known else "",
        fell=fell == "yes",
    )  # fmt: skip


@router.get("/rack/add")
def form(request: Request) -> Response:
    return _form(request, dict(FIRST), ())


def _form(request: Request, typed: dict[str, str], findings: tuple[Finding, ...]) -> Response:
    by_field: dict[str, list[Finding]] = {}
    for f in findings:
        by_field.setdefault(_field(f), []).append(f)
    return page(
        request, "rack/add.html", 422 if findings else 200, typed=typed, findings=findings, by_field=by_field,
        metals=METALS, coatings=COATINGS,
    )  # fmt: skip


def _field(finding: Finding) -> str:
    """Return the field of the form a finding is about, "" when it has none."""
    if re.search(r"\bholes?\b", finding.where):
        return "holes"
    if re.match(r"[^:]+\.(?:dxf|svg)\b", finding.where, re.IGNORECASE) or finding.where == "drawing":
        return "file"
    return re.split(r"[:,] ", finding.where)[-1].strip()


@router.post("/rack/add")
def add(request: Request, given: Given) -> Response:
    try:
        added = desk_of(request).add_form(given.text, given.uploads("file"))
    except LaglineError as e:
        return _form(request, FIRST | given.text, e.findings)
    fell = "&fell=yes" if any(f.code == "bad-area-apart" for f in added.findings) else ""
    return RedirectResponse(f"/rack?put={'+'.join(i.mark for i in added.items)}{fell}", 303)


@router.get("/rack/{mark}")
def one(request: Request, mark: str) -> Response:
    kept = desk_of(request).get(mark)
    item, size, units = kept.item, sizes(kept.item), units_of(kept.item)
    outer = f"{show_length(size.width_mm, units)} x {show_length(size.height_mm, units)}"
    facts: list[tuple[str, Any]] = [
        ("metal", described(item.stock)), ("grade", item.stock.grade), ("coating", item.stock.coating),
        ("outermost", outer), ("clear", clear_size(size.rectangle_mm, units)),
        ("weight", weight(size.mass_kg, units)), ("name", item.name), ("heat number", item.heat), ("place", item.place),
        ("came", item.date), ("worth", f"{item.worth:.2f}" if item.worth is not None else ""),
        ("from", from_text(item)), ("note", item.note),
    ]  # fmt: skip
    svg = item_svg(item, paper=False, units=units)
    return page(
        request, "rack/one.html", item=item, facts=[f for f in facts if f[1]], svg=svg, state=state_text(item),
        on=item.state is RackState.ON, acts=kept.acts,
    )  # fmt: skip


@router.get("/rack/{mark}/picture.svg")
def picture(request: Request, mark: str) -> Response:
    item = desk_of(request).get(mark).item
    # an item never changes, and its mark is never given again
    keep = {"cache-control": "private, max-age=86400"}
    svg = item_svg(item, paper=False, units=units_of(item))
    return Response(svg, media_type="image/svg+xml", headers=keep)


@router.post("/rack/{mark}/scrap")
def scrap(request: Request, mark: str, given: Given) -> Response:
    item = desk_of(request).scrap(mark, given["why"])
    return RedirectResponse(f"/rack?gone={item.mark}", 303)


@router.post("/rack/{mark}/back")
def back(request: Request, mark: str, given: Given) -> Response:
    item = desk_of(request).put_back(mark, given["why"])
    return RedirectResponse(f"/rack?put={item.mark}", 303)


# ---- a job that was cut ----


@dataclass(frozen=True, slots=True)
class WhenCut:
    """What the plan page says of cutting: the plan's mark, plates of the rack it uses, offcuts it leaves, and when it
    was cut."""

    mark: str
    used: tuple[str, ...]
    left: tuple[tuple[str, str, str], ...]  # plate, clear size, weight
    done: tuple[tuple[str, RackCut], ...]


def when_cut(desk: RackDesk, plan: Plan) -> WhenCut:
    """Return what the plan page says of cutting."""
    cut = {p.plate for p in plan.layout.placed}
    plates = [(i, p) for i, p in enumerate(plan.job.plates) if i in cut]
    left = [
        (p.name, clear_size(o.rectangle_mm, plan.job.units), weight(o.mass_kg, plan.job.units))
        for i, p in plates
        for o in kept_offcuts(plan, i)
    ]
    mark = plan_mark(plan)
    used = tuple(p.rack for _, p in plates if p.rack)
    done = tuple((cut_text(c), c) for c in desk.cuts_of(mark, plan.job.name, used))
    return WhenCut(mark, used, tuple(left), done)


@router.post("/jobs/{slug}/cut")
def cut(request: Request, slug: str, given: Given) -> Response:
    plan: Plan | None = request.app.state.desk.room.known(slug)
    if plan is None:
        raise refuse("not-planned", slug, "the job is not planned as it stands", "open its page: that plans it")
    if given["plan"] != plan_mark(plan):
        say = f"plan {given['plan'][:20]} is not the plan any more: it is {plan_mark(plan)} now"
        raise refuse("plan-changed", slug, say, "look at the job's page again; nothing was written")
    desk_of(request).cut_plan(plan, again=given["again"] == "yes")
    return RedirectResponse(f"/jobs/{slug}#cut", 303)
