"""The set: how long one arc may be, and the rests of equal cuts in a row."""

from __future__ import annotations

import math
from dataclasses import replace

from lagline.planning.duty_log import DutyLog
from lagline.planning.set_change import change_words, current_for
from lagline.planning.set_limit import SetLimit, set_limit
from lagline.planning.settings import currents
from lagline.records.figure import Basis, Figure
from lagline.records.finding import Finding, Severity
from lagline.records.kit import Kit, Warmth
from lagline.records.setout import Column, Drawing, Number, SetOut, Table, exact
from lagline.setouts.ask import Ask, Given, count, length, number, shown_given
from lagline.setouts.bench import Bench
from lagline.setouts.bench_air import bench_of
from lagline.setouts.bench_graph import graph
from lagline.trade.register import out_of_range
from lagline.trade.set_heat import warmth_after

Arcs = tuple[tuple[float, float, float, float], ...]  # ready, begin, end [s], how near its limit


def _row_of(limit: SetLimit, amps: float, arc_s: float, cuts: int, between_s: float) -> Arcs:
    state, now, out = limit.fresh(), 0.0, []
    for k in range(cuts):
        ready = now + (between_s if k else 0.0)
        begin = max(ready, state.earliest(ready, arc_s, amps))
        near = state.burn(begin, arc_s, amps)
        now = begin + arc_s
        out.append((ready, begin, now, near))
    return tuple(out)


def _curve(limit: SetLimit, amps: float, arcs: Arcs) -> tuple[tuple[float, float], ...]:
    """How near its limit the set is against time [s, share]."""
    end = arcs[-1][2] * 1.02
    times = sorted({end * k / 240 for k in range(241)} | {t for a in arcs for t in a[1:3]})
    before = limit.power.warmth.arc_before_min * 60
    if limit.heat is None:
        log, share = DutyLog(), limit.share(amps)
        if before > 0:
            log.arcs.append((-before, 0.0, 1 / (600 * limit.share(limit.power.rated_current_a))))
        log.arcs.extend((b, e, 1 / (600 * share)) for _, b, e, _ in arcs)
        return tuple((t, log.used(t)) for t in times)
    warm, now, out = limit.warm_at_start(), 0.0, []
    for t in times:
        middle = (now + t) / 2
        on = any(b <= middle <= e for _, b, e, _ in arcs)
        warm = warmth_after(warm, limit.heat.final(amps) if on else 0.0, t - now, limit.heat.tau_s)
        now = t
        out.append((t, warm / limit.level))
    return tuple(out)


def _picture(limit: SetLimit, amps: float, arcs: Arcs) -> Drawing:
    curve = _curve(limit, amps, arcs)
    word = "arc in the last ten minutes, %" if limit.heat is None else "warmth, % of the limit"
    most = 100 * max(1.0, *(y for _, y in curve))
    return graph(
        "How near its limit the set is",
        tuple((x / 60, 100 * y) for x, y in curve),
        ((100.0, "limit"),),
        (curve[-1][0] / 60, "minutes; hatched where the arc burns"),
        (0.0, 1.12 * most, word),
        tuple((b / 60, e / 60) for _, b, e, _ in arcs),
    )


def _by_current(limit: SetLimit, kit: Kit, bench: Bench) -> Table:
    rows: list[tuple[float | str, ...]] = []
    for amps in currents(kit):
        s, _ = replace(bench, current_a=amps).setting()
        if not s.edge_ok:
            continue
        most = limit.most_arc_s(amps)
        start = kit.bench.start_s.value
        far: float | str = max(0.0, most - start) * s.pace_mm_s.value if math.isfinite(most) else "no limit"
        one: float | str = most if math.isfinite(most) else "no limit"
        rows.append((amps, 100 * limit.share(amps), one, far))
    columns = (Column("current_a", "current", "A"), Column("share_percent", "of ten minutes", "%"),
               Column("longest_s", "one arc", "s"), Column("longest_mm", "one cut", "mm"))  # fmt: skip
    return Table("by_current", "What the set allows at each current", columns, tuple(rows))


