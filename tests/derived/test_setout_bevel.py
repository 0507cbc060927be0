"""One bevelled edge: the torch put down numerically against its guide, the part measured in section, laws."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Polygon

from lagline.planning.kit_file import generic_kit
from lagline.records.errors import LaglineError
from lagline.records.figure import Basis, Figure
from lagline.records.finding import Severity
from lagline.setouts.bevel import CUT
from lagline.setouts.bevel_picture import kept_outline
from lagline.trade import bevel_edge, bevel_guide, guide
from tests.setout_bench import typed

ANGLES = st.floats(5, 55)
CUPS = st.floats(4, 20)
KERFS = st.floats(0.8, 3)


def torch_band(foot: float, tilt_deg: float, half: float, low: float, high: float) -> Polygon:
    """A band about a torch that leans to the right for a positive tilt, standing on the plate at ``foot``."""
    a = math.radians(tilt_deg)
    u, n = (math.sin(a), math.cos(a)), (math.cos(a), -math.sin(a))
    corners = [(low, -half), (low, half), (high, half), (high, -half)]
    return Polygon([(foot + s * u[0] + w * n[0], s * u[1] + w * n[1]) for s, w in corners])


def foot_against(face: float, height: float, tilt_deg: float, cup: float, arc: float) -> float:
    """Slide a torch from the left until its cup touches a guide whose upright face is at ``face``: where it stands."""
    bar = Polygon([(face, 0), (face + 500, 0), (face + 500, height), (face, height)])
    low, high = face - 400.0, face + 400.0
    for _ in range(80):
        mid = (low + high) / 2
        if torch_band(mid, tilt_deg, cup, arc, arc + 300).intersects(bar):
            high = mid
        else:
            low = mid
    return low


def kerf_edges(foot: float, tilt_deg: float, kerf: float) -> tuple[float, float]:
    """Where the kerf's two edges lie on the plate."""
    band = torch_band(foot, tilt_deg, kerf / 2, -300, 300)
    top = band.intersection(LineString([(foot - 400, 0), (foot + 400, 0)]))
    return top.bounds[0], top.bounds[2]


@given(ANGLES, CUPS, KERFS, st.floats(0, 6), st.floats(0, 25), st.booleans())
@settings(deadline=None, max_examples=40)
def test_a_torch_run_along_the_guide_it_leans_over_cuts_on_the_line(a, cup, kerf, longer, height, kept):
    arc = bevel_guide.least_arc(cup, a) + longer
    assume(bevel_guide.touch_up(cup, a, arc, height) >= 0)
    # the guide to the right of the line; kept metal on the right when the guide lies on the part
    away = bevel_guide.over(cup, kerf, a, height, kept=kept)
    left, right = kerf_edges(foot_against(away, height, a, cup, arc), a, kerf)
    assert (right if kept else left) == pytest.approx(0, abs=1e-6)


@given(ANGLES, CUPS, KERFS, st.floats(0, 6), st.floats(0, 25), st.booleans())
@settings(deadline=None, max_examples=40)
def test_a_torch_run_along_the_guide_it_leans_away_from_cuts_on_the_line(a, cup, kerf, longer, taller, kept):
    arc = bevel_guide.least_arc(cup, a) + longer
    height = bevel_guide.rim_height(cup, a, arc) + taller
    away = bevel_guide.away(cup, kerf, a, arc, kept=kept)
    left, right = kerf_edges(foot_against(away, height, -a, cup, arc), -a, kerf)
    assert (right if kept else left) == pytest.approx(0, abs=1e-6)


@given(ANGLES, CUPS, st.floats(0.5, 6))
@settings(deadline=None, max_examples=30)
def test_a_guide_lower_than_the_rim_does_not_hold_a_torch_that_leans_away(a, cup, longer):
    arc = bevel_guide.least_arc(cup, a) + longer
    low = bevel_guide.rim_height(cup, a, arc) * 0.8
    assert foot_against(0, low, -a, cup, arc) > -bevel_guide.away(cup, 0, a, arc, kept=True) + 1e-6


@given(ANGLES, CUPS)
@settings(deadline=None, max_examples=30)
def test_the_rim_touches_the_plate_at_the_least_arc(a, cup):
    least = bevel_guide.least_arc(cup, a)
    assert torch_band(0, a, cup, least, least + 50).bounds[1] == pytest.approx(0, abs=1e-9)


