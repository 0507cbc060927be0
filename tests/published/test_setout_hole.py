"""Holes against the trade's rules: least by hand 1.5 to 2 t and 1/2 in, taper 2 t tan(a), bolt holes cut 1/16 to 1/8 in
under (common practice, no source; taper derived); AISC M2.5, RCSC 3.3 and AISC FAQ 2.2.5 for bolt holes and others."""

from __future__ import annotations

import pytest

from lagline.planning.kit_file import generic_kit
from lagline.records.finding import Severity
from lagline.records.setout import SetOut
from lagline.trade import bolt_circle
from lagline.trade.hole_choice import HoleAsked, Way, choose, cut_under, drill_steps, tap_drill
from tests.ask import ask


def hole(**texts: str) -> SetOut:
    return ask("hole", "verdict", texts)


def way(s: SetOut) -> str:
    return str(s.table("verdict").rows[0][0])


def test_least_by_hand():
    # 1.5-2 x t and never under about 1/2 in (common practice, no source)
    thin, thick = hole(thickness="1/8", diameter="1"), hole(thickness="3/4", diameter="3")
    assert thin["least_by_hand_mm"] == 12.7
    figure = next(n for n in thick.numbers if n.key == "least_by_hand_mm").figure
    assert (figure.low, figure.high) == pytest.approx((1.5 * 19.05, 2 * 19.05))


def test_taper_on_the_diameter():
    # t 12.7 mm: 0.44, 0.89, 1.33 mm at 1, 2, 3 deg (derived): the square side's bevel is 1 to 3 deg by default
    figure = next(n for n in hole(thickness="1/2", diameter="3").numbers if n.key == "taper_mm").figure
    assert (figure.low, figure.value, figure.high) == pytest.approx((0.44, 0.89, 1.33), abs=0.005)


@pytest.mark.parametrize(
    ("texts", "want"),
    [
        ({"thickness": "3/8", "diameter": "3"}, Way.CUT),
        ({"thickness": "3/8", "diameter": "1/2"}, Way.DRILL),  # under the least
        ({"thickness": "3/8", "diameter": "15/16", "use": "bolt"}, Way.DRILL),
        ({"thickness": "3/8", "diameter": "1-1/4", "use": "bolt"}, Way.REAM),  # over the kit's drill, 1 in
        ({"thickness": "3/8", "diameter": "15/16", "use": "bolt", "work": "structural"}, Way.DRILL),
        ({"thickness": "3/8", "diameter": "1-1/4", "use": "bolt", "work": "structural"}, Way.ASK),
        ({"thickness": "3/8", "diameter": "2", "use": "fit"}, Way.REAM),
        ({"thickness": "3/8", "diameter": "3/8", "use": "fit"}, Way.DRILL),
        ({"thickness": "3/8", "diameter": "1/2", "use": "tapped", "pitch": "1/13"}, Way.DRILL),
        ({"thickness": "3/8", "diameter": "2", "use": "tapped", "pitch": "4.5 mm"}, Way.REAM),
        ({"thickness": "3/8", "diameter": "3", "tolerance": "1/64"}, Way.REAM),  # closer than a hand keeps
        ({"thickness": "2", "diameter": "3/4"}, Way.DRILL),  # too thick for the set
    ],
)
def test_which_way(texts, want):
    assert way(hole(**texts)) == want


def test_bolt_holes_name_their_rule():
    # bolt holes: thermal cutting by approval (AISC M2.5, RCSC 3.3, from memory)
    for work in ("shop", "structural"):
        s = hole(thickness="3/8", diameter="15/16", use="bolt", work=work)
        found = next(f for f in s.findings if f.code == "bolt-hole")
        assert "AISC M2.5" in found.message
        assert "RCSC 3.3" in found.message
        assert "engineer" in found.allowed
    asked = {
        r[0]: r[1:] for r in hole(thickness="3/8", diameter="15/16", use="bolt", work="structural").table("ways").rows
    }
    assert asked["ask the engineer"][0] == "yes"
    assert asked["cut it by hand"][0] == "no"


def test_other_holes_in_steelwork_may_be_cut():
    # hand guidance accepted for holes other than bolt holes (AISC FAQ 2.2.5)
    s = hole(thickness="3/8", diameter="3", work="structural")
    assert way(s) == Way.CUT
    assert any("2.2.5" in f.allowed for f in s.findings)


def test_under_and_ream():
    # undersize 1/16 to 1/8 in, then ream or drill (common practice, no source)
    s = hole(thickness="3/8", diameter="2", use="fit")
    figure = next(n for n in s.numbers if n.key == "cut_diameter_mm").figure
    assert (figure.low, figure.high) == pytest.approx((50.8 - 25.4 / 8, 50.8 - 25.4 / 16))
    tools = [(r[1], r[2]) for r in s.table("tools").rows]
    assert tools[0] == ("cut by hand", pytest.approx(figure.value, abs=0.001))
    assert tools[-1] == ("ream", 50.8)


@pytest.mark.parametrize(
    ("thread", "pitch", "drill", "within"),
    [
        (10, 1.5, 8.5, 1e-9),  # M10: 8.5 mm (common practice, no source)
        (12, 1.75, 10.2, 0.06),  # M12: 10.2 mm
        (12.7, 25.4 / 13, 25.4 * 27 / 64, 0.05),  # 1/2-13: 27/64 in
        (19.05, 25.4 / 10, 25.4 * 21 / 32, 0.2),  # 3/4-10: 21/32 in
    ],
)
def test_tap_drills(thread, pitch, drill, within):
    assert tap_drill(thread, pitch) == pytest.approx(drill, abs=within)


def test_six_holes_step_by_the_radius():
    # the radius steps six times round a circle (geometry); four: D/sqrt(2)
    s = ask("hole", "circle", {"holes": "6", "circle_diameter": "200"}, units="mm")
    assert s["chord_mm"] == pytest.approx(100)
    assert bolt_circle.chord_across(200, 4) == pytest.approx(141.421, abs=0.001)


def test_at_the_least_it_may_be_cut_and_just_under_it_is_drilled():
    least = 1.75 * 9.525
    at = hole(thickness="3/8", diameter=f"{least:.6f} mm")
    assert way(at) == Way.CUT
    assert any(f.code == "hole-at-least" for f in at.findings)
    assert way(hole(thickness="3/8", diameter=f"{least - 0.01:.6f} mm")) == Way.DRILL


def test_nothing_open_is_a_no_go():
    s = hole(thickness="2", diameter="6")
    stuck = next(f for f in s.findings if f.code == "hole-stuck")
    assert stuck.severity is Severity.NO_GO
    assert generic_kit().guides.drill_max_mm < 6 * 25.4


def test_choice_never_takes_a_way_that_is_closed():
    for d in (3, 8, 12, 14, 16, 20, 25, 30, 50, 200):
        for use in ("clearance", "bolt", "fit", "tapped"):
            for structural in (False, True):
                for cuts in (False, True):
                    v = choose(HoleAsked(d, 9.5, use, structural, None, 2.0, 0.7, cuts, 25.4))
                    ways = {w: ok for w, ok, _ in v.ways}
                    assert v.stuck or ways[v.way]
                    assert v.why


def test_drills_go_up_to_the_size():
    for d in (3, 6.35, 10, 14, 20, 25.4):
        steps = drill_steps(d)
        assert steps[-1] == d
        assert list(steps) == sorted(set(steps))
    assert cut_under(50).value == pytest.approx(50 - 2.38, abs=0.01)
