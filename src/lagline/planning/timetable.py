"""The timetable stage: the whole job against the clock, with the rests the set needs and the waits for air.

The arc of a step is one piece: rests and waits come before it, never within. A step whose arc alone is more than
a cold set allows, or more than a full tank carries, is named and not waited for.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Protocol

from lagline.planning import air_change, set_change
from lagline.planning.air_path import at_torch_kpa_g, longest_flow_s
from lagline.planning.kit_file import generic_kit
from lagline.planning.set_limit import SetLimit, SetState, set_limit
from lagline.planning.tank import Tank, wait_for
from lagline.records.figure import Basis, Figure, Spread
from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Arc, Point
from lagline.records.kit import Kit
from lagline.records.plan import Clock, Method, Setting, Start, Step, StraightGuide, Timetable
from lagline.trade.duty import PERIOD_S
from lagline.trade.register import formula

SLOWEST_MM_S = 0.5  # a pace's low end is not taken below this when the longest time is worked out
HANDLE_S = Spread(20.0, 10.0, 40.0, default=True)  # take up what fell and lay it aside
LIFT_KG = 23.0  # heavier than one pair of hands should lift at best (NIOSH lifting equation's constant, from memory)


class _Spread(Protocol):
    @property
    def value(self) -> float: ...
    @property
    def low(self) -> float: ...
    @property
    def high(self) -> float: ...


Pick = Callable[[_Spread], float]
PICKS: dict[str, tuple[Pick, Pick]] = {  # for times and uses, for paces
    "expected": (lambda s: s.value, lambda s: s.value),
    "short": (lambda s: s.low, lambda s: s.high),
    "long": (lambda s: s.high, lambda s: s.low),
}


@dataclass(frozen=True, slots=True)
class Needs:
    """What one step asks of the clock [s], before any rest or wait."""

    walk_s: float
    setup_s: float
    arc_s: float


@dataclass(slots=True)
class _Bench:
    """Where set and tank stand while the steps go by."""

    limit: SetLimit
    duty: SetState
    tank: Tank
    tank_at_s: float = 0.0
    post_until_s: float = 0.0
    clocks: list[Clock] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    first_short: int = 0
    why: str = ""

    def tank_to(self, at_s: float, use_l_min: float) -> None:
        """Let the tank live on to a time, post-flow first."""
        flowing = max(0.0, min(self.post_until_s, at_s) - self.tank_at_s)
        self.tank, _ = self.tank.after(flowing, use_l_min)
        self.tank, _ = self.tank.after(max(0.0, at_s - self.tank_at_s - flowing), 0.0)
        self.tank_at_s = max(self.tank_at_s, at_s)

    def short(self, step: Step, code: str, message: str, allowed: str) -> None:
        where = f"set-up {step.number}, {step.title}"
        self.findings.append(Finding(code, Severity.NO_GO, where, message, allowed))
        if not self.first_short:
            self.first_short, self.why = step.number, message


def make_timetable(
    steps: tuple[Step, ...], settings: tuple[Setting, ...], kit: Kit
) -> tuple[Timetable, tuple[Finding, ...]]:
    """Return when each step happens, and findings for what outruns set or air.

    A step: what fell before is laid aside, walk and set-up, then rest, then wait for air, then pre-flow and arc.
    ``Clock.setup_s`` holds laying aside, walk, set-up, drilling and pre-flow, so that begin + setup + rest + air wait
    + arc = end. Its tank pressures are at the trigger and at the end of the arc. The total's spread is the same clock
    run with every time at its short and at its long end (pace the other way about).
    """
    expected = _run(steps, settings, kit, *PICKS["expected"])
    ends = [c[-1].end_s if c else 0.0 for c in (_run(steps, settings, kit, *PICKS[k]).clocks for k in PICKS)]
    clocks, share = tuple(expected.clocks), duty_share(settings, kit)
    timetable = Timetable(
        clocks,
        _total(steps, kit, *ends),
        math.fsum(c.arc_s for c in clocks),
        math.fsum(c.rest_s for c in clocks),
        share,
        expected.first_short,
        expected.why,
    )
    return timetable, (*_warmth_note(expected, settings, kit), *expected.findings)


def clock_runs(
    steps: tuple[Step, ...], settings: tuple[Setting, ...], kit: Kit
) -> dict[str, tuple[tuple[Clock, ...], tuple[float, ...]]]:
    """Return the job's clocks, and the time to lay aside what each step freed [s], as ``expected`` and with every time
    ``short`` and ``long``. The clock of a step holds what the step before it freed."""
    return {
        name: (tuple(_run(steps, settings, kit, *picks).clocks), tuple(handle_s(s, picks[0]) for s in steps))
        for name, picks in PICKS.items()
    }


def _warmth_note(bench: _Bench, settings: tuple[Setting, ...], kit: Kit) -> tuple[Finding, ...]:
    """Say where the rests come from when the set is taken for a warm body: that is less strict than its plate."""
    heat = bench.limit.heat
    if heat is None or not bench.clocks:
        return ()
    amps = max(s.current_a for s in settings)
    low, tau, high = (t / 60 for t in (heat.tau_low_s, heat.tau_s, heat.tau_high_s))
    say = (
        f"rests by a time constant of {tau:.0f} min ({low:.0f} to {high:.0f}), from the duty points of the plate; its "
        f"own rhythm at {amps:g} A is {bench.limit.share(amps):.0%} of ten minutes"
    )
    keep = "begin cold; when the set's lamp lights, leave it on, fan running, until it goes out"
    return (Finding("set-warmth", Severity.NOTE, kit.power.name, say, keep),)


def duty_share(settings: tuple[Setting, ...], kit: Kit) -> Figure:
    """Return the allowed share of ten minutes at the largest current of the plan, the rated one without any."""
    current = max((s.current_a for s in settings), default=kit.power.rated_current_a)
    limit = set_limit(kit.power)
    share = limit.share(current)
    points = ", ".join(f"{x:.0%} at {a:g} A" for a, x in kit.power.duty)
    inputs = [("current A", f"{current:g}"), ("duty points", points), ("ambient C", f"{kit.power.warmth.ambient_c:g}")]
    if limit.heat is not None:
        low, high = (t / 60 for t in (limit.heat.tau_low_s, limit.heat.tau_high_s))
        inputs.append(("time constant min", f"{limit.heat.tau_s / 60:.0f} ({low:.0f} to {high:.0f})"))
    generic = kit.power.duty == generic_kit().power.duty
    basis, source = (Basis.DEFAULT, "the generic kit's duty points") if generic else (Basis.KIT, f"{kit.origin}, duty")
    formula_key = "duty.allowed-share" if limit.heat is None else "set.rhythm"
    return Figure(share, share, share, "", formula_key, basis, source, tuple(inputs))


def setup_origin(step: Step, kit: Kit) -> tuple[Basis, str]:
    """Return whose figure the set-up and walk of a step is, and its source: the user's only when both times are."""
    by_method = {
        Method.STRAIGHTEDGE: kit.bench.straight_setup_s,
        Method.ARM: kit.bench.arm_setup_s,
        Method.TEMPLATE: kit.bench.template_setup_s,
        Method.DRILL: kit.bench.drill_s,
    }
    times = [by_method[step.method]] if step.method in by_method else []
    if step.start is Start.DRILLED:
        times.append(kit.bench.drill_s)
    # the walk carries no mark of its own: the generic pace is taken for the generic kit's
    if any(t.default for t in times) or kit.bench.walk_mm_s == generic_kit().bench.walk_mm_s:
        return Basis.DEFAULT, "the generic kit's times: common practice, no source, until timed at the bench"
    return Basis.KIT, f"{kit.origin}, bench"


