"""Drawings of set-outs as SVG: the picture that explains, fitted to its place, and one tile of a full-scale sheet."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable
from dataclasses import dataclass
from xml.sax.saxutils import escape

import shapely
from shapely.geometry import LineString, Polygon, box

from lagline.cards.scene import hatch_lines
from lagline.cards.svg import PAPER, SCREEN, Box, Ink, Sheet, area_data, line_data, num, xy
from lagline.cards.widths import text_width
from lagline.records.geometry import Point
from lagline.records.setout import Area, Dim, Drawing, Stroke, Text

PICTURE_WIDTH = 360.0  # a picture is drawn on a field so wide, its words sized to be read on a phone
TEXT = 10.5
FIELD = 300.0  # the drawing itself is scaled to this


@dataclass(frozen=True, slots=True)
class _Style:
    """Width [mm on paper, times ``_Pen.width`` on a picture], dash pattern, and colour by the ink's name."""

    width: float
    dash: tuple[float, ...]
    colour: str


STYLES = {
    "cut": _Style(0.5, (), "cut"),
    "edge": _Style(0.35, (), "line"),
    "mark": _Style(0.18, (), "line"),
    "guide": _Style(0.35, (), "guide"),
    "hidden": _Style(0.2, (2.0, 1.2), "hatch"),
    "centre": _Style(0.15, (6.0, 1.2, 1.2, 1.2), "hatch"),
    "fold": _Style(0.2, (1.2, 1.2), "hatch"),
}


@dataclass(frozen=True, slots=True)
class _Pen:
    """How a drawing is put down: colours, what a paper millimetre is here, the height of a line of words."""

    ink: Ink
    width: float
    text: float  # font size for a text of 3 mm


def _halo(sheet: Sheet, pen: _Pen, t: Text, size: float) -> None:
    """Write words turned about their middle, with ground round the letters so that lines under them do not strike."""
    x, y = xy(t.at).split(" ")
    turn = f' transform="rotate({num(-t.turn_deg)} {x} {y})"' if t.turn_deg else ""
    low = num(float(y) + 0.36 * size)
    sheet.raw(
        f'<text class="ll-words" x="{x}" y="{low}" font-size="{num(size)}" fill="{pen.ink.text}" text-anchor="middle" '
        f'paint-order="stroke" stroke="{pen.ink.ground}" stroke-width="{num(size * 0.28)}"{turn}>'
        f"{escape(t.text)}</text>"
    )


def _stroke(sheet: Sheet, pen: _Pen, s: Stroke, window: Polygon | None) -> None:
    style = STYLES[s.kind]
    points = (*s.points, s.points[0]) if s.closed else s.points
    line = LineString(points)
    if window is not None:
        line = line.intersection(window)
    more = {"stroke_dasharray": " ".join(num(d * pen.width) for d in style.dash)} if style.dash else {}
    data = "".join(
        "M" + "L".join(f"{x:.4f} {-y:.4f}" for x, y in g.coords)
        for g in shapely.get_parts(shapely.line_merge(line))
        if isinstance(g, LineString) and g.length > 1e-6
    )
    sheet.stroke(data, s.kind, getattr(pen.ink, style.colour), style.width * pen.width, **more)


def _area(sheet: Sheet, pen: _Pen, a: Area, window: Polygon | None) -> None:
    shape = Polygon(a.points, a.holes)
    if not shape.is_valid:
        shape = shapely.make_valid(shape, method="structure")
    if window is not None:
        shape = shape.intersection(window)
    if shape.is_empty:
        return
    fill = {"metal": pen.ink.kept, "waste": pen.ink.plate, "guide": pen.ink.guide_face, "weld": pen.ink.hatch}
    sheet.path(area_data(shape), a.kind, fill=fill.get(a.kind, "none"), fill_rule="evenodd")
    if a.kind == "waste":
        lines = hatch_lines(shape, 3.2 * pen.width)
        sheet.stroke(line_data(lines), "hatch", pen.ink.hatch, 0.2 * pen.width)
    if a.kind in ("metal", "guide", "weld") and window is None:
        colour = pen.ink.guide if a.kind == "guide" else pen.ink.line
        sheet.stroke(area_data(shape), f"{a.kind}-edge", colour, 0.25 * pen.width)


def _dim(d: Dim, pen: _Pen) -> tuple[tuple[Stroke, ...], Text]:
    """Return the lines of a dimension and its words: on the line where they fit, else beyond its end b."""
    length = math.dist(d.a, d.b)
    ux, uy = ((d.b[0] - d.a[0]) / length, (d.b[1] - d.a[1]) / length) if length else (1.0, 0.0)
    nx, ny = -uy, ux
    a = (d.a[0] + d.off_mm * nx, d.a[1] + d.off_mm * ny)
    b = (d.b[0] + d.off_mm * nx, d.b[1] + d.off_mm * ny)
    tick = 0.35 * pen.text
    size = pen.text * 0.95
    wide = text_width(d.text, size, bold=False)
    inside = wide + 0.6 * size < length
    strokes: list[Stroke] = []
    if inside:
        room = (length - wide) / 2 - 0.2 * size
        for p, way in ((a, 1.0), (b, -1.0)):
            strokes.append(Stroke("mark", (p, (p[0] + way * room * ux, p[1] + way * room * uy))))
    else:
        strokes.append(Stroke("mark", (a, b)))
    if abs(d.off_mm) > tick:
        past = math.copysign(tick, d.off_mm)
        for p, q in ((d.a, a), (d.b, b)):
            strokes.append(Stroke("mark", (p, (q[0] + past * nx, q[1] + past * ny))))
    for p in (a, b):  # slanted ticks, as on a shop drawing
        sx, sy = (ux + nx) * tick / 1.6, (uy + ny) * tick / 1.6
        strokes.append(Stroke("edge", ((p[0] - sx, p[1] - sy), (p[0] + sx, p[1] + sy))))
    turn = math.degrees(math.atan2(uy, ux))
    turn = turn - 180 if turn > 90 + 1e-9 else turn + 180 if turn <= -90 + 1e-9 else turn
    if inside:
        at = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    else:
        beyond = 0.8 * size + wide / 2
        at = (b[0] + beyond * ux, b[1] + beyond * uy)
        strokes.append(Stroke("mark", (b, (b[0] + 0.6 * size * ux, b[1] + 0.6 * size * uy))))
    return tuple(strokes), Text(at, d.text, turn, 2.85)


