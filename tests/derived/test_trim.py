"""Rough edges are cut true first, and everything else is measured from there."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.cards import bench_card, plan_json, words
from lagline.cards.draw_plate import plate_picture
from lagline.cards.draw_step import step_picture
from lagline.planning.chain import plan
from lagline.planning.job_file import job_from_text
from lagline.planning.job_plates import MARGIN_MM
from lagline.planning.kit_file import generic_kit
from lagline.planning.proof import torch_path, what_is_left
from lagline.planning.trim import TRIM_MM, after_trim, kept_metal
from lagline.records.errors import LaglineError
from lagline.records.job import Job
from lagline.records.plan import Plan, Start
from lagline.shapes.region import polygon
from tests.cutting import turned

HEAD = """name = "t"
units = "in"
layout = "{layout}"
[stock]
metal = "steel"
thickness = "1/4"
[[parts]]
name = "gusset"
shape = "gusset"
leg_across = "8"
leg_up = "10"
quantity = {gussets}
[[parts]]
name = "tab"
shape = "rectangle"
width = "6"
height = "3"
quantity = 3
[[parts]]
name = "washer"
shape = "ring"
outside = "5"
inside = "9/16"
[[plates]]
name = "A"
width = "36"
height = "30"
"""


def job_of(plate: str, layout: str = "guided", gussets: int = 2) -> Job:
    return job_from_text(HEAD.format(layout=layout, gussets=gussets) + plate, Path(), "job.toml")[0]


def check_trims(made: Plan) -> None:
    """Trims first, in metal that falls; everything else clear of it, right, and begun on metal that is there."""
    plate = made.job.plates[0]
    trims = [s for s in made.steps if not s.parts]
    assert [s.number for s in trims] == list(range(1, len(plate.trim) + 1))
    kerf = made.settings[0].kerf_mm.value
    whole = polygon(plate.outline)
    for s in trims:
        assert s.start is Start.EDGE
        assert s.frees == "drop"
        assert s.drop_kg > 0
        assert s.square_side == s.kept_side
        axis = 1 if abs(math.sin(math.radians(s.heading_deg))) < 1e-9 else 0
        assert all(abs(p[axis]) < 1e-9 for seg in s.line for p in (seg.start, seg.end))  # the new edge is the axis
    gone = shapely.union_all([torch_path(s, made.settings[0]).buffer(kerf / 2, quad_segs=64) for s in trims])
    left = max(shapely.get_parts(whole.difference(gone)), key=lambda g: g.area)
    assert left.symmetric_difference(kept_metal(plate, whole)).area < 0.5  # but for the dross at the ends
    rest = after_trim(plate)
    assert polygon(rest.outline).symmetric_difference(kept_metal(plate, whole)).area < 1e-3
    for placed in made.layout.placed:
        outline = polygon(placed.move.outline(made.blanks[placed.part].cut), 0.01)
        assert (
            outline.distance(shapely.boundary(polygon(rest.outline))) >= plate.margin_mm - 0.012
        )  # arcs drawn with chords
    for s in made.steps[len(trims) :]:
        start = shapely.Point(words.start_point(s))
        assert polygon(rest.outline).distance(start) < kerf  # nothing begins in the strip that is gone
    assert all(e.right for e in what_is_left(made.job.plates, made.blanks, made.layout, made.steps, made.settings))
    assert kept_metal(plate, whole).contains(shapely.Point(made.steps[0].clamp))
    told = [f for f in made.findings if f.code == "datum-trim"]
    assert len(told) == 1
    assert not [f for f in made.findings if f.code == "part-not-as-drawn"]
    # the strip is no piece that a cut could run in
    assert not [
        f for f in made.findings if f.code == "cut-from-loose" and any(f"cut {s.cut} " in f.message for s in trims)
    ]


@given(
    st.sampled_from([("bottom",), ("left",), ("bottom", "left")]),
    st.sampled_from(["quick", "guided"]),
    st.floats(3.0, 60.0),
    st.floats(-0.4, 0.4),
    st.integers(1, 5),
)
@settings(deadline=None, max_examples=5)
def test_rough_edges_come_off_first(sides, layout: str, off_mm: float, lean_in: float, gussets: int):
    square = math.hypot(36, 30)
    said = ", ".join(f'"{s}"' for s in sides)
    diagonals = f'["{square + lean_in:.4f}", "{square - lean_in:.4f}"]'
    made = job_of(f'trim = [{said}]\ntrim_width = "{off_mm:.3f} mm"\ndiagonals = {diagonals}', layout, gussets)
    assert made.plates[0].trim == sides
    check_trims(plan(made, generic_kit()))


@pytest.mark.parametrize("side", ["left", "right"])
def test_the_square_side_is_on_the_plate(side: str):
    made = plan(job_of('trim = ["bottom", "left"]'), turned(generic_kit(), side))
    check_trims(made)
    for s in made.steps[:2]:
        (x, y), h = s.line[0].start, s.line[0].heading_start + (math.pi / 2 if side == "left" else -math.pi / 2)
        along = s.line[0].length / 2
        middle = x + along * math.cos(s.line[0].heading_start), y + along * math.sin(s.line[0].heading_start)
        beside = shapely.Point(middle[0] + 5 * math.cos(h), middle[1] + 5 * math.sin(h))
        assert kept_metal(made.job.plates[0], polygon(made.job.plates[0].outline)).contains(beside)


def test_a_rough_plate_gets_its_datum_edge_and_the_size_is_as_it_lies():
    plate = job_of('edges = "rough"').plates[0]
    assert plate.trim == ("bottom",)
    assert plate.trim_mm == TRIM_MM
    left, bottom, right, top = plate.outline.bounds()
    assert (left, bottom) == pytest.approx((0, -TRIM_MM))
    assert (right - left, top - bottom) == pytest.approx((36 * 25.4, 30 * 25.4))
    assert plate.margin_mm == MARGIN_MM
    plain = job_of("").plates[0]
    assert plain.trim == ()
    assert plain.outline.bounds()[:2] == (0, 0)
    assert after_trim(plain) is plain


def test_holes_count_from_the_trimmed_corner_and_parts_keep_off_them():
    made = plan(job_of('edges = "rough"\nholes = [{ x = "6", y = "5", diameter = "4" }]'), generic_kit())
    check_trims(made)
    (hole,) = made.job.plates[0].outline.holes
    assert shapely.Polygon(hole.points(0.1)).centroid.distance(shapely.Point(152.4, 127)) < 0.1


def test_a_trimmed_edge_may_be_a_parts_own():
    made = plan(job_of('edges = "rough"\nfactory_edges = ["bottom"]\nmargin = 0'), generic_kit())
    lowest = min(p.move.outline(made.blanks[p.part].cut).bounds()[1] for p in made.layout.placed)
    assert lowest == pytest.approx(0, abs=1e-3)
    assert all(e.right for e in what_is_left(made.job.plates, made.blanks, made.layout, made.steps, made.settings))
    assert made.steps[0].line[0].length == pytest.approx(36 * 25.4, abs=0.1)


def test_a_plate_nothing_is_cut_from_is_not_trimmed():
    two = job_of('edges = "rough"\n[[plates]]\nname = "B"\nwidth = "36"\nheight = "30"\nedges = "rough"')
    made = plan(two, generic_kit())
    used = {p.plate for p in made.layout.placed}
    assert {s.plate for s in made.steps if not s.parts} == used
    assert len(used) == 1


def test_it_is_counted_and_told():
    rough, good = (plan(job_of(e, "quick"), generic_kit()) for e in ('edges = "rough"', ""))
    assert rough.totals.minutes.value > good.totals.minutes.value
    assert words.besides(rough.steps[0], "in").startswith("Strike this line")
    assert words.sides(rough.steps[0]) == "Plate on the right of travel; square side on the plate"
    assert '1/2" trimmed off bottom first' in str(bench_card.card_data(rough, "letter")["front"])
    texts = [t.text for t in plate_picture(rough, 0, paper=True).labels]
    assert '29-1/2"' in texts  # the height from the new edge
    assert not step_picture(rough, 1, paper=True).left_out
    assert plan_json.to_json(rough) == plan_json.to_json(plan(job_of('edges = "rough"', "quick"), generic_kit()))


@pytest.mark.parametrize(
    "plate",
    ['edges = "ragged"', 'trim = "bottom"', 'trim = ["top"]', 'trim = ["bottom"]\ntrim_width = "8"',
     'trim = ["bottom"]\ntrim_width = 0', "trim = [1]"],
)  # fmt: skip
def test_what_is_no_trim_is_refused(plate: str):
    with pytest.raises(LaglineError) as caught:
        job_of(plate)
    assert any("trim" in f.where or "edges" in f.where for f in caught.value.findings)


def test_only_a_plate_given_by_its_sides_is_trimmed():
    text = HEAD.format(layout="quick", gussets=1).replace(
        'width = "36"\nheight = "30"\n', "points = [[0, 0], [36, 0], [36, 30], [0, 30]]\n"
    )
    with pytest.raises(LaglineError) as caught:
        job_from_text(text + 'edges = "rough"\n', Path(), "job.toml")
    assert [f.code for f in caught.value.findings] == ["trim-shape"]
