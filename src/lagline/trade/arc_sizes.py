"""The radius of an arc from what a tape can measure of it, and where its centre lies."""

from __future__ import annotations

import math

from lagline.trade.register import Limit, formula

_CHORD = Limit("chord_mm", 1.0, 20_000.0, "mm")
_ANGLE = Limit("angle_deg", 1.0, 359.0, "deg", "a flatter arc is a straight line to a hand")
_SOURCE = "geometry (derived): intersecting chords"


@formula(
    "arc.radius-from-rise",
    text="r = (c^2/4 + h^2)/(2 h)",
    gives="radius of an arc from chord and rise [mm]",
    source=_SOURCE,
    limits=(_CHORD, Limit("rise_mm", 0.5, 20_000.0, "mm")),
)
def radius_from_rise(chord_mm: float, rise_mm: float) -> float:
    """Radius of an arc from its chord and its rise in the middle [mm]; a rise over half the chord is a major arc. [mm]

    >>> radius_from_rise(80.0, 20.0)
    50.0
    """
    return (chord_mm**2 / 4 + rise_mm**2) / (2 * rise_mm)


@formula(
    "arc.radius-from-angle",
    text="r = c/(2 sin(a/2))",
    gives="radius of an arc from chord and angle [mm]",
    source=_SOURCE,
    limits=(_CHORD, _ANGLE),
)
def radius_from_angle(chord_mm: float, angle_deg: float) -> float:
    """Radius of an arc from its chord [mm] and the angle it spans at the centre [deg]. [mm]

    Check: a chord of 60 deg is the radius.
    """
    return chord_mm / (2 * math.sin(math.radians(angle_deg) / 2))


@formula(
    "arc.angle",
    text="a = 4 atan(2 h/c)",
    gives="angle an arc spans at its centre [deg]",
    source=_SOURCE,
    limits=(_CHORD,),
)
def angle_from_rise(chord_mm: float, rise_mm: float) -> float:
    """Angle an arc spans from its chord and rise [mm]. [deg]"""
    return math.degrees(4 * math.atan2(2 * rise_mm, chord_mm))


@formula(
    "arc.chord",
    text="c = 2 r sin(a/2)",
    gives="chord of an arc [mm]",
    source=_SOURCE,
    limits=(_ANGLE,),
)
def chord(radius_mm: float, angle_deg: float) -> float:
    """Chord of an arc from its radius [mm] and angle [deg]. [mm]"""
    return 2 * radius_mm * math.sin(math.radians(angle_deg) / 2)


@formula(
    "arc.rise",
    text="h = r (1 - cos(a/2))",
    gives="rise of an arc over its chord [mm]",
    source=_SOURCE,
    limits=(_ANGLE,),
)
def rise(radius_mm: float, angle_deg: float) -> float:
    """Rise of an arc over the middle of its chord from its radius [mm] and angle [deg]. [mm]"""
    return radius_mm * (1 - math.cos(math.radians(angle_deg) / 2))


@formula(
    "arc.length",
    text="s = r a",
    gives="length along an arc [mm]",
    source=_SOURCE,
)
def arc_length(radius_mm: float, angle_deg: float) -> float:
    """Length along an arc from its radius [mm] and angle [deg]. [mm]"""
    return radius_mm * math.radians(angle_deg)
