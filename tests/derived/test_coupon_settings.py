"""Plans with coupons: figures change where coupons reach and nowhere else."""

from __future__ import annotations

import sys
from dataclasses import fields, replace
from pathlib import Path

import pytest

from lagline.planning.coupon_plan import plan_coupon
from lagline.planning.kit_file import generic_kit
from lagline.planning.learned import sights, tellings
from lagline.planning.settings import choose_settings, place_of
from lagline.records.coupon import Belief, Learned
from lagline.records.figure import Basis, Figure
from lagline.trade import coupon_model as m
from lagline.trade.coupon_fit import as_belief, believe
from lagline.trade.register import get

sys.path.insert(0, str(Path(__file__).parents[1]))
from blanks import square_blank
from simulated_bench import Bench, cut_as_planned

KIT = generic_kit()
TIP, METAL, T, AMPS = "65 A", "steel", 9.525, 65.0
BENCH = Bench.drawn(12, KIT, TIP, METAL, T, AMPS)
PLAN = plan_coupon(KIT, METAL, T, AMPS, TIP)
COUPON = cut_as_planned(BENCH, PLAN, "c-1", 1)
LEARNED = Learned((believe(KIT, TIP, METAL, (COUPON,))[0],))
BLANKS = (square_blank("steel", 9.525, 30.0), square_blank("steel", 3.175), square_blank("aluminium", 9.525))


def figures(setting):
    return {f.name: v for f in fields(setting) if isinstance(v := getattr(setting, f.name), Figure)}


def codes(found):
    return [f.code for f in found]


@pytest.mark.parametrize(
    "learned", [Learned(), Learned((as_belief(m.prior(KIT, TIP, METAL), TIP, METAL),))], ids=["none", "empty belief"]
)
def test_without_coupons_not_a_byte_changes(learned):
    assert repr(choose_settings(BLANKS, KIT, None, learned)) == repr(choose_settings(BLANKS, KIT, None))


def test_a_belief_of_a_tip_no_longer_in_the_kit_is_passed_over():
    gone = Learned((replace(LEARNED.beliefs[0], tip="gone"),))
    assert repr(choose_settings(BLANKS, KIT, None, gone)) == repr(choose_settings(BLANKS, KIT, None))


def test_figures_come_from_the_coupon_where_it_reaches_and_only_there():
    plain, _ = choose_settings(BLANKS, KIT, 65.0)
    made, found = choose_settings(BLANKS, KIT, 65.0, LEARNED)
    assert [s.id for s in made] == [s.id for s in plain]
    for before, after in zip(plain, made, strict=True):
        same = {n for n, f in figures(after).items() if f == figures(before)[n]}
        if after.stock.metal == METAL:
            for name in (
                "kerf_mm",
                "cup_radius_mm",
                "offset_kept_mm",
                "offset_drop_mm",
                "bevel_good_deg",
                "bevel_bad_deg",
            ):
                figure = figures(after)[name]
                assert figure.basis is Basis.COUPON
                assert "c-1 of 2031-05-01" in figure.source
            assert same == {"standoff_mm", "lead_angle_deg", "min_hole_mm"} | (
                {"pace_mm_s"} if after.pace_mm_s == before.pace_mm_s else set()
            )
        else:  # the cup is the torch's and moves every guide with it, the rest is the tip's on that metal
            assert set(figures(after)) - same == {"cup_radius_mm", "offset_kept_mm", "offset_drop_mm"}
        for figure in figures(after).values():
            assert get(figure.formula).source
    notes = [f.where for f in found if f.code == "from-coupons"]
    assert notes == [place_of(s.stock, s.bevel_deg) for s in made if s.stock.metal == METAL]
    assert codes(found).count("measure-next") == len(notes)


def test_the_spread_in_the_plan_is_the_coupons():
    plain, _ = choose_settings(BLANKS, KIT, 65.0)
    made, _ = choose_settings(BLANKS, KIT, 65.0, LEARNED)
    for name in ("pace_mm_s", "kerf_mm", "cup_radius_mm"):
        assert figures(made[0])[name].half_spread < 0.6 * figures(plain[0])[name].half_spread
    # that the truth lies inside as often as said is proved over benches in test_coupon_plan


def test_a_pace_beyond_the_hand_is_held_and_widens_the_kerf_by_what_was_learned():
    made, found = choose_settings((square_blank("steel", 3.175),), KIT, 65.0, LEARNED)
    assert made[0].pace_mm_s.formula == "pace.held"
    assert "pace-above-hand" in codes(found)
    assert ("pace [mm/s]", "16.9") in made[0].kerf_mm.inputs


def test_a_stronger_bench_is_planned_thicker_and_a_weaker_thinner():
    def edge(shift):
        belief = LEARNED.beliefs[0]
        mean = list(belief.mean)
        mean[m.POWER] += shift
        made, _ = choose_settings(
            (square_blank("steel", 15.0),), KIT, 65.0, Learned((replace(belief, mean=tuple(mean)),))
        )
        return made[0].weakest

    assert edge(-0.4).startswith("thickness")
    assert not edge(0.6).startswith("thickness")


def test_left_handed_swirl_takes_the_other_face():
    left = replace(KIT, torch=replace(KIT.torch, square_side="left"))
    one, _ = choose_settings(BLANKS[:1], KIT, 65.0, LEARNED)
    other, _ = choose_settings(BLANKS[:1], left, 65.0, LEARNED)
    assert one[0].bevel_good_deg.value == other[0].bevel_bad_deg.value


def test_the_most_telling_measurement_keeps_its_promise():
    # what the note promises for one more kerf reading, against learning from that very reading
    s = sights(KIT, LEARNED)[TIP, METAL]
    c = s.at(T, AMPS)
    promised = {t.what: t for t in tellings(s, c)}
    assert all(0 <= t.pace_share <= 1 and 0 <= t.offset_share <= 1 for t in promised.values())
    guide = next(t for w, t in promised.items() if w.startswith("the guide"))
    more = replace(
        COUPON,
        id="c-2",
        cuts=(replace(COUPON.cuts[0], **{f.name: None for f in fields(COUPON.cuts[0]) if "guide" not in f.name}),),
        disc_got_mm=None,
        hole_got_mm=None,
    )
    after = believe(KIT, TIP, METAL, (COUPON, more))[0]
    near = sights(KIT, Learned((after,)))[TIP, METAL]

    def variance(x):
        return float((x.draws[:, m.CUP] - m.kerf_at(x.draws, c) / 2).var())

    assert 1 - variance(near) / variance(s) == pytest.approx(guide.offset_share, abs=0.05)


def test_guide_readings_tell_the_offset_most_and_dross_the_pace():
    empty: Belief = as_belief(m.prior(KIT, TIP, METAL), TIP, METAL, coupons=("none yet",))
    s = sights(KIT, Learned((empty,)))[TIP, METAL]
    told = tellings(s, s.at(T, AMPS))
    assert max(told, key=lambda t: t.offset_share).what.startswith("the guide")
    assert "dross" in max(told, key=lambda t: t.pace_share).what
