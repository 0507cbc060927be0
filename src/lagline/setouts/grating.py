"""Grating and expanded metal: how often the arc starts along a line, where the line is better, what the tip pays."""

from __future__ import annotations

from lagline.records.figure import Figure
from lagline.records.finding import Severity
from lagline.records.setout import Column, Number, SetOut, Table, exact
from lagline.setouts.ask import Ask, Given, angle, choice, length, maybe_length, shown_given
from lagline.setouts.grating_notes import CHOICE, KNOTS, findings, steps
from lagline.setouts.grating_picture import picture
from lagline.setouts.grating_plan import KIND, Cut, plan, times
from lagline.trade import grating, safety, wear
from lagline.trade.pace import beat_s


def _numbers(c: Cut, given: Given) -> tuple[Number, ...]:
    assert given.bench is not None
    kit, setting, foot = given.bench.kit, c.setting, 304.8 / c.length_mm
    how = "grating.crossings", "geometry (derived)"
    pace = setting.pace_mm_s

    def count(value: float) -> Figure:
        return exact(value, "", *how)

    spent = [times(c, x, given) for x in (c.now, c.best)]
    pilot = [exact(100 * (1 - on / whole) if whole else 0.0, "%", *how) for whole, on in spent]
    sets = [
        wear.tip_sets(x.starts, 0, whole, kit.bench.starts_per_tip_set)
        for x, (whole, _) in zip((c.now, c.best), spent, strict=True)
    ]
    shift = exact(c.best.shift_mm, "mm", "grating.best-shift", "search over shifts (derived)")
    beat = Figure(beat_s(pace.value), beat_s(pace.high), beat_s(pace.low), "s", "pace.beat", pace.basis, pace.source)
    by = "length over pace (derived)" if not c.side else "depth of each bar over pace, and its start (derived)"
    share = exact(100 * grating.metal_share(c.mesh), "%", "grating.metal-share", "two sets of strips (derived)")
    return (
        Number("shift_mm", "shift the line, to the left of your way when plus", shift, main=True),
        Number("starts", "starts, line shifted", count(c.best.starts), main=True),
        Number("pace_mm_s", "pace through each bar or strand", pace, main=True),
        Number("pilot_percent", "of the arc time in pilot, line shifted", pilot[1], main=True),
        Number("starts_marked", "starts as marked", count(c.now.starts)),
        Number("starts_per_ft", "starts in a foot, line shifted", count(round(c.best.starts * foot, 2))),
        Number("starts_marked_per_ft", "starts in a foot, as marked", count(round(c.now.starts * foot, 2))),
        Number("knuckles", f"{KNOTS[c.kind]} cut, line shifted", count(c.best.knuckles)),
        Number("knuckles_marked", f"{KNOTS[c.kind]} cut, as marked", count(c.now.knuckles)),
        Number("pilot_marked_percent", "of the arc time in pilot, as marked", pilot[0]),
        Number("arc_s", "arc on, line shifted", exact(spent[1][0], "s", "pace.held", by)),
        Number("metal_s", "of that in metal", exact(spent[1][1], "s", *how)),
        Number("tip_sets", "tips and electrodes used, line shifted", sets[1]),
        Number("tip_marked_sets", "tips and electrodes used, as marked", sets[0]),
        Number("effective_thickness_mm", "thickness the arc goes through", c.through),
        Number("beat_s", "seconds per inch", beat),
        Number("current_a", "current", exact(setting.current_a, "A", "as set", f"tip {setting.tip}")),
        Number("metal_share_percent", "of the face is metal", share),
        Number("band_length_mm", "band bar for the cut edge", exact(c.length_mm, "mm", *how)),
        Number("cut_ends", "ends on the cut edge", count(c.best.starts)),
    )


def _table(c: Cut) -> Table:
    columns = (
        Column("shift_mm", "shift, left +", "mm"),
        Column("starts", "starts"),
        Column("knuckles", KNOTS[c.kind]),
        Column("metal_mm", "metal to cut", "mm"),
        Column("longest_mm", "longest run", "mm"),
        Column("here", ""),
    )
    rows = tuple(
        (x.shift_mm, x.starts, x.knuckles, x.metal_mm, x.longest_mm,
         "best" if x is c.best else "as marked" if x.shift_mm == 0 else "")
        for x in c.tried
    )  # fmt: skip
    return Table(
        "shifts", "Shift of the line against what it cuts", columns, rows, f"Even steps over one repeat. {CHOICE}"
    )


def line(given: Given) -> SetOut:
    """Return the set-out of a straight line over grating or expanded metal."""
    assert given.bench is not None
    bench, c = given.bench, plan(given)
    work = (
        *safety.lens_findings(c.setting.current_a, (bench.kit.bench.lens_rule,)),
        *safety.fume_findings(bench.stock.metal, bench.stock.coating), safety.fire_finding(), safety.noise_finding(),
    )  # fmt: skip
    what = "expanded metal" if c.kind == "expanded" else "bar grating"
    starts = f"{c.best.starts} start{'' if c.best.starts == 1 else 's'}"
    return SetOut(
        KIND,
        f"Line over {what}, {given.show(c.length_mm)} at {c.angle_deg:g}°: {starts}",
        shown_given(LINE, given),
        _numbers(c, given),
        (_table(c),),
        steps(c, given),
        picture(c.mesh, c.angle_deg, c.offset_mm, c.length_mm, c.best.shift_mm, given),
        (),
        (*findings(c, given), *(f for f in c.found if f.severity is not Severity.NOTE), *work),
    )


LINE = Ask(
    "grating", "line", "Grating and expanded metal: starts along a line, where to shift it, pace and tip wear.",
    (
        choice("kind", "what it is", "expanded", "bar"),
        length("thickness", "thickness of the strand; depth of the bearing bar"),
        length("length", "length of the line", least=5),
        angle("angle", "line to the long way of the diamonds, or to the bearing bars", 90.0),
        maybe_length("swd", "short way of a diamond, bond to bond", least=2, most=300),
        maybe_length("lwd", "long way of a diamond, bond to bond", least=3, most=600),
        maybe_length("strand", "width of a strand", least=0.3, most=50),
        choice("form", "expanded metal as it comes or rolled flat", "raised", "flattened"),
        maybe_length("pitch", "bearing bars, middle to middle", least=2, most=300),
        maybe_length("bar", "thickness of a bearing bar", least=0.5, most=50),
        maybe_length("cross_pitch", "cross rods, middle to middle", 101.6, least=2, most=600),
        maybe_length("rod", "width of a cross rod", 6.35, least=0.5, most=50),
        choice("way", "bars from above through their depth, or from the side", "either", "above", "side"),
        maybe_length("offset", "how far left of a knuckle the marked line runs, square to it", 0.0, most=600),
    ),
    line, thickness="thickness",
    example=(("kind", "bar"), ("thickness", "1"), ("length", "36"), ("angle", "90"), ("pitch", "1-3/16"),
             ("bar", "3/16")),
)  # fmt: skip

ASKS = (LINE,)
