"""What a DXF library writes is read back as the same metal; blocks, units and planes checked by area and place."""

from __future__ import annotations

import io
import itertools
import math
from typing import Any

import ezdxf
import pytest
from ezdxf import path as dxf_path
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.records.errors import LaglineError
from lagline.records.geometry import Arc, Line, Outline
from lagline.shapes.assemble import Drawing
from lagline.shapes.dxf_read import read_dxf
from lagline.shapes.named import make_shape
from lagline.shapes.region import polygon


def new(insunits: int = 4, version: str = "R2010") -> tuple[Any, Any]:
    doc = ezdxf.new(version)
    doc.header["$INSUNITS"] = insunits
    return doc, doc.modelspace()


def data(doc: Any) -> bytes:
    stream = io.StringIO()
    doc.write(stream)
    return stream.getvalue().encode()


def back(doc: Any, unit: str | None = None) -> Drawing:
    return read_dxf(data(doc), unit, "test.dxf")


def codes(d: Drawing) -> set[str]:
    return {f.code for f in d.findings}


def write_outline(msp: Any, o: Outline, scale: float, as_polyline: bool) -> None:
    for loop in o.loops:
        if as_polyline:
            points = []
            for s in loop.segments:
                pieces = [s]
                if isinstance(s, Arc) and s.is_circle:
                    half = s.sweep / 2
                    pieces = [Arc(s.centre, s.radius, s.angle + i * half, half) for i in range(2)]
                for p in pieces:
                    bulge = math.tan(p.sweep / 4) if isinstance(p, Arc) else 0.0
                    points.append((p.start[0] * scale, p.start[1] * scale, bulge))
            msp.add_lwpolyline(points, format="xyb", close=True)
            continue
        for s in loop.segments:
            if isinstance(s, Line):
                msp.add_line([c * scale for c in s.start], [c * scale for c in s.end])
            elif isinstance(s, Arc):
                centre = [c * scale for c in s.centre]
                if s.is_circle:
                    msp.add_circle(centre, s.radius * scale)
                else:
                    a, b = math.degrees(s.angle), math.degrees(s.angle + s.sweep)
                    msp.add_arc(centre, s.radius * scale, a, b, is_counter_clockwise=s.sweep > 0)


PARTS: list[tuple[str, dict[str, object]]] = [
    ("rectangle", {"width": 200, "height": 120, "corner_radius": 20}),
    ("gusset", {"leg_across": 150, "leg_up": 100, "snipe": 20, "nose": 12}),
    ("flange", {"outside": 300, "inside": 150, "bolt_circle": 230, "bolts": 8, "bolt_hole": 22}),
    ("slotted_plate", {"width": 200, "height": 150, "slot_length": 90, "slot_width": 16, "slots": 3, "pitch": 40}),
    ("sector", {"outside": 400, "inside": 260, "angle": 275}),
]


@pytest.mark.parametrize("version", ["R12", "R2000", "R2018"])
@pytest.mark.parametrize("part", PARTS, ids=[p[0] for p in PARTS])
@pytest.mark.parametrize(
    ("insunits", "mm", "word"), [(4, 1.0, "mm"), (1, 25.4, "in"), (5, 10.0, "cm"), (6, 1000.0, "m")]
)
def test_part_comes_back_exactly(
    version: str, part: tuple[str, dict[str, object]], insunits: int, mm: float, word: str
) -> None:
    o, _ = make_shape(*part, "part")
    doc, msp = new(insunits, version)
    write_outline(msp, o, 1 / mm, as_polyline=version == "R2018")
    # an R12 file has no unit: it is said by the job instead
    d = back(doc, word if version == "R12" else None)
    assert d.unit == word
    assert len(d.outlines) == 1
    got = d.outlines[0]
    assert got.area == pytest.approx(o.area, rel=1e-9)
    assert got.bounds() == pytest.approx(o.bounds(), abs=1e-6)
    assert sorted(type(s).__name__ for loop in got.loops for s in loop.segments) == sorted(
        type(s).__name__ for loop in o.loops for s in loop.segments
    )
    assert codes(d) <= {"edges-joined"}


