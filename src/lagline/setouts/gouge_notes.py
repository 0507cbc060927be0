"""What to do and what to mind when gouging."""

from __future__ import annotations

from dataclasses import replace

from lagline.records.finding import Finding, Severity
from lagline.records.length import show_pace
from lagline.setouts.ask import Given
from lagline.setouts.gouge_plan import HABIT, KIND, Groove, coupon_gouge
from lagline.trade import gouge, safety
from lagline.trade.register import out_of_range

LAND_MM = 25.4 / 8
THIN_MM = 25.4 / 8
_WHERE = "gouge"


def steps(g: Groove, given: Given) -> tuple[str, ...]:
    """Return the work in order, one sentence each."""
    show = given.show
    out = []
    if g.kind == "crack":
        out += [
            "Find both ends of the crack with dye or magnetic particles, and punch-mark them.",
            f"Mark the gouge {show(g.past_mm)} beyond each end: sound metal goes too (AWS D1.1:2015 5.25.1.4, welded "
            "structures); a hole drilled at each end keeps the crack from running while you heat it (common practice).",
        ]
    else:
        out.append("Mark both edges of the groove and the ends of its ramps on bright metal.")
    out += [
        "Clamp on bare metal; screens and people where the hot metal is thrown: ahead of the torch, along the gouge.",
        f"Strike at 45° to the plate, tip {show(0.8)} off (touching to 1/16 in), where the first ramp begins"
        + (", or on the plate's edge." if g.ramps < 2 else "."),
        f"Lay the torch down to {g.angle_deg:g}° and push it along the gouge, never pull: "
        f"{show_pace(g.pace.value, given.units)}.",
    ]
    if g.ramps:
        out.append(
            f"Let each end rise over {show(g.ramp_mm)} (1 in {g.slope:g}): lay the torch flatter and move faster "
            "towards it."
        )
    layers = g.runs[-1].layer
    if len(g.runs) > layers:
        out.append("In a layer of several passes go side to side by the table's offsets, washing into the one before.")
    out += [
        "After each pass knock off the dross, look, and try the depth gauge; a defect shows as a dark line.",
        f"HOLD at {show(g.depth_mm)}" + (" from the fillet's face" if g.leg_mm else "")
        + ": grind bright, 1/64 to 1/32 in off, dye-check, and have the engineer or inspector see it before any weld.",
        "Still an indication: one more pass there, gauge, grind and check again; the depth found is the depth.",
        "Groove open enough for the electrode to reach its bottom and both sides: if not, wash the sides wider.",
    ]  # fmt: skip
    if g.leg_mm:
        out.append(
            f"The corner keeps a bead of {show(g.profile.radius_mm)} radius: grind it, or one last light wash, not "
            "digging into either plate."
        )
    return tuple(out)


def _shape(g: Groove, given: Given) -> tuple[Finding, ...]:
    """What the groove or its passes make risky."""
    show, out = given.show, []

    def caution(code: str, message: str, allowed: str) -> None:
        out.append(Finding(code, Severity.CAUTION, KIND, message, allowed))

    land = g.thickness_mm - g.depth_mm
    if not g.leg_mm and land < LAND_MM:
        caution(
            "gouge-land", f"only {show(land)} of metal stays below the groove: it may blow through",
            "lighter last pass, faster, with backing; or leave 1/8 in and grind",
        )  # fmt: skip
    if g.thickness_mm < THIN_MM:
        caution("gouge-thin", f"{show(g.thickness_mm)} is thin to gouge on: it warps and blows through", "grind it")
    if g.one.depth_mm > g.depth_mm * (1 + 1e-6):
        caution(
            "gouge-deep", f"one pass at {g.current_a:g} A digs {show(g.one.depth_mm)}, deeper than the groove",
            "less current, a faster pace, or the torch flatter",
        )  # fmt: skip
    elif g.one.depth_mm > gouge.DEEPEST_PASS_MM * (1 + 1e-6):
        caution(
            "gouge-deep-pass", f"{show(g.one.depth_mm)} in one pass is deeper than the trade goes, "
            f"{show(gouge.DEEPEST_PASS_MM)}: it digs in, or blows back",
            "a faster pace, or less current",
        )  # fmt: skip
    if g.profile.width(g.depth_mm) < g.depth_mm:
        caution(
            "gouge-narrow-deep", "the groove is deeper than wide: the electrode will not reach its bottom",
            "wider, more flank, or a larger bottom radius",
        )  # fmt: skip
    assert given.bench is not None
    band = given.bench.kit.operator
    if not band.pace_low_mm_s <= g.pace.value <= band.pace_high_mm_s * (1 + 1e-9):
        caution(
            "gouge-pace", f"{show_pace(g.pace.value, given.units)} is outside what this hand holds",
            f"{show_pace(band.pace_low_mm_s, given.units)} to {show_pace(band.pace_high_mm_s, given.units)}",
        )  # fmt: skip
    ranges = out_of_range("gouge.pass", KIND, pace_mm_s=g.pace.value)
    ranges += out_of_range("gouge.heat-needed", KIND, width_mm=g.one.width_mm, depth_mm=g.one.depth_mm)
    ranges += out_of_range("gouge.arc-power", KIND, current_a=g.current_a)
    return (*out, *ranges)


