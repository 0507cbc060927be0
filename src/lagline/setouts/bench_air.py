"""Air: how long a cut the tank carries, what reaches the torch, what to change, and the water to drain."""

from __future__ import annotations

import math
from dataclasses import replace

from lagline.planning import air_change
from lagline.planning.air_path import (
    at_torch_kpa_g,
    falling_kpa_s,
    hose_wants_kpa_g,
    least_kpa_g,
    longest_flow_s,
    made_l_min,
)
from lagline.planning.air_water import KINDS, Water, water
from lagline.planning.fields import quantity
from lagline.planning.kit_file import generic_kit
from lagline.planning.settings import currents
from lagline.planning.tank import Tank, Wait, wait_for
from lagline.records.figure import Basis, Figure, Spread
from lagline.records.finding import Finding, Severity
from lagline.records.kit import Air, Kit
from lagline.records.plan import Setting
from lagline.records.setout import Column, Drawing, Number, SetOut, Table, exact
from lagline.setouts.ask import Ask, Given, choice, maybe_length, maybe_text, number, shown_given
from lagline.setouts.bench import Bench
from lagline.setouts.bench_graph import graph
from lagline.trade.register import out_of_range

MOST_MM = 100_000.0
PSI_KPA, INCH_MM = 6.894757293, 25.4
BORES_MM = (6.35, 7.9375, 9.525, 12.7)
CUTS = 3


def bench_of(given: Given) -> Bench:
    """Return the bench behind the question, the generic kit where none is given."""
    from lagline.records.coupon import Learned
    from lagline.records.job import Stock

    return given.bench or Bench(
        generic_kit(), Learned(), Stock("steel", "", given["thickness"], given.show(given["thickness"]))
    )


def _air(kit: Kit, given: Given) -> Air:
    """The kit's air with what was typed in its place."""
    air = kit.air
    for name, kind, most in (("tank", "tank volume", 50_000), ("delivery", "air flow", 20_000)):
        if text := given.words.get(name, ""):
            value = quantity(kind, 0 if name == "tank" else 1, most)(text, f"{AIR.kind}, {name}")
            air = replace(air, tank_l=value) if name == "tank" else replace(air, delivery_l_min=value)
    line, at = air.line, air.intake
    if line is not None:
        if (v := given.get("hose_length")) is not None:
            line = replace(line, hose_length_mm=Spread.exact(v))
        if (v := given.get("hose_bore")) is not None:
            line = replace(line, hose_bore_mm=Spread.exact(v))
    if at is not None and given.word("dryer") != "kit":
        at = replace(at, dryer=given.word("dryer"))
    return replace(air, line=line, intake=at)


def longest_arc_s(air: Air, use: float) -> float:
    """Longest arc from a full tank, the compressor running [s]; infinite when it keeps up."""
    return max(0.0, longest_flow_s(air, use) - air.pre_flow_s - air.post_flow_s)


def _longest(air: Air, kit: Kit, setting: Setting) -> Figure:
    """Longest single cut [mm]: short of use and slow of pace at one end, the other way at the other."""
    use, pace, start = air.use_l_min, setting.pace_mm_s, kit.bench.start_s

    def mm(u: float, v: float, s: float) -> float:
        return min(MOST_MM, max(0.0, longest_arc_s(air, u) - s) * v)

    value = mm(use.value, pace.value, start.value)
    low, high = mm(use.high, pace.low, start.high), mm(use.low, pace.high, start.low)
    inputs = (
        ("tank L", f"{air.tank_l:.0f}"),
        ("use L/min", f"{use.value:.0f}"),
        ("made L/min", f"{made_l_min(air):.0f}"),
        ("pace mm/s", f"{pace.value:.1f}"),
    )
    basis = Basis.DEFAULT if use.default else Basis.KIT
    source = "gas law (derived); use of air and pace as the kit has them"
    return Figure(value, min(low, value), max(high, value), "mm", "air.tank-time", basis, source, inputs)


