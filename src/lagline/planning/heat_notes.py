"""What the heat of a plan says: lines in hot metal, parts too hot to hold, bands beside cuts, bow and flatness."""

from __future__ import annotations

from dataclasses import dataclass

from lagline.planning.bow_notes import camber_of, strip_of
from lagline.planning.heat import AIR_C, LIMIT_C, LineHeat, PlateHeat
from lagline.planning.heat_order import instead
from lagline.planning.heat_tracks import SLOWEST_MM_S, heat_left_j_mm
from lagline.records.figure import Basis, Figure
from lagline.records.finding import Finding, Severity
from lagline.records.plan import Plan, Setting
from lagline.trade.bow_remedy import Remedy, dish_depth_mm, dish_ratio, evens_out_s, hot_camber_mm, remedies
from lagline.trade.cooling import peak_distance
from lagline.trade.heat_field import CELL_MM
from lagline.trade.heat_plate import handle_c, marks, warm
from lagline.trade.metals import property_of

COLD_C = handle_c().value  # a bridge is cut when the strip is hand warm
CHANGES_C = {"steel": (730.0, "steel changes its grain")}  # as in the handbook's example (docs/heat.md)


@dataclass(frozen=True, slots=True)
class Band:
    """How wide a band beside a cut reaches a temperature: by the handbook's formula from the kerf's edge, and by the
    field as a mean over the plate's cuts (None where it is not resolved)."""

    setting: str
    temperature_c: float
    word: str
    handbook_mm: Figure
    field_mm: float | None


@dataclass(frozen=True, slots=True)
class StripBow:
    """One kind of strip: ways to cut it with the camber left, and what it does while hot."""

    part: str
    ways: tuple[Remedy, ...]
    hot_mm: float
    evens_out_s: float


def bands(plan: Plan, plate: PlateHeat) -> tuple[Band, ...]:
    """Return the heat-affected bands of every setting cut on a plate, widest first."""
    used = dict.fromkeys(s.setting for s in plan.steps if s.plate == plate.plate and s.path)
    metal = plate.metal
    temperatures = [(m.temperature_c, m.word) for m in marks(metal) if m.temperature_c > 100]
    temperatures += [CHANGES_C[metal]] if metal in CHANGES_C else []
    only = len(used) == 1
    out = []
    for key in used:
        setting = plan.setting(key)
        for t, word in temperatures:
            width = handbook_band(setting, t)
            reached = float(((plate.peak + AIR_C >= t) & plate.solid).sum()) * plate.cell_mm**2
            mean = reached / (2 * plate.cut_mm) - setting.kerf_mm.value / 2 if plate.cut_mm else 0.0
            out.append(Band(key, t, word, width, mean if only and mean >= plate.cell_mm else None))
    return tuple(out)


def handbook_band(setting: Setting, temperature_c: float) -> Figure:
    """Return the width beside the kerf that reaches a temperature at its hottest, by the handbook formula [mm]."""
    metal, t = setting.stock.metal, setting.stock.thickness_mm
    melt = property_of(metal, "melt").value

    def width(pace: float) -> float:
        net = heat_left_j_mm(setting, pace)
        return (
            peak_distance(temperature_c, net, t, warm(metal).rho_c_j_mm3k, melt, AIR_C) if temperature_c < melt else 0.0
        )

    pace = setting.pace_mm_s
    low, value, high = (width(max(v, SLOWEST_MM_S)) for v in (pace.high, pace.value, pace.low))
    return Figure(
        value, min(low, value), max(high, value), "mm", "heat.peak-distance", Basis.STANDARD,
        "Adams, AWS Welding Handbook vol. 1 ch. 3 (seen; attribution from memory), with the heat conduction leaves; "
        "spread from the pace's",
        (("peak [C]", f"{temperature_c:.0f}"), ("heat left in both edges [J/mm]", f"{heat_left_j_mm(setting):.0f}")),
    )  # fmt: skip


def heat_findings(plan: Plan, heats: tuple[PlateHeat, ...], limit_c: float = LIMIT_C) -> tuple[Finding, ...]:
    """Return what the heat of the plates asks for: waits, tongs, and how far it is to be believed."""
    out: list[Finding] = []
    bridges = {s.number for s in plan.steps if s.bridge}
    for plate in heats:
        first = instead(plan, plate)
        for line in plate.lines:
            where = f"set-up {line.number}, {line.title}"
            if line.hottest_c > limit_c:
                out.append(_warm(where, line, limit_c, first.get(line.number)))
            elif line.number in bridges and line.hottest_c > COLD_C:
                out.append(
                    Finding(
                        "heat-bridge-warm", Severity.NOTE, where,
                        f"the strip is still about {line.hottest_c:.0f} C here when this bridge comes up",
                        f"let it lie until it is hand warm, {COLD_C:.0f} C: it shrinks till then",
                    )
                )  # fmt: skip
        out.extend(_tongs(plate))
        if plate.coarse:
            out.append(
                Finding(
                    "heat-coarse", Severity.NOTE, f"plate {plate.name}",
                    f"worked out in squares of {plate.cell_mm:.1f} mm, not {CELL_MM:g}: plate and clock are large",
                    f"nothing is to be believed nearer than {plate.believe_mm:.0f} mm to a cut",
                )
            )  # fmt: skip
    return tuple(out)


