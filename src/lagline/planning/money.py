"""The job in minutes and money, as ranges."""

from __future__ import annotations

import math

from lagline.planning.plate_use import worth_keeping
from lagline.records.figure import Basis, Figure, Spread
from lagline.records.finding import Finding, Severity
from lagline.records.job import Job
from lagline.records.kit import Kit
from lagline.records.plan import PlateUse, Setting, Start, Step, Timetable, Totals
from lagline.trade import cost
from lagline.trade.mass import mass_of_area
from lagline.trade.pace import voltage_at
from lagline.trade.register import formula
from lagline.trade.wear import tip_sets

MARK_OUT_S = Spread(600.0, 300.0, 900.0, default=True)
CHIP_MM_S = Spread(20.32, 10.16, 30.48, default=True)  # 2 to 6 ft/min
_COMMON = "common practice, no source"


def totals(
    job: Job,
    kit: Kit,
    settings: tuple[Setting, ...],
    steps: tuple[Step, ...],
    timetable: Timetable,
    plates: tuple[PlateUse, ...],
) -> tuple[Totals, tuple[Finding, ...]]:
    """Return minutes, money and counts of the job, and a note for metal without a price."""
    cut_mm = math.fsum(s.length for step in steps for s in step.path)
    starts = sum(1 for s in steps if s.path)
    pierces = sum(1 for s in steps if s.path and s.start is Start.PIERCE)
    minutes = job_minutes(timetable.total_s, cut_mm, bool(steps))
    parts, findings = _costs(job, kit, settings, steps, timetable, plates, minutes, starts, pierces)
    return (
        Totals(
            minutes,
            cost.total(parts, kit.bench.currency),
            math.fsum(p.parts_kg for p in plates),
            starts,
            pierces,
            timetable.arc_s / 60,
            cut_mm,
            len(steps),
        ),
        findings,
    )


@formula(
    "money.minutes",
    text="minutes = mark-out (5 to 15) + timetable + length / chipping (2 to 6 ft/min)",
    gives="time for the whole job at the bench [min]",
    source="mark-out and chipping: common practice, no source; timetable from the kit's times",
)
def job_minutes(clock_s: Figure, cut_mm: float, any_steps: bool = True) -> Figure:
    """Return mark-out, cutting and chipping together [min], short ends with short ends; 0 for nothing to do."""
    if not any_steps:
        return Figure(0.0, 0.0, 0.0, "min", "money.minutes", Basis.DEFAULT, _COMMON)
    mark, chip = MARK_OUT_S, CHIP_MM_S
    return Figure(
        (mark.value + clock_s.value + cut_mm / chip.value) / 60,
        (mark.low + clock_s.low + cut_mm / chip.high) / 60,
        (mark.high + clock_s.high + cut_mm / chip.low) / 60,
        "min",
        "money.minutes",
        Basis.DEFAULT,
        _COMMON,
        (
            ("mark-out min", f"{mark.low / 60:.0f} to {mark.high / 60:.0f}"),
            ("timetable min", f"{clock_s.value / 60:.0f} ({clock_s.low / 60:.0f} to {clock_s.high / 60:.0f})"),
            ("chipping dross min", f"{cut_mm / chip.high / 60:.0f} to {cut_mm / chip.low / 60:.0f}"),
        ),
    )


def _costs(
    job: Job,
    kit: Kit,
    settings: tuple[Setting, ...],
    steps: tuple[Step, ...],
    timetable: Timetable,
    plates: tuple[PlateUse, ...],
    minutes: Figure,
    starts: int,
    pierces: int,
) -> tuple[tuple[tuple[str, Figure], ...], tuple[Finding, ...]]:
    bench, money = kit.bench, kit.bench.currency
    seconds = Figure(
        *(minutes.value * 60, minutes.low * 60, minutes.high * 60, "s"), minutes.formula, minutes.basis, minutes.source
    )
    out = [
        ("labour", cost.labour(seconds, bench.labour_per_h, money)),
        ("tips", cost.tips(tip_sets(starts - pierces, pierces, timetable.arc_s, bench.starts_per_tip_set),
                           bench.tip_set_cost, money)),
    ]  # fmt: skip
    for setting in settings:
        arc_s = math.fsum(c.arc_s for c, s in zip(timetable.clocks, steps, strict=True) if s.setting == setting.id)
        volts = voltage_at(kit.power, setting.current_a)
        power = cost.power(volts, setting.current_a, arc_s, bench.energy_per_kwh, money)
        if arc_s > 0:
            out.append((f"power, {setting.stock.thickness_text} {setting.stock.metal}", power))
    prices, findings = dict(bench.metal_per_kg), []
    for use in plates:
        if use.parts_kg <= 0:
            continue
        plate = job.plates[use.plate]
        if plate.stock.metal not in prices:
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
        mass = metal_used(job, use)
        out.append((f"metal, {plate.name}", cost.plate(mass, prices[plate.stock.metal], money)))
    return tuple(out), tuple(findings)


@formula(
    "money.metal",
    text="least: parts, drops and kerf; most: the plate less the offcut worth keeping; the least is expected when an "
    "offcut is worth keeping, else the whole plate",
    gives="metal charged to the job [kg]",
    source="worth keeping when both sides are over 6 in: common practice, no source",
)
def metal_used(job: Job, use: PlateUse) -> Figure:
    """Return the metal a plate gives to the job [kg]."""
    stock = job.plates[use.plate].stock

    def kg(area: float) -> float:
        return mass_of_area(stock.metal, area, stock.thickness_mm).value

    whole = kg(job.plates[use.plate].outline.area)
    keep = worth_keeping(use)
    least = max(0.0, whole - use.left_kg)
    most = whole - (kg(use.offcut_mm[2] * use.offcut_mm[3]) if keep else 0.0)
    return Figure(
        least if keep else most,
        least,
        most,
        "kg",
        "money.metal",
        Basis.DEFAULT,
        _COMMON,
        (("plate kg", f"{whole:.1f}"), ("left kg", f"{use.left_kg:.1f}"), ("offcut kept", "yes" if keep else "no")),
    )
