"""A branch on a round header: its end, the header's hole, the angle between them. Angles in degrees."""

from __future__ import annotations

import math

import numpy as np

from lagline.shapes.pipe_hole import hole_line
from lagline.shapes.pipe_joint import RoundHeader, Saddle, end_line
from lagline.shapes.pipe_ring import box_perimeter, round_ring
from lagline.trade.register import Limit, formula

DERIVED = "derived: crossing of two cylinders; a printed example without a citable title agrees"
ANGLE = Limit(
    "angle_deg", 30.0, 150.0, "deg",
    "under 30 deg the crotch is not welded to the root without a procedure of its own (structural code, from memory)",
)  # fmt: skip
LEAST_ANGLE_DEG = 15.0  # neither torch nor electrode reaches into the crotch; common practice, no source
WALL = Limit("wall_mm", 0.5, 50.0, "mm")


def _joint(header_mm: float, angle_deg: float, offset_mm: float) -> Saddle:
    return Saddle(RoundHeader(header_mm), math.radians(angle_deg), offset_mm)


@formula("pipe.saddle", text="w = (-r cos(phi) cos(b) + sqrt(R^2 - (r sin(phi) + e)^2))/sin(b)",
         gives="from the header's axis to the cut line, along the branch [mm]", source=DERIVED,
         limits=(ANGLE,))  # fmt: skip
def saddle(
    header_radius_mm: float, radius_mm: float, mark_deg: float, angle_deg: float = 90.0, offset_mm: float = 0.0
) -> float:
    """Return how far up the branch the cut line lies at a mark from the top line [mm].

    R is the header's outside; r the branch's inside when it is set on, its outside when it is set in. Ordinates are
    its greatest value less its value.

    >>> round(161.9 - saddle(161.9, 101.37, 45.0), 3)
    16.732
    """
    ring = round_ring(radius_mm, None, np.radians([mark_deg]))
    return -float(_joint(header_radius_mm, angle_deg, offset_mm).reach(ring.x, ring.y)[0])


@formula("pipe.joint-angle", text="acos(-n1 n2)", gives="from the branch's outside to the header's [deg]",
         source="derived: angle between the two surfaces' outward normals", limits=(ANGLE,))  # fmt: skip
def joint_angle(
    header_radius_mm: float, radius_mm: float, mark_deg: float, angle_deg: float = 90.0, offset_mm: float = 0.0
) -> float:
    """Return the angle the weld has to fill at a mark from the top line [deg].

    >>> joint_angle(100.0, 50.0, 0.0), round(joint_angle(100.0, 50.0, 90.0), 3)
    (90.0, 120.0)
    """
    ring = round_ring(radius_mm, None, np.radians([mark_deg]))
    line = end_line(ring, _joint(header_radius_mm, angle_deg, offset_mm), "radial", "inside")
    return round(float(line.joint_angle_deg[0]), 12)


@formula("pipe.hole", text="around R asin((r sin(phi) + e)/R); along w cos(b) - r cos(phi) sin(b)",
         gives="the hole's line on the header's outside [mm]", source=DERIVED, limits=(ANGLE,))  # fmt: skip
def hole(
    header_radius_mm: float, radius_mm: float, mark_deg: float, angle_deg: float = 90.0, offset_mm: float = 0.0
) -> tuple[float, float]:
    """Return a point of the hole for a branch: along the header and around it from its top line [mm].

    >>> tuple(round(v, 3) for v in hole(100.0, 50.0, 90.0))
    (0.0, 52.36)
    """
    turns = np.radians([mark_deg])
    line = hole_line(header_radius_mm, radius_mm, math.radians(angle_deg), offset_mm, None, turns)
    return float(line.along[0]), float(line.around[0])


@formula("pipe.hole-thickness", text="(sqrt(R^2 - y^2) - sqrt((R - t)^2 - y^2))/sin(b)",
         gives="cut held parallel to the branch, through the header's wall [mm]", source=DERIVED,
         limits=(ANGLE, WALL))  # fmt: skip
def hole_thickness(header_radius_mm: float, wall_mm: float, side_mm: float, angle_deg: float = 90.0) -> float:
    """Return the length of a cut parallel to the branch, ``side_mm`` off the header's middle plane [mm].

    >>> round(hole_thickness(100.0, 10.0, 0.0), 3)
    10.0
    """
    outside = math.sqrt(header_radius_mm**2 - side_mm**2)
    return (outside - math.sqrt((header_radius_mm - wall_mm) ** 2 - side_mm**2)) / math.sin(math.radians(angle_deg))


@formula("pipe.box-perimeter", text="2 (w + h) - 8 r + 2 pi r", gives="way round a rectangular tube [mm]",
         source="derived: rectangle with round corners", limits=(Limit("corner_mm", 0.0, 100.0, "mm"),))  # fmt: skip
def perimeter(width_mm: float, height_mm: float, corner_mm: float) -> float:
    """Return the way round the outside of a rectangular tube [mm].

    >>> round(perimeter(100.0, 50.0, 10.0), 3)
    282.832
    """
    return box_perimeter(width_mm, height_mm, corner_mm)


@formula("pipe.corner", text="2 t", gives="outside corner radius of a rectangular tube [mm]",
         source="common practice, no source", limits=(Limit("wall_mm", 0.5, 25.0, "mm"),))  # fmt: skip
def corner_radius(wall_mm: float) -> float:
    """Return the usual outside corner radius of cold-formed tube [mm]; 1 to 3 walls are met: measure yours.

    >>> corner_radius(5.0)
    10.0
    """
    return 2 * wall_mm
