"""Laws of the drawings, on a plan made by hand: everything is there, hatched where waste is, pointing the right way."""

from __future__ import annotations

import importlib.util
import io
import itertools
import math
import re
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest
import shapely
from fontTools.ttLib import TTFont
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon, box

from lagline.cards import draw_plate, draw_step, scene, words
from lagline.cards.labels import Labels
from lagline.cards.widths import text_width
from lagline.records.plan import Method, Plan, StraightGuide
from lagline.shapes.region import chain_line

SVG = "{http://www.w3.org/2000/svg}"


def _sample() -> object:
    path = Path(__file__).parents[1] / "sample_plan.py"
    spec = importlib.util.spec_from_file_location("lagline_sample_plan", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


PLAN: Plan = _sample().sample_plan()  # type: ignore[attr-defined]
NUMBERS = [s.number for s in PLAN.steps]


def numbers_in(d: str) -> list[tuple[float, float]]:
    """Vertices of a path of moves and lines only, in plate millimetres, y up."""
    assert not set(d) & set("AaCcQq")
    v = [float(x) for x in re.findall(r"-?[\d.]+", d)]
    return [(x, -y) for x, y in zip(v[::2], v[1::2], strict=True)]


def by_class(svg: str, name: str) -> list[ElementTree.Element]:
    return [e for e in ElementTree.fromstring(svg).iter() if e.get("class") == f"ll-{name}"]


@pytest.mark.parametrize("paper", [False, True])
def test_pictures_are_well_formed_and_named(paper):
    for svg in (
        draw_plate.plate_svg(PLAN, 0, paper=paper),
        *(draw_step.step_svg(PLAN, n, paper=paper) for n in NUMBERS),
    ):
        root = ElementTree.parse(io.StringIO(svg)).getroot()
        assert root.tag == f"{SVG}svg"
        assert root.get("role") == "img"
        assert root.findtext(f"{SVG}title")
        assert len(root.findtext(f"{SVG}desc") or "") > 20
        # pictures share a page: no ids that could clash, nothing fetched
        assert " id=" not in svg
        assert "href" not in svg


def test_every_part_copy_hole_and_cut_is_on_the_plate():
    svg = draw_plate.plate_svg(PLAN, 0, paper=False)
    parts = {e.get("aria-label"): e for e in by_class(svg, "part")}
    assert set(parts) == {"cheek #1", "cheek #2", "flange ring", "gusset"}
    for name, loops in (("cheek #1", 3), ("flange ring", 2), ("gusset", 1)):
        data = parts[name].find(f"{SVG}path").get("d")
        assert data.count("Z") == loops
    assert len(by_class(svg, "kerf")) == sum(bool(s.path) for s in PLAN.steps)
    texts = {e.text for e in ElementTree.fromstring(svg).iter(f"{SVG}text")}
    assert {"1", "2", "3-6", "7-10", "11", "12-15", "16-19", "20", "21", "datum", '23-5/8"', '15-3/4"'} <= texts
    # the datum dimensions of the parts: 30 mm is 1-3/16 in, 290 mm 11-7/16
    assert {'1-3/16"', '11-7/16"', '17-11/16"', '8-11/16"', '2-3/8"'} <= texts


def test_kerf_is_drawn_at_its_true_width():
    svg = draw_plate.plate_svg(PLAN, 0, paper=True)
    hair = 0.05 * 600 / 40
    for e in by_class(svg, "lip"):
        assert float(e.get("stroke-width")) == pytest.approx(1.6 + hair, abs=2e-3)
    assert all(float(e.get("stroke-width")) < 1.6 for e in by_class(svg, "kerf"))


def test_waste_is_the_plate_less_its_parts():
    waste = scene.waste_area(PLAN, 0)
    parts = sum(b.cut.area * b.part.quantity for b in PLAN.blanks)
    assert waste.area == pytest.approx(600 * 400 - parts, rel=1e-4)  # arcs as chords within 0.05 mm


def test_hatching_lies_in_the_waste_and_nowhere_else():
    svg = draw_plate.plate_svg(PLAN, 0, paper=True)
    (hatch,) = by_class(svg, "hatch")
    chunks = hatch.get("d").split("M")[1:]
    lines = [LineString(numbers_in(c)) for c in chunks]
    area = scene.waste_area(PLAN, 0)
    assert all(area.buffer(0.01).covers(line) for line in lines)
    assert all(a.buffer(-0.05).disjoint(shapely.union_all(lines)) for a in scene.part_areas(PLAN, 0).values())
    # lines of even spacing measure an area: length times spacing
    spacing = 1.1 * 600 / 40
    assert sum(line.length for line in lines) * spacing == pytest.approx(area.area, rel=0.03)


@settings(deadline=None, max_examples=40)
@given(st.floats(5, 80), st.floats(5, 80), st.floats(0.5, 4), st.floats(-180, 180))
def test_hatch_covers_any_rectangle_evenly(w, h, gap, angle):
    area = box(3, 7, 3 + w, 7 + h)
    lines = scene.hatch(area, gap, angle)
    assert area.buffer(1e-6).covers(lines)
    # a point of the area is never farther than one gap from a line, corners included
    if not lines.is_empty and min(w, h) > 4 * gap:
        assert all(Point(c).distance(lines) < 1.6 * gap for c in area.exterior.coords)
        assert area.centroid.distance(lines) <= gap / 2 + 1e-6


@pytest.mark.parametrize("number", [n for n in NUMBERS if PLAN.steps[n - 1].path])
def test_arrow_points_with_travel_and_lies_beside_the_path(number):
    step = PLAN.steps[number - 1]
    svg = draw_step.step_svg(PLAN, number, paper=False)
    (arrow,) = by_class(svg, "travel")
    pts = numbers_in(arrow.get("d"))
    (head,) = by_class(svg, "travel-head")
    tip = numbers_in(head.get("d"))[0]
    assert math.dist(tip, pts[-1]) < 0.01
    path = chain_line(step.path, 0.05)
    along = [path.project(Point(p)) for p in pts]
    total = path.length
    # travel advances along the path; a closed one may be crossed at its start
    assert all(0 < (b - a) % total < 0.9 * total for a, b in itertools.pairwise(along))
    assert path.distance(LineString(pts)) > 0.1


@pytest.mark.parametrize("number", NUMBERS)
def test_heavy_hatching_is_on_the_drop_side_only(number):
    step = PLAN.steps[number - 1]
    band = draw_step.drop_band(PLAN, step, 8.0)
    part = scene.part_areas(PLAN, 0)[step.placed]
    if step.method is Method.DRILL:
        assert band.is_empty
        return
    assert band.area > 20
    assert band.intersection(part).area < 0.01
    # a point just left of travel (the part is on the right) is in the band
    at, heading = scene.point_along(step.line, 0.5 * sum(s.length for s in step.line))
    left = Point(at[0] - 2 * math.sin(heading), at[1] + 2 * math.cos(heading))
    right = Point(at[0] + 2 * math.sin(heading), at[1] - 2 * math.cos(heading))
    assert band.covers(left)
    assert part.covers(right)


def test_guide_bar_is_in_its_place_with_its_distance_on_it():
    for step in PLAN.steps:
        if not isinstance(step.guide, StraightGuide):
            continue
        picture = draw_step.step_picture(PLAN, step.number, paper=True)
        (bar,) = by_class(picture.svg, "guide-bar")
        drawn = Polygon(numbers_in(bar.get("d")))
        assert drawn.distance(chain_line(step.line)) == pytest.approx(step.guide.offset_mm.value, abs=0.01)
        shown = words.guide_length(step.guide.offset_mm.value, "in")[0]
        assert any(t.kind == "distance" and t.text == shown for t in picture.labels)


@pytest.mark.parametrize("units", ["in", "mm"])
def test_no_two_texts_overlap_and_none_leaves_the_picture(units):
    plan = sys.modules["lagline_sample_plan"].sample_plan(units)
    pictures = [draw_plate.plate_picture(plan, 0, paper=True)]
    pictures += [draw_step.step_picture(plan, n, paper=True) for n in NUMBERS]
    for p in pictures:
        assert p.left_out == ()
        root = ElementTree.fromstring(p.svg)
        x0, y0, w, h = (float(v) for v in root.get("viewBox").split())
        boxes = []
        for t in root.iter(f"{SVG}text"):
            size, x, y = float(t.get("font-size")), float(t.get("x")), float(t.get("y"))
            half = _true_width(t.text, size, bold=t.get("font-weight") == "bold") / 2
            # capitals stand 0.73 em above the base line, tails hang 0.24 below it
            b = box(x - half, y - 0.76 * size, x + half, y + 0.24 * size)
            assert box(x0, y0, x0 + w, y0 + h).covers(b), t.text
            assert all(not b.intersects(o) for o in boxes), t.text
            boxes.append(b)
        assert len(boxes) >= 2


_FONTS = Path(draw_plate.__file__).parent / "fonts"


def _true_width(text: str, size: float, *, bold: bool, fonts: dict = {}) -> float:  # noqa: B006
    if bold not in fonts:
        font = TTFont(_FONTS / ("DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"))
        fonts[bold] = (font.getBestCmap(), font["hmtx"], font["head"].unitsPerEm)
    cmap, widths, em = fonts[bold]
    return sum(widths[cmap[ord(c)]][0] for c in text) / em * size


@given(st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=30))
def test_text_width_is_never_underrated(text):
    for bold in (False, True):
        assert text_width(text, 1.0, bold=bold) >= _true_width(text, 1.0, bold=bold) - 1e-9