@settings(deadline=None, max_examples=40)
@given(
    st.floats(-3, 3).filter(lambda b: abs(b) > 1e-3),
    st.floats(-500, 500),
    st.floats(-500, 500),
)
def test_bulge_agrees_with_the_library(bulge: float, x: float, y: float) -> None:
    doc, msp = new()
    ends = [(x, y), (x + 80, y + 30)]
    e = msp.add_lwpolyline([(*ends[0], bulge), (*ends[1], 0)], format="xyb", close=True)
    d = back(doc)
    area = 0.0
    pts = list(dxf_path.make_path(e).flattening(1e-4))
    for a, b in itertools.pairwise(pts):
        area += (a.x * b.y - b.x * a.y) / 2
    if abs(area) > 1:
        assert d.outlines[0].area == pytest.approx(abs(area), rel=1e-3)
    kinds = {type(s) for o in d.outlines for s in o.outer.segments}
    assert kinds <= {Arc, Line}


@settings(deadline=None, max_examples=40)
@given(st.floats(5, 400), st.floats(0.3, 1.0), st.floats(0, 6.3), st.booleans())
def test_ellipse_area(a: float, ratio: float, turn: float, below: bool) -> None:
    doc, msp = new()
    axis = (a * math.cos(turn), a * math.sin(turn))
    msp.add_ellipse((30, 40), axis, ratio, dxfattribs={"extrusion": (0, 0, -1 if below else 1)})
    d = back(doc)
    (o,) = d.outlines
    want = math.pi * a * a * ratio
    # vertices within 0.01 mm of the curve
    assert abs(o.area - want) <= 0.01 * o.outer.length
    assert len(o.outer.segments) == 1
    assert isinstance(o.outer.segments[0], Arc) == (ratio > 1 - 0.02 / a)


def test_half_ellipse_goes_the_right_way_round_seen_from_below() -> None:
    for side, top in ((1, 40 + 50), (-1, 40)):
        doc, msp = new()
        msp.add_ellipse((30, 40), (100, 0), 0.5, 0, math.pi, dxfattribs={"extrusion": (0, 0, side)})
        msp.add_line((-70, 40), (130, 40))
        (o,) = back(doc).outlines
        assert o.bounds()[3] == pytest.approx(top, abs=0.02)
        assert o.area == pytest.approx(math.pi * 100 * 50 / 2, rel=1e-3)


def test_spline_stays_within_a_hundredth() -> None:
    doc, msp = new()
    e = msp.add_spline([(0, 0), (40, 60), (100, 30), (140, 80), (200, 0)], degree=3)
    msp.add_line((200, 0), (0, 0))
    (o,) = back(doc).outlines
    fine = list(e.construction_tool().approximate(4000))
    boundary = polygon(o, 0.001).exterior
    import shapely

    assert max(boundary.distance(shapely.Point(p.x, p.y)) for p in fine) <= 0.0101


def test_closed_spline_circle_is_a_circle() -> None:
    from ezdxf.math import ConstructionArc, rational_bspline_from_arc

    doc, msp = new()
    arc = ConstructionArc((0, 0), 60, 0, 360)
    msp.add_spline(dxfattribs={"degree": 2}).apply_construction_tool(
        rational_bspline_from_arc(arc.center, arc.radius, arc.start_angle, arc.end_angle)
    )
    d = back(doc)
    (edge,) = d.outlines[0].outer.segments
    assert isinstance(edge, Arc)
    assert edge.radius == pytest.approx(60, abs=0.01)
    assert "edges-joined" in codes(d)


