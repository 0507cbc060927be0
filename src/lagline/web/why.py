"""Where a number comes from, and every formula."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from lagline.desk import reason
from lagline.desk.job_desk import JobDesk
from lagline.web.look import page

router = APIRouter()


@router.get("/jobs/{slug}/why/{path}")
def number(request: Request, slug: str, path: str) -> Response:
    desk: JobDesk = request.app.state.desk
    plan = desk.room.known(slug)
    if plan is None:
        return RedirectResponse(f"/jobs/{slug}", 303)
    return page(request, "why/number.html", slug=slug, job=plan.job.name, why=reason.reason(plan, path))


@router.get("/formulas")
def listed(request: Request) -> Response:
    topics: dict[str, list[reason.Formula]] = {}
    for f in reason.formulas():
        topics.setdefault(f.key.split(".")[0], []).append(f)
    return page(request, "why/formulas.html", topics=topics)


@router.get("/formulas/{key}")
def formula(request: Request, key: str) -> Response:
    return page(request, "why/formula.html", formula=reason.formula(key))