@formula(
    "timetable.needs",
    text="walk = distance / walking pace; set-up by method (again for each shift, not where the guide stays); "
    "a start hole not drilled by a step of its own is drilled in the set-up; arc = start or pierce + path / pace",
    gives="time a step asks for [s]",
    source="times from the kit: common practice, no source, until timed at the bench",
)
def needs_of(
    step: Step, here: Point | None, setting: Setting, kit: Kit, time: Pick, pace: Pick, drilled: bool = True
) -> Needs:
    """Return what a step asks of the clock, coming from ``here`` (None: already there).

    ``drilled`` False: its start hole is still to be drilled, as part of the set-up.
    """
    bench = kit.bench
    begin, _ = ends_of(step)
    walk_s = math.dist(here, begin) / bench.walk_mm_s if here is not None else 0.0
    if step.method is Method.DRILL:
        return Needs(walk_s, time(bench.drill_s), 0.0)
    by_method = {
        Method.STRAIGHTEDGE: bench.straight_setup_s,
        Method.ARM: bench.arm_setup_s,
        Method.TEMPLATE: bench.template_setup_s,
    }
    setup_s = time(by_method[step.method]) if step.method in by_method and not step.held else 0.0
    if isinstance(step.guide, StraightGuide):
        setup_s *= 1 + step.guide.shifts
    if step.start is Start.DRILLED and not drilled:
        setup_s += time(bench.drill_s)
    start_s = time(bench.pierce_s if step.start is Start.PIERCE else bench.start_s)
    length = math.fsum(s.length for s in step.path)
    return Needs(walk_s, setup_s, start_s + length / max(pace(setting.pace_mm_s), SLOWEST_MM_S))


