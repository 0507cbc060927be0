"""A reading that does not fit, and its user says that it is right as it stands: it counts, nothing else is set apart
for its sake, and what it shifted is told in figures."""

from __future__ import annotations

import re
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.planning.coupon_plan import plan_coupon
from lagline.planning.kit_file import generic_kit
from lagline.records.coupon import Belief, Coupon
from lagline.records.finding import Finding, Severity
from lagline.trade import coupon_fit
from lagline.trade import coupon_model as m
from lagline.trade import coupon_predict as p
from lagline.trade.coupon_fit import as_gauss, believe, coupon_condition, without
from lagline.trade.coupon_measure import read
from lagline.trade.coupon_posterior import fit
from lagline.trade.set_aside import without_set_aside

sys.path.insert(0, str(Path(__file__).parents[1]))
from simulated_bench import Bench, cut_as_planned

KIT = generic_kit()
TIP, METAL, T, AMPS = "65 A", "steel", 9.525, 65.0
GOOD = cut_as_planned(Bench.drawn(21, KIT, TIP, METAL, T, AMPS), plan_coupon(KIT, METAL, T, AMPS, TIP), "c-1", 1)
KERF = "cuts[0].kerf_top_mm"
READINGS = [
    f"cuts[{n}].{f}_mm"
    for n in range(3)
    for f in ("kerf_top", "kerf_bottom", "guide_near", "guide_far", "gap_right", "gap_left", "lag")
]


def with_value(coupon: Coupon, label: str, value: float) -> Coupon:
    n, field = int(label[5]), label.partition(".")[2]
    cuts = list(coupon.cuts)
    cuts[n] = replace(cuts[n], **{field: value})
    return replace(coupon, cuts=tuple(cuts))


def learn(coupon: Coupon) -> tuple[Belief, tuple[Finding, ...]]:
    return believe(KIT, TIP, METAL, (coupon,))


def apart(found: tuple[Finding, ...]) -> set[str]:
    """Names set apart."""
    return {x for f in found if f.code == "coupon-odd" for x in f.where.partition(", ")[2].split(", ")}


NOT_TAKEN = "set apart, though you said that it stands"
WIDE = with_value(GOOD, KERF, 3.2)


def test_what_stands_counts_as_any_reading_does():
    assert apart(learn(WIDE)[1]) == {KERF}
    belief, (note,) = learn(replace(WIDE, stands=(KERF,)))
    assert (note.code, note.severity, note.where) == ("coupon-stands", Severity.NOTE, f"coupon c-1, {KERF}")
    assert "3.20 mm does not fit the rest" in note.message
    assert "counted, as you said that it stands" in note.message
    # the same belief as from the fit over all readings, with nobody judging them
    all_in = fit(read(WIDE, coupon_condition(KIT, WIDE, m.SUPPLY_KPA_G)), m.prior(KIT, TIP, METAL))
    assert np.array_equal(as_gauss(belief).mean, all_in.mean)


def test_what_it_shifted_is_told_as_the_figures_are():
    note = learn(replace(WIDE, stands=(KERF,)))[1][0]
    told = re.findall(r"(kerf|bevel right|bevel left) ([\d.]+) \w+, without it ([\d.]+) ", note.message)
    shown = {name: (float(now), float(was)) for name, now, was in told}
    assert set(shown) == {"kerf", "bevel right", "bevel left"}
    for at, coupon in enumerate((replace(WIDE, stands=(KERF,)), without(WIDE, (KERF,)))):
        s = p.sight(KIT, learn(coupon)[0])
        right, left = p.bevels(s)
        for name, figure, step in (("kerf", p.kerf(s, s.at(T, AMPS)), 0.01), ("bevel right", right, 0.1),
                                   ("bevel left", left, 0.1)):  # fmt: skip
            assert shown[name][at] == pytest.approx(figure.value, abs=step), name
    assert shown["kerf"][0] > shown["kerf"][1]  # the reading was wide


def test_a_reading_that_fits_stands_without_a_word():
    belief, found = learn(replace(GOOD, stands=(KERF,)))
    assert found == ()
    assert belief == learn(GOOD)[0]


def test_set_aside_goes_before_stands_in_one_record():
    assert learn(replace(WIDE, stands=(KERF,), set_aside=(KERF,))) == learn(replace(WIDE, set_aside=(KERF,)))
    counted = without_set_aside(replace(WIDE, stands=(KERF,), set_aside=("cuts[1].lag_mm",)))
    assert (counted.stands, counted.set_aside, counted.cuts[1].lag_mm) == ((KERF,), (), None)


# ---- pairs the wrong way round ----

RIGHT, LEFT = "cuts[0].gap_right_mm", "cuts[0].gap_left_mm"
SWAPPED = with_value(with_value(GOOD, RIGHT, 1.36), LEFT, 0.12)


def test_a_pair_that_stands_is_counted_and_said_to_fit_the_other_way_round():
    assert apart(learn(SWAPPED)[1]) == {RIGHT, LEFT}
    _, (note,) = learn(replace(SWAPPED, stands=(RIGHT, LEFT)))
    assert note.code == "coupon-stands"
    assert {RIGHT, LEFT} <= set(note.where.replace(",", "").split())
    assert "right and left the other way round" in note.message
    assert "bevel right" in note.message


@pytest.mark.parametrize(("one", "other"), [(RIGHT, LEFT), (LEFT, RIGHT)])
def test_of_a_pair_one_may_stand_and_the_other_is_judged_by_itself(one: str, other: str):
    _, found = learn(replace(SWAPPED, stands=(one,)))
    assert apart(found) == {other}
    assert not any("swapped" in f.allowed for f in found)
    assert [f.where for f in found if f.code == "coupon-stands"] == [f"coupon c-1, {one}"]


