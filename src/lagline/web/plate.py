"""One plate: its picture, the parts on it to be pinned or moved, regions to keep out of, and its factory edges."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from lagline.book.shelf import JOB, Clash, Held
from lagline.cards import words
from lagline.cards.draw_plate import part_key
from lagline.desk import plate_edit
from lagline.desk.job_desk import JobDesk
from lagline.desk.pictures import draw_plate, linked
from lagline.planning.job_plates import SIDES
from lagline.planning.pins_held import held, left_bottom
from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Finding
from lagline.records.geometry import Loop, Move
from lagline.records.job import Job, Part
from lagline.records.plan import Plan
from lagline.web.edit import clash_page
from lagline.web.forms import Form, read_form
from lagline.web.look import page

router = APIRouter()
Given = Annotated[Form, Depends(read_form)]
FIRST_LOOK_S = 0.15
DONE = {
    "pinned": "Pinned.",
    "moved": "Moved.",
    "let-go": "Let go.",
    "kept-out": "No part is laid there any more.",
    "opened": "Parts may lie there again.",
    "edges": "The factory edges are as ticked.",
}


@dataclass(frozen=True, slots=True)
class Copy:
    """A copy on the plate, or a pin that holds none: what it is called, and its numbers as shown and exactly."""

    id: str
    name: str
    short: str  # what a part too small for its name is called on the picture
    part: str
    left: str
    bottom: str
    turn: str
    how: str  # the turn in words
    left_mm: str
    bottom_mm: str
    turn_deg: str
    turned_over: bool
    may_turn_over: bool
    key: str  # of its pin, empty when it is not pinned


@dataclass(frozen=True, slots=True)
class Region:
    """A region parts keep out of, in words."""

    key: str
    shape: str
    where: str


@dataclass(frozen=True, slots=True)
class Fault:
    """A form that would not do: which, why, and what was typed."""

    form: str
    findings: tuple[Finding, ...]
    typed: dict[str, str]


def _copy(form: str, names: tuple[str, str], part: Part, move: Move, key: str, units: str) -> Copy:
    left, bottom = left_bottom(part, move)
    return Copy(
        form, *names, part.name, plate_edit.shown_length(left, units), plate_edit.shown_length(bottom, units),
        plate_edit.shown_turn(move.turn), words.turn_word(move.turn, move.mirror), f"{left:.9f}", f"{bottom:.9f}",
        f"{math.degrees(move.turn) % 360:.12f}", move.mirror, part.may_mirror or move.mirror, key,
    )  # fmt: skip


def copies(plan: Plan, plate: int, keys: tuple[str, ...]) -> tuple[tuple[Copy, ...], tuple[Copy, ...]]:
    """Return the copies on a plate, and the pins on it that hold none; ``keys`` are of the job's pins, in order."""
    job, pins = plan.job, held(plan.job, plan.blanks, plan.layout)
    on = sorted((p.part, p.copy, i) for i, p in enumerate(plan.layout.placed) if p.plate == plate)
    lying = []
    for k, _, i in on:
        key = keys[pins[i]] if i in pins else ""
        move = plan.layout.placed[i].move
        names = (words.part_name(plan, i), part_key(plan, i))
        lying.append(_copy(f"pin-{i}", names, plan.blanks[k].part, move, key, job.units))
    by_name = {p.name: p for p in job.parts}
    off = [n for n, pin in enumerate(job.pins) if n not in pins.values() and pin.plate == job.plates[plate].name]
    lost = (_copy(f"off-{n}", (job.pins[n].part, ""), by_name[job.pins[n].part], job.pins[n].move, keys[n], job.units)
            for n in off)  # fmt: skip
    return tuple(lying), tuple(lost)


def regions(loops: tuple[Loop, ...], keys: tuple[str, ...], units: str) -> tuple[Region, ...]:
    """Return the regions to keep out of in words; ``keys`` in the same order."""
    out = []
    for loop, key in zip(loops, keys, strict=True):
        xs, ys = zip(*loop.points(), strict=True)
        w, h, x, y = (plate_edit.shown_length(v, units) for v in
                      (max(xs) - min(xs), max(ys) - min(ys), min(xs), min(ys)))  # fmt: skip
        n = len(loop.segments)
        straight = all(len(s.points()) == 2 for s in loop.segments)
        shape = f"round, {w} across" if not straight else f"{w} by {h}" + ("" if n == 4 else f", {n} corners")
        out.append(Region(key, shape, f"left {x}, bottom {y}"))
    return tuple(out)