def _play(air: Air, arc_s: float, use: float) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
    """Pressure against time for a few cuts, each as soon as the tank allows, and when the arc burns."""
    tank, now = Tank.full(air), 0.0
    points, arcs = [(0.0, tank.kpa_g)], []

    def live(seconds: float, flow: float) -> None:
        nonlocal tank, now
        n = max(1, min(60, int(seconds)))
        for _ in range(n):
            tank, _ = tank.after(seconds / n, flow)
            now += seconds / n
            points.append((now, tank.kpa_g))

    flow_s = air.pre_flow_s + arc_s + air.post_flow_s
    for _ in range(CUTS):
        if not tank.holds(flow_s, use):
            wait = wait_for(tank, flow_s, use)
            if not wait.enough:
                break
            if wait.bleed:
                tank = Tank(air, min(tank.kpa_g, air.cut_in_kpa_g), True)
                points.append((now, tank.kpa_g))
            live(wait.seconds, 0.0)
        live(air.pre_flow_s, use)
        arcs.append((now, now + arc_s))
        live(arc_s, use)
        live(air.post_flow_s, use)
    return points, arcs


def _picture(air: Air, arc_s: float, use: float, given: Given) -> Drawing:
    unit, word = (PSI_KPA, "psi") if given.units == "in" else (1.0, "kPa")
    points, arcs = _play(air, arc_s, use)
    long = points[-1][0] > 300
    x_unit, x_word = (60.0, "minutes") if long else (1.0, "seconds")
    x_word += "; hatched where the arc burns"
    least = least_kpa_g(air, use)
    top = max(air.cut_out_kpa_g, min(least, 1.5 * air.cut_out_kpa_g))
    floor = max(
        0.0, min(least, air.cut_in_kpa_g, *(p for _, p in points)) - 0.25 * (air.cut_out_kpa_g - air.cut_in_kpa_g)
    )
    limits = [(air.cut_out_kpa_g / unit, "compressor stops"), (air.cut_in_kpa_g / unit, "compressor starts"),
              (least / unit, "torch starves")]  # fmt: skip
    return graph(
        "Tank pressure through cuts made as soon as the air allows",
        tuple((t / x_unit, p / unit) for t, p in points),
        tuple(limits),
        (points[-1][0] / x_unit, x_word),
        (floor / unit, (top + 0.08 * (top - floor)) / unit, f"tank, {word}"),
        tuple((a / x_unit, b / x_unit) for a, b in arcs),
    )


def _by_current(air: Air, kit: Kit, bench: Bench) -> Table:
    rows: list[tuple[float | str, ...]] = []
    use = air.use_l_min.value
    arc = longest_arc_s(air, use)
    for amps in currents(kit):
        s, _ = replace(bench, current_a=amps).setting()
        if not s.edge_ok:
            continue
        v = s.pace_mm_s.value
        far = max(0.0, arc - kit.bench.start_s.value) * v
        rows.append((amps, v, "no limit" if far > MOST_MM else far))
    columns = (Column("current_a", "current", "A"), Column("pace_mm_s", "pace", "mm/s"),
               Column("longest_mm", "longest cut on one tank", "mm"))  # fmt: skip
    note = "Kits hold one figure for the use of air: a smaller tip uses less than this says."
    return Table("by_current", "Longest single cut at each current", columns, tuple(rows), note)


def _hoses(air: Air, use: float) -> Table:
    rows = []
    if air.line is not None:
        for bore in sorted({*BORES_MM, air.line.hose_bore_mm.value}):
            there = replace(air, line=replace(air.line, hose_bore_mm=Spread.exact(bore)))
            least = least_kpa_g(there, use)
            wants = hose_wants_kpa_g(there, use)
            rows.append(
                (bore, min(9999.0, wants - air.line.torch_least_kpa_g), least, at_torch_kpa_g(there, least, use))
            )
    columns = (Column("bore_mm", "true bore", "mm"), Column("loss_kpa_g", "lost on the way", "kPa"),
               Column("least_kpa_g", "least in the tank", "kPa"),
               Column("torch_kpa_g", "at the torch", "kPa"))  # fmt: skip
    return Table("hoses", "The hose by its true bore", columns, tuple(rows))


def _dryers(air: Air, use: float, cubic_m: float) -> tuple[Table, dict[str, Water]]:
    every = {k: water(air, k, use) for k in KINDS}
    rows = tuple(
        (w.kind, w.drained_g_m3 * cubic_m / 1000, w.liquid_g_m3 * cubic_m / 1000, w.line_dew_c, w.torch_dew_c, w.iso)
        for w in every.values()
    )
    columns = (
        Column("dryer", "dryer"), Column("drain_l", "to drain a shift", "L"), Column("hose_l", "into the hose", "L"),
        Column("line_dew_c", "dew point, tank's pressure", "C"), Column("torch_dew_c", "at the torch", "C"),
        Column("iso_class", "ISO 8573-1 water"),
    )  # fmt: skip
    note = "Aftercooler 5 to 15 K above the shop, dryers by the class they are sold for: common practice, no source."
    return Table("dryers", "Water, by what dries the air", columns, rows, note), every


