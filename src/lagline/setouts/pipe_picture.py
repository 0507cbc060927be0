"""The joint seen from the side: pipes, cut line, angle, and the quarter marks."""

from __future__ import annotations

import math

import numpy as np

from lagline.records.geometry import Point
from lagline.records.setout import Area, Dim, Drawing, Stroke, Text
from lagline.setouts.ask import Given
from lagline.setouts.pipe_cut import Cut
from lagline.shapes.pipe_ring import Floats


def development(cut: Cut, left: float, middle: float, wide: float) -> tuple[list[Area], list[Stroke], list[Text]]:
    """Return the wrap drawn small: its cut line, mark lines and quarter numbers, ``wide`` [mm] from ``left``."""
    k = wide / cut.wrap
    xs = [left + float(v) * cut.stretch * k for v in cut.case.dense.along]
    low, high = float(cut.curve.min()) - 0.10 * cut.wrap, cut.top + 0.05 * cut.wrap
    up = middle - k * (low + high) / 2
    line = tuple((x, up + k * float(y)) for x, y in zip(xs, cut.curve, strict=True))
    bottom, top = up + k * low, up + k * high
    strokes = [
        Stroke("edge", ((left, bottom), (left + wide, bottom), (left + wide, top), (left, top)), True),
        Stroke("mark", ((left, up), (left + wide, up))),
        Stroke("cut", line),
    ]
    texts = []
    n = len(cut.case.places)
    for i in range(n):
        x = left + float(cut.case.marks.along[i]) * cut.stretch * k
        strokes.append(Stroke("mark", ((x, bottom), (x, up + k * float(cut.ordinates[i])))))
    for i in (cut.quarter(k) - 1 for k in range(4)):
        x = left + float(cut.case.marks.along[i]) * cut.stretch * k
        texts.append(Text((x, bottom - 0.035 * wide), str(i + 1), 0, 2.4))
    texts.append(Text((left + wide / 2, bottom - 0.10 * wide), "the wrap, small", 0, 2.6))
    return [Area("waste", (*line, (left + wide, top), (left, top)))], strokes, texts


def _laid(points: tuple[Point, ...]) -> tuple[Point, ...]:
    """Return points of an upright pipe, its top line at the right, with the pipe lying, its top line on top."""
    return tuple((y, x) for x, y in points)


def plane_picture(name: str, half_mm: float, tilt: float, cut: Cut, given: Given, other: str, words: str) -> Drawing:
    """Return a pipe lying with its top line on top, what its end meets (``pipe``, ``plate`` or ``none``), and the wrap.

    The pipe is cut along a plane ``tilt`` [rad] off square.
    """
    r, t = half_mm, math.tan(tilt)
    long = abs(r * t) + 2.0 * r
    pipe = ((-r, -long), (r, -long), (r, r * t), (-r, -r * t))
    areas = [Area("metal", _laid(pipe))]
    strokes = [Stroke("centre", ((-long - 0.3 * r, 0.0), (0.3 * r, 0.0)))]
    texts = [Text((-long + 0.5 * r, 0.62 * r), "1"), Text((-long + 0.5 * r, -0.62 * r), str(cut.quarter(2)))]
    c, s = math.cos(tilt), math.sin(tilt)
    if other == "pipe":
        areas.append(Area("metal", _laid(tuple(_mirror(p, tilt) for p in pipe))))
        far = _mirror((0.0, -long - 0.3 * r), tilt)
        strokes.append(Stroke("centre", ((0.0, 0.0), (far[1], far[0]))))
        texts.append(Text((-r * t - 1.3 * r * s - 0.9 * r, -r - 0.9 * r * c), words))
    elif other == "plate":
        wide, thick = 2.0 * r + abs(r * t), 0.4 * r
        plate = ((-wide * c, -wide * s), (wide * c, wide * s))
        back = tuple((x - thick * s, y + thick * c) for x, y in plate[::-1])
        areas.append(Area("metal", _laid((*plate, *back))))
        half = (math.pi / 2 - tilt) / 2  # half the angle under the pipe
        texts.append(Text((-r * t - 1.5 * r * math.cos(half), -r - 1.5 * r * math.sin(half)), words))
    else:
        areas.append(Area("waste", ((0.0, -r), (1.2 * r, -r), (1.2 * r, r), (0.0, r))))
    strokes.append(Stroke("cut", _laid(((-r, -r * t), (r, r * t)))))
    dims = [Dim((-long, -r), (-long, r), given.show(2 * r), 0.5 * r)]
    if t > 0.65:  # narrower than that its words would run into the other piece
        dims.append(Dim((-r * t, r), (r * t, r), given.show(2 * r * t), 0.6 * r))
        strokes.append(Stroke("hidden", ((-r * t, -r), (-r * t, 1.6 * r))))
    right = max(p[0] for a in areas for p in a.points) + 0.9 * r
    low, high = min(p[1] for a in areas for p in a.points), max(p[1] for a in areas for p in a.points)
    more = development(cut, right, (low + high) / 2, 5.5 * r)
    return Drawing(name, (*areas, *more[0]), (*strokes, *more[1]), (*texts, *more[2]), tuple(dims))


