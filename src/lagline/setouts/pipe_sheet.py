"""The wrap at full scale: cut line, marks, quarter lines, base line, overlap and check length."""

from __future__ import annotations

from lagline.records.geometry import Point
from lagline.records.setout import Area, Dim, Drawing, Stroke, Text
from lagline.setouts.ask import Given
from lagline.setouts.pipe_cut import Cut
from lagline.shapes.pipe_ring import Floats

FLAP_MM = 25.0
FOOT_MM = 32.0  # paper below the lowest of the line: mark numbers and quarter names stand there


def _points(xs: Floats, ys: Floats) -> tuple[Point, ...]:
    return tuple((round(float(x), 4), round(float(y), 4)) for x, y in zip(xs, ys, strict=True))


def _flap(wrap: float, low: float, high: float) -> tuple[Stroke, Text]:
    shape = ((wrap, low), (wrap + FLAP_MM, low + 4), (wrap + FLAP_MM, high - 4), (wrap, high))
    words = "flap, under mark 1" if high - low > 55 else "flap"
    return Stroke("fold", shape), Text((wrap + FLAP_MM * 0.6, (low + high) / 2), words, 90, 3.0)


def check_words(mm: float, given: Given) -> str:
    """What a check length on the paper has to measure."""
    return f"check {mm:.1f} mm" + (f", {given.show(mm)}" if given.units == "in" else "")


def wrap_words(cut: Cut, given: Given) -> str:
    """How long the wrap is."""
    return f"wrap {cut.wrap:.1f} mm{f', {given.show(cut.wrap)},' if given.units == 'in' else ''} long"


def _quarters(cut: Cut, names: tuple[str, ...]) -> list[tuple[float, str]]:
    """Return where the quarter lines lie along the wrap, and what they are called; the first comes again."""
    return [(k * cut.wrap / 4, name) for k, name in enumerate((*names, names[0]))]


def _legible(spacing: float) -> float:
    return max(1.2, min(3.0, 0.36 * spacing))


def _numbers(cut: Cut, y: float) -> list[Text]:
    xs = [float(v) * cut.stretch for v in cut.case.marks.along]
    size = _legible(min(b - a for a, b in zip(xs, [*xs[1:], cut.wrap], strict=True)))
    words = [Text((x, y), str(i + 1), 0, size) for i, x in enumerate(xs)]
    return [*words, Text((cut.wrap, y), "1", 0, size)]


def wrap_sheet(
    cut: Cut, given: Given, name: str, label: tuple[str, ...], quarters: tuple[str, ...],
    folds: tuple[float, ...] = (),
) -> Drawing:  # fmt: skip
    """Return the wrap of one end; ``quarters`` names the four quarter lines from mark 1 on, ``folds`` are lines of the
    tube's edges along the outside [mm]."""
    wrap, end = cut.wrap, cut.end
    low = min(0.0, float(cut.curve.min())) - FOOT_MM
    xs = cut.case.dense.along * cut.stretch
    line = _points(xs, cut.curve)
    waste = (*line, (wrap, end), (0.0, end))
    strokes = [Stroke("cut", line), Stroke("edge", ((0.0, 0.0), (wrap, 0.0))),
               Stroke("edge", ((0.0, low), (wrap, low), (wrap, end), (0.0, end)), True)]  # fmt: skip
    marks = [float(v) * cut.stretch for v in cut.case.marks.along]
    for x, y in zip([*marks, wrap], [*cut.ordinates, cut.ordinates[0]], strict=True):
        strokes.append(Stroke("mark", ((x, low + 15.5), (x, float(y) + 3))))
    texts = _numbers(cut, low + 12)
    quarter = [(x, word) for x, word in _quarters(cut, quarters)]
    room = _legible(wrap / 4 / max(len(w) for w in quarters) * 1.6)
    for x, word in quarter:
        strokes.append(Stroke("centre", ((x, low), (x, end))))
        texts.append(Text((x, low + 5.5), word, 0, room))
    strokes += [Stroke("hidden", ((x * cut.stretch, low), (x * cut.stretch, end))) for x in folds]
    flap, words = _flap(wrap, low, end)
    strokes.append(flap)
    texts += [words, *_regions(cut, marks, low)]
    dims = (
        Dim((0.0, low), (wrap, low), check_words(wrap, given), -8.0),
        Dim((0.0, 0.0), (0.0, end), given.show(end), 8.0),
    )
    return Drawing(
        name, (Area("paper", ((0.0, low), (wrap, low), (wrap, end), (0.0, end))), Area("waste", waste)),
        tuple(strokes), tuple(texts), dims, label,
    )  # fmt: skip


