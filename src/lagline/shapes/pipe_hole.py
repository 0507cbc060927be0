"""The hole a branch needs in a round header, as it lies on the header's outside."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from lagline.shapes.pipe_ring import Floats


@dataclass(frozen=True, slots=True, eq=False)
class HoleLine:
    """The hole's line on the header's outside, unrolled, and the metal under it.

    along : along the header from under the crossing of the axes, towards the side the branch leans to [mm]
    around : round the header from its top line, towards the side a quarter turn on from the branch's top line [mm]
    side : distance of the place from the header's middle plane [mm]
    lean_deg : from square to the header's wall to the branch's own direction
    thickness : length of a cut held parallel to the branch, through the header's wall [mm]; nought without a wall
    """

    along: Floats
    around: Floats
    side: Floats
    lean_deg: Floats
    thickness: Floats


def hole_line(
    header_mm: float, hole_mm: float, angle: float, offset_mm: float, wall_mm: float | None, turns: Floats
) -> HoleLine:
    """Return the hole of radius ``hole_mm`` along a branch at ``angle`` [rad], at these turns from its top line [rad].

    ValueError when the hole runs over the header's side, or with a wall, over the side of its bore.
    """
    side = hole_mm * np.sin(turns) + offset_mm
    widest = hole_mm + abs(offset_mm)
    if widest > header_mm or (wall_mm is not None and widest > header_mm - wall_mm):
        raise ValueError(f"a hole reaching {widest} mm to the side runs off a header of radius {header_mm} mm")
    height = np.sqrt(np.maximum(header_mm**2 - side**2, 0.0))
    across = hole_mm * np.cos(turns)
    run = (height - across * math.cos(angle)) / math.sin(angle)  # up the branch from the header's axis
    along = run * math.cos(angle) - across * math.sin(angle)
    around = header_mm * np.arcsin(np.clip(side / header_mm, -1.0, 1.0))
    lean = np.degrees(np.arccos(np.clip(math.sin(angle) * height / header_mm, -1.0, 1.0)))
    thickness = np.zeros_like(side)
    if wall_mm is not None:
        thickness = (height - np.sqrt(np.maximum((header_mm - wall_mm) ** 2 - side**2, 0.0))) / math.sin(angle)
    return HoleLine(along, around, side, lean, thickness)
