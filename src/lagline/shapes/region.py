"""Outlines as shapely polygons, for the questions that areas answer."""

from __future__ import annotations

from collections.abc import Iterable

import shapely
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from lagline.records.geometry import Loop, Outline, Segment, chain_points

FLATTEN_MM = 0.005


def polygon(outline: Outline, tol_mm: float = FLATTEN_MM) -> Polygon:
    """Return the outline as a polygon whose chords stay within ``tol_mm`` [mm] of its arcs."""
    return Polygon(outline.outer.points(tol_mm), [h.points(tol_mm) for h in outline.holes])


def loop_polygon(loop: Loop, tol_mm: float = FLATTEN_MM) -> Polygon:
    """Return the area inside a loop, whichever way it runs."""
    return Polygon(loop.points(tol_mm))


def chain_line(segments: Iterable[Segment], tol_mm: float = FLATTEN_MM) -> LineString:
    """Return an open chain of segments as a line string."""
    return LineString(chain_points(tuple(segments), tol_mm))


def swath(segments: Iterable[Segment], width_mm: float) -> BaseGeometry:
    """Return what a round tool of that width sweeps along the chain (kerf when given the kerf's centre line)."""
    return chain_line(segments).buffer(width_mm / 2, quad_segs=32)


def pieces(geometry: BaseGeometry) -> tuple[Polygon, ...]:
    """Return the polygons of any geometry, largest first, slivers under 1e-6 mm2 left out."""
    parts = [g for g in shapely.get_parts(geometry) if isinstance(g, Polygon) and g.area > 1e-6]
    return tuple(sorted(parts, key=lambda g: -g.area))


def joined(geometries: Iterable[BaseGeometry]) -> Polygon | MultiPolygon:
    """Return the union of areas."""
    return shapely.union_all(list(geometries))