@formula(
    "timetable.handle",
    text="20 s (10 to 40) to lay aside what fell, three times that above 23 kg",
    gives="time to take away what a cut freed, before the next set-up [s]",
    source="common practice, no source; 23 kg is the load constant of the NIOSH lifting equation (from memory)",
)
def handle_s(step: Step, time: Pick) -> float:
    """Time to lay aside what a step freed [s]; nothing for swarf and what stays. Heavy pieces want a second person or
    a hoist, which takes three times as long."""
    if step.frees == "nothing" or step.method is Method.DRILL:
        return 0.0
    return time(HANDLE_S) * (3.0 if step.drop_kg > LIFT_KG else 1.0)


def ends_of(step: Step) -> tuple[Point, Point]:
    """Where the hand begins and ends a step; the middle of a hole that is drilled."""
    if step.path:
        return step.path[0].start, step.path[-1].end
    first = step.line[0]
    middle = first.centre if isinstance(first, Arc) else first.start
    return middle, middle


def _run(steps: tuple[Step, ...], settings: tuple[Setting, ...], kit: Kit, time: Pick, pace: Pick) -> _Bench:
    by_id = {s.id: s for s in settings}
    bench = _Bench(limit := set_limit(kit.power), limit.fresh(), Tank.full(kit.air))
    here: Point | None = None
    plate: int | None = None
    now = aside_s = 0.0
    holes: list[tuple[Point, float]] = []  # drilled so far on this plate, centre and radius
    for step in steps:
        setting = by_id[step.setting]
        if step.plate != plate:
            here, holes = None, []
        begin = ends_of(step)[0]
        drilled = any(math.dist(begin, centre) <= radius for centre, radius in holes)
        if step.method is Method.DRILL:
            holes.append((begin, step.diameter_mm / 2))
        needs = needs_of(step, here, setting, kit, time, pace, drilled)
        needs = replace(needs, walk_s=needs.walk_s + aside_s)
        aside_s = handle_s(step, time)
        now = _do(bench, step, needs, setting, kit, time, now)
        here, plate = ends_of(step)[1], step.plate
    return bench


def _do(bench: _Bench, step: Step, needs: Needs, setting: Setting, kit: Kit, time: Pick, now: float) -> float:
    air, use = kit.air, time(kit.air.use_l_min)
    ready = now + needs.walk_s + needs.setup_s
    if not needs.arc_s:
        bench.tank_to(now, use)
        before = bench.tank.kpa_g
        bench.tank_to(ready, use)
        clock = Clock(step.number, now, ready - now, 0.0, 0.0, 0.0, ready, 0.0, before, bench.tank.kpa_g)
        bench.clocks.append(clock)
        return ready
    amps = setting.current_a
    if needs.arc_s > bench.limit.most_arc_s(amps) + 1e-6:
        _outruns_set(bench, step, needs.arc_s, setting, kit)
    soonest = ready + air.pre_flow_s
    rest = max(0.0, bench.duty.earliest(soonest, needs.arc_s, amps) - soonest)
    trigger = ready + rest
    bench.tank_to(trigger, use)
    flow = air.pre_flow_s + needs.arc_s + air.post_flow_s
    wait_s = _air_wait(bench, step, kit, flow, use)
    trigger += wait_s
    begin = trigger + air.pre_flow_s
    end = begin + needs.arc_s
    before = bench.tank.kpa_g
    bench.tank, low = bench.tank.after(end - trigger, use)
    bench.tank_at_s, bench.post_until_s = end, end + air.post_flow_s
    used = bench.duty.burn(begin, needs.arc_s, amps)
    setup = needs.walk_s + needs.setup_s + air.pre_flow_s
    torch = at_torch_kpa_g(air, low, use)
    clock = Clock(step.number, now, setup, rest, wait_s, needs.arc_s, end, used, before, bench.tank.kpa_g, torch)
    bench.clocks.append(clock)
    return end


