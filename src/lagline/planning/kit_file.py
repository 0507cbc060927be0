"""Kit files: the tools of one bench, as TOML; what a file leaves out comes from the built-in generic kit."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import TypeAlias, TypeVar

from lagline.planning.fields import (
    Fields,
    choice,
    length,
    nearest,
    number,
    quantity,
    read_file,
    read_flag,
    read_share,
    read_text,
    read_toml,
    refused,
    shown,
    spread,
    temperature,
    whole,
)
from lagline.records.errors import LaglineError, refuse
from lagline.records.figure import Spread
from lagline.records.finding import Finding, Severity
from lagline.records.kit import (
    Air,
    AirLine,
    Bench,
    Guides,
    Intake,
    Kit,
    Operator,
    PowerSet,
    Pricing,
    Supply,
    Tip,
    Torch,
    Warmth,
)
from lagline.trade.safety import lens_rules
from lagline.trade.supply import awg_sizes

METALS = ("steel", "stainless", "aluminium")
MOST_TIPS = 20
MOST_MARGIN = 0.9  # of the price
KERF_ERROR_MM = 0.15  # a calliper in a rough kerf; common practice, no source
CUP_ERROR_MM = 0.25  # a rule or calliper over the cup at guide height; common practice, no source
GENERIC = "generic-kit.toml"

T = TypeVar("T")
Reader: TypeAlias = Callable[[object, str], T]
Maker: TypeAlias = Callable[[str, bool], Reader[T]]  # from (default unit, whether it is the built-in default)


def read_kit(path: Path) -> tuple[Kit, tuple[Finding, ...]]:
    """Read a kit file.

    Returns the kit and notes on it. Raises LaglineError carrying everything that is wrong with the file at once:
    where (file, table, field), what was given, what is allowed.
    """
    return kit_from_text(read_file(path), path.name)


def kit_from_text(text: str, name: str) -> tuple[Kit, tuple[Finding, ...]]:
    """Read a kit from TOML text; ``name`` is what findings call the file. See :func:`read_kit`."""
    return _kit(read_toml(text, name), name, name)


@cache
def generic_kit() -> Kit:
    """Return the built-in kit: a generic 65 A bench on shop air, every spread marked as a default."""
    kit, _ = _kit({}, GENERIC, "built in")
    return kit


@cache
def _generic() -> dict[str, object]:
    return read_toml((files("lagline.data") / GENERIC).read_text(encoding="utf-8"), GENERIC)


@dataclass(frozen=True)
class _Both:
    """A table of the user's file over the same table of the generic kit."""

    own: Fields
    base: Fields
    unit: str

    def get(self, key: str, maker: Maker[T]) -> T:
        built_in = maker("in", True)(self.base.data[key], self.base.at(key))
        return self.own.take(key, maker(self.unit, False), built_in)

    def table(self, key: str) -> _Both:
        return _Both(self.own.table(key), self.base.table(key), self.unit)


def _mm(least: float, most: float) -> Maker[float]:
    return lambda unit, _default: length(unit, least, most)


def _mm_spread(least: float, most: float, plus_minus: float = 0.0) -> Maker[Spread]:
    return lambda unit, default: spread(length(unit, least, most), default=default, plus_minus=plus_minus)


def _spread(read: Reader[float]) -> Maker[Spread]:
    return lambda _unit, default: spread(read, default=default)


def _plain(read: Reader[T]) -> Maker[T]:
    return lambda _unit, _default: read


def _kit(data: dict[str, object], name: str, origin: str) -> tuple[Kit, tuple[Finding, ...]]:
    findings: list[Finding] = []
    top = Fields(data, name, findings)
    both = _Both(top, Fields(_generic(), GENERIC, findings), top.take("units", choice("in", "mm"), "in"))
    kit = Kit(
        name=both.get("name", _plain(read_text)),
        origin=origin,
        power=_power(both.table("power")),
        torch=_torch(both.table("torch"), _tips(both)),
        guides=_guides(both.table("guides")),
        air=_air(both.table("air")),
        operator=_operator(both.table("operator")),
        bench=_bench(both.table("bench")),
        pricing=_pricing(both.table("quote")),
    )
    top.done()
    if not refused(findings):
        _check_together(kit, top)
    if bad := refused(findings):
        raise LaglineError(*bad)
    return kit, tuple(findings)


