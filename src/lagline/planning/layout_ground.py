"""A plate before cells are laid on it: where they may lie, what they may be laid against."""

from __future__ import annotations

from functools import cache

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from lagline.planning.layout_blocks import SAME_MM, Block, Floats, distinct
from lagline.planning.layout_open import open_metal, rims
from lagline.planning.layout_shapes import Box
from lagline.planning.plate_use import largest_rectangle
from lagline.records.job import Plate
from lagline.shapes.region import pieces

MOST_CORNERS = 40  # corners of the metal's edge that are looked at
ROUGH_MM = 0.5  # how nearly its edge is followed for that


class Ground:
    """A plate before cells are laid on it: where outlines may lie, and which of its sides may be a part's edge.

    ``obstacles`` are areas that cells keep off, the gap round them included.
    """

    def __init__(self, index: int, plate: Plate, obstacles: BaseGeometry):
        self.index, self.plate, self.obstacles = index, plate, obstacles
        self.rims = {r.side: r for r in rims(plate) if plate.margin_mm > 0}
        self.metal = self.region(frozenset())
        self.bounds: Box = self.metal.bounds if not self.metal.is_empty else (0.0, 0.0, 0.0, 0.0)
        self.outer: Box = plate.outline.bounds() if self.rims else self.bounds
        x0, y0, x1, y1 = self.bounds
        self.plain = self.metal.area > (x1 - x0) * (y1 - y0) - 1e-6
        self.marks = _marks(self.metal, self.plain)

    @cache  # noqa: B019 - a ground lives no longer than its layout
    def region(self, sides: frozenset[int]) -> BaseGeometry:
        """Return where a cell may lie that has those sides on the plate's own edge."""
        region = open_metal(self.plate, self.obstacles, frozenset(self.rims[s] for s in sides))
        shapely.prepare(region)
        return region

    def on(self, block: Block, x: float, y: float) -> frozenset[int]:
        """Return which sides of a block there lie on a side of the plate that may be its edge."""
        at = (x, y, x + block.width, y + block.height)
        return frozenset(s for s, r in self.rims.items() if abs(at[s] - r.at) < SAME_MM and self.may_be_edge(block, s))

    def may_be_edge(self, block: Block, side: int) -> bool:
        """Whether a block may lie on the plate's own edge with a side; the cells behind must clear the margin."""
        wide = min(block.unit.width, block.unit.height) >= self.plate.margin_mm
        return side in self.rims and wide and block.unit.on_factory_edge(side)


def _marks(metal: BaseGeometry, plain: bool) -> tuple[Floats, Floats]:
    """Places along each axis where the metal's edges run or turn: cells may lie against them."""
    if metal.is_empty or plain:
        return np.array(metal.bounds[0::2]), np.array(metal.bounds[1::2])
    left, bottom, width, height = largest_rectangle(metal)
    rings = [r for p in pieces(metal) for r in (p.exterior, *p.interiors)]
    boxes = np.array([r.bounds for r in rings] + [(left, bottom, left + width, bottom + height)])
    corners = np.concatenate([shapely.get_coordinates(shapely.simplify(r, ROUGH_MM)) for r in rings])
    corners = corners if len(corners) <= MOST_CORNERS else corners[:0]
    x, y = (np.concatenate([boxes[:, k], boxes[:, k + 2], corners[:, k]]) for k in (0, 1))
    return distinct(x), distinct(y)
