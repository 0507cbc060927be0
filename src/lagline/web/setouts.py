"""Set-outs: choose one, type its sizes, read the distances, print the sheet. The address holds all that was asked."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from lagline.book.shelf import KIT
from lagline.cards import setout_words as words
from lagline.cards.setout_picture import picture_svg
from lagline.desk import coupon_views, setout_desk
from lagline.planning.kit_file import generic_kit, kit_from_text
from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Finding
from lagline.records.kit import Kit
from lagline.records.setout import Number, SetOut
from lagline.setouts.ask import Ask, Field
from lagline.setouts.families import FAMILIES, ask_of, asks
from lagline.trade.catalogue import all_formulas
from lagline.web.api import Fault
from lagline.web.files import sent
from lagline.web.look import page

router = APIRouter()
programs = APIRouter(responses={422: {"model": Fault, "description": "What was asked cannot be; why."}})
LONGEST = 400
OWN = ("units", "paper", "bench")


@dataclass(frozen=True, slots=True)
class Shown:
    """A number as the page shows it; ``why`` is the address of its formula, "" when it has none."""

    name: str
    shown: str
    also: str
    why: str
    main: bool


@lru_cache(maxsize=1)
def _keys() -> frozenset[str]:
    return frozenset(f.key for f in all_formulas())


def _shown(n: Number, units: str) -> Shown:
    f = n.figure
    more = [x for x in (words.also(f.value, f.unit, units), words.spread(f, units)) if x]
    why = f"/formulas/{f.formula}" if f.formula in _keys() else ""
    return Shown(n.words, words.shown(f.value, f.unit, units), "; ".join(more), why, n.main)


def fields_of(ask: Ask) -> tuple[Field, ...]:
    """Return what a page may ask: files stay on the command line, for a page could ask for anybody's."""
    return tuple(f for f in setout_desk.with_bench(ask).fields if f.kind != "file")


def _typed(request: Request) -> dict[str, str]:
    return {k: v[:LONGEST] for k, v in request.query_params.items()}


def _kit(request: Request, key: str) -> Kit:
    """Return the bench of that name: one of those to choose from, or a job's own kit by the job's address."""
    kits = coupon_views.kits(request.app.state.desk)
    if key in kits:
        return kits[key]
    shelf = request.app.state.desk.shelf
    if key in shelf.slugs():
        return kit_from_text(shelf.read(key, KIT).text, KIT)[0]
    raise refuse("bench-unknown", "bench", f'there is no bench "{key[:60]}"', ", ".join(kits) or "empty")


def _answer(request: Request, ask: Ask, typed: dict[str, str]) -> SetOut:
    units, paper = typed.get("units") or "in", typed.get("paper") or "letter"
    if paper not in setout_desk.PAPERS:
        raise refuse("setout-paper", "paper", f'"{paper[:20]}" is no paper of ours', ", ".join(setout_desk.PAPERS))
    names = {f.name for f in fields_of(ask)}
    if stray := [k for k in typed if k not in names and k not in OWN]:
        raise refuse("setout-field", ask.kind, f"there is nothing called {stray[0][:40]}", ", ".join(sorted(names)))
    kit = _kit(request, typed.get("bench", ""))
    texts = {k: v for k, v in typed.items() if k in names}
    learn = request.app.state.coupons.learned_for
    return setout_desk.answer(ask.family, ask.name, texts, units=units, paper=paper, kit=(kit, ()), learn=learn)


def _field_of(ask: Ask, f: Finding) -> str:
    name = f.where.removeprefix(f"{ask.kind}, ").replace(" ", "_")
    return name if name in {x.name for x in fields_of(ask)} else ""


def _benches(request: Request) -> dict[str, Kit]:
    return coupon_views.kits(request.app.state.desk)


@router.get("/setouts")
def index(request: Request) -> Response:
    families = [(f, asks(name)) for name, f in FAMILIES.items()]
    return page(request, "setout/index.html", families=families)


@lru_cache(maxsize=128)
def _thumb(family: str, name: str) -> bytes:
    ask = ask_of(family, name)
    made = setout_desk.answer(family, name, dict(ask.example), kit=(generic_kit(), ()))
    return picture_svg(made.picture).encode() if made.picture is not None else b""


@router.get("/setouts/{family}/{name}/picture.svg")
def picture(family: str, name: str) -> Response:
    """Show what a set-out is of, by its example."""
    return Response(_thumb(family, name), media_type="image/svg+xml", headers={"cache-control": "max-age=3600"})


@router.get("/setouts/{family}/{name}/sheet.pdf")
def sheet(request: Request, family: str, name: str) -> Response:
    ask, typed = ask_of(family, name), _typed(request)
    made = _answer(request, ask, typed)
    data = setout_desk.sheet_pdf(made, typed.get("units") or "in", typed.get("paper") or "letter")
    return sent(f"{family}-{name}.pdf", data, show=True)


@router.get("/setouts/{family}/{name}/beat.wav")
def beat(request: Request, family: str, name: str) -> Response:
    """Send the beat of a set-out that has one."""
    ask = ask_of(family, name)
    data = setout_desk.sound_of(ask, _answer(request, ask, _typed(request)))
    return Response(data, media_type="audio/wav")


@router.get("/setouts/{family}/{name}")
def one(request: Request, family: str, name: str) -> Response:
    ask, typed = ask_of(family, name), _typed(request)
    units = typed.get("units") or "in"
    context: dict[str, Any] = {
        "ask": ask,
        "fields": fields_of(ask),
        "typed": typed,
        "benches": [(k, kit.name) for k, kit in _benches(request).items()],
        "example": urlencode(dict(ask.example)),
        "made": None,
        "findings": (),
        "by_field": {},
        "query": urlencode({k: v for k, v in typed.items() if v}),
    }
    if not any(typed.get(f.name) for f in fields_of(ask)):
        return page(request, "setout/one.html", **context)
    try:
        made = _answer(request, ask, typed)
    except LaglineError as e:
        by: dict[str, list[Finding]] = {}
        for f in e.findings:
            by.setdefault(_field_of(ask, f), []).append(f)
        return page(request, "setout/one.html", 422, **context | {"findings": e.findings, "by_field": by})
    numbers = [_shown(n, units) for n in made.numbers]
    context |= {
        "made": made,
        "findings": made.findings,
        "main": [n for n in numbers if n.main],
        "others": [n for n in numbers if not n.main],
        "tables": [(t, [words.head(c, units) for c in t.columns], words.rows(t, units)) for t in made.tables],
        "svg": picture_svg(made.picture) if made.picture is not None else "",
    }
    return page(request, "setout/one.html", **context)


# ---- for programs ----


@programs.get("/api/setouts", summary="Every set-out and what it asks for")
def api_index() -> dict[str, Any]:
    """Return the families, their set-outs and the fields of each."""
    return {
        "set_outs": [
            {
                "family": a.family,
                "name": a.name,
                "meaning": a.meaning,
                "example": dict(a.example),
                "fields": [
                    {"name": f.name, "meaning": f.words, "kind": f.kind, "required": f.required,
                     "default": f.default, "choices": list(f.choices)}
                    for f in fields_of(a)
                ],
            }
            for name in FAMILIES
            for a in asks(name)
        ]
    }  # fmt: skip


@programs.get("/api/setouts/{family}/{name}", summary="One set-out; its fields as query parameters, lengths as written")
def api_one(request: Request, family: str, name: str) -> dict[str, Any]:
    """Return the answers as `lagline FAMILY NAME --json` prints them."""
    return setout_desk.as_dict(_answer(request, ask_of(family, name), _typed(request)))
