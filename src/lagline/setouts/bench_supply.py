"""Supply: what the set draws, what cord, breaker and generator make of it, the largest current this cord allows."""

from __future__ import annotations

import math
from dataclasses import replace

from lagline.planning.kit_file import read_awg
from lagline.planning.set_limit import set_limit
from lagline.planning.settings import currents
from lagline.planning.supply_check import (
    LAST_WORD,
    cord_words,
    draw,
    least_awg,
    longest_cord_m,
    most_current,
    notes,
    output_of_line,
)
from lagline.records.errors import refuse
from lagline.records.figure import Basis, Figure, Spread
from lagline.records.finding import Severity
from lagline.records.kit import PowerSet
from lagline.records.setout import Column, Drawing, Number, SetOut, Table, exact
from lagline.setouts.ask import Ask, Given, maybe_length, maybe_text, number, shown_given
from lagline.setouts.bench_air import bench_of
from lagline.setouts.bench_graph import graph
from lagline.trade.supply import ampacity_a, awg_sizes, generator_kva

NOTHING_A = 1e5  # stands for a current no cord carries


def _power(power: PowerSet, given: Given) -> PowerSet:
    s = power.supply
    if s is None:
        raise refuse("supply-unknown", SUPPLY.kind, "the kit says nothing of its supply", "a kit read from a file")
    if text := given.words.get("cord", ""):
        s = replace(s, cord_awg=read_awg(text, f"{SUPPLY.kind}, cord"))
    if (v := given.get("cord_length")) is not None:
        s = replace(s, cord_length_mm=Spread.exact(v))
    if (v := given.get("breaker")) is not None:
        s = replace(s, breaker_a=v)
    volts = given.get("volts")
    return replace(power, supply=s, supply_v=power.supply_v if volts is None else volts)


def _by_current(power: PowerSet, amps: tuple[float, ...]) -> Table:
    rows = []
    for a in amps:
        d = draw(power, a)
        rows.append((a, d.kva.value, min(NOTHING_A, d.line_a[0]), min(NOTHING_A, d.carried_a[0]),
                     min(100.0, 100 * d.drop[0])))  # fmt: skip
    columns = (Column("output_a", "output", "A"), Column("input_kva", "takes", "kVA"),
               Column("line_a", "line", "A"), Column("carried_a", "with its duty", "A"),
               Column("drop_percent", "lost in the cord", "%"))  # fmt: skip
    return Table("by_current", "What the set draws", columns, tuple(rows))


def _by_cord(power: PowerSet, amps: float) -> Table:
    rows: list[tuple[float | str, ...]] = []
    assert power.supply is not None
    for awg in awg_sizes():
        there = replace(power, supply=replace(power.supply, cord_awg=awg))
        d = draw(there, amps)
        most, why = most_current(there)
        lost: float | str = 100 * d.drop[0] if math.isfinite(d.drop[0]) else "all of it"
        rows.append((f"{awg} AWG", ampacity_a(awg, power.supply.phases), lost, most, why or "the set"))
    columns = (Column("cord", "cord"), Column("carries_a", "carries", "A"), Column("drop_percent", "loses", "%"),
               Column("most_output_a", "largest output", "A"), Column("held_by", "held there by"))  # fmt: skip
    note = "Carrying: flexible cord, NEC (NFPA 70) table 400.5(A), from memory; read the cord's own marking."
    return Table("by_cord", "Other cords of this length", columns, tuple(rows), note)


def _picture(power: PowerSet, amps: float) -> Drawing:
    assert power.supply is not None
    top = power.rated_current_a
    xs = [top * k / 40 for k in range(1, 41)]
    d = [draw(power, x) for x in xs]
    limits = [(d[0].ampacity_a, f"{power.supply.cord_awg} AWG carries")]
    if power.supply.breaker_a > 0:
        limits.append((power.supply.breaker_a, "breaker"))
    finite = [(x, v.carried_a[0]) for x, v in zip(xs, d, strict=True) if math.isfinite(v.carried_a[0])]
    most = 1.1 * max([level for level, _ in limits] + [y for _, y in finite])
    return graph(
        "Line current with its duty against the output",
        tuple(finite),
        tuple(limits),
        (top, "output, A; hatched up to the current asked"),
        (0.0, most, "line, A"),
        ((0.0, min(amps, top)),),
    )


