"""Joints against worked figures and the details of codes, each named; all worked areas are derived by hand."""

from __future__ import annotations

import pytest

from lagline.records.finding import Severity
from lagline.setouts.joint import JOINT
from lagline.trade import bevel, weld_joint
from lagline.trade.weld_details import details, fit_up, misses
from lagline.trade.weld_joint import groove_area, joint
from tests.setout_bench import typed


@pytest.mark.parametrize(
    ("kind", "t", "angle", "area"),
    # derived by hand: V R t + (t - f)^2 tan(a/2), single bevel R t + (t - f)^2 tan(a)/2, f 2, R 3
    [("v", 12, 60, 93.74), ("single-bevel", 12, 45, 86.0), ("v", 20, 60, 247.06)],
)
def test_groove_areas(kind, t, angle, area):
    assert groove_area(joint(kind, t, 3, 2, angle)) == pytest.approx(area, abs=0.005)
    s = typed(JOINT, "mm", thickness=str(t), kind=kind, angle=str(angle), land="2", gap="3")
    assert s["groove_mm2"] == pytest.approx(area, abs=0.005)


def test_weld_metal_for_a_metre():
    # 93.74 mm2 at 7850 kg/m3 (EN 1993-1-2, from memory): 0.736 kg/m
    s = typed(JOINT, "mm", thickness="12", angle="60", land="2", gap="3", weld_length="2500")
    assert s["metal_kg_m"] == pytest.approx(0.736, abs=0.0005)
    assert s["metal_kg"] == pytest.approx(2.5 * s["metal_with_cap_kg_m"])


@pytest.mark.parametrize(("deg", "factor"), [(15, 1.035), (30, 1.155), (37.5, 1.26), (45, 1.414)])
def test_the_halves_go_through_more_metal(deg, factor):
    # 1/cos (derived), as printed to three figures
    s = typed(JOINT, "mm", thickness="10", angle=str(2 * deg), gap="3")
    assert s.table("halves").rows[0][4] / 10 == pytest.approx(factor, abs=0.0006)
    assert bevel.true_thickness(10, deg) == pytest.approx(s.table("halves").rows[0][4], abs=0.001)


def test_fillet_of_a_tee():
    # AWS D1.1:2015 note g (seen): T/4, need not exceed 3/8 in
    assert weld_joint.tee_fillet(12.7) == pytest.approx(25.4 / 8)
    assert weld_joint.tee_fillet(38.1) == pytest.approx(25.4 * 3 / 8)
    assert weld_joint.tee_fillet(60) == pytest.approx(25.4 * 3 / 8)


def test_a_fillet_is_half_a_square():
    # z^2/2 (derived): 6 mm leg 18 mm2
    assert weld_joint.fillet_area(6) == 18


def _rows(name: str, position: str = "all"):
    return [d for d in details() if d.name == name and d.position == position]


@pytest.mark.parametrize(
    ("name", "position", "kind", "gap_in", "angle"),
    # AWS D1.1:2020 Fig. 5.1, pages 87 and 88 (seen)
    [
        ("TC-U4a", "all", "single-bevel", 1 / 4, 45),
        ("TC-U4a", "F V OH", "single-bevel", 3 / 8, 30),
        ("TC-U4a-GF", "F", "single-bevel", 3 / 8, 30),
        ("TC-U5a", "all", "k", 1 / 4, 45),
        ("TC-U5a", "F OH", "k", 3 / 8, 30),
        ("B-U5b", "all", "k", 1 / 4, 45),
    ],
)
def test_details_with_one_gap(name, position, kind, gap_in, angle):
    (d,) = _rows(name, position)
    assert d.tag == "seen"
    assert misses(d, joint(kind, 19.05, gap_in * 25.4, 0, angle)) == ()
    assert misses(d, joint(kind, 19.05, gap_in * 25.4 - 0.1, 0, angle))
    assert misses(d, joint(kind, 19.05, gap_in * 25.4, 0, angle - 0.5))
    assert misses(d, joint(kind, 19.05, gap_in * 25.4, 0, angle + 10)) == ()
    assert misses(d, joint(kind, 19.05, gap_in * 25.4, 0, angle + 10.5))


