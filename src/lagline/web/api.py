"""The interface for programs: what the commands do, as JSON; faults come as findings with status 422."""

from __future__ import annotations

import json
import tempfile
import threading
from dataclasses import asdict
from functools import partial
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Depends, File, Query
from fastapi import Form as Field
from fastapi import UploadFile as Sent
from pydantic import BaseModel
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from lagline.book.shelf import JOB, KIT, check_drawing
from lagline.cards.plan_json import to_json
from lagline.desk import reason
from lagline.desk.choice_desk import choices_dict
from lagline.desk.job_desk import JobDesk
from lagline.desk.plan_room import State, read_inputs
from lagline.desk.planner import no_coupons, pasts_of
from lagline.desk.rack_again import planned
from lagline.planning.chain import plan as make_plan
from lagline.records.coupon import Learned
from lagline.records.errors import refuse
from lagline.records.finding import Finding, finding_dict
from lagline.records.job import Job
from lagline.records.kit import Kit
from lagline.records.length import read_length, show_length, show_pace
from lagline.records.plan import Plan
from lagline.shapes.named import SHAPES
from lagline.web.files import sent
from lagline.web.look import page

MOST_TEXT = 2_000_000
_AT_ONCE = threading.Semaphore(2)  # more would only make each other slow


class FindingOut(BaseModel):
    """One thing noticed: what, how grave, where, and what is allowed."""

    code: str
    severity: str
    where: str
    message: str
    allowed: str


class Fault(BaseModel):
    """The answer when the input cannot be used."""

    findings: list[FindingOut]


router = APIRouter(responses={422: {"model": Fault, "description": "The input cannot be used; why."}})


def _desk(request: Request) -> JobDesk:
    return request.app.state.desk


Desk = Annotated[JobDesk, Depends(_desk)]


def _plan_answer(text: str) -> Response:
    return Response(text, media_type="application/json")


def _text(data: bytes, name: str) -> str:
    if len(data) > MOST_TEXT:
        raise refuse("file-large", name, f"is {len(data) / 1e6:.1f} MB", "up to 2 MB of text")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise refuse("file-unreadable", name, "is not plain text", "UTF-8 text") from None


@router.get("/api", include_in_schema=False)
def routes(request: Request) -> Response:
    """The list of routes, for people."""
    return page(request, "api/routes.html", schema=request.app.openapi())


@router.post("/api/plan", summary="Plan a job from its text and drawings; nothing is kept")
def plan_posted(
    desk: Desk,
    job: Annotated[str, Field(description="the job file's text (TOML)")],
    kit: Annotated[str, Field(description="the kit file's text; empty for the generic kit")] = "",
    drawings: Annotated[list[Sent], File(description="the DXF and SVG files the job names")] = [],  # noqa: B006
    seconds: Annotated[int, Query(ge=1, le=60, description="time a dense layout may take [s]")] = 5,
) -> Response:
    """Return the plan: every key carries its unit."""
    with tempfile.TemporaryDirectory(prefix="lagline-") as made:
        folder = Path(made)
        for d in drawings[:100]:
            data = d.file.read()
            (folder / check_drawing(d.filename or "", data, "drawings")).write_bytes(data)
        (folder / JOB).write_text(_text(job.encode(), JOB), encoding="utf-8")
        if kit.strip():
            (folder / KIT).write_text(_text(kit.encode(), KIT), encoding="utf-8")

        def made_of(inputs: Job, tools: Kit, noticed: tuple[Finding, ...], _: Learned) -> Plan:
            return make_plan(inputs, tools, noticed, seconds=seconds)

        with _AT_ONCE:
            pasts = pasts_of(folder / JOB, desk.rack.pasts)
            read = partial(read_inputs, folder)
            return _plan_answer(to_json(planned(read, made_of, no_coupons, desk.rack.items, pasts)))


@router.get("/api/jobs", summary="The jobs on the shelf")
def jobs(desk: Desk) -> list[dict[str, Any]]:
    """Return every job with what is known of its plan."""
    return [
        {
            "slug": c.slug,
            "name": c.name,
            "parts": c.parts,
            "fault": c.fault,
            "plan": None
            if c.summary is None
            else {
                "go": c.summary.go,
                "minutes_low_best_high": list(c.summary.minutes),
                "cost_low_best_high": list(c.summary.cost),
                "currency": c.summary.currency,
                "setups": c.summary.setups,
                "left_over": c.summary.left_over,
            },
        }
        for c in desk.cards()
    ]