def _findings(air: Air, arc_s: float, use: float, asked: bool, w: Water) -> tuple[Finding, ...]:
    where, out = AIR.kind, []
    flow = air.pre_flow_s + arc_s + air.post_flow_s
    if asked and longest_flow_s(air, use) < flow - 1e-6:
        c = air_change.air_change(air, flow, use)
        say = f"{arc_s:.0f} s of arc and its flow are more than a full tank and the compressor give"
        out.append(Finding("outruns-air", Severity.NO_GO, where, say, air_change.change_words(c)))
    elif least_kpa_g(air, use) >= air.cut_out_kpa_g:
        c = air_change.air_change(air, flow, use)
        say = f"the torch starves even on a full tank: {air_change.both_pressures(least_kpa_g(air, use))} wanted"
        out.append(Finding("outruns-air", Severity.NO_GO, where, say, air_change.change_words(c)))
    if hose_wants_kpa_g(air, use) > air.least_kpa_g:
        say = f"hose and couplings want {air_change.both_pressures(hose_wants_kpa_g(air, use))} in the tank"
        out.append(Finding("hose-narrow", Severity.CAUTION, where, say, "a shorter hose, a larger true bore"))
    if w.liquid_g_m3 > 0.01:
        say = f"{w.liquid_g_m3:.1f} g of water a cubic metre condense in the hose: spitting arc, short tip life"
        out.append(Finding("water-in-hose", Severity.CAUTION, where, say, "drain the tank, cool or dry the air"))
    at = air.intake
    if at is not None:
        out += out_of_range("air.delivery", where, altitude_m=at.altitude_m, intake_c=at.intake_c, humidity=at.humidity)
    if air.line is not None:
        out += out_of_range("air.hose", where, bore_mm=air.line.hose_bore_mm.value, flow_l_min=use)
    if math.isinf(longest_flow_s(air, use)):
        say = "the compressor keeps up: the tank sets no limit to a cut"
        out.append(Finding("air-keeps-up", Severity.NOTE, where, say, "as long as it runs cool; see its own plate"))
    out.append(
        Finding(
            "air-pressure", Severity.CAUTION, where,
            "air under pressure: a hose that comes off whips, a rusted tank bursts",
            "relief valve tested, tank drained daily, hoses and couplings for the pressure; local code first",
        )
    )  # fmt: skip
    return tuple(out)


def _bleed(start: Wait) -> tuple[Finding, ...]:
    if not start.bleed:
        return ()
    say = "from a full tank the compressor starts too late for this cut"
    do = f"open the drain until it starts, wait {start.seconds:.0f} s, then cut"
    return (Finding("air-bleed", Severity.NOTE, AIR.kind, say, do),)