def test_a_square_side_that_is_wrong_all_through_may_stand_too():
    all_ = [f"cuts[{n}].gap_{s}_mm" for n in range(3) for s in ("right", "left")]
    bad = replace(GOOD, cuts=tuple(replace(c, gap_right_mm=1.0, gap_left_mm=0.25) for c in GOOD.cuts))
    assert apart(learn(bad)[1]) == set(all_)
    belief, (note,) = learn(replace(bad, stands=tuple(all_)))
    assert note.code == "coupon-stands"
    assert belief.mean[m.RIGHT] > learn(without(bad, tuple(all_)))[0].mean[m.RIGHT] + 1.0


# ---- what cannot be ----


@pytest.mark.parametrize(
    ("field", "value", "say"),
    [
        ("seconds", 2000.0, "seconds"),
        ("seconds", -3.0, "seconds"),
        ("seconds", float("nan"), "seconds"),
        ("kerf_top_mm", 0.0, "kerf_top_mm"),
        ("kerf_top_mm", float("inf"), "kerf_top_mm"),
        ("length_mm", 1.0, "seconds"),
    ],
)
def test_what_cannot_be_stays_out_and_says_so(field: str, value: float, say: str):
    bad = with_value(GOOD, f"cuts[0].{field}", value)
    belief, found = learn(replace(bad, stands=(f"cuts[0].{field}",)))
    (finding,) = found
    assert (finding.code, finding.severity) == ("coupon-odd", Severity.CAUTION)
    assert finding.where == f"coupon c-1, cuts[0].{say}"
    assert "though you said that it stands: it cannot be" in finding.message
    assert belief.mean == learn(bad)[0].mean
    assert "though you said" not in str(learn(bad)[1])


def test_a_circle_without_a_size_stays_out():
    bad = replace(GOOD, disc_asked_mm=80.0, disc_got_mm=0.0)
    assert "set apart, though you said" in str(learn(replace(bad, stands=("disc_asked_mm",)))[1])


def test_what_is_beyond_all_reach_stays_out_and_says_so():
    bad = with_value(GOOD, KERF, 8.0)  # four kerfs wide
    belief, (finding,) = learn(replace(bad, stands=(KERF,)))
    assert (finding.code, finding.severity) == ("coupon-odd", Severity.CAUTION)
    assert f"{NOT_TAKEN}: nothing in the model reaches so far" in finding.message
    assert belief == learn(bad)[0]


def test_readings_no_belief_was_found_for_stay_out_and_say_so(monkeypatch: pytest.MonkeyPatch):
    # however many samples count, it is called too few
    monkeypatch.setattr(coupon_fit, "FEW", 1e9)
    belief, (finding,) = learn(replace(WIDE, stands=(KERF,)))
    assert (finding.code, finding.severity) == ("coupon-odd", Severity.CAUTION)
    assert f"{NOT_TAKEN}: no figures were found that allow it beside the rest" in finding.message
    assert belief == learn(WIDE)[0]


# ---- laws ----

values = st.floats(0.02, 60) | st.sampled_from([0.001, 250.0, 20_000.0])


@given(st.sampled_from(READINGS), values)
@settings(deadline=None, max_examples=8)
def test_the_others_are_judged_as_if_it_were_not_there(label: str, value: float):
    bad = with_value(GOOD, label, value)
    before = learn(bad)[1]
    belief, after = learn(replace(bad, stands=(label,)))
    notes = [f for f in after if f.code == "coupon-stands"]
    if label in apart(after):  # beyond all reach
        assert NOT_TAKEN in str(after)
        assert belief == learn(bad)[0]
        return
    assert (label in apart(before)) == bool(notes)
    # a pair may have been set apart for its sake; nothing is that was not
    assert apart(after) <= apart(before) | {label}
    if not notes:
        assert belief == learn(bad)[0]
    elif apart(before) == {label}:
        assert apart(after) == set()


@given(st.dictionaries(st.sampled_from(READINGS), values, min_size=1, max_size=6))
@settings(deadline=None, max_examples=8)
def test_however_wild_what_stands_leaves_a_belief(wild: dict[str, float]):
    bad = GOOD
    for label, value in wild.items():
        bad = with_value(bad, label, value)
    belief, found = learn(replace(bad, stands=tuple(wild)))
    g = as_gauss(belief)
    assert np.isfinite(g.mean).all()
    assert np.linalg.eigvalsh(g.cov).min() > 0
    for f in found:
        assert NOT_TAKEN in f.message or not apart((f,)) & set(wild)
        assert "nan" not in f.message
        assert "inf" not in f.message


def test_another_coupons_readings_are_judged_by_what_then_is_known():
    """A tip bored out: said once, the next coupon with the same wide kerf needs no saying."""
    wide = replace(
        GOOD, hole_got_mm=None, disc_got_mm=None,
        cuts=tuple(replace(c, kerf_top_mm=3.6, kerf_bottom_mm=None, guide_near_mm=None, guide_far_mm=None)
                   for c in GOOD.cuts),
    )  # fmt: skip
    kerfs = tuple(f"cuts[{n}].kerf_top_mm" for n in range(3))
    assert apart(learn(wide)[1]) >= set(kerfs)
    said = replace(wide, stands=kerfs)
    again = replace(wide, id="c-2", starts=3)
    _, found = believe(KIT, TIP, METAL, (said, again))
    assert {f.where.partition(",")[0] for f in found if f.code == "coupon-odd" and "kerf_top" in f.where} == set()
