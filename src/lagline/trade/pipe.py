"""Ends of round pipe: wrap, square, mitre, turn, plate. Angles in degrees; ordinates are + towards the joint end."""

from __future__ import annotations

import math

from lagline.shapes.pipe_turn import half_mitre
from lagline.trade.register import Limit, formula

DERIVED = "derived: geometry of cylinders and planes"
STEELWORKER = "NAVEDTRA 14251, Steelworker (seen); derived"
DIAMETER = Limit("diameter_mm", 10.0, 2000.0, "mm", "pipe a hand wraps and a torch follows")
TILT = Limit("tilt_deg", 0.0, 45.0, "deg", "beyond that the heel is cut through half as much again as the wall")
PLATE = Limit("angle_deg", 30.0, 90.0, "deg", "flatter and the toe is hard to weld")
TURN = Limit("turn_deg", 1.0, 120.0, "deg")


@formula("pipe.wrap", text="pi (D + p)", gives="length of a wrap that just closes round the pipe [mm]",
         source=DERIVED, limits=(DIAMETER, Limit("paper_mm", 0.0, 3.0, "mm", "paper to gasket sheet")))  # fmt: skip
def wrap_length(diameter_mm: float, paper_mm: float = 0.0) -> float:
    """Return the length of a wrap of that thickness that just closes round a pipe [mm]: bent, it keeps the length of
    its middle.

    >>> round(wrap_length(202.74), 3)
    636.926
    """
    return math.pi * (diameter_mm + paper_mm)


@formula("pipe.plane-ordinate", text="r tan(a) cos(phi)", gives="ordinate from the base line through the middle [mm]",
         source=STEELWORKER, limits=(TILT,))  # fmt: skip
def plane_ordinate(radius_mm: float, tilt_deg: float, mark_deg: float) -> float:
    """Return the ordinate of a flat cut leaning off square by ``tilt_deg``, at a mark from the heel [mm].

    >>> round(plane_ordinate(57.15, 45.0, 60.0), 3)
    28.575
    """
    return radius_mm * math.tan(math.radians(tilt_deg)) * math.cos(math.radians(mark_deg))


@formula("pipe.mitre-cutback", text="D tan(turn/2)", gives="from the longest to the shortest point of a mitre [mm]",
         source=STEELWORKER, limits=(DIAMETER, TURN))  # fmt: skip
def mitre_cutback(diameter_mm: float, turn_deg: float) -> float:
    """Return the cutback of a two-piece turn [mm]: half of it lies on each side of the base line.

    >>> round(mitre_cutback(114.3, 90.0), 3)
    114.3
    """
    return diameter_mm * math.tan(math.radians(turn_deg) / 2)


@formula("pipe.plate-ordinate", text="r cos(phi)/tan(b)", gives="ordinate from the base line through the middle [mm]",
         source=DERIVED, limits=(PLATE,))  # fmt: skip
def plate_ordinate(radius_mm: float, angle_deg: float, mark_deg: float) -> float:
    """Return the ordinate of an end that meets a flat plate at an angle between pipe and plate [mm].

    >>> round(plate_ordinate(50.0, 45.0, 0.0), 3)
    50.0
    """
    return plane_ordinate(radius_mm, 90.0 - angle_deg, mark_deg)


@formula("pipe.turn-mitre", text="turn/(2 (n - 1))", gives="lean of each cut of a turn of n pieces [deg]",
         source=STEELWORKER, limits=(Limit("pieces", 2, 12, "pieces"),))  # fmt: skip
def turn_mitre(turn_deg: float, pieces: int) -> float:
    """Return how far each cut of a turn leans off square [deg]. ValueError below two pieces.

    >>> round(turn_mitre(90.0, 4), 6)
    15.0
    """
    return math.degrees(half_mitre(math.radians(turn_deg), pieces))


@formula("pipe.turn-piece", text="ends (R -+ r) tan(a), R tan(a); between, twice that",
         gives="throat, heel and centre length of the pieces of a turn [mm]", source=DERIVED,
         limits=(Limit("radius_over_diameter", 0.5, 10.0, "-", "under half the throat has no length"),))  # fmt: skip
def turn_centre(turn_radius_mm: float, mitre_deg: float) -> float:
    """Return the centre length of an end piece [mm]; R = (turn radius - or + pipe radius) gives throat or heel.

    >>> round(turn_centre(171.45, 15.0), 3)
    45.94
    """
    return turn_radius_mm * math.tan(math.radians(mitre_deg))


@formula("pipe.fixed-thickness", text="t/cos(bevel)", gives="length of the cut through a pipe's wall [mm]",
         source=DERIVED, limits=(Limit("bevel_deg", 0.0, 50.0, "deg", "a torch cannot be held flatter to a pipe"),
                                 Limit("wall_mm", 0.5, 50.0, "mm")))  # fmt: skip
def fixed_thickness(wall_mm: float, bevel_deg: float) -> float:
    """Return how much metal the arc passes in a wall, leaning by a bevel [mm]; a torch square to the pipe passes t.

    >>> round(fixed_thickness(6.02, 45.0), 3)
    8.514
    """
    return wall_mm / math.cos(math.radians(bevel_deg))
