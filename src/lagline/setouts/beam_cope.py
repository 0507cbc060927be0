"""A coped beam end: set-back, depth, re-entrant corner, lines carried round the flange, and a template."""

from __future__ import annotations

import math

from lagline.records.finding import Finding, Severity, sort_findings
from lagline.records.geometry import Point
from lagline.records.plan import Setting
from lagline.records.setout import Area, Dim, Drawing, Number, SetOut, Stroke, Text
from lagline.setouts.ask import Ask, Faults, Field, Given, choice, length, maybe_length, shown_given
from lagline.setouts.beam_common import (
    EDGE_RULES,
    HOT,
    SHEET_MOST_MM,
    able_findings,
    arc,
    corner_faults,
    corner_findings,
    corner_numbers,
    cut_passes,
    cuts_table,
    guide_numbers,
    lines_table,
    of,
    rules_table,
)
from lagline.trade import structural
from lagline.trade.structural import rule

WITNESS_MM = 50.8

_FIELDS: tuple[Field, ...] = (
    length("web", "web thickness of the beam that is coped", least=2, most=100),
    length("depth", "its depth", least=40, most=1500),
    length("flange_width", "its flange width", least=20, most=600),
    length("flange_thickness", "its flange thickness", least=2, most=150),
    length("receiving_flange_width", "flange width of the receiving beam", least=20, most=600),
    length("receiving_web", "web thickness of the receiving beam", least=2, most=100),
    length("receiving_flange_thickness", "flange thickness of the receiving beam", least=2, most=150),
    maybe_length("receiving_fillet", "fillet between its flange and web, measured", 0.0, most=80),
    maybe_length("lower", "how far the coped beam's flange lies inside the other's (0: flush)", 0.0, most=1000),
    choice("at", "which flange is coped", "top", "bottom", "both"),
    maybe_length("cope_depth", "depth of the cope; empty takes what clears, up to the next 1/8 in or 5 mm"),
    maybe_length("radius", "re-entrant radius", 12.7, most=100),
    maybe_length("end_clearance", "gap from the beam's end to the receiving web", 25.4 / 16, most=25.4),
    maybe_length("flange_clearance", "gap from the cope to the receiving flange's edge", 0.0, most=50),
)


def cope_outline(setback: float, depth: float, radius: float) -> tuple[Point, ...]:
    """The cut line from the beam's end to its flange's outer face: end at x 0, outer face at y 0, web below [mm]."""
    corner = arc((setback - radius, radius - depth), radius, -90, 0)
    return ((0.0, -depth), *corner, (setback, 0.0))


def _depth(given: Given, needed: float) -> float:
    typed = given.get("cope_depth")
    if typed is not None:
        return typed
    step = 25.4 / 8 if given.units == "in" else 5.0
    least = max(needed, given["flange_thickness"] + given["radius"])
    return math.ceil(least / step - 1e-9) * step


def _checked(given: Given, faults: Faults) -> tuple[float, float]:
    """Return set-back and depth; faults say what cannot be and what would."""
    d, tf, r = given["depth"], given["flange_thickness"], given["radius"]
    if 2 * tf >= d or given["web"] >= given["flange_width"]:
        allowed = "depth over twice the flange thickness, flange wider than the web"
        faults.add("", "these sizes make no beam", allowed)
    rule_back = structural.cope_setback(given["receiving_flange_width"], given["receiving_web"], given["end_clearance"])
    if rule_back <= 0:
        allowed = "no cope; or check the receiving flange's width and web"
        faults.add("receiving_flange_width", "the receiving flange does not reach past the beam's end", allowed)
    needed = structural.cope_depth(given["receiving_flange_thickness"], given["receiving_fillet"], given["lower"])
    if needed <= 0:
        allowed = f"no cope; or a beam lying less than {given.show(needed + given['lower'])} lower"
        faults.add("lower", "the beam lies clear of the receiving flange and its fillet", allowed)
    back, deep = rule_back + given["flange_clearance"], _depth(given, needed)
    if deep > rule("cope_half").value * d + 1e-6:
        allowed = (
            f"up to {given.show(d / 2)}; a deeper beam, one set lower, a seat, or an end plate the engineer designs; "
            + rule("cope_half").source
        )
        faults.add("cope_depth", f"a cope of {given.show(deep)} is deeper than half the beam", allowed)
    if deep < tf + r - 1e-6:
        allowed = f"a radius up to {given.show(max(deep - tf, 0))}, or a cope of {given.show(tf + r)} or more"
        faults.add("radius", f"the corner's {given.show(r)} runs into the flange: the cope is too shallow", allowed)
    faults.unless(
        r < back or rule_back <= 0, "radius", f"the corner's {given.show(r)} is longer than the cope",
        f"under {given.show(back)}",
    )  # fmt: skip
    return back, deep


