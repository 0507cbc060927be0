"""Coupons as people write them: every bad measurement with its own finding, nothing guessed, nothing doubtful lost."""

from __future__ import annotations

import datetime
import json
import math
from dataclasses import fields, replace

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from lagline.planning.coupon_read import (
    coupon_from_fields,
    coupon_from_form,
    coupon_from_text,
    coupon_from_words,
    coupon_toml,
    read_coupon,
)
from lagline.records.coupon import Coupon, CouponCut, Dross
from lagline.records.errors import LaglineError
from lagline.records.finding import Severity
from lagline.trade.set_aside import in_words, measurement_name, measurements, without_set_aside
from tests.kits import generic_kit

KIT = generic_kit()  # 65 A, tips "45 A" and "65 A", cup radius 10.5 to 11.5 mm, square side right
TODAY = datetime.date(2026, 3, 2)
BASE = {"units": "in", "tip": "65 A", "metal": "steel", "thickness": "3/8", "current": 65}
CUT_FIELDS = {
    "length", "seconds", "through", "kerf_top", "kerf_bottom", "guide_near", "guide_far", "gap_right", "gap_left",
    "bevel_right_deg", "bevel_left_deg", "lag", "lag_deg", "dross", "dross_height", "kerf_top_mm",
}  # fmt: skip
GOOD = """
units = "in"
date = 2026-03-01
tip = "65a"
metal = "steel"
thickness = "3/8"
current = 65
starts = 40
arc_min = 12.5
supply = "90 psi"
crater = "3/8"
arm = "1-5/8"
disc_got = "3-11/64"
hole_got = "3-21/64"
gouge_width = "5/16"
gouge_depth = "1/8"
gouge_length = "5"
gouge_seconds = "12 s"
note = "breeze from the door"
[[cuts]]
length = "10"
seconds = 24
through = true
kerf_top = "5/64"
kerf_bottom = "0.06"
guide_near = "25/64"
guide_far = "15/32"
gap_right = "0.01"
bevel_left_deg = 4
lag = "1/16"
dross = "clean"
[[cuts]]
length = "10"
seconds = "14"
dross = "hard"
dross_height = "1/32"
"""


def read(**given):
    cut = {"length": "10", "seconds": "24", "kerf_top": "2 mm"}
    data = dict(BASE)
    for key, value in given.items():
        (cut if key in CUT_FIELDS else data)[key] = value
    return coupon_from_fields({**data, "cuts": [cut]}, "coupon.toml", KIT, TODAY)


def refusals(**given):
    with pytest.raises(LaglineError) as e:
        read(**given)
    return e.value.findings


def test_a_good_coupon_is_read_whole_and_without_a_word():
    c, found = coupon_from_text(GOOD, "coupon.toml", KIT, TODAY)
    assert found == ()
    assert (c.tip, c.date, c.thickness_mm, c.starts, c.arc_min) == ("65 A", "2026-03-01", 9.525, 40, 12.5)
    assert c.supply_kpa_g == pytest.approx(620.53, abs=0.01)
    assert c.disc_asked_mm == c.hole_asked_mm == pytest.approx(2 * 41.275)
    assert c.gouge_pace_mm_s == pytest.approx(127 / 12)
    first, second = c.cuts
    assert first.pace_mm_s == pytest.approx(254 / 24)
    assert first.gap_left_mm == pytest.approx(9.525 * math.tan(math.radians(4)))
    assert (first.dross, second.dross, first.through, second.through) == (Dross.NONE, Dross.FAST, True, None)