@settings(deadline=None, max_examples=30)
@given(
    st.floats(-170, 170),
    st.sampled_from([1.0, -1.0, 2.0, -0.5]),
    st.sampled_from([1.0, -1.0, 2.0, 0.5]),
    st.integers(1, 3),
    st.integers(1, 3),
)
def test_blocks_turned_scaled_mirrored_and_in_rows(turn: float, sx: float, sy: float, rows: int, columns: int) -> None:
    doc, msp = new()
    inner = doc.blocks.new("HOLE")
    inner.add_circle((0, 0), 5)
    block = doc.blocks.new("PLATE")
    block.add_lwpolyline([(0, 0, 0), (40, 0, 0.5), (40, 30, 0), (0, 30, 0)], format="xyb", close=True)
    block.add_blockref("HOLE", (20, 15), dxfattribs={"xscale": 0.8, "yscale": 0.8})
    msp.add_blockref(
        "PLATE",
        (100, -50),
        dxfattribs={
            "xscale": sx,
            "yscale": sy,
            "rotation": turn,
            "row_count": rows,
            "column_count": columns,
            "row_spacing": 200,
            "column_spacing": 200,
        },
    )
    d = back(doc)
    assert len(d.outlines) == rows * columns
    one = (40 * 30 + Arc((0, 0), 1, 0, 1).radius * 0) * 1.0
    sweep = 4 * math.atan(0.5)
    r = 30 / (2 * math.sin(sweep / 2))
    one += r * r * (sweep - math.sin(sweep)) / 2 - math.pi * 16
    for o in d.outlines:
        assert len(o.holes) == 1
        assert o.area == pytest.approx(one * abs(sx * sy), rel=1e-3)
        if abs(sx) == abs(sy):
            assert isinstance(o.holes[0].segments[0], Arc)
            assert o.area == pytest.approx(one * abs(sx * sy), rel=1e-9)


def test_arc_seen_from_below_is_mirrored() -> None:
    doc, msp = new()
    # in its own plane x runs the other way: the arc lies left of the world's y axis, bulging left
    msp.add_arc((100, 0), 50, -90, 90, dxfattribs={"extrusion": (0, 0, -1)})
    msp.add_line((-100, -50), (-100, 50))
    (o,) = back(doc).outlines
    assert o.bounds() == pytest.approx((-150, -50, -100, 50), abs=0.01)
    assert o.area == pytest.approx(math.pi * 2500 / 2, rel=1e-9)


def test_polyline_seen_from_below_is_mirrored() -> None:
    doc, msp = new()
    msp.add_lwpolyline(
        [(10, 0, 0), (60, 0, 1), (60, 40, 0), (10, 40, 0)],
        format="xyb",
        close=True,
        dxfattribs={"extrusion": (0, 0, -1)},
    )
    (o,) = back(doc).outlines
    assert o.bounds() == pytest.approx((-80, 0, -10, 40), abs=0.01)
    assert o.area == pytest.approx(50 * 40 + math.pi * 400 / 2)


def test_tilted_and_sloping_entities_are_told() -> None:
    doc, msp = new()
    msp.add_circle((0, 0), 40)
    msp.add_circle((0, 0), 20, dxfattribs={"extrusion": (0, 1, 1)})
    msp.add_line((0, 0, 0), (10, 0, 5))
    d = back(doc)
    assert len(d.outlines) == 1
    f = next(f for f in d.findings if f.code == "not-flat")
    assert "1 CIRCLE, 1 LINE" in f.message


def test_heights_are_laid_flat_and_told() -> None:
    doc, msp = new()
    msp.add_circle((0, 0, 0), 40)
    msp.add_circle((0, 0, 12), 20)
    d = back(doc)
    assert len(d.outlines[0].holes) == 1
    assert "2 heights from 0 to 12 mm" in next(f.message for f in d.findings if f.code == "heights-flattened")


def test_hidden_layers_and_pieces_are_left_out_and_told() -> None:
    doc, msp = new()
    doc.layers.add("FROZEN").freeze()
    doc.layers.add("OFF").off()
    doc.layers.add("LOCKED").lock()
    msp.add_circle((0, 0), 50, dxfattribs={"layer": "LOCKED"})
    msp.add_circle((0, 0), 40, dxfattribs={"layer": "FROZEN"})
    msp.add_circle((0, 0), 30, dxfattribs={"layer": "off"})
    msp.add_circle((0, 0), 20, dxfattribs={"invisible": 1})
    block = doc.blocks.new("B")
    block.add_circle((0, 0), 10)
    msp.add_blockref("B", (0, 0), dxfattribs={"layer": "FROZEN"})
    d = back(doc)
    assert len(d.outlines) == 1
    assert d.outlines[0].holes == ()
    message = next(f.message for f in d.findings if f.code == "hidden-skipped")
    assert "2 FROZEN (frozen)" in message
    assert "1 pieces set invisible" in message


