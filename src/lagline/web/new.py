"""A new job, or a part more for a job: from drawings, or from a shape the shop has a word for."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from lagline.book.shelf import JOB, Clash
from lagline.desk.job_desk import JobDesk
from lagline.desk.kit_form import kit_field_of, kit_hints
from lagline.desk.new_job import DRAWING, USES, field_of
from lagline.desk.shape_pictures import shape_picture
from lagline.planning.job_stock import COATINGS, METALS
from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Finding
from lagline.shapes.named import SHAPES
from lagline.web.edit import clash_page
from lagline.web.forms import Form, read_form
from lagline.web.look import page

router = APIRouter()
Given = Annotated[Form, Depends(read_form)]
FIRST = {
    "units": "in", "paper": "letter", "stock.metal": "steel", "stock.coating": "mill scale", "part.quantity": "1",
    "part.edges_outer": "free", "part.edges_holes": "free", "part.size": "finished",
}  # fmt: skip


def _known(kind: str) -> str:
    if kind != DRAWING and kind not in SHAPES:
        raise refuse("shape-unknown", "shape", f'there is no shape "{kind[:40]}"', ", ".join((DRAWING, *SHAPES)))
    return kind


def _form(
    request: Request, kind: str, typed: dict[str, str], findings: tuple[Finding, ...], job: tuple[str, str] | None
) -> Response:
    by_field: dict[str, list[Finding]] = {}
    for f in findings:
        by_field.setdefault(kit_field_of(f) or field_of(f), []).append(f)
    return page(
        request, "new/form.html", 422 if findings else 200, kind=kind, shape=SHAPES.get(kind), typed=typed,
        findings=findings, by_field=by_field, uses=USES, metals=METALS, coatings=COATINGS, job=job,
        picture=shape_picture(kind), hints=kit_hints(),
        holed=kind == DRAWING or any(word in p.name for p in SHAPES[kind].params
                                                                 for word in ("hole", "inside", "slot", "opening")),
    )  # fmt: skip


def _choice(request: Request, where: str, job: str) -> Response:
    pictures = {name: shape_picture(name) for name in (DRAWING, *SHAPES)}
    return page(request, "new/choice.html", where=where, pictures=pictures, job=job)


@router.get("/new")
def choice(request: Request) -> Response:
    return _choice(request, "/new", "")


@router.get("/new/{kind}")
def form(request: Request, kind: str) -> Response:
    return _form(request, _known(kind), dict(FIRST), (), None)


@router.post("/new/{kind}")
def made(request: Request, kind: str, given: Given) -> Response:
    desk: JobDesk = request.app.state.desk
    try:
        slug = desk.add_job(_known(kind), given.text, given.uploads("part.file"), given.uploads("plate.file"))
    except LaglineError as e:
        return _form(request, kind, given.text, e.findings, None)
    desk.room.work(slug)
    return RedirectResponse(f"/jobs/{slug}", 303)


@router.get("/jobs/{slug}/add")
def add_choice(request: Request, slug: str) -> Response:
    request.app.state.desk.shelf.folder(slug)
    return _choice(request, f"/jobs/{slug}/add", slug)


@router.get("/jobs/{slug}/add/{kind}")
def add_form(request: Request, slug: str, kind: str) -> Response:
    held = request.app.state.desk.shelf.read(slug, JOB)
    return _form(request, _known(kind), dict(FIRST), (), (slug, held.mark))


@router.post("/jobs/{slug}/add/{kind}")
def added(request: Request, slug: str, kind: str, given: Given) -> Response:
    desk: JobDesk = request.app.state.desk
    desk.shelf.folder(slug)
    try:
        done = desk.add_part(slug, _known(kind), given.text, given.uploads("part.file"), given["based_on"])
    except LaglineError as e:
        return _form(request, kind, given.text, e.findings, (slug, given["based_on"]))
    if isinstance(done, Clash):
        return clash_page(request, slug, JOB, done)
    return RedirectResponse(f"/jobs/{slug}", 303)
