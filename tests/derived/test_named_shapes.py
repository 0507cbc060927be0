"""Named shapes against closed formulas for area and perimeter, and against each other."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.records.errors import LaglineError
from lagline.records.geometry import Arc, Outline
from lagline.shapes.named import SHAPES, make_shape
from lagline.shapes.region import polygon

size = st.floats(20, 2000)
few = settings(deadline=None, max_examples=40)


def made(name: str, **values: object) -> Outline:
    outline, _ = make_shape(name, values, "part")
    assert polygon(outline).is_valid
    assert outline.outer.area > 0
    assert all(h.area < 0 for h in outline.holes)
    names = [n for loop in outline.loops for n in loop.names]
    assert len(names) == len(set(names))
    return outline


def disc_area(d: float) -> float:
    return math.pi * d * d / 4


@few
@given(size, size, st.just(0.0) | st.floats(0.01, 0.49), st.just(0.0) | st.floats(0.01, 0.49))
def test_rectangle_with_radius_or_chamfer(w: float, h: float, r: float, c: float) -> None:
    r, c = r * min(w, h), c * min(w, h)
    plain = made("rectangle", width=w, height=h)
    assert plain.area == pytest.approx(w * h)
    assert plain.outer.length == pytest.approx(2 * (w + h))
    round_ = made("rectangle", width=w, height=h, corner_radius=r)
    assert round_.area == pytest.approx(w * h - (4 - math.pi) * r * r)
    assert round_.outer.length == pytest.approx(2 * (w + h) - (8 - 2 * math.pi) * r)
    cut = made("rectangle", width=w, height=h, chamfer=c, chamfer_corners="top-left, bottom-right")
    assert cut.area == pytest.approx(w * h - c * c)
    assert cut.outer.length == pytest.approx(2 * (w + h) - 2 * c * (2 - math.sqrt(2)))


@few
@given(size, size, st.floats(0.01, 0.99), st.floats(0.01, 0.99), st.sampled_from(["top-right", "bottom-left"]))
def test_one_cope_takes_area_and_no_perimeter(w: float, h: float, fx: float, fy: float, corner: str) -> None:
    o = made("rectangle", width=w, height=h, cope_width=fx * w, cope_height=fy * h, cope_corners=corner)
    assert o.area == pytest.approx(w * h * (1 - fx * fy))
    assert o.outer.length == pytest.approx(2 * (w + h))
    assert [n for n in o.outer.names if "cope" in n] == [f"{corner}-cope-1", f"{corner}-cope-2"]
    assert sum(t < 0 for t in o.outer.turns()) == 1  # one inside corner


@few
@given(size, st.floats(0.05, 0.95), st.integers(1, 24), st.floats(-360, 360))
def test_ring_and_flange(outside: float, f: float, bolts: int, start: float) -> None:
    inside = f * outside
    assert made("ring", outside=outside, inside=inside).area == pytest.approx(disc_area(outside) - disc_area(inside))
    bc = (outside + inside) / 2
    hole = 0.45 * min(outside - inside, bc * math.sin(math.pi / max(bolts, 2)))
    o = made("flange", outside=outside, inside=inside, bolt_circle=bc, bolts=bolts, bolt_hole=hole, start_angle=start)
    assert o.area == pytest.approx(disc_area(outside) - disc_area(inside) - bolts * disc_area(hole))
    arcs = [h.segments[0] for h in o.holes[1:]]
    assert all(isinstance(a, Arc) and a.is_circle for a in arcs)
    assert all(math.dist(a.centre, (0, 0)) == pytest.approx(bc / 2) for a in arcs if isinstance(a, Arc))


@few
@given(size, st.floats(0.0, 0.95), st.floats(0.5, 359))
def test_sector(outside: float, f: float, angle: float) -> None:
    inside = f * outside if f * outside > 0.5 else 0.0
    o = made("sector", outside=outside, inside=inside, angle=angle)
    assert o.area == pytest.approx((disc_area(outside) - disc_area(inside)) * angle / 360)
    turn = math.radians(angle)
    assert o.outer.length == pytest.approx((outside + inside) / 2 * turn + outside - inside)


@few
@given(st.integers(3, 60), size)
def test_polygon(n: int, s: float) -> None:
    flats = made("polygon", sides=n, across_flats=s)
    corners = made("polygon", sides=n, across_corners=s)
    assert flats.area == pytest.approx(n * s * s / 4 * math.tan(math.pi / n))
    assert corners.area == pytest.approx(n * s * s / 8 * math.sin(2 * math.pi / n))
    assert min(p[1] for p in flats.outer.points()) == pytest.approx(-s / 2)  # it stands on a flat
    assert len(flats.outer.segments) == n


@few
@given(size, size, st.just(0.0) | st.floats(0.01, 0.4), st.just(0.0) | st.floats(0.01, 0.4))
def test_gusset(a: float, b: float, fs: float, fn: float) -> None:
    snipe, nose = fs * min(a, b), fn * min(a, b)
    o = made("gusset", leg_across=a, leg_up=b, snipe=snipe, nose=nose)
    # the rectangle less the triangle above the slope, less the snipe
    assert o.area == pytest.approx(a * b - (a - nose) * (b - nose) / 2 - snipe * snipe / 2)
    assert math.dist(*[o.outer.segments[o.outer.names.index("slope")].start, (a, nose)]) < 1e-9


@few
@given(size, st.floats(0.1, 0.9), st.floats(0.1, 0.8))
def test_strip(length: float, f: float, fh: float) -> None:
    width = f * length
    hole = fh * min(width, length / 4)
    o = made("strip", length=length, width=width, hole=hole, hole_from_end=length / 4)
    assert o.area == pytest.approx(length * width - 2 * disc_area(hole))
    r = made("strip", length=length, width=width, ends="round")
    assert r.area == pytest.approx((length - width) * width + disc_area(width))
    assert r.outer.length == pytest.approx(2 * (length - width) + math.pi * width)


@few
@given(st.floats(200, 2000), st.floats(200, 2000), st.integers(1, 6), st.integers(1, 6))
def test_base_plate_holes_by_edge_and_by_pitch_agree(w: float, h: float, rows: int, columns: int) -> None:
    hole, edge = 10.0, 30.0
    by_edge = made("base_plate", width=w, height=h, hole=hole, rows=rows, columns=columns, edge_across=edge)
    assert by_edge.area == pytest.approx(w * h - rows * columns * disc_area(hole))
    by_pitch = made(
        "base_plate",
        width=w,
        height=h,
        hole=hole,
        rows=rows,
        columns=columns,
        pitch_across=(w - 2 * edge) / max(1, columns - 1),
        pitch_up=(h - 2 * edge) / max(1, rows - 1),
    )
    for a, b in zip(by_edge.holes, by_pitch.holes, strict=True):
        assert math.dist(a.segments[0].start, b.segments[0].start) < 1e-6
    rim = made("base_plate", width=w, height=h, hole=hole, rows=rows, columns=columns, edge_across=edge, pattern="rim")
    inner = max(0, rows - 2) * max(0, columns - 2)
    assert len(rim.holes) == rows * columns - inner


@few
@given(st.integers(1, 5), st.sampled_from(["across", "up"]), st.sampled_from(["round", "square"]))
def test_slotted_plate(n: int, direction: str, ends: str) -> None:
    o = made(
        "slotted_plate",
        width=400,
        height=400,
        slot_length=200,
        slot_width=20,
        slots=n,
        pitch=50,
        direction=direction,
        ends=ends,
    )
    slot = 200 * 20 if ends == "square" else 180 * 20 + disc_area(20)
    assert o.area == pytest.approx(400 * 400 - n * slot)
    x0, y0, x1, y1 = polygon(o).interiors[0].bounds
    assert ((x1 - x0) > (y1 - y0)) == (direction == "across")


def test_points_either_way_round() -> None:
    pts = [(0, 0), (0, 50), (100, 0)]
    a, b = made("points", points=pts), made("points", points=pts[::-1])
    assert a.area == b.area == 2500
    assert set(a.outer.names) == {"e1", "e2", "e3"}


@pytest.mark.parametrize("name", SHAPES)
def test_table_is_usable_by_a_form(name: str) -> None:
    shape = SHAPES[name]
    assert shape.meaning
    assert len({p.name for p in shape.params}) == len(shape.params)
    for p in shape.params:
        assert p.meaning
        assert p.kind in ("length", "count", "angle", "choice", "corners", "points")
        assert not (p.required and p.default is not None)
        assert p.kind != "choice" or p.default in p.choices
    with pytest.raises(LaglineError) as e:
        make_shape(name, {}, "part")
    needed = {f"part, {p.name}" for p in shape.params if p.required}
    assert {f.where for f in e.value.findings} == needed


BAD = [
    ("rektangle", {}, "rectangle"),
    ("rectangle", {"width": -1, "height": 0}, "out of range"),
    ("rectangle", {"width": 100, "height": 50, "corner_radius": 1e-25}, "0 for none, or at least 0.1"),
    ("rectangle", {"width": math.nan, "height": 10}, "not a length"),
    ("rectangle", {"width": 10**400, "height": 10}, "not a length"),
    ("rectangle", {"width": True, "height": 10}, "not a length"),
    ("rectangle", {"width": "10", "height": 10}, "not a length"),
    ("rectangle", {"width": 100, "heigth": 50, "height": 50}, "did you mean height"),
    ("rectangle", {"width": 100, "height": 50, "corner_radius": 26}, "take 52 mm of the left edge"),
    ("rectangle", {"width": 100, "height": 50, "cope_width": 100, "cope_height": 10}, "take 100 mm of the top edge"),
    ("rectangle", {"width": 100, "height": 50, "cope_width": 10}, "needs both sizes"),
    ("rectangle", {"width": 100, "height": 50, "chamfer": 5, "chamfer_corners": "middle"}, "does not name corners"),
    (
        "rectangle",
        {
            "width": 100,
            "height": 50,
            "cope_width": 60,
            "cope_height": 30,
            "cope_corners": "bottom-left top-right",
        },
        "cut the part in two",
    ),
    ("ring", {"outside": 100, "inside": 100}, "leaves nothing"),
    ("flange", {"outside": 200, "bolt_circle": 190, "bolts": 4, "bolt_hole": 18}, "break the outside edge"),
    ("flange", {"outside": 200, "bolt_circle": 10, "bolts": 2, "bolt_hole": 18}, "meet in the middle"),
    ("flange", {"outside": 200, "bolt_circle": 150, "bolts": 40, "bolt_hole": 18}, "run into each other"),
    ("flange", {"outside": 200, "bolt_circle": 150, "bolts": 2.5, "bolt_hole": 18}, "whole number"),
    ("gusset", {"leg_across": 100, "leg_up": 80, "snipe": 90}, "larger than leg_up"),
    ("gusset", {"leg_across": 100, "leg_up": 80, "nose": 85}, "not smaller than leg_up"),
    ("strip", {"length": 100, "width": 20, "hole": 25, "hole_from_end": 20}, "breaks the outside edge"),
    ("strip", {"length": 100, "width": 40, "hole": 25}, "breaks the end"),
    ("strip", {"length": 30, "width": 40, "ends": "round"}, "not longer than its width"),
    ("base_plate", {"width": 100, "height": 100, "hole": 20}, "need edge_across or pitch_across"),
    ("base_plate", {"width": 100, "height": 100, "hole": 20, "edge_across": 20, "opening": 70}, "opening runs into"),
    ("base_plate", {"width": 100, "height": 100, "opening": 120}, "opening breaks the outside edge"),
    ("slotted_plate", {"width": 99, "height": 99, "slot_length": 50, "slot_width": 9, "slots": 3}, "run into"),
    ("slotted_plate", {"width": 99, "height": 99, "slot_length": 99, "slot_width": 9}, "breaks the outside edge"),
    ("polygon", {"sides": 6}, "needs one of"),
    ("polygon", {"sides": 6, "across_flats": 10, "across_corners": 12}, "needs one of"),
    ("polygon", {"sides": 2, "across_flats": 10}, "out of range"),
    ("sector", {"outside": 100, "angle": 360}, "out of range"),
    ("points", {"points": [(0, 0), (100, 0), (0, 50), (100, 50)]}, "not sound"),
    ("points", {"points": [(0, 0), (100, 0)]}, "2 points given"),
    ("points", {"points": [(0, 0), (0, 0), (100, 0)]}, "same place"),
    ("points", {"points": [(0, 0), (math.nan, 0), (100, 0)]}, "point 2"),
    ("points", {"points": "0,0"}, "not a list of points"),
]


@pytest.mark.parametrize(("name", "values", "said"), BAD)
def test_bad_values_are_said(name: str, values: dict[str, object], said: str) -> None:
    with pytest.raises(LaglineError) as e:
        make_shape(name, values, 'part "cheek"')
    assert all(f.where.startswith('part "cheek"') and f.allowed for f in e.value.findings)
    assert any(said in f"{f.message} {f.allowed}" for f in e.value.findings)


def test_all_faults_at_once() -> None:
    with pytest.raises(LaglineError) as e:
        make_shape("flange", {"outside": -5, "bolts": 1.5, "bolt_hole": math.inf, "colour": 3}, "part")
    assert {f.where for f in e.value.findings} == {
        "part, outside",
        "part, bolts",
        "part, bolt_hole",
        "part, bolt_circle",
        "part, colour",
    }


def test_thin_land_is_a_caution() -> None:
    _, findings = make_shape("ring", {"outside": 100, "inside": 97}, "part")
    assert [f.code for f in findings] == ["thin-land"]
    assert "1.5 mm" in findings[0].message
    assert make_shape("ring", {"outside": 100, "inside": 80}, "part")[1] == ()
