"""A job's plan: verdict, plates, cautions, set-ups, parts; and one value changed at a time."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from lagline.book.shelf import JOB, KIT, Clash
from lagline.cards import words
from lagline.cards.card_tables import bevel_rows
from lagline.desk.job_desk import JobDesk
from lagline.desk.kit_form import assumed
from lagline.desk.one_value import OneValue, parts_asked, values
from lagline.desk.pictures import linked
from lagline.desk.plan_room import Work
from lagline.records.errors import LaglineError
from lagline.records.finding import Finding, Severity, sort_findings
from lagline.records.length import show_length
from lagline.records.plan import Plan, Step
from lagline.web.edit import clash_page
from lagline.web.forms import Form, read_form
from lagline.web.look import page
from lagline.web.rack import when_cut

router = APIRouter()
Given = Annotated[Form, Depends(read_form)]
FIRST_LOOK_S = 0.15  # how long a page waits for something to show before it shows progress


@dataclass(frozen=True, slots=True)
class SetupLine:
    """One set-up in the list."""

    number: int
    title: str
    go: bool
    plate: str
    key: str
    start: str
    pace: str
    time: str
    rest: str
    bevel: str


@dataclass(frozen=True, slots=True)
class CutLine:
    """Set-ups of one cut that follow each other."""

    numbers: str
    title: str
    plate: str
    go: bool
    time: str
    setups: tuple[SetupLine, ...]


@dataclass(frozen=True, slots=True)
class Hurdle:
    """A no-go, said where it is."""

    number: int
    title: str
    weakest: str
    why: tuple[str, ...]


def key_text(step: Step, units: str) -> str:
    """Return the one length to set, with its name."""
    found = words.key_length(step)
    if found is None:
        return "freehand"
    name, mm = found
    here, other = words.guide_length(mm, units)
    return f"{name} {here} ({other})"


def setup_lines(plan: Plan) -> list[SetupLine]:
    """Return the list of set-ups in bench order."""
    units = plan.job.units
    clocks = {c.number: c for c in plan.timetable.clocks}
    verdicts = {v.number: v for v in plan.verdicts}
    out = []
    for s in plan.steps:
        setting = plan.setting(s.setting)
        clock, verdict = clocks.get(s.number), verdicts.get(s.number)
        wait = clock.rest_s + clock.air_wait_s if clock else 0.0
        beat = words.beat if units == "in" else words.beat_mm
        out.append(
            SetupLine(
                s.number, s.title, verdict.go if verdict else True, plan.job.plates[s.plate].name, key_text(s, units),
                s.start.value, beat(setting.pace_mm_s)[0] if s.path else "", words.clock(clock.end_s - clock.begin_s)
                if clock else "", f"rest {words.clock(wait)} first" if wait >= 1 else "",
                f"bevel {setting.bevel_deg:g} deg" if setting.bevel_deg else "",
            )
        )  # fmt: skip
    return out


def cut_lines(plan: Plan, lines: list[SetupLine]) -> list[CutLine]:
    """Return the list of set-ups with those of one cut together."""
    times = {c.number: c.end_s - c.begin_s for c in plan.timetable.clocks}
    out = []
    for _, group in itertools.groupby(zip(plan.steps, lines, strict=True), key=lambda pair: pair[0].cut):
        own = tuple(line for _, line in group)
        first, last = own[0].number, own[-1].number
        title = own[0].title if len(own) == 1 else own[0].title.rpartition(":")[0] or own[0].title
        total = words.clock(sum(times.get(line.number, 0.0) for line in own))
        numbers = f"{first}-{last}" if len(own) > 1 else f"{first}"
        out.append(CutLine(numbers, title, own[0].plate, all(line.go for line in own), total, own))
    return out


def weakest(plan: Plan) -> Hurdle | None:
    """Return the set-up nearest its limit, or furthest beyond it."""
    if not plan.verdicts:
        return None
    worst = min(plan.verdicts, key=lambda v: (v.go, v.margin))
    title = next((s.title for s in plan.steps if s.number == worst.number), "")
    return Hurdle(worst.number, title, worst.weakest, worst.why)


def hurdles(plan: Plan) -> list[Hurdle]:
    """Return every set-up that cannot go."""
    titles = {s.number: s.title for s in plan.steps}
    return [Hurdle(v.number, titles.get(v.number, ""), v.weakest, v.why) for v in plan.verdicts if not v.go]


def headline(plan: Plan) -> Finding | None:
    """Return the worst thing found against a plan that cannot go: what stops the most comes first."""
    bad = [f for f in plan.findings if f.severity in (Severity.REFUSED, Severity.NO_GO)]
    if bad:
        return sort_findings(bad)[0]
    no = hurdles(plan)
    if not plan.layout.unplaced and no:
        worst = weakest(plan) or no[0]
        return Finding("no-go", Severity.NO_GO, f"set-up {worst.number}", "; ".join((worst.weakest, *worst.why)))
    if plan.layout.unplaced:
        names = ", ".join(f"{n} {plan.blanks[i].part.name}" for i, n in plan.layout.unplaced)
        return Finding("no-go", Severity.NO_GO, "layout", f"no room for {names}")
    return None


def _offcuts(plan: Plan) -> list[tuple[str, str, str]]:
    """Return for each plate its name, the largest clear rectangle left, and the share used."""
    units, out = plan.job.units, []
    for use in plan.plates:
        _, _, w, h = use.offcut_mm
        size = f"{words.tape(w, units)} by {words.tape(h, units)}" if min(w, h) > 1 else "nothing worth keeping"
        out.append((plan.job.plates[use.plate].name, size, f"{use.use_share:.0%}"))
    return out


def bevels(plan: Plan, slug: str) -> tuple[tuple[list[str], str], ...]:
    """Return each edge to be bevelled, as on the card, and the address of its set-out."""
    edges = [(b.part.stock, e) for b in plan.blanks for e in b.part.edges if e.bevel_deg > 0]
    asked = (
        {"thickness": f"{stock.thickness_mm:.4g} mm", "angle": f"{e.bevel_deg:g}", "metal": stock.metal,
         "units": plan.job.units, "bench": slug}
        for stock, e in edges
    )  # fmt: skip
    return tuple(zip(bevel_rows(plan), (f"/setouts/bevel/cut?{urlencode(a)}" for a in asked), strict=True))


def _sections(desk: JobDesk, slug: str, work: Work, before: str) -> dict[str, object]:
    if work.plan is None:
        return {"plan": None}
    plan, link = work.plan, f"/jobs/{slug}/setup/"
    plates = [(i, plan.job.plates[i], linked(svg, plan, i, link)) for i, svg in work.pictures.items()]
    watch = [f for f in plan.findings if f.severity in (Severity.CAUTION, Severity.NO_GO, Severity.REFUSED)]
    rest = [f for f in plan.findings if f not in watch]
    left = [(plan.blanks[i].part.name, n) for i, n in plan.layout.unplaced]
    lines = setup_lines(plan)
    return {
        "plan": plan, "cuts": cut_lines(plan, lines), "summary": desk.note_plan(work), "plates": plates,
        "watch": watch, "rest": rest,
        "lines": lines, "weakest": weakest(plan), "hurdles": hurdles(plan), "left": left,
        "offcuts": _offcuts(plan), "assumed": assumed(plan.kit),
        "worst": None if plan.go else headline(plan),
        "cut": when_cut(desk.rack, plan), "bevels": bevels(plan, slug),
        "before": desk.summary(before) if before else None,
    }  # fmt: skip


def show(
    request: Request,
    slug: str,
    *,
    status: int = 200,
    fault: tuple[str, tuple[Finding, ...], dict[str, str]] | None = None,
) -> Response:
    """Return the plan page; ``fault`` is a change that would not do: which value, why, and what was typed."""
    desk: JobDesk = request.app.state.desk
    job, kit = desk.shelf.read(slug, JOB), desk.shelf.read(slug, KIT)
    work = desk.room.work(slug)
    work.seen.wait(FIRST_LOOK_S)
    query = request.query_params
    groups: dict[str, list[OneValue]] = {}
    for v in values(job.text, kit.text):
        groups.setdefault(v.group, []).append(v)
    name = desk.card(slug).name
    asked = parts_asked(job.text) if work.at_work else ()
    changed = next((v for g in groups.values() for v in g if v.id == query.get("changed")), None)
    return page(
        request, "plan/plan.html", status, slug=slug, work=work, groups=groups, marks={JOB: job.mark, KIT: kit.mark},
        name=name, asked=asked, fault=fault, changed=changed, was=query.get("was", "")[:200],
        was_low=query.get("was_low", "")[:200], was_high=query.get("was_high", "")[:200], show_length=show_length,
        **_sections(desk, slug, work, query.get("before", "")[:40]),
    )  # fmt: skip


@router.get("/jobs/{slug}")
def look(request: Request, slug: str) -> Response:
    return show(request, slug)


@router.post("/jobs/{slug}/change")
def change(request: Request, slug: str, given: Given) -> Response:
    desk: JobDesk = request.app.state.desk
    before = desk.room.work(slug).fingerprint
    try:
        one, done = desk.change(slug, given["key"], given.text, given["based_on"])
    except LaglineError as e:
        return show(request, slug, status=422, fault=(given["key"], e.findings, given.text))
    if isinstance(done, Clash):
        return clash_page(request, slug, one.file, done)
    desk.room.work(slug)
    query = urlencode({"changed": one.id, "was": one.value, "was_low": one.low, "was_high": one.high, "before": before})
    return RedirectResponse(f"/jobs/{slug}?{query}", 303)


@router.post("/jobs/{slug}/stop")
def stop(request: Request, slug: str) -> Response:
    desk: JobDesk = request.app.state.desk
    work = desk.room.work(slug)
    desk.room.stop(slug)
    work.over.wait(2)
    return RedirectResponse(f"/jobs/{slug}", 303)


@router.post("/jobs/{slug}/again")
def again(request: Request, slug: str) -> Response:
    request.app.state.desk.room.again(slug)
    return RedirectResponse(f"/jobs/{slug}", 303)