def _habits(g: Groove, given: Given) -> tuple[Finding, ...]:
    last = coupon_gouge(given, g.current_a)
    whose = f"the gouge of coupon {last.coupon}" if last else "your measured gouge"
    read = g.share.formula == "gouge.share" and g.share.basis == "your coupon"
    out = [
        Finding(
            "gouge-standoff", Severity.NOTE, _WHERE,
            f"strike within 1/16 in: {HABIT}; another habit keeps an arc 1/4 to 1/2 in long, and neither is published",
            "try both on scrap; keep what throws the metal ahead and leaves the groove smooth",
        ),
        Finding(
            "gouge-share", Severity.NOTE, _WHERE,
            f"depth and passes rest on {g.share.value:.2f} ({g.share.low:.2f} to {g.share.high:.2f}) of the arc: "
            + (f"from {whose}" if read else "no published figure for gouging with plasma is known"),
            "gauge each pass" if read else "gouge one pass on scrap and type its width, depth and pace",
        ),
    ]  # fmt: skip
    return tuple(out)


def findings(g: Groove, given: Given) -> tuple[Finding, ...]:
    """Return cautions and notes: the groove's own, then those of the work."""
    assert given.bench is not None
    lens = safety.lens_findings(g.current_a, (given.bench.kit.bench.lens_rule,))
    vessel = replace(safety.closed_vessel_finding(), severity=Severity.CAUTION)
    hold = Finding(
        "gouge-hold", Severity.CAUTION, _WHERE,
        "no weld goes in before the groove is ground bright, dye-checked and seen by the engineer or inspector",
        "the repair procedure and the code of the job come first",
    )  # fmt: skip
    spray = Finding(
        "gouge-spray", Severity.CAUTION, _WHERE,
        "gouging throws melted metal far ahead along the groove, and hot dross rolls under things",
        "screen ahead, nobody and nothing that burns in line; leathers, spats, face shield under the hood",
    )  # fmt: skip
    noise = Finding(
        "gouge-noise", Severity.CAUTION, "ears",
        "gouging is louder than cutting: air-arc gouging is 100 to 115 dB(A), 108 to 120 in the field (HSE; NIOSH "
        "study); 29 CFR 1910.95 allows "
        f"{60 * safety.permitted_noise_h(110):.0f} min at 110 dB(A)",
        "plugs and muffs together; for those near by too",
    )  # fmt: skip
    fume = Finding(
        "gouge-fume", Severity.CAUTION, "air",
        "every bit of the groove leaves as melt, spatter and fume: more fume than a cut of the same length",
        "extraction at the arc or an airline; paint and zinc off 4 in (100 mm) each side first (29 CFR 1926.354)",
    )  # fmt: skip
    air = Finding(
        "gouge-air", Severity.NOTE, "air", "long passes want dry air at steady pressure, read while it flows",
        "let the tank come back during the gauging stops",
    )  # fmt: skip
    work = (*safety.fume_findings(g.metal, given.bench.stock.coating), safety.fire_finding(), safety.voltage_finding())
    return (*_shape(g, given), hold, spray, vessel, *lens, noise, fume, *work, air, *_habits(g, given))
