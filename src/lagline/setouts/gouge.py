"""Gouging: the groove wanted, and the passes, angles, pace and time that open it."""

from __future__ import annotations

import math

from lagline.planning.settings import tip_for
from lagline.records.figure import Basis, Figure
from lagline.records.setout import Column, Number, SetOut, Table, exact
from lagline.setouts.ask import Ask, Given, angle, choice, length, maybe_length, number, shown_given
from lagline.setouts.gouge_notes import findings, steps
from lagline.setouts.gouge_picture import picture, sheets
from lagline.setouts.gouge_plan import HABIT, KIND, PAST_END_MM, Groove, plan
from lagline.shapes.groove import MOST_FLANK_DEG
from lagline.trade import gouge, gouge_passes
from lagline.trade.duty import allowed_share
from lagline.trade.gouge import Pass
from lagline.trade.metals import property_of
from lagline.trade.pace import beat_s


def _one_of(g: Groove, share: float) -> Pass:
    return gouge.one_pass(g.metal, share * g.power_w, g.pace.value, g.angle_deg)


def _spread(low: float, value: float, high: float, unit: str, key: str, source: str) -> Figure:
    return Figure(value, min(low, value), max(high, value), unit, key, Basis.DEFAULT, source)


def _numbers(g: Groove, given: Given) -> tuple[Number, ...]:
    """The numbers; what depends on the share of the arc is worked out at both ends of its spread."""
    assert given.bench is not None
    kit = given.bench.kit
    weak, strong = _one_of(g, g.share.low), _one_of(g, g.share.high)
    many = gouge_passes.plan_passes(g.profile, g.depth_mm, weak, g.full_mm, g.ramps, g.slope)
    few = gouge_passes.plan_passes(g.profile, g.depth_mm, strong, g.full_mm, g.ramps, g.slope)
    duty, gauge, start = allowed_share(g.current_a, kit.power.duty), gouge_passes.GAUGE_S, kit.bench.start_s
    arc = [gouge_passes.arc_time(r, g.pace.value) for r in (few, g.runs, many)]
    whole = [
        gouge_passes.whole_time(a, len(r), s, k, duty)
        for a, r, s, k in zip(
            arc, (few, g.runs, many), (start.low, start.value, start.high), (gauge.low, gauge.value, gauge.high),
            strict=True,
        )
    ]  # fmt: skip
    basis = g.share.basis
    heat = f"heat balance, arc share {g.share.value:.2f} ({g.share.low:.2f} to {g.share.high:.2f}): {g.share.source}"
    rho = property_of(g.metal, "density")
    kilos = Figure(
        rho.value * g.volume_mm3 * 1e-9, rho.low * g.volume_mm3 * 1e-9, rho.high * g.volume_mm3 * 1e-9, "kg",
        "gouge.passes", Basis.STANDARD, rho.source,
    )  # fmt: skip
    one, area = g.one, g.profile.area(g.depth_mm)
    how = "section times length, ramps integrated (derived)"

    def habit(value: float, low: float, high: float, unit: str) -> Figure:
        return Figure(value, low, high, unit, "gouge.shape", Basis.DEFAULT, HABIT)

    def passes(value: float, low: float, high: float) -> Figure:
        return Figure(value, min(low, value), max(high, value), "mm", "gouge.pass", basis, heat)

    beat = beat_s(g.pace.value)
    count = _spread(len(few), len(g.runs), len(many), "", "gouge.passes", heat)
    deep = passes(one.depth_mm, weak.depth_mm, strong.depth_mm)
    watts = exact(g.power_w, "W", "gouge.arc-power", "conventional load line (from memory)")
    out = [
        Number("passes_count", "passes", count, main=True),
        Number("pace_mm_s", "pace", g.pace, main=True),
        Number("pass_depth_mm", "deepest one pass goes", deep, main=True),
        Number("pass_width_mm", "width of one pass", passes(one.width_mm, weak.width_mm, strong.width_mm), main=True),
        Number("start_angle_deg", "torch to plate to strike", habit(45, 35, 45, "deg"), main=True),
        Number("working_angle_deg", "torch to plate while gouging", habit(g.angle_deg, 15, 25, "deg"), main=True),
        Number("beat_s", "seconds per inch",
               Figure(beat, beat_s(g.pace.high), beat_s(g.pace.low), "s", "pace.beat", g.pace.basis, g.pace.source)),
        Number("standoff_mm", "tip to metal to strike", habit(0.8, 0.0, 25.4 / 16, "mm")),
        Number("current_a", "current", exact(g.current_a, "A", "as set", f"{kit.power.name}, tip {_tip(given, g)}")),
        Number("groove_depth_mm", "depth of the groove", exact(g.depth_mm, "mm", "gouge.passes", "as asked")),
        Number("groove_width_mm", "width at the face", exact(g.profile.width(g.depth_mm), "mm", "gouge.passes", how)),
        Number("bottom_radius_mm", "bottom radius", exact(g.profile.radius_mm, "mm", "gouge.passes", "as asked")),
        Number("flank_deg", "flank off upright", exact(g.profile.flank_deg, "deg", "gouge.passes", how)),
        Number("ramp_length_mm", "each end ramp, along the plate",
               Figure(g.ramp_mm, 2 * g.depth_mm, 4 * g.depth_mm, "mm", "gouge.passes", Basis.DEFAULT,
                      f"1 in 2 to 1 in 4: {HABIT}")),
        Number("ramp_deg", "end ramp to plate",
               exact(math.degrees(math.atan2(1, g.slope)), "deg", "gouge.passes", "atan(1/slope) (derived)")),
        Number("full_depth_length_mm", "length at full depth", exact(g.full_mm, "mm", "gouge.passes", how)),
        Number("whole_length_mm", "length with the ramps", exact(g.whole_mm, "mm", "gouge.passes", how)),
        Number("groove_area_mm2", "section to fill", exact(area, "mm2", "gouge.passes", how)),
        Number("removed_cm3", "metal out", exact(g.volume_mm3 / 1000, "cm3", "gouge.passes", how)),
        Number("removed_kg", "weight out", kilos),
        Number("fill_kg", "weld metal to fill flush, ramps and all, no cap, no loss", kilos),
        Number("arc_s", "arc time", _spread(arc[0], arc[1], arc[2], "s", "gouge.arc-time", heat)),
        Number("whole_s", "time with starts, gauging stops and rests",
               _spread(whole[0], whole[1], whole[2], "s", "gouge.whole-time",
                       "start from the kit; 1 min (1/2 to 2) a stop is ours; duty from the kit")),
        Number("arc_share", "share of the arc that digs", g.share),
        Number("arc_power_w", "arc power", watts),
    ]  # fmt: skip
    if g.leg_mm:
        left = g.profile.radius_mm**2 * (1 - math.pi / 4)
        out.append(Number("corner_left_mm2", "left in the corner to grind", exact(left, "mm2", "gouge.passes", how)))
    return tuple(out)


