"""Where text goes on a picture: no two texts overlap, none leaves the window, and lines are kept clear if possible."""

from __future__ import annotations

import math
from dataclasses import dataclass

import shapely
from shapely import STRtree
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from lagline.cards.svg import Box
from lagline.records.geometry import Point

# advance widths in em, widest of the class in the bold face, so that estimates err on the wide side
_WIDTHS = (
    (0.46, "'.,:;|!()[]-/ijlIJ\\ f·"),
    (0.53, '"rt*°–'),
    (0.60, "?czs_`"),
    (0.74, "0123456789$aeknouvxyhbdgpqLEFTSYCPZ"),
)
_EM = {c: w for w, cs in _WIDTHS for c in cs}
_WIDE = 0.88
_WIDEST = 1.11


def text_width(text: str, size: float) -> float:
    """Return the width the text may take at that size, never less than it does in the shipped bold face."""
    return size * sum(_WIDEST if c in "W½¼@%Mmw—" else _EM.get(c, _WIDE) for c in text)


def _overlap(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


@dataclass(frozen=True, slots=True)
class Label:
    """A text that found its place; ``leader`` runs from the text to what it names, empty when it stands on it."""

    text: str
    middle: Point
    size: float
    box: Box
    leader: tuple[Point, ...]
    colour: str
    kind: str
    bold: bool
    upright: bool = False


class Labels:
    """Places texts one after another, the most needed first."""

    def __init__(self, view: Box) -> None:
        self.view = view
        self.placed: list[Label] = []
        self.left_out: list[str] = []
        self.blocked: list[Box] = []
        self._ink: list[BaseGeometry] = []
        self._tree = STRtree([])
        self._leaders: list[tuple[Point, Point]] = []

    def block(self, b: Box) -> None:
        """Keep all text off a rectangle."""
        self.blocked.append(b)

    def keep_clear(self, geometry: BaseGeometry) -> None:
        """Prefer places that do not cover these lines."""
        pieces = shapely.get_parts(shapely.simplify(geometry, (self.view[2] - self.view[0]) / 2000))
        self._ink.extend(p for p in pieces if not p.is_empty)
        self._tree = STRtree(self._ink)

    @property
    def ink(self) -> BaseGeometry:
        """Everything that text had better not cover."""
        return shapely.union_all(self._ink)

    def _covered(self, b: Box) -> tuple[float, float]:
        """Return the length and area of ink under a rectangle."""
        hits = [shapely.clip_by_rect(self._ink[i], *b) for i in self._tree.query(box(*b))]
        return sum(h.length for h in hits), sum(h.area for h in hits)

    def free(self, b: Box) -> bool:
        """True when the rectangle lies in the window and touches no text."""
        v = self.view
        inside = b[0] >= v[0] and b[1] >= v[1] and b[2] <= v[2] and b[3] <= v[3]
        return inside and not any(_overlap(b, o) for o in self.blocked)

    def put(
        self,
        text: str,
        at: Point,
        size: float,
        colour: str,
        kind: str,
        *,
        on: bool = False,
        bold: bool = False,
        towards: float | None = None,
        within: BaseGeometry | None = None,
        avoid: BaseGeometry | None = None,
        reach: float = 9.0,
        clear: float = 0.5,
        must: bool = True,
        upright: bool = False,
    ) -> Label | None:
        """Place a text by ``at``.

        ``on``: may stand on the point itself. ``towards``: the side it would best be on [rad]. ``within``: an
        area its box must stay in. ``avoid``: ground it would be misread on.
        ``reach``: how far it may stray, in text heights. A text that finds no place
        is listed in ``left_out`` when it ``must`` be there.
        """
        w, h = text_width(text, size) / 2 + 0.25 * size, 0.66 * size
        if upright:
            w, h = h, w
        best: tuple[float, Point, Box, float] | None = None
        rings = [0.0] if on else []
        rings += [r for r in (clear, 1.0, 1.7, 2.6, 3.6, 5.0, 7.0, 9.0, 12.0) if clear <= r <= reach]
        base = towards if towards is not None else math.pi / 4
        for k, r in enumerate(rings):
            if best is not None and best[0] < 3 * r:
                break
            for i in range(24) if r or not on else (0,):
                angle = base + (i + 1) // 2 * math.tau / 24 * (1 if i % 2 else -1)
                c, s = math.cos(angle), math.sin(angle)
                middle = at if on and k == 0 else (at[0] + c * (w + r * size), at[1] + s * (h + r * size))
                b = (middle[0] - w, middle[1] - h, middle[0] + w, middle[1] + h)
                if not self.free(b):
                    continue
                shape = box(*b)
                if within is not None and not within.covers(shape):
                    continue
                cost = 3 * r + (0.12 * i if towards is not None else 0.01 * i) * (2 if r else 0)
                length, area = self._covered(b)
                cost += 10 * length / size + 60 * area / shape.area
                if avoid is not None:
                    cost += 80 * avoid.intersection(shape).area / shape.area
                if r >= 1.7:
                    end = _nearest(b, at)
                    cost += 20 * sum(_through(at, end, o) for o in self.blocked)
                    cost += 10 * sum(_cross(at, end, *o) for o in self._leaders)
                cost += 8 * sum(_through(*o, b) for o in self._leaders)
                if best is None or cost < best[0]:
                    best = (cost, middle, b, r)
                if cost < 3 * r + 0.3:
                    break  # nothing on this ring can be worth more than that
        if best is None:
            if must:
                self.left_out.append(text)
            return None
        _, middle, b, r = best
        leader_points = (at, _nearest(b, at)) if r >= 1.7 else ()
        label = Label(text, middle, size, b, leader_points, colour, kind, bold, upright)
        self.placed.append(label)
        self.blocked.append(b)
        if leader_points:
            self._leaders.append((at, leader_points[1]))
        return label

    def fixed(self, text: str, middle: Point, size: float, colour: str, kind: str, *, bold: bool = False) -> bool:
        """Place a text exactly there if the place is free; say whether it was."""
        w, h = text_width(text, size) / 2 + 0.15 * size, 0.6 * size
        b = (middle[0] - w, middle[1] - h, middle[0] + w, middle[1] + h)
        if not self.free(b):
            return False
        self.placed.append(Label(text, middle, size, b, (), colour, kind, bold))
        self.blocked.append(b)
        return True


def _nearest(b: Box, p: Point) -> Point:
    return min(max(p[0], b[0]), b[2]), min(max(p[1], b[1]), b[3])


def _through(a: Point, b: Point, r: Box) -> bool:
    """True when the stretch from a to b touches the rectangle (its line clipped side by side)."""
    low, high = 0.0, 1.0
    for p, d, lo, hi in ((a[0], b[0] - a[0], r[0], r[2]), (a[1], b[1] - a[1], r[1], r[3])):
        if d == 0:
            if not lo <= p <= hi:
                return False
            continue
        t0, t1 = sorted(((lo - p) / d, (hi - p) / d))
        low, high = max(low, t0), min(high, t1)
        if low > high:
            return False
    return True


def _cross(a: Point, b: Point, c: Point, d: Point) -> bool:
    """True when the stretches a-b and c-d cross each other."""

    def side(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0