def _lines(given: Given, back: float, deep: float) -> tuple[tuple[str, str, str, float], ...]:
    d, tf = given["depth"], given["flange_thickness"]
    out: list[tuple[str, str, str, float]] = []
    flanges = ("top", "bottom") if given.word("at") == "both" else (given.word("at"),)
    for f in flanges:
        other = "bottom" if f == "top" else "top"
        out += [
            (f"{f} flange, outer face", "square across", "beam's end", back),
            (f"{f} flange, both edges", "carried down", "beam's end", back),
            (f"{f} flange, inner face", "square in to the web", "beam's end", back),
            ("web, both faces", "upright line", "beam's end", back),
            ("web, both faces", "along, under the flange", f"{f} flange's inner face", deep - tf),
            ("web, both faces", "the same, where the fillet hides it", f"{other} flange's inner face", d - tf - deep),
        ]
    out.append(("web, both faces", "witness line, stays on the part", "beam's end", back + WITNESS_MM))
    return tuple(out)


def _receiving(given: Given, at: str) -> list[Stroke]:
    """The receiving beam in section, dashed: flange and part of its web, at whichever flange is coped."""
    d, b, w = given["depth"], given["receiving_flange_width"], given["receiving_web"]
    t, high = given["receiving_flange_thickness"], given["lower"]
    mid = -given["end_clearance"] - w / 2
    foot = -d * 0.45 if at == "both" else -d * 1.08
    flange = ((mid - b / 2, high - t), (mid - b / 2, high), (mid + b / 2, high), (mid + b / 2, high - t))
    tee = (*flange, (mid + w / 2, high - t), (mid + w / 2, foot), (mid - w / 2, foot), (mid - w / 2, high - t))
    over = tuple((x, -d - y) for x, y in tee)
    return [Stroke("hidden", p, True) for p, used in ((tee, at != "bottom"), (over, at != "top")) if used]


def _picture(given: Given, back: float, deep: float) -> Drawing:
    """The beam's end from the side, the receiving beam dashed in section."""
    d, tf, r, at = given["depth"], given["flange_thickness"], given["radius"], given.word("at")
    long = max(2.2 * back, 0.9 * d)
    line = cope_outline(back, deep, r)
    top = line if at != "bottom" else ((0.0, 0.0),)
    foot = tuple((x, -d - y) for x, y in line) if at != "top" else ((0.0, -d),)
    metal = (*top, (long, 0.0), (long, -d), *reversed(foot))
    areas, strokes = [Area("metal", metal)], []
    waste: tuple[Point, ...] = (*line, (0.0, 0.0))
    for flip, used in ((False, at != "bottom"), (True, at != "top")):
        if used:
            areas.append(Area("waste", tuple((x, -d - y) for x, y in waste) if flip else waste))
            strokes.append(Stroke("cut", tuple((x, -d - y) for x, y in line) if flip else line))
    for y, coped in ((-tf, at != "bottom"), (tf - d, at != "top")):
        strokes.append(Stroke("edge", ((back if coped else 0.0, y), (long, y))))
    strokes += _receiving(given, at)
    strokes.append(Stroke("mark", ((back + WITNESS_MM, -tf), (back + WITNESS_MM, tf - d))))
    u = (long + given["receiving_flange_width"] / 2) / 300 * 10
    bottom_only = at == "bottom"
    level = -d if bottom_only else 0.0
    side = -1 if bottom_only else 1
    dims = [
        Dim((0.0, level), (back, level), given.show(back), side * (2.5 * u + given["lower"])),
        Dim((long, -deep), (long, 0.0), given.show(deep), -2.0 * u)
        if not bottom_only
        else Dim((long, -d), (long, deep - d), given.show(deep), -2.0 * u),
        Dim((long, -d), (long, 0.0), given.show(d), -5.5 * u),
    ]
    texts = [Text((back + WITNESS_MM + 2.0 * u, -d / 2), "witness line", 90.0, 3.0)]
    return Drawing("Coped end from the side", tuple(areas), tuple(strokes), tuple(texts), tuple(dims))


