"""What the safety sheet says of a plan: lens, fire watch with its end, fume, noise, what falls, the usual cautions."""

from __future__ import annotations

from dataclasses import dataclass

from lagline.data import table
from lagline.planning.cautions import cautions
from lagline.planning.drops import Drop, drops_of
from lagline.planning.labour import ground_mm, pricing_of
from lagline.planning.timetable import clock_runs
from lagline.records.errors import refuse
from lagline.records.figure import Figure
from lagline.records.finding import Finding, Severity
from lagline.records.plan import Plan
from lagline.trade.noise import RULES, Rule, average_dba, dose_percent, level_of
from lagline.trade.safety import lens_rules, lens_shade

SPREADS = ("expected", "short", "long")


@dataclass(frozen=True, slots=True)
class Lens:
    """What one rule says at a current: the least shade and the one it suggests, None where it has no row."""

    rule: str
    current_a: float
    least: float | None
    suggested: float | None
    tag: str
    used: bool


@dataclass(frozen=True, slots=True)
class Watch:
    """Fire watch by one rule: minutes after the last arc, hours of monitoring that may be asked on top; the end after
    the start of the job, as expected and at the latest [s]."""

    rule: str
    watch_min: float
    monitor_h: float
    tag: str
    end_s: float
    end_latest_s: float
    used: bool


@dataclass(frozen=True, slots=True)
class Exposure:
    """The limit of one thing in the air, and what gives it off."""

    from_what: str
    substance: str
    limit: str
    over: str
    rule: str


@dataclass(frozen=True, slots=True)
class Noise:
    """Dose of the planned time by one rule [%]: with the middle level, the lowest and the highest."""

    rule: Rule
    work: str
    dose: float
    low: float
    high: float
    average_dba: float | None
    allowed_h: tuple[float, float]  # at the highest and at the lowest level of hand plasma


@dataclass(frozen=True, slots=True)
class SafetySheet:
    """Everything on the sheet. Times are seconds after the job's start, None without an arc."""

    current_a: float
    shade: Figure | None
    lenses: tuple[Lens, ...]
    last_arc_s: tuple[float, float, float] | None  # expected, soonest, latest
    watches: tuple[Watch, ...]
    clearances: tuple[tuple[str, str, str], ...]
    exposures: tuple[Exposure, ...]
    noises: tuple[Noise, ...]
    arc_min: tuple[float, float, float]
    grinding_min: tuple[float, float, float]
    drops: tuple[Drop, ...]
    findings: tuple[Finding, ...]


def watch_rules() -> tuple[str, ...]:
    """Names of the fire watch rules in the table."""
    return tuple(r["rule"] for r in table("fire_watch").rows)


def safety_sheet(plan: Plan, watch_rule: str = "") -> SafetySheet:
    """Return the safety sheet of a plan.

    Of several lens rules in the kit the darkest is used, of the fire watch rules the one named, else the longest.
    Errors: LaglineError for a fire watch rule that is none.
    """
    if watch_rule and watch_rule not in watch_rules():
        say = f'"{watch_rule[:40]}" is no fire watch rule here'
        raise refuse("watch-rule", "watch rule", say, "; ".join(watch_rules()))
    arcs = [s for s in plan.steps if s.path]
    used = {s.setting for s in arcs}
    current = max((s.current_a for s in plan.settings if s.id in used), default=0.0)
    runs = {k: clocks for k, (clocks, _) in clock_runs(plan.steps, plan.settings, plan.kit).items()}
    ends = [max((c.end_s for c in runs[k] if c.arc_s > 0), default=0.0) for k in SPREADS]
    arc = [sum(c.arc_s for c in runs[k]) / 60 for k in SPREADS]
    last = (ends[0], min(ends), max(ends)) if arcs else None
    p, edge = pricing_of(plan.kit), ground_mm(plan.blanks, plan.layout)
    grinding = tuple(edge / v / 60 for v in (p.grind_mm_s.value, p.grind_mm_s.high, p.grind_mm_s.low))
    rules = tuple(r.strip() for r in plan.kit.bench.lens_rule.split(";") if r.strip())
    return SafetySheet(
        current,
        lens_shade(current, rules) if arcs else None,
        _lenses(current, rules) if arcs else (),
        last,
        _watches(last, watch_rule) if last else (),
        tuple((r["subject"], r["what"], f"{r['rule']} ({r['tag']})") for r in table("clearances").rows),
        _exposures(plan) if arcs else (),
        _noises((arc[0], min(arc), max(arc)), (grinding[0], grinding[1], grinding[2])) if arcs else (),
        (arc[0], min(arc), max(arc)),
        (grinding[0], grinding[1], grinding[2]),
        drops_of(plan),
        _findings(plan),
    )


