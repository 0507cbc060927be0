"""Why a number of a plan is what it is: value, spread, formula or table, source, inputs, and whose number it is."""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass

from lagline.cards.why import shown
from lagline.data import table
from lagline.records.errors import refuse
from lagline.records.figure import Figure
from lagline.records.finding import Finding
from lagline.records.plan import Plan
from lagline.trade.register import Formula, all_formulas, get


@dataclass(frozen=True, slots=True)
class Reason:
    """A figure with everything that stands behind it. ``table`` holds a table's head and rows when it came from one."""

    title: str
    value: str
    spread: str
    figure: Figure
    formula: Formula | None
    table_source: str
    table_notes: tuple[str, ...]
    table_rows: tuple[tuple[str, ...], ...]
    cautions: tuple[Finding, ...]


_TITLES = {
    "standoff_mm": "standoff",
    "lead_angle_deg": "lean of the torch",
    "kerf_mm": "kerf",
    "cup_radius_mm": "cup radius",
    "pace_mm_s": "pace",
    "bevel_good_deg": "face on the square side",
    "bevel_bad_deg": "face on the other side",
    "min_hole_mm": "smallest hole to cut",
    "mass_kg": "mass",
    "offset_mm": "guide to line",
    "arm_mm": "circle arm, pivot to tip",
    "to_cup_edge_mm": "circle arm, pivot to cup",
    "inset_mm": "template edge to line",
    "tolerance_mm": "tolerance expected",
    "total_s": "time in all",
    "duty_share": "share of the allowed arc time",
    "minutes": "minutes in all",
    "cost": "cost",
}


def figure_at(plan: Plan, path: str) -> Figure:
    """Return the figure a path such as ``settings.0.kerf_mm`` leads to.

    Only fields of records and places in lists are walked. Errors: LaglineError when it leads to no figure.
    """
    here: object = plan
    for key in path.split(".")[:8]:
        if isinstance(here, tuple) and key.isascii() and key.isdecimal() and len(key) < 7 and int(key) < len(here):
            here = here[int(key)]
        elif is_dataclass(here) and not isinstance(here, type) and key in {f.name for f in fields(here)}:
            here = getattr(here, key)
        else:
            here = None
    if not isinstance(here, Figure):
        raise refuse("why-unknown", "why", "that leads to no number of this plan", "a number of the plan's pages")
    return here


def _about(plan: Plan, path: str) -> str:
    """What the number is of: the set-up, part or setting its path goes through."""
    keys = path.split(".")
    name = _TITLES.get(keys[-1], keys[-1].replace("_", " "))
    place = int(keys[1]) if len(keys) > 1 and keys[1].isdecimal() else -1
    match keys[0]:
        case "steps":
            step = plan.steps[place]
            return f"{name}, set-up {step.number}: {step.title}"
        case "verdicts":
            return f"{name}, set-up {plan.verdicts[place].number}"
        case "settings":
            return f"{name}, {plan.settings[place].id}"
        case "blanks":
            return f"{name} of one {plan.blanks[place].part.name}"
    return name


def reason(plan: Plan, path: str) -> Reason:
    """Return the reason behind one number. Errors: as :func:`figure_at`."""
    figure = figure_at(plan, path)
    value, spread = shown(figure)
    formula = None
    source, notes, rows = "", (), ()
    try:
        formula = get(figure.formula)
    except KeyError:
        try:
            t = table(figure.formula.removesuffix(".csv"))
            head = tuple(t.rows[0]) if t.rows else ()
            source, notes, rows = t.source, t.notes, (head, *(tuple(r.values()) for r in t.rows))
        except (FileNotFoundError, ValueError, OSError):
            pass
    keys = path.split(".")
    about = ""
    if keys[0] == "settings":
        about = plan.settings[int(keys[1])].id
    elif keys[0] == "steps":
        about = plan.steps[int(keys[1])].title
    cautions = tuple(f for f in plan.findings if about and about in f.where)
    return Reason(_about(plan, path), value, spread, figure, formula, source, notes, rows, cautions)


def formulas() -> tuple[Formula, ...]:
    """Return every registered formula, by key."""
    return all_formulas()


def formula(key: str) -> Formula:
    """Return one formula. Errors: LaglineError when there is none of that key."""
    try:
        return get(key)
    except KeyError:
        raise refuse("formula-unknown", "formula", f'there is no formula "{key[:60]}"', "one of the list") from None