@router.get("/api/jobs/{slug}/plan", summary="A job's plan; made when it is not there yet")
def job_plan(desk: Desk, slug: str) -> Response:
    """Return the plan, waiting for it."""
    work = desk.room.work(slug)
    if not work.over.wait(300):
        raise refuse("not-planned", slug, "planning takes over five minutes", "ask again, or stop it on its page")
    if work.plan is None:
        faults = work.findings or refuse("not-planned", slug, "planning was stopped", "ask again").findings
        desk.room.again(slug)
        return JSONResponse({"findings": [finding_dict(f) for f in faults]}, 422)
    return _plan_answer(to_json(work.plan))


@router.get("/api/jobs/{slug}/choices", summary="The ways to lay a job out; looked for when nobody has yet")
def job_choices(
    desk: Desk,
    slug: str,
    wait_s: Annotated[float, Query(ge=0, le=300, description="how long to wait for the search to end [s]")] = 300,
) -> Response:
    """Return what each way is best at, its layout and seed, minutes, set-ups, metal, money and offcut; ``state`` is
    "done" when the search is over, else these are the best so far."""
    search = desk.choices.search(slug)
    search.over.wait(wait_s)
    faults = [finding_dict(f) for f in search.findings]
    if search.found is None and search.state in (State.REFUSED, State.FAILED):
        desk.choices.again(slug)
        return JSONResponse({"findings": faults}, 422)
    head = {"state": str(search.state), "share_done": round(search.share, 3), "findings": faults}
    if search.found is None:
        return JSONResponse({**head, "choices": []})
    # a search is known for the job as it is now: its file is the one that was read, but for a layout taken since
    job = read_inputs(desk.shelf.folder(slug), desk.rack.items, own=True)[0]
    return JSONResponse({**head, **choices_dict(search.found, job, desk.room.known(slug))})


@router.get("/api/jobs/{slug}/files", summary="The names of a job's own files")
def job_files(desk: Desk, slug: str) -> list[str]:
    """Return the job file, the kit file and the drawings."""
    return list(desk.shelf.names(slug))


@router.get("/api/jobs/{slug}/files/{name}", summary="One file: an own one, or one made from the plan")
def job_file(desk: Desk, slug: str, name: str) -> Response:
    """Return a file, made first if need be (bench-card.pdf, templates.pdf, plan.json, plate.dxf, plate.svg)."""
    return sent(name, desk.file(slug, name), show=False)


@router.get("/api/jobs/{slug}/why/{path}", summary="Why a number of the plan is what it is")
def why(desk: Desk, slug: str, path: str) -> dict[str, Any]:
    """Return value, spread, formula, source, inputs and whose number it is; path as in ``settings.0.kerf_mm``."""
    plan = desk.room.known(slug)
    if plan is None:
        raise refuse("not-planned", slug, "the job is not planned as it stands", "ask for its plan first")
    found = reason.reason(plan, path)
    return {
        "title": found.title,
        **asdict(found.figure),
        "formula_text": found.formula.text if found.formula else "",
        "inputs": [list(pair) for pair in found.figure.inputs],
    }


@router.get("/api/shapes", summary="The named shapes and what each asks for")
def shapes() -> list[dict[str, Any]]:
    """Return every shape with its sizes."""
    return [{"name": s.name, "meaning": s.meaning, "params": [asdict(p) for p in s.params]} for s in SHAPES.values()]


@router.get("/api/length", summary="Read a length as the shop writes it")
def length(
    text: Annotated[str, Query(max_length=200, description='such as 1-1/2" or 12 mm')],
    units: Annotated[str, Query(pattern="^(in|mm)$", description="unit of a bare number")] = "in",
) -> dict[str, Any]:
    """Return the length in millimetres and as it is shown."""
    mm = read_length(text, units, "text", signed=True)
    return {"length_mm": mm, "shown_in": show_length(mm, "in"), "shown_mm": show_length(mm, "mm")}


@router.get("/api/pace", summary="A pace as a beat")
def pace(pace_mm_s: Annotated[float, Query(gt=0, le=1000)]) -> dict[str, str]:
    """Return a pace in words, inches and millimetres."""
    return {"shown_in": show_pace(pace_mm_s, "in"), "shown_mm": show_pace(pace_mm_s, "mm")}


@router.get("/api/formulas", summary="Every formula with its range and source")
def formulas() -> list[dict[str, Any]]:
    """Return the register of formulas."""
    return json.loads(json.dumps([asdict(f) for f in reason.formulas()], default=str))


@router.get("/api/formulas/{key}", summary="One formula")
def formula(key: str) -> dict[str, Any]:
    """Return one formula by its key, ``kerf.from-bore``."""
    return asdict(reason.formula(key))
