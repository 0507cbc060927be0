"""Why a number of a plan is what it is: value, spread, formula or table, source, inputs, and whose number it is."""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass

from lagline.cards.why import shown
from lagline.data import table
from lagline.planning.timetable import setup_origin
from lagline.records.errors import refuse
from lagline.records.figure import Basis, Figure
from lagline.records.finding import Finding
from lagline.records.length import show_length, show_pace
from lagline.records.plan import Plan
from lagline.trade.register import Formula, all_formulas, get


@dataclass(frozen=True, slots=True)
class Reason:
    """A figure with everything that stands behind it. ``table`` holds a table's head and rows when it came from one."""

    title: str
    value: str
    in_inches: str
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
    "current_a": "current",
    "setup_s": "set up and walk",
    "arc_s": "arc on",
    "rest_s": "rest of the set",
    "air_wait_s": "wait for air",
    "tank_start_kpa_g": "tank at the trigger",
    "tank_end_kpa_g": "tank when the arc ends",
    "drop_kg": "mass of what falls",
    "total_s": "time in all",
    "duty_share": "share of the allowed arc time",
    "minutes": "minutes in all",
    "cost": "cost",
}


_CLOCKED = ("setup_s", "arc_s", "rest_s", "air_wait_s", "tank_start_kpa_g", "tank_end_kpa_g")


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
    if isinstance(here, int | float) and not isinstance(here, bool):
        here = _worked_out(plan, path.split("."), float(here))
    if not isinstance(here, Figure):
        raise refuse("why-unknown", "why", "that leads to no number of this plan", "a number of the plan's pages")
    return here


def _worked_out(plan: Plan, keys: list[str], value: float) -> Figure | None:
    """Return a number the stages work out from others as a figure with what went in; None for any other number."""
    place = int(keys[-2]) if len(keys) > 1 and keys[-2].isdecimal() else -1

    def figure(unit: str, key: str, source: str, *inputs: tuple[str, str], spread: tuple[float, float] | None = None,
               basis: Basis = Basis.KIT) -> Figure:  # fmt: skip
        low, high = spread or (value, value)
        return Figure(value, min(low, value), max(high, value), unit, key, basis, source, inputs)

    match keys[0], keys[-1]:
        case "settings", "current_a":
            setting, power = plan.settings[place], plan.kit.power
            asked = plan.job.current_a is not None
            say = "asked for in the job" if asked else "chosen: the most whose clean pace the hand can still follow"
            tip = next(t for t in plan.kit.torch.tips if t.name == setting.tip)
            inputs = (
                ("set rated A", f"{power.rated_current_a:g}"),
                ("tip carries A", f"{tip.max_current_a:g}"),
                ("thickness mm", f"{setting.true_thickness_mm:g}"),
            )
            return figure("A", "settings.current", say, *inputs, basis=Basis.DRAWING if asked else Basis.KIT)
        case "timetable", what if "clocks" in keys and what in _CLOCKED:
            clock = plan.timetable.clocks[place]
            step = next(s for s in plan.steps if s.number == clock.number)
            setting, air = plan.setting(step.setting), plan.kit.air
            if what == "arc_s":
                length, pace = sum(p.length for p in step.path), setting.pace_mm_s
                begin = max(0.0, value - length / pace.value)
                spread = (begin + length / pace.high, begin + length / max(pace.low, 0.5))
                inputs = (("path mm", f"{length:.0f}"), ("pace mm/s", f"{pace.value:.1f}"), ("start s", f"{begin:.1f}"))
                return figure("s", "timetable.needs", "path over pace, and the start", *inputs, spread=spread)
            if what == "setup_s":
                basis, source = setup_origin(step, plan.kit)
                return figure("s", "timetable.needs", source, ("method", step.method.value), basis=basis)
            if what == "rest_s":
                duty = ", ".join(f"{share:.0%} at {a:g} A" for a, share in plan.kit.power.duty)
                current, arc = f"{setting.current_a:g}", f"{clock.arc_s:.0f}"
                inputs = (("current A", current), ("duty points", duty), ("arc s", arc))
                return figure("s", "duty.rest", "no ten minutes with more arc than the set allows", *inputs)
            inputs = (
                ("tank L", f"{air.tank_l:.0f}"),
                ("delivery L/min", f"{air.delivery_l_min:.0f}"),
                ("torch takes L/min", f"{air.use_l_min.value:.0f}"),
                ("least kPa", f"{air.least_kpa_g:.0f}"),
            )
            return figure("s" if what == "air_wait_s" else "kPa", "air.tank-time", f"{plan.kit.origin}, air", *inputs)
        case "steps", "drop_kg":
            return figure("kg", "mass.of-area", "area of what falls", basis=Basis.DRAWING)
    return None


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
        case "timetable" if "clocks" in keys:
            return f"{name}, set-up {plan.timetable.clocks[int(keys[2])].number}"
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
    cautions = tuple(f for f in plan.findings if about and about in (f.where, f.where.split(": ")[-1]))
    inches = show_length(figure.value, "in", 64) if figure.unit == "mm" else ""
    if figure.unit == "mm/s" and figure.value > 0:
        inches = show_pace(figure.value, "in")
    return Reason(_about(plan, path), value, inches, spread, figure, formula, source, notes, rows, cautions)


def formulas() -> tuple[Formula, ...]:
    """Return every registered formula, by key."""
    return all_formulas()


def formula(key: str) -> Formula:
    """Return one formula. Errors: LaglineError when there is none of that key."""
    try:
        return get(key)
    except KeyError:
        raise refuse("formula-unknown", "formula", f'there is no formula "{key[:60]}"', "one of the list") from None
