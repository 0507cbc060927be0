"""What the end of a pipe meets, and the line to cut on the pipe's outside so that it fits.

Glossary
--------
reach  : how far the pipe may run along its own axis before it meets the other piece, at a place across the pipe,
         from a datum on the pipe's axis; greater is nearer the joint end [mm]
radial : the torch points at the pipe's axis, square to it: the cut is as deep as the wall is thick
fixed  : the torch leans so that the cut face lies in the other piece's surface; for a flat one, in its plane
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np

from lagline.shapes.pipe_ring import Floats, Ring

Torch = Literal["radial", "fixed"]
Lie = Literal["inside", "outside", "touch"]


class Header(Protocol):
    """The outside of a header, seen along it: height over its axis [mm] and its slope, at a distance to the side."""

    @property
    def half_width(self) -> float: ...
    def height(self, side: Floats) -> Floats: ...
    def slope(self, side: Floats) -> Floats: ...


class Joint(Protocol):
    """A surface that stops a pipe."""

    def reach(self, x: Floats, y: Floats) -> Floats: ...
    def gradient(self, x: Floats, y: Floats) -> tuple[Floats, Floats]: ...


@dataclass(frozen=True, slots=True)
class RoundHeader:
    """A round header of that radius [mm]."""

    radius: float

    @property
    def half_width(self) -> float:
        return self.radius

    def height(self, side: Floats) -> Floats:
        return np.sqrt(np.maximum(self.radius**2 - side**2, 0.0))

    def slope(self, side: Floats) -> Floats:
        return -side / np.maximum(self.height(side), 1e-9 * self.radius)


@dataclass(frozen=True, slots=True)
class BoxHeader:
    """A rectangular header lying flat: width and depth across it, radius of its corners [mm]."""

    width: float
    depth: float
    corner: float

    @property
    def half_width(self) -> float:
        return self.width / 2

    def _into(self, side: Floats) -> Floats:
        return np.clip(np.abs(side) - (self.width / 2 - self.corner), 0.0, self.corner)

    def height(self, side: Floats) -> Floats:
        return self.depth / 2 - self.corner + np.sqrt(np.maximum(self.corner**2 - self._into(side) ** 2, 0.0))

    def slope(self, side: Floats) -> Floats:
        into = self._into(side)
        left = np.sqrt(np.maximum(self.corner**2 - into**2, 0.0))
        return -np.sign(side) * into / np.maximum(left, 1e-9 * max(self.corner, 1.0))


@dataclass(frozen=True, slots=True)
class Plane:
    """A plane leaning off square by ``tilt`` [rad], farthest at the top line; the datum is where the axis meets it."""

    tilt: float

    def reach(self, x: Floats, y: Floats) -> Floats:  # noqa: ARG002
        return x * math.tan(self.tilt)

    def gradient(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        return np.full_like(x, math.tan(self.tilt)), np.zeros_like(y)


@dataclass(frozen=True, slots=True)
class Saddle:
    """A header whose axis makes ``angle`` [rad] with the pipe's and passes it at ``offset`` [mm], the pipe being moved
    towards y. The datum is the foot of that distance on the pipe's axis; the top line is on the open side, the acute
    angle under the bottom line."""

    header: Header
    angle: float
    offset: float = 0.0

    def reach(self, x: Floats, y: Floats) -> Floats:
        return (x * math.cos(self.angle) - self.header.height(y + self.offset)) / math.sin(self.angle)

    def gradient(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        along = np.full_like(x, 1 / math.tan(self.angle))
        return along, -self.header.slope(y + self.offset) / math.sin(self.angle)


@dataclass(frozen=True, slots=True, eq=False)
class EndLine:
    """The cut line and what it does, place by place.

    reach : of the line to mark on the outside [mm]
    bevel_deg : how the face lies that closes the joint, against square: + with the outside cut back
    thickness : length of the cut through the wall [mm]; nought without a wall
    gap_outside, gap_inside : what is left open there [mm]; below nought the metal fouls and must come off
    joint_angle_deg : from the pipe's outside to the other surface
    """

    reach: Floats
    bevel_deg: Floats
    thickness: Floats
    gap_outside: Floats
    gap_inside: Floats
    joint_angle_deg: Floats


def end_line(ring: Ring, joint: Joint, torch: Torch, lie: Lie) -> EndLine:
    """Return the line to cut round a pipe's end.

    With a wall and a radial torch the face is square to the wall, so only one edge of it meets the other piece:
    ``lie`` says which, ``touch`` taking whichever meets first. A fixed torch makes both meet.
    """
    outer = joint.reach(ring.x, ring.y)
    gx, gy = joint.gradient(ring.x, ring.y)
    steep = gx * ring.normal_x + gy * ring.normal_y
    facing = steep / np.sqrt(1 + gx**2 + gy**2)
    angle = np.degrees(np.arccos(np.clip(-facing, -1.0, 1.0)))
    if ring.wall is None:
        nought = np.zeros_like(outer)
        return EndLine(outer, -np.degrees(np.arctan(steep)), nought, nought, nought, angle)
    inner = joint.reach(ring.inner_x, ring.inner_y)
    through = np.hypot(ring.x - ring.inner_x, ring.y - ring.inner_y)
    bevel = np.degrees(np.arctan2(inner - outer, through))
    if torch == "fixed":
        nought = np.zeros_like(outer)
        return EndLine(outer, bevel, np.hypot(through, inner - outer), nought, nought, angle)
    cut = {"inside": inner, "outside": outer, "touch": np.minimum(inner, outer)}[lie]
    return EndLine(cut, bevel, through, outer - cut, inner - cut, angle)


def line_length(along: Floats, reach: Floats) -> float:
    """Return the length of a line drawn on the development [mm]."""
    return float(np.sum(np.hypot(np.diff(along), np.diff(reach))))
