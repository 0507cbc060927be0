"""Printed set-outs: measured from their PDF, whatever the paper; every example's words apart from each other."""

from __future__ import annotations

import io
import math
import re
from itertools import pairwise

import pdfplumber
import pytest
import shapely
from pypdf import PdfReader
from shapely.geometry import LineString, MultiLineString, Point

from lagline.cards import setout_sheet
from lagline.cards.setout_picture import overlaps, picture_svg
from lagline.cards.templates import EDGE_MM
from lagline.desk import setout_desk
from lagline.planning.kit_file import generic_kit
from lagline.records.setout import Dim, Drawing, SetOut, Stroke, Text
from lagline.setouts.ask import Ask
from lagline.setouts.families import FAMILIES, asks

PT_MM = 25.4 / 72
ALL = [a for name in FAMILIES for a in asks(name)]
KIT = (generic_kit(), ())


def example(ask: Ask, units: str = "in") -> SetOut:
    lengths = {f.name for f in ask.fields if f.kind == "length"}  # written by an inch shop
    texts = {k: v + '"' if k in lengths and v[-1].isdigit() else v for k, v in ask.example}
    return setout_desk.answer(ask.family, ask.name, texts, units=units, kit=KIT)


def printed(s: SetOut, paper: str) -> list[tuple[dict, list[LineString]]]:
    """Every full-scale page: what the sheet says of it, and every line on it in the drawing's own millimetres."""
    tiles = setout_sheet.sheet_data(s, "in", paper)["sheets"]
    out = []
    with pdfplumber.open(io.BytesIO(setout_sheet.pdf(s, "in", paper))) as pdf:
        for tile, page in zip(tiles, pdf.pages[-len(tiles) :], strict=True):
            assert float(page.width) * PT_MM == pytest.approx(tile["page"][0], abs=0.01)
            lines = []
            for o in (*page.lines, *page.curves, *page.rects):
                pts = [
                    (tile["at"][0] + x * PT_MM - EDGE_MM, tile["at"][1] + tile["frame"][1] - (y * PT_MM - EDGE_MM))
                    for x, y in o["pts"]
                ]
                if len(pts) > 1:
                    lines.append(LineString(pts))
            out.append((tile, lines))
    return out


def drawn(d: Drawing) -> MultiLineString:
    return MultiLineString([(*s.points, s.points[0]) if s.closed else s.points for s in d.strokes])


def length_of(points: tuple, lines: list[LineString]) -> float:
    """Length of what is printed of a line, however many pages it is on: its pieces laid along it, gaps left out."""
    line = LineString(points)
    lane = line.buffer(0.05)
    spans = sorted(
        (min(at), max(at)) for g in lines if lane.contains(g) for at in [[line.project(Point(p)) for p in g.coords]]
    )
    total, reached = 0.0, -1.0
    for a, b in spans:
        total += max(0.0, b - max(a, reached))
        reached = max(reached, b)
    return total


def one(drawing: Drawing) -> SetOut:
    return SetOut("test one", "a sheet", (), (), sheets=(drawing,))


RULED = Drawing(
    "ruled",
    strokes=(
        Stroke("cut", ((0, 0), (250, 0))),
        Stroke("mark", ((0, 5), (0, 255))),
        Stroke("edge", tuple((125 + 60 * math.cos(i / 40), 130 + 60 * math.sin(i / 40)) for i in range(200))),
    ),
    label=("two rulers and most of a circle",),
)


@pytest.mark.parametrize("paper", ["letter", "a4", "roll"])
def test_a_quarter_metre_is_a_quarter_metre_on_any_paper(paper: str):
    lines = [g for _, here in printed(one(RULED), paper) for g in here]
    for s in RULED.strokes:
        assert length_of(s.points, lines) == pytest.approx(LineString(s.points).length, abs=0.05)


