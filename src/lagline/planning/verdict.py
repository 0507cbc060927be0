"""The verdict stage: can each step go, what is its weakest link, and what does the whole job come to."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import groupby

from lagline.planning import air_change, supply_check
from lagline.planning.air_path import hose_wants_kpa_g, least_kpa_g
from lagline.planning.cautions import cautions
from lagline.planning.fit import circle_of, size_fit, size_of, tip_used
from lagline.planning.money import totals
from lagline.planning.plate_use import plate_uses
from lagline.planning.set_limit import set_limit
from lagline.planning.settings import tip_for
from lagline.planning.tank import Tank, wait_for
from lagline.records.figure import Figure
from lagline.records.finding import Finding, Severity
from lagline.records.job import Job
from lagline.records.kit import Kit
from lagline.records.length import INCH_MM as EXACT_INCH
from lagline.records.plan import (
    Blank,
    Clock,
    Cut,
    Layout,
    Method,
    PlateUse,
    Setting,
    Start,
    Step,
    StraightGuide,
    Timetable,
    Totals,
    Verdict,
)
from lagline.trade.kerf import kerf_of_tip
from lagline.trade.register import formula
from lagline.trade.severance import edge_limit, pierce_limit, sever_limit

INCH_MM = float(EXACT_INCH)
PSI_KPA = 6.894757  # NIST SP 811, appendix B
TOLD_BY_CLOCK = ("duty", "air")  # the timetable names these with the step and what would do
TOLD_BY_SUPPLY = ("cord", "breaker")  # told once, with what would do
ROUNDING_MM = 0.05  # the trade's 1/32 and 1/16 in stand in the tables as 0.8 and 1.6 mm


@dataclass(frozen=True, slots=True)
class Link:
    """One thing a step hangs on: spare share of its limit (below zero: it does not hold), and why in shop words.

    A ``soft`` link is worth knowing but stops nothing: its margin never goes below zero. One with a ``doubt`` stops
    nothing either, but keeps its margin below zero, and the doubt is what it is called as the weakest.
    """

    name: str
    margin: float
    why: str
    remedy: str = ""
    soft: bool = False
    doubt: str = ""

    @property
    def spare(self) -> float:
        return max(0.0, self.margin) if self.soft and not self.doubt else self.margin

    @property
    def fails(self) -> bool:
        return self.margin < 0 and not self.soft


def judge(
    job: Job,
    kit: Kit,
    blanks: tuple[Blank, ...],
    settings: tuple[Setting, ...],
    layout: Layout,
    cuts: tuple[Cut, ...],
    steps: tuple[Step, ...],
    timetable: Timetable,
) -> tuple[tuple[Verdict, ...], tuple[PlateUse, ...], Totals, tuple[Finding, ...]]:
    """Return a verdict for each step, the use of each plate, the job's totals, and findings.

    Findings: no-gos by their cause with the steps they stop (duty and air are told by the timetable), tolerances that
    may not be met, offcuts worth keeping, metal without a price, and the cautions that go with the job.
    """
    by_id = {s.id: s for s in settings}
    roles = {c.id: c.role for c in cuts}
    verdicts: list[Verdict] = []
    stopped: list[tuple[Link, Step]] = []
    tight: list[tuple[Link, Step]] = []
    told = (*TOLD_BY_SUPPLY, *(TOLD_BY_CLOCK if timetable.first_short else ()))
    worn = tip_used(kit, tuple(by_id[s.setting].tip for s in steps), steps, tuple(c.arc_s for c in timetable.clocks))
    for step, clock, used in zip(steps, timetable.clocks, worn, strict=True):
        setting = by_id[step.setting]
        part = _hardest(step, blanks, layout)
        fit = size_fit(step, setting, kit, size_of(step, blanks, layout, part), used, part)
        wanted = blanks[layout.placed[part].part].part.tolerance_mm if part >= 0 else 0.0
        links = links_of(step, clock, setting, kit, roles.get(step.cut, ""), job.units)
        tolerance = tolerance_link(fit, wanted, job.units) if wanted > 0 else None
        if tolerance is not None:
            links = (*links, tolerance)
            if tolerance.margin < 0:
                tight.append((tolerance, step))
        verdicts.append(verdict(step.number, links, fit))
        stopped.extend((k, step) for k in links if k.fails and k is not tolerance and k.name not in told)
    uses, f_plates = plate_uses(job, blanks, settings, layout, steps)
    sums, f_money = totals(job, kit, blanks, settings, layout, steps, timetable, uses)
    findings = (
        *_grouped("cannot-go", Severity.NO_GO, stopped),
        *_tolerance_findings(tight),
        *f_plates,
        *f_money,
        *supply_check.supply_findings(kit, settings),
        *cautions(job, kit, settings, steps),
    )
    return tuple(verdicts), uses, sums, findings


def _hardest(step: Step, blanks: tuple[Blank, ...], layout: Layout) -> int:
    """Which of the parts a step makes edges of asks most of it: a tight tolerance, then the worse side of the kerf;
    -1 where it makes none."""

    def ease(i: int) -> tuple[float, bool]:
        return blanks[layout.placed[i].part].part.tolerance_mm or math.inf, i not in step.across

    return min(step.parts, key=ease, default=-1)


def verdict(number: int, links: tuple[Link, ...], fit: Figure) -> Verdict:
    """Return the verdict of a step from its links.

    The weakest is the link furthest beyond its limit, a failed one before a doubtful one, or nearest to it; the first
    of equals. Its ``why`` has a line for each link that failed, or for a step that can go the weakest link's alone.
    """
    ranked = sorted(links, key=lambda k: (not k.fails, k.spare))
    weakest, failed = ranked[0], [k for k in ranked if k.fails]
    why = tuple(f"{k.name}: {k.why}" for k in failed or ranked[:1])
    return Verdict(number, not failed, weakest.doubt or weakest.name, weakest.spare, fit, why)


@formula(
    "verdict.margin",
    text="margin = (limit - asked) / limit of the weakest link",
    gives="spare share [-], below zero for a no-go",
    source="definition; each limit from its own formula",
)
def links_of(step: Step, clock: Clock, setting: Setting, kit: Kit, role: str, units: str) -> tuple[Link, ...]:
    """Return every link a step hangs on, tolerance left out; lengths, pressures and paces in the job's units."""
    if step.method is Method.DRILL:
        most = kit.guides.drill_max_mm
        why = f"{_size(step.diameter_mm, units)} to drill, drills to hand go to {_size(most, units)}"
        return (Link("drill", _spare(step.diameter_mm, most), why, "a larger drill, or a hole saw"),)
    links = [
        *_thickness(step, setting, kit, units),
        *_supply(setting, kit),
        _duty(clock, setting, kit),
        _air(clock, kit, units),
        _hand(setting, kit, units),
    ]
    circle = circle_of(step.line)
    if role == "hole" and circle is not None:
        d, least = 2 * circle.radius, setting.min_hole_mm
        why = f"{_size(d, units)} hole, smallest by hand {_size(least.low, units)} to {_size(least.high, units)}"
        links.append(Link("hole size", (d - least.low) / d, why, "drill it"))
    if isinstance(step.guide, StraightGuide):
        held = step.guide.hold != "no hold"
        why = f"guide held by {step.guide.hold}" if held else "nothing holds the guide: no clamp reaches"
        links.append(Link("guide hold", 1.0 if held else 0.0, why, "a helper's weight, tack or magnet", soft=True))
    return tuple(links)


