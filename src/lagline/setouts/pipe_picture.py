"""The joint seen from the side: pipes, cut line, angle, and the quarter marks."""

from __future__ import annotations

import math

from lagline.records.geometry import Point
from lagline.records.setout import Area, Dim, Drawing, Stroke, Text
from lagline.setouts.ask import Given
from lagline.setouts.pipe_cut import Cut
from lagline.shapes.pipe_ring import Floats


def _turned(points: tuple[Point, ...], angle: float, at: Point = (0.0, 0.0)) -> tuple[Point, ...]:
    c, s = math.cos(angle), math.sin(angle)
    return tuple((at[0] + c * x - s * y, at[1] + s * x + c * y) for x, y in points)


def plane_picture(name: str, half_mm: float, tilt: float, given: Given, other: str, turn_words: str) -> Drawing:
    """Return a pipe standing upright, its top line at the right, and what its end meets: ``pipe``, ``plate``, ``none``.

    The pipe is cut along a plane ``tilt`` [rad] off square.
    """
    r, t = half_mm, math.tan(tilt)
    long = max(3.2 * r, abs(r * t) + 2.2 * r)
    pipe = ((-r, -long), (r, -long), (r, r * t), (-r, -r * t))
    areas = [Area("metal", pipe)]
    strokes = [Stroke("centre", ((0.0, -long - 0.4 * r), (0.0, 0.0)))]
    texts = [Text((0.55 * r, -long + 0.9 * r), "1"), Text((-0.55 * r, -long + 0.9 * r), "half way")]
    if other == "pipe":
        direction = math.pi / 2 + 2 * tilt  # the other pipe is this one seen in the plane of the cut
        mirrored = tuple(_mirror(p, tilt) for p in pipe)
        areas.append(Area("metal", mirrored))
        far = ((long + 0.4 * r) * math.cos(direction), (long + 0.4 * r) * math.sin(direction))
        strokes += [Stroke("centre", ((0.0, 0.0), far)), Stroke("hidden", ((0.0, 0.0), (0.0, 2.2 * r)))]
        at = math.pi / 2 + tilt
        texts.append(Text((2.9 * r * math.cos(at - 2.2 * tilt), 2.6 * r), turn_words))
    elif other == "plate":
        wide, thick = 2.4 * r, 0.45 * r
        c, s = math.cos(tilt), math.sin(tilt)
        a, b = (-wide * c, -wide * s), (wide * c, wide * s)
        areas.append(Area("guide", (a, b, (b[0] - thick * s, b[1] + thick * c), (a[0] - thick * s, a[1] + thick * c))))
        texts.append(Text((-1.9 * r, 1.9 * r + thick), turn_words))
    strokes.append(Stroke("cut", ((-r, -r * t), (r, r * t))))
    dims = [Dim((-r, -long), (r, -long), given.show(2 * r), -0.9 * r)]
    if r * t > 0.05 * r:
        dims.append(Dim((r, -r * t), (r, r * t), given.show(2 * r * t), -1.1 * r))
        strokes.append(Stroke("hidden", ((-r, -r * t), (2.1 * r, -r * t))))
    return Drawing(name, tuple(areas), tuple(strokes), tuple(texts), tuple(dims))


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

    half = len(outer.x) // 2 + 1
    side = [seen(float(outer.x[i]), float(reach[i])) for i in range(half)]
    back = [seen(float(outer.x[-1 - i]), float(reach[-1 - i])) for i in range(half)]
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
        _beside(seen(-r * 0.6, -long + 0.5 * r), str(len(cut.case.places) // 2 + 1)),
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
    quarter = str(len(cut.case.places) // 4 + 1)
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
