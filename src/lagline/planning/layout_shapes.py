"""The ways a part may lie: its outline turned and mirrored as allowed, brought to the origin.

Glossary
--------
lie   : one turn (and mirror) of one part
datum : lower left corner of a lie's box; placing a lie means saying where its datum goes
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon

from lagline.records.geometry import Arc, Move, Outline
from lagline.records.plan import Blank
from lagline.shapes.region import polygon

ANY_TURN_STEPS = 24
SAME_MM = 0.05  # lies that agree to this are one lie
ROUGH_MM = 0.02  # how near the outline with fewer points stays
SAMPLES = 96  # points along an outline, beside its corners, that say whether two lies are alike
FIRST = 6  # of them asked first
BOXY = 0.7


Box = tuple[float, float, float, float]
Boxes = tuple[Box, ...]
Points = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Lie:
    """One way a part may lie, datum at (0, 0). ``corner`` is the datum before it was brought there [mm]."""

    part: int
    turn: float
    mirror: bool
    shape: Polygon
    rough: Polygon  # the same with fewer points, for grids and first looks
    corner: tuple[float, float]
    width: float
    height: float
    square: bool  # long edge parallel to the datum edges, or a turn the job names
    boxy: bool  # fills most of its box
    windows: Boxes  # boxes of its holes
    points: Points = field(compare=False, repr=False)  # coordinates of ``shape``

    def move(self, x: float, y: float) -> Move:
        """Return the move that puts the datum at (x, y)."""
        return Move(x - self.corner[0], y - self.corner[1], self.turn, self.mirror)

    def at(self, x: float, y: float) -> Polygon:
        """Return the area with its datum at (x, y)."""
        out: Polygon = shapely.set_coordinates(self.shape, self.points + np.array([x, y]))
        return out


def turning(turn: float, mirror: bool) -> npt.NDArray[np.float64]:
    """Return the matrix that mirrors about the y axis (if asked), then turns about the origin [rad]."""
    c, s = math.cos(turn), math.sin(turn)
    m = -1.0 if mirror else 1.0
    return np.array([[m * c, -s], [m * s, c]])


def turned(shape: Polygon, turn: float, mirror: bool) -> Polygon:
    """Return the area mirrored about the y axis (if asked), then turned about the origin [rad]."""
    matrix = turning(turn, mirror)
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
    shape, rough = _Turner(raw), _Turner(_roughly(raw))
    onto_itself = _Symmetry(rough.shape)
    boxy = Polygon(raw.exterior).area
    out: list[Lie] = []
    for mirror in (False, True) if blank.part.may_mirror else (False,):
        for turn, square in turns:
            if any(onto_itself(turn, mirror, o.turn, o.mirror) for o in out):
                continue
            points = shape.turned(turn, mirror)
            low, high = points.min(axis=0), points.max(axis=0)
            (x, y), (width, height) = low.tolist(), (high - low).tolist()
            points = points - low
            out.append(
                Lie(
                    index,
                    turn,
                    mirror,
                    shape.area(points),
                    rough.area(rough.turned(turn, mirror) - low),
                    (x, y),
                    width,
                    height,
                    square,
                    boxy > BOXY * width * height,
                    shape.windows(points),
                    points,
                )
            )
    return tuple(out)


def _roughly(shape: Polygon) -> Polygon:
    """Return the outline with fewer points, within ``ROUGH_MM`` of it."""
    rough = shapely.simplify(shape, ROUGH_MM)
    return rough if isinstance(rough, Polygon) and rough.is_valid else shape


class _Turner:
    """Turns one area many times over."""

    def __init__(self, shape: Polygon):
        self.shape, self.points = shape, shapely.get_coordinates(shape)
        counts = [shapely.get_num_coordinates(r) for r in shape.interiors]
        self.holes = np.cumsum([shapely.get_num_coordinates(shape.exterior), *counts])[:-1]

    def turned(self, turn: float, mirror: bool) -> Points:
        """Return the outline's points turned about the origin."""
        out: Points = self.points @ turning(turn, mirror).T
        return out

    def area(self, points: Points) -> Polygon:
        """Return the area with its points elsewhere."""
        out: Polygon = shapely.set_coordinates(self.shape, points)
        return out

    def windows(self, points: Points) -> Boxes:
        """Return the boxes of the holes when the points lie there."""
        if not len(self.holes):
            return ()
        ends = [np.minimum.reduceat(points, self.holes), np.maximum.reduceat(points, self.holes)]
        return tuple((x0, y0, x1, y1) for x0, y0, x1, y1 in np.hstack(ends).tolist())


class _Symmetry:
    """Tells whether two ways of lying look alike: every point of the outline comes to lie on the outline."""

    def __init__(self, shape: Polygon):
        centred = shapely.set_coordinates(shape, shapely.get_coordinates(shape) - shape.centroid.coords[0])
        self.edge = shapely.boundary(centred)
        shapely.prepare(self.edge)
        points = shapely.get_coordinates(shapely.segmentize(self.edge, shape.length / SAMPLES))
        far = np.hypot(points[:, 0], points[:, 1])
        self.points = points[np.argsort(-far, kind="stable")]  # what sticks out tells most turns apart at once
        self.known: dict[tuple[float, bool], bool] = {}

    def __call__(self, turn: float, mirror: bool, other: float, other_mirror: bool) -> bool:
        """True when both are alike."""
        between, mirrored = turn - other if mirror or not other_mirror else other - turn, mirror != other_mirror
        steps = between / (2 * math.pi) * ANY_TURN_STEPS
        if not mirrored and abs(steps - round(steps)) < 1e-6:  # alike after so many steps: after what divides them too
            between = 2 * math.pi / ANY_TURN_STEPS * math.gcd(round(steps), ANY_TURN_STEPS)
        key = (round(between % (2 * math.pi), 6), mirrored)
        if key not in self.known:
            moved = self.points @ turning(between, mirrored).T
            self.known[key] = all(
                bool(shapely.dwithin(self.edge, shapely.points(some), SAME_MM).all())
                for some in (moved[:FIRST], moved[FIRST:])
            )
        return self.known[key]


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