def _power(t: _Both) -> PowerSet:
    rated = t.get("rated_current_a", _plain(number(10, 400, "A")))
    if t.own.has("rated_current_a"):
        # another set's duty and capacity would be a silent guess
        for key, say in (
            ("duty", "the pairs on the rating plate"),
            ("rated_thickness", "the clean cut it is sold for"),
        ):
            if not t.own.has(key):
                t.own.refuse("field-missing", key, "is missing beside rated_current_a", say)
    least = t.get("min_current_a", _plain(number(5, 400, "A")))
    if least > rated:
        if t.own.has("min_current_a"):
            t.own.refuse("field-bad", "min_current_a", f"{least:g} A is above rated_current_a", f"up to {rated:g} A")
        least = rated
    power = PowerSet(
        name=t.get("name", _plain(read_text)),
        rated_current_a=rated,
        min_current_a=least,
        load_voltage_v=t.get("load_voltage_v", _plain(number(0, 400, "V"))),
        duty=t.get("duty", _plain(_read_duty)),
        supply_v=t.get("supply_v", _plain(number(90, 700, "V"))),
        rated_thickness_mm=t.get("rated_thickness", _mm_spread(0.5, 100)),
        pierce_share=t.get("pierce_share", _spread(read_share)),
        supply=Supply(
            phases=t.get("phases", _plain(whole(1, 3))),
            efficiency=t.get("efficiency", _spread(read_share)),
            power_factor=t.get("power_factor", _spread(read_share)),
            cord_awg=t.get("cord", _plain(read_awg)),
            cord_length_mm=t.get("cord_length", _mm_spread(0, 300_000)),
            breaker_a=t.get("breaker_a", _plain(number(0, 1000, "A"))),
        ),
        warmth=Warmth(
            ambient_c=t.get("ambient", _plain(temperature(-30, 60))),
            arc_before_min=t.get("arc_before_min", _plain(number(0, 10, "minutes"))),
        ),
    )
    if power.supply is not None and power.supply.phases == 2:
        t.own.refuse("field-bad", "phases", "2 phases are no supply", "1 or 3")
    if power.duty[-1][0] > rated:
        t.own.refuse("field-bad", "duty", f"{power.duty[-1][0]:g} A is above rated_current_a", f"up to {rated:g} A")
    t.own.done()
    return power


def read_awg(given: object, where: str) -> str:
    """Read the size of a conductor, ``"10 AWG"`` or ``"10"``: one of the table."""
    text = str(given) if isinstance(given, int) and not isinstance(given, bool) else given
    size = text.lower().removesuffix("awg").strip().lstrip("#") if isinstance(text, str) else ""
    if size not in awg_sizes():
        say = f"{shown(given)} is not a size of conductor here"
        raise refuse("field-bad", where, say, ", ".join(f"{a} AWG" for a in awg_sizes()))
    return size


def _read_duty(given: object, where: str) -> tuple[tuple[float, float], ...]:
    allowed = 'duty = [{ current_a = 65, share = "50 %" }, { current_a = 46, share = "100 %" }]'
    if not isinstance(given, list) or not 1 <= len(given) <= 10 or not all(isinstance(g, dict) for g in given):
        raise refuse("field-bad", where, f"{shown(given)} is not a list of current and share", allowed)
    findings: list[Finding] = []
    pairs = []
    for i, g in enumerate(given, 1):
        f = Fields(g, f"{where}[{i}]", findings)
        current = f.need("current_a", number(1, 400, "A"), 0.0, allowed)
        pairs.append((current, f.need("share", read_share, 0.0, allowed)))
        f.done()
    pairs.sort()
    wrong = any(a[0] == b[0] or a[1] < b[1] for a, b in itertools.pairwise(pairs))
    if not findings and wrong:
        raise refuse("field-bad", where, "share rises with current, or a current is given twice", allowed)
    if findings:
        raise LaglineError(*findings)
    return tuple(pairs)


