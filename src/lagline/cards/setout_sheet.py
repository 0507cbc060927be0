"""A set-out on paper: answers, steps and picture, then every drawing at full scale, cut to tiles or on a roll."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

from lagline import __version__
from lagline.cards import setout_words as words
from lagline.cards.setout_picture import picture_svg, sheet_extent, tile_svg
from lagline.cards.svg import Box
from lagline.cards.templates import BAR_IN_MM, BAR_MM, EDGE_MM, FOOT_MM, OVERLAP_MM, tiles, unscaled
from lagline.cards.typeset import page, to_pdf
from lagline.cards.widths import fitted
from lagline.records.finding import Severity
from lagline.records.geometry import Point
from lagline.records.setout import Area, Dim, Drawing, Number, SetOut, Stroke, Text

ROLL_MM = 609.6  # the usual roll of a 24 in plotter
LONGEST_ROLL_MM = 4800.0  # a PDF page ends at 200 in
PICTURE_HIGH_MM = 92.0
BARS_FRAME_MM = BAR_IN_MM + 12.0  # what a sheet needs in height for its upright bars


def _turned(d: Drawing) -> Drawing:
    """Return the drawing a quarter turn anticlockwise."""

    def at(p: Point) -> Point:
        return (-p[1], p[0])

    def all_at(ps: tuple[Point, ...]) -> tuple[Point, ...]:
        return tuple(map(at, ps))

    return replace(
        d,
        areas=tuple(Area(a.kind, all_at(a.points), tuple(map(all_at, a.holes))) for a in d.areas),
        strokes=tuple(Stroke(s.kind, all_at(s.points), s.closed) for s in d.strokes),
        texts=tuple(Text(at(t.at), t.text, t.turn_deg + 90, t.size_mm) for t in d.texts),
        dims=tuple(Dim(at(x.a), at(x.b), x.text, x.off_mm) for x in d.dims),
    )


def _size(box: Box) -> tuple[float, float]:
    return box[2] - box[0], box[3] - box[1]


def _paper_of(size: tuple[float, float], paper: str) -> tuple[float, float]:
    """Return the page for a drawing of that size [mm]: the sheet, or the roll cut off where the drawing ends."""
    if paper != "roll":
        return page(paper)
    length = min(LONGEST_ROLL_MM, max(size[1] + 6.0, BARS_FRAME_MM) + 2 * EDGE_MM + FOOT_MM)
    return ROLL_MM, length


def _frame(paper_mm: tuple[float, float]) -> tuple[float, float]:
    return paper_mm[0] - 2 * EDGE_MM, paper_mm[1] - 2 * EDGE_MM - FOOT_MM


def tiled(drawing: Drawing, paper: str) -> list[dict[str, Any]]:
    """Return the pages of one drawing at full scale: ``page``, ``frame``, ``at`` (its lower left on the drawing) [mm],
    and the picture of what lies in the frame. Turned a quarter when that takes fewer pages."""
    best: tuple[int, Drawing, tuple[float, float]] | None = None
    for way in (drawing, _turned(drawing)):
        size = _size(sheet_extent(way))
        paper_mm = _paper_of(size, paper)
        n = len(tiles(size, _frame(paper_mm)))
        if best is None or n < best[0]:
            best = n, way, paper_mm
    assert best is not None
    _, way, paper_mm = best
    extent, frame = sheet_extent(way), _frame(paper_mm)
    here = tiles(_size(extent), frame)
    rows, columns = max(r for r, _, _ in here), max(c for _, c, _ in here)
    out = []
    for r, c, at in here:
        left, bottom = extent[0] + at[0], extent[1] + at[1]
        where = f", row {r} of {rows} from the bottom, column {c} of {columns} from the left" if len(here) > 1 else ""
        out.append(
            {
                "name": drawing.name + where,
                "label": list(drawing.label),
                "page": list(paper_mm),
                "frame": list(frame),
                "at": [left, bottom],
                "svg": tile_svg(way, (left, bottom, left + frame[0], bottom + frame[1])),
                "joins": {"left": c > 1, "right": c < columns, "bottom": r > 1, "top": r < rows},
                "bars-at": 10.0 if frame[1] > BARS_FRAME_MM + 10 else max(2.0, frame[1] - BAR_IN_MM - 4),
            }
        )
    return out


def _numbers(numbers: list[Number], units: str, room_mm: float) -> list[dict[str, Any]]:
    out = []
    for n in numbers:
        f = n.figure
        shown = words.shown(f.value, f.unit, units)
        more = [x for x in (words.also(f.value, f.unit, units), words.spread(f, units)) if x]
        pt = fitted(shown, room_mm * 72 / 25.4, 24, 9)
        out.append({"words": n.words, "shown": shown, "also": "; ".join(more), "pt": math.floor(pt * 10) / 10})
    return out


def _share(svg: str | None, room_mm: float) -> float:
    """Return how much of the page's width a picture takes: it leaves the page room for words."""
    if svg is None:
        return 0.0
    _, _, w, h = map(float, svg.split('viewBox="')[1].split('"')[0].split())
    return min(0.9, PICTURE_HIGH_MM * w / h / room_mm)


def sheet_data(s: SetOut, units: str, paper: str) -> dict[str, Any]:
    """Return a set-out's pages as plain numbers and text."""
    width, height = page("letter" if paper == "roll" else paper)
    main = [n for n in s.numbers if n.main]
    across = min(3, max(1, len(main)))
    sources: dict[str, list[str]] = {}
    for n in s.numbers:
        sources.setdefault(n.figure.source, []).append(n.words.split(",")[0].split(":")[0])
    loud = [f for f in s.findings if f.severity is not Severity.NOTE]
    svg = picture_svg(s.picture, paper=True) if s.picture is not None else None
    return {
        "title": s.title,
        "kind": s.kind,
        "version": __version__,
        "page": [width, height],
        "edge": EDGE_MM,
        "overlap": OVERLAP_MM,
        "bars": [BAR_MM, BAR_IN_MM],
        "main": _numbers(main, units, (width - 22) / across - 8),
        "others": _numbers([n for n in s.numbers if not n.main], units, 60),
        "given": [[w, v] for _, w, v in s.given],
        "steps": list(s.steps),
        "cautions": [[str(f.severity), f.message, f.allowed] for f in loud],
        "tables": [
            {
                "title": t.title,
                "heads": [words.head(c, units) for c in t.columns],
                "rows": [list(r) for r in words.rows(t, units)],
                "words": [i == 0 or any(isinstance(r[i], str) for r in t.rows) for i in range(len(t.columns))],
                "note": t.note,
            }
            for t in s.tables
        ],
        "sources": [[", ".join(dict.fromkeys(names)), source] for source, names in sources.items()],
        "svg": svg,
        "wide": _share(svg, width - 22),
        "sheets": [tile for drawing in s.sheets for tile in tiled(drawing, paper)],
    }


def pdf(s: SetOut, units: str, paper: str) -> bytes:
    """Return a set-out as PDF, marked not to be scaled by the printer; ``paper`` is letter, a4 or roll."""
    return unscaled(to_pdf("setout.typ", sheet_data(s, units, paper)))