def supply_setout(given: Given) -> SetOut:
    """Return what this supply makes of a current."""
    bench = bench_of(given)
    power = _power(bench.kit.power, given)
    s = power.supply
    assert s is not None
    amps = bench.current_a or power.rated_current_a
    d = draw(power, amps)
    if not math.isfinite(d.line_a[0]):
        most, _ = most_current(power)
        raise refuse("cord-short", SUPPLY.kind, f"{cord_words(power)} cannot carry {amps:g} A of output at all",
                     f"{most:.0f} A at most; a thicker or shorter cord; {LAST_WORD}")  # fmt: skip
    most, why = most_current(power)
    best, _ = most_current(power, best=True)
    gen = generator_kva(d.kva.value)
    basis, source = d.kva.basis, d.kva.source
    nec = "NEC (NFPA 70) 2008, table 630.11(A)"

    def ends(v: tuple[float, float, float], unit: str, key: str, scale: float = 1.0) -> Figure:
        high = v[2] if math.isfinite(v[2]) else v[0]
        return Figure(scale * v[0], scale * v[1], scale * high, unit, key, basis, source, d.kva.inputs)

    duty = set_limit(power).share(amps)
    thin = least_awg(power, amps)
    numbers = (
        Number("line_a", "line current behind the cord", ends(d.line_a, "A", "supply.drawn"), main=True),
        Number("drop_percent", "voltage lost in the cord, warm", ends(d.drop, "%", "supply.drop", 100.0), main=True),
        Number("most_output_a", "largest output this cord and breaker allow",
               Figure(most, most, max(most, best), "A", "supply.most-output", basis, source), main=True),
        Number("output_a", "output looked at", exact(amps, "A", "given", "as asked, or the set's rated current")),
        Number("input_kva", "the set takes", d.kva),
        Number("duty_percent", "duty at that output", exact(100 * duty, "%", "duty.allowed-share", "the rating plate")),
        Number("multiplier", "of it counts for conductors", exact(d.multiplier, "", "duty.supply-multiplier", nec)),
        Number("carried_a", "conductors for", ends(d.carried_a, "A", "duty.supply-multiplier")),
        Number("cord_carries_a", f"the cord, {cord_words(power)}, carries",
               exact(d.ampacity_a, "A", "awg", "NEC (NFPA 70) table 400.5(A), from memory")),
        Number("effective_a", "effective line current",
               exact(d.effective_a, "A", "duty.effective-current", "IEC 60974-1 (from memory), idle current left out")),
        Number("generator_kva", "generator", Figure(*gen, "kVA", "supply.generator", Basis.DEFAULT,
               "common practice, no source")),
        Number("breaker_most_a", "breaker, at most", exact(2 * draw(power, power.rated_current_a).straight_a.value, "A",
               "supply.input", "200 % of the rated primary current, NEC (NFPA 70) 2008, 630.12")),
        Number("cord_longest_mm", "longest cord of this size for 5 % loss",
               exact(1000 * longest_cord_m(power, amps), "mm", "supply.drop", "Ohm (derived)")),
        Number("output_at_carrying_a", "output at which the line current alone is all the cord carries",
               exact(output_of_line(power, d.ampacity_a), "A", "supply.most-output", "power balance (derived)")),
    )  # fmt: skip
    told = notes(power, amps, SUPPLY.kind)
    held = {"cord": "what the cord carries", "drop": "the voltage it loses", "breaker": "the breaker"}.get(
        why, "the set"
    )
    return SetOut(
        SUPPLY.kind,
        f"Supply for {amps:g} A: {d.line_a[0]:.0f} A through {cord_words(power)}",
        shown_given(SUPPLY, given),
        numbers,
        (_by_current(power, currents(bench.kit)), _by_cord(power, amps)),
        (
            "Read the set's rating plate: its own I1max and I1eff beat every figure here.",
            "Lay the whole cord out: on a drum it gets hot and loses more.",
            f"Keep to {most:.0f} A or less, held there by {held}.",
            f"For {amps:g} A at this length: {thin + ' AWG' if thin else 'no cord of the table'}.",
            "On a generator turn the current down before the generator bogs; no other load on it.",
            f"Plugs, sockets, breaker, earth: {LAST_WORD}.",
        ),
        _picture(power, amps),
        (),
        (*told, *(f for f in bench.setting()[1] if f.severity is Severity.NO_GO)),
    )


SUPPLY = Ask(
    "bench", "supply", "Supply: line current, loss in the cord, breaker, generator, largest output this cord allows.",
    (
        maybe_length("thickness", "plate thickness; the supply does not depend on it", 9.525, least=0.5, most=60),
        maybe_text("cord", "copper of the cord, such as 10 AWG; empty takes the kit's"),
        maybe_length("cord_length", "its whole length; empty takes the kit's", least=0, most=300_000),
        number("breaker", "breaker; empty takes the kit's", "A", least=1, most=1000),
        number("volts", "supply; empty takes the kit's", "V", least=90, most=700),
    ),
    supply_setout, thickness="thickness", example=(("cord", "10 AWG"), ("cord_length", "100 ft"), ("breaker", "50")),
)  # fmt: skip

ASKS = (SUPPLY,)
