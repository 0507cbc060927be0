"""Circle arm: the kerf swept about the pivot makes the disc, the hole, the ring and the arc that were asked for.

Arm lengths are the trade's: D/2 + k/2 for a disc, D/2 - k/2 for a hole, pivot to cup arm - R (derived); an arm works
down to about 1.5 to 2 in radius (common practice, no source).
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.cards import words
from lagline.cards.setout_picture import overlaps
from lagline.planning.kit_file import generic_kit
from lagline.records.errors import LaglineError
from lagline.records.figure import Basis, Figure
from lagline.records.plan import ArmGuide, Method
from lagline.records.setout import SetOut
from lagline.setouts import guide_arm
from lagline.trade import arc_sizes
from tests.ask import ask
from tests.sample_plan import sample_plan

FEW = settings(deadline=None, max_examples=15)
CUP = {"thickness": "10", "cup_radius": "11", "kerf": "2"}


def arm(**texts: str) -> SetOut:
    return ask("guide", "arm", {**CUP, **texts}, units="mm")


def test_four_inch_disc_and_hole():
    # 100 mm disc kept: arm 50 + k/2; 100 mm hole kept: 50 - k/2; pivot to near edge of cup: arm - R (derived)
    disc, hole = arm(cut="disc", diameter="100"), arm(cut="hole", diameter="100")
    assert (disc["arm_mm"], disc["tape_mm"]) == pytest.approx((51, 40))
    assert (hole["arm_mm"], hole["tape_mm"]) == pytest.approx((49, 38))
    # the arc is struck in the drop, the run-in no shorter than the plate is thick (common practice, no source)
    assert disc["start_mm"] == pytest.approx(61)
    assert hole["start_mm"] == pytest.approx(39)


@FEW
@given(st.floats(85, 3000), st.floats(0.5, 4), st.sampled_from(("disc", "hole")))
def test_kerf_swept_about_the_pivot_leaves_the_size(diameter, kerf, what):
    s = arm(thickness="6", cut=what, diameter=f"{diameter}", kerf=f"{kerf}")
    side = -1 if what == "disc" else 1
    assert 2 * (s["arm_mm"] + side * kerf / 2) == pytest.approx(diameter, abs=1e-6)
    # what is struck first lies in what drops, the puddle clear of the line
    away = (s["start_mm"] - diameter / 2) * -side
    assert away >= 6 - 1e-9
    assert s["cut_length_mm"] == pytest.approx(math.pi * diameter)


def test_ring_is_its_hole_and_its_outside():
    s = arm(cut="ring", diameter="350", inside_diameter="230")
    hole, disc = arm(cut="hole", diameter="230"), arm(cut="disc", diameter="350")
    assert [r[0] for r in s.table("circles").rows] == ["outside", "hole"]  # while there is a middle to swing from
    for key in ("arm_mm", "tape_mm", "start_mm"):
        assert s["hole_" + key] == hole[key]
        assert s["outside_" + key] == disc[key]
    assert not any(n.key.startswith("bar_") for n in s.numbers)
    assert any("one punch mark" in step for step in s.steps)
    other = arm(cut="ring", diameter="350", inside_diameter="230", first="hole")
    assert [r[0] for r in other.table("circles").rows] == ["hole", "outside"]
    assert other["hole_arm_mm"] == s["hole_arm_mm"]
    assert any("hole has taken the centre" in step for step in other.steps)


def test_nothing_is_laid_across_the_kerf_of_a_hole():
    # every bar long enough to rest beyond the circle lies over its kerf: the drop itself has to stay up
    hole = arm(cut="hole", diameter="230")
    assert any("prop the drop from below" in step for step in hole.steps)
    assert any("bridge" in step for step in hole.steps)
    assert not any("lay a bar" in step for step in hole.steps)
    assert hole.picture is not None
    assert all(a.kind != "guide" for a in hole.picture.areas)


@FEW
@given(st.floats(60, 900), st.floats(20, 400), st.floats(4, 20), st.floats(0.5, 4))
def test_the_bar_across_a_ring_s_hole_rests_on_it_and_clears_the_cup(inner, more, cup, kerf):
    texts = {"cut": "ring", "diameter": f"{2 * (inner + more)}", "inside_diameter": f"{2 * inner}", "first": "hole",
             "cup_radius": f"{cup}", "kerf": f"{kerf}"}  # fmt: skip
    # the cup's near edge passes here: tip on the kerf's centre, less the cup
    free = inner + more + kerf / 2 - cup - guide_arm.CLEAR_MM
    if math.hypot(inner + guide_arm.REST_MM, guide_arm.BAR_WIDE_MM / 2) > free:
        with pytest.raises(LaglineError, match="strikes every bar") as refused:
            arm(**texts)
        assert "outside first" in refused.value.findings[0].allowed
        assert arm(**texts | {"first": "outside"})["outside_arm_mm"] > inner
        return
    s = arm(**texts)
    assert s["bar_least_mm"] >= 2 * inner + 2 * guide_arm.REST_MM - 1e-6
    assert s["bar_least_mm"] <= s["bar_most_mm"] + 1e-9
    corner = math.hypot(s["bar_most_mm"] / 2, guide_arm.BAR_WIDE_MM / 2)
    assert corner == pytest.approx(free)
    assert s.picture is not None
    bar = shapely.MultiPoint(next(a.points for a in s.picture.areas if a.kind == "guide"))
    # the bar as drawn: past the hole at both ends, its corners inside of the cup's near edge
    assert min(math.hypot(p.x, p.y) for p in bar.geoms) > inner
    assert max(math.hypot(p.x, p.y) for p in bar.geoms) < free + guide_arm.CLEAR_MM


def test_a_narrow_ring_hangs_on_bridges():
    wide, narrow = (
        arm(cut="ring", diameter="350", inside_diameter=inside, cup_radius="11") for inside in ("230", "305")
    )
    assert any("clamp the ring down" in step for step in wide.steps)
    assert any("two bridges" in step for step in narrow.steps)
    with pytest.raises(LaglineError, match="strikes every bar"):
        arm(cut="ring", diameter="350", inside_diameter="305", first="hole")


def test_a_plan_s_bar_stays_clear_of_the_cup():
    def exactly(value: float) -> Figure:
        return Figure(value, value, value, "mm", "guide.arm", Basis.DEFAULT, "")

    step = next(s for s in sample_plan().steps if s.method is Method.ARM)
    bar = replace(step, guide=ArmGuide((100.0, 100.0), exactly(100.0), exactly(88.9), True, "opening"))
    said = words.guide(bar, "mm")
    assert f"no further than {words.both(88.9 - words.BAR_CLEAR_MM, 'mm')} from the centre" in said


@FEW
@given(st.floats(100, 2000), st.floats(20, 340))
def test_an_arc_is_the_same_however_it_is_given(radius, angle):
    chord, rise = arc_sizes.chord(radius, angle), arc_sizes.rise(radius, angle)
    assert arc_sizes.radius_from_rise(chord, rise) == pytest.approx(radius)
    assert arc_sizes.radius_from_angle(chord, angle) == pytest.approx(radius)
    assert arc_sizes.angle_from_rise(chord, rise) == pytest.approx(angle)
    s = arm(cut="arc", chord=f"{chord:.9f}", rise=f"{rise:.9f}")
    assert s["radius_mm"] == pytest.approx(radius, rel=1e-6)
    # pivot to the middle of the arc and to its ends
    assert s["centre_mm"] + s["rise_mm"] == pytest.approx(radius, rel=1e-6)
    assert math.hypot(s["centre_mm"], s["chord_mm"] / 2) == pytest.approx(radius, rel=1e-6)


@FEW
@given(st.floats(60, 500), st.floats(30, 150))
def test_a_corner_s_arc_touches_both_edges(radius, corner):
    s = arm(cut="corner", radius=f"{radius}", angle=f"{corner}")
    # pivot, where it touches, and the corner make a right triangle
    assert s["tangent_mm"] ** 2 + s["edge_mm"] ** 2 == pytest.approx(s["corner_mm"] ** 2)
    assert s["edge_mm"] == pytest.approx(radius)
    assert math.sin(math.radians(corner) / 2) == pytest.approx(radius / s["corner_mm"])


def test_hollow_and_bulging_arcs_are_set_a_kerf_apart():
    inside = arm(cut="arc", radius="200", angle="90")
    outside = arm(cut="arc", radius="200", angle="90", keep="outside")
    assert inside["arm_mm"] - outside["arm_mm"] == pytest.approx(2)


def test_known_arcs():
    # chord 80, rise 20: radius 50 (intersecting chords, derived); a chord of 60 deg is the radius
    assert arc_sizes.radius_from_rise(80, 20) == 50
    assert arc_sizes.radius_from_angle(100, 60) == pytest.approx(100)
    assert arc_sizes.arc_length(100, 180) == pytest.approx(100 * math.pi)


def test_pin_shortens_what_the_tape_reads():
    assert arm(cut="disc", diameter="100", pin="6")["tape_mm"] == pytest.approx(37)


def test_longer_than_the_arm_is_a_trammel():
    most = generic_kit().guides.arm_max_mm
    short, long = arm(cut="disc", diameter=f"{2 * most - 10}"), arm(cut="disc", diameter=f"{2 * most + 10}")
    assert not any(n.key == "beam_mm" for n in short.numbers)
    assert long["beam_mm"] >= long["arm_mm"]
    assert any(f.code == "arm-trammel" for f in long.findings)


def test_smallest_radius_is_taken_and_a_smaller_one_refused():
    least = generic_kit().guides.arm_min_mm
    assert arm(cut="disc", diameter=f"{2 * (least - 1)}")["arm_mm"] == pytest.approx(least)
    with pytest.raises(LaglineError, match="from pivot to tip") as refused:
        arm(cut="disc", diameter=f"{2 * (least - 1.1)}")
    assert "template" in refused.value.findings[0].allowed
    with pytest.raises(LaglineError, match="under the cup"):
        arm(cut="hole", diameter="20")


@pytest.mark.parametrize(
    ("texts", "says"),
    [
        ({"cut": "disc"}, "needs its diameter"),
        ({"cut": "ring", "diameter": "300"}, "needs its inside diameter"),
        ({"cut": "ring", "diameter": "300", "inside_diameter": "300"}, "is no less than"),
        ({"cut": "arc", "chord": "300"}, "1 size of the arc"),
        ({"cut": "arc", "radius": "300", "chord": "300", "rise": "20"}, "3 sizes of the arc"),
        ({"cut": "corner"}, "needs its radius"),
        ({"cut": "corner", "radius": "100", "angle": "180"}, "no corner"),
        ({"cut": "disc", "diameter": "100", "pin": "85"}, "out of range"),
        ({"cut": "disc", "diameter": "85", "pin": "60", "cup_radius": "20"}, "does not go between"),
        ({"cut": "disc", "diameter": "nan"}, "not a length"),
        ({"cut": "disc", "diameter": "0"}, "out of range"),
        ({"cut": "disc", "diameter": "-50"}, "out of range"),
        ({"cut": "disc", "diameter": "900000"}, "out of range"),
        ({"cut": "square", "diameter": "90"}, "not a choice"),
    ],
)
def test_impossible_asks_are_refused_with_what_works(texts, says):
    with pytest.raises(LaglineError, match=says) as refused:
        arm(**texts)
    assert all(f.allowed for f in refused.value.findings)


@pytest.mark.parametrize(
    "texts",
    [
        {"cut": "disc", "diameter": "90"}, {"cut": "disc", "diameter": "1000"}, {"cut": "hole", "diameter": "100"},
        {"cut": "ring", "diameter": "350", "inside_diameter": "230"}, {"cut": "arc", "chord": "600", "rise": "75"},
        {"cut": "ring", "diameter": "350", "inside_diameter": "90"},
        {"cut": "ring", "diameter": "350", "inside_diameter": "305"},
        {"cut": "ring", "diameter": "350", "inside_diameter": "230", "first": "hole"},
        {"cut": "arc", "chord": "250", "rise": "125", "keep": "outside"},
        {"cut": "arc", "radius": "90", "angle": "300"}, {"cut": "corner", "radius": "75"},
        {"cut": "corner", "radius": "75", "angle": "60", "keep": "outside"},
    ],
)  # fmt: skip
@pytest.mark.parametrize("units", ["in", "mm"])
def test_no_words_on_each_other(texts, units):
    texts = {k: f"{v} mm" if v[0].isdigit() and k != "angle" else v for k, v in {**CUP, **texts}.items()}
    s = ask("guide", "arm", texts, units=units)
    assert s.picture is not None
    assert overlaps(s.picture) == ()