def test_tolerances_of_the_open_single_bevel():
    # AWS D1.1:2020 Fig. 5.1 B-U4b (seen): R 0 to 1/8, +1/16 -0 as detailed, +1/16 -1/8 fit-up; f 0 to 1/8, +1/16 -0;
    # a 45, +10 -0 as detailed, +10 -5 fit-up
    (d,) = _rows("B-U4b")
    assert d.drawn_gap_mm == pytest.approx((0, 3 / 16 * 25.4))
    assert d.drawn_land_mm == pytest.approx((0, 3 / 16 * 25.4))
    assert d.drawn_angle_deg == (45, 55)
    gap, angle = fit_up(d, joint("single-bevel", 12.7, 3.175, 1.5875, 45))
    assert gap == pytest.approx((0, 3 / 16 * 25.4))
    assert angle == (40, 55)


def test_tolerances_with_a_backing_bar():
    # AWS D1.1:2020 Fig. 5.1 TC-U4a (seen): R +1/16 -0 as detailed, +1/4 -1/16 fit-up
    (d,) = _rows("TC-U4a")
    assert d.drawn_gap_mm == pytest.approx((6.35, 6.35 + 25.4 / 16))
    gap, _ = fit_up(d, joint("single-bevel", 12.7, 6.35, 0, 45))
    assert gap == pytest.approx((3 / 16 * 25.4, 1 / 2 * 25.4))


def test_tolerances_of_the_spaced_double_bevel():
    # AWS D1.1:2020 Fig. 5.1 double-bevel with spacer (seen): R +-0 as detailed, +1/4 -0 fit-up; f +1/16 -0
    (d,) = _rows("B-U5b")
    assert d.drawn_gap_mm == pytest.approx((6.35, 6.35))
    gap, _ = fit_up(d, joint("k", 25.4, 6.35, 3.175, 45))
    assert gap == pytest.approx((6.35, 12.7))


@pytest.mark.parametrize(
    ("texts", "code", "says"),
    [
        ({"kind": "single-bevel", "gap": "1/8", "land": "1/16"}, "detail-within", "B-U4b"),
        ({"kind": "single-bevel", "gap": "1/4", "land": "1/16"}, "detail-outside", "gap 1/4"),
        ({"kind": "single-bevel", "gap": "1/8", "angle": "40"}, "detail-outside", "groove angle 40 deg"),
        ({"kind": "single-bevel", "gap": "1/4", "place": "tee"}, "detail-within", "TC-U4a"),
        ({"kind": "single-bevel", "gap": "5/16", "place": "tee", "land": "1/32"}, "detail-outside", "land"),
        # ISO 9692-1:2013 (from memory): V 40 to 60 deg, gap to 4, root face to 2, 3 to 10 mm; bevel 35 to 60
        ({"thickness": "8 mm", "gap": "3 mm", "land": "2 mm", "code": "iso"}, "detail-within", "single V"),
        ({"thickness": "12 mm", "gap": "3 mm", "land": "2 mm", "code": "iso"}, "detail-outside", "thickness"),
        ({"thickness": "8 mm", "gap": "5 mm", "code": "iso"}, "detail-outside", "gap"),
        ({"kind": "single-bevel", "gap": "3 mm", "angle": "30", "code": "iso"}, "detail-outside", "groove angle"),
        ({"thickness": "3/16", "kind": "square", "gap": "1/16"}, "detail-none", "square"),
    ],
)
def test_findings_against_codes(texts, code, says):
    s = typed(JOINT, **({"thickness": "1/2"} | texts))
    (f,) = [f for f in s.findings if f.code.startswith("detail-")]
    assert f.code == code
    assert says in f.message
    assert ("AWS D1.1:2020" in f.message) or ("ISO 9692-1:2013" in f.message)
    assert f.severity is (Severity.CAUTION if code == "detail-outside" else Severity.NOTE)


def test_what_is_from_memory_says_so():
    s = typed(JOINT, thickness="1/2", angle="60", gap="1/8", land="1/16")
    (f,) = [f for f in s.findings if f.code == "detail-within"]
    assert "from memory" in f.message
    assert {d.tag for d in details()} == {"seen", "from memory"}
    assert all(d.tag == "from memory" for d in details() if d.code == "iso")