def _tips(both: _Both) -> tuple[Tip, ...]:
    own = both.own.tables("tips", MOST_TIPS)
    default = not both.own.has("tips")
    if not own and not default:
        both.own.refuse("field-bad", "tips", "no tips", "at least one [[tips]] with name, bore and max_current_a")
    tables, unit = (own, both.unit) if own else (both.base.tables("tips", MOST_TIPS), "in")
    tips = []
    for f in tables:
        tips.append(
            Tip(
                name=f.need("name", read_text, "tip", "what is stamped on it"),
                bore_mm=f.need("bore", length(unit, 0.3, 6), 1.0, "bore of the tip, such as 1.1 mm"),
                max_current_a=f.need("max_current_a", number(5, 400, "A"), 1.0, "the largest current it may carry"),
                kerf_mm=f.take("kerf", spread(length(unit, 0.3, 12), plus_minus=KERF_ERROR_MM), None),
            )
        )
        f.done()
    seen: set[str] = set()
    for f, tip in zip(tables, tips, strict=True):
        if tip.name in seen:
            f.refuse("field-bad", "name", f'two tips are called "{tip.name}"', "a name of its own for each")
        seen.add(tip.name)
    return tuple(sorted(tips, key=lambda tip: (tip.max_current_a, tip.name)))


def _torch(t: _Both, tips: tuple[Tip, ...]) -> Torch:
    torch = Torch(
        shielded=t.get("shielded", _plain(read_flag)),
        cup_radius_mm=t.get("cup_radius", _mm_spread(1, 50, CUP_ERROR_MM)),
        standoff_mm=t.get("standoff", _mm_spread(0, 15)),
        lead_angle_deg=t.get("lead_angle_deg", _spread(number(0, 45, "degrees"))),
        drag_max_current_a=t.get("drag_max_current_a", _plain(number(0, 400, "A"))),
        drag_max_thickness_mm=t.get("drag_max_thickness", _mm(0, 50)),
        square_side=t.get("square_side", _plain(choice("right", "left"))),
        tips=tips,
    )
    t.own.done()
    return torch


def _read_straightedges(unit: str, _default: bool) -> Reader[tuple[float, ...]]:
    def read(given: object, where: str) -> tuple[float, ...]:
        if not isinstance(given, list) or len(given) > 20:
            raise refuse("field-bad", where, f"{shown(given)} is not a list", 'a list of lengths, ["24", "48"]')
        one = length(unit, 20, 10_000)
        return tuple(sorted(one(g, f"{where}[{i}]") for i, g in enumerate(given, 1)))

    return read


def _guides(t: _Both) -> Guides:
    guides = Guides(
        straightedges_mm=t.get("straightedges", _read_straightedges),
        width_mm=t.get("width", _mm(3, 500)),
        height_mm=t.get("height", _mm(0.5, 150)),
        prefer=t.get("prefer", _plain(choice("kept", "drop"))),
        hold=t.get("hold", _plain(choice("clamp", "magnet"))),
        clamp_reach_mm=t.get("clamp_reach", _mm(0, 1500)),
        arm_min_mm=t.get("arm_min", _mm(0, 2000)),
        arm_max_mm=t.get("arm_max", _mm(0, 5000)),
        template=t.get("template", _plain(read_flag)),
        template_max_mm=t.get("template_max", _mm(0, 3000)),
        drill_max_mm=t.get("drill_max", _mm(0, 200)),
    )
    if 0 < guides.arm_max_mm < guides.arm_min_mm:
        t.own.refuse("field-bad", "arm_max", "is below arm_min", "arm_max above arm_min, or 0 for no circle arm")
    t.own.done()
    return guides


