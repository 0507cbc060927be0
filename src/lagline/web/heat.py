"""The heat of a job's plates: highest temperatures, moments to slide through, parts, bands, bow."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Query
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from lagline.cards import words
from lagline.desk.heat_desk import HeatRoom, HeatWork, heat_dict
from lagline.desk.job_desk import JobDesk
from lagline.planning.heat import AIR_C, PlateHeat
from lagline.records.errors import refuse
from lagline.trade.heat_plate import handle_c
from lagline.web.look import page

router = APIRouter()
programs = APIRouter()
Wait = Annotated[float, Query(ge=0, le=60, description="How long to wait [s].")]
FIRST_LOOK_S = 0.3
PEAK = "peak"


@dataclass(frozen=True, slots=True)
class Moment:
    """One picture of a plate: its name in the address, and what it is called."""

    key: str
    said: str


@dataclass(frozen=True, slots=True)
class PlatePart:
    """One plate's part of the page."""

    heat: PlateHeat
    moments: tuple[Moment, ...]
    shown: Moment
    src: str


def _work(request: Request, slug: str) -> tuple[HeatWork | None, str]:
    """Return the work on the heat of the job's plan as it is now and the plan's fingerprint; None while there is no
    plan."""
    desk: JobDesk = request.app.state.desk
    room: HeatRoom = request.app.state.heat
    work = desk.room.work(slug)
    if work.plan is None:
        return None, work.fingerprint
    return room.work(work.fingerprint, work.plan), work.fingerprint


def _moments(heat: PlateHeat) -> tuple[Moment, ...]:
    frames = (Moment(str(n), f"at {words.clock(f.at_s)}") for n, f in enumerate(heat.frames))
    return (Moment(PEAK, "highest of the whole job"), *frames)


def _plates(work: HeatWork, request: Request, slug: str, mark: str) -> tuple[PlatePart, ...]:
    if work.heats is None:
        return ()
    out = []
    for p in work.heats.plates:
        every = _moments(p)
        asked = request.query_params.get(f"plate{p.plate}", PEAK)
        shown = next((m for m in every if m.key == asked), every[0])
        out.append(PlatePart(p, every, shown, f"/jobs/{slug}/heat/{p.plate}/{shown.key}.svg?v={mark[:8]}"))
    return tuple(out)


@router.get("/jobs/{slug}/heat")
def look(request: Request, slug: str) -> Response:
    """Return the page; it begins the work when there is none."""
    desk: JobDesk = request.app.state.desk
    work, mark = _work(request, slug)
    if work is None:
        return RedirectResponse(f"/jobs/{slug}", 303)
    work.over.wait(FIRST_LOOK_S)
    return page(
        request, "heat/heat.html", slug=slug, name=desk.card(slug).name, work=work,
        plates=_plates(work, request, slug, mark), air_c=AIR_C, handle_c=handle_c(), mark=mark[:8],
    )  # fmt: skip


@router.post("/jobs/{slug}/heat/stop")
def stop(request: Request, slug: str) -> Response:
    work, _ = _work(request, slug)
    if work is not None and not work.over.is_set():
        work.stop.set()
        work.over.wait(3)
    return RedirectResponse(f"/jobs/{slug}", 303)


@router.get("/jobs/{slug}/heat/{plate}/{moment}.svg")
def picture(request: Request, slug: str, plate: int, moment: str) -> Response:
    work, _ = _work(request, slug)
    svg = None if work is None else work.pictures.get((plate, moment))
    if svg is None:
        raise refuse("file-unknown", slug, "there is no such picture of its heat", "those on the page")
    return Response(svg, media_type="image/svg+xml", headers={"cache-control": "private, max-age=86400"})


@programs.get("/api/jobs/{slug}/heat", summary="The heat of a job's plates")
def answer(
    request: Request,
    slug: str,
    wait_s: Annotated[float, Query(ge=0, le=60, description="How long to wait [s].")] = 20.0,
) -> Response:
    """What `lagline heat --json` prints; 202 with the share done while it is worked out or planned."""
    desk: JobDesk = request.app.state.desk
    planned = desk.room.work(slug)
    planned.over.wait(wait_s)
    work, _ = _work(request, slug)
    if work is not None:
        work.over.wait(wait_s)
        if work.heats is not None:
            return JSONResponse(heat_dict(work.heats))
    if work is None and not planned.at_work:
        raise refuse("plan-none", slug, "there is no plan to work the heat out of", "see the job's plan")
    return JSONResponse({"share": 0.0 if work is None else round(work.share, 3)}, 202)
