"""Laws of bolt circles and holes: dividers close, chords agree with coordinates, refusals name what works."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.cards.setout_picture import overlaps
from lagline.records.errors import LaglineError
from lagline.records.setout import SetOut
from lagline.setouts.families import asks
from lagline.trade import bolt_circle
from tests.ask import ask

FEW = settings(deadline=None, max_examples=20)


def circle(**texts: str) -> SetOut:
    return ask("hole", "circle", texts, units="mm")


@FEW
@given(st.integers(2, 60), st.floats(20, 2000), st.sampled_from(("no", "yes")), st.floats(-90, 90))
def test_chords_are_the_distances_of_the_coordinates(n, d, straddle, start):
    s = circle(holes=f"{n}", circle_diameter=f"{d}", straddle=straddle, start_angle=f"{start:.3f}")
    spots = [(float(r[2]), float(r[3])) for r in s.table("coordinates").rows]
    assert len(spots) == n
    for p in spots:
        assert math.hypot(*p) == pytest.approx(d / 2)
    for k, chord in (r[:2] for r in s.table("checks").rows):
        for i in range(n):
            assert math.dist(spots[i], spots[(i + int(k)) % n]) == pytest.approx(chord)
    assert s["chord_mm"] == pytest.approx(min(math.dist(a, b) for a, b in itertools.combinations(spots, 2)))
    assert s["across_mm"] == pytest.approx(max(math.dist(a, b) for a, b in itertools.combinations(spots, 2)))
    # the sheet's crosses are where the coordinates say
    crosses = [k for k in s.sheets[0].strokes if k.kind == "mark"]
    middles = [((k.points[0][0] + k.points[1][0]) / 2, (k.points[0][1] + k.points[1][1]) / 2) for k in crosses[::2]]
    for p, q in zip(middles, spots, strict=True):
        assert math.dist(p, q) < 1e-9


@FEW
@given(st.integers(3, 40), st.floats(50, 500), st.floats(-0.2, 0.2))
def test_dividers_set_wrong_leave_the_gap_that_is_said(n, d, error):
    chord = bolt_circle.chord_across(d, n) + error
    turned = n * 2 * math.asin(chord / d) - 2 * math.pi
    assert bolt_circle.closing_gap(n, error) == pytest.approx(turned * d / 2, rel=0.05, abs=1e-6)


def test_straddling_holes_lie_off_the_centre_lines():
    on, off = (circle(holes="4", circle_diameter="200", straddle=w).table("coordinates").rows for w in ("no", "yes"))
    assert [r[1] for r in on] == [0, 90, 180, 270]
    assert [r[1] for r in off] == [45, 135, 225, 315]


@pytest.mark.parametrize(
    ("texts", "says"),
    [
        ({"circle_diameter": "200"}, "holes is needed"),
        ({"holes": "8"}, "circle diameter is needed"),
        ({"holes": "1", "circle_diameter": "200"}, "out of range"),
        ({"holes": "3.5", "circle_diameter": "200"}, "not a whole number"),
        ({"holes": "8", "circle_diameter": "nan"}, "not a length"),
        ({"holes": "8", "circle_diameter": "0"}, "out of range"),
        ({"holes": "8", "circle_diameter": "200", "hole_diameter": "80"}, "run into each other"),
        ({"holes": "8", "circle_diameter": "200", "straddle": "perhaps"}, "not a choice"),
    ],
)
def test_impossible_circles_are_refused(texts, says):
    with pytest.raises(LaglineError, match=says) as refused:
        circle(**texts)
    assert all(f.allowed for f in refused.value.findings)


def test_as_many_holes_as_the_refusal_says_do_fit():
    with pytest.raises(LaglineError) as refused:
        circle(holes="8", circle_diameter="200", hole_diameter="80")
    assert "at most 7" in refused.value.findings[0].allowed
    assert circle(holes="7", circle_diameter="200", hole_diameter="80")["land_mm"] > 0


@pytest.mark.parametrize(
    ("texts", "says"),
    [
        ({"diameter": "0"}, "out of range"),
        ({"diameter": "nan"}, "not a length"),
        ({"diameter": "-10"}, "out of range"),
        ({"diameter": "90000"}, "out of range"),
        ({"diameter": "10", "use": "tapped", "pitch": "12"}, "no less than the thread"),
        ({"diameter": "10", "use": "bolt", "pitch": "1.5"}, "tapped hole only"),
        ({"diameter": "10", "use": "rivet"}, "not a choice"),
        ({}, "diameter is needed"),
    ],
)
def test_impossible_holes_are_refused(texts, says):
    with pytest.raises(LaglineError, match=says) as refused:
        ask("hole", "verdict", {"thickness": "10", **texts}, units="mm")
    assert all(f.allowed for f in refused.value.findings)


@FEW
@given(st.floats(1.5, 45), st.floats(2, 400), st.sampled_from(("clearance", "bolt", "fit", "tapped")))
def test_what_is_cut_is_large_enough_and_what_is_set_makes_it(thick, d, use):
    s = ask("hole", "verdict", {"thickness": f"{thick}", "diameter": f"{d}", "use": use}, units="mm")
    verdict = str(s.table("verdict").rows[0][0])
    keys = {n.key for n in s.numbers}
    if verdict.startswith("cut"):
        cut = s["cut_diameter_mm"] if "cut_diameter_mm" in keys else d
        assert cut >= s["least_by_hand_mm"] - 1e-9
        k = ask("guide", "straight", {"thickness": f"{thick}"}, units="mm")["kerf_mm"]
        if "arm_mm" in keys:
            assert 2 * s["arm_mm"] + k == pytest.approx(cut)
        else:
            inset = ask("guide", "straight", {"thickness": f"{thick}"}, units="mm")["offset_kept_mm"]
            assert s["template_opening_mm"] - 2 * inset == pytest.approx(cut)
    elif verdict.startswith("drill"):
        assert d <= 25.4 + 1e-9
        assert s.table("tools").rows[-1][2] == pytest.approx(d, abs=0.001)
    assert s.picture is not None
    assert overlaps(s.picture) == ()


@pytest.mark.parametrize("units", ["in", "mm"])
def test_no_words_on_each_other(units):
    for n, d, hole in ((2, 100, 20), (3, 60, 10), (8, 240, 14), (24, 300, 20), (200, 400, 3)):
        s = ask(
            "hole",
            "circle",
            {"holes": f"{n}", "circle_diameter": f"{d} mm", "hole_diameter": f"{hole} mm"},
            units=units,
        )
        assert overlaps(s.picture) == ()
        assert overlaps(s.sheets[0], full_scale=True) == ()


@pytest.mark.parametrize("name", [a.name for a in asks("hole")])
def test_the_examples_work(name):
    one = next(a for a in asks("hole") if a.name == name)
    s = ask("hole", name, dict(one.example))
    assert s.numbers
    assert s.steps
    assert any(n.main for n in s.numbers)
    assert s.picture is not None
    assert overlaps(s.picture) == ()
