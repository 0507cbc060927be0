"""Templates as they are printed: the sheet's own lines rolled and cut, refusals, holes that find their place."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
import shapely
from shapely.geometry import LineString, Polygon, box

from lagline.cards.setout_picture import overlaps
from lagline.records.errors import LaglineError
from lagline.records.finding import Severity
from lagline.records.setout import Drawing, SetOut
from lagline.shapes.named import SHAPES
from tests.ask import ask

DEMO = Path(__file__).parents[2] / "src" / "lagline" / "data" / "demo"
CUP = {"thickness": "10", "cup_radius": "11", "kerf": "2"}
SIZES = {
    "rectangle": "width=300 height=120 corner_radius=15",
    "strip": "length=400 width=75 hole=30 hole_from_end=60",
    "gusset": "leg_across=200 leg_up=250 snipe=25 nose=30",
    "base_plate": "width=400 height=350 hole=24 edge_across=50 edge_up=50 opening=150",
    "slotted_plate": "width=300 height=150 slot_length=120 slot_width=30",
    "disc": "diameter=150",
    "ring": "outside=350 inside=200",
    "flange": "outside=300 inside=160 bolt_circle=240 bolts=8 bolt_hole=22",
    "sector": "outside=300 inside=150 angle=90",
    "polygon": "sides=6 across_flats=150",
    "points": "points=0,0 200,0 200,100 120,100 120,200 0,200",
}


def template(**texts: str) -> SetOut:
    return ask("guide", "template", {**CUP, **texts}, units="mm")


def printed(sheet: Drawing) -> tuple[list[Polygon], list[Polygon]]:
    """What is to be cut out of the board, and the drawn lines beside it."""
    cut = [Polygon(s.points) for s in sheet.strokes if s.kind == "cut"]
    drawn = [Polygon(s.points) for s in sheet.strokes if s.kind == "hidden"]
    return cut, drawn


def left_of(board: Polygon, cup: float, kerf: float) -> Polygon:
    path = board.buffer(cup, quad_segs=90).exterior
    swath = LineString(path.coords).buffer(kerf / 2, quad_segs=90)
    rest = box(*path.buffer(kerf + 5).bounds).difference(swath)
    return max((g for g in shapely.get_parts(rest) if g.intersects(board)), key=lambda g: g.area)


@pytest.mark.parametrize("shape", SIZES)
def test_printed_sheet_of_every_shape_makes_the_part(shape: str):
    s = template(shape=shape, sizes=SIZES[shape])
    cut, drawn = printed(s.sheets[0])
    part = Polygon(left_of(cut[0], 11, 2).exterior)
    want = drawn[0]
    marks: list[shapely.Point] = []
    off = part.difference(want.buffer(0.05)).union(want.buffer(-0.05).difference(part))
    left, bottom, _, _ = want.bounds
    for row in s.table("marks").rows if s["places_marked"] else ():
        if row[1] == "outline":
            marks.append(shapely.Point(float(row[3]) + left, float(row[4]) + bottom))
    for place in (g for g in shapely.get_parts(off) if g.area > 1e-4):
        assert any(m.distance(place) < 12 for m in marks), (shape, place.centroid)
    if shape in ("rectangle", "disc", "ring", "flange"):
        assert not marks
        assert off.area < 1e-4


def test_every_named_shape_is_tried():
    assert set(SIZES) == set(SHAPES)


@pytest.mark.parametrize("shape", SIZES)
def test_no_words_on_each_other(shape: str):
    s = template(shape=shape, sizes=SIZES[shape])
    assert s.picture is not None
    assert overlaps(s.picture) == ()
    for sheet in s.sheets:
        assert overlaps(sheet, full_scale=True) == ()
        assert "R 11 mm, kerf 2 mm" in sheet.label[0]
        assert "OUTSIDE" in sheet.label[1] or "INSIDE" in sheet.label[1]


def test_disc_and_hole_templates_are_a_cup_and_a_kerf_apart():
    # part kept: inset by R - k/2; hole kept: outset by R - k/2 (derived)
    part = template(shape="disc", sizes="diameter=150")
    hole = template(shape="disc", sizes="diameter=150", keep="hole")
    assert part["template_length_mm"] == pytest.approx(150 - 20, abs=0.02)
    assert hole["template_length_mm"] == pytest.approx(150 + 20, abs=0.02)
    assert part["inset_mm"] == hole["inset_mm"] == pytest.approx(10)
    assert part["places_marked"] == hole["places_marked"] == 0


def test_sharp_corners_say_their_true_radius_and_how_far_to_run_on():
    s = template(shape="rectangle", sizes="width=300 height=120")
    assert s["outer_corner_radius_mm"] == pytest.approx(10)
    rows = s.table("marks").rows
    assert [r[2] for r in rows] == ["outer corner"] * 4
    assert [(r[3], r[4]) for r in rows] == [(0, 0), (300, 0), (0, 120), (300, 120)]
    assert all(r[6] == pytest.approx(11, abs=1e-3) for r in rows)  # R for a square corner
    assert all(r[5] == pytest.approx(10 * (math.sqrt(2) - 1), abs=0.05) for r in rows)


def test_holes_find_their_place():
    s = template(shape="base_plate", sizes=SIZES["base_plate"])
    ways = {r[0]: r[5] for r in s.table("holes").rows}
    assert ways["opening"] == "opening in the board"
    assert sorted(ways.values()) == ["opening in the board"] * 5
    # nearer the edge there is no wall left in the board: one template for the four alike
    near = template(shape="base_plate", sizes="width=400 height=350 hole=24 edge_across=25 edge_up=25")
    assert [r[5] for r in near.table("holes").rows] == ["own template 1"] * 4
    assert len(near.sheets) == 2
    assert "Used 4 times" in near.sheets[1].label[-1]
    # too small to cut by hand: drilled, its centre on the board
    small = template(shape="base_plate", sizes="width=400 height=350 hole=12 edge_across=50 edge_up=50")
    assert [r[5] for r in small.table("holes").rows] == ["drill"] * 4
    assert any(f.code == "template-drill" for f in small.findings)


def test_drawing_file_makes_a_template():
    s = template(file=str(DEMO / "cheek.dxf"))
    assert "cheek" in s.title
    assert s.sheets
    kinds = [r[2] for r in s.table("marks").rows]
    assert set(kinds) <= {"outer corner", "inner corner", "outer radius", "tongue", "notch"}


def test_narrow_places_are_said():
    s = template(shape="points", sizes="points=0,0 200,0 200,90 215,90 215,110 200,110 200,200 0,200")
    tongue = next(f for f in s.findings if f.code == "template-tongue")
    assert tongue.severity is Severity.CAUTION
    slit = "points=0,0 200,0 200,99.5 150,99.5 150,100.5 200,100.5 200,200 0,200"
    notch = next(f for f in template(shape="points", sizes=slit).findings if f.code == "template-notch")
    assert notch.severity is Severity.NO_GO


CROSSED = """<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">
<path d="M0 0 L100 100 L100 0 L0 100 Z"/></svg>"""


@pytest.mark.parametrize(
    ("texts", "says"),
    [
        ({}, "sizes of the rectangle are needed"),
        ({"shape": "disc", "sizes": "large"}, "is not a size"),
        ({"shape": "disc", "sizes": "diameter=big"}, "not a length"),
        ({"shape": "disc", "sizes": "diameter="}, "no size"),
        ({"shape": "disc", "sizes": "diameter=nan"}, "not a length"),
        ({"shape": "disc", "sizes": "diameter=0"}, "out of range"),
        ({"shape": "disc", "sizes": "diameter=-5"}, "below zero"),
        ({"shape": "disc", "sizes": "diameter=100 diameter=90"}, "twice"),
        ({"shape": "disc", "sizes": "width=100"}, "no width"),
        ({"shape": "polygon", "sizes": "sides=x across_flats=100"}, "not a whole number"),
        ({"shape": "points", "sizes": "points=0,0 9"}, "point 2"),
        ({"shape": "points", "sizes": "points=0,0 100,100 100,0 0,100"}, "cross|sound|itself"),
        ({"shape": "star", "sizes": "width=3"}, "not a choice"),
        ({"file": "no-such.dxf"}, "there is no file"),
        ({"file": "no-such.dxf", "shape": "disc", "sizes": "diameter=100"}, "both a drawing and sizes"),
        ({"shape": "disc", "sizes": "diameter=19"}, "nothing is left for a template"),
        ({"shape": "disc", "sizes": "diameter=1.9", "keep": "hole"}, "does not go into"),
        ({"shape": "ring", "sizes": "outside=300 inside=100", "keep": "hole"}, "has 1 hole in it"),
    ],
)
def test_impossible_asks_are_refused_with_what_works(texts, says):
    with pytest.raises(LaglineError, match=says) as refused:
        template(**texts)
    assert any(f.allowed for f in refused.value.findings)


def test_outline_that_crosses_itself_is_refused(tmp_path):
    file = tmp_path / "bow.svg"
    file.write_text(CROSSED)
    with pytest.raises(LaglineError, match="crosses"):
        template(file=str(file))


def test_inches_are_read_in_sizes():
    s = ask("guide", "template", {"thickness": "3/8", "sizes": "width=12 height=3-1/2"})
    assert s["template_length_mm"] == pytest.approx(12 * 25.4 - 2 * s["inset_mm"], abs=0.01)
    spaced = ask("guide", "template", {"thickness": "3/8", "sizes": "width = 1' 3-1/2\", height = 3 1/2"})
    assert spaced["template_length_mm"] == pytest.approx(15.5 * 25.4 - 2 * spaced["inset_mm"], abs=0.01)
