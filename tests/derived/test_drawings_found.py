"""Drawings from other libraries' own packages, judged by those libraries' way of drawing them."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
import shapely
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from lagline.shapes.read import read_drawing
from lagline.shapes.region import polygon

FOLDER = Path(__file__).parents[1] / "drawings"
# outlines, holes in the largest, its width and height [mm], codes of findings; looked at as pictures when chosen
FOUND: dict[str, tuple[int, int, float, float, set[str]]] = {
    "200ub22_R12dxf_linesandarcs.dxf": (1, 0, 133.0, 202.0, set()),
    "200x100x6.dxf": (1, 1, 100.0, 200.0, {"unit-assumed"}),
    "section_holes_complex.dxf": (
        1,
        2,
        50.0,
        33.56,
        {"doubles-removed", "edges-joined", "gaps-closed", "specks-removed"},
    ),
    "section_holes_complex_two.dxf": (2, 2, 50.0, 33.56, {"unit-assumed"}),
    "three_different_sections.dxf": (3, 0, 43.36, 43.36, {"unit-assumed"}),
    "AC1003_LINE_Example.dxf": (
        1,
        1,
        3.5,
        1.5,
        {"edges-joined", "file-damaged", "open-line", "outline-thin", "unit-assumed"},
    ),
    "duplicate_handles.dxf": (
        1,
        2,
        341.99,
        199.5,
        {"edges-joined", "kind-left-aside", "no-length-removed", "open-line", "unit-assumed"},
    ),
    "empty_handles.dxf": (1, 1, 165.0, 340.0, {"file-damaged", "unit-assumed"}),
    "no_layouts.dxf": (1, 1, 200.0, 200.0, set()),
    "negative-scale.svg": (1, 0, 32.0, 28.0, set()),
    "paper_in.svg": (2, 0, 63.5, 63.5, {"unit-assumed"}),
    "paths-data-20-f.svg": (
        1,
        8,
        126.47,
        94.72,
        {"doubles-removed", "kind-left-aside", "open-line", "path-cut-short", "unit-assumed"},
    ),
    "polygons.svg": (2, 0, 66.09, 66.09, {"outline-thin", "unit-assumed"}),
    "shapes-intro-01-t.svg": (1, 11, 126.47, 94.72, {"kind-left-aside", "unit-assumed"}),
    "svg_flatten_sample2.svg": (6, 2, 63.85, 114.17, {"edges-joined", "outlines-cross", "unit-assumed"}),
}


def drawn_by_ezdxf(path: Path) -> BaseGeometry:
    from ezdxf import path as dxf_path
    from ezdxf import recover

    doc, _ = recover.read(io.BytesIO(path.read_bytes()))
    scale = {5: 10.0}.get(doc.header.get("$INSUNITS", 0), 1.0)
    lines = []
    for e in doc.modelspace():
        if e.dxftype() in ("LINE", "ARC", "CIRCLE", "LWPOLYLINE", "POLYLINE", "ELLIPSE", "SPLINE"):
            pts = [(p.x * scale, p.y * scale) for p in dxf_path.make_path(e).flattening(0.002)]
            lines.append(LineString(pts))
    return shapely.union_all(lines)


def drawn_by_svgelements(path: Path) -> BaseGeometry:
    from svgelements import SVG, Shape
    from svgelements import Path as SvgPath

    page = SVG.parse(io.BytesIO(path.read_bytes()), ppi=25.4 if "mm" in path.read_text()[:900] else 96, reify=True)
    mm = 1.0 if "mm" in path.read_text()[:900] else 25.4 / 96
    lines = []
    for e in page.elements():
        if not isinstance(e, Shape):
            continue
        whole = SvgPath(e)
        whole.reify()  # a turned rectangle keeps its transform until then
        for sub in whole.as_subpaths():
            pts = [(s.point(i / 64).x, s.point(i / 64).y) for s in sub if type(s).__name__ != "Move" for i in range(65)]
            if len(pts) > 1:
                lines.append(LineString([(x * mm, (float(page.height) - y) * mm) for x, y in pts]))
    return shapely.union_all(lines)


@pytest.mark.parametrize("name", FOUND)
def test_drawing_is_read_as_its_own_library_draws_it(name: str) -> None:
    outlines, holes, width, height, codes = FOUND[name]
    d = read_drawing(FOLDER / name)
    assert {f.code for f in d.findings} == codes
    assert all(f.where == name for f in d.findings)
    assert len(d.outlines) == outlines
    largest = d.outlines[0]
    assert len(largest.holes) == holes
    x0, y0, x1, y1 = largest.bounds()
    assert (x1 - x0, y1 - y0) == pytest.approx((width, height), abs=0.02)
    judge = drawn_by_ezdxf if name.endswith("dxf") else drawn_by_svgelements
    drawn = judge(FOLDER / name)
    # joining moves ends by up to 0.05 mm, curves are within 0.02 mm
    near = drawn.buffer(0.08)
    for o in d.outlines:
        p = polygon(o)
        assert p.is_valid
        assert near.covers(p.boundary)


def test_every_drawing_is_judged_and_accounted_for() -> None:
    files = {p.name for p in FOLDER.iterdir() if p.suffix in (".dxf", ".svg")}
    assert files == set(FOUND)
    assert sum(n.endswith("dxf") for n in files) >= 5
    assert sum(n.endswith("svg") for n in files) >= 5
    readme = (FOLDER / "README.md").read_text()
    page = (FOLDER.parents[1] / "docs" / "drawings.md").read_text()
    assert all(n in readme and n in page for n in files)


def test_the_drawing_in_inches_is_read_in_inches_when_told() -> None:
    d = read_drawing(FOLDER / "AC1003_LINE_Example.dxf", "in")
    x0, y0, x1, y1 = d.outlines[0].bounds()
    assert (x1 - x0, y1 - y0) == pytest.approx((3.5 * 25.4, 1.5 * 25.4), abs=0.01)
    assert d.outlines[0].holes[0].segments[0].length == pytest.approx(0.6 * 25.4 * 3.14159265, rel=1e-6)
