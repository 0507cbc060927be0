"""The scrap of a coupon as it is marked out: three straight cuts with their guide, a circle, a pierce, a gouge.

Lengths mm, x right and y up from the datum corner; everything is drawn where it is and as big as it is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.cards import words
from lagline.cards.svg import PAPER, SCREEN, Box, Ink, Sheet
from lagline.cards.widths import text_width
from lagline.records.geometry import Arc, Point
from lagline.records.length import seconds_per_inch

RUN_IN_MM, RUN_OUT_MM, WEB_MM = 12.0, 8.0, 15.0  # before the first mark, after the second, steel left standing
TOP_MM, UNDER_MM, GOUGE_MM = 28.0, 12.0, 24.0
BAR_MM = 5.0  # as much of the guide as is drawn


@dataclass(frozen=True, slots=True)
class CutLine:
    """One straight cut: its centre line, where the watch starts and stops, where the guide's edge lies."""

    number: int
    y: float
    start: float
    marks: tuple[float, float]
    stop: float
    guide_y: float
    pace_mm_s: float

    @property
    def seconds(self) -> float:
        """Time from mark to mark [s]."""
        return abs(self.marks[1] - self.marks[0]) / self.pace_mm_s


@dataclass(frozen=True, slots=True)
class Circle:
    """One turn of the arm, which leaves a disc and a hole. ``centre`` is the pivot."""

    centre: Point
    arm: float
    start: Point
    clockwise: bool


@dataclass(frozen=True, slots=True)
class Scrap:
    """The whole coupon. ``cuts`` travel rightwards unless ``leftwards``; the kept piece lies below each."""

    width: float
    height: float
    kerf: float
    cuts: tuple[CutLine, ...]
    leftwards: bool
    circle: Circle | None = None
    pierce: Point | None = None
    gouge: tuple[Point, Point] | None = None
    units: str = "in"
    last_waits: bool = False  # the last cut's beat depends on what the others show


def scrap(
    paces_mm_s: tuple[float, ...],
    length_mm: float,
    kerf_mm: float,
    cup_radius_mm: float,
    *,
    square_side: str,
    units: str,
    arm_mm: float | None = None,
    pierce: bool = False,
    gouge: bool = False,
    guide_width_mm: float = 0.0,
    last_waits: bool = False,
) -> Scrap:
    """Return where everything goes on a scrap.

    The guide lies on the kept piece, so its edge is ``cup_radius_mm`` from the centre line; travel is such that the
    square side is on the kept piece. Each cut stops short of the far edge: the strip stays on while both sides of
    the kerf are measured from the guide. ``arm_mm`` is pivot to tip, None without a circle.
    """
    if not paces_mm_s or min(*paces_mm_s, length_mm, kerf_mm, cup_radius_mm) <= 0:
        raise ValueError("a coupon needs cuts with paces, a length, a kerf and a cup radius above zero")
    width = RUN_IN_MM + length_mm + RUN_OUT_MM + WEB_MM
    apart = max(32.0, cup_radius_mm + BAR_MM + 16.0)
    below = cup_radius_mm + max(BAR_MM + 14.0, min(guide_width_mm, 60.0))
    if arm_mm is not None:
        below = max(below, 2 * arm_mm + kerf_mm + UNDER_MM + cup_radius_mm + BAR_MM + 4)
        width = max(width, 2 * arm_mm + kerf_mm + 2 * UNDER_MM + 30)
    foot = GOUGE_MM if gouge else 0.0
    height = TOP_MM + apart * (len(paces_mm_s) - 1) + below + foot
    left = square_side == "left"

    def x(v: float) -> float:
        return width - v if left else v

    cuts = []
    for i, pace in enumerate(paces_mm_s):
        y = height - TOP_MM - i * apart
        marks = (x(RUN_IN_MM), x(RUN_IN_MM + length_mm))
        stop = x(RUN_IN_MM + length_mm + RUN_OUT_MM)
        cuts.append(CutLine(i + 1, y, x(0.0), marks, stop, y - cup_radius_mm, pace))
    circle = None
    spot: Point | None = None
    if arm_mm is not None:
        r = arm_mm + kerf_mm / 2
        centre = (x(UNDER_MM + r), foot + UNDER_MM + r)
        begin = (centre[0], centre[1] + arm_mm)
        circle = Circle(centre, arm_mm, begin, not left)
    if pierce:
        spot = (x(width - 34.0), foot + 0.3 * below)
    line = ((x(10.0), foot / 2), (x(width - 10.0), foot / 2)) if gouge else None
    return Scrap(width, height, kerf_mm, tuple(cuts), left, circle, spot, line, units, last_waits)


def seconds_text(seconds: float) -> str:
    """Return a time as it is read off a watch."""
    return f"{seconds:.1f} s" if seconds < 20 else f"{seconds:.0f} s"


