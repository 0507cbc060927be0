"""Every figure a plan used, each once, for the "why" table on the card and in the pages."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields

from lagline.cards import words
from lagline.records.figure import Figure
from lagline.records.plan import ArmGuide, Plan, Setting, StraightGuide, TemplateGuide


@dataclass(frozen=True, slots=True)
class Why:
    """One figure with the name it goes by and the set-ups that use it (empty when the whole job does)."""

    name: str
    figure: Figure
    steps: tuple[int, ...]


def _all(plan: Plan) -> Iterator[tuple[str, Figure, int]]:
    for s in plan.settings:
        for f in fields(Setting):
            value = getattr(s, f.name)
            if isinstance(value, Figure):
                yield f"{words.setting_name(s, plan.job.units)}: {_plain(f.name)}", value, 0
    for b in plan.blanks:
        yield f"{b.part.name}: mass", b.mass_kg, 0
    for step in plan.steps:
        g = step.guide
        if isinstance(g, StraightGuide):
            yield f"guide to line, guide on the {g.side}", g.offset_mm, step.number
        elif isinstance(g, ArmGuide):
            yield "circle arm, pivot to tip", g.arm_mm, step.number
            yield "circle arm, pivot to cup", g.to_cup_edge_mm, step.number
        elif isinstance(g, TemplateGuide):
            yield "template edge to line", g.inset_mm, step.number
    for v in plan.verdicts:
        yield "tolerance expected", v.tolerance_mm, v.number
    t = plan.timetable
    yield "time in all", t.total_s, 0
    yield "duty", t.duty_share, 0
    yield "minutes in all", plan.totals.minutes, 0
    yield "cost", plan.totals.cost, 0


def _plain(field: str) -> str:
    for unit in ("_mm_s", "_mm", "_deg", "_kg", "_s", "_a"):
        if field.endswith(unit):
            field = field.removesuffix(unit)
            break
    return field.replace("_", " ")


def why(plan: Plan) -> tuple[Why, ...]:
    """Return every figure of the plan, equal ones together, in the order the chain makes them."""
    seen: dict[tuple[str, Figure], list[int]] = {}
    for name, figure, step in _all(plan):
        at = seen.setdefault((name, figure), [])
        if step and step not in at:
            at.append(step)
    return tuple(Why(name, figure, tuple(steps)) for (name, figure), steps in seen.items())


def runs(numbers: tuple[int, ...]) -> str:
    """Return numbers with runs joined: ``3-6, 11``."""
    out: list[list[int]] = []
    for n in sorted(numbers):
        if out and n == out[-1][1] + 1:
            out[-1][1] = n
        else:
            out.append([n, n])
    return ", ".join(str(a) if a == b else f"{a}-{b}" for a, b in out)


def shown(figure: Figure) -> tuple[str, str]:
    """Return the value with its unit, and its spread, to the digits that mean something."""

    def n(v: float) -> str:
        return f"{v:.0f}" if abs(v) >= 1000 else f"{v:.3g}"

    unit = "" if figure.unit in ("1", "") else f" {figure.unit}"
    value = f"{n(figure.value)}{unit}"
    if figure.high - figure.low <= 1e-9 * max(1.0, abs(figure.value)):
        return value, "exact"
    return value, f"{n(figure.low)} to {n(figure.high)}"