@given(CUPS, KERFS, st.floats(0, 20), st.booleans())
@settings(deadline=None, max_examples=30)
def test_upright_it_is_the_ordinary_guide(cup, kerf, height, kept):
    plain = guide.kept_side(cup, kerf) if kept else guide.drop_side(cup, kerf)
    assert bevel_guide.over(cup, kerf, 0, height, kept=kept) == pytest.approx(plain)
    assert bevel_guide.away(cup, kerf, 0, 3, kept=kept) == pytest.approx(plain)


@given(ANGLES, CUPS, KERFS)
@settings(deadline=None, max_examples=30)
def test_kept_and_drop_differ_by_the_kerf_on_the_plate(a, cup, kerf):
    over = [bevel_guide.over(cup, kerf, a, 8, kept=k) for k in (False, True)]
    assert over[0] - over[1] == pytest.approx(kerf / math.cos(math.radians(a)))


def test_the_tallest_guide_bears_at_the_end_of_the_cup():
    most = bevel_guide.tallest(11, 30, 7, 25)
    assert bevel_guide.touch_up(11, 30, 7, most) == pytest.approx(25)


def test_the_spread_of_a_guide_distance_holds_every_one_thing_moved():
    def f(v, lo, hi, key="kit.value"):
        return Figure(v, lo, hi, "mm", key, Basis.KIT, "here")

    lean = bevel_guide.Lean(f(11, 10, 13), f(2, 1.8, 2.3), f(7, 6.5, 8), 30.0)
    d = bevel_guide.guide_figure(lean, 10, kept=True, leans_over=False)
    for r, k, s in ((10, 2, 7), (13, 2, 7), (11, 1.8, 7), (11, 2.3, 7), (11, 2, 6.5), (11, 2, 8)):
        assert d.low - 1e-9 <= bevel_guide.away(r, k, 30, s, kept=True) <= d.high + 1e-9
    rests = bevel_guide.Lean(lean.cup, f(2, 2, 2), f(bevel_guide.least_arc(11, 30), 5, 8, "bevel.least-arc"), 30.0)
    d = bevel_guide.guide_figure(rests, 10, kept=True, leans_over=False)
    # on its rim the arc goes with the cup: R cos 2a/cos a
    ends = [
        r * math.cos(math.radians(60)) / math.cos(math.radians(30)) - 1 / math.cos(math.radians(30)) for r in (10, 13)
    ]
    assert (d.low, d.high) == pytest.approx(tuple(ends))


@st.composite
def edges(draw):
    t = draw(st.floats(3, 40))
    land = draw(st.floats(0, 0.6)) * t
    at = draw(st.sampled_from(("bottom", "top", "both")))
    a, a2 = draw(ANGLES), draw(ANGLES)
    depth = draw(st.floats(0.1, 0.9)) * (t - land)
    return bevel_edge.prep(t, land, at, a, depth if at == "both" else None, a2)


@given(edges())
@settings(deadline=None, max_examples=40)
def test_the_part_in_section_has_its_land_and_its_lines(e):
    outline = Polygon(kept_outline(e, 200))
    assert outline.is_valid
    tan, tan2 = math.tan(math.radians(e.angle_deg)), math.tan(math.radians(e.second_deg))
    gone = (e.depth_mm**2 * tan + e.second_mm**2 * tan2) / 2
    assert outline.area == pytest.approx(200 * e.thickness_mm - gone)
    # the mark-out line and the foot of the land lie on one cut face
    inner = bevel_edge.set_in(e)
    foot = e.land_mm if e.land_at == "top" else e.depth_mm
    assert math.degrees(math.atan2(abs(inner), foot)) == pytest.approx(e.angle_deg) if foot else inner == 0


@given(edges())
@settings(deadline=None, max_examples=40)
def test_two_through_cuts_leave_the_ridge_and_the_path_that_shapely_finds(e):
    assume(e.second_mm > 0)
    far, t = 500.0, e.thickness_mm
    tan, tan2 = math.tan(math.radians(e.angle_deg)), math.tan(math.radians(e.second_deg))
    one = Polygon([(-far, 0), (-e.depth_mm * tan, 0), ((t - e.depth_mm) * tan, -t), (-far, -t)])
    two = Polygon([(-far, 0), ((t - e.second_mm) * tan2, 0), (-e.second_mm * tan2, -t), (-far, -t)])
    left = one.intersection(two)
    assert left.bounds[2] == pytest.approx(max(bevel_edge.tip_of_two(e), 0), abs=1e-6)
    second_face = LineString([((t - e.second_mm) * tan2, 0), (-e.second_mm * tan2, -t)])
    assert one.intersection(second_face).length == pytest.approx(bevel_edge.second_path(e), abs=1e-6)


