"""What a round kerf can leave of a shape, and how far a piece is from it."""

from __future__ import annotations

from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

MATCH_MM = 0.05


def reachable(want: BaseGeometry, half_kerf_mm: float) -> BaseGeometry:
    """Return the shape with the kerf's own radius in its inside corners, slots narrower than the kerf filled."""
    return want.buffer(half_kerf_mm, quad_segs=64).buffer(-half_kerf_mm, quad_segs=64)


def misfit(piece: BaseGeometry, want: BaseGeometry, half_kerf_mm: float) -> tuple[float, float]:
    """Return the metal a piece has beyond what is reachable and the metal it lacks, both less 0.05 mm [mm2]."""
    reach = reachable(want, half_kerf_mm)
    return (
        float(piece.difference(reach.buffer(MATCH_MM)).area),
        float(reach.buffer(-MATCH_MM).difference(piece).area),
    )


def solid(polygon: Polygon) -> Polygon:
    """Return the polygon without its holes."""
    return Polygon(polygon.exterior)
