"""A job's files to take away."""

from __future__ import annotations

from urllib.parse import quote

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from lagline.desk.job_desk import JobDesk
from lagline.records.errors import LaglineError
from lagline.records.finding import Finding
from lagline.web.look import page

router = APIRouter()
KINDS = {
    ".toml": "text/plain; charset=utf-8",
    ".json": "application/json",
    ".pdf": "application/pdf",
    ".svg": "image/svg+xml",
    ".dxf": "application/octet-stream",
    ".zip": "application/zip",
}
MEANING = {
    "job.toml": "the job: parts, plates, stock",
    "kit.toml": "your bench",
    "bench-card.pdf": "the card for the bench, every set-up with its picture",
    "templates.pdf": "templates at full size, to be cut out",
    "plan.json": "every number of the plan, for programs",
    "plate.dxf": "the plate as laid out, in layers",
    "plate.svg": "the plate at true size, for paper",
}


def sent(name: str, data: bytes, *, show: bool) -> Response:
    """Return a file, to be shown when a browser can and otherwise saved."""
    suffix = name[name.rfind(".") :].lower()
    how = "inline" if show and suffix in (".pdf", ".toml", ".json") else "attachment"
    disposition = f"{how}; filename*=UTF-8''{quote(name)}"
    kind = KINDS.get(suffix, "application/octet-stream")
    return Response(data, media_type=kind, headers={"content-disposition": disposition})


@router.get("/jobs/{slug}/files")
def listed(request: Request, slug: str) -> Response:
    desk: JobDesk = request.app.state.desk
    own = desk.shelf.names(slug)
    plan = desk.room.known(slug)
    if plan is None:
        return RedirectResponse(f"/jobs/{slug}", 303)
    made: dict[str, bytes] | None = None
    findings: tuple[Finding, ...] = ()
    try:
        written = desk.outputs(slug)
        if written is not None:
            made, findings = written.files, written.findings
    except LaglineError as e:
        made, findings = {}, e.findings
    return page(
        request, "files/files.html", slug=slug, own=own, made=made, findings=findings, meaning=MEANING, plan=plan
    )


@router.post("/jobs/{slug}/files/again")
def again(request: Request, slug: str) -> Response:
    request.app.state.desk.write_again(slug)
    return RedirectResponse(f"/jobs/{slug}/files", 303)


@router.get("/jobs/{slug}/all.zip")
def everything(request: Request, slug: str) -> Response:
    return sent(f"{slug}.zip", request.app.state.desk.all_files(slug), show=False)


@router.get("/jobs/{slug}/files/{name}")
def one(request: Request, slug: str, name: str, save: bool = False) -> Response:
    return sent(name, request.app.state.desk.file(slug, name), show=not save)
