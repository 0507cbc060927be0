"""Figures of the two formats and of a standard section, against what is published about them."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from lagline.records.geometry import Arc
from lagline.shapes.arcs import from_bulge
from lagline.shapes.dxf_read import _INSUNITS
from lagline.shapes.read import read_bytes, read_drawing
from lagline.shapes.units import UNIT_MM

FOLDER = Path(__file__).parents[1] / "drawings"


def test_unit_codes() -> None:
    """DXF reference, header variable $INSUNITS: the code's own name, and its size by definition."""
    from ezdxf.units import InsertUnits

    names = {
        "in": ("Inches", 25.4),
        "ft": ("Feet", 12 * 25.4),
        "mm": ("Millimeters", 1),
        "cm": ("Centimeters", 10),
        "m": ("Meters", 1000),
        "microinch": ("Microinches", 25.4e-6),
        "mil": ("Mils", 0.0254),
        "yd": ("Yards", 36 * 25.4),
        "micron": ("Microns", 0.001),
        "dm": ("Decimeters", 100),
    }
    assert set(_INSUNITS.values()) == set(names)
    for code, word in _INSUNITS.items():
        name, mm = names[word]
        assert InsertUnits(code).name == name
        assert UNIT_MM[word] == pytest.approx(mm)


def test_bulge_is_the_tangent_of_a_quarter_of_the_sweep() -> None:
    """DXF reference, group 42: tangent of 1/4 of the included angle, negative when clockwise, 1 a semicircle."""
    half = from_bulge((0, 0), (10, 0), 1.0)
    assert isinstance(half, Arc)
    assert half.sweep == pytest.approx(math.pi)
    assert half.radius == pytest.approx(5)
    assert half.at(half.angle + half.sweep / 2) == pytest.approx((5, -5))  # to the right of travel
    quarter = from_bulge((0, 0), (10, 0), -math.tan(math.pi / 8))
    assert isinstance(quarter, Arc)
    assert quarter.sweep == pytest.approx(-math.pi / 2)


@pytest.mark.parametrize(
    ("page", "mm"), [("1in", 25.4), ("72pt", 25.4), ("6pc", 25.4), ("2.54cm", 25.4), ("40q", 10.0)]
)
def test_lengths_of_css(page: str, mm: float) -> None:
    """CSS Values and Units 3, absolute lengths: 1 in = 2.54 cm = 72 pt = 6 pc, 1 Q = 1/40 cm."""
    data = f'<svg width="{page}" height="{page}" viewBox="0 0 1 1"><rect width="1" height="1"/></svg>'
    d = read_bytes(data.encode(), "page.svg")
    assert d.outlines[0].outer.length == pytest.approx(4 * mm)


def test_universal_beam_section() -> None:
    """200UB22.3 of AS/NZS 3679.1: depth 202, flange 133, root radius 8.9 mm, area 2870 mm2 (from memory)."""
    (o,) = read_drawing(FOLDER / "200ub22_R12dxf_linesandarcs.dxf").outlines
    x0, y0, x1, y1 = o.bounds()
    assert (y1 - y0, x1 - x0) == pytest.approx((202, 133), abs=0.01)
    assert [s.radius for s in o.outer.segments if isinstance(s, Arc)] == pytest.approx([8.9] * 4)
    assert o.area == pytest.approx(2870, rel=2e-3)


def test_broken_arc_flags_of_the_w3c_suite() -> None:
    """W3C SVG 1.1 test suite, paths-data-20-f: eight plain paths, three again in short form, five with a bad flag."""
    d = read_drawing(FOLDER / "paths-data-20-f.svg")
    cut = [f.message for f in d.findings if f.code == "path-cut-short"]
    assert len(cut) == 5
    assert any("3 pieces drawn twice" in f.message for f in d.findings)
    assert len(d.outlines[0].holes) == 8
