"""The picture of a circle arm: what is kept, the kerf, the pivot, the cup at the arm's end, where the arc is struck."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.records.geometry import Arc, Point
from lagline.records.setout import Area, Drawing, Stroke, Text
from lagline.setouts.ask import Given

BAR_LEAN = math.radians(60.0)


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


def _measured(s: Shown, heading: float, off: float, room: float, given: Given) -> tuple[list[Stroke], list[Text]]:
    """Arm and cup distance beside the arm, each on its side with its words outside of its line."""
    along, across = _at(1.0, heading), _at(1.0, heading + math.pi / 2)
    turn = 90.0 if abs(along[1]) > 0.5 else 0.0
    strokes, texts = [], []

    def at(u: float, v: float) -> Point:
        return (u * along[0] + v * across[0], u * along[1] + v * across[1])

    for words, reach, side in (
        (f"arm {given.show(s.arm)}", s.arm, -1),
        (f"to cup {given.show(s.to_cup)}", s.to_cup, 1),
    ):
        line = side * off
        tick = 0.25 * room
        strokes.append(Stroke("mark", (at(0.0, line), at(reach, line))))
        for u in (0.0, reach):
            strokes.append(Stroke("mark", (at(u, 0.0), at(u, line + side * tick))))
            strokes.append(Stroke("edge", (at(u - tick, line - tick), at(u + tick, line + tick))))
        texts.append(Text(at(reach / 2, line + side * room), words, turn))
    return strokes, texts


def _bar(bar: tuple[float, float]) -> tuple[Area, Text]:
    """The bar across the hole that carries the pivot, leaning so that it leaves the arms free."""
    c, s = _at(1.0, BAR_LEAN)
    corners = tuple(
        (u * bar[0] / 2 * c - v * bar[1] / 2 * s, u * bar[0] / 2 * s + v * bar[1] / 2 * c)
        for u, v in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    )
    x, y = _at(-0.36 * bar[0], BAR_LEAN)
    return Area("guide", corners), Text((x, y), "bar")


def picture(
    what: str, shown: tuple[Shown, ...], r: float, k: float, bar: tuple[float, float] | None, given: Given
) -> Drawing:
    """Return the picture; a ring has its hole's arm to the left and its outside's to the right.

    ``bar``: length and width of the bar that carries the pivot, None where it stands on the metal [mm].
    """
    whole = shown[-1].sweep_deg >= 360
    strokes: list[Stroke] = []
    areas: tuple[Area, ...]
    if whole:
        areas = _whole(shown, r, k)
        strokes += [Stroke("cut", circle(s.radius), closed=True) for s in shown]
    else:
        areas, cut = _part(what, shown[0], r, math.pi / 2)
        strokes += cut
    texts: list[Text] = []
    size = max(s.arm for s in shown) + 2 * r
    if bar is not None:
        laid, word = _bar(bar)
        areas = (*areas, laid)
        texts.append(word)
    cross = 0.05 * size
    strokes += [Stroke("edge", ((-cross, 0.0), (cross, 0.0))), Stroke("edge", ((0.0, -cross), (0.0, cross)))]
    for s in shown:
        h = math.pi / 2 if not whole else math.pi if len(shown) > 1 and not s.disc else 0.0
        strokes += _arm_lines(s, r, h)
        lines, words = _measured(s, h, (0.3 if h == 0.0 and len(shown) > 1 else 0.16) * size, 0.065 * size, given)
        strokes += lines
        texts += words
    texts.append(Text((0.13 * size, 0.075 * size) if whole else (0.0, -0.1 * size), "pivot"))
    name = "Pivot, arm and cup; the small ring is where the arc is struck"
    return Drawing(name, areas, tuple(strokes), tuple(texts))
