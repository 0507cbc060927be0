"""The ways to lay a job out, from its files: looked for, drawn, and told to people and programs alike."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from lagline.desk.pictures import preview_pictures
from lagline.desk.planner import Learn, no_coupons, read_files
from lagline.planning.choose_layout import TRIED
from lagline.planning.fields import shown
from lagline.planning.frontier import SEEDS, Choice, frontier
from lagline.planning.job_edit import set_value
from lagline.planning.rack_advice import from_rack
from lagline.planning.rack_use import Rack, no_rack
from lagline.records.coupon import Learned
from lagline.records.errors import refuse
from lagline.records.finding import Finding
from lagline.records.job import Job
from lagline.records.kit import Kit
from lagline.records.plan import Blank, Plan

LEFT_OUT = "walking and rests left out"
Found = Callable[["Choices"], None]
# what is read from near; a picture as wide as a thumb shows where the metal goes
_WORDS = re.compile(r"<text .*?</text>|<path class=\"ll-(?:patch|leader|tick)\".*?/>", re.S)


@dataclass(frozen=True, slots=True)
class Choices:
    """The ways found so far, and the job and kit they are for."""

    job: Job
    kit: Kit
    blanks: tuple[Blank, ...]
    ways: tuple[Choice, ...]
    findings: tuple[Finding, ...] = ()


def choices_of_files(
    job_path: Path,
    kit_path: Path | None = None,
    *,
    learn: Learn = no_coupons,
    rack: Rack = no_rack,
    tell: Callable[[float, str], None] = lambda _share, _text: None,
    stop: Callable[[], bool] = lambda: False,
    found: Found = lambda _: None,
    seconds: int = 5,
) -> Choices:
    """Read a job and a kit file and return the ways to lay the job out, the cheapest first.

    ``found`` is shown what there is after each way tried; once ``stop`` is true, the best so far is returned.
    Errors: LaglineError with the findings of both files together when either cannot be used.
    """
    job, kit, noticed = read_files(job_path, kit_path, rack)
    learned, more = learn(kit)
    return choices_of(job, kit, (*noticed, *more), learned=learned, tell=tell, stop=stop, found=found, seconds=seconds)


def choices_of(
    job: Job,
    kit: Kit,
    noticed: tuple[Finding, ...] = (),
    *,
    learned: Learned = Learned(),
    tell: Callable[[float, str], None] = lambda _share, _text: None,
    stop: Callable[[], bool] = lambda: False,
    found: Found = lambda _: None,
    seconds: int = 5,
) -> Choices:
    """Return the ways to lay a job out; see :func:`choices_of_files`."""
    job, chosen = from_rack(job, kit, learned)
    noticed = (*noticed, *chosen)

    def come(blanks: tuple[Blank, ...], ways: tuple[Choice, ...]) -> None:
        found(Choices(job, kit, blanks, ways, noticed))

    blanks, ways = frontier(job, kit, learned=learned, seconds=seconds, tell=tell, stop=stop, found=come)
    return Choices(job, kit, blanks, ways, noticed)


def used_now(job: Job, ways: tuple[Choice, ...], plan: Plan | None = None) -> Choice | None:
    """Return the way the job is laid out by as it stands, None when it is not among them or cannot be told.

    A job that says "best" names none: its plan, where there is one, shows which it took.
    """
    for way in ways:
        if (way.method, way.seed) == (job.layout, job.seed):
            return way
    if job.layout != "best" or plan is None:
        return None
    may = (w for w in ways if w.method in TRIED and w.seed == job.seed)
    return next((w for w in may if w.laid.layout.placed == plan.layout.placed), None)


def best_at_nothing(job: Job, found: Choices) -> bool:
    """Return whether a job, as it stands now, is laid out by a way that was tried and is not among the choices."""
    ahead = job.seed - found.job.seed
    tried = job.layout != "best" and 0 <= ahead < (1 if job.layout == "dense" else SEEDS)
    return tried and bool(found.ways) and used_now(job, found.ways) is None


def taken(job_text: str, layout: str, seed: str) -> str:
    """Return a job's text with a way to lay it out written in; an empty ``seed`` leaves the one it has.

    Errors: LaglineError for a seed that is no number; whether layout and seed will do the reader of the file says.
    """
    text, seed = set_value(job_text, ("layout",), layout[:40]), seed.strip()
    if not seed:
        return text
    if not (seed.isascii() and seed.isdecimal() and len(seed) < 12):
        raise refuse("field-bad", "seed", f"{shown(seed)} is not a seed", "a whole number such as 2")
    return set_value(text, ("seed",), int(seed))


def way_pictures(choices: Choices, way: Choice) -> dict[int, str]:
    """Return each plate as that way lays it, by plate, without the words that only a large picture has room for."""
    drawn = preview_pictures(choices.job, choices.kit, choices.blanks, way.laid.layout)
    return {i: _WORDS.sub("", svg) for i, svg in drawn.items()}


def picture_files(choices: Choices) -> dict[str, bytes]:
    """Return a picture for each plate of each way, by file name: ``choice-1-guided-1-plate-A.svg``."""
    out = {}
    for n, way in enumerate(choices.ways, 1):
        for i, svg in preview_pictures(choices.job, choices.kit, choices.blanks, way.laid.layout).items():
            plate = re.sub(r"[^A-Za-z0-9]+", "-", choices.job.plates[i].name).strip("-") or str(i + 1)
            stem = f"choice-{n}-{way.method}-{way.seed}-plate-{plate}"
            out[f"{stem}.svg" if f"{stem}.svg" not in out else f"{stem}-{i + 1}.svg"] = svg.encode()
    return out


def choices_dict(choices: Choices, job: Job, plan: Plan | None = None) -> dict[str, object]:
    """Return the ways as plain values, as every door gives them to other programs; ``job`` as it stands now."""
    now = used_now(job, choices.ways, plan)
    return {
        "job": job.name,
        "layout_now": job.layout,
        "seed_now": job.seed,
        "currency": choices.kit.bench.currency,
        "minutes_are": LEFT_OUT,
        "choices": [_way_dict(w, used=w is now) for w in choices.ways],
    }


def _way_dict(way: Choice, *, used: bool) -> dict[str, object]:
    e = way.estimate
    return {
        "best_at": list(way.best_at),
        "layout": way.method,
        "seed": way.seed,
        "used_now": used,
        "minutes": round(e.minutes, 2),
        "setups": e.setups,
        "metal_cost": round(e.metal, 2),
        "cost": round(e.money, 2),
        "offcut_width_mm": round(e.offcut_mm[0], 1),
        "offcut_height_mm": round(e.offcut_mm[1], 1),
        "left_over": e.left_over,
    }
