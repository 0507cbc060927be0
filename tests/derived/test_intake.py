"""Intake: allowance, features and findings, by laws and by hand-worked shapes."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.data.demo_files import demo_files
from lagline.planning.features import features
from lagline.planning.intake import _across, intake
from lagline.planning.job_file import job_from_text, read_job
from lagline.records.finding import Severity
from lagline.records.geometry import Arc
from lagline.records.job import EdgeUse, Size
from lagline.shapes.named import make_shape
from lagline.shapes.region import polygon
from lagline.trade.allowance import grinding_allowance

WELD = grinding_allowance(EdgeUse.WELD).value
HEAD = 'units = "mm"\nstock = { metal = "steel", thickness = 10 }\n'
PLATE = "[[plates]]\nwidth = 1000\nheight = 800\n"


def take_in(part: str, plate: str = PLATE, head: str = HEAD):
    job, _ = job_from_text(f"{head}[[parts]]\n{part}\n{plate}", Path(), "job.toml")
    blanks, findings = intake(job)
    return blanks[0], {f.code: f for f in findings}


def test_allowance_goes_where_the_edge_is_used():
    blank, found = take_in('shape = "rectangle"\nwidth = 200\nheight = 100\nedges = { bottom = "weld", left = "weld" }')
    assert blank.finished.bounds() == pytest.approx((0, 0, 200, 100))
    assert blank.cut.bounds() == pytest.approx((-WELD, -WELD, 200, 100))
    assert blank.area_mm2 == pytest.approx((200 + WELD) * (100 + WELD))
    assert "bottom" in found["allowance"].message


def test_a_hole_to_weld_in_is_cut_smaller_and_a_drilled_one_is_not():
    flange = 'shape = "flange"\noutside = 300\ninside = 150\nbolt_circle = 225\nbolts = 6\nbolt_hole = 14\n'
    blank, _ = take_in(flange + 'edges = { all = "weld" }')
    radius = {n: s.radius for loop in blank.cut.loops for s, n in zip(loop.segments, loop.names, strict=True)}
    assert radius["outside"] == pytest.approx(150 + WELD)
    assert radius["inside"] == pytest.approx(75 - WELD)
    assert radius["bolt-1"] == 7  # under 1.75 t, so drilled to size


def test_cut_size_gets_no_allowance():
    part = 'shape = "disc"\ndiameter = 200\nedges = { all = "machined" }\nsize = "{}"'
    drawn, _ = take_in(part.replace("{}", "cut"))
    assert drawn.cut == drawn.finished
    grown, _ = take_in(part.replace("{}", "finished"))
    assert grown.cut.area > drawn.cut.area


@given(
    name_values=st.sampled_from(
        [
            ("rectangle", {"width": 240.0, "height": 120.0, "cope_width": 50.0, "cope_height": 30.0}),
            ("gusset", {"leg_across": 200.0, "leg_up": 260.0, "snipe": 25.0, "nose": 12.0}),
            ("ring", {"outside": 350.0, "inside": 200.0}),
            ("base_plate", {"width": 400.0, "height": 350.0, "opening_width": 150.0, "opening_height": 120.0}),
            ("slotted_plate", {"width": 300.0, "height": 150.0, "slot_length": 100.0, "slot_width": 32.0}),
            ("sector", {"outside": 500.0, "inside": 250.0, "angle": 70.0}),
        ]
    ),
    uses=st.lists(st.sampled_from(list(EdgeUse)), min_size=12, max_size=12),
)
@settings(deadline=None, max_examples=40)
def test_the_drawing_always_lies_inside_the_cut_size(name_values, uses):
    outline, _ = make_shape(*name_values, "x")
    base, _ = job_from_text(f'{HEAD}[[parts]]\nshape = "disc"\ndiameter = 9\n{PLATE}', Path(), "j")
    names = [n for loop in outline.loops for n in loop.names]
    part = replace(
        base.parts[0],
        outline=outline,
        edges=tuple(replace(base.parts[0].edges[0], name=n, use=u) for n, u in zip(names, uses, strict=False)),
    )
    (blank,), _ = intake(replace(base, parts=(part,)))
    drawn, cut = polygon(blank.finished, 0.001), polygon(blank.cut, 0.001)
    assert cut.is_valid
    assert cut.buffer(0.01).contains(drawn)
    # no edge moves further than the largest allowance, corners by its mitre
    most = grinding_allowance(EdgeUse.MACHINED).value
    assert drawn.buffer(4 * most + 0.01, join_style="mitre").contains(cut)
    assert blank.area_mm2 >= blank.finished.area - 1e-6
    (cut_only,), _ = intake(replace(base, parts=(replace(part, size=Size.CUT),)))
    assert cut_only.cut == outline


def test_an_allowance_that_closes_a_hole_leaves_it_as_drawn_and_says_so():
    # a slot of 5 mm, machined both sides, closes under 2.4 mm a side and more
    part = (
        'shape = "slotted_plate"\nwidth = 200\nheight = 100\nslot_length = 40\nslot_width = 4\nends = "square"\n'
        'edges = { holes = "machined" }'
    )
    blank, found = take_in(part)
    assert found["allowance-closes"].severity is Severity.CAUTION
    assert blank.cut.holes == blank.finished.holes


def test_mass_is_area_thickness_density():
    # steel 12 x 12 x 1/2 in weighs 20 lb: 0.2836 lb/in3, handbook
    blank, _ = take_in('shape = "rectangle"\nwidth = "12 in"\nheight = "12 in"', head=HEAD.replace("10", '"1/2 in"'))
    assert blank.mass_kg.value / 0.45359237 == pytest.approx(20.4, abs=0.3)
    assert blank.mass_kg.low <= blank.mass_kg.value <= blank.mass_kg.high


def kinds(name: str, **values) -> list[tuple[str, str, float]]:
    outline, _ = make_shape(name, values, "x")
    return [(f.kind, f.where, round(f.size_mm, 6)) for f in features(outline)]


def test_features_of_shapes_worked_by_hand():
    assert kinds("disc", diameter=80) == [("arc", "outside", 40)]
    assert kinds("ring", outside=80, inside=30) == [("arc", "outside", 40), ("hole", "inside", 30)]
    coped = kinds("rectangle", width=100, height=60, cope_width=20, cope_height=15)
    assert [k for k in coped if k[0] == "inside corner"] == [("inside corner", "top-right-cope-1/top-right-cope-2", 90)]
    assert sum(k[0] == "straight" for k in coped) == 6
    window = kinds("base_plate", width=300, height=200, opening_width=90, opening_height=60)
    assert ("window", "opening", 60) in window
    assert sum(k[0] == "inside corner" for k in window) == 4
    for ends in ("round", "square"):
        slot = kinds("slotted_plate", width=300, height=150, slot_length=100, slot_width=30, ends=ends)
        assert ("slot", "slot-1", 30) in slot
    assert (
        sum(
            k[0] == "inside corner"
            for k in kinds("slotted_plate", width=9e2, height=9e2, slot_length=60, slot_width=30)
        )
        == 0
    )
    assert not [k for k in kinds("gusset", leg_across=100, leg_up=80) if k[0] == "inside corner"]
    (corner,) = [k for k in kinds("points", points=[[0, 0], [100, 0], [50, 20], [0, 100]]) if k[0] == "inside corner"]
    # turn at (50, 20) by the headings of both edges
    turn = math.degrees(math.atan2(20, -50) - math.atan2(80, -50))
    assert corner[2] == pytest.approx(turn)


def test_findings_on_shape():
    _, found = take_in('shape = "base_plate"\nwidth = 200\nheight = 200\nhole = 40\nedge_across = 25')
    assert "between hole-1 and the outside edge" in found["thin-land"].message
    _, found = take_in('shape = "base_plate"\nwidth = 200\nheight = 200\nhole = 40\nedge_across = 31')
    assert "thin-land" not in found
    _, found = take_in('shape = "disc"\ndiameter = 30')
    assert "part-tiny" in found
    _, found = take_in('shape = "rectangle"\nwidth = 200\nheight = 100\ncope_width = 50\ncope_height = 30')
    assert "AWS D1.1" in found["inside-corner"].allowed
    _, found = take_in('shape = "rectangle"\nwidth = 200\nheight = 100')
    assert found == {}


def test_parts_no_plate_can_hold():
    strip = 'shape = "strip"\nlength = {}\nwidth = 50'
    diagonal = math.hypot(1000, 800)
    _, found = take_in(strip.replace("{}", f"{diagonal + 5}"))
    assert found["part-too-large"].severity is Severity.NO_GO
    _, found = take_in(strip.replace("{}", "1100"))  # fits on the slant
    assert "part-too-large" not in found
    _, found = take_in('shape = "disc"\ndiameter = 801')
    assert "part-too-large" in found
    _, found = take_in('shape = "disc"\ndiameter = 780')
    assert "part-too-large" not in found
    _, found = take_in('shape = "disc"\ndiameter = 100\nstock = { thickness = 12 }')
    assert found["plate-none"].severity is Severity.NO_GO


@given(points=st.lists(st.tuples(st.floats(-100, 100), st.floats(-100, 100)), min_size=3, max_size=12))
@settings(deadline=None, max_examples=60)
def test_across_is_the_widest_and_the_narrowest(points):
    hull = shapely.MultiPoint(points).convex_hull
    if hull.geom_type != "Polygon" or hull.area < 1:
        return
    far, near = _across(hull)
    spans = []
    for i in range(720):
        turned = shapely.affinity.rotate(hull, i / 4, origin=(0, 0)).bounds
        spans.append(turned[2] - turned[0])
    assert near <= min(spans) + 1e-9
    assert far >= max(spans) - 1e-9
    assert near == pytest.approx(min(spans), abs=far * math.radians(0.25))
    assert far == pytest.approx(max(spans), rel=1e-4)


def test_demo_intake(tmp_path):
    for name, data in demo_files().items():
        (tmp_path / name).write_bytes(data)
    job, _ = read_job(tmp_path / "job.toml")
    blanks, findings = intake(job)
    assert len(blanks) == 12
    assert {f.severity for f in findings} == {Severity.NOTE}
    cheek = blanks[0]
    assert cheek.cut.bounds()[1] == pytest.approx(-WELD)
    assert [f.size_mm for f in cheek.features if f.kind == "hole"] == pytest.approx([14.2875, 79.375, 14.2875])
    # small parts go into openings: the disc into the ring, the washer into the base plate's window
    by_name = {b.part.name: b for b in blanks}
    ring = next(s for h in by_name["wheel ring"].cut.holes for s in h.segments if isinstance(s, Arc))
    assert 2 * ring.radius > by_name["blank disc"].cut.bounds()[2] * 2 + 20
    share = sum(b.area_mm2 * b.part.quantity for b in blanks) / sum(p.outline.area for p in job.plates)
    assert 0.3 < share < 0.6
