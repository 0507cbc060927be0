"""What is said of a bevelled edge: findings and steps."""

from __future__ import annotations

import math
from dataclasses import replace

from lagline.records.figure import Figure
from lagline.records.finding import Finding, Severity
from lagline.records.plan import Setting
from lagline.setouts.ask import Given
from lagline.setouts.bevel_able import CLEAN, Pass, able_finding
from lagline.trade import bevel_edge
from lagline.trade.bevel_edge import Prep

SAID = ("too-thick", "sever-only", "pierce-beyond")  # said better here, or of no weight where cuts start at an edge


def own_taper(given: Given, s: Setting) -> tuple[str, Figure]:
    """Which side of the torch's kerf the part is on, and how far off the torch's axis that face comes out."""
    assert given.bench is not None
    good = given.word("kept") == given.bench.kit.torch.square_side
    return ("square", s.bevel_good_deg) if good else ("other", s.bevel_bad_deg)


def findings(given: Given, edge: Prep, cuts: tuple[Pass, ...], where: str, square_first: bool) -> list[Finding]:
    """What the passes, the side, the kerf's taper and the fire have to say."""
    bench = given.bench
    assert bench is not None
    out: list[Finding] = []
    for c in cuts:
        if c.tilt_deg and c.able != CLEAN:
            out.append(able_finding(given, c, where, edge, square_first))
        said = SAID if c.tilt_deg else ("pierce-beyond",)
        place = f"{where}, {c.name}"
        out += [replace(f, where=place) for f in c.findings if f.severity is not Severity.NOTE and f.code not in said]
    out += _sliver(given, edge, cuts, where) if square_first else []
    name, own = own_taper(given, next(c for c in cuts if c.tilt_deg).setting)
    if name == "other":
        message = (
            f"the part is on the kerf's other side: its face comes out {own.low:g} to {own.high:g} deg off the tilt"
        )
        out.append(Finding("kept-side", Severity.CAUTION, where, message, "travel the other way, part on the right"
                           if given.word("kept") == "left" else "travel the other way, part on the left"))  # fmt: skip
    more = "flatter" if edge.land_at == "top" else "steeper"
    out.append(
        Finding(
            "bevel-own", Severity.NOTE, where,
            f"the kerf tapers by itself: expect a face {own.low:g} to {own.high:g} deg {more} than the tilt",
            f"try it on scrap and measure; then tilt {'more' if more == 'flatter' else 'less'} by that much",
        )
    )  # fmt: skip
    out.append(
        Finding(
            "bevel-heat", Severity.CAUTION, where,
            "a leaning arc throws slag and sparks out sideways at the foot of the cut and up off the guide",
            "nobody and nothing that burns on the drop's side; gauntlets, shade, fire watch by your site's rules",
        )
    )  # fmt: skip
    return out


def _sliver(given: Given, edge: Prep, cuts: tuple[Pass, ...], where: str) -> list[Finding]:
    """Say when what a bevel takes off a square edge is narrower than the kerf."""
    out = []
    for c in cuts:
        wide = c.through_mm * math.sin(math.radians(c.tilt_deg))
        kerf = c.setting.kerf_mm.value / math.cos(math.radians(c.tilt_deg))
        if c.tilt_deg and wide < kerf:
            message = (
                f"the {c.name} takes off {given.show(wide)}, less than the kerf of {given.show(kerf)} on the plate"
            )
            allowed = (
                "the arc stands half in the air and wanders: grind it, or cut the bevel in one go and grind the land"
            )
            out.append(Finding("bevel-sliver", Severity.CAUTION, where, message, allowed))
    wander = bevel_edge.straightedge_wander(edge.angle_deg)
    if 0 < edge.land_mm < wander.high:
        by = f"{given.show(wander.low)} to {given.show(wander.high)}"
        message = (
            f"a land of {given.show(edge.land_mm)} comes out {by} more or less: a straightedge holds 1/32 to 1/16 in"
        )
        out.append(Finding("land-wander", Severity.NOTE, where, message, "cut it a little full and grind to a gauge"))
    return out


def steps(given: Given, edge: Prep, square_first: bool, guide_mm: float, over_kept: bool) -> tuple[str, ...]:
    """What to do, in order."""
    inward = bevel_edge.set_in(edge)
    side = "in from" if inward >= 0 else "out from"
    line = "Scribe the mark-out line on the top face"
    steps = [f"{line}, {given.show(abs(inward))} {side} the root line." if abs(inward) > 1e-9 else f"{line}."]
    if square_first:
        steps.append("Cut square on the root line first, and knock the dross off: the cup has to sit flat.")
    steps.append(f"Clamp a guide {given.show(guide_mm)} high at the distance given, measured at both ends.")
    to = "over the part" if over_kept else "over the drop"
    steps.append(f"Set the tilt with a bevel gauge against the cup: {edge.angle_deg:g} deg off square, leaning {to}.")
    steps.append("Start at an edge; hold the beat; keep the cup on the guide to the very end.")
    if edge.second_mm:
        other_guide = abs(edge.second_deg - edge.angle_deg) > 1e-9
        inward = edge.second_mm * math.tan(math.radians(edge.second_deg))
        steps.append(
            f"Turn the plate over, scribe {given.show(inward)} in from the root line, tilt {edge.second_deg:g} deg; "
            f"travel so that the part is on your {given.word('kept')} again"
            + ("." if other_guide else ", the guide at the same distance on the part.")
        )
    if edge.land_mm > 0 and not square_first:
        steps.append(f"Grind the feather edge back to a land of {given.show(edge.land_mm)}; check it with a gauge.")
    return tuple(steps)
