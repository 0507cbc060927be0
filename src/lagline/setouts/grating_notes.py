"""What to do and what to mind when a line is cut over grating or expanded metal."""

from __future__ import annotations

from lagline.records.finding import Finding, Severity
from lagline.setouts.ask import Given
from lagline.setouts.grating_plan import HABIT, KIND, Cut
from lagline.trade import grating

KNOTS = {"expanded": "knuckles", "bar": "cross rods"}
CHOICE = "Best is what costs least: starts first, they wear the tip, then time in pilot."


def reason(c: Cut, given: Given) -> str:
    """Return why the line lies where it does."""
    show, now, best = given.show, c.now, c.best
    starts = f"{best.starts} start{'' if best.starts == 1 else 's'}"
    if best.shift_mm == 0:
        return f"the line stays where it is marked: {starts}, no shift gains enough to move it"
    if c.lengthwise(now) and not c.lengthwise(best):
        return (
            f"the line as marked runs {show(now.in_bar_mm)} along a bearing bar: it halves that bar through all its "
            f"{show(given['thickness'])} and neither half carries; shifted it leaves the bar whole, for {starts} "
            f"instead of {now.starts}"
        )
    if best.starts < now.starts:
        return f"shifted the line takes {starts} instead of {now.starts}: each wears the tip"
    if best.metal_mm > now.metal_mm + grating.SAME_PILOT * c.length_mm:
        spare = 100 * (best.metal_mm - now.metal_mm) / c.length_mm
        return f"shifted the line takes {starts}, and the pilot burns in air {spare:.0f} % less of the way"
    return f"shifted the line keeps to {starts} where a hand wanders by 1/16 in; as marked it would come to more"


def _clear(c: Cut, given: Given) -> str:
    """What it costs to miss every knuckle, where a shift does."""
    others = [x for x in c.tried if not x.knuckles and not c.lengthwise(x)]
    if not others:
        return "no shift misses them at this angle"
    x = min(others, key=lambda x: (x.starts, abs(x.shift_mm), -x.shift_mm))
    way = "left" if x.shift_mm > 0 else "right"
    return f"or shift {given.show(abs(x.shift_mm))} to the {way} to miss them, for {x.starts} starts"


def steps(c: Cut, given: Given) -> tuple[str, ...]:
    """Return the work in order, one sentence each."""
    show = given.show
    way = "left" if c.best.shift_mm > 0 else "right"
    move = (
        f"Shift the line {show(abs(c.best.shift_mm))} to the {way} of your way, and mark it along a straightedge."
        if abs(c.best.shift_mm) > 0.05
        else "The line can stay where it is: mark it along a straightedge."
    )
    knuckle = "bond" if c.kind == "expanded" else "bar and rod"
    out = [
        f"Lay a tape from the {knuckle} you measured from, and check two more along the line before cutting.",
        move,
        "Hold the drop up on blocks or by a second pair of hands; clamp on a bar of the kept side, bare metal.",
    ]
    if c.side:
        out += [
            f"Lay the torch against a bar's side, level: the arc goes through {show(c.through.value)}. Start at the "
            f"top edge and travel down its depth, {show(given['thickness'])}, then let go of the trigger: bar by bar.",
            "Look where the arc comes out: the next bar catches it. Put a strip of scrap between.",
        ]
    else:
        out += [
            "Start at an edge of metal. Keep one pace over bars and holes: hurrying over a hole loses the next start.",
            "Trigger off between lines, and where bars are far apart: a pilot burning in air wears the tip.",
        ]
    if c.kind == "bar":
        out.append(
            "Weld a band bar of the bars' own depth and thickness on the cut edge: a trim band to the first, the last "
            "and at least every fourth bar, a load-carrying band to every bar (NAAMM MBG 531, from memory)."
        )
    else:
        out.append(
            "Frame the cut edge with flat or angle, or at least grind each strand end: every one is a point. "
            "Tack every second or third strand (common practice)."
        )
    out.append("Knock the dross off from below; sweep up ends before anybody walks there.")
    if c.setting.drag:
        out.append("Do not drag the cup over a mesh: it catches. Hold it off, on a guide or a shoe.")
    return tuple(out)