def _sheet(given: Given, back: float, deep: float) -> tuple[Drawing, ...]:
    """The web's template at full scale, its top edge on the flange's inner face, its left edge on the beam's end."""
    tf, r = given["flange_thickness"], given["radius"]
    high = deep - tf
    if max(back, high) > SHEET_MOST_MM:
        return ()
    line = tuple((x, y + tf) for x, y in cope_outline(back, deep, r) if y <= -tf + 1e-9)
    line = (*line, (back, 0.0)) if line[-1][1] < -1e-9 else line
    centre = (back - r, r - high)
    cross = 4.0
    return (
        Drawing(
            "Cope template for the web",
            areas=(Area("paper", (*line, (0.0, 0.0))),),
            strokes=(
                Stroke("cut", line),
                Stroke("edge", ((0.0, -high), (0.0, 0.0), (back, 0.0))),
                Stroke("centre", ((centre[0] - cross, centre[1]), (centre[0] + cross, centre[1]))),
                Stroke("centre", ((centre[0], centre[1] - cross), (centre[0], centre[1] + cross))),
            ),
            label=(
                f"Cope {given.show(back)} back, {given.show(deep)} deep, radius {given.show(r)}",
                "upper edge on the inside of the flange (trim its corner for the fillet), left edge on the beam's end",
                "turn it over for the other face and for a bottom flange",
            ),
        ),
    )


def _findings(given: Given, back: float, deep: float, where: str) -> list[Finding]:
    d, show = given["depth"], given.show
    needed = structural.cope_depth(given["receiving_flange_thickness"], given["receiving_fillet"], given["lower"])
    out = corner_findings(given["radius"], "cope_radius", given, where)
    if deep < needed - 1e-6:
        message = f"a cope of {show(deep)} does not clear the receiving flange and fillet: {show(needed)} is needed"
        out.append(Finding("cope-shallow", Severity.NO_GO, where, message, f"{show(needed)} or more"))
    if given.word("at") == "both" and deep > rule("cope_both").value * d + 1e-6:
        message = f"both flanges coped {show(deep)}: more than a fifth of {show(d)} each"
        allowed = (
            f"up to {show(rule('cope_both').value * d)} each; have the engineer check it; {rule('cope_both').source}"
        )
        out.append(Finding("cope-both", Severity.CAUTION, where, message, allowed))
    if back > rule("cope_long").value * d + 1e-6:
        message = f"a cope {show(back)} long is over twice the beam's depth"
        out.append(
            Finding(
                "cope-long", Severity.CAUTION, where, message, f"have the engineer check it; {rule('cope_long').source}"
            )
        )
    if given["flange_clearance"] <= 1e-9:
        message = "the rule brings the cope exactly to the receiving flange's edge: nothing is left for mill tolerance"
        allowed = (
            "1/8 to 1/2 in as flange clearance unless the flanges are welded together (common practice, no source)"
        )
        out.append(Finding("cope-tight", Severity.NOTE, where, message, allowed))
    if given["receiving_fillet"] <= 1e-9:
        message = "the receiving beam's fillet was left out: the corner of the web will foul it"
        out.append(Finding("fillet-missing", Severity.CAUTION, where, message, "measure it and give receiving fillet"))
    return out


