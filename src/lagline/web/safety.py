"""A job's safety sheet: eyes, fire, ears, air, what falls; and the sheet to print and sign."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from lagline.cards import safety_card
from lagline.desk.safety_desk import Safe, printed, safe, safety_dict
from lagline.planning.safety_sheet import watch_rules
from lagline.records.errors import LaglineError
from lagline.records.finding import Finding
from lagline.records.plan import Plan
from lagline.web.files import sent
from lagline.web.look import page
from lagline.web.quote import need_plan, planned

router = APIRouter()
programs = APIRouter()


def _safe(request: Request, plan: Plan) -> Safe:
    asked = request.query_params
    return safe(plan, asked.get("start", "")[:40], asked.get("watch_rule", "")[:80])


@router.get("/jobs/{slug}/safety")
def sheet(request: Request, slug: str) -> Response:
    plan = planned(request, slug)
    if plan is None:
        return RedirectResponse(f"/jobs/{slug}", 303)
    typed = {k: request.query_params.get(k, "")[:80] for k in ("start", "watch_rule")}
    context: dict[str, Any] = {
        "slug": slug, "plan": plan, "typed": typed, "made": None, "findings": (), "by_field": {},
        "rules": (("", "the longest here"), *((r, r) for r in watch_rules())), "look": safety_card,
        "query": urlencode({k: v for k, v in typed.items() if v}),
    }  # fmt: skip
    try:
        made = _safe(request, plan)
    except LaglineError as e:
        by: dict[str, list[Finding]] = {}
        for f in e.findings:
            by.setdefault(f.where.replace(" ", "_"), []).append(f)
        return page(request, "safety/safety.html", 422, **context | {"findings": e.findings, "by_field": by})
    return page(request, "safety/safety.html", **context | {"made": made, "findings": made.sheet.findings})


@router.get("/jobs/{slug}/safety.pdf")
def paper(request: Request, slug: str) -> Response:
    plan = need_plan(request, slug)
    return sent(f"safety-{slug}.pdf", printed(_safe(request, plan), plan.job.paper), show=True)


@programs.get("/api/jobs/{slug}/safety", summary="A planned job's safety sheet; start as a query parameter")
def api_safety(request: Request, slug: str) -> Response:
    """Return the sheet as `lagline safety --json` prints it: `start` a time of day, `watch_rule` one of the rules."""
    return JSONResponse(safety_dict(_safe(request, need_plan(request, slug))))
