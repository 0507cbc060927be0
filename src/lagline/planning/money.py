"""The job in money: what each kind of work, each plate and each thing used up costs, as ranges."""

from __future__ import annotations

import math

from lagline.planning.labour import ground_mm, job_minutes, labour, pricing_of
from lagline.planning.wear_plan import wear_plan
from lagline.records.figure import Figure, Spread
from lagline.records.finding import Finding, Severity
from lagline.records.job import Job
from lagline.records.kit import Kit
from lagline.records.plan import Blank, Layout, Method, PlateUse, Setting, Start, Step, Timetable, Totals
from lagline.records.price import Line
from lagline.trade import cost
from lagline.trade.mass import mass_of_area
from lagline.trade.pace import voltage_at


def totals(
    job: Job,
    kit: Kit,
    blanks: tuple[Blank, ...],
    settings: tuple[Setting, ...],
    layout: Layout,
    steps: tuple[Step, ...],
    timetable: Timetable,
    plates: tuple[PlateUse, ...],
) -> tuple[Totals, tuple[Finding, ...]]:
    """Return minutes, money and counts of the job, and a note for metal without a price."""
    lines, findings = lines_of(job, kit, blanks, settings, layout, steps, timetable, plates)
    return (
        Totals(
            minutes_of(lines),
            sum_of(lines, kit.bench.currency),
            math.fsum(p.parts_kg for p in plates),
            sum(1 for s in steps if s.path),
            sum(1 for s in steps if s.path and s.start is Start.PIERCE),
            timetable.arc_s / 60,
            math.fsum(s.length for step in steps for s in step.path),
            len(steps),
        ),
        findings,
    )


def minutes_of(lines: tuple[Line, ...]) -> Figure:
    """Return the minutes of the lines that are somebody's time [min]."""
    return job_minutes(tuple((x.words, x.minutes) for x in lines if x.minutes is not None))


def sum_of(lines: tuple[Line, ...], currency: str) -> Figure:
    """Return what the lines come to together [money]."""
    return cost.total(tuple((x.words if x.group != "metal" else f"metal, {x.words}", x.money) for x in lines), currency)


def lines_of(
    job: Job,
    kit: Kit,
    blanks: tuple[Blank, ...],
    settings: tuple[Setting, ...],
    layout: Layout,
    steps: tuple[Step, ...],
    timetable: Timetable,
    plates: tuple[PlateUse, ...],
) -> tuple[tuple[Line, ...], tuple[Finding, ...]]:
    """Return every line of what the job costs, and a note for metal without a price."""
    bench, money = kit.bench, kit.bench.currency
    work = tuple(
        Line(w.key, "labour", w.words, cost.labour(_seconds(w.minutes), bench.labour_per_h, money), w.minutes)
        for w in labour(blanks, settings, layout, steps, kit)
    )
    metal, findings = _metal(job, kit, plates)
    used = _used_up(kit, settings, steps, timetable, ground_mm(blanks, layout))
    return (*work, *metal, *used), findings


def _seconds(f: Figure) -> Figure:
    return Figure(f.value * 60, f.low * 60, f.high * 60, "s", f.formula, f.basis, f.source)


def _used_up(
    kit: Kit, settings: tuple[Setting, ...], steps: tuple[Step, ...], timetable: Timetable, edge_mm: float
) -> tuple[Line, ...]:
    """Nozzles, electrodes, power, air, discs and bits; what none is used of is left out."""
    bench, p, money = kit.bench, pricing_of(kit), kit.bench.currency
    share = p.nozzle_share
    rest = Spread(1 - share.value, 1 - share.high, 1 - share.low, share.default)
    out = []
    worn = wear_plan(kit, settings, steps, timetable.clocks)
    for w in worn:
        of = f" of {w.tip}" if len(worn) > 1 else ""
        key = f"_{w.tip}" if len(worn) > 1 else ""
        out.append(
            Line(
                f"nozzles{key}", "used up", f"nozzles{of}", cost.tip_parts(w.nozzles, bench.tip_set_cost, share, money)
            )
        )
        out.append(Line(f"electrodes{key}", "used up", f"electrodes{of}",
                        cost.tip_parts(w.electrodes, bench.tip_set_cost, rest, money)))  # fmt: skip
    for setting in settings:
        arc_s = math.fsum(c.arc_s for c, s in zip(timetable.clocks, steps, strict=True) if s.setting == setting.id)
        if arc_s > 0:
            volts = voltage_at(kit.power, setting.current_a)
            figure = cost.power(volts, setting.current_a, arc_s, bench.energy_per_kwh, money)
            words = f"power for the arc, {setting.stock.thickness_text} {setting.stock.metal}"
            out.append(Line(f"power_{setting.id}", "used up", words, figure))
    arcs = sum(1 for s in steps if s.path)
    if arcs:
        flow_s = timetable.arc_s + arcs * (kit.air.pre_flow_s + kit.air.post_flow_s)
        figure = cost.air(flow_s, kit.air.use_l_min, p.compressor_kwh_m3, bench.energy_per_kwh, money)
        out.append(Line("air", "used up", "compressed air", figure))
    if edge_mm > 0:
        out.append(Line("discs", "used up", "grinding discs", cost.discs(edge_mm, p.disc_mm, p.disc_cost, money)))
    holes = sum(s.method is Method.DRILL for s in steps)
    if holes:
        out.append(Line("bits", "used up", "drill bits", cost.bits(holes, p.drill_cost, money)))
    return tuple(out)


def _metal(job: Job, kit: Kit, plates: tuple[PlateUse, ...]) -> tuple[tuple[Line, ...], tuple[Finding, ...]]:
    prices, written = dict(kit.bench.metal_per_kg), dict(job.rack)
    out, findings = [], []
    for use in plates:
        if use.parts_kg <= 0:
            continue
        plate = job.plates[use.plate]
        worth = written.get(plate.rack) if plate.rack else None
        price = prices.get(plate.stock.metal)
        if price is None and worth is None:
            findings.append(
                Finding(
                    "metal-no-price",
                    Severity.NOTE,
                    plate.name,
                    f"the kit has no price for {plate.stock.metal}, so the cost leaves this metal out",
                    "bench: metal_per_kg in the kit file",
                )
            )
            continue
        out.append(Line(f"metal_{plate.name}", "metal", plate.name, _charge(job, kit, use, price, worth)))
    return tuple(out), tuple(findings)


def _charge(job: Job, kit: Kit, use: PlateUse, price: float | None, written: float | None) -> Figure:
    """The plate less the offcut; an offcut stands for half its weight in new metal unless its worth is written."""
    plate = job.plates[use.plate]

    def kg(area: float) -> float:
        return mass_of_area(plate.stock.metal, area, plate.stock.thickness_mm).value

    whole = kg(plate.outline.area)
    new = whole * (price or 0.0)
    worth = written if written is not None else new * (cost.OFFCUT_SHARE if plate.kind == "offcut" else 1.0)
    most = worth if written is not None else new
    per_kg = price if price is not None else worth / whole
    return cost.plate(worth, most, whole, use.left_kg + use.drops_kg, use.kept_kg, per_kg, kit.bench.currency)