def _size(mm: float, units: str, more: int = 0) -> str:
    """A size in decimals of the job's unit: limits are no tape readings. ``more`` decimals than usual."""
    value, decimals = (mm, 1 + more) if units == "mm" else (mm / INCH_MM, 3 + more)
    text = f"{value:.{decimals}f}".rstrip("0").rstrip(".")
    return f"{text or '0'} {units}"


def _pressure(kpa: float, units: str) -> str:
    return f"{kpa:.0f} kPa" if units == "mm" else f"{kpa / PSI_KPA:.0f} psi"


def _apart(a_mm: float, b_mm: float, units: str) -> tuple[str, str]:
    """Two sizes with as few decimals as tell them apart."""
    for more in range(3):
        a, b = _size(a_mm, units, more), _size(b_mm, units, more)
        if a != b:
            break
    return a, b


def _spare(asked: float, limit: float) -> float:
    return (limit - asked) / limit if limit > 0 else (-1.0 if asked > 0 else 0.0)


def _thickness(step: Step, setting: Setting, kit: Kit, units: str) -> list[Link]:
    amps, power, t = setting.current_a, kit.power, setting.true_thickness_mm
    tip = tip_for(kit, amps)
    most_a = min(power.rated_current_a, tip.max_current_a)
    out = []
    if amps > most_a + 1e-9:
        why = f"{amps:g} A asked, {most_a:g} A at most with set and tip"
        out.append(Link("current", _spare(amps, most_a), why, f"{most_a:g} A at most"))
    rated_a = power.rated_current_a
    rated_kerf = kerf_of_tip(tip_for(kit, rated_a), rated_a).value
    edge = edge_limit(power, rated_kerf, setting.stock.metal, amps, setting.kerf_mm)
    through = f"{_size(t, units)} through, clean to {_size(edge.value, units)}"
    if t <= edge.value:
        out.append(Link("thickness", _spare(t, edge.value), through))
    else:
        sever = sever_limit(edge).value
        why = f"{through}, severed to {_size(sever, units)}"
        out.append(Link("thickness", _spare(t, sever), why, "more current, a bigger set, a saw"))
    if step.start is Start.PIERCE:
        limit = pierce_limit(power, edge)
        band = f"{_size(limit.low, units)} to {_size(limit.high, units)}"
        why = f"{_size(t, units)} to pierce, limit {_size(limit.value, units)} ({band})"
        out.append(Link("pierce", _spare(t, limit.value), why, "start from an edge or a drilled hole"))
    return out