def air_setout(given: Given) -> SetOut:
    """Return what air this bench has for a cut."""
    bench = bench_of(given)
    kit = bench.kit
    air = _air(kit, given)
    setting, found = bench.setting()
    use, pace = air.use_l_min.value, setting.pace_mm_s.value
    longest = _longest(air, kit, setting)
    asked = given.get("cut")
    cut = asked if asked is not None else min(longest.value, 3000.0)
    arc_s = kit.bench.start_s.value + cut / pace
    flow = air.pre_flow_s + arc_s + air.post_flow_s
    start = wait_for(Tank.full(air), flow, use)
    _, low = start.tank.after(air.pre_flow_s + arc_s, use)
    ends = longest.value < MOST_MM
    least, made = least_kpa_g(air, use), made_l_min(air)
    rise = -falling_kpa_s(air, 0.0)
    fill_s = max(0.0, air.cut_out_kpa_g - least) / rise
    cubic_m = use * given["hours"] * 60 / 1000
    dryers, every = _dryers(air, use, cubic_m)
    w = every[air.intake.dryer if air.intake is not None else "none"]
    gas, water_by = "gas law (derived)", "moist air (derived)"
    numbers = (
        *((Number("longest_cut_mm", "longest single cut on one tank", longest, main=True),) if ends else ()),
        Number("torch_kpa_g", "pressure at the torch by the end of the cut",
               exact(at_torch_kpa_g(air, low, use), "kPa", "air.hose", "line loss from the tank"), main=True),
        Number("arc_s", "arc of this cut", exact(arc_s, "s", "timetable.needs", "start, length over pace"), main=True),
        Number("cut_mm", "cut looked at", exact(cut, "mm", "given", "as asked, or the longest up to 3 m")),
        Number("pace_mm_s", "pace", setting.pace_mm_s),
        Number("current_a", "current", exact(setting.current_a, "A", "as set", f"tip {setting.tip}")),
        Number("use_l_min", "the torch uses", Figure(use, air.use_l_min.low, air.use_l_min.high, "L/min", "kit.value",
               Basis.DEFAULT if air.use_l_min.default else Basis.KIT, "the kit's use of air")),
        Number("made_l_min", "the compressor makes here", exact(made, "L/min", "air.delivery", gas)),
        Number("least_kpa_g", "least in the tank", exact(least, "kPa", "air.hose", "the kit's, or the hose's")),
        Number("hose_loss_kpa_g", "lost in hose and couplings",
               exact(min(9999.0, hose_wants_kpa_g(air, use) - air.line.torch_least_kpa_g) if air.line else 0.0, "kPa",
                     "air.hose", "handbook line loss; couplings 1.5 m each, common practice")),
        Number("fill_s", "filling from there to full, torch off", exact(fill_s, "s", "air.pressure-rate", gas)),
        Number("water_taken_in_g_m3", "water in each cubic metre of free air",
               exact(w.taken_in_g_m3, "g/m3", "moist.taken-in", water_by)),
        Number("water_drained_g_m3", "of that condensed", exact(w.drained_g_m3, "g/m3", "moist.condensed", water_by)),
        Number("water_shift_l", f"water to drain in {given['hours']:g} h of flow",
               exact(w.drained_g_m3 * cubic_m / 1000, "L", "moist.condensed", water_by)),
        Number("dew_point_torch_c", "dew point at the torch", exact(w.torch_dew_c, "C", "moist.dew-point", water_by)),
    )  # fmt: skip
    return SetOut(
        AIR.kind,
        f"Air for {given.show(cut)} of cut at {setting.current_a:g} A",
        shown_given(AIR, given),
        numbers,
        (_by_current(air, kit, bench), _hoses(air, use), dryers),
        (
            "Fill the tank to cut-out and drain its water before the first cut.",
            "Set the regulator with the air flowing, not at rest.",
            "Watch the tank's gauge: trigger off before it falls to the least pressure above.",
            f"Between long cuts wait until the compressor has stopped, about {fill_s / 60:.1f} min from empty.",
            "Drain tank, filter bowl and hose at the end of the shift; empty the bowl when it is half full.",
        ),
        _picture(air, arc_s, use, given),
        (),
        (
            *_bleed(start),
            *_findings(air, arc_s, use, asked is not None, w),
            *(f for f in found if f.severity is not Severity.NOTE),
        ),
    )


AIR = Ask(
    "bench", "air", "Air: the longest cut on one tank, pressure at the torch, what to change, the water to drain.",
    (
        maybe_length("thickness", "plate thickness, for the pace", 9.525, least=0.5, most=60),
        maybe_length("cut", "length of the cut; empty takes the longest the tank carries", least=1, most=50_000),
        maybe_text("tank", "tank, such as 30 gal; empty takes the kit's"),
        maybe_text("delivery", "free air the compressor makes, such as 5 cfm; empty takes the kit's"),
        maybe_length("hose_length", "hose, tank to set; empty takes the kit's", least=0, most=300_000),
        maybe_length("hose_bore", "its true bore; empty takes the kit's", least=2, most=100),
        choice("dryer", "what dries the air", "kit", *KINDS),
        number("hours", "hours a shift that air flows at the torch", "h", 2.0, least=0.1, most=24),
    ),
    air_setout, thickness="thickness",
    example=(("thickness", "3/8"), ("cut", "60"), ("tank", "30 gal"), ("delivery", "4 cfm")),
)  # fmt: skip

ASKS = (AIR,)