@given(st.floats(4, 40), st.floats(0, 0.5), ANGLES)
@settings(deadline=None, max_examples=30)
def test_ground_or_cut_square_first_the_edge_is_the_same(t, share, a):
    e = bevel_edge.prep(t, share * t, "bottom", a)
    # cut through from the mark-out line, the face reaches the bottom beyond the root line by what is ground off
    tan = math.tan(math.radians(a))
    assert -bevel_edge.set_in(e) + t * tan == pytest.approx(bevel_edge.feather(e.land_mm, a), abs=1e-9)


def test_the_example_is_a_gusset_that_goes():
    s = typed(CUT, **dict(CUT.example))
    assert s["through_mm"] == pytest.approx(12.7 / math.cos(math.radians(30)))
    assert s["mark_mm"] == pytest.approx(8.5 * 25.4 - (12.7 - 25.4 / 16) * math.tan(math.radians(30)))
    assert s["root_line_mm"] == pytest.approx(8.5 * 25.4)
    assert not [f for f in s.findings if f.severity is Severity.NO_GO]
    assert s.picture is not None


@pytest.mark.parametrize(
    ("at", "measured", "more"),
    [("bottom", "top", 1), ("bottom", "bottom", 0), ("top", "top", 0), ("top", "bottom", 1), ("both", "top", 0.5)],
)
@pytest.mark.parametrize("ends", [1, 2])
def test_the_length_comes_out_where_it_is_measured(at, measured, more, ends):
    s = typed(
        CUT, "mm", thickness="12", angle="30", land="2", land_at=at, finished_length="300", measured_at=measured,
        ends=str(ends),
    )  # fmt: skip
    tan = math.tan(math.radians(30))
    assert s["root_line_mm"] == pytest.approx(300 + ends * more * 10 * tan)
    out = {"bottom": -10, "top": 2, "both": -5}[at] * tan
    assert s["mark_mm"] == pytest.approx(s["root_line_mm"] + ends * out)


@pytest.mark.parametrize(
    ("texts", "field", "better"),
    [
        ({"land": "1/2"}, "land", "under"),
        ({"angle": "0"}, "angle", "guide straight"),
        ({"angle": "90"}, "angle", "grind"),
        ({"angle": "-30"}, "angle", ""),
        ({"angle": "nan"}, "angle", ""),
        ({"angle": "2"}, "angle", "5 to 60"),
        ({"thickness": "-1/2"}, "thickness", ""),
        ({"land_at": "top", "land": "1/8", "land_by": "square-first"}, "land by", "turn the plate over"),
        ({"depth": "1/4"}, "depth", "land at both"),
        ({"land_at": "both", "depth": "1/2"}, "depth", "under"),
        ({"land_at": "both", "second_angle": "75"}, "second angle", "5 to 60"),
        ({"standoff": "1/16"}, "standoff", "or more"),
        ({"guide_height": "1/4", "guide_on": "drop"}, "guide height", "packed up"),
        ({"guide_height": "3", "guide_on": "kept"}, "guide height", "or less"),
        ({"guide_on": "drop", "angle": "45", "guide_height": "1"}, "guide height", "leans over"),
        ({"guide_on": "drop", "land_by": "square-first"}, "guide on", "kept"),
        ({"finished_length": "1/4", "measured_at": "root"}, "finished length", "longer part"),
    ],
)
def test_what_cannot_be_is_said_with_what_would(texts, field, better):
    with pytest.raises(LaglineError) as error:
        typed(CUT, **({"thickness": "1/2", "angle": "30"} | texts))
    found = [f for f in error.value.findings if f.where.endswith(field)]
    assert found, [str(f) for f in error.value.findings]
    assert better in found[0].allowed


def test_a_guide_that_serves_on_one_side_only_is_given_there():
    s = typed(CUT, thickness="1/2", angle="30", guide_height="1/4")
    keys = {n.key for n in s.numbers}
    assert "offset_kept_mm" in keys
    assert "offset_drop_mm" not in keys
    assert any(f.code == "guide-height" and "too low" in f.message for f in s.findings)


