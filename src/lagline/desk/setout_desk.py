"""A set-out from what was typed: kit and coupons found, the answers made, and given to programs as plain values."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from lagline.planning.fields import read_thickness
from lagline.planning.kit_file import METALS, generic_kit, read_kit
from lagline.records.coupon import Learned
from lagline.records.errors import refuse
from lagline.records.finding import Finding, Severity, finding_dict, sort_findings
from lagline.records.job import Stock
from lagline.records.kit import Kit
from lagline.records.setout import SetOut
from lagline.setouts.ask import Ask, Field, Given, choice, number, read_given
from lagline.setouts.bench import Bench
from lagline.setouts.families import ask_of

Learn = Callable[[Kit], tuple[Learned, tuple[Finding, ...]]]
METAL = choice("metal", "metal", *METALS)
CURRENT = number("current", "current; empty lets lagline choose", "A", least=1, most=1000)
UNITS = ("in", "mm")
PAPERS = ("letter", "a4", "roll")


def bench_fields(ask: Ask) -> tuple[Field, ...]:
    """Return the fields that every set-out with a torch behind it takes besides its own."""
    own = {f.name for f in ask.fields}
    return tuple(f for f in (METAL, CURRENT) if f.name not in own) if ask.thickness else ()


def with_bench(ask: Ask) -> Ask:
    """Return the set-out asking for the bench too."""
    return replace(ask, fields=(*ask.fields, *bench_fields(ask)))


def find_kit(path: Path | None) -> tuple[Kit, tuple[Finding, ...]]:
    """Return the kit of a file, else ``kit.toml`` here, else the built-in generic one (said so)."""
    here = Path("kit.toml")
    if path is not None or here.is_file():
        return read_kit(path or here)
    note = Finding(
        "generic-kit",
        Severity.NOTE,
        "kit",
        "no kit file: the built-in generic kit is used, every figure a default with its spread",
        "describe your own in kit.toml; a coupon makes its figures yours",
    )
    return generic_kit(), (note,)


def _thickness(ask: Ask, texts: Mapping[str, str], units: str, metal: str) -> tuple[str, str]:
    """Return the thickness as typed and as a length: a gauge number, ``10 ga``, is looked up for the metal."""
    typed = texts.get(ask.thickness, "").strip()
    if not typed.lower().replace(".", "").endswith(("ga", "gauge")):
        bare = typed[-1:].isdigit()
        return typed + ('"' if units == "in" else " mm") if bare else typed, typed
    mm, _ = read_thickness(typed, metal, "bare", units, f"{ask.kind}, {ask.thickness.replace('_', ' ')}")
    return typed, f"{mm!r} mm"


def answer(
    family: str,
    name: str,
    texts: Mapping[str, str],
    *,
    units: str = "in",
    paper: str = "letter",
    kit: tuple[Kit, tuple[Finding, ...]] | None = None,
    learn: Learn | None = None,
) -> SetOut:
    """Return the set-out asked for.

    Parameters
    ----------
    texts : field name to text as typed; empty means left out
    units : ``in`` or ``mm``: unit of bare lengths, and how lengths are shown
    kit : the kit and what was noticed in it; none is the generic one
    learn : what the coupons of a kit teach; none is nothing

    Errors: ``LaglineError`` with every fault of what was typed, or with what would work instead.
    """
    if units not in UNITS:
        raise refuse("setout-units", "units", f'"{units[:20]}" is no unit of length', "in or mm")
    plain = ask_of(family, name)
    ask = with_bench(plain)
    texts = {k: v for k, v in texts.items() if v.strip()}
    typed = ""
    if ask.thickness and ask.thickness in texts:
        typed, mm = _thickness(ask, texts, units, texts.get("metal", METALS[0]).lower())
        texts = texts | {ask.thickness: mm}
    given = read_given(ask, texts, units, paper)
    found: tuple[Finding, ...] = ()
    if ask.thickness and (thick := given.get(ask.thickness)):
        bench, found = _bench(given, thick, typed, kit, learn)
        given = replace(given, bench=bench, typed=dict(given.typed) | {ask.thickness: typed})
    made = plain.make(given)
    return replace(made, findings=sort_findings((*made.findings, *found)))


def _bench(
    given: Given, thick: float, typed: str, kit: tuple[Kit, tuple[Finding, ...]] | None, learn: Learn | None
) -> tuple[Bench, tuple[Finding, ...]]:
    chosen, noticed = kit if kit is not None else find_kit(None)
    learned, told = learn(chosen) if learn is not None else (Learned(), ())
    stock = Stock(given.word("metal"), "", thick, typed)
    return Bench(chosen, learned, stock, given.get("current")), (*noticed, *told)


def as_dict(s: SetOut) -> dict[str, Any]:
    """Return a set-out as plain values: every number under its key, every table as rows by column, then spreads,
    sources, steps and findings."""
    out: dict[str, Any] = {"set_out": s.kind, "title": s.title, "given": {k: v for k, _, v in s.given}}
    taken = set(out)
    for n in s.numbers:
        if n.key in taken:
            raise ValueError(f"{s.kind}: two answers are called {n.key}")
        taken.add(n.key)
        out[n.key] = n.figure.value
    for t in s.tables:
        keys = [c.key for c in t.columns]
        out[t.key] = [dict(zip(keys, row, strict=True)) for row in t.rows]
    out["spread"] = {n.key: [n.figure.low, n.figure.high] for n in s.numbers if n.figure.low < n.figure.high}
    out["sources"] = {
        n.key: {"formula": n.figure.formula, "basis": str(n.figure.basis), "source": n.figure.source} for n in s.numbers
    }
    out["steps"] = list(s.steps)
    out["findings"] = [finding_dict(f) for f in s.findings]
    return out


def sheet_pdf(s: SetOut, units: str, paper: str) -> bytes:
    """Return the printed sheet of a set-out: answers, steps and picture, then every drawing at full scale."""
    from lagline.cards.setout_sheet import pdf

    return pdf(s, units, paper)


def sound_of(ask: Ask, s: SetOut) -> bytes:
    """Return the beat of a set-out as a WAV file. Errors: LaglineError when it has none, or one too long to play."""
    if ask.sound is None:
        raise refuse("setout-sound", s.kind, "there is nothing to hear", "guide beat has a beat")
    try:
        return ask.sound(s)
    except ValueError as error:
        raise refuse("setout-sound", s.kind, str(error), "a shorter stretch of the cut") from None


def write_sound(ask: Ask, s: SetOut, path: Path) -> None:
    """Write the beat as a WAV file. Errors: LaglineError when there is none or the file cannot be written."""
    from lagline.desk.planner import write_files

    write_files({path.name: sound_of(ask, s)}, path.parent)


def write_sheet(s: SetOut, path: Path, units: str, paper: str) -> None:
    """Write the printed sheet. Errors: LaglineError when the file cannot be written."""
    from lagline.desk.planner import write_files

    write_files({path.name: sheet_pdf(s, units, paper)}, path.parent)
