"""The picture of a circle arm: what is kept, the kerf, the pivot, the cup at the arm's end, where the arc is struck."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.records.geometry import Arc, Point
from lagline.records.setout import Area, Dim, Drawing, Stroke, Text
from lagline.setouts.ask import Given


@dataclass(frozen=True, slots=True)
class Shown:
    """One circle as it is drawn [mm, deg]."""

    radius: float
    disc: bool
    sweep_deg: float
    arm: float
    to_cup: float
    start: float


def circle(radius: float) -> tuple[Point, ...]:
    """Return a circle about the pivot."""
    return Arc((0.0, 0.0), radius, 0.0, 2 * math.pi).points(radius / 500)[:-1]


def _arc(radius: float, middle: float, sweep: float) -> tuple[Point, ...]:
    return Arc((0.0, 0.0), radius, middle - sweep / 2, sweep).points(radius / 2000)


def _at(radius: float, heading: float) -> Point:
    return (radius * math.cos(heading), radius * math.sin(heading))


def _box(by: float) -> tuple[Point, ...]:
    return ((-by, -by), (by, -by), (by, by), (-by, by))


def _whole(shown: tuple[Shown, ...], r: float, k: float) -> tuple[Area, ...]:
    """Areas of whole circles: what is kept, what drops."""
    outer = next((s for s in shown if s.disc), None)
    inner = next((s for s in shown if not s.disc), None)
    far = max(s.arm for s in shown) + 1.6 * r + 8
    out = []
    if outer is not None:
        out.append(Area("waste", _box(far), (circle(outer.radius + k),)))
        out.append(Area("metal", circle(outer.radius), () if inner is None else (circle(inner.radius),)))
    elif inner is not None:
        out.append(Area("metal", _box(far), (circle(inner.radius),)))
    if inner is not None:
        out.append(Area("waste", circle(inner.radius - k)))
    return tuple(out)


def _part(what: str, s: Shown, r: float, middle: float) -> tuple[tuple[Area, ...], tuple[Stroke, ...]]:
    """Areas and cut line of an arc or a corner: a strip of metal to either side of it."""
    sweep, wide = math.radians(s.sweep_deg), 1.5 * r + 10
    inner = _arc(max(s.radius - wide, 0.05 * s.radius), middle, sweep)
    edge, beyond = _arc(s.radius, middle, sweep), _arc(s.radius + wide, middle, sweep)
    if what == "corner":
        half = sweep / 2
        tip = _at(s.radius / math.cos(half), middle) if half < math.radians(89) else edge[len(edge) // 2]
        inside = (*edge, _at(0.0, 0.0))
        outside = (*edge, tip)
    else:
        inside, outside = (*edge, *inner[::-1]), (*edge, *beyond[::-1])
    kept, drop = (inside, outside) if s.disc else (outside, inside)
    return (Area("metal", kept), Area("waste", drop)), (Stroke("cut", edge),)


def _arm_lines(s: Shown, r: float, heading: float) -> tuple[Stroke, ...]:
    swing = min(0.5, math.radians(s.sweep_deg) / 3)
    tip, start = _at(s.arm, heading), _at(s.start, heading + swing)
    dot = max(0.02 * s.arm, 1.0)
    return (
        Stroke("centre", ((0.0, 0.0), tip)),
        Stroke("guide", tuple((x + tip[0], y + tip[1]) for x, y in circle(r)), closed=True),
        Stroke("edge", tuple((x + tip[0], y + tip[1]) for x, y in circle(dot / 2)), closed=True),
        Stroke("mark", tuple((x + start[0], y + start[1]) for x, y in circle(dot)), closed=True),
    )


def picture(what: str, shown: tuple[Shown, ...], r: float, k: float, given: Given) -> Drawing:
    """Return the picture; a ring has its hole's arm to the left and its outside's to the right."""
    whole = shown[-1].sweep_deg >= 360
    headings = (math.pi, 0.0) if len(shown) > 1 else (0.0,) if whole else (math.pi / 2,)
    strokes: list[Stroke] = []
    areas: tuple[Area, ...]
    if whole:
        areas = _whole(shown, r, k)
        strokes += [Stroke("cut", circle(s.radius), closed=True) for s in shown]
    else:
        areas, cut = _part(what, shown[0], r, headings[0])
        strokes += cut
    dims: list[Dim] = []
    texts: list[Text] = []
    size = max(s.arm for s in shown) + 2 * r
    cross = 0.05 * size
    strokes += [Stroke("edge", ((-cross, 0.0), (cross, 0.0))), Stroke("edge", ((0.0, -cross), (0.0, cross)))]
    for s, h in zip(shown, headings, strict=True):
        strokes += _arm_lines(s, r, h)
        off = max(0.16 * size, 1.3 * r)
        dims.append(Dim((0.0, 0.0), _at(s.arm, h), f"arm {given.show(s.arm)}", -off))
        dims.append(Dim((0.0, 0.0), _at(s.to_cup, h), f"to cup {given.show(s.to_cup)}", off))
    texts.append(Text((0.0, -0.42 * size if whole else -0.12 * size), "pivot"))
    name = "Pivot, arm and cup; the small ring is where the arc is struck"
    return Drawing(name, areas, tuple(strokes), tuple(texts), tuple(dims))