def test_a_file_is_read(tmp_path):
    (tmp_path / "c.toml").write_text(GOOD)
    assert read_coupon(tmp_path / "c.toml", KIT, TODAY)[0].tip == "65 A"
    for bad in (tmp_path / "none.toml", tmp_path):
        with pytest.raises(LaglineError):
            read_coupon(bad, KIT, TODAY)
    (tmp_path / "c.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(LaglineError) as e:
        read_coupon(tmp_path / "c.toml", KIT, TODAY)
    assert e.value.findings[0].code == "file-unreadable"


# ---- refused: cannot be true ----


@pytest.mark.parametrize(
    ("given_", "where", "code"),
    [
        ({"kerf_top": "-2 mm"}, "cut 1: kerf_top", "length-negative"),
        ({"kerf_top": 0}, "cut 1: kerf_top", "length-zero"),
        ({"kerf_top": float("nan")}, "cut 1: kerf_top", "length-bad"),
        ({"kerf_top": float("inf")}, "cut 1: kerf_top", "length-bad"),
        ({"kerf_top": "nan"}, "cut 1: kerf_top", "length-bad"),
        ({"kerf_top": "2 A"}, "cut 1: kerf_top", "length-bad"),
        ({"kerf_top": "1,5"}, "cut 1: kerf_top", "length-bad"),
        ({"kerf_top": "wide"}, "cut 1: kerf_top", "length-bad"),
        ({"kerf_top": True}, "cut 1: kerf_top", "length-bad"),
        ({"kerf_top": ["2"]}, "cut 1: kerf_top", "length-bad"),
        ({"kerf_top": "24 mm"}, "cut 1: kerf_top", "kerf-over-cup"),
        ({"kerf_top": "2"}, "cut 1: kerf_top", "kerf-over-cup"),
        ({"kerf_bottom": "1"}, "cut 1: kerf_bottom", "kerf-over-cup"),
        ({"seconds": 0}, "cut 1: seconds", "seconds-not-above-zero"),
        ({"seconds": "-3"}, "cut 1: seconds", "seconds-not-above-zero"),
        ({"seconds": 1e9}, "cut 1: seconds", "seconds-not-above-zero"),
        ({"seconds": float("nan")}, "cut 1: seconds", "field-bad"),
        ({"seconds": "nan"}, "cut 1: seconds", "field-bad"),
        ({"seconds": "24 mm"}, "cut 1: seconds", "unit-wrong"),
        ({"seconds": "quick"}, "cut 1: seconds", "field-bad"),
        ({"seconds": True}, "cut 1: seconds", "field-bad"),
        ({"seconds": 10**400}, "cut 1: seconds", "field-bad"),
        ({"length": "-10"}, "cut 1: length", "length-negative"),
        ({"guide_near": "12 mm", "guide_far": "10 mm"}, "cut 1: guide_near", "guide-near-far"),
        ({"guide_near": "12 mm", "guide_far": "12 mm"}, "cut 1: guide_near", "guide-near-far"),
        ({"gap_left": "30 mm"}, "cut 1: gap_left", "gap-too-large"),
        ({"gap_left": "1 mm", "bevel_left_deg": 6}, "cut 1: bevel_left_deg", "field-twice"),
        ({"bevel_right_deg": "90"}, "cut 1: bevel_right_deg", "field-bad"),
        ({"bevel_right_deg": "3 mm"}, "cut 1: bevel_right_deg", "unit-wrong"),
        ({"lag": "-1 mm"}, "cut 1: lag", "length-negative"),
        ({"lag_deg": -4}, "cut 1: lag_deg", "field-bad"),
        ({"dross": "blue"}, "cut 1: dross", "dross-word"),
        ({"dross": 3}, "cut 1: dross", "dross-word"),
        ({"through": "maybe"}, "cut 1: through", "field-bad"),
        ({"through": 2}, "cut 1: through", "field-bad"),
        ({"thickness": "0"}, "thickness", "thickness-bad"),
        ({"thickness": "-3/8"}, "thickness", "length-negative"),
        ({"thickness": "9.5"}, "thickness", "thickness-bad"),
        ({"thickness": "fat"}, "thickness", "length-bad"),
        ({"thickness": "77 ga"}, "thickness", "gauge"),
        ({"current": "65 mm"}, "current", "unit-wrong"),
        ({"current": 0}, "current", "field-bad"),
        ({"current": float("nan")}, "current", "field-bad"),
        ({"current": "6e1"}, "current", "field-bad"),
        ({"current_a": 60}, "current_a", "field-twice"),
        ({"date": "2026-03-03"}, "date", "date-future"),
        ({"date": datetime.date(2027, 1, 1)}, "date", "date-future"),
        ({"date": "yesterday"}, "date", "field-bad"),
        ({"date": "03/01/2026"}, "date", "field-bad"),
        ({"date": 20260301}, "date", "field-bad"),
        ({"date": "1066-10-14"}, "date", "date-old"),
        ({"metal": "mud"}, "metal", "field-bad"),
        ({"supply": "90"}, "supply", "field-bad"),
        ({"supply": "90 mm"}, "supply", "field-bad"),
        ({"supply": "9000 psi"}, "supply", "field-bad"),
        ({"starts": "3.5"}, "starts", "field-bad"),
        ({"starts": -1}, "starts", "field-bad"),
        ({"arc_min": "-1"}, "arc_min", "field-bad"),
        ({"gouge_depth": "1"}, "gouge_depth", "gouge-deep"),
        ({"gouge_pace": "30"}, "gouge_pace", "field-bad"),
        ({"disc_got": "-4"}, "disc_got", "length-negative"),
        ({"colour": "red"}, "colour", "field-unknown"),
        ({"units": "furlong"}, "units", "field-bad"),
        ({"tip": ""}, "tip", "field-missing"),
        ({"note": "a\0b"}, "note", "field-bad"),
        ({"cuts": 3, "kerf_top": "2 mm"}, "", ""),
    ],
)  # fmt: skip
def test_what_cannot_be_true_is_refused_with_its_place(given_, where, code):
    if not code:
        with pytest.raises(LaglineError) as e:
            coupon_from_fields({**BASE, **given_, "cuts": 3}, "coupon.toml", KIT, TODAY)
        assert "cuts" in e.value.findings[0].where
        return
    found = refusals(**given_)
    assert len(found) == 1, found  # its own finding and no other
    assert found[0].code.startswith(code)
    assert found[0].where == f"coupon.toml: {where}"
    assert found[0].severity is Severity.REFUSED
    assert found[0].allowed


def test_all_faults_are_told_at_once():
    found = refusals(kerf_top="-2 mm", seconds=0, dross="blue", metal="mud", date="2999-01-01", colour="red")
    assert {f.code for f in found} == {
        "length-negative", "seconds-not-above-zero", "dross-word", "field-bad", "date-future", "field-unknown",
    }  # fmt: skip


# name: what is written, its fault, and what must be known to see it. "1.kerf_top" is of the first cut
SPOILS: dict[str, tuple[dict[str, str], tuple[str, str], str]] = {
    "time": ({"1.seconds": "0"}, ("seconds-not-above-zero", "cut 1: seconds"), ""),
    "kerf": ({"1.kerf_top": "24 mm"}, ("kerf-over-cup", "cut 1: kerf_top"), ""),
    "bare kerf": ({"2.kerf_bottom": "2"}, ("kerf-over-cup", "cut 2: kerf_bottom"), "units"),
    "guide": ({"2.guide_near": "12", "2.guide_far": "10"}, ("guide-near-far", "cut 2: guide_near"), ""),
    "gap": ({"1.gap_left": "30 mm"}, ("gap-too-large", "cut 1: gap_left"), "thickness"),
    "angle": ({"2.bevel_left_deg": "90"}, ("field-bad", "cut 2: bevel_left_deg"), ""),
    "twice": ({"2.lag": "1 mm", "2.lag_mm": "1"}, ("field-twice", "cut 2: lag_mm"), ""),
    "dross": ({"2.dross": "blue"}, ("dross-word", "cut 2: dross"), ""),
    "gouge": ({"gouge_depth": "30 mm"}, ("gouge-deep", "gouge_depth"), "thickness"),
    "crater": ({"crater": "wide"}, ("length-bad", "crater"), ""),
    "supply": ({"supply": "90"}, ("field-bad", "supply"), ""),
    "date": ({"date": "2999-01-01"}, ("date-future", "date"), ""),
    "starts": ({"starts": "3.5"}, ("field-bad", "starts"), ""),
    "tip": ({"tip": ""}, ("field-missing", "tip"), ""),
    "metal": ({"metal": "mud"}, ("field-bad", "metal"), ""),
    "units": ({"units": "furlong"}, ("field-bad", "units"), ""),
    "current": ({"current": "0"}, ("field-bad", "current"), ""),
    "thickness": ({"thickness": "fat"}, ("length-bad", "thickness"), ""),
    "gauge": ({"thickness": "77 ga"}, ("gauge-unknown", "thickness"), ""),
    "no field": ({"colour": "red"}, ("field-unknown", "colour"), ""),
}


def doors(written: dict[str, str], cuts: dict[int, dict[str, str]]) -> dict[str, set[tuple[str, str]]]:
    """What each way of entering refuses of the same coupon."""
    listed = [cuts[n] for n in sorted(cuts)]
    toml = "".join(f"{k} = {json.dumps(v)}\n" for k, v in written.items())
    toml += "".join("[[cuts]]\n" + "".join(f"{k} = {json.dumps(v)}\n" for k, v in cut.items()) for cut in listed)
    words = [", ".join(f"{k}={v}" for k, v in cut.items()) for cut in listed]
    options = {k: written.get(k) for k in ("tip", "metal", "thickness", "current", "units")}
    also = [f"{k}={v}" for k, v in written.items() if k not in options]
    form = written | {f"cut{n}.{k}": v for n, cut in cuts.items() for k, v in cut.items()}
    ways = {
        "fields": lambda: coupon_from_fields({**written, "cuts": listed}, "coupon", KIT, TODAY),
        "file": lambda: coupon_from_text(toml, "coupon", KIT, TODAY),
        "words": lambda: coupon_from_words(options, also, words, KIT, TODAY),
        "form": lambda: coupon_from_form(form, KIT, TODAY),
    }
    out = {}
    for way, enter in ways.items():
        with pytest.raises(LaglineError) as e:
            enter()
        found = [(f.code, f.where.removeprefix("coupon: ")) for f in e.value.findings]
        assert len(set(found)) == len(found), way  # none is told twice
        out[way] = set(found)
    return out


@given(st.sets(st.sampled_from(sorted(SPOILS)), min_size=1))
@settings(deadline=None, max_examples=80)
@example({"units", "guide", "bare kerf", "kerf"})
@example({"metal", "gauge", "gap", "gouge"})
@example(set(SPOILS) - {"thickness"})
def test_every_fault_is_told_at_once_through_every_door(names: set[str]):
    written = {"units": "in", "tip": "65 A", "metal": "steel", "thickness": "3/8", "current": "65"}
    cuts = {n: {"length": "10", "seconds": "24", "kerf_top": "2 mm"} for n in (1, 2)}
    if {"thickness", "gauge"} <= names:
        names = names - {"gauge"}
    for name in sorted(names):
        for key, value in SPOILS[name][0].items():
            if key[0].isdigit():
                cuts[int(key[0])][key[2:]] = value
            else:
                written[key] = value
    unknown = {"units"} & names | ({"thickness"} if {"thickness", "gauge"} & names else set())
    expected = {SPOILS[n][1] for n in names if SPOILS[n][2] not in unknown or not SPOILS[n][2]}
    for way, found in doors(written, cuts).items():
        assert found == expected, way


def test_nothing_measured_is_told_beside_what_cannot_be_read():
    with pytest.raises(LaglineError) as e:
        coupon_from_fields({**BASE, "metal": "mud", "cuts": [{}]}, "c", KIT, TODAY)
    assert {f.code for f in e.value.findings} == {"field-bad", "coupon-empty"}
    # what was measured and cannot be read was measured all the same
    with pytest.raises(LaglineError) as e:
        coupon_from_fields({**BASE, "cuts": [{"kerf_top": "wide"}]}, "c", KIT, TODAY)
    assert {f.code for f in e.value.findings} == {"length-bad"}


def test_both_of_a_field_given_twice_are_read():
    found = refusals(kerf_top="wide", kerf_top_mm=-2, supply="none", supply_kpa_g=9, thickness_mm="thin",
                     gouge_pace="x", gouge_length="5", gouge_seconds="0")  # fmt: skip
    assert sorted((f.code, f.where.removeprefix("coupon.toml: ")) for f in found) == [
        ("field-bad", "gouge_pace"), ("field-bad", "supply"), ("field-bad", "supply_kpa_g"),
        ("field-twice", "cut 1: kerf_top_mm"), ("field-twice", "gouge_pace"), ("field-twice", "supply_kpa_g"),
        ("field-twice", "thickness_mm"), ("length-bad", "cut 1: kerf_top"), ("length-bad", "thickness_mm"),
        ("length-negative", "cut 1: kerf_top_mm"), ("seconds-not-above-zero", "gouge_seconds"),
    ]  # fmt: skip


def test_faults_of_a_list_of_cuts_and_in_it():
    cuts = [{"seconds": "0"}, 7, *({"kerf_top": "2 mm"} for _ in range(20))]
    with pytest.raises(LaglineError) as e:
        coupon_from_fields({**BASE, "cuts": cuts}, "c", KIT, TODAY)
    assert [(f.code, f.where) for f in e.value.findings] == [
        ("field-bad", "c: cuts"), ("field-bad", "c: cuts"), ("seconds-not-above-zero", "c: cut 1: seconds"),
    ]  # fmt: skip


def test_what_must_be_there():
    with pytest.raises(LaglineError) as e:
        coupon_from_fields({"cuts": [{"kerf_top": "2 mm"}]}, "c", KIT, TODAY)
    assert {f.where for f in e.value.findings if f.code == "field-missing"} == {
        "c: tip", "c: metal", "c: thickness", "c: current",
    }  # fmt: skip
    with pytest.raises(LaglineError) as e:
        coupon_from_fields(BASE, "c", KIT, TODAY)
    assert [f.code for f in e.value.findings] == ["coupon-empty"]


def test_anything_may_be_missing():
    c, found = coupon_from_fields({**BASE, "cuts": [{"dross": "slow"}]}, "c", KIT, TODAY)
    assert c.cuts == (CouponCut(dross=Dross.SLOW),)
    assert found == ()
    assert coupon_from_fields({**BASE, "crater": "1/4"}, "c", KIT, TODAY)[0].cuts == ()


# ---- doubtful: kept as given, and asked ----


@pytest.mark.parametrize(
    ("given_", "where", "code", "says"),
    [
        ({"kerf_top": "0.08 mm"}, "cut 1: kerf_top", "inches-or-mm", "2.03 mm) would be usual: inches typed as mm?"),
        ({"length": "10 mm"}, "cut 1: length", "inches-or-mm", "inches typed as mm?"),
        ({"length": "254"}, "cut 1: length", "inches-or-mm", "(254.00 mm) would be usual: mm typed as inches?"),
        ({"thickness": "0.375 mm"}, "thickness", "thickness-unlike", "9.52 mm) would be usual"),
        ({"guide_near": "0.4 mm"}, "cut 1: guide_near", "inches-or-mm", "inches typed as mm?"),
        ({"gap_left": "14 mm"}, "cut 1: gap_left", "inches-or-mm", "mm typed as inches?"),
        ({"disc_asked": "3 mm", "disc_got": "3 mm"}, "disc_asked", "inches-or-mm", "76.20 mm"),
        ({"thickness": "55 mm"}, "thickness", "thickness-unlike", "unlike what a hand torch of this size cuts"),
        ({"kerf_top": "8 mm"}, "cut 1: kerf_top", "value-unlikely", "is usual; read again?"),
        ({"kerf_bottom": "3 mm"}, "cut 1: kerf_top", "top-bottom-swapped", "top and bottom swapped?"),
        ({"guide_near": "9 mm", "guide_far": "13 mm"}, "cut 1: kerf_top", "kerf-and-guide-differ", "4.00 mm"),
        ({"gap_right": "1.2 mm", "gap_left": "0.2 mm"}, "cut 1: gap_right", "sides-swapped", "left and right"),
        ({"bevel_left_deg": 20}, "cut 1: gap_left", "bevel-large", "leans 20 degrees"),
        ({"current": 80}, "current", "current-over-tip", "above the tip's 65 A"),
        ({"tip": "45 A"}, "current", "current-over-tip", "above the tip's 45 A"),
        ({"length": ""}, "cut 1: seconds", "pace-half", "seconds without length: teaches no pace"),
        ({"seconds": "", "dross": "slow"}, "cut 1: length", "pace-half", "length without seconds"),
        ({"through": "no", "dross": "none"}, "cut 1: dross", "not-through-clean", "which is it"),
        ({"current": 6.5}, "current", "current-low", "under a third of the tip's 65 A"),
        ({"current": 8.5}, "current", "current-low", "digit missed"),
        ({"current": 80}, "current", "current-over-set", "above the set's 65 A"),
        ({"tip": "99 A"}, "tip", "tip-not-in-kit", "nothing is learned"),
        ({"seconds": 1}, "cut 1: seconds", "pace-unlikely", "600 in/min"),
        ({"through": "no", "lag": "2 mm"}, "cut 1: through", "not-through", "did not go through"),
        ({"dross": "none", "dross_height": "2 mm"}, "cut 1: dross", "dross-none-high", "2.00 mm"),
        ({"disc_asked": "4", "disc_got": "4-1/4"}, "disc_got", "round-unlikely", "smaller by about a kerf"),
        ({"hole_asked": "4", "hole_got": "3-3/4"}, "hole_got", "round-unlikely", "larger by about a kerf"),
    ],
)  # fmt: skip
def test_what_is_doubtful_is_kept_and_asked(given_, where, code, says):
    c, found = read(**given_)
    asked = [f for f in found if f.code == code]
    assert asked, found
    assert asked[0].where == f"coupon.toml: {where}"
    assert asked[0].severity is Severity.CAUTION
    assert says in asked[0].message
    assert asked[0].allowed
    # as given: the same values without their kit and its doubts
    assert measurements(c) == measurements(coupon_from_fields(
        {**BASE, **{k: v for k, v in given_.items() if k not in CUT_FIELDS},
         "cuts": [{"length": "10", "seconds": "24", "kerf_top": "2 mm",
                   **{k: v for k, v in given_.items() if k in CUT_FIELDS}}]},
        "coupon.toml", None, TODAY)[0])  # fmt: skip


def test_sides_follow_the_torch():
    left_handed = replace(KIT, torch=replace(KIT.torch, square_side="left"))
    given_ = {**BASE, "cuts": [{"gap_right": "1.2 mm", "gap_left": "0.2 mm"}]}
    assert coupon_from_fields(given_, "c", left_handed, TODAY)[1] == ()


def test_dross_and_severance_against_the_pace():
    cuts = [{"length": "10", "seconds": 30, "dross": "fast"}, {"length": "10", "seconds": 12, "dross": "slow"}]
    _, found = coupon_from_fields({**BASE, "cuts": cuts}, "c", KIT, TODAY)
    assert [f.code for f in found] == ["dross-against-pace"]
    cuts = [{"length": "10", "seconds": 30, "through": "no"}, {"length": "10", "seconds": 12, "through": "yes"}]
    _, found = coupon_from_fields({**BASE, "cuts": cuts}, "c", KIT, TODAY)
    assert [f.code for f in found] == ["through-against-pace"]
    cuts.reverse()
    assert "cut 1 was slower" not in str(coupon_from_fields({**BASE, "cuts": cuts}, "c", KIT, TODAY)[1])


def test_a_wide_bottom_is_right_where_the_gaps_say_so():
    _, found = read(kerf_bottom="2.6 mm", gap_right="-0.3 mm", gap_left="-0.3 mm")
    assert found == ()


def test_a_usual_coupon_is_never_doubted():
    # kerf, offsets and gaps of the trade's bands for 20 to 65 A, on plate such a set cuts
    for current, kerf in ((20, 1.0), (30, 1.5), (45, 1.7), (65, 2.3)):
        for thickness in ("1/16", "1/8", "1/4", "3/8", "1/2"):
            tip = "45 A" if current < 40 else "65 A"
            _, found = read(tip=tip, current=current, thickness=thickness, kerf_top=f"{kerf} mm", bevel_right_deg=2,
                            bevel_left_deg=5, guide_near="10 mm", guide_far=f"{10 + kerf} mm")  # fmt: skip
            assert found == ()


# ---- other doors ----


def test_form_and_file_say_the_same():
    form = {
        "units": "in", "tip": "65 A", "metal": "steel", "thickness": "3/8", "current": "65", "date": "", "note": " ",
        "cut1.length": "10", "cut1.seconds": "24", "cut1.through": "yes", "cut1.dross": "none", "cut1.lag": "",
        "cut3.kerf_top": "5/64", "cut4.kerf_top": "", "starts": "40",
    }  # fmt: skip
    c, found = coupon_from_form(form, KIT, TODAY)
    assert found == ()
    assert len(c.cuts) == 3  # the blank second keeps its place
    assert c.cuts[1] == CouponCut()
    assert c.cuts[2].kerf_top_mm == pytest.approx(25.4 * 5 / 64)
    assert (c.date, c.starts) == ("2026-03-02", 40)


def test_a_form_of_rubbish_is_refused_and_not_a_crash():
    form = {"cut1.kerf_top": "<script>", "cut99.kerf_top": "1", "cut1.": "x", "tip": "\0", "csrf": "1"}
    with pytest.raises(LaglineError) as e:
        coupon_from_form(form, KIT, TODAY)
    assert len(e.value.findings) >= 4


def test_words_of_a_cut():
    c, found = coupon_from_words(BASE, (), ["length=10, seconds = 24; kerf top=3/32"], KIT, TODAY)
    assert found == ()
    assert c.cuts == (CouponCut(length_mm=254.0, seconds=24.0, kerf_top_mm=2.38125),)
    for bad in ("length", "=3", "length=1, length=2"):
        with pytest.raises(LaglineError) as e:
            coupon_from_words(BASE, (), [bad], KIT, TODAY)
        assert [(f.code, f.where) for f in e.value.findings] == [("cut-words", "--cut 1")]


def test_more_of_the_coupon_in_words():
    c, _ = coupon_from_words(BASE, ["starts=40; supply=90 psi", "note=damp"], ["kerf top=2 mm"], KIT, TODAY)
    assert (c.starts, c.note) == (40, "damp")
    with pytest.raises(LaglineError) as e:
        coupon_from_words(BASE, ["starts=40, tip=45 A", "starts=4, oops"], ["kerf top=wide", "what"], KIT, TODAY)
    assert [(f.code, f.where) for f in e.value.findings] == [
        ("field-twice", "--also 1"), ("cut-words", "--also 2"), ("field-twice", "--also 2"), ("cut-words", "--cut 2"),
        ("length-bad", "coupon: cut 1: kerf_top"),
    ]  # fmt: skip


number = st.none() | st.floats(0.5, 8)
some_cuts = st.builds(
    CouponCut, st.none() | st.floats(50, 500), st.none() | st.floats(0.5, 300), st.none() | st.booleans(), number,
    number, st.none() | st.floats(0.1, 4), st.none() | st.floats(5, 30), st.none() | st.floats(-4, 4),
    st.none() | st.floats(-4, 4), st.none() | st.floats(0, 9), st.none() | st.sampled_from(Dross), number,
)  # fmt: skip
some_coupons = st.builds(
    Coupon, st.just(""), st.dates(datetime.date(1990, 1, 1), TODAY).map(str), st.sampled_from(["65 A", "a tip"]),
    st.sampled_from(["steel", "stainless", "aluminium"]), st.floats(8.5, 60), st.floats(1, 400),
    st.lists(some_cuts.filter(lambda c: c != CouponCut()), min_size=1, max_size=4).map(tuple),
    st.sampled_from(["", "slipway"]), st.none() | st.integers(0, 999), number, st.none() | st.floats(100, 900), number,
    number, number, number, number, number, number, number, st.sampled_from(["", 'a "note"\nof two lines']),
)  # fmt: skip


@given(some_coupons)
@settings(deadline=None, max_examples=60)
def test_a_coupon_written_out_reads_back_the_same(c):
    assert coupon_from_text(coupon_toml(c), "c", None, TODAY)[0] == c


anything = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=12), st.lists(st.integers(), max_size=2),
    st.sampled_from(["nan", "1/0", "-1", "1e400", "3/8", "12 mm", "½", "٣", "0x10", "1_000", "--2", "∞"]),
)  # fmt: skip
keys = st.sampled_from(
    [*CUT_FIELDS, *BASE, "date", "starts", "supply", "crater", "disc_got", "arm", "gouge_seconds", "x"]
)