def findings(c: Cut, given: Given) -> tuple[Finding, ...]:
    """Return what the line and its cut bring with them."""
    assert given.bench is not None
    bars = "bar" if c.kind == "bar" else "strand"
    out = [
        Finding(
            "grating-drop", Severity.CAUTION, KIND,
            f"the drop hangs on the last {bars} and swings or falls when it goes; whatever stood on it falls too",
            "hold it up and keep feet, hoses and the lead out from under; barricade the hole",
        ),
        Finding(
            "grating-ends", Severity.CAUTION, KIND, f"{c.best.starts} sharp hot ends stay on the kept edge and as many "
            "on the drop", "gloves, then band or grind before anyone handles it",
        ),
        Finding(
            "grating-pilot", Severity.CAUTION, "tip",
            f"{c.best.starts} starts, and pilot arc between them: pilot in air wears the tip most ({HABIT})",
            "old tip on for this; a set that holds its pilot by itself; count starts",
        ),
    ]  # fmt: skip
    shifted = bool(c.best.shift_mm) and c.lengthwise(c.now)
    out.append(
        Finding("grating-choice", Severity.CAUTION if shifted else Severity.NOTE, KIND, reason(c, given), CHOICE)
    )
    if c.kind == "bar" and c.best.in_bar_mm:
        out.append(
            Finding(
                "grating-load", Severity.CAUTION, KIND,
                "a bearing bar cut between its supports carries nothing any more",
                "load-carrying band or a new support under the cut, as the engineer says",
            )
        )  # fmt: skip
    if c.side:
        out.append(
            Finding(
                "grating-side", Severity.CAUTION, KIND,
                f"through {given.show(given['thickness'])} from above this set is too slow or does not cut: torch "
                "against the bars' side" if given.word("way") == "either" else "torch against the bars' side",
                "screen where the arc comes out; --way above to see that way",
            )
        )  # fmt: skip
    if not c.now.starts:
        out.append(
            Finding("grating-void", Severity.NOTE, KIND, "the line as marked meets no metal", "nothing to cut there")
        )
    s = "" if c.best.knuckles == 1 else "s"
    if c.best.knuckles and c.kind == "expanded":
        out.append(
            Finding(
                "grating-knuckles", Severity.CAUTION, KIND,
                f"{c.best.knuckles} knuckle{s} cut through: each is two strands wide, and the diamonds on both sides "
                "lose their bond", f"slow down for each until it is through; {_clear(c, given)}",
            )
        )  # fmt: skip
    elif c.best.knuckles:
        out.append(
            Finding(
                "grating-knuckles", Severity.CAUTION, KIND,
                f"{c.best.knuckles} cross rod{s} cut where a bar holds it: the bar's end has no rod left to tie it",
                f"slow down for each until it is through; {_clear(c, given)}",
            )
        )  # fmt: skip
    if c.lengthwise(c.best) and c.best.in_bar_mm >= grating.LONG_RUN * min(s.spacing_mm for s in c.mesh):
        out.append(
            Finding(
                "grating-along", Severity.CAUTION, KIND,
                f"the line runs {given.show(c.best.in_bar_mm)} along a bearing bar: it halves that bar",
                "turn the line a few degrees, or support what the bar carried, as the engineer says",
            )
        )  # fmt: skip
    elif c.best.longest_mm > grating.LONG_RUN * grating.usual_run(c.mesh, c.angle_deg):
        what = "strand" if c.kind == "expanded" else "bar or rod"
        out.append(
            Finding(
                "grating-along", Severity.CAUTION, KIND,
                f"the line runs {given.show(c.best.longest_mm)} along a {what}: it leaves a sliver, and metal that is "
                "not quite straight wanders out of the line",
                "turn the line a few degrees, or shift it beside that one",
            )
        )  # fmt: skip
    return tuple(out)
