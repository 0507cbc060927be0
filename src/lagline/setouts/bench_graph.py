"""A curve against time or current on a set-out's picture: a frame, limits as dashed lines with their words."""

from __future__ import annotations

import math

from lagline.records.geometry import Point
from lagline.records.setout import Area, Drawing, Stroke, Text

WIDE, TALL, APART = 200.0, 90.0, 11.0


def _step(most: float) -> float:
    """A round step that gives four to ten marks."""
    rough = most / 6
    ten = 10.0 ** math.floor(math.log10(rough))
    return next(ten * k for k in (1, 2, 2.5, 5, 10) if ten * k >= rough - 1e-12)


def graph(
    name: str,
    curve: tuple[Point, ...],
    limits: tuple[tuple[float, str], ...],
    x: tuple[float, str],
    y: tuple[float, float, str],
    bands: tuple[tuple[float, float], ...] = (),
) -> Drawing:
    """Return the picture.

    Parameters: points of the curve; limits (level, words); x (largest, words); y (least, largest, words); bands
    (from, to) along x shown hatched, as when the arc burns.
    """
    x_most, (y_least, y_most) = max(x[0], 1e-9), y[:2]

    def at(px: float, py: float) -> Point:
        up = (min(max(py, y_least), y_most) - y_least) / (y_most - y_least)
        return px / x_most * WIDE, up * TALL

    frame = ((0.0, 0.0), (WIDE, 0.0), (WIDE, TALL), (0.0, TALL))
    areas = tuple(
        Area("waste", (at(a, y_least), at(b, y_least), (at(b, 0)[0], 6.0), (at(a, 0)[0], 6.0))) for a, b in bands
    )
    strokes = [Stroke("edge", frame, closed=True), Stroke("cut", tuple(at(*p) for p in curve))]
    strokes += [Stroke("edge", a.points, closed=True) for a in areas]
    texts = [
        Text((WIDE / 2, -19.0), x[1], 0.0, 3.0),
        Text((-24.0, TALL / 2), y[2], 90.0, 3.0),
    ]
    step = _step(x_most)
    for k in range(int(x_most / step + 1e-9) + 1):
        px = at(k * step, 0)[0]
        strokes.append(Stroke("mark", ((px, 0.0), (px, -2.5))))
        texts.append(Text((px, -8.0), f"{k * step:g}", 0.0, 3.0))
    step = _step(y_most - y_least)
    first = math.ceil(y_least / step - 1e-9)
    for k in range(first, int(y_most / step + 1e-9) + 1):
        py = at(0, k * step)[1]
        strokes.append(Stroke("mark", ((0.0, py), (-2.5, py))))
        texts.append(Text((-11.0, py), f"{k * step:g}", 0.0, 3.0))
    below = -math.inf
    for level, words in sorted(limits):
        py = at(0, level)[1]
        strokes.append(Stroke("hidden", (at(0, level), at(x_most, level))))
        put = max(py, below + APART)
        texts.append(Text((WIDE + 9 + 1.8 * len(words), put), words, 0.0, 3.0))
        below = put
    return Drawing(name, areas, tuple(strokes), tuple(texts))
