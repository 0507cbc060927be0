"""A second way to where pipes meet: surfaces as signs in space, and a root searched along each line of the pipe.

Nothing here knows the program's formulas: a header is an inside-or-outside function of a point, a pipe is a frame.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from scipy.optimize import brentq, minimize_scalar
from shapely.geometry import Point, Polygon, box

from lagline.desk.setout_desk import answer
from lagline.records.setout import SetOut

Sign = Callable[[np.ndarray], float]


def ask(name: str, **texts: object) -> SetOut:
    """Return a set-out asked for in millimetres."""
    return answer("pipe", name, {k: v if isinstance(v, str) else f"{v!r}" for k, v in texts.items()}, units="mm")


def column(made: SetOut, key: str, table: str = "ordinates") -> np.ndarray:
    """Return one column of a table as numbers."""
    t = made.table(table)
    i = [c.key for c in t.columns].index(key)
    return np.asarray([row[i] for row in t.rows], float)


class Frame:
    """A branch over a header whose axis is X: it rises along ``d``; ``top`` is its open side; ``right`` is right of the
    top line for someone who looks at it from outside with the joint end up."""

    def __init__(self, angle_deg: float, offset_mm: float) -> None:
        b = math.radians(angle_deg)
        self.d = np.array([math.cos(b), 0.0, math.sin(b)])
        self.top = np.array([-math.sin(b), 0.0, math.cos(b)])
        up, look = -self.d, -self.top
        self.right = np.cross(look, up)
        self.foot = offset_mm * self.right

    def line(self, x: float, y: float) -> np.ndarray:
        """Return the foot of the branch's line at that place across it."""
        return self.foot + x * self.top + y * self.right

    def meets(self, x: float, y: float, sign: Sign) -> float:
        """Return how far up the branch its line at (x, y) comes out of a solid about the header's axis."""
        start = self.line(x, y)
        low = -start[2] / self.d[2]  # level with the header's axis
        inside, far = sign(start + low * self.d), low + 1e5
        assert inside <= 1e-9, "the line misses the header"
        if inside > -1e-9:
            return low
        return float(brentq(lambda s: sign(start + s * self.d), low, far, xtol=1e-10))


def round_sign(radius: float) -> Sign:
    return lambda p: math.hypot(p[1], p[2]) - radius


def box_sign(width: float, depth: float, corner: float) -> Sign:
    """Signed distance from a rectangle with round corners."""

    def sign(p: np.ndarray) -> float:
        a, b = abs(p[1]) - (width / 2 - corner), abs(p[2]) - (depth / 2 - corner)
        return math.hypot(max(a, 0.0), max(b, 0.0)) + min(max(a, b), 0.0) - corner

    return sign


def highest(w: Callable[[float], float]) -> float:
    """Return the greatest of a function round the circle, by search between a coarse comb."""
    comb = np.linspace(0, 2 * math.pi, 73)
    at = comb[int(np.argmax([w(t) for t in comb]))]
    found = minimize_scalar(lambda t: -w(t), bounds=(at - 0.1, at + 0.1), method="bounded", options={"xatol": 1e-9})
    return max(float(-found.fun), w(at))


def round_box(width: float, height: float, corner: float) -> Polygon:
    """Return a rectangle with round corners by two buffers, height along x."""
    flat = box(corner - height / 2, corner - width / 2, height / 2 - corner, width / 2 - corner)
    return flat.buffer(corner, quad_segs=150) if corner > 0 else flat


def walk(outline: Polygon, start: tuple[float, float], along: float) -> tuple[float, float]:
    """Return the place that far round an outline, from a point on it, anticlockwise."""
    ring = outline.exterior if outline.exterior.is_ccw else outline.exterior.reverse()
    at = ring.interpolate((ring.project(Point(start)) + along) % ring.length)
    return at.x, at.y