def _air(t: _Both) -> Air:
    pressure = quantity("pressure", 100, 3000)
    air = Air(
        delivery_l_min=t.get("delivery", _plain(quantity("air flow", 1, 20_000))),
        tank_l=t.get("tank", _plain(quantity("tank volume", 0, 50_000))),
        cut_in_kpa_g=t.get("cut_in", _plain(pressure)),
        cut_out_kpa_g=t.get("cut_out", _plain(pressure)),
        least_kpa_g=t.get("least", _plain(pressure)),
        use_l_min=t.get("use", _spread(quantity("air flow", 1, 2000))),
        pre_flow_s=t.get("pre_flow_s", _plain(number(0, 60, "s"))),
        post_flow_s=t.get("post_flow_s", _plain(number(0, 300, "s"))),
        line=AirLine(
            hose_length_mm=t.get("hose_length", _mm_spread(0, 300_000)),
            hose_bore_mm=t.get("hose_bore", _mm_spread(2, 100)),
            fittings=t.get("fittings", _plain(whole(0, 50))),
            regulator_kpa_g=t.get("regulator", _plain(pressure)),
            torch_least_kpa_g=t.get("torch_least", _plain(pressure)),
        ),
        intake=Intake(
            altitude_m=t.get("altitude", _plain(quantity("altitude", 0, 5000))),
            intake_c=t.get("intake_temp", _plain(temperature(-30, 60))),
            humidity=t.get("humidity", _plain(read_share)),
            tank_c=t.get("tank_temp", _plain(temperature(-30, 100))),
            dryer=t.get("dryer", _plain(choice("none", "aftercooler", "refrigerated", "desiccant"))),
        ),
    )
    if air.line is not None and air.line.regulator_kpa_g < air.line.torch_least_kpa_g:
        say = "is below torch_least: the torch can never have what it needs"
        t.own.refuse("field-bad", "regulator", say, "set the regulator, air flowing, to torch_least or more")
    if air.cut_in_kpa_g >= air.cut_out_kpa_g:
        t.own.refuse("field-bad", "cut_in", "is not below cut_out", "cut_in below cut_out, both gauge pressures")
    if air.least_kpa_g >= air.cut_out_kpa_g:
        t.own.refuse("field-bad", "least", "is not below cut_out", "what the torch still runs on, below cut_out")
    elif air.least_kpa_g > air.cut_in_kpa_g:
        say = "the tank may fall to cut_in before the compressor starts, and the torch starves above that"
        t.own.note("air-least-above-cut-in", "least", say, "raise cut_in above least", Severity.CAUTION)
    t.own.done()
    return air


def _operator(t: _Both) -> Operator:
    pace = quantity("pace", 0.5, 100)
    operator = Operator(
        reach_mm=t.get("reach", _mm(50, 3000)),
        pace_low_mm_s=t.get("pace_low", _plain(pace)),
        pace_high_mm_s=t.get("pace_high", _plain(pace)),
        hand=t.get("hand", _plain(choice("right", "left"))),
    )
    if operator.pace_low_mm_s >= operator.pace_high_mm_s:
        t.own.refuse("field-bad", "pace_low", "is not below pace_high", "the slowest and fastest pace you hold")
    t.own.done()
    return operator


def _bench(t: _Both) -> Bench:
    seconds = _spread(number(0, 36_000, "s"))
    money = number(0, 1_000_000)
    price = t.table("metal_per_kg")
    bench = Bench(
        straight_setup_s=t.get("straight_setup_s", seconds),
        arm_setup_s=t.get("arm_setup_s", seconds),
        template_setup_s=t.get("template_setup_s", seconds),
        drill_s=t.get("drill_s", seconds),
        start_s=t.get("start_s", seconds),
        pierce_s=t.get("pierce_s", seconds),
        walk_mm_s=t.get("walk", _plain(quantity("pace", 10, 3000))),
        currency=t.get("currency", _plain(_read_currency)),
        labour_per_h=t.get("labour_per_h", _spread(money)),
        metal_per_kg=tuple((metal, price.get(metal, _plain(money))) for metal in METALS),
        tip_set_cost=t.get("tip_set_cost", _plain(money)),
        starts_per_tip_set=t.get("starts_per_tip_set", _spread(number(1, 100_000, "starts"))),
        energy_per_kwh=t.get("energy_per_kwh", _plain(money)),
        lens_rule=t.get("lens_rule", _plain(_read_lens_rules)),
        cup_gap_mm=t.get("cup_gap", _mm(0, 200)),
    )
    price.own.done()
    t.own.done()
    return bench