def _cup(given: Given, deep: float, web: Setting, where: str) -> list[Finding]:
    """Say when the cup does not fit between the flange's inner face and the line on the web."""
    room, cup = deep - given["flange_thickness"], web.cup_radius_mm.high
    if room >= cup:
        return []
    message = f"the line lies {given.show(room)} from the flange's inner face and the cup takes {given.show(cup)}"
    allowed = "cut the flange off flush first, then the web; or lean the torch away from the flange and grind"
    return [Finding("cope-cup", Severity.CAUTION, where, message, allowed)]


def cope(given: Given) -> SetOut:
    """Return the set-out of a coped beam end."""
    where = "beam cope"
    assert given.bench is not None
    faults = Faults(where)
    back, deep = _checked(given, faults)
    cuts = cut_passes(given, (("flange", 0.0, given["flange_thickness"]), ("web", 0.0, given["web"])))
    web = cuts[1].setting
    corner_faults(given["radius"], web, given, faults)
    faults.raise_if_any()
    d, tf, r = given["depth"], given["flange_thickness"], given["radius"]
    left = d - deep * (2 if given.word("at") == "both" else 1)
    nav = rule("cope_end").source
    numbers: list[Number] = [
        of("setback_mm", "from the beam's end back to the cope", back, "beam.cope-setback", main=True, source=nav),
        of("cope_depth_mm", "depth of the cope from the flange's outer face", deep, "beam.cope-depth", main=True),
        of("inside_mm", "the same from the flange's inner face", deep - tf, "beam.cope-depth"),
        of("other_mm", "line from the other flange's inner face", d - tf - deep, "beam.cope-depth"),
        of("web_left_mm", "web left at the end", left, "beam.cope-depth"),
        *corner_numbers(given["radius"], web),
        *guide_numbers(web),
    ]
    steps = (
        "Square a line round the beam at the set-back: outer face, both edges, inner faces, both sides of the web.",
        "Scribe the line along the web on both faces, measured from the other flange where the fillet is in the way.",
        "Scribe the witness line and punch it: it is still there when the cut has eaten the mark-out.",
        f"Drill the corner, {given.show(2 * given['radius'])}, or cut it round the template; never past the tangent.",
        "Cut the web along and up into the corner, from the end inwards; then the flange across, from an edge.",
        "Knock off the dross, grind nicks fair at 1 in 10, try the beam in place.",
    )
    return SetOut(
        where,
        f"Cope {given.word('at')}: {given.show(back)} back, {given.show(deep)} deep, radius {given.show(r)}",
        shown_given(COPE, given),
        tuple(numbers),
        tables=(
            lines_table(_lines(given, back, deep)),
            cuts_table(cuts),
            rules_table(("cope_radius", "cope_drill", *EDGE_RULES), given),
        ),
        steps=steps,
        picture=_picture(given, back, deep),
        sheets=_sheet(given, back, deep),
        findings=sort_findings(
            [
                *able_findings(cuts, given, where),
                *_findings(given, back, deep, where),
                *_cup(given, deep, web, where),
                HOT,
            ]
        ),
    )


COPE = Ask(
    "beam", "cope", "Coped beam end: set-back, depth, corner, lines carried round, template.",
    _FIELDS, cope, thickness="web",
    # a cross beam of the slipway cradle into its side beam, both 10 in deep, top flanges flush
    example=(
        ("web", "5/16"), ("depth", "9-15/16"), ("flange_width", "8"), ("flange_thickness", "1/2"),
        ("receiving_flange_width", "8"), ("receiving_web", "5/16"), ("receiving_flange_thickness", "1/2"),
        ("receiving_fillet", "1/2"), ("flange_clearance", "1/4"),
    ),
)  # fmt: skip

ASKS = (COPE,)
