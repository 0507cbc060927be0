"""What to do and what to mind when a line is cut over grating or expanded metal."""

from __future__ import annotations

from lagline.records.finding import Finding, Severity
from lagline.setouts.ask import Given
from lagline.setouts.grating_plan import HABIT, KIND, Cut
from lagline.trade import grating


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
    if c.kind == "bar":
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
    if c.best.knuckles:
        out.append(
            Finding(
                "grating-knuckles", Severity.NOTE, KIND,
                f"{c.best.knuckles} knuckles cannot be missed at this angle", "slow down for each until it is through",
            )
        )  # fmt: skip
    if c.best.longest_mm > grating.LONG_RUN * grating.usual_run(c.mesh, c.angle_deg):
        out.append(
            Finding(
                "grating-along", Severity.CAUTION, KIND,
                f"the line runs {given.show(c.best.longest_mm)} along a {bars}: it leaves a sliver",
                "turn the line a few degrees, or shift it by hand beside that one",
            )
        )  # fmt: skip
    return tuple(out)
