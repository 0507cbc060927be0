"""Slips of the pen and of the tape: recognised, named with what they probably are, and not averaged in."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import pytest

from lagline.planning.coupon_plan import plan_coupon
from lagline.planning.kit_file import generic_kit
from lagline.records.finding import Severity
from lagline.trade.coupon_fit import believe, without

sys.path.insert(0, str(Path(__file__).parents[1]))
from simulated_bench import Bench, cut_as_planned

KIT = generic_kit()
TIP, METAL, T, AMPS = "65 A", "steel", 9.525, 65.0
BENCH = Bench.drawn(21, KIT, TIP, METAL, T, AMPS)
GOOD = cut_as_planned(BENCH, plan_coupon(KIT, METAL, T, AMPS, TIP), "c-1", 1)


def spoiled(n=0, **fields):
    cuts = list(GOOD.cuts)
    cuts[n] = replace(cuts[n], **fields)
    return replace(GOOD, cuts=tuple(cuts))


def learn(coupon):
    return believe(KIT, TIP, METAL, (coupon,))


def test_good_readings_are_left_alone():
    assert learn(GOOD)[1] == ()


@pytest.mark.parametrize("n", range(3))
@pytest.mark.parametrize("field", ["kerf_top_mm", "guide_near_mm", "guide_far_mm"])
def test_inches_entered_as_mm_are_named_and_not_averaged_in(field, n):
    label = f"cuts[{n}].{field}"
    bad = spoiled(n, **{field: getattr(GOOD.cuts[n], field) / 25.4})
    belief, found = learn(bad)
    (finding,) = [f for f in found if label in f.where]
    assert finding.code == "coupon-odd"
    assert finding.severity is Severity.CAUTION
    assert "inches entered as mm" in finding.allowed
    if field == "kerf_top_mm":  # the same belief as if it had been set aside
        assert belief.mean == learn(without(bad, (label,)))[0].mean


def test_a_slipped_decimal_point_is_named():
    _, found = learn(spoiled(1, guide_far_mm=GOOD.cuts[1].guide_far_mm * 10))
    (finding,) = found
    assert "decimal point" in finding.allowed


def test_right_and_left_swapped_in_one_cut():
    cut = GOOD.cuts[0]
    bad = spoiled(0, gap_right_mm=cut.gap_left_mm + 0.5, gap_left_mm=cut.gap_right_mm - 0.3)
    belief, found = learn(bad)
    (finding,) = found
    assert "right and left swapped" in finding.allowed
    labels = ("cuts[0].gap_right_mm", "cuts[0].gap_left_mm")
    assert all(x in finding.where for x in labels)
    assert belief.mean == learn(without(bad, labels))[0].mean


def test_right_and_left_swapped_all_through_asks_for_the_square_side():
    cuts = tuple(replace(c, gap_right_mm=1.0, gap_left_mm=0.25) for c in GOOD.cuts)
    _, found = learn(replace(GOOD, cuts=cuts))
    assert any("square side in the kit" in f.allowed for f in found)
    left = replace(KIT, torch=replace(KIT.torch, square_side="left"))
    assert believe(left, TIP, METAL, (replace(GOOD, cuts=cuts),))[1] == ()


def test_top_and_bottom_swapped():
    cut = GOOD.cuts[1]
    _, found = learn(spoiled(1, kerf_top_mm=cut.kerf_bottom_mm, kerf_bottom_mm=cut.kerf_top_mm))
    assert any("top and bottom swapped" in f.allowed for f in found)


def test_near_and_far_swapped_cannot_be():
    cut = GOOD.cuts[2]
    bad = spoiled(2, guide_near_mm=cut.guide_far_mm, guide_far_mm=cut.guide_near_mm)
    belief, found = learn(bad)
    (finding,) = found
    assert "near and far swapped" in finding.allowed
    assert belief.mean == learn(without(bad, ("cuts[2].guide_near_mm", "cuts[2].guide_far_mm")))[0].mean


@pytest.mark.parametrize("seconds", [0.5, 2000.0, -3.0, 0.0, float("nan")])
def test_a_pace_no_hand_cuts_at_is_not_learned_from(seconds):
    bad = spoiled(0, seconds=seconds)
    belief, found = learn(bad)
    assert any("cuts[0].seconds" in f.where for f in found)
    assert belief.mean == learn(without(bad, ("cuts[0].seconds",)))[0].mean


@pytest.mark.parametrize("value", [-1.0, 0.0, float("nan"), float("inf")])
def test_what_cannot_be_a_length_is_set_apart(value):
    bad = spoiled(0, kerf_top_mm=value)
    belief, found = learn(bad)
    (finding,) = found
    assert "cuts[0].kerf_top_mm" in finding.where
    assert belief.mean == learn(without(bad, ("cuts[0].kerf_top_mm",)))[0].mean


@pytest.mark.parametrize(("field", "value"), [("thickness_mm", 0.0), ("current_a", float("nan"))])
def test_a_coupon_without_thickness_or_current_teaches_nothing(field, value):
    belief, found = learn(replace(GOOD, **{field: value}))
    assert belief.coupons == ()
    (finding,) = found
    assert finding.code == "coupon-unusable"
    assert field in finding.where


def test_what_the_user_set_aside_is_not_used_and_not_asked_about():
    bad = without(spoiled(0, kerf_top_mm=0.08), ("cuts[0].kerf_top_mm",))
    assert learn(bad)[1] == ()
