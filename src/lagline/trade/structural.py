"""Structural shapes: copes, access holes, notches and mitres, and the edge rules that go with them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

from lagline.data import table
from lagline.trade.register import Limit, formula

INCH_MM = 25.4
GEOMETRY = "geometry (derived)"
_TURN = Limit("turn_deg", 1, 150, "deg", "beyond that the long point is a splinter")
_WIDTH = Limit("width_mm", 3, 1500, "mm")


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule: value [mm, or a plain share, slope or number of thicknesses], words, and its source with the tag."""

    value: float
    words: str
    source: str


@cache
def rule(key: str) -> Rule:
    """Return a rule of table structural_rules, inches as millimetres; KeyError when it is not there."""
    for row in table("structural_rules").rows:
        if row["key"] == key:
            scale = INCH_MM if row["unit"] == "in" else 1.0
            return Rule(float(row["value"]) * scale, row["rule"], f"{row['source']} ({row['tag']})")
    raise KeyError(key)


@formula(
    "beam.cope-setback",
    text="b/2 - (w/2 + 1/16 in)",
    gives="how far back from its end a beam is coped [mm]",
    source="NAVEDTRA 14251, Steelworker, chapter 3 (seen)",
    limits=(Limit("flange_mm", 25, 600, "mm"), Limit("web_mm", 2, 100, "mm")),
)
def cope_setback(flange_mm: float, web_mm: float, end_mm: float = INCH_MM / 16) -> float:
    """Set-back of a cope: the receiving beam's flange width and web [mm], clearance at the beam's end [mm]. [mm]

    With its end that clearance off the web the cope comes out exactly at the flange's edge.
    Check: flange 8 in, web 5/16 in: 3-25/32 in.
    """
    return flange_mm / 2 - (web_mm / 2 + end_mm)


@formula(
    "beam.cope-depth",
    text="flange + fillet of the receiving beam - how far the beam lies lower",
    gives="least depth of a cope [mm]",
    source=GEOMETRY,
    limits=(Limit("flange_t_mm", 2, 150, "mm"),),
)
def cope_depth(flange_t_mm: float, fillet_mm: float, lower_mm: float) -> float:
    """Least depth of a cope that clears the receiving flange and its fillet [mm each]. [mm] Nought or less: none."""
    return flange_t_mm + fillet_mm - lower_mm


@formula(
    "beam.fair-length",
    text="10 d",
    gives="length that a ground notch is faired on each side [mm]",
    source="AWS D1.1:2020 7.14.8.4, slope not over 1 in 10 (seen)",
    limits=(Limit("notch_mm", 0, 25, "mm"),),
)
def fair_length(notch_mm: float) -> float:
    """Length of the fairing on each side of a notch that deep. [mm] Check: 3/16 in deep: 1-7/8 in."""
    return notch_mm * rule("fairing").value


@formula(
    "beam.ground-width",
    text="d/0.02",
    gives="least width of metal in which a notch deeper than 3/16 in may be ground out [mm]",
    source="AWS D1.1:2020 7.14.8.4, area loss not over 2 % (seen)",
    limits=(Limit("notch_mm", 0, 25, "mm"),),
)
def ground_width(notch_mm: float) -> float:
    """Width whose loss of section by a notch that deep is 2 %. [mm] Check: 1/4 in deep: 12.5 in."""
    return notch_mm / rule("area_loss").value


@formula(
    "beam.access-length",
    text="max(1.5 t, 1.5 in) from the toe of the weld preparation",
    gives="least length of a weld access hole [mm]",
    source="AISC 360-16 J1.6 (from memory)",
    limits=(Limit("web_mm", 2, 150, "mm"),),
)
def access_length(web_mm: float) -> float:
    """Least length of a weld access hole in a web that thick, beyond the toe of the flange's preparation. [mm]"""
    return max(rule("access_length_share").value * web_mm, rule("access_length").value)


@formula(
    "beam.access-height",
    text="max(t, 3/4 in), need not exceed 2 in",
    gives="least height of a weld access hole [mm]",
    source="AISC 360-16 J1.6 (from memory)",
    limits=(Limit("web_mm", 2, 150, "mm"),),
)
def access_height(web_mm: float) -> float:
    """Least height of a weld access hole in a web that thick. [mm]"""
    least = max(rule("access_height_share").value * web_mm, rule("access_height").value)
    return min(least, rule("access_height_most").value)


@formula(
    "beam.mitre-cutback",
    text="y tan(T/2)",
    gives="how far behind the long point the mitre lies, y in from it [mm]",
    source="geometry (derived); the same as NAVEDTRA 14251's cutback of a pipe turn (seen)",
    limits=(_TURN, _WIDTH),
)
def mitre_cutback(width_mm: float, turn_deg: float) -> float:
    """Cutback over a width [mm] for two pieces that turn by an angle [deg]: each is cut at half of it. [mm]"""
    return width_mm * math.tan(math.radians(turn_deg / 2))


@formula(
    "beam.notch-width",
    text="2 (w - t) tan(T/2)",
    gives="width of the V at the leg's toe, for bending the other leg by T [mm]",
    source=GEOMETRY,
    limits=(_TURN, _WIDTH),
)
def notch_width(leg_mm: float, thickness_mm: float, turn_deg: float) -> float:
    """Width of a V notch at the toe of a leg [mm], its point on the other leg's inner face, that closes at a turn. [mm]

    The other leg folds about its inner face there, sharp.
    """
    return 2 * mitre_cutback(leg_mm - thickness_mm, turn_deg)


@formula(
    "beam.fold-gain",
    text="t tan(T/2)",
    gives="how far the outside corner lies beyond the notch's centre line [mm]",
    source=GEOMETRY,
    limits=(_TURN,),
)
def fold_gain(thickness_mm: float, turn_deg: float) -> float:
    """How much longer each side is outside than from the notch's centre line: thickness [mm], turn [deg]. [mm]

    For a sharp fold about the inner face.
    """
    return mitre_cutback(thickness_mm, turn_deg)


@formula(
    "beam.template-corner",
    text="template on the kept part r + R - k/2, on the drop r - R - k/2",
    gives="radius of the template's corner that makes a re-entrant radius r [mm]",
    source=GEOMETRY,
    limits=(Limit("radius_mm", 0.5, 200, "mm"),),
)
def template_corner(radius_mm: float, cup_mm: float, kerf_mm: float, *, kept: bool) -> float:
    """Corner of a template the cup follows round a re-entrant corner: radius, cup, kerf [mm]. [mm]

    On the kept part the cup runs inside a hollow of the template, which serves while it is no tighter than the cup
    itself: from r = k/2 up. On the drop it runs round an outer corner, which serves from r = R + k/2 up.
    """
    return radius_mm + (cup_mm if kept else -cup_mm) - kerf_mm / 2
