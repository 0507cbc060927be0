"""One plate as the cuts see it: where there is metal, which of it is waste, what is in the way."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point as ShapelyPoint
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from lagline.records.geometry import Loop, Point, Segment
from lagline.records.kit import Kit
from lagline.records.plan import Blank, Setting
from lagline.shapes.region import chain_line, joined

PIVOT_FOOT_MM = 15.0  # half the foot of a circle arm's pivot; common practice, no source


class Metal:
    """What is left of a plate at some moment, for clamps and pivots."""

    def __init__(self, area: BaseGeometry) -> None:
        self.area = area
        self._rim = area.boundary
        shapely.prepare(self.area)
        shapely.prepare(self._rim)

    def under(self, points: NDArray[np.float64], inside_mm: float = 0.0) -> NDArray[np.bool_]:
        """Which points have metal below them, and that far around."""
        there = shapely.contains_xy(self.area, points[:, 0], points[:, 1])
        return np.asarray(there if inside_mm == 0 else there & (self.to_rim(points) >= inside_mm))

    def to_rim(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Distance from each point to the nearest edge or opening [mm]."""
        return np.asarray(shapely.distance(self._rim, shapely.points(points)))

    def without(self, piece: BaseGeometry) -> Metal:
        """Return the metal once a piece has dropped out."""
        return Metal(self.area.difference(piece))


class Ground:
    """A plate with the parts placed on it; asks and answers, changes nothing."""

    def __init__(self, plate: BaseGeometry, outlines: dict[int, Polygon]) -> None:
        self.plate = plate
        self.outlines = outlines
        self.parts = joined(outlines.values())
        self.rim = plate.boundary
        self.metal = Metal(plate)
        self._ids = np.array(list(outlines), dtype=np.int64)
        self._tree = shapely.STRtree(list(outlines.values()))
        self._footing = plate.buffer(-PIVOT_FOOT_MM)
        for g in (self.plate, self.parts, self.rim, *outlines.values()):
            shapely.prepare(g)

    def after(self, gone: tuple[int, ...], kerf_mm: float) -> Ground:
        """Return the plate as it is once those parts are cut out and have dropped: their places are openings."""
        if not gone:
            return self
        holes = joined(self.outlines[i].buffer(kerf_mm) for i in gone)
        rest = {i: o for i, o in self.outlines.items() if i not in gone}
        later = Ground(self.plate.difference(holes), rest)
        later._footing = self._footing  # an opening in the plate is bridged with a bar to carry a pivot
        return later

    def near_others(self, index: int, geometries: NDArray[np.object_], distance_mm: float) -> NDArray[np.bool_]:
        """Which of the geometries come within a distance of any part but that one."""
        near, part = self._tree.query(geometries, predicate="dwithin", distance=distance_mm)
        out = np.zeros(len(geometries), dtype=np.bool_)
        out[near[self._ids[part] != index]] = True
        return out

    def holds(self, pivot: Point) -> bool:
        """Does the plate, or a bar across an opening cut in it, carry a pivot's foot here?"""
        return bool(shapely.contains_xy(self._footing, *pivot))

    def clear_of_others(self, path: Iterable[Segment], index: int, distance_mm: float) -> bool:
        """Does a path stay that far from every other part?"""
        lines = np.array([chain_line((s,), 0.05) for s in path], dtype=object)
        return not self.near_others(index, lines, distance_mm - 0.02).any()

    def on_part(self, index: int, p: Point) -> bool:
        """Does a point lie on that part's own metal?"""
        return bool(self.outlines[index].contains(ShapelyPoint(p)))


@dataclass(frozen=True, slots=True)
class Station:
    """One placed part at the bench: everything its cuts need to know.

    ``side`` is the sign that moves a travelled loop's segments into the waste; ``kept`` the part's side of travel.
    """

    index: int  # into Layout.placed
    name: str
    blank: Blank
    setting: Setting
    kit: Kit
    plate_index: int
    ground: Ground
    label: str = "outline"  # which loop: "outline" or "hole 3"
    twin: str = ""  # the first hole of the part that is just like this one, for sharing a template

    @property
    def side(self) -> int:
        return -1 if self.kit.torch.square_side == "right" else 1

    @property
    def kept(self) -> str:
        return self.kit.torch.square_side

    def travel(self, loop: Loop) -> Loop:
        """Return the loop turned so that the part is on the torch's square side."""
        return loop.reversed() if self.side < 0 else loop

    def mass_kg(self, area_mm2: float) -> float:
        """Mass of a piece of this part's plate [kg]."""
        return self.blank.mass_kg.value * area_mm2 / self.blank.area_mm2
