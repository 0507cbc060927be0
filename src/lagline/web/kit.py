"""The kit as one page of fields."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from lagline.book.shelf import KIT, Clash
from lagline.desk.job_desk import JobDesk
from lagline.desk.kit_fields import kit_fields
from lagline.desk.kit_form import as_it_stands, kit_field_of, kit_hints, tip_rows
from lagline.records.errors import LaglineError
from lagline.records.finding import Finding
from lagline.web.edit import clash_page
from lagline.web.forms import Form, read_form
from lagline.web.look import page

router = APIRouter()
Given = Annotated[Form, Depends(read_form)]


def _form(request: Request, slug: str, typed: dict[str, str], findings: tuple[Finding, ...], mark: str) -> Response:
    by_field: dict[str, list[Finding]] = {}
    for f in findings:
        by_field.setdefault(kit_field_of(f), []).append(f)
    return page(
        request, "kit/form.html", 422 if findings else 200, slug=slug, typed=typed, findings=findings,
        by_field=by_field, mark=mark, groups=kit_fields(), hints=kit_hints(), rows=tip_rows(typed),
    )  # fmt: skip


@router.get("/jobs/{slug}/kit")
def form(request: Request, slug: str) -> Response:
    held = request.app.state.desk.shelf.read(slug, KIT)
    try:
        typed = as_it_stands(held.text)
    except LaglineError:  # only the text itself can be mended then
        return RedirectResponse(f"/jobs/{slug}/edit/{KIT}", 303)
    return _form(request, slug, typed, (), held.mark)


@router.post("/jobs/{slug}/kit")
def filled(request: Request, slug: str, given: Given) -> Response:
    desk: JobDesk = request.app.state.desk
    desk.shelf.folder(slug)
    try:
        done = desk.fill_kit(slug, given.text, given["based_on"])
    except LaglineError as e:
        return _form(request, slug, given.text, e.findings, given["based_on"])
    if isinstance(done, Clash):
        return clash_page(request, slug, KIT, done)
    desk.room.work(slug)
    return RedirectResponse(f"/jobs/{slug}", 303)
