"""Small charts as SVG: bands, lines told apart by their dashes and named where they end, points with whiskers.

Drawn 360 units wide, so that a phone shows the text at its true size; two colours and chalk, never a rainbow.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

from shapely import make_valid
from shapely.geometry import Polygon, box

from lagline.cards.svg import SCREEN, Ink, Sheet, area_data, num
from lagline.cards.widths import text_width

Pair = tuple[float, float]
WIDE = 360.0
TEXT, SMALL = 13.0, 12.0
_LEFT, _RIGHT, _TOP, _FOOT = 46.0, 92.0, 28.0, 46.0
_DASHES = {"best": "", "edge": "8 4", "limit": "2 4", "centre": "", "far": "14 3 2 3"}


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis: its ends, the values written on it with their text, and its name with the unit."""

    low: float
    high: float
    ticks: tuple[tuple[float, str], ...]
    name: str
    log: bool = False

    def share(self, v: float) -> float:
        """Return where a value lies, 0 at the low end, 1 at the high end."""
        if self.log:
            return math.log(v / self.low) / math.log(self.high / self.low)
        return (v - self.low) / (self.high - self.low)


@dataclass(frozen=True, slots=True)
class Curve:
    """A named line; ``kind`` is best, edge, limit, centre or far. Empty ``name``: not written."""

    name: str
    points: tuple[Pair, ...]
    kind: str = "edge"


@dataclass(frozen=True, slots=True)
class Band:
    """A shaded range between two chains of points with the same x; ``spread`` ones belong to the best line."""

    name: str
    low: tuple[Pair, ...]
    high: tuple[Pair, ...]
    spread: bool = False


@dataclass(frozen=True, slots=True)
class Dot:
    """A measured point with its whisker and a letter; ``odd`` ones are ringed, ``aside`` ones are hollow."""

    x: float
    y: float
    name: str
    low: float | None = None
    high: float | None = None
    odd: bool = False
    aside: bool = False
    mark: str = ""


def round_ticks(low: float, high: float, most: int = 6) -> tuple[float, ...]:
    """Return round values within a range, no more than ``most``."""
    if not high > low:
        raise ValueError(f"an axis needs room: {low} to {high}")
    step = 10.0 ** math.floor(math.log10((high - low) / most))
    step = next(s * step for s in (1, 2, 2.5, 5, 10, 20) if (high - low) / (s * step) <= most)
    first = math.ceil(low / step - 1e-9)
    return tuple(round(k * step, 10) for k in range(first, math.floor(high / step + 1e-9) + 1))


def axis(values: Iterable[float], name: str, *, least: float | None = None, most: int = 6) -> Axis:
    """Return a linear axis round some values with a little air, its ticks on round values."""
    seen = [v for v in values if math.isfinite(v)] or [0.0, 1.0]
    low, high = min(seen), max(seen)
    air = 0.08 * (high - low) or max(0.1 * abs(high), 0.1)
    low = max(low - air, least) if least is not None else low - air
    high += air
    return Axis(low, high, tuple((t, f"{t:g}") for t in round_ticks(low, high, most)), name)


def _clip(a: Pair, b: Pair, low: float, high: float) -> tuple[Pair, Pair] | None:
    """Return the stretch of a line with y in a range, None when it has none."""
    if a[1] == b[1]:
        return (a, b) if low <= a[1] <= high else None
    t = sorted(((low - a[1]) / (b[1] - a[1]), (high - a[1]) / (b[1] - a[1])))
    t0, t1 = max(0.0, t[0]), min(1.0, t[1])
    if t0 >= t1:
        return None

    def at(k: float) -> Pair:
        return a[0] + k * (b[0] - a[0]), a[1] + k * (b[1] - a[1])

    return at(t0), at(t1)