def _mirror(p: Point, tilt: float) -> Point:
    c, s = math.cos(2 * tilt), math.sin(2 * tilt)
    return (c * p[0] + s * p[1], s * p[0] - c * p[1])


def saddle_picture(
    name: str, cut: Cut, given: Given, angle: float, offset: float, header: tuple[float, float], round_header: bool
) -> Drawing:
    """Return side view and end view of a branch on a header whose half width and half depth are ``header`` [mm]."""
    wide, deep = header
    outer = cut.case.dense
    reach = cut.line.reach
    r = float(max(abs(outer.x.max()), 1e-6))
    long = float(-reach.min()) + 2.4 * r
    c, s = math.cos(angle), math.sin(angle)

    def seen(x: Floats | float, u: Floats | float) -> tuple[Floats | float, Floats | float]:
        return (-x * s - u * c, x * c - u * s)  # u is + towards the header

    middle = outer.perimeter / 2
    side = [seen(float(outer.x[i]), float(reach[i])) for i in np.flatnonzero(outer.along <= middle + 1e-6)]
    back = [seen(float(outer.x[i]), float(reach[i])) for i in np.flatnonzero(outer.along >= middle - 1e-6)[::-1]]
    ends = (seen(-r, -long), seen(r, -long))
    hidden = tuple((float(a), float(b)) for a, b in side)  # the quarter mark's half lies behind
    line = tuple((float(a), float(b)) for a, b in back)
    branch = (*line, *((float(a), float(b)) for a, b in ends))
    left = min(p[0] for p in branch) - 0.6 * r
    right = max(p[0] for p in branch) + 0.6 * r
    low = min(left, -1.6 * r), max(right, 1.6 * r)
    body = ((low[0], -deep), (low[1], -deep), (low[1], deep), (low[0], deep))
    axis_top = seen(0.0, -long - 0.3 * r)
    areas = [Area("metal", body), Area("metal", branch)]
    strokes = [
        Stroke("centre", ((low[0] - 0.3 * r, 0.0), (low[1] + 0.3 * r, 0.0))),
        Stroke("centre", ((0.0, 0.0), (float(axis_top[0]), float(axis_top[1])))),
        Stroke("cut", line), Stroke("hidden", hidden),
    ]  # fmt: skip
    size = max(low[1] - low[0], deep + long) / 300
    texts = [
        _beside(seen(r * 0.6, -long + 0.5 * r), "1"),
        _beside(seen(-r * 0.6, -long + 0.5 * r), str(cut.quarter(2))),
        Text((0.55 * deep * math.cos(angle / 2), 0.55 * deep * math.sin(angle / 2)), f"{math.degrees(angle):g}°"),
    ]
    # end view, to the right of the side view
    gap = low[1] + 1.2 * max(wide, r) + wide + 60 * size
    mx = gap
    if round_header:
        ring = tuple((mx + wide * math.cos(k * math.pi / 48), wide * math.sin(k * math.pi / 48)) for k in range(96))
        areas.append(Area("metal", ring))
    else:
        areas.append(Area("metal", ((mx - wide, -deep), (mx + wide, -deep), (mx + wide, deep), (mx - wide, deep))))
    y = outer.y + offset
    top = deep + 2.0 * r
    order = sorted(range(len(y)), key=lambda i: float(y[i]))
    low_line: dict[float, float] = {}
    for i in order:
        key, z = round(float(y[i]), 3), float(outer.x[i]) * c - float(reach[i]) * s
        low_line[key] = min(low_line.get(key, z), z)
    # the end view looks along the header, the way the branch leans: the quarter mark is on the left
    edge = [(mx - k, z) for k, z in sorted(low_line.items())]
    areas.append(Area("metal", (*edge, (edge[-1][0], top), (edge[0][0], top))))
    strokes += [Stroke("cut", tuple(edge)), Stroke("centre", ((mx, -deep - 0.2 * deep), (mx, top + 0.2 * r)))]
    if abs(offset) > 0:
        strokes.append(Stroke("centre", ((mx - offset, 0.0), (mx - offset, top + 0.2 * r))))
    quarter = str(cut.quarter(1))
    texts += [
        Text((edge[-1][0] + 0.35 * (edge[0][0] - edge[-1][0]) / 2, top - 0.5 * r), quarter),
        Text(((low[0] + low[1]) / 2, -deep - 18 * size), "from the side"),
        Text((mx, -deep - 18 * size - 0.2 * deep), "along the header"),
    ]
    dims = [
        Dim((low[0], -deep), (low[0], deep), given.show(2 * deep), 14 * size),
        Dim((edge[-1][0], top), (edge[0][0], top), given.show(abs(edge[0][0] - edge[-1][0])), 14 * size),
    ]
    if abs(offset) > 0:
        dims.append(Dim((mx - max(offset, 0.0), -deep), (mx - min(offset, 0.0), -deep), given.show(abs(offset)), 0.0))
    return Drawing(name, tuple(areas), tuple(strokes), tuple(texts), tuple(dims))


def _beside(at: tuple[Floats | float, Floats | float], words: str) -> Text:
    return Text((float(at[0]), float(at[1])), words)