def _tip(given: Given, g: Groove) -> str:
    assert given.bench is not None
    return tip_for(given.bench.kit, g.current_a).name


def _table(g: Groove) -> Table:
    columns = (
        Column("number", "pass"),
        Column("layer", "layer"),
        Column("depth_mm", "groove deep then", "mm"),
        Column("deeper_mm", "of that by this layer", "mm"),
        Column("width_mm", "width", "mm"),
        Column("offset_mm", "off the middle, right +", "mm"),
        Column("run_mm", "travel", "mm"),
        Column("area_mm2", "section out", "mm2"),
    )
    rows = tuple(
        (n, r.layer, r.depth_mm, r.deeper_mm, r.width_mm, r.offset_mm, r.run_mm, r.area_mm2)
        for n, r in enumerate(g.runs, 1)
    )
    note = "Gauge after each; what is short goes into the next pass."
    if g.leg_mm:
        note = "Depth is from the face of the fillet. " + note
    return Table("passes", "Passes", columns, rows, note)


def groove(given: Given) -> SetOut:
    """Return the set-out of a groove to gouge."""
    assert given.bench is not None
    g = plan(given)
    of = {
        "back-gouge": "Back-gouge",
        "fillet": "Take out a fillet,",
        "crack": "Gouge out a crack,",
        "u-prep": "U preparation,",
    }[g.kind]
    size = f"{given.show(g.leg_mm)} leg" if g.leg_mm else f"{given.show(g.depth_mm)} deep"
    return SetOut(
        KIND,
        f"{of} {size}, {given.show(g.whole_mm)} long, {len(g.runs)} pass{'es' if len(g.runs) > 1 else ''}",
        shown_given(GROOVE, given),
        _numbers(g, given),
        (_table(g),),
        steps(g, given),
        picture(g, given),
        sheets(g, given),
        findings(g, given),
    )


GROOVE = Ask(
    "gouge", "groove", "Gouging: passes, angles, pace, ramps, depth gauge and fill for the groove that is wanted.",
    (
        choice("kind", "what for", "back-gouge", "fillet", "crack", "u-prep"),
        length("thickness", "thickness of the plate, the thinner one at a fillet"),
        maybe_length("depth", "depth of the groove, to sound metal; not for a fillet"),
        maybe_length("width", "width at the face; empty lets radius and flank make it"),
        maybe_length("leg", "leg of the fillet to remove", least=1),
        length("length", "length of the weld, of the crack as found, or of the groove at full depth", least=1),
        maybe_length("past_ends", "how far beyond each end of a crack", PAST_END_MM, most=500),
        maybe_length("radius", "bottom radius; empty takes 1/4 in, 3/16 in in a fillet's corner", least=1, most=50),
        angle("flank", "lean of the groove's sides off upright", 20.0, most=MOST_FLANK_DEG),
        choice("ends", "ends that run out on a ramp, the others at an edge", "both", "one", "none"),
        number("ramp", "end ramp: how far along for 1 of depth", "to 1", 3.0, least=2, most=4),
        angle("angle", "torch to plate while gouging; steeper is deeper and narrower", 20.0, least=15, most=25),
        number("pace", "pace; empty takes 30 in/min, or what saves passes", "in/min", least=20, most=50),
        maybe_length("read_width", "a scrap gouge of yours: width", most=40),
        maybe_length("read_depth", "a scrap gouge of yours: depth", most=20),
        number("read_pace", "a scrap gouge of yours: pace", "in/min", least=2, most=150),
        number("read_current", "a scrap gouge of yours: current; empty is the current here", "A", least=10, most=130),
    ),
    groove, thickness="thickness",
    example=(("kind", "crack"), ("thickness", "3/4"), ("depth", "3/8"), ("length", "5")),
)  # fmt: skip

ASKS = (GROOVE,)