def picture(coupon: Scrap, *, paper: bool, view: Box | None = None) -> str:
    """Return the scrap as SVG: on paper at full scale, black on white; on the screen as steel and chalk."""
    ink = PAPER if paper else SCREEN
    if view is None:
        view = (0, 0, coupon.width, coupon.height) if paper else (-5, -5, coupon.width + 5, coupon.height + 5)
    size = (view[2] - view[0], view[3] - view[1]) if paper else None
    s = Sheet(view, ink, "Scrap coupon, marked out", _told(coupon), size)
    s.polygon(((0, 0), (coupon.width, 0), (coupon.width, coupon.height), (0, coupon.height)), "plate", ink.plate,
              stroke=ink.line, stroke_width=0.5)  # fmt: skip
    corner = coupon.width if coupon.leftwards else 0.0
    back = -1 if coupon.leftwards else 1
    s.polyline(((corner + back * 10, 0), (corner, 0), (corner, 10)), "datum", ink.line, 1.6)
    if coupon.gouge is None:
        _word(s, "datum corner", (corner + back * 3, 4.2), 3.0, back)
    for c in coupon.cuts:
        _cut(s, coupon, c, ink)
    if coupon.circle is not None:
        _circle(s, coupon, coupon.circle, ink)
    if coupon.pierce is not None:
        _pierce(s, coupon.pierce, ink)
    if coupon.gouge is not None:
        _gouge(s, coupon, ink)
    return s.finish()


def _told(coupon: Scrap) -> str:
    parts = [f"{len(coupon.cuts)} straight cuts along a guide"]
    parts += ["a circle from the arm"] if coupon.circle else []
    parts += ["a pierce"] if coupon.pierce else []
    parts += ["a gouge"] if coupon.gouge else []
    return ", ".join(parts) + f". Each cut from the {'right' if coupon.leftwards else 'left'}, kept piece below."


def _word(s: Sheet, text: str, at: Point, size: float, towards: float = 0, *, bold: bool = False) -> None:
    """Write text with its middle at a point, or beginning there and running right (1) or left (-1)."""
    half = text_width(text, size, bold=bold) / 2
    s.text(
        text, (at[0] + (half if towards > 0 else -half if towards < 0 else 0), at[1]), size, s.ink.text, "text", bold
    )


def _arrow(s: Sheet, a: Point, b: Point, ink: Ink, wide: float = 0.7) -> None:
    turn = math.atan2(b[1] - a[1], b[0] - a[0])
    wings = [(b[0] - 4 * math.cos(turn + k), b[1] - 4 * math.sin(turn + k)) for k in (0.42, -0.42)]
    s.polyline((a, b), "travel", ink.cut, wide)
    s.polygon((b, wings[0], wings[1]), "travel", ink.cut)


def _cut(s: Sheet, coupon: Scrap, c: CutLine, ink: Ink) -> None:
    k, way = coupon.kerf / 2, -1 if coupon.leftwards else 1
    a, b = sorted((c.start, c.stop))
    # the drop is above: hatched along the kerf
    step = 3.0
    hatch = [
        ((a + i * step, c.y + k), (a + i * step + 2.4, c.y + k + 3.2)) for i in range(int((b - a - 2.4) / step) + 1)
    ]
    for p, q in hatch:
        s.polyline((p, q), "hatch", ink.hatch, 0.25)
    s.polygon(((a, c.y - k), (b, c.y - k), (b, c.y + k), (a, c.y + k)), "kerf", ink.ground, stroke=ink.edge,
              stroke_width=0.25)  # fmt: skip
    s.polyline(((c.start, c.y), (c.stop, c.y)), "cut", ink.cut, 0.35, stroke_dasharray="5 2")
    s.dot((c.start + way * 1.6, c.y), 1.5, "start", fill=ink.cut)
    low, high = sorted((coupon.width if coupon.leftwards else 0.0, coupon.width - WEB_MM / 3 if not coupon.leftwards
                        else WEB_MM / 3))  # fmt: skip
    g = c.guide_y
    s.polygon(((low, g - BAR_MM), (high, g - BAR_MM), (high, g), (low, g)), "guide", ink.guide_face, stroke=ink.guide,
              stroke_width=0.6)  # fmt: skip
    for x, what in zip(c.marks, ("watch on", "watch off"), strict=True):
        s.polyline(((x, c.y - 6), (x, c.y + 10)), "mark", ink.line, 0.5)
        _word(s, what, (x, c.y + 12.6), 2.7, way if what == "watch on" else -way)
    middle = (c.marks[0] + c.marks[1]) / 2
    length = abs(c.marks[1] - c.marks[0])
    _word(s, str(c.number), (c.start + way * 6.0, c.y + 8.4), 7.0, 0, bold=True)
    beat = seconds_per_inch(c.pace_mm_s) if coupon.units == "in" else 25 / c.pace_mm_s
    unit = "s/in" if coupon.units == "in" else "s/25 mm"
    told = f"{seconds_text(c.seconds)} mark to mark, beat {beat:.2f} {unit}"
    size = 4.0
    if coupon.last_waits and c is coupon.cuts[-1]:
        told, size = f"by the table; likely {seconds_text(c.seconds)}, beat {beat:.2f} {unit}", 3.6
    _word(s, told, (middle + way * 0.04 * length, c.y + 7.4), size, 0, bold=True)
    at = c.marks[0] + way * 0.02 * length
    _arrow(s, (at, c.y + 6.8), (at + way * 0.15 * length, c.y + 6.8), ink)
    gap = words.both(c.y - g, coupon.units)
    x = c.marks[0] + way * 0.34 * length
    s.polyline(((x, c.y), (x, g)), "measure", ink.line, 0.3)
    for y, sign in ((c.y, -1), (g, 1)):
        s.polygon(((x, y), (x - 0.8, y + sign * 2.2), (x + 0.8, y + sign * 2.2)), "measure", ink.line)
    _word(s, f"{gap} guide to line", (x + way * 2, (c.y - k + g) / 2), 3.2, way)
    _word(s, "guide, on the piece that stays", (middle, g - BAR_MM / 2), 2.7)
    for f in (0.12, 0.88):
        x = c.marks[0] + f * (c.marks[1] - c.marks[0])
        s.polyline(((x - 5, g), (x + 5, g)), "nick", ink.cut, 1.4)
        s.polygon(((x, g + 0.9), (x - 1.6, g + 4.2), (x + 1.6, g + 4.2)), "nick", ink.cut)
        _word(s, "nick here", (x + way * 2.6, g + 3.0), 2.7, way)


