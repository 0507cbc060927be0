"""SVG shapes to chains of segments in millimetres; path data checked letter by letter before it is used.

An affine map takes an ellipse's two half diameters to two conjugate ones, so circles stay arcs under turning,
mirroring and even scaling, and become exact ellipses under any other.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from lagline.records.geometry import Line, Point, Segment
from lagline.shapes.arcs import FULL
from lagline.shapes.clean import Chain
from lagline.shapes.curves import bezier_points, ellipse, free

FURTHEST_MM = 1e7
MOST_COMMANDS = 400_000
_TAKES = {"m": 2, "l": 2, "h": 1, "v": 1, "c": 6, "s": 4, "q": 4, "t": 2, "a": 7, "z": 0}
_GAP = re.compile(r"[\s,]*")
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")
_FLAG = re.compile(r"[01]")


class BadShape(Exception):
    """A shape whose numbers cannot be drawn; the message says what."""


@dataclass(frozen=True, slots=True)
class Affine:
    """x' = a x + c y + e, y' = b x + d y + f."""

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 0.0
    f: float = 0.0

    def after(self, inner: Affine) -> Affine:
        """Return the map that does ``inner`` first and this one then."""
        return Affine(
            self.a * inner.a + self.c * inner.b,
            self.b * inner.a + self.d * inner.b,
            self.a * inner.c + self.c * inner.d,
            self.b * inner.c + self.d * inner.d,
            self.a * inner.e + self.c * inner.f + self.e,
            self.b * inner.e + self.d * inner.f + self.f,
        )

    def point(self, x: float, y: float) -> Point:
        p = (self.a * x + self.c * y + self.e, self.b * x + self.d * y + self.f)
        if not (abs(p[0]) <= FURTHEST_MM and abs(p[1]) <= FURTHEST_MM):
            raise BadShape("has a coordinate that is no number or beyond 10 km")
        return p

    def vector(self, x: float, y: float) -> Point:
        return (self.a * x + self.c * y, self.b * x + self.d * y)


def sound_length(d: str) -> tuple[int, int]:
    """Return how many characters of path data are sound, and how many commands they hold.

    By the grammar of SVG path data: a letter, then its numbers, repeated; an arc's two flags are single digits.
    """
    at = _end(_GAP.match(d))
    sound = at
    commands = 0
    if at < len(d) and d[at] not in "Mm":
        return 0, 0
    while at < len(d):
        letter = d[at].lower()
        takes = _TAKES.get(letter)
        if takes is None:
            return sound, commands
        at = _end(_GAP.match(d, at + 1))
        first = True
        while True:
            start = at
            for i in range(takes):
                number = (_FLAG if letter == "a" and i in (3, 4) else _NUMBER).match(d, at)
                if number is None:
                    if i == 0 and not first:
                        break
                    return sound, commands
                at = _end(_GAP.match(d, number.end()))
            else:
                commands += 1
                sound, first = at, False
                if takes:
                    continue
            at = start if takes and at == start else at
            break
    return len(d), commands


def _end(match: re.Match[str] | None) -> int:
    return match.end() if match else 0


def _line(a: Point, b: Point) -> Iterable[Segment]:
    return (Line(a, b),) if a != b else ()


def _curve(segment: Any, m: Affine) -> Iterable[Segment]:
    """Segments of one parsed path command under a map."""
    kind = type(segment).__name__
    a = m.point(segment.start.x, segment.start.y)
    b = m.point(segment.end.x, segment.end.y)
    if kind in ("Line", "Close"):
        return _line(a, b)
    if kind == "Arc":
        c, u, v = segment.center, segment.prx, segment.pry
        piece = None
        if c is not None and u is not None and v is not None:
            piece = ellipse(
                m.point(c.x, c.y),
                m.vector(u.x - c.x, u.y - c.y),
                m.vector(v.x - c.x, v.y - c.y),
                float(segment.get_start_t()),
                float(segment.sweep),
            )
        return _line(a, b) if piece is None else (piece,)
    controls = [segment.control] if kind == "QuadraticBezier" else [segment.control1, segment.control2]
    points = bezier_points([a, *(m.point(p.x, p.y) for p in controls), b])
    piece = free(points, closed=a == b)
    return () if piece is None else (piece,)


def path_chains(d: str, m: Affine) -> list[Chain]:
    """Return one chain per subpath of sound path data."""
    from svgelements import Path

    chains: list[Chain] = []
    chain: list[Segment] = []
    for segment in Path(d):
        if type(segment).__name__ == "Move":
            chains.append(tuple(chain))
            chain = []
            continue
        if segment.start is None or segment.end is None:
            continue
        chain += _curve(segment, m)
        if type(segment).__name__ == "Close":
            chains.append(tuple(chain))
            chain = []
    return [c for c in (*chains, tuple(chain)) if c]


def ring(points: Sequence[tuple[float, float]], m: Affine, closed: bool) -> list[Chain]:
    """Return the chain through the points."""
    pts = [m.point(x, y) for x, y in points]
    pairs = itertools.pairwise([*pts, pts[0]] if closed and pts else pts)
    chain = tuple(Line(a, b) for a, b in pairs if a != b)
    return [chain] if chain else []


def round_shape(cx: float, cy: float, rx: float, ry: float, m: Affine) -> list[Chain]:
    """Return a circle or ellipse."""
    piece = ellipse(m.point(cx, cy), m.vector(rx, 0.0), m.vector(0.0, ry), 0.0, FULL)
    return [] if piece is None else [(piece,)]


def rect(x: float, y: float, w: float, h: float, rx: float, ry: float, m: Affine) -> list[Chain]:
    """Return a rectangle, its corners rounded when both radii are above zero."""
    rx, ry = min(rx, w / 2), min(ry, h / 2)
    if rx <= 0 or ry <= 0:
        return ring([(x, y), (x + w, y), (x + w, y + h), (x, y + h)], m, closed=True)
    quarter = math.pi / 2
    out: list[Segment] = []
    corners = [
        (x + w - rx, y + ry, -quarter, (x + rx, y)),
        (x + w - rx, y + h - ry, 0.0, (x + w, y + ry)),
        (x + rx, y + h - ry, quarter, (x + w - rx, y + h)),
        (x + rx, y + ry, 2 * quarter, (x, y + h - ry)),
    ]
    for cx, cy, start, before in corners:
        arrive = (cx + rx * math.cos(start), cy + ry * math.sin(start))
        out += _line(m.point(*before), m.point(*arrive))
        piece = ellipse(m.point(cx, cy), m.vector(rx, 0.0), m.vector(0.0, ry), start, quarter)
        out += () if piece is None else (piece,)
    return [tuple(out)] if out else []


def numbers(text: str) -> list[float] | None:
    """Return the numbers of a point list, None when something else is in it."""
    found: list[float] = []
    at = _end(_GAP.match(text))
    while at < len(text):
        number = _NUMBER.match(text, at)
        if number is None:
            return None
        found.append(float(number.group()))
        at = _end(_GAP.match(text, number.end()))
    return found


def basic_shape(tag: str, size: Callable[[str, str], float], m: Affine) -> list[Chain]:
    """Return a line, rectangle, circle or ellipse; ``size`` gives an attribute's length, 0 when absent."""
    if tag == "line":
        return ring([(size("x1", "x"), size("y1", "y")), (size("x2", "x"), size("y2", "y"))], m, closed=False)
    if tag == "rect":
        w, h = size("width", "x"), size("height", "y")
        rx, ry = size("rx", "x"), size("ry", "y")
        if w < 0 or h < 0 or rx < 0 or ry < 0:
            raise BadShape("has a negative size")
        return rect(size("x", "x"), size("y", "y"), w, h, rx or ry, ry or rx, m) if w and h else []
    rx, ry = (size("r", "d"),) * 2 if tag == "circle" else (size("rx", "x"), size("ry", "y"))
    if rx < 0 or ry < 0:
        raise BadShape("has a negative radius")
    return round_shape(size("cx", "x"), size("cy", "y"), rx, ry, m) if rx and ry else []