def _duty(clock: Clock, setting: Setting, kit: Kit) -> Link:
    limit = set_limit(kit.power)
    most = limit.most_arc_s(setting.current_a)
    if math.isinf(most):
        return Link("duty", 1.0, f"the set never rests at {setting.current_a:g} A")
    how = "allowed in ten minutes" if limit.heat is None else "from cold"
    why = f"{clock.arc_s:.0f} s of arc in one go, {most:.0f} s {how} at {setting.current_a:g} A"
    return Link("duty", _spare(clock.arc_s, most), why, "cut it in pieces with a rest between, or turn down")


def _air(clock: Clock, kit: Kit, units: str) -> Link:
    """Spare share of a full tank, the compressor running while the torch blows."""
    air, use = kit.air, kit.air.use_l_min.value
    flow_s = air.pre_flow_s + clock.arc_s + air.post_flow_s
    full = Tank.full(air)
    need = full.needed_kpa_g(flow_s, use)
    least = least_kpa_g(air, use)
    margin = (air.cut_out_kpa_g - need) / max(air.cut_out_kpa_g - least, 1e-9)
    if not wait_for(full, flow_s, use).enough:
        margin = min(margin, -1e-3)
    full_at = _pressure(air.cut_out_kpa_g, units)
    why = f"{flow_s:.0f} s of air want {_pressure(need, units)} in the tank, cut-out {full_at}"
    if hose_wants_kpa_g(air, use) > air.least_kpa_g:
        why += f"; the hose wants {_pressure(least, units)} in the tank"
    remedy = "" if margin >= 0 else air_change.change_words(air_change.air_change(air, flow_s, use))
    return Link("air", margin, why, remedy)


