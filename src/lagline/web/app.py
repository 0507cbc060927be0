"""The pages and the interface for programs, put together over one shelf."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator
from pathlib import Path

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Scope

from lagline import __version__
from lagline.desk.coupon_desk import CouponDesk
from lagline.desk.heat_desk import HeatRoom
from lagline.desk.job_desk import JobDesk
from lagline.records.errors import LaglineError
from lagline.records.finding import Finding, Severity, finding_dict
from lagline.web import (
    api,
    choices,
    coupon,
    coupon_api,
    coupon_one,
    coupon_says,
    edit,
    files,
    heat,
    kit,
    new,
    plan,
    plate,
    quote,
    rack,
    rack_api,
    safety,
    setouts,
    setup,
    start,
    why,
)
from lagline.web.guard import Guard
from lagline.web.look import HERE, page

TITLES = {
    400: "That could not be read",
    403: "Not carried out",
    404: "Not here",
    405: "Not possible here",
    413: "Too much at once",
    421: "Wrong address",
    422: "That will not do",
    500: "The program failed",
}
GONE = {
    f"{what}-unknown" for what in ("job", "file", "why", "formula", "bin", "shape", "setup", "coupon", "rack", "setout")
}


def _wants_json(scope: Scope) -> bool:
    return str(scope["path"]).startswith("/api/")


def _answer(scope: Scope, status: int, findings: tuple[Finding, ...]) -> Response:
    """Return findings as JSON to programs, as a page to people."""
    if _wants_json(scope):
        return JSONResponse({"findings": [finding_dict(f) for f in findings]}, status)
    title = TITLES.get(status, "That did not work")
    return page(Request(scope), "fault/fault.html", status, title=title, findings=findings)


def _one(status: int, message: str, allowed: str = "") -> tuple[Finding, ...]:
    return (Finding(f"http-{status}", Severity.REFUSED, "request", message, allowed),)


def create_app(folder: Path) -> FastAPI:
    """Return the application over the shelf in a folder."""
    desk = JobDesk(folder)

    @contextlib.asynccontextmanager
    async def life(_: FastAPI) -> AsyncIterator[None]:
        yield
        desk.close()

    app = FastAPI(
        title="lagline",
        version=__version__,
        description="Plans a job for a hand-held plasma torch: drawing and plate in, bench card out. "
        "Keys carry their unit. Faults come as findings with status 422.",
        docs_url=None,  # the usual pages load their scripts from another host
        redoc_url=None,
        openapi_url="/api/openapi.json",
        lifespan=life,
    )
    app.state.desk = desk
    app.state.coupons = CouponDesk(folder)
    app.state.heat = HeatRoom()
    pages = (start, new, plan, plate, choices, setup, why, edit, kit, files, coupon, coupon_says, coupon_one, rack)
    app.include_router(heat.router, include_in_schema=False)
    for family in pages:
        app.include_router(family.router, include_in_schema=False)
    app.include_router(setouts.router, include_in_schema=False)
    app.include_router(setouts.programs)
    app.include_router(quote.router, include_in_schema=False)
    app.include_router(quote.programs)
    app.include_router(safety.router, include_in_schema=False)
    app.include_router(safety.programs)
    app.include_router(api.router)
    app.include_router(heat.programs)
    app.include_router(coupon_api.router)
    app.include_router(rack_api.router)
    app.mount("/static", StaticFiles(directory=HERE / "static"), name="static")

    @app.exception_handler(LaglineError)
    async def refused(request: Request, error: LaglineError) -> Response:
        codes = {f.code for f in error.findings}
        status = 404 if codes <= GONE else 422
        return _answer(request.scope, status, error.findings)

    @app.exception_handler(HTTPException)
    async def http(request: Request, error: HTTPException) -> Response:
        say = {404: "there is no such page", 405: "this address does not take that"}
        status = error.status_code
        return _answer(request.scope, status, _one(status, say.get(status, str(error.detail))))

    @app.exception_handler(RequestValidationError)
    async def invalid(request: Request, error: RequestValidationError) -> Response:
        found = tuple(
            Finding("field-bad", Severity.REFUSED, ".".join(map(str, e["loc"]))[:80], str(e["msg"]).lower())
            for e in error.errors()[:20]
        )
        return _answer(request.scope, 422, found)

    async def refuse(scope: Scope, status: int, message: str, allowed: str) -> ASGIApp:
        return _answer(scope, status, _one(status, message, allowed))

    app.add_middleware(Guard, refuse=refuse)
    return app