def show(request: Request, slug: str, number: int, status: int = 200, fault: Fault | None = None) -> Response:
    """Return the plate's page: progress while the job is planned anew, its own page when that failed."""
    desk: JobDesk = request.app.state.desk
    work = desk.room.work(slug)
    work.seen.wait(FIRST_LOOK_S)
    job_text, plan = desk.shelf.read(slug, JOB), work.plan
    if desk.room.fingerprint(slug) != work.fingerprint:
        return RedirectResponse(f"/jobs/{slug}/plate/{number}", 303)  # changed by somebody in this moment
    if plan is None and not work.at_work:
        return RedirectResponse(f"/jobs/{slug}", 303)
    context: dict[str, Any] = {
        "slug": slug, "name": desk.card(slug).name, "number": number, "work": work, "plan": plan, "fault": fault,
        "plate_name": _plate_name(plan, job_text.text, number), "svg": work.pictures.get(number, ""),
    }  # fmt: skip
    if plan is not None:
        context |= _sections(plan, slug, number, job_text, work.pictures)
        context |= {"faults": fault.findings if fault else (), "done": DONE.get(request.query_params.get("done", ""))}
    return page(request, "plan/plate.html", status, **context)


def _plate_name(plan: Plan | None, job_text: str, number: int) -> str:
    """What the plate is called: as planned, as one chosen from the rack stands in no text."""
    if plan is not None and 0 <= number < len(plan.job.plates):
        return plan.job.plates[number].name
    return plate_edit.plate_name(job_text, number)


def _sections(plan: Plan, slug: str, number: int, job: Held, pictures: dict[int, str]) -> dict[str, Any]:
    if not 0 <= number < len(plan.job.plates):
        raise refuse("setup-unknown", slug, f"there is no plate number {number}", "a plate of the job")
    plate = plan.job.plates[number]
    svg = pictures.get(number) or draw_plate(plan, number)  # one that nothing lies on is drawn when it is asked for
    lying, lost = copies(plan, number, plate_edit.pin_keys(job.text))
    closed = regions(plate.keep_out, plate_edit.region_keys(job.text, number), plan.job.units)
    return {
        "plate": plate, "svg": linked(svg, plan, number, f"/jobs/{slug}/setup/"), "lying": lying, "lost": lost,
        "closed": closed, "sides": SIDES, "mark": job.mark,
        "pin_findings": [f for f in plan.findings if f.code.startswith("pin-")],
        "edge_findings": [f for f in plan.findings if (f.code, f.where) == ("layout-factory-edge", plate.name)],
        "before": number - 1 if number else None, "after": number + 1 if number + 1 < len(plan.job.plates) else None,
    }  # fmt: skip


@router.get("/jobs/{slug}/plate/{number}")
def look(request: Request, slug: str, number: int) -> Response:
    return show(request, slug, number)


def _edited(
    request: Request, slug: str, number: int, given: Form, make: Callable[[str], str], done: str,
    also: Callable[[Job], None] = lambda _: None,
) -> Response:  # fmt: skip
    """Save a change of the job's text and show the plate again; the form with its fault when it will not do."""
    desk: JobDesk = request.app.state.desk
    try:
        saved = desk.edit(slug, make, given["based_on"], also)
    except LaglineError as e:
        return show(request, slug, number, 422, Fault(given["form"], e.findings, given.text))
    if isinstance(saved, Clash):
        return clash_page(request, slug, JOB, saved)
    desk.room.work(slug)
    return RedirectResponse(f"/jobs/{slug}/plate/{number}?done={done}", 303)


@router.post("/jobs/{slug}/plate/{number}/pin")
def pin(request: Request, slug: str, number: int, given: Given) -> Response:
    done = "moved" if given["key"] else "pinned"
    return _edited(request, slug, number, given, lambda text: plate_edit.pin(text, given.text), done)


@router.post("/jobs/{slug}/plate/{number}/let-go")
def let_go(request: Request, slug: str, number: int, given: Given) -> Response:
    return _edited(request, slug, number, given, lambda text: plate_edit.let_go(text, given["key"]), "let-go")


@router.post("/jobs/{slug}/plate/{number}/keep-out")
def keep_out(request: Request, slug: str, number: int, given: Given) -> Response:
    return _edited(
        request, slug, number, given, lambda text: plate_edit.keep_out(text, number, given.text), "kept-out",
        lambda job: plate_edit.check_region(job, number),
    )  # fmt: skip


@router.post("/jobs/{slug}/plate/{number}/open-up")
def open_up(request: Request, slug: str, number: int, given: Given) -> Response:
    return _edited(request, slug, number, given, lambda text: plate_edit.open_up(text, number, given["key"]), "opened")


@router.post("/jobs/{slug}/plate/{number}/edges")
def edges(request: Request, slug: str, number: int, given: Given) -> Response:
    sides = tuple(s for s in SIDES if given[s])
    return _edited(request, slug, number, given, lambda text: plate_edit.factory_edges(text, number, sides), "edges")