@given(st.dictionaries(keys, anything, max_size=8), st.dictionaries(keys, anything, max_size=6))
@settings(deadline=None, max_examples=150)
def test_no_value_whatever_gives_a_traceback(top, cut):
    try:
        c, found = coupon_from_fields({**BASE, **top, "cuts": [cut]}, "c", KIT, TODAY)
    except LaglineError as e:
        c, found, refused = None, (), e.findings
    else:
        refused = ()
    assert all(f.severity is Severity.REFUSED and f.where and f.message for f in refused)
    assert all(f.severity is not Severity.REFUSED for f in found)
    for name, value in measurements(c) if c is not None else ():
        assert not isinstance(value, float) or math.isfinite(value), name


# ---- names of measurements ----


def test_names_in_words_and_back():
    c, _ = coupon_from_text(GOOD, "coupon.toml", KIT, TODAY)
    for name, _ in measurements(c):
        assert measurement_name(name) == name
        assert measurement_name(in_words(name)) == name
    assert measurement_name("Cut 2: kerf-top") == "cuts[1].kerf_top_mm"
    assert in_words("coupon c-1, cuts[0].kerf_top_mm") == "coupon c-1, cut 1 kerf top"
    for bad in ("", "cut", "cut 1", "cut one kerf top", "thickness_mm", "tip", "cuts[0].colour"):
        assert measurement_name(bad) is None


def test_without_what_is_set_aside():
    c, _ = coupon_from_text(GOOD, "coupon.toml", KIT, TODAY)
    names = [n for n, _ in measurements(c)]
    left = without_set_aside(replace(c, set_aside=tuple(names[::2])))
    assert [n for n, _ in measurements(left)] == names[1::2]
    assert left.set_aside == ()
    everything = without_set_aside(replace(c, set_aside=tuple(names)))
    assert measurements(everything) == ()
    assert {f.name for f in fields(Coupon)} >= {"set_aside"}