def _warm(where: str, line: LineHeat, limit_c: float, first: int | None) -> Finding:
    wait = "wait, over half an hour by the field"
    if line.wait_s is not None:
        wait = f"wait {max(1, round(line.wait_s / 60))} min"
    other = "or do set-ups that lie elsewhere first, or begin it from its other end where it has one"
    if first is not None:
        other = f"or do set-up {first} first: it lies cold, waits for nothing, and leaves nothing loose"
    x, y = line.at
    return Finding(
        "heat-warm-line", Severity.CAUTION, where,
        f"its line runs in metal at about {line.hottest_c:.0f} C (over {limit_c:.0f}) at x {x:.0f} y {y:.0f}: wider "
        "kerf, more dross, more bow",
        f"{wait}, {other}",
    )  # fmt: skip


def _tongs(plate: PlateHeat) -> list[Finding]:
    hot = sorted((p for p in plate.parts if p.wait_s is None or p.wait_s > 60), key=lambda p: -(p.wait_s or 1e9))
    if not hot:
        return []
    worst = hot[0]
    lasts = "hours" if worst.wait_s is None else f"{worst.wait_s / 60:.0f} min"
    return [
        Finding(
            "heat-handle", Severity.NOTE, f"plate {plate.name}",
            f"{len(hot)} of {len(plate.parts)} parts are too hot for the hand for more than a minute; {worst.name} "
            f"longest, {lasts} (on the whole {worst.loose_c:.0f} C when it comes loose, far hotter at its edge)",
            f"tongs and dry leather gloves; mark it HOT; bare hand below {handle_c().value:.0f} C",
        )
    ]  # fmt: skip


def strip_bows(plan: Plan) -> tuple[StripBow, ...]:
    """Return the ways to cut every kind of strip that was laid out, with what each leaves of its bow."""
    out = []
    for index in dict.fromkeys(p.part for p in plan.layout.placed):
        blank = plan.blanks[index]
        sizes, camber = strip_of(blank), camber_of(blank, plan.settings)
        if sizes is None or camber is None:
            continue
        setting = _square(plan, index)
        low, q, high = _edge_heats(setting)
        stock = blank.part.stock
        hot = hot_camber_mm(stock.metal, stock.thickness_mm, sizes[0], sizes[1], q)
        ways = remedies(camber, q, low, high)
        out.append(StripBow(blank.part.name, ways, hot, evens_out_s(stock.metal, sizes[0])))
    return tuple(out)


def flat_findings(plan: Plan) -> tuple[Finding, ...]:
    """Return a caution for every kind of thin part that may go out of flat when its edges are cut."""
    out = []
    for index in dict.fromkeys(p.part for p in plan.layout.placed):
        blank = plan.blanks[index]
        left, bottom, right, top = blank.cut.bounds()
        narrow, stock = min(right - left, top - bottom), blank.part.stock
        _, q, high_q = _edge_heats(_square(plan, index))
        ratio = dish_ratio(stock.metal, stock.thickness_mm, narrow, q)
        if ratio.high <= 1:
            continue
        deep = dish_depth_mm(stock.metal, stock.thickness_mm, narrow, high_q, ratio.high)
        likely = ratio.value > 1
        out.append(
            Finding(
                "heat-out-of-flat", Severity.CAUTION if likely else Severity.NOTE, blank.part.name,
                f"so thin and wide that its shrunk edges {'are likely to' if likely else 'may'} dish it, by up to "
                f"{deep:.0f} mm ({ratio.value:.1f} of what buckles it, {ratio.low:.1f} to {ratio.high:.1f}: a welding "
                "rule, unproven here)",
                "the fastest pace that still cuts clean, a rest between its cuts, and weights on it until it is cold",
            )
        )  # fmt: skip
    return tuple(out)


def _square(plan: Plan, index: int) -> Setting:
    key = plan.blanks[index].part.stock.key
    return next(s for s in plan.settings if s.stock.key == key and s.bevel_deg == 0)


def _edge_heats(setting: Setting) -> tuple[float, float, float]:
    """Heat in one edge [J/mm]: least, expected, most by the pace's spread."""
    pace = setting.pace_mm_s
    low, value, high = (heat_left_j_mm(setting, v) / 2 for v in (pace.high, pace.value, pace.low))
    return min(low, value), value, max(high, value)
