"""A job's price: what it is made of, with the shop's own rates, and the sheet to print."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from lagline.cards import quote_sheet
from lagline.desk.job_desk import JobDesk
from lagline.desk.quote_desk import Priced, priced, quote_dict, sheet
from lagline.planning.quote import RATES
from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Finding
from lagline.records.plan import Plan
from lagline.web.files import sent
from lagline.web.look import page

router = APIRouter()
programs = APIRouter()
NAMES = (*(r.name for r in RATES), "shop")


def planned(request: Request, slug: str) -> Plan | None:
    """Return a job's plan as it stands, None while there is none. Errors: LaglineError for a job not on the shelf."""
    desk: JobDesk = request.app.state.desk
    desk.shelf.folder(slug)
    return desk.room.known(slug)


def need_plan(request: Request, slug: str) -> Plan:
    """Return a job's plan. Errors: LaglineError when there is none as it stands."""
    plan = planned(request, slug)
    if plan is None:
        raise refuse("not-planned", slug, "the job is not planned as it stands", "ask for its plan first")
    return plan


def _typed(request: Request) -> dict[str, str]:
    return {k: v[:200] for k, v in request.query_params.items()}


def _priced(plan: Plan, typed: dict[str, str]) -> Priced:
    given = {k: v for k, v in typed.items() if k not in ("compare", "paper")}
    return priced(plan, given, compared=typed.get("compare", "") not in ("", "0", "no"))


@router.get("/jobs/{slug}/quote")
def quote(request: Request, slug: str) -> Response:
    plan = planned(request, slug)
    if plan is None:
        return RedirectResponse(f"/jobs/{slug}", 303)
    typed = _typed(request)
    own = plan.kit.bench
    prices = dict(own.metal_per_kg)
    metals = dict.fromkeys(p.stock.metal for p in plan.job.plates)
    hints = {
        "labour": f"an hour; empty: {own.labour_per_h.value:g}",
        "metal": "a kg; empty: " + ", ".join(f"{m} {prices[m]:g}" for m in metals if m in prices),
        "tips": f"nozzle and electrode together; empty: {own.tip_set_cost:g}",
        "power": f"a kWh; empty: {own.energy_per_kwh:g}",
        "overhead": "percent of the cost",
        "margin": "percent of the price",
    }
    context: dict[str, Any] = {
        "slug": slug, "plan": plan, "typed": typed, "rates": RATES, "hints": hints, "made": None, "findings": (),
        "by_field": {}, "query": urlencode({k: v for k, v in typed.items() if v}), "look": quote_sheet,
    }  # fmt: skip
    try:
        made = _priced(plan, typed)
    except LaglineError as e:
        by: dict[str, list[Finding]] = {}
        for f in e.findings:
            by.setdefault(f.where.removeprefix("quote, "), []).append(f)
        return page(request, "quote/quote.html", 422, **context | {"findings": e.findings, "by_field": by})
    return page(request, "quote/quote.html", **context | {"made": made, "findings": made.quote.findings})


@router.get("/jobs/{slug}/quote.pdf")
def printed(request: Request, slug: str) -> Response:
    plan = need_plan(request, slug)
    return sent(f"quote-{slug}.pdf", sheet(_priced(plan, _typed(request)), plan.job.paper), show=True)


@programs.get("/api/jobs/{slug}/quote", summary="A planned job's price; rates as query parameters")
def api_quote(request: Request, slug: str) -> Response:
    """Return the price as `lagline quote --json` prints it; `labour`, `metal`, `tips`, `power`, `overhead`, `margin`
    and `shop` may be given, `compare=1` sets torch against drill and saw."""
    return JSONResponse(quote_dict(_priced(need_plan(request, slug), _typed(request))))