def spread_out(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Return places as near the wanted ones as may be, ``gap`` apart and within a range, in the same order."""
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    at = [min(max(wanted[i], low), high) for i in order]
    for k in range(1, len(at)):
        at[k] = max(at[k], at[k - 1] + gap)
    over = at[-1] - high if at else 0.0
    if over > 0:
        at[-1] = high
        for k in range(len(at) - 2, -1, -1):
            at[k] = min(at[k], at[k + 1] - gap)
    out = [0.0] * len(wanted)
    for place, i in zip(at, order, strict=True):
        out[i] = place
    return out


class _Plot:
    """The paper of one chart: values to places."""

    def __init__(self, x: Axis, y: Axis, tall: float, ink: Ink, title: str, desc: str) -> None:
        self.x, self.y, self.ink = x, y, ink
        self.sheet = Sheet((0, 0, WIDE, tall), ink, title, desc)
        self.left, self.right, self.low, self.top = _LEFT, WIDE - _RIGHT, _FOOT, tall - _TOP

    def at(self, p: Pair) -> Pair:
        return (
            self.left + self.x.share(p[0]) * (self.right - self.left),
            self.low + self.y.share(p[1]) * (self.top - self.low),
        )

    def word(self, text: str, at: Pair, size: float, colour: str, anchor: str, kind: str, bold: bool = False) -> None:
        more = ' font-weight="bold"' if bold else ""
        self.sheet.raw(
            f'<text class="ll-{kind}" x="{num(at[0])}" y="{num(0.36 * size - at[1])}" font-size="{num(size)}" '
            f'fill="{colour}" text-anchor="{anchor}"{more}>{escape(text)}</text>'
        )

    def frame(self) -> None:
        s, ink = self.sheet, self.ink
        grid = [((self.left, self.at((self.x.low, v))[1]), (self.right, self.at((self.x.low, v))[1]))
                for v, _ in self.y.ticks]  # fmt: skip
        for a, b in grid:
            s.polyline((a, b), "grid", ink.hatch, 0.5, stroke_opacity=0.5)
        s.polyline(((self.left, self.top), (self.left, self.low), (self.right, self.low)), "axis", ink.line, 1.2)
        for v, text in self.y.ticks:
            self.word(text, (self.left - 6, self.at((self.x.low, v))[1]), SMALL, ink.text, "end", "tick")
        free = -math.inf
        for v, text in self.x.ticks:
            x = self.at((v, self.y.low))[0]
            s.polyline(((x, self.low), (x, self.low - 5)), "axis", ink.line, 1.2)
            half = text_width(text, SMALL, bold=False) / 2
            if x - half > free + 4:
                self.word(text, (x, self.low - 14), SMALL, ink.text, "middle", "tick")
                free = x + half
        self.word(self.x.name, ((self.left + self.right) / 2, self.low - 33), TEXT, ink.text, "middle", "name")
        self.word(self.y.name, (6, self.top + 17), TEXT, ink.text, "start", "name")

    def inside(self, points: Sequence[Pair]) -> list[list[Pair]]:
        """Return the chain cut to the frame."""
        out: list[list[Pair]] = []
        placed = [self.at(p) for p in points]
        for a, b in itertools.pairwise(placed):
            turned = _clip((a[0], a[1]), (b[0], b[1]), self.low, self.top)
            if turned is None:
                continue
            turned2 = _clip((turned[0][1], turned[0][0]), (turned[1][1], turned[1][0]), self.left, self.right)
            if turned2 is None:
                continue
            p, q = (turned2[0][1], turned2[0][0]), (turned2[1][1], turned2[1][0])
            if out and math.dist(out[-1][-1], p) < 1e-6:
                out[-1].append(q)
            else:
                out.append([p, q])
        return out


def chart(
    x: Axis,
    y: Axis,
    *,
    title: str,
    desc: str,
    bands: Sequence[Band] = (),
    curves: Sequence[Curve] = (),
    dots: Sequence[Dot] = (),
    ink: Ink = SCREEN,
    tall: float = 330.0,
) -> str:
    """Return a chart as SVG; what lies outside the axes is not drawn."""
    p = _Plot(x, y, tall, ink, title, desc)
    names: list[tuple[str, Pair, str]] = []
    for band in bands:
        face, share = (ink.cut, 0.2) if band.spread else (ink.guide_face, 0.75)
        whole = make_valid(Polygon([p.at(q) for q in (*band.low, *reversed(band.high))]))
        seen = whole.intersection(box(p.left, p.low, p.right, p.top))
        p.sheet.path(area_data(seen), "band", fill=face, fill_opacity=share)
    p.frame()
    for band in (b for b in bands if b.name):
        top = p.at((x.low, min(band.high[0][1], y.high)))[1]
        for n, row in enumerate(_broken(band.name, 64)):
            p.word(row, (p.left + 5, top - SMALL * (0.85 + 1.12 * n)), SMALL, ink.guide, "start", "label")
    for c in curves:
        colour = {"best": ink.cut, "centre": ink.line}.get(c.kind, ink.line)
        wide = 2.6 if c.kind == "best" else 1.7
        chains = p.inside(c.points)
        for chain in chains:
            dash = {"stroke_dasharray": _DASHES[c.kind]} if _DASHES[c.kind] else {}
            p.sheet.polyline(chain, c.kind, colour, wide, **dash)
        if c.name and chains:
            names.append((c.name, chains[-1][-1], colour))
    _name(p, names)
    for d in dots:
        _dot(p, d)
    return p.sheet.finish()


def _name(p: _Plot, names: Sequence[tuple[str, Pair, str]]) -> None:
    """Write each name beside where its line ends, pushed apart, a thin line leading to it."""
    lines = [_broken(text, _RIGHT - 16) for text, _, _ in names]
    most = max((len(rows) for rows in lines), default=1)
    gap = SMALL * 1.12 * most + 4
    heights = spread_out([at[1] for _, at, _ in names], gap, p.low + gap / 2, p.top - 2)
    for (_, at, colour), rows, y in zip(names, lines, heights, strict=True):
        x = p.right + 12
        p.sheet.polyline((at, (p.right + 4, at[1]), (x - 2, y)) if at[0] >= p.right - 1 else (at, (x - 2, y)),
                         "lead", colour, 0.8)  # fmt: skip
        for k, row in enumerate(rows):
            p.word(row, (x, y + ((len(rows) - 1) / 2 - k) * SMALL * 1.12), SMALL, colour, "start", "label")


def _broken(text: str, width: float) -> list[str]:
    rows: list[str] = []
    for word in text.split(" "):
        if rows and text_width(f"{rows[-1]} {word}", SMALL, bold=False) <= width:
            rows[-1] += f" {word}"
        else:
            rows.append(word)
    return rows


def _dot(p: _Plot, d: Dot) -> None:
    ink = p.ink
    if not (p.x.low <= d.x <= p.x.high and p.y.low <= d.y <= p.y.high):
        return
    at = p.at((d.x, d.y))
    if d.low is not None and d.high is not None:
        ends = [p.at((d.x, min(max(v, p.y.low), p.y.high))) for v in (d.low, d.high)]
        p.sheet.polyline(ends, "whisker", ink.line, 1.4)
    face, edge = (ink.ground, ink.hatch) if d.aside else (ink.text, ink.ground)
    p.sheet.raw(f"<g><title>{escape(d.name)}</title>")
    p.sheet.dot(at, 4.6, "dot", fill=face, stroke=edge, stroke_width=1.5)
    if d.mark:
        p.word(d.mark, (at[0] + 9, at[1] + 1), TEXT, ink.text, "start", "mark", bold=True)
    if d.odd:
        p.sheet.dot(at, 9, "odd", fill="none", stroke=ink.cut, stroke_width=2)
    p.sheet.end()


@dataclass(frozen=True, slots=True)
class Span:
    """One 90 % range: best value and its ends, said in words."""

    value: float
    low: float
    high: float


def span_bars(before: Span | None, now: Span, unit: str, title: str, ink: Ink = SCREEN) -> str:
    """Return two bars over one scale: what was expected before, and what is known now."""
    pair = [s for s in (before, now) if s is not None]
    low, high = min(s.low for s in pair), max(s.high for s in pair)
    air = 0.06 * (high - low) or 0.1 * abs(high) or 1.0
    low, high = low - air, high + air
    left, right = 62.0, WIDE - 14.0
    tall = 34.0 + 26 * len(pair)
    s = Sheet((0, 0, WIDE, tall), ink, title, "Bars: nine times in ten the true value lies within.")

    def x(v: float) -> float:
        return left + (v - low) / (high - low) * (right - left)

    rows = [("before", before, ink.hatch, ink.line), ("now", now, ink.cut, ink.cut)]
    y = tall - 16
    for name, span, face, edge in rows:
        if span is None:
            continue
        s.raw(
            f'<text class="ll-label" x="4" y="{num(4.5 - y)}" font-size="{num(TEXT)}" fill="{ink.text}">{name}</text>'
        )
        a, b, m = x(span.low), x(span.high), x(span.value)
        s.polygon(((a, y - 6), (b, y - 6), (b, y + 6), (a, y + 6)), "span", face, fill_opacity=0.55, stroke=edge)
        s.polyline(((m, y - 10), (m, y + 10)), "best", ink.text, 3)
        y -= 26
    s.polyline(((left, 20), (right, 20)), "axis", ink.line, 1)
    for t in round_ticks(low, high, 4):
        s.polyline(((x(t), 20), (x(t), 16)), "axis", ink.line, 1)
        half = text_width(f"{t:g}", SMALL, bold=False) / 2
        s.text(f"{t:g}", (min(max(x(t), left + half), right - half), 8), SMALL, ink.text, "tick")
    s.raw(f'<text class="ll-tick" x="4" y="-4" font-size="{num(SMALL)}" fill="{ink.text}">{escape(unit)}</text>')
    return s.finish()
