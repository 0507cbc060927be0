"""What the supply makes of a current: cord, breaker and generator, and the largest current this cord allows."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from lagline.planning.set_limit import set_limit
from lagline.records.figure import Basis, Figure
from lagline.records.finding import Finding, Severity
from lagline.records.kit import Kit, PowerSet, Supply
from lagline.records.plan import Setting
from lagline.trade.duty import effective_supply, supply_multiplier
from lagline.trade.pace import voltage_at
from lagline.trade.register import out_of_range
from lagline.trade.supply import (
    DROP_HIGH,
    MOST_BREAKER,
    ampacity_a,
    awg_sizes,
    cord_ohm,
    drawn_a,
    input_kva,
    line_current_a,
    output_a,
)

STEP_A = 0.5
LAST_WORD = "a licensed electrician and the local code have the last word"


@dataclass(frozen=True, slots=True)
class Draw:
    """What the set draws at one output. Low and high ends: best and worst efficiency and power factor together.

    ``line_a`` is behind the cord, ``straight_a`` without one; ``carried_a`` counts the duty (NEC 630.11);
    ``drop`` is a share of the supply's voltage, copper warm. Infinite where the cord cannot carry the power at all.
    """

    kva: Figure
    straight_a: Figure
    line_a: tuple[float, float, float]  # value, low, high
    drop: tuple[float, float, float]
    multiplier: float
    carried_a: tuple[float, float, float]
    effective_a: float
    ampacity_a: float
    ohm: float


def known(supply: Supply | None) -> bool:
    """Whether the kit says what cord there is."""
    return supply is not None and not supply.cord_length_mm.default


def draw(power: PowerSet, current_a: float) -> Draw:
    """Return what the set draws at an output current [A]; ValueError for a kit without a supply."""
    s = power.supply
    if s is None:
        raise ValueError("the kit says nothing of its supply")
    volts = voltage_at(power, current_a)
    ends = ((s.efficiency.value, s.power_factor.value), (s.efficiency.high, s.power_factor.high),
            (s.efficiency.low, s.power_factor.low))  # fmt: skip
    kvas = [input_kva(current_a, volts, e, pf) for e, pf in ends]
    ohm = cord_ohm(s.cord_length_mm.value / 1000, s.cord_awg, s.phases, warm=True)
    lines = [drawn_a(k, power.supply_v, s.phases, ohm) for k in kvas]
    straight = [line_current_a(k, power.supply_v, s.phases) for k in kvas]
    duty = round(100 * set_limit(power).share(current_a), 6)  # 50 % is 50 %, not the next row of the table
    m = supply_multiplier(max(0.1, min(100.0, duty)))
    own = s.efficiency.default or s.power_factor.default
    basis, source = (
        (Basis.DEFAULT, "efficiency and power factor: common practice, no source")
        if own
        else (Basis.KIT, "efficiency and power factor from the kit")
    )
    inputs = (
        ("output A", f"{current_a:g}"),
        ("arc V", f"{volts:.0f}"),
        ("efficiency", f"{s.efficiency.value:.0%} ({s.efficiency.low:.0%} to {s.efficiency.high:.0%})"),
        ("power factor", f"{s.power_factor.value:.0%} ({s.power_factor.low:.0%} to {s.power_factor.high:.0%})"),
        ("supply V", f"{power.supply_v:g}"),
        ("phases", f"{s.phases}"),
    )
    v, lo, hi = lines
    return Draw(
        Figure(kvas[0], kvas[1], kvas[2], "kVA", "supply.input", basis, source, inputs),
        Figure(straight[0], straight[1], straight[2], "A", "supply.input", basis, source, inputs),
        (v, lo, hi),
        (v * ohm / power.supply_v, lo * ohm / power.supply_v, hi * ohm / power.supply_v),
        m,
        (v * m, lo * m, hi * m),
        effective_supply(v, 0.0, max(0.05, min(1.0, duty / 100))) if math.isfinite(v) else math.inf,
        ampacity_a(s.cord_awg, s.phases),
        ohm,
    )


def most_current(power: PowerSet, best: bool = False) -> tuple[float, str]:
    """Return the largest output current [A] that cord and breaker allow, at most the set's, and what holds it there.

    ``best``: at the best efficiency and power factor. The duty counts at each current, by rows of a table: what the
    conductors are for goes up and down, so half amperes are tried from the top, then halved.
    """
    top, bottom = power.rated_current_a, 1.0
    if (held := too_much(power, top, best)) == "":
        return top, ""
    if too_much(power, bottom, best):
        return 0.0, held
    while bottom + STEP_A < top and (why := too_much(power, top - STEP_A, best)):
        top, held = top - STEP_A, why
    bottom = max(bottom, top - STEP_A)
    while top - bottom > 0.01:
        middle = (top + bottom) / 2
        why = too_much(power, middle, best)
        top, bottom, held = (middle, bottom, why) if why else (top, middle, held)
    return bottom, held


def too_much(power: PowerSet, current_a: float, best: bool = False) -> str:
    """Return what a current is too much for: "cord" (its ampacity), "drop" or "breaker"; "" when nothing is."""
    d, s = draw(power, current_a), power.supply
    assert s is not None
    end = 1 if best else 0
    if d.carried_a[end] > d.ampacity_a + 1e-9:
        return "cord"
    if s.breaker_a > 0 and d.line_a[end] > s.breaker_a + 1e-9:
        return "breaker"
    return "drop" if d.drop[end] > DROP_HIGH + 1e-9 else ""


def least_awg(power: PowerSet, current_a: float) -> str:
    """Return the thinnest cord of the table that carries a current at this length within the drop; "" when none."""
    assert power.supply is not None
    for awg in awg_sizes():
        there = replace(power, supply=replace(power.supply, cord_awg=awg))
        if too_much(there, current_a) not in ("cord", "drop"):
            return awg
    return ""


def longest_cord_m(power: PowerSet, current_a: float) -> float:
    """Return how long a cord of this size may be for the drop to stay within the aim [m]."""
    assert power.supply is not None
    metre = cord_ohm(1.0, power.supply.cord_awg, power.supply.phases, warm=True)
    # U drop = I R L with the power kept: I = S/(U (1 - drop))
    line = draw(power, current_a).straight_a.value / (1 - DROP_HIGH)
    return DROP_HIGH * power.supply_v / (line * metre)


def output_of_line(power: PowerSet, line_a: float) -> float:
    """Return the output current [A] a line current [A] makes behind this cord."""
    s = power.supply
    assert s is not None
    ohm = cord_ohm(s.cord_length_mm.value / 1000, s.cord_awg, s.phases, warm=True)
    foot = voltage_at(power, power.rated_current_a) - 0.4 * power.rated_current_a
    return output_a(line_a, power.supply_v, s.phases, ohm, foot, s.efficiency.value, s.power_factor.value)


def cord_words(power: PowerSet) -> str:
    """Return the cord in shop words."""
    assert power.supply is not None
    feet = power.supply.cord_length_mm.value / 304.8
    return f"{feet:.0f} ft of {power.supply.cord_awg} AWG"


def ways(power: PowerSet, current_a: float) -> str:
    """Return what would mend a supply that is short, as one line."""
    most, _ = most_current(power)
    out = []
    if most >= power.min_current_a:
        out.append(f"{most:.0f} A at most")
    if awg := least_awg(power, current_a):
        out.append(f"{awg} AWG at this length")
    metres = longest_cord_m(power, current_a)
    if metres < power.supply.cord_length_mm.value / 1000:  # type: ignore[union-attr]
        out.append(f"{metres / 0.3048:.0f} ft ({metres:.0f} m) of this cord at most")
    return "; ".join(t for t in ("; or ".join(out), LAST_WORD) if t)


def supply_findings(kit: Kit, settings: tuple[Setting, ...]) -> tuple[Finding, ...]:
    """Return what the supply makes of the largest current of a plan; nothing where the kit does not say its cord."""
    power = kit.power
    if not known(power.supply) or not settings:
        return ()
    amps = max(s.current_a for s in settings)
    return notes(power, amps, f"{kit.origin}: power")


def notes(power: PowerSet, current_a: float, where: str) -> tuple[Finding, ...]:
    """Return findings on cord and breaker at an output current [A]."""
    d, s = draw(power, current_a), power.supply
    assert s is not None
    out: list[Finding] = list(
        out_of_range("supply.input", where, current_a=current_a, efficiency=s.efficiency.value,
                     power_factor=s.power_factor.value)
    )  # fmt: skip
    allowed = ways(power, current_a)
    if not math.isfinite(d.line_a[0]):
        say = f"{cord_words(power)} cannot carry {current_a:g} A of output at all"
        return (*out, Finding("cord-short", Severity.NO_GO, where, say, allowed))
    if d.carried_a[0] > d.ampacity_a + 1e-9:
        never = d.carried_a[1] > d.ampacity_a
        say = (
            f"{cord_words(power)} carries {d.ampacity_a:g} A, and {current_a:g} A of output wants "
            f"{d.carried_a[0]:.0f} A with its duty ({d.carried_a[1]:.0f} to {d.carried_a[2]:.0f})"
        )
        out.append(Finding("cord-short", Severity.NO_GO if never else Severity.CAUTION, where, say, allowed))
    if d.drop[0] > DROP_HIGH + 1e-9:
        say = f"{d.drop[0]:.1%} of the voltage is lost in {cord_words(power)} at {current_a:g} A of output"
        out.append(Finding("cord-drop", Severity.CAUTION, where, say, f"3 to 5 %: common practice; {allowed}"))
    if s.breaker_a > 0:
        if d.line_a[0] > s.breaker_a + 1e-9:
            never = d.line_a[1] > s.breaker_a
            say = f"{d.line_a[0]:.0f} A ({d.line_a[1]:.0f} to {d.line_a[2]:.0f}) on a breaker of {s.breaker_a:g} A"
            out.append(Finding("breaker-short", Severity.NO_GO if never else Severity.CAUTION, where, say, allowed))
        rated = draw(power, power.rated_current_a).straight_a
        if s.breaker_a > MOST_BREAKER * rated.high:
            say = f"a breaker of {s.breaker_a:g} A is over twice the set's rated {rated.value:.0f} A"
            most = f"{MOST_BREAKER * rated.value:.0f} A at most, NEC (NFPA 70) 2008, 630.12; {LAST_WORD}"
            out.append(Finding("breaker-large", Severity.CAUTION, where, say, most))
    return tuple(out)