def _regions(cut: Cut, marks: list[float], low: float) -> list[Text]:
    """Name waste, kept pipe, base line and square end, where there is room for it."""
    wrap, end = cut.wrap, cut.end
    step = wrap / len(marks)
    inner = [(i, x) for i, x in enumerate(marks) if 0.2 * wrap < x < 0.8 * wrap]
    i, x = min(inner, key=lambda m: (round(float(cut.ordinates[m[0]]), 6), abs(m[1] - wrap / 2)))
    size = min(3.0, max(1.5, wrap / 60))
    texts = [Text((wrap / 2, end + 4), "square end of the pipe", 0, size)]
    room = end - float(cut.ordinates[i])
    if room > 9:
        texts.append(Text((x + step / 2, float(cut.ordinates[i]) + room * 0.62), "WASTE", 0, size))
    texts.append(Text((marks[1] + step / 2, low + 21), "keep", 0, size))
    far = max(range(len(marks)), key=lambda k: round(abs(float(cut.ordinates[k])), 6))
    clear = float(cut.curve.max() - cut.curve.min()) > 8
    at = (marks[far] + step / 2, 0.0) if clear and marks[far] < 0.8 * wrap else (wrap * 0.375, low + 26)
    texts.append(Text(at, "base line" if at[1] == 0.0 else "base line: the level line", 0, size))
    return texts


def piece_sheet(
    cut: Cut, given: Given, centre_mm: float, name: str, label: tuple[str, ...], quarters: tuple[str, ...]
) -> Drawing:
    """Return the wrap of a piece cut at both ends alike, its base line round the middle."""
    wrap = cut.wrap
    xs = cut.case.dense.along * cut.stretch
    up, down = centre_mm / 2 + cut.curve, -(centre_mm / 2 + cut.curve)
    high = float(up.max()) + 12
    strokes = [Stroke("cut", _points(xs, up)), Stroke("cut", _points(xs, down)),
               Stroke("edge", ((0.0, 0.0), (wrap, 0.0))),
               Stroke("edge", ((0.0, -high), (wrap, -high), (wrap, high), (0.0, high)), True)]  # fmt: skip
    marks = [*(float(v) * cut.stretch for v in cut.case.marks.along), wrap]
    for x, y in zip(marks, [*cut.ordinates, cut.ordinates[0]], strict=True):
        strokes.append(Stroke("mark", ((x, -(centre_mm / 2 + float(y)) - 3), (x, centre_mm / 2 + float(y) + 3))))
    quarter = _quarters(cut, quarters)
    room = _legible(wrap / 4 / max(len(w) for w in quarters) * 1.6)
    texts = [Text((x, high + 4), word, 0, room) for x, word in quarter]
    strokes += [Stroke("centre", ((x, -high), (x, high))) for x, _ in quarter]
    texts += _numbers(cut, -high - 4)
    flap, words = _flap(wrap, -high, high)
    areas = (
        Area("paper", ((0.0, -high), (wrap, -high), (wrap, high), (0.0, high))),
        Area("waste", (*_points(xs, up), (wrap, high), (0.0, high))),
        Area("waste", (*_points(xs, down), (wrap, -high), (0.0, -high))),
    )
    check = Dim((0.0, -high), (wrap, -high), check_words(wrap, given), -14.0)
    return Drawing(name, areas, (*strokes, flap), (*texts, words), (check,), label)
