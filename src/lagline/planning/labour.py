"""The minutes of a job by what they are spent on, each with its spread."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.planning.kit_file import generic_kit
from lagline.planning.timetable import clock_runs
from lagline.records.figure import Basis, Figure, Spread
from lagline.records.job import EdgeUse
from lagline.records.kit import Kit, Pricing
from lagline.records.plan import Blank, Layout, Setting, Step
from lagline.trade.register import formula

MARK_OUT_S = Spread(600.0, 300.0, 900.0, default=True)
COMMON = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Labour:
    """Minutes spent on one kind of work."""

    key: str
    words: str
    minutes: Figure


def pricing_of(kit: Kit) -> Pricing:
    """Return what a kit says of prices, the generic kit's when it says nothing."""
    made = kit.pricing or generic_kit().pricing
    assert made is not None
    return made


def ground_mm(blanks: tuple[Blank, ...], layout: Layout) -> float:
    """Length of edge to be ground on the parts that are cut: every edge with another use than free. [mm]"""
    each = []
    for b in blanks:
        ground = {e.name for e in b.part.edges if e.use is not EdgeUse.FREE}
        loops = b.finished.loops
        each.append(math.fsum(s.length for o in loops for s, n in zip(o.segments, o.names, strict=True) if n in ground))
    return math.fsum(each[p.part] for p in layout.placed)


@formula(
    "money.labour",
    text="mark-out 10 min (5 to 15); set-ups, arc, waits and laying aside by the timetable, its low and high ends from "
    "the runs with short and with long times; chipping = path/(2 to 6 ft/min), grinding = edge/(1/2 to 2 ft/min)",
    gives="minutes by kind of work [min]",
    source="mark-out, chipping and grinding: common practice, no source; the timetable's times from the kit",
)
def labour(
    blanks: tuple[Blank, ...], settings: tuple[Setting, ...], layout: Layout, steps: tuple[Step, ...], kit: Kit
) -> tuple[Labour, ...]:
    """Return the minutes of a job; none for nothing to do."""
    if not steps:
        return ()
    p = pricing_of(kit)
    cut_mm = math.fsum(s.length for step in steps for s in step.path)
    runs = clock_runs(steps, settings, kit)
    seconds: dict[str, list[float]] = {}
    for name in ("expected", "short", "long"):
        clocks, aside = runs[name]
        within = math.fsum(aside[:-1])  # what the last step freed is laid aside after the last clock
        for key, value in (
            ("setups", math.fsum(c.setup_s for c in clocks) - within),
            ("arc", math.fsum(c.arc_s for c in clocks)),
            ("waiting", math.fsum(c.rest_s + c.air_wait_s for c in clocks)),
            ("handling", math.fsum(aside)),
        ):
            seconds.setdefault(key, []).append(value)
    edge_mm = ground_mm(blanks, layout)
    by_clock = "the timetable: times from the kit, common practice, no source, until timed at the bench"
    out = [
        _work("mark_out", "marking out", MARK_OUT_S.value, MARK_OUT_S.low, MARK_OUT_S.high, COMMON),
        _timed("setups", "setting up: walk, guide, drilling", seconds, by_clock),
        _timed("arc", "arc on", seconds, by_clock),
        _timed("waiting", "waiting for set and air", seconds, by_clock),
        _timed("handling", "laying aside what fell", seconds, by_clock),
        _over("chipping", "knocking dross off", cut_mm, p.chip_mm_s),
    ]
    if edge_mm > 0:
        out.append(_over("grinding", "grinding edges", edge_mm, p.grind_mm_s))
    return tuple(out)


@formula(
    "money.minutes",
    text="SUM of the minutes by kind of work, low ends with low ends",
    gives="time for the whole job at the bench [min]",
    source="sum (derived)",
)
def job_minutes(parts: tuple[tuple[str, Figure], ...]) -> Figure:
    """Return all minutes together, by name of the work [min]; 0 for nothing to do."""
    return Figure(
        math.fsum(f.value for _, f in parts),
        math.fsum(f.low for _, f in parts),
        math.fsum(f.high for _, f in parts),
        "min",
        "money.minutes",
        Basis.DEFAULT,
        COMMON,
        tuple((f"{name} min", f"{f.value:.0f} ({f.low:.0f} to {f.high:.0f})") for name, f in parts),
    )


def _work(key: str, words: str, value: float, low: float, high: float, source: str) -> Labour:
    figure = Figure(value / 60, low / 60, high / 60, "min", "money.labour", Basis.DEFAULT, source)
    return Labour(key, words, figure)


def _timed(key: str, words: str, seconds: dict[str, list[float]], source: str) -> Labour:
    """A rest can be shorter in a slow run: the ends are the least and the most of the three."""
    return _work(key, words, seconds[key][0], max(0.0, min(seconds[key])), max(seconds[key]), source)


def _over(key: str, words: str, length_mm: float, pace: Spread) -> Labour:
    source = COMMON if pace.default else "kit file, quote"
    return _work(key, words, length_mm / pace.value, length_mm / pace.high, length_mm / pace.low, source)
