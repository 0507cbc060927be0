"""The settings stage by its laws: what a thicker plate, a bevel or the user's own current must do."""

from __future__ import annotations

import sys
from dataclasses import fields, replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.planning.settings import choose_settings, currents, setting_for, tip_for
from lagline.records.errors import LaglineError
from lagline.records.figure import Basis, Figure, Spread
from lagline.records.finding import Severity
from lagline.records.kit import Tip
from lagline.trade.register import get

sys.path.insert(0, str(Path(__file__).parents[1]))
from blanks import square_blank
from kits import IPM, generic_kit

KIT = generic_kit()


def codes(findings, severity=None):
    return {f.code for f in findings if severity is None or f.severity is severity}


def one(metal, t, kit=KIT, amps=None, bevel=0.0):
    made, found = choose_settings((square_blank(metal, t, bevel),), kit, amps)
    return setting_for(made, made[0].stock, bevel), found


def test_square_comes_first_then_bevels_and_ids_are_readable():
    blanks = (square_blank("steel", 9.525, 30.0), square_blank("steel", 9.525, 45.0), square_blank("aluminium", 6.35))
    made, _ = choose_settings(blanks, KIT, None)
    assert [s.id for s in made] == ["steel-9.5", "steel-9.5-bevel30", "steel-9.5-bevel45", "aluminium-6.4"]
    assert [s.true_thickness_mm for s in made[:3]] == pytest.approx([9.525, 9.525 * 1.1547005, 9.525 * 1.4142136])


def test_stocks_that_round_alike_keep_apart():
    made, _ = choose_settings((square_blank("steel", 9.5), square_blank("steel", 9.525)), KIT, None)
    assert [s.id for s in made] == ["steel-9.500", "steel-9.525"]
    assert setting_for(made, square_blank("steel", 9.525).part.stock).stock.thickness_mm == 9.525


def test_every_figure_names_a_registered_formula_and_a_source():
    for metal in ("steel", "stainless", "aluminium"):
        for t in (1.5, 6.35, 12.7, 25.4):
            s, _ = one(metal, t, bevel=30.0)
            figures = [v for f in fields(s) if isinstance(v := getattr(s, f.name), Figure)]
            assert len(figures) == 10
            for figure in figures:
                assert get(figure.formula).source
                assert figure.source


def test_thick_takes_full_current_and_thin_goes_down():
    # "thin: down, for a narrow kerf and holdable pace; thick: full; bore sized to amps": common practice, no source
    amps = {t: one("steel", t)[0].current_a for t in (1.5, 3.175, 6.35, 9.525, 12.7, 19.05)}
    assert list(amps.values()) == sorted(amps.values())
    assert amps[1.5] == KIT.power.min_current_a
    assert amps[12.7] == amps[19.05] == KIT.power.rated_current_a
    assert one("steel", 3.175)[0].tip == "45 A"
    assert one("steel", 12.7)[0].tip == "65 A"


@pytest.mark.parametrize(
    ("thickness_mm", "low_a", "high_a"),
    [(3.175, 25, 35), (6.35, 40, 50), (9.525, 45, 65), (12.7, 60, 80)],
)
def test_amps_by_thickness_of_the_trade(thickness_mm, low_a, high_a):
    # amps by steel thickness, 1/8 to 1/2 in: common practice, no source (placeholders); nothing was fitted to them
    assert low_a <= one("steel", thickness_mm)[0].current_a <= high_a


@given(st.sampled_from(("steel", "stainless", "aluminium")), st.floats(1.0, 40.0))
@settings(deadline=None, max_examples=25)
def test_chosen_current_is_one_the_set_and_tip_can_carry(metal, t):
    s, found = one(metal, t)
    assert KIT.power.min_current_a <= s.current_a <= KIT.power.rated_current_a
    assert s.current_a in currents(KIT)
    tip = next(x for x in KIT.torch.tips if x.name == s.tip)
    assert s.current_a <= tip.max_current_a
    assert s.pace_mm_s.value <= KIT.operator.pace_high_mm_s + 1e-9
    assert s.pierce_ok <= s.edge_ok
    assert s.edge_ok or s.weakest.startswith("thickness")
    assert s.edge_ok != ("too-thick" in codes(found, Severity.NO_GO))
    assert s.edge_ok <= (s.pierce_ok or "pierce-beyond" in codes(found))