def set_setout(given: Given) -> SetOut:
    """Return the rests of equal cuts in a row."""
    bench = bench_of(given)
    kit = bench.kit
    warmth = Warmth(
        kit.power.warmth.ambient_c if (c := given.get("ambient")) is None else c,
        kit.power.warmth.arc_before_min if (m := given.get("arc_before")) is None else m,
    )
    kit = replace(kit, power=replace(kit.power, warmth=warmth))
    setting, found = bench.setting()
    limit, amps = set_limit(kit.power), setting.current_a
    arc_s = kit.bench.start_s.value + given["cut"] / setting.pace_mm_s.value
    arcs = _row_of(limit, amps, arc_s, given.count("cuts"), given["between"])
    rests = [begin - ready for ready, begin, _, _ in arcs]
    most = limit.most_arc_s(amps)
    plate = "duty points of the rating plate, ten minutes at 40 C, IEC 60974-1 (from memory)"
    key = "duty.allowed-share" if limit.heat is None else "set.rhythm"
    basis = Basis.KIT if kit.origin != "built in" else Basis.DEFAULT
    numbers = [
        Number("rest_s", "rests, all together", exact(math.fsum(rests), "s", "duty.rest", plate, basis=basis),
               main=True),
        Number("total_s", "from the first arc to the last", exact(arcs[-1][2], "s", "duty.rest", plate, basis=basis),
               main=True),
        Number("arc_s", "each arc", exact(arc_s, "s", "timetable.needs", "start, length over pace"), main=True),
        Number("share_percent", "of every ten minutes, for ever", exact(100 * limit.share(amps), "%", key, plate)),
        Number("current_a", "current", exact(amps, "A", "as set", f"tip {setting.tip}")),
        Number("pace_mm_s", "pace", setting.pace_mm_s),
        Number("ambient_c", "air around the set", exact(warmth.ambient_c, "C", "set.level", "as asked, or the kit's")),
    ]  # fmt: skip
    if math.isfinite(most):
        numbers.insert(3, Number("longest_arc_s", "longest single arc, the set cold", exact(most, "s", key, plate)))
    if limit.heat is not None:
        h = limit.heat
        fit = Figure(h.tau_s, h.tau_low_s, h.tau_high_s, "s", "set.time-constant", basis, plate)
        numbers.append(Number("time_constant_s", "time constant of the set", fit))
    told: list[Finding] = [*out_of_range("set.level", SET.kind, ambient_c=warmth.ambient_c)]
    if arc_s > most + 1e-6:
        say = f"{arc_s:.0f} s of arc at {amps:g} A in one go, {most:.0f} s allowed"
        told.append(Finding("outruns-set", Severity.NO_GO, SET.kind, say, change_words(setting, arc_s, kit)))
    elif any(r > 1 for r in rests) and (lower := current_for(setting, arc_s, kit)) is not None:
        say = f"{sum(r > 1 for r in rests)} rests at {amps:g} A"
        told.append(Finding("set-rests", Severity.NOTE, SET.kind, say, f"try {lower:g} A: slower, fewer rests"))
    if limit.heat is None:
        say = "the plate's points do not tell how fast the set warms: any ten minutes are held to its duty"
        told.append(Finding("set-window", Severity.NOTE, SET.kind, say, "two points off the square rule would tell"))
    rows = tuple(
        (k, ready, begin - ready, end - begin, 100 * near) for k, (ready, begin, end, near) in enumerate(arcs, 1)
    )
    columns = (Column("cut", "cut"), Column("ready_s", "ready at", "s"), Column("rest_s", "rest", "s"),
               Column("arc_s", "arc", "s"), Column("near_percent", "of its limit", "%"))  # fmt: skip
    return SetOut(
        SET.kind,
        f"{len(arcs)} cuts of {given.show(given['cut'])} at {amps:g} A: {math.fsum(rests) / 60:.0f} min of rest",
        shown_given(SET, given),
        tuple(numbers),
        (Table("cuts", "Cut by cut", columns, rows), _by_current(limit, kit, bench)),
        (
            "Rest with the set switched on and its fan running.",
            "Rest before a cut, never within: the table says how long.",
            "When the set's lamp lights it has switched itself off: wait until it goes out, and add to every rest.",
            "Keep its vents clear and out of the grinding dust: a choked set has less than its plate says.",
        ),
        _picture(limit, amps, arcs),
        (),
        (*told, *(f for f in found if f.severity is not Severity.NOTE)),
    )


SET = Ask(
    "bench", "set", "The set: how long an arc it carries, and the rests of equal cuts in a row.",
    (
        length("thickness", "plate thickness", least=0.5, most=60),
        length("cut", "length of each cut", least=1, most=50_000),
        count("cuts", "how many in a row", 6, least=1, most=200),
        number("between", "seconds from one arc's end to the next being ready", "s", 60.0, least=0, most=36_000),
        number("ambient", "air around the set; empty takes the kit's", "C", least=-30, most=60),
        number("arc_before", "minutes of arc in the ten minutes before; empty: the kit's", "min", least=0, most=10),
    ),
    set_setout, thickness="thickness",
    example=(("thickness", "3/8"), ("cut", "60"), ("cuts", "6"), ("between", "60")),
)  # fmt: skip

ASKS = (SET,)