def _circle(s: Sheet, coupon: Scrap, c: Circle, ink: Ink) -> None:
    x, y = c.centre
    ring = Sheet.path_data((Arc(c.centre, c.arm, 0.0, 2 * math.pi),), close=True)
    s.stroke(ring, "kerf", ink.edge, coupon.kerf + 0.5)
    s.stroke(ring, "kerf", ink.ground, coupon.kerf)
    s.stroke(ring, "cut", ink.cut, 0.35, stroke_dasharray="5 2")
    s.polyline(((x - 4, y), (x + 4, y)), "pivot", ink.line, 0.5)
    s.polyline(((x, y - 4), (x, y + 4)), "pivot", ink.line, 0.5)
    s.dot(c.centre, 1.2, "pivot", fill=ink.line)
    s.dot(c.start, 1.7, "start", fill=ink.cut)
    inside = c.arm - coupon.kerf / 2
    size = min(3.2, inside / 11)
    for text, up, bold in (
        ("punch the pivot", 8.0, False),
        (f"arm {words.both(c.arm, coupon.units)}", -8.0, True),
        (f"circle {words.both(2 * c.arm, coupon.units)}", -13.5, False),
        ("disc and hole: measure both", -19.0, False),
    ):
        _word(s, text, (x, y + up), size, bold=bold)
    turn = -1 if c.clockwise else 1
    r = c.arm - coupon.kerf / 2 - 3.5
    a0, a1 = math.pi / 2 + turn * 0.35, math.pi / 2 + turn * 1.1
    s.stroke(Sheet.path_data((Arc(c.centre, r, a0, a1 - a0),)), "travel", ink.cut, 0.7)
    tip = (x + r * math.cos(a1), y + r * math.sin(a1))
    along = a1 + turn * math.pi / 2
    wings = [(tip[0] - 3.6 * math.cos(along + k), tip[1] - 3.6 * math.sin(along + k)) for k in (0.5, -0.5)]
    s.polygon(((tip[0] + math.cos(along), tip[1] + math.sin(along)), *wings), "travel", ink.cut)
    _word(s, "start", (x, y + r - 2.2), size)


def _pierce(s: Sheet, at: Point, ink: Ink) -> None:
    s.dot(at, 4.0, "crater", fill="none", stroke=ink.line, stroke_width=0.3, stroke_dasharray="1.5 1")
    s.dot(at, 1.2, "start", fill=ink.cut)
    _word(s, "pierce here, move nowhere:", (at[0], at[1] + 9.4), 2.7)
    _word(s, "measure the crater", (at[0], at[1] + 6.0), 2.7)


def _gouge(s: Sheet, coupon: Scrap, ink: Ink) -> None:
    assert coupon.gouge is not None
    a, b = coupon.gouge
    way = 1 if b[0] > a[0] else -1
    s.polyline(((a[0], GOUGE_MM), (b[0], GOUGE_MM)), "edge", ink.hatch, 0.3, stroke_dasharray="2 2")
    s.polyline((a, b), "gouge", ink.hatch_bold, 7.0, stroke_opacity=0.25)
    s.polyline((a, b), "cut", ink.cut, 0.35, stroke_dasharray="5 2")
    s.dot(a, 1.5, "start", fill=ink.cut)
    _arrow(s, (a[0] + way * 8, a[1] + 6), (a[0] + way * 30, a[1] + 6), ink)
    _word(s, "gouge, one pass: measure width and depth half way", (a[0] + way * 34, a[1] + 6), 3.0, way)
    corner = coupon.width if coupon.leftwards else 0.0
    _word(s, "datum corner", (corner + (-3 if coupon.leftwards else 3), 3.2), 3.0, -1 if coupon.leftwards else 1)