@settings(deadline=None, max_examples=25)
@given(st.lists(st.tuples(st.floats(0, 100), st.floats(0, 80)), max_size=25))
def test_labels_never_overlap_and_none_is_lost_silently(points):
    labels = Labels((0, 0, 100, 80))
    for i, p in enumerate(points):
        labels.put(f"L{i}", p, 4.0, "#fff", "x")
    assert len(labels.placed) + len(labels.left_out) == len(points)
    boxes = [box(*t.box) for t in labels.placed]
    assert all(a.intersection(b).area < 1e-9 for i, a in enumerate(boxes) for b in boxes[:i])


def test_paper_plate_reads_back_at_true_size():
    # second reader: svgelements applies the millimetre size and the viewBox itself
    import svgelements

    svg = draw_plate.plate_svg(PLAN, 0, paper=True)
    read = svgelements.SVG.parse(io.StringIO(svg), ppi=25.4)
    (edge,) = [
        e for e in read.elements() if isinstance(e, svgelements.Path) and e.values.get("class") == "ll-plate-edge"
    ]
    x0, y0, x1, y1 = edge.bbox()
    assert x1 - x0 == pytest.approx(600, abs=0.01)
    assert y1 - y0 == pytest.approx(400, abs=0.01)


def test_what_has_fallen_is_open():
    ring = next(s for s in PLAN.steps if s.cut == "B-1")
    gone = scene.fallen(PLAN, 0, ring.number)
    assert gone.covers(Point(350, 120))  # the bore has dropped
    assert not gone.covers(Point(350, 165))  # the ring itself is still there
    assert scene.fallen(PLAN, 0, ring.number + 1).covers(Point(350, 165))
    assert scene.fallen(PLAN, 0, 1).is_empty


def test_directions_in_words():
    said = {s.title: words.direction(s) for s in PLAN.steps}
    assert said["cheek #1 outline: left"] == "square to the datum edge, away from it"
    assert said["cheek #1 outline: top"] == "along the datum edge, away from the corner"
    assert said["cheek #1 outline: right"] == "square to the datum edge, towards it"
    assert said["cheek #1 outline: bottom"] == "along the datum edge, back to the corner"
    # kept part on the right: outside clockwise, hole anticlockwise, seen from above (derived from the swirl rule)
    assert said["flange ring: bore"] == "anticlockwise"
    assert said["flange ring: rim"] == "clockwise"


def test_guide_sentence_says_side_distance_and_both_units():
    step = next(s for s in PLAN.steps if s.title == "cheek #1 outline: left")
    # R + k/2 = 11 + 0.8 = 11.8 mm: 0.4646 in, nearest 64th 30/64
    assert words.guide(step, "in") == 'Clamp the guide on the drop side, 15/32" (12 mm) from the line'
    assert words.guide(step, "mm") == 'Clamp the guide on the drop side, 12 mm (15/32") from the line'
