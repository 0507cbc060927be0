"""The rack for programs: what `lagline rack` does, as JSON with the same keys."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Body, Depends, Query
from starlette.requests import Request

from lagline.book.shelf import JOB
from lagline.desk.job_desk import JobDesk
from lagline.desk.rack_views import advice_dict, cut_dict, item_dict, kept_dict
from lagline.records.errors import refuse
from lagline.records.finding import finding_dict
from lagline.records.rack import RackState
from lagline.web.api import Fault

router = APIRouter(responses={422: {"model": Fault, "description": "The input cannot be used; why."}})
Why = Annotated[str, Query(max_length=500, description="why, for whoever looks later")]


def _desk(request: Request) -> JobDesk:
    desk: JobDesk = request.app.state.desk
    return desk


Desk = Annotated[JobDesk, Depends(_desk)]


@router.get("/api/rack", summary="What lies on the rack; used and scrapped items too with all=true")
def items(desk: Desk, all: bool = False) -> dict[str, Any]:  # noqa: A002
    """Return every item with its true outline [mm]."""
    return {"items": [item_dict(i) for i in desk.rack.items() if all or i.state is RackState.ON]}


@router.post("/api/rack", status_code=201, summary="Put an item on the rack: named values as `lagline rack add` has")
def add(
    desk: Desk, given: Annotated[dict[str, Any], Body(description="width, height, metal, thickness, holes: [...] ...")]
) -> dict[str, Any]:
    """Keep an item and return it with its mark; a drawing goes by the page or the command."""
    if "file" in given:
        raise refuse("field-unknown", "file", "a drawing cannot be sent here", "points, shape, or width and height")
    added = desk.rack.add(given, "item", desk.shelf.root)
    return {"items": [item_dict(i) for i in added.items], "findings": [finding_dict(f) for f in added.findings]}


@router.get("/api/rack/{mark}", summary="One item, with what was done to it")
def one(desk: Desk, mark: str) -> dict[str, Any]:
    """Return one item."""
    return kept_dict(desk.rack.get(mark))


@router.post("/api/rack/{mark}/scrap", summary="Say an item is scrapped")
def scrap(desk: Desk, mark: str, why: Why = "") -> dict[str, Any]:
    """Return the item as it is now."""
    return item_dict(desk.rack.scrap(mark, why))


@router.post("/api/rack/{mark}/put-back", summary="Put a used or scrapped item back")
def put_back(desk: Desk, mark: str, why: Why = "") -> dict[str, Any]:
    """Return the item as it is now."""
    return item_dict(desk.rack.put_back(mark, why))


@router.get("/api/jobs/{slug}/rack", summary="Which items a job should use, and why")
def advise(desk: Desk, slug: str) -> dict[str, Any]:
    """Return a sentence for every item on the rack."""
    return advice_dict(desk.rack.advise_file(desk.shelf.path(slug, JOB), None, desk.room.learn))


@router.post("/api/jobs/{slug}/cut", summary="Say a job was cut; said twice, nothing changes")
def cut(
    desk: Desk,
    slug: str,
    again: Annotated[bool, Query(description="it was cut once more, on other plates")] = False,
    anyway: Annotated[bool, Query(description="it was cut although its plan is a no-go")] = False,
) -> dict[str, Any]:
    """Return what was used and left; ``fresh`` is false when it had been written before."""
    plan = desk.room.known(slug)
    if plan is None:
        raise refuse("not-planned", slug, "the job is not planned as it stands", "ask for its plan first")
    return cut_dict(desk.rack.cut_plan(plan, again=again, anyway=anyway))
