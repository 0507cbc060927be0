"""Torch against drill, hole by hole, and against saw, straight cut by straight cut: minutes and money either way."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.planning.fit import circle_of
from lagline.planning.labour import pricing_of
from lagline.planning.timetable import PICKS, SLOWEST_MM_S, Pick
from lagline.planning.wear_plan import dryer_of
from lagline.records.figure import Basis, Figure
from lagline.records.geometry import Line
from lagline.records.kit import Kit
from lagline.records.plan import Method, Plan, Setting, Start, Step, StraightGuide
from lagline.trade.break_even import Way, even_count, even_length_mm, saw_way, times_steel
from lagline.trade.cost import SET_EFFICIENCY
from lagline.trade.pace import voltage_at
from lagline.trade.wear import Use, electrodes, nozzles

_COMMON = "common practice, no source"
BANDS_MM = (150.0, 300.0, 600.0, 1200.0)  # straight cuts of about one length are told together
THROUGH = ("rip", "trim")  # straight from edge to edge: a saw can be laid to them


@dataclass(frozen=True, slots=True)
class Pair:
    """Cuts or holes of one size, by torch and by the other tool: minutes and money for each one of them.

    ``other_minutes`` is None where the other tool cannot do it; ``torch_can`` where the torch should not.
    """

    tool: str  # "drill" or "saw"
    what: str
    count: int
    numbers: tuple[int, ...]  # set-ups
    size_mm: float  # diameter or length
    torch_can: bool
    torch_minutes: Figure
    torch_money: Figure
    other_minutes: Figure | None
    other_money: Figure | None

    @property
    def cheaper(self) -> str:
        if self.other_money is None:
            return "torch"
        if not self.torch_can:
            return self.tool
        return "torch" if self.torch_money.value <= self.other_money.value else self.tool

    @property
    def sure(self) -> bool:
        """Whether the cheaper one stays it over both spreads."""
        if self.other_money is None or not self.torch_can:
            return True
        a, b = self.torch_money, self.other_money
        return a.high < b.low or b.high < a.low


@dataclass(frozen=True, slots=True)
class Even:
    """Where two ways come to the same money: at a length [mm] or a number of holes; None when one is always cheaper."""

    tool: str
    stock: str
    at: float | None
    words: str


@dataclass(frozen=True, slots=True)
class Compared:
    """Every pair of a plan, and where drill and saw begin to pay."""

    pairs: tuple[Pair, ...]
    evens: tuple[Even, ...]


@dataclass(frozen=True, slots=True)
class _Rates:
    """Money at one end of the spreads."""

    kit: Kit
    time: Pick
    pace: Pick

    def torch(self, setting: Setting, method: Method, start: Start, *, shifts: int = 0, held: bool = False) -> Way:
        """Seconds of a torch cut: once for guide and start, for each mm of path its pace and its dross."""
        b, p = self.kit.bench, pricing_of(self.kit)
        guides = {
            Method.STRAIGHTEDGE: b.straight_setup_s,
            Method.ARM: b.arm_setup_s,
            Method.TEMPLATE: b.template_setup_s,
        }
        once = self.time(guides[method]) * (1 + shifts) if method in guides and not held else 0.0
        once += self.time(b.pierce_s if start is Start.PIERCE else b.start_s)
        each = 1 / max(self.pace(setting.pace_mm_s), SLOWEST_MM_S) + 1 / self.pace(p.chip_mm_s)
        return Way(once, each)

    def torch_money(self, way: Way, setting: Setting, start: Start) -> Way:
        """The same in money, with tips, power and air."""
        b, air, p = self.kit.bench, self.kit.air, pricing_of(self.kit)
        hour = self.time(b.labour_per_h) / 3600
        pace = max(self.pace(setting.pace_mm_s), SLOWEST_MM_S)
        through = start is Start.PIERCE
        one = Use(int(not through), int(through), 0.0)
        share, dryer = p.nozzle_share.value, dryer_of(self.kit)
        tips = share * self.time(nozzles(one, b.starts_per_tip_set, dryer))
        tips += (1 - share) * self.time(electrodes(one, b.starts_per_tip_set, dryer))
        kw = voltage_at(self.kit.power, setting.current_a) * setting.current_a / 1000 / SET_EFFICIENCY.value
        flow_kwh_s = self.time(air.use_l_min) / 60_000 * self.time(p.compressor_kwh_m3)
        once = way.once * hour + tips * b.tip_set_cost
        once += (air.pre_flow_s + air.post_flow_s) * flow_kwh_s * b.energy_per_kwh
        each = way.each_mm * hour + (kw / 3600 + flow_kwh_s) * b.energy_per_kwh / pace
        return Way(once, each)

    def saw(self, setting: Setting) -> Way:
        p = pricing_of(self.kit)
        times = self.time(times_steel(setting.stock.metal))
        return saw_way(setting.stock.thickness_mm, self.time(p.saw_setup_s), self.pace(p.saw_mm2_s), times)

    def saw_money(self, way: Way, setting: Setting) -> Way:
        p, hour = pricing_of(self.kit), self.time(self.kit.bench.labour_per_h) / 3600
        return Way(way.once * hour, way.each_mm * hour + setting.stock.thickness_mm * 1e-6 * self.time(p.saw_cost_m2))

    def drill(self, setting: Setting) -> tuple[float, float]:
        """Seconds and money for one hole, the drill set up."""
        b = self.kit.bench
        seconds = self.time(b.drill_s) * self.time(times_steel(setting.stock.metal))
        return seconds, seconds / 3600 * self.time(b.labour_per_h) + self.time(pricing_of(self.kit).drill_cost)


def _ends(kit: Kit) -> tuple[_Rates, _Rates, _Rates]:
    return (_Rates(kit, *PICKS["expected"]), _Rates(kit, *PICKS["short"]), _Rates(kit, *PICKS["long"]))


def _figure(values: list[float], unit: str, key: str) -> Figure:
    return Figure(values[0], min(values), max(values), unit, key, Basis.DEFAULT, _COMMON)


def compare(plan: Plan, kit: Kit | None = None) -> Compared:
    """Return torch against drill and saw for the holes and the straight cuts of a plan, and where each begins to pay.

    Chipping counts with the torch; walking, rests and waits with neither. Whether a saw can be brought to a cut is for
    the eye: only cuts straight from edge to edge are compared.
    """
    rates = _ends(kit or plan.kit)
    pairs = (*_holes(plan, rates), *_straights(plan, rates))
    evens: list[Even] = []
    for setting in (s for s in plan.settings if s.bevel_deg == 0):
        evens.append(_even_saw(setting, rates))
        evens.append(_even_drill(setting, rates))
    return Compared(pairs, tuple(evens))


def _minutes_money(setting: Setting, method: Method, start: Start, length_mm: float, rates: tuple[_Rates, ...],
                   shifts: int = 0) -> tuple[Figure, Figure]:  # fmt: skip
    ways = [r.torch(setting, method, start, shifts=shifts) for r in rates]
    money = [r.torch_money(w, setting, start).of(length_mm) for r, w in zip(rates, ways, strict=True)]
    minutes = [w.of(length_mm) / 60 for w in ways]
    currency = rates[0].kit.bench.currency
    return _figure(minutes, "min", "timetable.needs"), _figure(money, currency, "even.count")


def _holes(plan: Plan, rates: tuple[_Rates, ...]) -> list[Pair]:
    kit, groups = rates[0].kit, dict[tuple[str, float, bool], list[Step]]()
    roles = {c.id: c.role for c in plan.cuts}
    for s in plan.steps:
        if s.method is Method.DRILL:
            groups.setdefault((s.setting, round(s.diameter_mm, 1), False), []).append(s)
        elif roles.get(s.cut) == "hole" and (c := circle_of(s.line)) is not None:
            groups.setdefault((s.setting, round(2 * c.radius, 1), True), []).append(s)
    out = []
    for (key, diameter, cut), steps in sorted(groups.items(), key=lambda g: (g[0][2], g[0][1], g[0][0])):
        setting = plan.setting(key)
        arm = kit.guides.arm_min_mm <= diameter / 2 <= kit.guides.arm_max_mm
        method = steps[0].method if cut else (Method.ARM if arm else Method.TEMPLATE)
        minutes, money = _minutes_money(setting, method, Start.PIERCE, math.pi * diameter, rates)
        may = diameter <= kit.guides.drill_max_mm
        drill = [r.drill(setting) for r in rates]
        out.append(
            Pair(
                "drill",
                "hole",
                len(steps),
                tuple(s.number for s in steps),
                diameter,
                cut or diameter >= setting.min_hole_mm.value,
                minutes,
                money,
                _figure([d[0] / 60 for d in drill], "min", "even.count") if may else None,
                _figure([d[1] for d in drill], kit.bench.currency, "even.count") if may else None,
            )
        )
    return out


def _straights(plan: Plan, rates: tuple[_Rates, ...]) -> list[Pair]:
    roles = {c.id: c.role for c in plan.cuts}
    groups: dict[tuple[str, int, int], list[Step]] = {}
    for s in plan.steps:
        if roles.get(s.cut) not in THROUGH or len(s.line) != 1 or not isinstance(s.line[0], Line):
            continue
        shifts = s.guide.shifts if isinstance(s.guide, StraightGuide) else 0
        band = sum(s.line[0].length >= limit for limit in BANDS_MM)
        groups.setdefault((s.setting, band, shifts), []).append(s)
    out = []
    for (key, _, shifts), steps in sorted(groups.items(), key=lambda g: (-g[0][1], g[0][0], -g[0][2])):
        setting = plan.setting(key)
        length = math.fsum(s.line[0].length for s in steps) / len(steps)
        minutes, money = _minutes_money(setting, Method.STRAIGHTEDGE, Start.EDGE, length, rates, shifts)
        ways = [r.saw(setting) for r in rates]
        sawn = [r.saw_money(w, setting).of(length) for r, w in zip(rates, ways, strict=True)]
        out.append(
            Pair(
                "saw",
                "straight cut",
                len(steps),
                tuple(s.number for s in steps),
                length,
                True,
                minutes,
                money,
                _figure([w.of(length) / 60 for w in ways], "min", "even.saw"),
                _figure(sawn, rates[0].kit.bench.currency, "even.saw"),
            )
        )
    return out


def _even_saw(setting: Setting, rates: tuple[_Rates, ...]) -> Even:
    r = rates[0]
    torch = r.torch_money(r.torch(setting, Method.STRAIGHTEDGE, Start.EDGE), setting, Start.EDGE)
    saw = r.saw_money(r.saw(setting), setting)
    at = even_length_mm(torch, saw)
    if at is None:
        first = "torch" if torch.of(1000) <= saw.of(1000) else "saw"
        return Even("saw", setting.id, None, f"the {first} is the cheaper at any length")
    short = "saw" if torch.once > saw.once else "torch"
    return Even("saw", setting.id, at, f"the {short} is the cheaper below this length, the other above")


def _even_drill(setting: Setting, rates: tuple[_Rates, ...]) -> Even:
    r, kit = rates[0], rates[0].kit
    least = max(setting.min_hole_mm.value, 0.0)
    if least > kit.guides.drill_max_mm:
        return Even("drill", setting.id, None, "no hole is both small enough to drill and large enough to cut")
    arm = kit.guides.arm_min_mm <= least / 2 <= kit.guides.arm_max_mm
    method = Method.ARM if arm else Method.TEMPLATE
    torch = r.torch_money(r.torch(setting, method, Start.PIERCE), setting, Start.PIERCE).of(math.pi * least)
    setup = r.time(pricing_of(kit).drill_setup_s) / 3600 * r.time(kit.bench.labour_per_h)
    n = even_count(setup, torch, r.drill(setting)[1])
    if n is None:
        return Even("drill", setting.id, None, "each hole is cheaper cut, however many there are")
    return Even("drill", setting.id, n, "fetching the drill pays from so many holes of the smallest size that is cut")
