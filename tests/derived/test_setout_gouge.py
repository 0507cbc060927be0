"""Laws of the gouging set-out: geometry against integration, passes against heat, refusals that say what works."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.cards.setout_picture import overlaps
from lagline.desk.setout_desk import answer, as_dict
from lagline.records.errors import LaglineError
from lagline.records.finding import Severity
from lagline.records.setout import SetOut
from lagline.setouts.ask import read_given
from lagline.setouts.bench import Bench
from lagline.setouts.gouge import GROOVE
from lagline.shapes.groove import Profile, chord_of, profile_for, segment_area, segment_length
from lagline.trade import gouge, gouge_passes, pace
from tests.kits import generic_kit

KIT = (generic_kit(), ())
profiles = st.builds(Profile, st.floats(2, 12), st.floats(0, 60), st.one_of(st.just(0.0), st.floats(0, 60)))
depths = st.floats(0.5, 40)


def ask(**texts: str) -> SetOut:
    base = {"thickness": "1", "length": "10"} | ({} if texts.get("kind") == "fillet" else {"depth": "3/8"})
    return answer("gouge", "groove", base | texts, kit=KIT)


def refused(**texts: str) -> str:
    with pytest.raises(LaglineError) as caught:
        ask(**texts)
    assert all(f.severity is Severity.REFUSED and f.allowed for f in caught.value.findings)
    return "; ".join(str(f) for f in caught.value.findings)


@given(profiles, depths)
@settings(deadline=None, max_examples=60)
def test_area_is_the_integral_of_the_drawn_line(p: Profile, d: float) -> None:
    assert shapely.Polygon(p.points(d, 400)).area == pytest.approx(p.area(d), rel=2e-4)
    assert p.points(d)[-1][0] * 2 == pytest.approx(p.width(d))
    z = np.linspace(0, d, 40001)
    w = np.array([p.width(float(x)) for x in z[::10]])
    assert float(np.trapezoid(w, z[::10])) == pytest.approx(p.area(d), rel=1e-3)


@given(profiles, depths, st.floats(5, 500), st.integers(0, 2), st.floats(2, 4))
@settings(deadline=None, max_examples=40)
def test_volume_is_the_swept_profile_integrated(p: Profile, d: float, full: float, ramps: int, slope: float) -> None:
    x = (np.arange(4000) + 0.5) / 4000  # midpoints along one ramp, from the face to full depth
    ramp = slope * d * float(np.mean([p.area(float(s) * d) for s in x]))
    assert p.volume(d, full, ramps, slope) == pytest.approx(p.area(d) * full + ramps * ramp, rel=1e-4)


@given(st.floats(2, 20), st.floats(0.05, 0.5))
@settings(deadline=None, max_examples=40)
def test_the_section_of_a_pass_is_an_arc(w: float, shape: float) -> None:
    d = w * shape
    r = (w * w / 4 + d * d) / (2 * d)
    assert chord_of(r, d) == pytest.approx(w)
    assert segment_area(w, d) == pytest.approx(Profile(r).area(d), rel=1e-9)
    line = shapely.LineString(Profile(r).points(d, 600))
    assert line.length == pytest.approx(segment_length(w, d), rel=1e-5)


@given(st.floats(6, 60), st.floats(1, 30), st.floats(2, 10), st.floats(0, 60))
@settings(deadline=None, max_examples=60)
def test_a_groove_of_a_given_width_has_it(w: float, d: float, r: float, flank: float) -> None:
    p = profile_for(w, d, r, flank)
    made = p.width(d)
    assert made == pytest.approx(w, abs=1e-6) or (d < p.radius_mm and made < w + 1e-9)
    assert p.flank_deg <= flank + 1e-9


@given(
    profiles, depths, st.floats(10, 300), st.integers(0, 2), st.floats(2, 4), st.floats(20, 65), st.floats(20, 50),
    st.floats(15, 25), st.sampled_from(["steel", "stainless", "aluminium"]),
)  # fmt: skip
@settings(deadline=None, max_examples=60)
def test_passes_add_up_and_never_take_more_than_the_arc_has(
    p: Profile, d: float, full: float, ramps: int, slope: float, amps: float, ipm: float, lean: float, metal: str
) -> None:
    power = KIT[0].power
    share = gouge.share_figure(metal, power)
    v, arc = ipm * gouge.IPM, gouge.arc_power(power, amps)
    one = gouge.one_pass(metal, share.value * arc, v, lean)
    assert gouge.heat_needed(metal, v, one.width_mm, one.depth_mm) == pytest.approx(share.value * arc, rel=1e-6)
    runs = gouge_passes.plan_passes(p, d, one, full, ramps, slope)
    assert math.fsum(r.area_mm2 for r in runs) == pytest.approx(p.area(d), rel=1e-9)
    assert runs[-1].depth_mm == pytest.approx(d)
    for layer in {r.layer for r in runs}:
        side = [r for r in runs if r.layer == layer]
        assert math.fsum(r.width_mm for r in side) == pytest.approx(p.width(side[0].depth_mm))
        assert math.fsum(r.offset_mm for r in side) == pytest.approx(0, abs=1e-9)
        assert side[0].offset_mm - side[0].width_mm / 2 == pytest.approx(-p.width(side[0].depth_mm) / 2)
    for r in runs:
        assert r.deeper_mm <= one.depth_mm * (1 + 1e-6)
        assert r.width_mm <= one.width_mm * (1 + 1e-6)
        assert (
            v * r.area_mm2 * gouge.melt_heat(metal) <= share.value * arc * (1 + 1e-6) <= share.high * arc * (1 + 1e-6)
        )
    # the runs' own lengths make the volume: layers between, ramps by the section at every depth
    by_layers = 0.0
    layers = runs[-1].layer
    for i in range(layers):
        above, here = d * i / layers, d * (i + 1) / layers
        by_layers += p.volume(here, full + ramps * slope * (d - here), ramps, slope)
        by_layers -= p.volume(above, full + ramps * slope * (d - above), ramps, slope)
    assert by_layers == pytest.approx(p.volume(d, full, ramps, slope), rel=1e-9)


@given(profiles, depths, st.floats(2, 12), st.floats(0.2, 0.5), st.floats(1.0, 2.0), st.floats(1.0, 2.0))
@settings(deadline=None, max_examples=80)
def test_a_bigger_pass_never_takes_more_of_them(
    p: Profile, d: float, w: float, shape: float, wider: float, deeper: float
) -> None:
    def count(width: float, depth: float) -> int:
        return len(gouge_passes.plan_passes(p, d, gouge.Pass(width, depth), 100, 2, 3))

    much = min(w * wider / 2, w * shape * deeper)
    assert count(w * wider, much) <= count(w, min(w * shape, much))


@given(st.floats(20, 64), st.sampled_from(["1/8", "1/4", "1/2", "3/4"]), st.sampled_from(["", "3/4", "1-1/2"]))
@settings(deadline=None, max_examples=12)
def test_more_current_takes_no_more_passes(amps: float, depth: str, width: str) -> None:
    def count(a: float) -> float:
        return ask(depth=depth, width=width, current=f"{a!r}")["passes_count"]

    assert count(65.0) <= count((amps + 65) / 2) <= count(amps)


def test_a_slower_pace_is_taken_where_it_saves_passes() -> None:
    free, usual = ask(depth="1/8", width="2"), ask(depth="1/8", width="2", pace="30")
    assert free["pace_mm_s"] < usual["pace_mm_s"]
    assert free["passes_count"] < usual["passes_count"]
    again = ask(depth="1/8", width="2", pace=f"{free['pace_mm_s'] / gouge.IPM!r}")
    assert again["pass_depth_mm"] == pytest.approx(free["pass_depth_mm"], rel=1e-6)
    low = KIT[0].operator.pace_low_mm_s
    for depth in ("1/8", "3/16", "5/16", "1/2"):  # a shallower one wants a faster pace than 30 in/min
        got = ask(depth=depth, width="1-1/2")
        assert max(low, gouge.SLOWEST_MM_S) <= got["pace_mm_s"] <= KIT[0].operator.pace_high_mm_s * (1 + 1e-9)
        assert got["passes_count"] <= ask(depth=depth, width="1-1/2", pace="30")["passes_count"]


def test_a_pass_grows_with_heat_and_narrows_when_steep() -> None:
    weak, strong = (gouge.one_pass("steel", q, 12.7, 20) for q in (2500.0, 5000.0))
    assert strong.depth_mm > weak.depth_mm
    assert strong.area_mm2 < 2.6 * weak.area_mm2
    flat, steep = (gouge.one_pass("steel", 4000.0, 12.7, a) for a in (15, 25))
    assert steep.depth_mm > flat.depth_mm
    assert steep.width_mm < flat.width_mm
    slow, fast = (gouge.one_pass("steel", 4000.0, v, 20) for v in (10.0, 20.0))
    assert slow.depth_mm > fast.depth_mm


@pytest.mark.parametrize("metal", ["steel", "aluminium"])
def test_deep_and_narrow_the_balance_is_that_of_a_slot(metal: str) -> None:
    """A half round of the kerf's width, and below it a slot: the slot's part is pace.heat-needed times its depth."""
    v, w = 12.0, 6.0
    half_round = gouge.heat_needed(metal, v, w, w / 2)
    melt = v * gouge.melt_heat(metal) * math.pi * w * w / 8
    slot = pace.heat_needed(metal, v, w)
    slot_loss = slot - v * w * gouge.melt_heat(metal)
    # its floor adds the quarter circles' length over the sides': pi w/4 against w/2 on either side
    assert half_round - melt == pytest.approx(slot_loss * math.pi * w / 4)
    assert slot_loss * w / 2 < half_round - melt < 2 * slot_loss * w / 2


def test_a_measured_gouge_gives_back_itself() -> None:
    made = ask(depth="1/8", read_width="5/16", read_depth="1/8", read_pace="30", pace="30", angle="21", current="65")
    reading = gouge.Reading(25.4 * 5 / 16, 25.4 / 8, 30 * gouge.IPM, 65)
    share = gouge.share_figure("steel", KIT[0].power, reading)
    assert made["arc_share"] == pytest.approx(share.value)
    assert gouge.shape_of(21) == pytest.approx(0.4)
    assert made["pass_depth_mm"] == pytest.approx(25.4 / 8, rel=1e-6)
    assert made["pass_width_mm"] == pytest.approx(25.4 * 5 / 16, rel=1e-6)
    plain = gouge.share_figure("steel", KIT[0].power)
    assert plain.low < share.low < share.high < plain.high
    assert share.high / share.value > math.exp(gouge.REPEAT_LOG)


def test_a_fillet_leaves_its_corner() -> None:
    made = ask(kind="fillet", leg="3/8", thickness="3/8")
    leg = 25.4 * 3 / 8
    assert made["groove_width_mm"] == pytest.approx(leg * math.sqrt(2))
    assert made["groove_area_mm2"] + made["corner_left_mm2"] == pytest.approx(leg * leg / 2)


def test_a_crack_is_gouged_past_its_ends() -> None:
    made = ask(kind="crack", depth="1/4", length="5")
    assert made["whole_length_mm"] == pytest.approx((5 + 2 * 2) * 25.4)
    steep = ask(kind="crack", depth="7/8", length="5", ramp="4")
    assert steep["full_depth_length_mm"] == pytest.approx(5 * 25.4)
    assert steep["whole_length_mm"] > made["whole_length_mm"]


def test_time_holds_starts_stops_and_rests() -> None:
    made = ask()
    n = made["passes_count"]
    travel = sum(row[6] for row in made.table("passes").rows if isinstance(row[6], float))
    assert made["arc_s"] == pytest.approx(travel / made["pace_mm_s"])
    assert made["whole_s"] >= made["arc_s"] + n * 60
    assert gouge_passes.whole_time(3600, 5, 3, 60, 0.4) == pytest.approx(9000)
    assert gouge_passes.whole_time(100, 5, 3, 60, 0.4) == pytest.approx(415)


def test_weights() -> None:
    made = ask()
    assert made["removed_kg"] == pytest.approx(made["removed_cm3"] * 1e-6 * 7850)
    along = made["groove_area_mm2"] * made["full_depth_length_mm"]
    whole = made["groove_area_mm2"] * made["whole_length_mm"]
    assert along < made["removed_cm3"] * 1000 < whole


@pytest.mark.parametrize(
    ("texts", "says"),
    [
        ({"depth": "0"}, "above 0"),
        ({"depth": "-1/4"}, "out of range"),
        ({"depth": "nan"}, "not a length"),
        ({"depth": "1"}, "that is a cut"),
        ({"depth": "2"}, "cut it, or gouge less"),
        ({"depth": ""}, "depth of the groove is needed"),
        ({"width": "1/16"}, "narrower than one pass"),
        ({"radius": "1/16"}, "narrower than one pass"),
        ({"current": "90"}, "20 to 65 A"),
        ({"current": "5"}, "20 to 65 A"),
        ({"pace": "400"}, "20 in/min to 50 in/min"),
        ({"angle": "60"}, "15 deg to 25 deg"),
        ({"ramp": "1"}, "2 to 1"),
        ({"length": "0"}, "out of range"),
        ({"leg": "1/4"}, "only a fillet"),
        ({"kind": "fillet"}, "leg of the fillet"),
        ({"kind": "fillet", "leg": "3/8", "depth": "1/4"}, "leave it out"),
        ({"kind": "fillet", "leg": "1/16"}, "narrower than one pass"),
        ({"read_width": "3/8"}, "all three"),
        ({"read_width": "3/8", "read_depth": "1/4", "read_pace": "30"}, "deeper than half"),
        ({"read_width": "1", "read_depth": "1/2", "read_pace": "60"}, "times what the arc has"),
        ({"metal": "lead"}, "steel"),
    ],
)
def test_what_cannot_be_is_refused_with_what_can(texts: dict[str, str], says: str) -> None:
    assert says in refused(**texts)


def test_the_narrowest_groove_named_works() -> None:
    """What the refusal offers is taken at its word."""
    assert "narrower than one pass" in refused(width="3/16", current="65")
    fine = ask(width="3/16", current="20", pace="50", angle="25", depth="1/8")
    assert fine["pass_width_mm"] <= 25.4 * 3 / 16


def test_all_faults_at_once() -> None:
    message = refused(depth="2", current="500", read_width="1/4")
    assert "that is a cut" in message
    assert "500 A" in message
    assert "all three" in message


@pytest.mark.parametrize(
    ("texts", "code"),
    [
        ({"depth": "15/16"}, "gouge-land"),
        ({"thickness": "0.1", "depth": "0.05"}, "gouge-thin"),
        ({"depth": "1/32"}, "gouge-deep"),
        ({"depth": "3/4", "width": "1/2"}, "gouge-narrow-deep"),
        ({"pace": "50"}, "gouge-pace"),
    ],
)
def test_what_should_not_be_is_told(texts: dict[str, str], code: str) -> None:
    assert code in [f.code for f in ask(**texts).findings]


def test_usual_cautions_are_there() -> None:
    codes = {f.code for f in ask().findings}
    assert {"lens", "fire-watch", "gouge-noise", "gouge-spray", "gouge-fume", "closed-vessel", "gouge-hold"} <= codes
    assert any("1/4 to 1/2 in" in f.message for f in ask().findings)


CASES: list[dict[str, str]] = [
    dict(GROOVE.example),
    {"kind": "fillet", "leg": "3/8", "thickness": "3/8"},
    {"kind": "fillet", "leg": "1", "thickness": "3/4"},
    {"depth": "1/8", "width": "2", "ends": "none"},
    {"kind": "u-prep", "depth": "7/8", "ends": "one", "ramp": "2"},
    {"depth": "1/16", "metal": "aluminium"},
    {"depth": "5/8", "width": "5/8", "metal": "stainless", "angle": "25"},
    {"thickness": "60 mm", "depth": "45 mm", "flank": "5", "length": "2 m"},
]


@pytest.mark.parametrize("units", ["in", "mm"])
@pytest.mark.parametrize("case", range(len(CASES)))
def test_drawings_can_be_read(case: int, units: str) -> None:
    base = {"thickness": "1 in", "length": "10 in"}
    texts = {k: v if k in ("kind", "ends", "ramp", "metal", "angle", "flank") or "m" in v else f"{v} in"
             for k, v in CASES[case].items()}  # fmt: skip
    made = answer("gouge", "groove", base | texts, units=units, kit=KIT)
    assert made.picture is not None
    assert overlaps(made.picture) == ()
    for sheet in made.sheets:
        assert overlaps(sheet, full_scale=True) == ()
        assert all(shapely.Polygon(a.points).is_valid for a in sheet.areas)
    assert as_dict(made)["passes_count"] == len(as_dict(made)["passes"])


def test_the_gauge_is_as_deep_as_the_groove() -> None:
    made = ask(depth="3/8")
    (card,) = made.sheets
    ys = [y for _, y in card.strokes[0].points]
    assert min(ys) == pytest.approx(-25.4 * 3 / 8)
    assert max(ys) == pytest.approx(46 + 25.4 * 7 / 16)
    # the too-deep finger is stopped by the bottom alone: seated 1/16 in up, it lies inside the groove
    groove = shapely.Polygon(Profile(6.35, 20).points(25.4 * 3 / 8, 200)).buffer(1e-3)
    finger = [(-x, 46 - y) for x, y in card.strokes[0].points if y > 46 + 1e-9]
    finger = [(x, y + 25.4 / 16) for x, y in finger if y + 25.4 / 16 < 0]
    assert finger
    assert all(groove.contains(shapely.Point(p)) for p in finger)


def test_the_same_twice() -> None:
    assert as_dict(ask()) == as_dict(ask())


def test_without_the_desk_a_bench_is_enough() -> None:
    from dataclasses import replace

    from lagline.records.coupon import Learned
    from lagline.records.job import Stock

    got = read_given(GROOVE, dict(GROOVE.example))
    bench = Bench(KIT[0], Learned(), Stock("steel", "", got["thickness"], "3/4"))
    assert GROOVE.make(replace(got, bench=bench)).numbers