def test_two_metres_of_tiles_put_together_by_their_marks_are_two_metres():
    strip = Drawing("strip", strokes=(Stroke("cut", ((0, 0), (2000, 35))), Stroke("edge", ((0, 40), (2000, 40)))))
    pages = printed(one(strip), "a4")
    assert len(pages) > 6
    inner = []
    for (left, mine), (right, theirs) in pairwise(pages):
        # the mark on the right join of one is the mark on the left join of the next
        step = right["at"][0] - left["at"][0], right["at"][1] - left["at"][1]
        assert sorted(map(abs, step))[0] == pytest.approx(0, abs=1e-9)
        inner.append(max(map(abs, step)))
        assert mine
        assert theirs
    assert len(set(inner)) == 1
    whole = shapely.unary_union([g for _, here in pages for g in here])
    across, up = whole.bounds[2] - whole.bounds[0], whole.bounds[3] - whole.bounds[1]
    assert max(across, up) >= 2000 - 0.2
    for s in strip.strokes:  # the slanted line too: nothing is lost or shifted at a join
        points = tuple((-y, x) for x, y in s.points) if up > across else s.points
        printed_mm = length_of(points, [g for _, here in pages for g in here])
        assert printed_mm == pytest.approx(LineString(points).length, abs=0.2)


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_bars_on_both_axes_and_no_scaling(paper: str):
    raw = setout_sheet.pdf(one(RULED), "in", paper)
    assert PdfReader(io.BytesIO(raw)).viewer_preferences.print_scaling == "/None"
    assert raw == setout_sheet.pdf(one(RULED), "in", paper)
    with pdfplumber.open(io.BytesIO(raw)) as pdf:
        page = pdf.pages[-1]
        sizes = [((o["x1"] - o["x0"]) * PT_MM, (o["bottom"] - o["top"]) * PT_MM) for o in (*page.lines, *page.curves)]
    for bar in (100.0, 101.6):
        assert sum(abs(w - bar) < 0.02 and h < 0.1 for w, h in sizes) == 1
        assert sum(abs(h - bar) < 0.02 and w < 0.1 for w, h in sizes) == 1


def test_words_that_lie_on_each_other_are_noticed():
    apart = Drawing("x", strokes=(Stroke("cut", ((0, 0), (100, 0))),), texts=(Text((20, 20), "one"),))
    assert not overlaps(apart)
    on = Drawing("x", strokes=apart.strokes, texts=(Text((20, 20), "one"), Text((24, 20), "two")))
    assert overlaps(on) == (("one", "two"),)
    dims = Drawing(
        "x", strokes=apart.strokes, dims=(Dim((0, 10), (10, 10), "a long one"), Dim((10, 10), (20, 10), "b"))
    )
    assert overlaps(dims)


@pytest.mark.parametrize("ask", ALL, ids=lambda a: a.kind)
def test_an_example_is_drawn_with_its_words_apart_and_inside(ask: Ask):
    for units in ("in", "mm"):
        made = example(ask, units)
        assert made.picture is not None
        assert overlaps(made.picture) == ()
        svg = picture_svg(made.picture)
        assert "nan" not in svg.lower().replace("nance", "")
        left, top, width, height = map(float, re.search(r'viewBox="([^"]+)"', svg)[1].split())
        for x, y in re.findall(r'<text [^>]*?x="([-\d.]+)" y="([-\d.]+)"', svg):
            assert left <= float(x) <= left + width
            assert top <= float(y) <= top + height
        for sheet in made.sheets:
            assert overlaps(sheet, full_scale=True) == (), sheet.name


@pytest.mark.parametrize("ask", ALL, ids=lambda a: a.kind)
def test_an_example_comes_off_any_printer_as_large_as_it_is_drawn(ask: Ask):
    made = example(ask)
    assert setout_sheet.pdf(made, "mm", "a4")
    if not made.sheets:
        return
    for paper in ("letter", "roll"):
        lines = [g for _, here in printed(made, paper) for g in here]
        whole = shapely.unary_union(lines)
        for sheet in made.sheets:
            solid = [s for s in sheet.strokes if s.kind in ("cut", "edge", "mark", "guide")]
            for s in solid[:40]:
                for p in s.points[:: max(1, len(s.points) // 7)]:
                    turned = (-p[1], p[0])
                    near = min(whole.distance(Point(p)), whole.distance(Point(turned)))
                    assert near < 0.05, (sheet.name, s.kind, p)