def _put(sheet: Sheet, pen: _Pen, drawing: Drawing, window: Polygon | None) -> None:
    for a in drawing.areas:
        _area(sheet, pen, a, window)
    for s in drawing.strokes:
        _stroke(sheet, pen, s, window)
    words: list[Text] = list(drawing.texts)
    for d in drawing.dims:
        strokes, text = _dim(d, pen)
        for s in strokes:
            _stroke(sheet, pen, s, window)
        words.append(text)
    for t in words:
        if window is None or window.contains(shapely.Point(t.at)):
            _halo(sheet, pen, t, pen.text * t.size_mm / 3.0)


def _scaled(drawing: Drawing) -> Drawing:
    """Return the drawing moved and scaled so that its greater side is ``FIELD``."""
    left, bottom, right, top = drawing.bounds
    f = FIELD / max(right - left, (top - bottom) * 1.25, 1e-9)

    def at(p: Point) -> Point:
        return ((p[0] - left) * f, (p[1] - bottom) * f)

    def all_at(ps: Iterable[Point]) -> tuple[Point, ...]:
        return tuple(at(p) for p in ps)

    return Drawing(
        drawing.name,
        tuple(Area(a.kind, all_at(a.points), tuple(all_at(h) for h in a.holes)) for a in drawing.areas),
        tuple(Stroke(s.kind, all_at(s.points), s.closed) for s in drawing.strokes),
        tuple(Text(at(t.at), t.text, t.turn_deg, t.size_mm) for t in drawing.texts),
        tuple(Dim(at(d.a), at(d.b), d.text, d.off_mm * f) for d in drawing.dims),
    )


def _extent(drawing: Drawing, pen: _Pen) -> Box:
    """Return what a drawing takes, words and dimensions included."""
    boxes = [drawing.bounds]
    words = list(drawing.texts)
    for d in drawing.dims:
        strokes, text = _dim(d, pen)
        words.append(text)
        boxes += [(*map(min, zip(*s.points, strict=True)), *map(max, zip(*s.points, strict=True))) for s in strokes]  # type: ignore[misc]
    for t in words:
        size = pen.text * t.size_mm / 3.0
        w, h = text_width(t.text, size, bold=False) / 2, 0.6 * size
        c, s = abs(math.cos(math.radians(t.turn_deg))), abs(math.sin(math.radians(t.turn_deg)))
        dx, dy = w * c + h * s, w * s + h * c
        boxes.append((t.at[0] - dx, t.at[1] - dy, t.at[0] + dx, t.at[1] + dy))
    lows, highs = list(zip(*boxes, strict=True))[:2], list(zip(*boxes, strict=True))[2:]
    return min(lows[0]), min(lows[1]), max(highs[0]), max(highs[1])


def picture_svg(drawing: Drawing, *, paper: bool = False) -> str:
    """Return the picture of a set-out, scaled to its field; black on white with ``paper``."""
    pen = _Pen(PAPER if paper else SCREEN, 2.4, TEXT)
    small = _scaled(drawing)
    left, bottom, right, top = _extent(small, pen)
    sheet = Sheet((left - 8, bottom - 8, right + 8, top + 8), pen.ink, drawing.name, drawing.name)
    _put(sheet, pen, small, None)
    return sheet.finish()


def tile_svg(drawing: Drawing, window: Box) -> str:
    """Return what of a full-scale sheet lies in a window [mm], on white, at full size and nothing beyond it."""
    size = (window[2] - window[0], window[3] - window[1])
    pen = _Pen(PAPER, 1.0, 4.3)
    sheet = Sheet(window, pen.ink, drawing.name, drawing.name, size)
    _put(sheet, pen, drawing, box(*window))
    return sheet.finish()


def sheet_extent(drawing: Drawing) -> Box:
    """Return what a full-scale sheet takes with its words [mm]."""
    return _extent(drawing, _Pen(PAPER, 1.0, 4.3))


def overlaps(drawing: Drawing, *, full_scale: bool = False) -> tuple[tuple[str, str], ...]:
    """Return the pairs of words that lie on each other: none on a drawing fit for the bench."""
    pen = _Pen(PAPER, 1.0, 4.3) if full_scale else _Pen(SCREEN, 2.4, TEXT)
    d = drawing if full_scale else _scaled(drawing)
    words = [*d.texts, *(_dim(x, pen)[1] for x in d.dims)]
    shapes = []
    for t in words:
        size = pen.text * t.size_mm / 3.0
        w, h = text_width(t.text, size, bold=False) / 2, 0.36 * size
        flat = box(t.at[0] - w, t.at[1] - h, t.at[0] + w, t.at[1] + h)
        shapes.append(shapely.affinity.rotate(flat, t.turn_deg, origin=t.at))
    return tuple(
        (words[i].text, words[j].text)
        for i, j in itertools.combinations(range(len(words)), 2)
        if shapes[i].intersects(shapes[j])
    )