def _supply(setting: Setting, kit: Kit) -> list[Link]:
    """Cord and breaker, where the kit says them; even the best efficiency must be too much to stop a step."""
    power = kit.power
    if not supply_check.known(power.supply):
        return []
    assert power.supply is not None
    drawn, amps = supply_check.draw(power, setting.current_a), setting.current_a
    links = [("cord", drawn.carried_a, drawn.ampacity_a)]
    if power.supply.breaker_a > 0:
        links.append(("breaker", drawn.line_a, power.supply.breaker_a))
    out = []
    for name, asked, limit in links:
        margin = -1.0 if math.isinf(asked[0]) else _spare(asked[0], limit)
        why = f"{amps:g} A of output wants {asked[0]:.0f} A ({asked[1]:.0f} to {asked[2]:.0f}), {name} for {limit:g} A"
        lucky = asked[1] <= limit
        out.append(Link(name, margin, why, supply_check.LAST_WORD, soft=lucky))
    return out


def _hand(setting: Setting, kit: Kit, units: str) -> Link:
    low, high, pace = kit.operator.pace_low_mm_s, kit.operator.pace_high_mm_s, setting.pace_mm_s.value
    if units == "mm":
        why = f"{pace:.1f} mm/s, the hand holds {low:.1f} to {high:.1f}"
    else:
        a, b, c = (f"{v * 60 / INCH_MM:.0f}" for v in (pace, low, high))
        why = f"{a} in/min, the hand holds {b} to {c}"
    if setting.pace_mm_s.formula == "pace.held":
        why += "; the arc would go faster"
    return Link("pace", (pace - low) / pace if pace > 0 else 0.0, why, soft=True)


def tolerance_link(fit: Figure, wanted_mm: float, units: str) -> Link:
    """Link of the tolerance asked [mm]: it stops a step only when even the lucky end of the fit is outside it.

    Between the two it is a doubt: the step can go, its margin is below zero, and the weakest link says so.
    """
    expected, wanted = _apart(fit.value, wanted_mm, units)
    band = f"{_size(fit.low, units)} to {_size(fit.high, units)}"
    why = f"plus or minus {wanted} wanted, {expected} expected ({band})"
    lucky = fit.low <= wanted_mm + ROUNDING_MM
    remedy = "grind to size, leave stock and machine, or allow more"
    margin = _spare(fit.value, wanted_mm)
    doubt = f"tolerance: expected {expected}, wanted {wanted}: may miss" if lucky and margin < 0 else ""
    return Link("tolerance", margin, why, remedy, soft=lucky, doubt=doubt)


def _numbers(steps: list[Step]) -> str:
    """Step numbers in words, runs drawn together: ``set-ups 1 to 4, 7``."""
    numbers = sorted({s.number for s in steps})
    runs: list[str] = []
    for _, group in groupby(enumerate(numbers), key=lambda pair: pair[1] - pair[0]):
        run = [n for _, n in group]
        runs.extend([f"{run[0]} to {run[-1]}"] if len(run) > 2 else map(str, run))
    return f"set-up{'s' if len(numbers) > 1 else ''} {', '.join(runs)}"


def _grouped(code: str, severity: Severity, links: list[tuple[Link, Step]]) -> tuple[Finding, ...]:
    groups: dict[tuple[str, str, str], list[Step]] = {}
    for link, step in links:
        groups.setdefault((link.name, link.why, link.remedy), []).append(step)
    return tuple(
        Finding(code, severity, _numbers(steps), f"{name}: {why}", remedy)
        for (name, why, remedy), steps in groups.items()
    )


def _tolerance_findings(links: list[tuple[Link, Step]]) -> tuple[Finding, ...]:
    may = [(k, s) for k, s in links if k.soft]
    never = [(k, s) for k, s in links if not k.soft]
    return (
        *_grouped("tolerance-short", Severity.NO_GO, never),
        *_grouped("tolerance-doubtful", Severity.CAUTION, may),
    )
