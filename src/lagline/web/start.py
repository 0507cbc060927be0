"""The start page: the jobs on the shelf; the demo; taking a job off and putting it back."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from lagline.desk.job_desk import JobDesk
from lagline.web.look import page

router = APIRouter()


@router.get("/")
def shelf(request: Request, gone: str = "") -> Response:
    desk: JobDesk = request.app.state.desk
    binned = [(b, b.split("-", 1)[1]) for b in desk.shelf.binned()[:50]]
    name = dict(binned).get(gone)
    return page(request, "start/start.html", cards=desk.cards(), binned=binned, gone=name, called=gone)


@router.post("/demo")
def demo(request: Request) -> Response:
    return RedirectResponse(f"/jobs/{request.app.state.desk.add_demo()}", 303)


@router.post("/jobs/{slug}/off")
def off(request: Request, slug: str) -> Response:
    desk: JobDesk = request.app.state.desk
    desk.room.stop(slug)
    return RedirectResponse(f"/?gone={desk.shelf.bin(slug)}", 303)


@router.post("/back/{called}")
def back(request: Request, called: str) -> Response:
    return RedirectResponse(f"/jobs/{request.app.state.desk.shelf.put_back(called)}", 303)


@router.get("/jobs/{slug}/thumb.svg")
def thumb(request: Request, slug: str) -> Response:
    svg = request.app.state.desk.thumb(slug)
    return Response(svg or "<svg xmlns='http://www.w3.org/2000/svg'/>", media_type="image/svg+xml")