def _air_wait(bench: _Bench, step: Step, kit: Kit, flow_s: float, use: float) -> float:
    """Wait for air if the step needs it, with the tank brought to the trigger; 0 when no wait is enough."""
    if bench.tank.holds(flow_s, use):
        return 0.0
    at, tank = bench.tank_at_s, bench.tank
    bench.tank_to(max(at, bench.post_until_s), use)
    wait = wait_for(bench.tank, flow_s, use)
    if not wait.enough:
        bench.tank, bench.tank_at_s = tank, at
        lasts_s = longest_flow_s(kit.air, use)
        around_s = kit.air.pre_flow_s + kit.air.post_flow_s
        arc_s, asked_s = max(0.0, lasts_s - around_s), flow_s - around_s
        bench.short(
            step,
            "outruns-air",
            f"outruns the air: {flow_s:.0f} s of flow want more than a full tank and the compressor give",
            f"at most {arc_s:.0f} s of arc in one go, this cut wants {asked_s:.0f} s; "
            + air_change.change_words(air_change.air_change(kit.air, flow_s, use)),
        )
        return 0.0
    if wait.bleed:
        bench.findings.append(
            Finding(
                "air-bleed",
                Severity.NOTE,
                f"set-up {step.number}, {step.title}",
                "the tank holds too little for this cut and stands too high for the compressor to start",
                f"open the drain until it starts, then wait {wait.seconds:.0f} s",
            )
        )
    waited = bench.tank_at_s - at + wait.seconds
    bench.tank, bench.tank_at_s = wait.tank, bench.tank_at_s + wait.seconds
    return waited


def _outruns_set(bench: _Bench, step: Step, arc_s: float, setting: Setting, kit: Kit) -> None:
    most = bench.limit.most_arc_s(setting.current_a)
    how = f"in any 10 minutes ({most / PERIOD_S:.0%})" if bench.limit.heat is None else "from cold"
    bench.short(
        step,
        "outruns-set",
        f"outruns the set: {arc_s:.0f} s of arc at {setting.current_a:g} A",
        f"the set may burn {most:.0f} s {how}: {set_change.change_words(setting, arc_s, kit)}",
    )


@formula(
    "timetable.total",
    text="sum of walk + set-up + rest + wait for air + pre-flow + arc; ends: the same clock with short and long times",
    gives="time from the first set-up to the end of the last cut [s]",
    source="derived; times from the kit: common practice, no source, until timed at the bench",
)
def _total(steps: tuple[Step, ...], kit: Kit, expected_s: float, short_s: float, long_s: float) -> Figure:
    """Total time with its spread; rests can make a quick run no shorter, so the ends never exclude the value."""
    return Figure(
        expected_s,
        min(expected_s, short_s, long_s),
        max(expected_s, short_s, long_s),
        "s",
        "timetable.total",
        Basis.DEFAULT,
        _times_from(steps, kit),
        (("steps", str(len(steps))), ("set-ups by guide", str(sum(s.guide is not None for s in steps)))),
    )


def _times_from(steps: tuple[Step, ...], kit: Kit) -> str:
    own = sum(setup_origin(s, kit)[0] is Basis.KIT for s in steps)
    generic = "the generic kit's times: common practice, no source, until timed at the bench"
    if not own:
        return generic
    return f"set-up and walk of {own} of {len(steps)} steps timed, {kit.origin}; the rest {generic}"