def test_a_bevel_beyond_the_set_names_what_would_cut_it():
    # 5/8 is what the set is rated for square; 1/2 at 45 deg is 0.71 in, beside a land of 1/8 it is 0.53
    s = typed(CUT, thickness="1/2", angle="45", land="1/8", amps=65.0)
    (beyond,) = [f for f in s.findings if f.code in ("bevel-beyond-set", "bevel-rough")]
    assert "square first" in beyond.allowed
    assert "half from either face" in beyond.allowed
    # and each way it names is one that goes
    for way in ({}, {"land_at": "both"}):
        again = typed(CUT, thickness="1/2", angle="45", land="1/8", land_by="square-first", **way)
        assert {r[-1] for r in again.table("cuts").rows} == {"clean"}
    thick = typed(CUT, thickness="5/8", angle="45", land="1/8")
    (beyond,) = [f for f in thick.findings if f.code == "bevel-beyond-set"]
    assert beyond.allowed.startswith('cut the edge square first, then bevel half from either face: 23/64"')
    more = typed(CUT, thickness="1/2", angle="30", amps=30.0)
    (beyond,) = [f for f in more.findings if f.code == "bevel-beyond-set"]
    amps = float(beyond.allowed.split(" A or more")[0])
    at = typed(CUT, thickness="1/2", angle="30", amps=amps)
    assert at.table("cuts").rows[0][-1] == "clean"
    below = typed(CUT, thickness="1/2", angle="30", amps=amps - 5)
    assert below.table("cuts").rows[0][-1] != "clean"


def test_the_second_bevel_has_its_own_line_and_tilt():
    s = typed(
        CUT, "mm", thickness="25", angle="30", second_angle="45", land="3", land_at="both", depth="14",
        land_by="square-first",
    )  # fmt: skip
    assert s["second_depth_mm"] == pytest.approx(8)
    assert s["second_set_in_mm"] == pytest.approx(8)
    assert s["second_through_mm"] == pytest.approx(8 * math.sqrt(2))
    assert s["second_offset_kept_mm"] > s["offset_kept_mm"]
    assert [r[0] for r in s.table("cuts").rows] == ["square cut", "first bevel", "second bevel"]


def test_on_the_other_side_of_the_kerf_it_says_so():
    side = generic_kit().torch.square_side
    other = "left" if side == "right" else "right"
    s = typed(CUT, thickness="3/8", angle="30", kept=other)
    assert any(f.code == "kept-side" for f in s.findings)
    assert not any(f.code == "kept-side" for f in typed(CUT, thickness="3/8", angle="30", kept=side).findings)


@given(st.sampled_from(("1/4", "3/8", "1/2", "1")), st.integers(5, 60), st.sampled_from(("bottom", "top", "both")),
       st.sampled_from(("0", "1/16", "1/8")), st.sampled_from(("right", "left")),
       st.sampled_from(("steel", "stainless", "aluminium")))  # fmt: skip
@settings(deadline=None, max_examples=12)
def test_any_usual_edge_is_answered_whole(t, a, at, land, kept, metal):
    # guides on both sides are asked for, and no edge here is impossible: it is always answered
    s = typed(CUT, thickness=t, angle=str(a), land_at=at, land=land, kept=kept, metal=metal)
    assert all(f.allowed for f in s.findings if f.severity is not Severity.NOTE)
    assert len({n.key for n in s.numbers}) == len(s.numbers)
    assert s.picture is not None
    for area in s.picture.areas:
        assert Polygon(area.points).is_valid
    parts = [Polygon(x.points) for x in s.picture.areas]
    for i, p in enumerate(parts):
        assert all(p.intersection(q).area < 1e-6 for q in parts[i + 1 :])


@given(st.floats(4, 40), st.floats(0.1, 0.6), ANGLES, st.floats(-0.5, 0.5))
@settings(deadline=None, max_examples=30)
def test_a_line_that_is_off_changes_the_land(t, share, a, off):
    e = bevel_edge.prep(t, share * t, "bottom", a)
    # the face through a line that lies further in meets the square edge lower down
    met = (bevel_edge.set_in(e) + off) / math.tan(math.radians(a))
    assert (t - met) - e.land_mm == pytest.approx(-math.copysign(bevel_edge.land_wander(abs(off), a), off), abs=1e-9)


def test_what_a_straightedge_does_to_a_land_is_told():
    s = typed(CUT, thickness="1/2", angle="30", land="1/16", land_by="square-first")
    (n,) = [n for n in s.numbers if n.key == "land_wander_mm"]
    # +-1/32 to 1/16 in on a clamped straightedge: common practice, no source
    assert (n.figure.low, n.figure.high) == pytest.approx((0.8 / math.tan(math.pi / 6), 1.6 / math.tan(math.pi / 6)))
    assert any(f.code == "land-wander" for f in s.findings)
    thin = typed(CUT, thickness="3/16", angle="30", land="1/16", land_by="square-first")
    assert any(f.code == "bevel-sliver" for f in thin.findings)
    assert not any(f.code == "bevel-sliver" for f in s.findings)