def _lenses(current: float, rules: tuple[str, ...]) -> tuple[Lens, ...]:
    out = []
    shades = {r: lens_shade(current, (r,)) for r in lens_rules()}
    darkest = max((f.value for r, f in shades.items() if f is not None and r in rules), default=0.0)
    rows = table("lens_shades").rows
    for rule, f in shades.items():
        tag = next(r["tag"] for r in rows if r["rule"] == rule)
        chosen = rule in rules and f is not None and f.value == darkest
        suggested = f.high if f is not None and f.high > f.value else None
        out.append(Lens(rule, current, f.value if f else None, suggested, tag, chosen))
    return tuple(out)


def _watches(last: tuple[float, float, float], asked: str) -> tuple[Watch, ...]:
    rows = table("fire_watch").rows
    used = asked or max(rows, key=lambda r: float(r["watch_min"]))["rule"]
    return tuple(
        Watch(
            r["rule"],
            float(r["watch_min"]),
            float(r["monitor_h"]),
            r["tag"],
            last[0] + 60 * float(r["watch_min"]),
            last[2] + 60 * float(r["watch_min"]),
            r["rule"] == used,
        )
        for r in rows
    )


def _exposures(plan: Plan) -> tuple[Exposure, ...]:
    stocks = [plan.job.plates[i].stock for i in sorted({s.plate for s in plan.steps})]
    asked = {("metal", s.metal) for s in stocks} | {("coating", s.coating) for s in stocks} | {("any", "any")}
    return tuple(
        Exposure(
            "the arc" if r["kind"] == "any" else r["name"],
            r["substance"],
            r["limit"],
            r["over"],
            f"{r['rule']} ({r['tag']})",
        )
        for r in table("exposure_limits").rows
        if (r["kind"], r["name"]) in asked
    )


def _noises(arc_min: tuple[float, float, float], grinding_min: tuple[float, float, float]) -> tuple[Noise, ...]:
    cut, grind = level_of("plasma by hand"), level_of("grinding")
    out = []
    for rule in RULES:
        for work, parts in (
            ("arc alone", ((cut, arc_min),)),
            ("arc and grinding", ((cut, arc_min), (grind, grinding_min))),
        ):
            if work != "arc alone" and not grinding_min[0]:
                continue

            middle = dose_percent(rule, tuple((level.value, m[0] / 60) for level, m in parts))
            low = dose_percent(rule, tuple((level.low, m[1] / 60) for level, m in parts))
            high = dose_percent(rule, tuple((level.high, m[2] / 60) for level, m in parts))
            average = average_dba(rule, middle) if middle > 0 else None
            out.append(Noise(rule, work, middle, low, high, average, (rule.hours(cut.high), rule.hours(cut.low))))
    return tuple(out)


def _findings(plan: Plan) -> tuple[Finding, ...]:
    """The cautions of the job, those that stop it first; what has a table of its own on the sheet is left out."""
    own = ("lens", "fire-watch", "noise", "drop-heavy")
    said = cautions(plan.job, plan.kit, plan.settings, plan.steps)
    nothing = Finding(
        "safety-nothing", Severity.CAUTION, plan.job.name, "there is nothing to cut: no arc, no watch", ""
    )
    return (*(() if plan.steps else (nothing,)), *(f for f in said if f.code not in own))