def test_what_is_not_an_outline_is_counted() -> None:
    doc, msp = new()
    msp.add_circle((0, 0), 50)
    msp.add_text("cut two")
    msp.add_mtext("and grind")
    msp.add_point((1, 1))
    msp.add_hatch().paths.add_polyline_path([(0, 0), (10, 0), (10, 10)])
    msp.add_solid([(0, 0), (1, 0), (0, 1), (1, 1)])
    d = back(doc)
    assert dict(d.found) == {"CIRCLE": 1, "HATCH": 1, "MTEXT": 1, "POINT": 1, "SOLID": 1, "TEXT": 1}
    assert "1 HATCH, 1 MTEXT, 1 POINT, 1 TEXT" in next(f.message for f in d.findings if f.code == "kind-left-aside")
    assert "1 SOLID" in next(f.message for f in d.findings if f.code == "kind-not-read")


def test_units_said_assumed_and_overruled() -> None:
    doc, msp = new(0)
    msp.add_lwpolyline([(0, 0), (4, 0), (4, 3), (0, 3)], close=True)
    d = back(doc)
    assert "unit-assumed" in codes(d)
    assert d.outlines[0].area == pytest.approx(12)
    assert back(doc, "in").outlines[0].area == pytest.approx(12 * 25.4**2)
    assert codes(back(doc, "in")) == set()
    doc.header["$LUNITS"] = 4
    assert back(doc).unit == "in"
    doc.header["$INSUNITS"] = 4
    d = back(doc, "in")
    assert codes(d) == {"unit-overruled"}
    with pytest.raises(LaglineError, match="not a unit"):
        back(doc, "furlong")


def test_polyline_kinds() -> None:
    doc, msp = new(version="R2000")
    msp.add_polyline2d(
        [(0, 0, 0, 0, 0), (100, 0, 0, 0, 1), (100, 60, 0, 0, 0), (0, 60, 0, 0, 0)], format="xyseb", close=True
    )
    msp.add_polyline3d([(10, 10, 7), (40, 10, 7), (40, 40, 7)], close=True)
    msp.add_polyline3d([(50, 10, 7), (60, 10, 8), (60, 40, 7)], close=True)
    msp.add_polymesh((3, 3))
    d = back(doc)
    (o,) = d.outlines
    assert o.area == pytest.approx(100 * 60 + math.pi * 900 / 2 - 450)
    assert "POLYLINE" in next(f.message for f in d.findings if f.code == "not-flat")


def test_block_that_holds_itself_or_is_missing() -> None:
    doc, msp = new()
    loop = doc.blocks.new("LOOP")
    loop.add_circle((0, 0), 5)
    loop.add_blockref("LOOP", (20, 0))
    msp.add_blockref("LOOP", (0, 0))
    msp.add_blockref("NOWHERE", (0, 0))
    d = back(doc)
    assert len(d.outlines) >= 1
    said = " ".join(f.message for f in d.findings if f.code == "piece-unusable")
    assert "holds itself" in said
    assert "NOWHERE" in said


def test_bomb_of_blocks_is_refused() -> None:
    doc, msp = new()
    doc.blocks.new("B0").add_circle((0, 0), 1)
    for i in range(1, 10):
        b = doc.blocks.new(f"B{i}")
        for k in range(10):
            b.add_blockref(f"B{i - 1}", (k, 0))
    msp.add_blockref("B9", (0, 0))
    with pytest.raises(LaglineError, match="unfolds to more than"):
        back(doc)
    doc, msp = new()
    doc.blocks.new("B").add_circle((0, 0), 1)
    rows = {"row_count": 30000, "column_count": 30000, "row_spacing": 3}
    insert = msp.add_blockref("B", (0, 0), dxfattribs={**rows, "column_spacing": 3})
    with pytest.raises(LaglineError, match="unfolds to more than"):
        back(doc)
    # copies with no spacing lie on top of each other
    insert.dxf.row_spacing = insert.dxf.column_spacing = 0
    assert len(back(doc).outlines) == 1