def _pricing(t: _Both) -> Pricing:
    seconds = _spread(number(0, 36_000, "s"))
    pace = _spread(quantity("pace", 0.1, 500))
    money = number(0, 1_000_000)
    pricing = Pricing(
        shop=t.get("shop", _plain(_read_shop)),
        overhead=t.get("overhead", _plain(_read_share_or_none)),
        margin=t.get("margin", _plain(_read_share_or_none)),
        nozzle_share=t.get("nozzle_share", _spread(read_share)),
        chip_mm_s=t.get("chip", pace),
        grind_mm_s=t.get("grind", pace),
        disc_cost=t.get("disc_cost", _plain(money)),
        disc_mm=t.get("disc_life", _mm_spread(100, 1_000_000)),
        compressor_kwh_m3=t.get("compressor_kwh_m3", _spread(number(0, 2, "kWh/m3"))),
        drill_setup_s=t.get("drill_setup_s", seconds),
        drill_cost=t.get("drill_cost", _spread(money)),
        saw_setup_s=t.get("saw_setup_s", seconds),
        saw_mm2_s=t.get("saw_mm2_s", _spread(number(0.5, 5000, "mm2/s"))),
        saw_cost_m2=t.get("saw_cost_m2", _spread(money)),
    )
    if pricing.margin > MOST_MARGIN:
        say = "leaves less than a tenth of the price for what the job costs"
        t.own.refuse("field-bad", "margin", say, f"0 to {MOST_MARGIN:.0%} of the price")
    t.own.done()
    return pricing


def _read_share_or_none(given: object, where: str) -> float:
    """Read a share that may be nothing."""
    nothing = given == 0 or (isinstance(given, str) and given.replace(" ", "") in ("0%", "0"))
    return 0.0 if nothing and not isinstance(given, bool) else read_share(given, where)


def _read_shop(given: object, where: str) -> str:
    """Read the shop's name; empty is a line to fill in by pen."""
    return "" if isinstance(given, str) and not given.strip() else read_text(given, where)


def _read_currency(given: object, where: str) -> str:
    text = read_text(given, where)
    if len(text) > 8:
        raise refuse("field-bad", where, f"{shown(given)} is too long", "up to 8 letters, such as USD")
    return text


def _read_lens_rules(given: object, where: str) -> str:
    """One or more rules parted by ``;``, each one the shade table knows."""
    known = {rule.lower(): rule for rule in lens_rules()}
    rules = [r.strip() for r in read_text(given, where).split(";")]
    for rule in rules:
        if rule.lower() not in known:
            raise refuse(
                "field-bad", where, f"{shown(rule)} is not a rule with shades here", nearest(rule, lens_rules())
            )
    return "; ".join(known[r.lower()] for r in rules)


def _check_together(kit: Kit, top: Fields) -> None:
    """Note what fits badly between the tables."""
    largest = kit.torch.tips[-1].max_current_a
    if largest < kit.power.min_current_a:
        top.refuse("tip-too-small", "tips", f"the largest carries {largest:g} A, below the set's least current")
    elif largest < kit.power.rated_current_a:
        say = f"the largest carries {largest:g} A, so the set's {kit.power.rated_current_a:g} A cannot be used"
        top.note("tip-too-small", "tips", say, "add the tip for the set's full current")
    if kit.air.delivery_l_min < kit.air.use_l_min.value:
        say = "delivers less than the torch uses: it cuts on the tank and must wait for it"
        top.note("air-short", "air: delivery", say)
