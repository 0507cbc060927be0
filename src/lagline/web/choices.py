"""The ways to lay a job out, side by side, to take one of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from lagline.book.shelf import JOB, Clash
from lagline.cards import words
from lagline.desk.choice_desk import LEFT_OUT, best_at_nothing
from lagline.desk.choice_room import Search
from lagline.desk.job_desk import JobDesk
from lagline.desk.plan_room import State
from lagline.planning.job_file import job_from_text
from lagline.records.errors import LaglineError
from lagline.records.finding import Finding
from lagline.web.edit import clash_page
from lagline.web.forms import Form, read_form
from lagline.web.look import minutes, page

router = APIRouter()
Given = Annotated[Form, Depends(read_form)]
FIRST_LOOK_S = 0.15


@dataclass(frozen=True, slots=True)
class WayCard:
    """One way as it stands on the page: what it is best at, its pictures by plate, its numbers."""

    best_at: str
    layout: str
    seed: int
    used: bool
    left_over: int
    pictures: tuple[tuple[str, str], ...]  # plate's name, drawing
    numbers: tuple[tuple[str, str], ...]


def way_cards(search: Search, used: object) -> tuple[WayCard, ...]:
    """Return the ways found so far, as the page shows them; ``used`` is the one the job is laid out by."""
    if search.found is None:
        return ()
    job, bench = search.found.job, search.found.kit.bench
    out = []
    for way in search.ways:
        c, e = way.choice, way.choice.estimate
        w, h = e.offcut_mm
        size = f"{words.tape(w, job.units)} by {words.tape(h, job.units)}" if min(w, h) > 1 else "none"
        numbers = (
            ("minutes", minutes(e.minutes)),
            ("guide set-ups", str(e.setups)),
            (f"metal, {bench.currency}", f"{e.metal:.0f}"),
            (f"money, {bench.currency}", f"{e.money:.0f}"),
            ("largest offcut", size),
        )
        best = ", ".join(c.best_at)
        drawn = tuple((job.plates[i].name, svg) for i, svg in way.pictures.items())
        out.append(WayCard(best[:1].upper() + best[1:], c.method, c.seed, c is used, e.left_over, drawn, numbers))
    return tuple(out)


def show(request: Request, slug: str, status: int = 200, fault: tuple[Finding, ...] = ()) -> Response:
    """Return the page; it begins the search when there is none for the job as it is now."""
    desk: JobDesk = request.app.state.desk
    held = desk.shelf.read(slug, JOB)
    search = desk.choices.search(slug)
    search.over.wait(FIRST_LOOK_S)
    layout, used, beaten = "", None, False
    try:
        job, _ = job_from_text(held.text, desk.shelf.folder(slug), JOB, rack=desk.rack.items, own=True)
    except LaglineError:
        pass  # the search says what is wrong with it
    else:
        layout, used = f"{job.layout}, seed {job.seed}", search.used(job, desk.room.known(slug))
        beaten = search.state is State.DONE and search.found is not None and best_at_nothing(job, search.found)
    context: dict[str, Any] = {
        "slug": slug, "name": desk.card(slug).name, "search": search, "cards": way_cards(search, used),
        "layout": layout, "beaten": beaten, "mark": held.mark, "fault": fault, "left_out": LEFT_OUT,
    }  # fmt: skip
    return page(request, "choices/choices.html", status, **context)


@router.get("/jobs/{slug}/choices")
def look(request: Request, slug: str) -> Response:
    return show(request, slug)


@router.post("/jobs/{slug}/choices/stop")
def stop(request: Request, slug: str) -> Response:
    desk: JobDesk = request.app.state.desk
    search = desk.choices.search(slug)
    desk.choices.stop(slug)
    search.over.wait(3)
    return RedirectResponse(f"/jobs/{slug}/choices", 303)


@router.post("/jobs/{slug}/choices/again")
def again(request: Request, slug: str) -> Response:
    desk: JobDesk = request.app.state.desk
    desk.shelf.folder(slug)
    desk.choices.again(slug)
    return RedirectResponse(f"/jobs/{slug}/choices", 303)


@router.post("/jobs/{slug}/choices/take")
def take(request: Request, slug: str, given: Given) -> Response:
    desk: JobDesk = request.app.state.desk
    before = desk.room.fingerprint(slug)
    try:
        done = desk.take_choice(slug, given["layout"], given["seed"], given["based_on"])
    except LaglineError as e:
        return show(request, slug, 422, e.findings)
    if isinstance(done, Clash):
        return clash_page(request, slug, JOB, done)
    desk.room.work(slug)
    return RedirectResponse(f"/jobs/{slug}?{urlencode({'before': before})}", 303)
