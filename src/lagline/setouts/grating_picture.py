"""The mesh with the line over it, as marked and shifted, each place where metal is cut a dot."""

from __future__ import annotations

import math

import shapely
from shapely.geometry import Polygon, box

from lagline.records.geometry import Point
from lagline.records.setout import Area, Drawing, Stroke, Text
from lagline.setouts.ask import Given
from lagline.trade.grating import Mesh, Strips, crossings

SHOWN = 5  # about so many crossings are shown


def _strip_polygons(s: Strips, angle_deg: float, window: Polygon) -> list[Polygon]:
    """Strips that reach a window, turned so that the line lies along x."""
    turn = math.radians(s.direction_deg - angle_deg)
    d, n = (math.cos(turn), math.sin(turn)), (-math.sin(turn), math.cos(turn))
    corners = list(window.exterior.coords)
    reach = max(math.hypot(*p) for p in corners) + s.spacing_mm
    across = sorted(p[0] * n[0] + p[1] * n[1] for p in corners)
    out = []
    for k in range(math.floor(across[0] / s.spacing_mm) - 1, math.ceil(across[-1] / s.spacing_mm) + 2):
        near, far = k * s.spacing_mm - s.width_mm / 2, k * s.spacing_mm + s.width_mm / 2
        out.append(
            Polygon(
                [
                    (d[0] * u + n[0] * v, d[1] * u + n[1] * v)
                    for u, v in ((-reach, near), (reach, near), (reach, far), (-reach, far))
                ]
            )
        )
    return out


def mesh_shape(mesh: Mesh, angle_deg: float, window: Polygon) -> shapely.Geometry:
    """Return the metal of a mesh within a window, the line's way along x."""
    return shapely.union_all([p for s in mesh for p in _strip_polygons(s, angle_deg, window)]).intersection(window)


def _areas(shape: shapely.Geometry, up: float) -> list[Area]:
    def ring(points: shapely.LinearRing) -> tuple[Point, ...]:
        return tuple((x, y + up) for x, y in points.coords[:-1])

    parts = [g for g in shapely.get_parts(shape) if isinstance(g, Polygon) and g.area > 1e-6]
    return [Area("metal", ring(g.exterior), tuple(ring(h) for h in g.interiors)) for g in parts]


def _dot(at: Point, r: float) -> Area:
    turn = (math.pi * i / 6 for i in range(12))
    return Area("weld", tuple((at[0] + r * math.cos(a), at[1] + r * math.sin(a)) for a in turn))


def picture(mesh: Mesh, angle_deg: float, offset_mm: float, length_mm: float, shift_mm: float, given: Given) -> Drawing:
    """Return two strips of the mesh, one above the other, the line along x."""
    met = max(abs(math.sin(math.radians(angle_deg - s.direction_deg))) / s.spacing_mm for s in mesh)
    wide = max(s.spacing_mm for s in mesh)
    w = min(max(length_mm, 2 * wide), max(SHOWN / met, 2.2 * wide))
    tall = min(0.42 * w, max(1.6 * wide, 0.3 * w))
    areas: list[Area] = []
    strokes: list[Stroke] = []
    texts: list[Text] = []
    gap = 0.16 * w
    end = min(w, length_mm)
    # both strips show the same metal: what moves between them is the line
    low = offset_mm + shift_mm / 2 - tall / 2
    shape = mesh_shape(mesh, angle_deg, box(0, low, w, low + tall))
    for name, shift, up in (("as marked", 0.0, tall + gap - low), ("shifted", shift_mm, -low)):
        areas += _areas(shape, up)
        y = offset_mm + shift + up
        pieces = crossings(mesh, angle_deg, offset_mm + shift, end)
        strokes.append(Stroke("cut", ((-0.03 * w, y), (end + 0.03 * w, y))))
        areas += [_dot((p.start_mm + min(p.long_mm, 0.04 * w) / 2, y), 0.011 * w) for p in pieces]
        if name == "shifted" and abs(shift) <= 0.05:
            name = "it can stay"
        elif name == "shifted":
            name += f" {given.show(abs(shift))} {'left' if shift > 0 else 'right'}"
            old = offset_mm + up
            strokes.append(Stroke("hidden", ((-0.03 * w, old), (w * 1.03, old))))
        texts.append(
            Text(
                (w / 2, low + tall + up + 0.05 * w),
                f"{name}: {len(pieces)} start{'' if len(pieces) == 1 else 's'} shown",
            )
        )
    return Drawing("Mesh with the line", tuple(areas), tuple(strokes), tuple(texts))
