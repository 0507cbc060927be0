"""The ways a part may lie: its outline turned and mirrored as allowed, brought to the origin.

Glossary
--------
lie   : one turn (and mirror) of one part
datum : lower left corner of a lie's box; placing a lie means saying where its datum goes
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon

from lagline.planning.layout_raster import Bits, fill
from lagline.records.geometry import Arc, Move, Outline
from lagline.records.plan import Blank
from lagline.shapes.region import polygon

ANY_TURN_STEPS = 24
SAME_MM = 0.05  # lies that agree to this are one lie
SKETCH = 48  # grid points across a lie, for a first look at whether two are alike
BOXY = 0.7


Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Lie:
    """One way a part may lie, datum at (0, 0). ``corner`` is the datum before it was brought there [mm]."""

    part: int
    turn: float
    mirror: bool
    shape: Polygon
    corner: tuple[float, float]
    width: float
    height: float
    square: bool  # long edge parallel to the datum edges, or a turn the job names
    boxy: bool  # fills most of its box
    windows: tuple[Box, ...]  # boxes of its holes

    def move(self, x: float, y: float) -> Move:
        """Return the move that puts the datum at (x, y)."""
        return Move(x - self.corner[0], y - self.corner[1], self.turn, self.mirror)


def turned(shape: Polygon, turn: float, mirror: bool) -> Polygon:
    """Return the area mirrored about the y axis (if asked), then turned about the origin [rad]."""
    c, s = math.cos(turn), math.sin(turn)
    m = -1.0 if mirror else 1.0
    matrix = np.array([[m * c, -s], [m * s, c]])
    out = shapely.transform(shape, lambda a: a @ matrix.T)
    assert isinstance(out, Polygon)
    return out


def longest_edge_angle(shape: Polygon) -> float:
    """Direction of the longest straight run of the outer edge [rad], within a quarter turn; 0 for round parts."""
    ring = np.asarray(shape.exterior.coords)
    step = np.diff(ring, axis=0)
    length = np.hypot(step[:, 0], step[:, 1])
    if length.max() < 0.1 * length.sum():
        return 0.0
    k = int(length.argmax())
    return math.atan2(step[k, 1], step[k, 0]) % (math.pi / 2)


def lies(index: int, blank: Blank) -> tuple[Lie, ...]:
    """Return every different way the part may lie, those parallel to the datum edges first."""
    raw = polygon(blank.cut)
    if blank.part.turns_deg:
        turns = [(math.radians(t), True) for t in blank.part.turns_deg]
    else:
        base = -longest_edge_angle(raw)
        step = 2 * math.pi / ANY_TURN_STEPS
        turns = [(base + k * step, k % (ANY_TURN_STEPS // 4) == 0) for k in range(ANY_TURN_STEPS)]
        turns.sort(key=lambda t: not t[1])
    if round_about(blank.cut):
        turns = turns[:1]
    out: list[Lie] = []
    seen: list[Bits] = []
    for mirror in (False, True) if blank.part.may_mirror else (False,):
        for turn, square in turns:
            shape = turned(raw, turn, mirror)
            x0, y0, x1, y1 = shape.bounds
            shift = np.array([x0, y0])
            shape = shapely.transform(shape, lambda a, s=shift: a - s)
            windows = tuple(r.bounds for r in shape.interiors)
            sketch = fill(shape, (0.0, 0.0), max(x1 - x0, y1 - y0) / SKETCH, (SKETCH, SKETCH))
            if any(
                _alike(windows, o.windows) and _same(shape, sketch, o.shape, other)
                for o, other in zip(out, seen, strict=True)
            ):
                continue
            boxy = Polygon(shape.exterior).area > BOXY * (x1 - x0) * (y1 - y0)
            out.append(Lie(index, turn, mirror, shape, (x0, y0), x1 - x0, y1 - y0, square, boxy, windows))
            seen.append(sketch)
    return tuple(out)


def round_about(outline: Outline) -> bool:
    """True for circles about one centre, which lie alike at every turn."""
    circles = [loop.segments[0] for loop in outline.loops]
    return all(
        isinstance(c, Arc)
        and c.is_circle
        and isinstance(circles[0], Arc)
        and math.dist(c.centre, circles[0].centre) < 1e-9
        for c in circles
    )


def _alike(a: tuple[Box, ...], b: tuple[Box, ...]) -> bool:
    return all(any(max(abs(p - q) for p, q in zip(v, w, strict=True)) < SAME_MM for w in b) for v in a)


def _same(a: Polygon, a_sketch: Bits, b: Polygon, b_sketch: Bits) -> bool:
    if max(abs(p - q) for p, q in zip(a.bounds, b.bounds, strict=True)) > SAME_MM:
        return False
    if np.count_nonzero(a_sketch ^ b_sketch) > 2 * SKETCH:
        return False
    rough = shapely.simplify([a, b], SAME_MM)
    return bool(shapely.symmetric_difference(*rough).area < 2 * SAME_MM * a.length)