def test_rated_thickness_goes_clean_from_the_edge_at_the_rated_pace():
    # rated thickness means a clean cut at about 10 in/min: common practice, no source
    s, found = one("steel", KIT.power.rated_thickness_mm.value)
    assert s.edge_ok
    assert not s.pierce_ok
    assert s.pace_mm_s.value == pytest.approx(10 * IPM, rel=1e-9)
    assert "sever-only" not in codes(found)
    assert {"pierce-beyond", "pace-below-hand"} <= codes(found)


def test_beyond_rated_is_severed_and_beyond_that_is_no_go():
    rated = KIT.power.rated_thickness_mm.value
    severed, found = one("steel", 1.2 * rated)
    assert severed.edge_ok
    assert "sever-only" in codes(found)
    beyond, found = one("steel", 1.26 * rated)
    assert not beyond.edge_ok
    assert beyond.weakest.startswith("thickness")
    (finding,) = [f for f in found if f.code == "too-thick"]
    assert finding.severity is Severity.NO_GO
    assert "bigger set" in finding.allowed
    assert "oxy-fuel" in finding.allowed
    _, found = one("aluminium", 60.0)
    assert "oxy-fuel" not in next(f for f in found if f.code == "too-thick").allowed


def test_a_bevel_cuts_slower_and_can_be_what_is_too_thick():
    # 45 deg is 1.414 times the plate
    square, _ = one("steel", 12.7, amps=65)
    tilted, _ = one("steel", 12.7, amps=65, bevel=45.0)
    assert tilted.true_thickness_mm == pytest.approx(17.96, abs=0.005)
    assert tilted.pace_mm_s.value < square.pace_mm_s.value
    assert not tilted.drag
    made, found = choose_settings((square_blank("steel", 19.05, 45.0),), KIT, None)
    assert [s.edge_ok for s in made] == [True, False]
    assert [f.where for f in found if f.code == "too-thick"] == [f"{made[1].stock.thickness_text} steel, bevel 45 deg"]


def test_the_users_current_is_kept_and_said_when_it_cannot_be():
    s, found = one("steel", 6.35, amps=30.0)
    assert (s.current_a, s.tip) == (30.0, "45 A")
    assert not codes(found, Severity.NO_GO)
    s, found = one("steel", 6.35, amps=80.0)
    assert s.current_a == 80.0
    assert "current-above-set" in codes(found, Severity.NO_GO)
    assert not s.edge_ok
    assert s.weakest.startswith("set")
    small = replace(KIT, torch=replace(KIT.torch, tips=(Tip("45 A", 1.1, 45.0),)))
    s, found = one("steel", 6.35, kit=small, amps=60.0)
    assert "current-above-tip" in codes(found, Severity.NO_GO)
    assert not s.edge_ok
    assert s.weakest.startswith("tip")
    _, found = one("steel", 6.35, amps=10.0)
    assert "current-below-set" in codes(found, Severity.CAUTION)


def test_input_that_is_no_current_or_no_tip_is_refused():
    with pytest.raises(LaglineError, match="not a cutting current"):
        one("steel", 6.35, amps=-5.0)
    with pytest.raises(LaglineError, match="not a cutting current"):
        one("steel", 6.35, amps=float("nan"))
    with pytest.raises(LaglineError, match="no tip"):
        one("steel", 6.35, kit=replace(KIT, torch=replace(KIT.torch, tips=())))
    with pytest.raises(LaglineError, match="bevel"):
        one("steel", 6.35, bevel=90.0)


def test_a_measured_kerf_is_the_users_and_silences_the_note():
    tips = (Tip("65 A", 1.3, 65.0, Spread(2.2, 2.1, 2.3)),)
    s, found = one("steel", 12.7, kit=replace(KIT, torch=replace(KIT.torch, tips=tips)))
    assert s.kerf_mm.value == 2.2
    assert s.kerf_mm.basis is Basis.KIT
    assert "as typed in the kit, for whatever it was measured on" in s.kerf_mm.source
    assert "kerf-default" not in codes(found)
    assert "kerf-default" in codes(one("steel", 12.7)[1])


def test_smallest_tip_that_carries_the_current():
    assert [tip_for(KIT, a).name for a in (20, 45, 45.5, 65, 90)] == ["45 A", "45 A", "65 A", "65 A", "65 A"]


def test_thin_sheet_outruns_the_hand_and_says_so():
    s, found = one("steel", 1.5)
    assert s.pace_mm_s.value == pytest.approx(40 * IPM)
    assert s.pace_mm_s.formula == "pace.held"
    assert s.weakest.startswith("hand")
    assert "pace-above-hand" in codes(found, Severity.CAUTION)


def test_no_blanks_no_settings():
    assert choose_settings((), KIT, None) == ((), ())
