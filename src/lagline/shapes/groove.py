"""Grooves: section of a gouge, and the metal that leaves when its ends run out on ramps.

Glossary
--------
profile : floor ``flat_mm`` wide, then on either side an arc of ``radius_mm``, then a flank leaning ``flank_deg`` off
          upright; cut off by the plate's face at whatever depth the groove has
ramp    : where the same profile rises evenly from full depth to the face
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.records.geometry import Point

MOST_FLANK_DEG = 60.0


def chord_of(radius_mm: float, depth_mm: float) -> float:
    """Width of a circle at a depth above its lowest point, up to its middle. [mm]"""
    return 2 * math.sqrt(max(0.0, depth_mm * (2 * radius_mm - depth_mm)))


def segment_radius(width_mm: float, depth_mm: float) -> float:
    """Radius of the arc that is a width across and a depth deep, r = (w^2/4 + d^2)/(2 d). [mm]"""
    return (width_mm**2 / 4 + depth_mm**2) / (2 * depth_mm)


def segment_area(width_mm: float, depth_mm: float) -> float:
    """Area under an arc a width across and a depth deep, at most a half circle. [mm2]"""
    r = segment_radius(width_mm, depth_mm)
    half = 2 * math.atan2(2 * depth_mm, width_mm)
    return r * r * (half - math.sin(half) * math.cos(half))


def segment_length(width_mm: float, depth_mm: float) -> float:
    """Length of the arc a width across and a depth deep: what of a groove touches metal. [mm]"""
    return 4 * segment_radius(width_mm, depth_mm) * math.atan2(2 * depth_mm, width_mm)


@dataclass(frozen=True, slots=True)
class Profile:
    """Section of a groove; see the module's glossary. Lengths mm."""

    radius_mm: float
    flank_deg: float = 0.0
    flat_mm: float = 0.0

    def __post_init__(self) -> None:
        if not (self.radius_mm > 0 and self.flat_mm >= 0 and 0 <= self.flank_deg <= MOST_FLANK_DEG):
            raise ValueError(f"no such groove: {self}")

    @property
    def arc_height_mm(self) -> float:
        """How far up the arcs reach before the flanks begin, r (1 - sin flank). [mm]"""
        return self.radius_mm * (1 - math.sin(math.radians(self.flank_deg)))

    def width(self, depth_mm: float) -> float:
        """Width at the face of a groove of that depth. [mm]"""
        arc = min(depth_mm, self.arc_height_mm)
        straight = max(0.0, depth_mm - arc)
        return self.flat_mm + chord_of(self.radius_mm, arc) + 2 * straight * math.tan(math.radians(self.flank_deg))

    def area(self, depth_mm: float) -> float:
        """Section of a groove of that depth. [mm2]"""
        return self._moments(depth_mm)[0]

    def volume(self, depth_mm: float, full_mm: float, ramps: int, slope: float) -> float:
        """Metal out of a groove of full depth along ``full_mm`` with so many ramps of 1:slope. [mm3]

        V = A(D) L + n s INTEGRAL of A(z) dz from 0 to D, in closed form.
        """
        area, run_out = self._moments(depth_mm)
        return area * full_mm + ramps * slope * run_out

    def _moments(self, depth_mm: float) -> tuple[float, float]:
        """Area, and its integral over depth from nothing."""
        r, arc = self.radius_mm, min(depth_mm, self.arc_height_mm)
        chord = chord_of(r, arc)
        half = math.acos(max(-1.0, (r - arc) / r))
        area = r * r * (half - math.sin(half) * math.cos(half))
        run_out = (arc - r) * area + chord**3 / 12
        h, lean = max(0.0, depth_mm - arc), math.tan(math.radians(self.flank_deg))
        run_out += area * h + chord * h**2 / 2 + lean * h**3 / 3
        area += chord * h + lean * h**2
        return area + self.flat_mm * depth_mm, run_out + self.flat_mm * depth_mm**2 / 2

    def points(self, depth_mm: float, each_arc: int = 12) -> tuple[Point, ...]:
        """The section's line from its left edge at the face, down and up to its right edge, middle at x 0. [mm]"""
        r, arc = self.radius_mm, min(depth_mm, self.arc_height_mm)
        end = math.acos(max(-1.0, (r - arc) / r))
        turned = [end * i / each_arc for i in range(each_arc + 1)]
        right = [(self.flat_mm / 2 + r * math.sin(a), -depth_mm + r * (1 - math.cos(a))) for a in turned]
        if depth_mm > arc:
            right.append((self.width(depth_mm) / 2, 0.0))
        left = [(-x, y) for x, y in reversed(right)]
        return tuple(left + (right[1:] if self.flat_mm == 0 else right))


def profile_for(width_mm: float, depth_mm: float, radius_mm: float, flank_deg: float) -> Profile:
    """Return the groove of a width at the face and a depth that keeps a bottom radius and a flank where it can.

    Wider than those make it, it gets a flat floor; narrower, steeper flanks, and at last a tighter bottom.
    """
    r = min(radius_mm, width_mm / 2)
    plain = Profile(r, flank_deg)
    spare = width_mm - plain.width(depth_mm)
    if spare >= 0:
        return Profile(r, flank_deg, spare)
    low, high = 0.0, flank_deg
    for _ in range(60):
        middle = (low + high) / 2
        if Profile(r, middle).width(depth_mm) <= width_mm:
            low = middle
        else:
            high = middle
    return Profile(r, low)
