"""The job and kit file as text; two people's changes shown side by side when they meet."""

from __future__ import annotations

import difflib
import re
from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from lagline.book.shelf import JOB, KIT, Clash
from lagline.desk.job_desk import JobDesk
from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Finding
from lagline.web.forms import Form, read_form
from lagline.web.look import page

router = APIRouter()
Given = Annotated[Form, Depends(read_form)]


def clash_page(request: Request, slug: str, file: str, clash: Clash) -> Response:
    """Return the page that shows both versions of a text and asks which to keep."""
    lines = difflib.unified_diff(
        clash.theirs.text.splitlines(), clash.yours.splitlines(), "on the shelf", "yours", lineterm="", n=2
    )
    return page(request, "edit/clash.html", 409, slug=slug, file=file, clash=clash, lines=list(lines)[2:400])


def _lines(findings: tuple[Finding, ...]) -> list[int]:
    return sorted({int(m[1]) for f in findings if (m := re.search(r"\bline (\d{1,6})\b", f.where))})


def _known(file: str) -> str:
    if file not in (JOB, KIT):
        raise refuse("file-unknown", file[:60], "is not a text that is edited here", f"{JOB} or {KIT}")
    return file


@router.get("/jobs/{slug}/edit/{file}")
def text(request: Request, slug: str, file: str) -> Response:
    desk: JobDesk = request.app.state.desk
    held = desk.shelf.read(slug, _known(file))
    try:
        findings = desk.check(slug, file, held.text)
    except LaglineError as e:
        findings = e.findings
    return page(
        request, "edit/text.html", slug=slug, file=file, text=held.text, mark=held.mark, findings=findings,
        lines=_lines(findings), refused=False,
    )  # fmt: skip


@router.post("/jobs/{slug}/edit/{file}")
def saved(request: Request, slug: str, file: str, given: Given) -> Response:
    desk: JobDesk = request.app.state.desk
    desk.shelf.folder(slug)
    try:
        if not given["anyway"]:
            desk.check(slug, _known(file), given["text"].replace("\r\n", "\n"))
        done = desk.shelf.save(slug, _known(file), given["text"], given["based_on"])
    except LaglineError as e:
        return page(
            request, "edit/text.html", 422, slug=slug, file=file, text=given["text"], mark=given["based_on"],
            findings=e.findings, lines=_lines(e.findings), refused=True,
        )  # fmt: skip
    if isinstance(done, Clash):
        return clash_page(request, slug, file, done)
    return RedirectResponse(f"/jobs/{slug}", 303)
