"""Noise dose, fire watch, clearances and limits against the rules that print them."""

from __future__ import annotations

import pytest

from lagline.data import table
from lagline.planning.safety_sheet import watch_rules
from lagline.trade.noise import NIOSH, OSHA, average_dba, dose_percent, level_of


@pytest.mark.parametrize(("dba", "hours"), [(90, 8), (95, 4), (100, 2), (105, 1), (110, 0.5), (115, 0.25)])
def test_permitted_hours(dba, hours):
    # 29 CFR 1910.95 table G-16: ends seen, middle rows from memory
    assert OSHA.hours(dba) == pytest.approx(hours)
    assert dose_percent(OSHA, ((dba, hours),)) == pytest.approx(100)


@pytest.mark.parametrize(("dba", "hours"), [(92, 6.06), (97, 3.03), (102, 1.52)])
def test_formula_of_appendix_a_where_the_table_is_rounded(dba, hours):
    # T = 8/2^((L-90)/5), 29 CFR 1910.95 appendix A (derived); table G-16 prints 6, 3 and 1.5
    assert OSHA.hours(dba) == pytest.approx(hours, abs=0.005)


@pytest.mark.parametrize(("dose", "dba"), [(50, 85), (100, 90), (200, 95), (25, 80), (400, 100)])
def test_dose_as_a_level_over_eight_hours(dose, dba):
    # 29 CFR 1910.95 appendix A: 16.61 log10(D/100) + 90, a half or a double for every 5 dB (derived)
    assert average_dba(OSHA, dose) == pytest.approx(dba, abs=0.01)
    assert dose_percent(OSHA, ((dba, 8),)) == pytest.approx(dose)


def test_niosh():
    # 85 dBA over 8 h, 3 dB: at 100 dBA 15 min, where 29 CFR 1910.95 has 2 h (limit seen, times derived)
    assert 60 * NIOSH.hours(100) == pytest.approx(15)
    assert OSHA.hours(100) == pytest.approx(2)
    assert dose_percent(NIOSH, ((85, 8),)) == pytest.approx(100)
    assert dose_percent(NIOSH, ((88, 8),)) == pytest.approx(200)
    assert average_dba(NIOSH, 200) == pytest.approx(88)


def test_levels():
    # HSE, noise in welding and cutting (seen): hand plasma to 100 A 98-105 dB(A), grinding 95-105
    assert (level_of("plasma by hand").low, level_of("plasma by hand").high) == (98, 105)
    assert (level_of("grinding").low, level_of("grinding").high) == (95, 105)


def test_a_dose_without_time_has_no_level():
    with pytest.raises(ValueError, match="dose"):
        average_dba(OSHA, 0)


def test_fire_watch_by_edition():
    # half an hour by 29 CFR 1910.252(a)(2)(iii)(B) and NFPA 51B to its 2014 edition (seen); an hour and up to three
    # hours of monitoring by NFPA 51B:2019 (from memory)
    rows = {r["rule"]: (r["watch_min"], r["monitor_h"]) for r in table("fire_watch").rows}
    assert rows["29 CFR 1910.252(a)(2)(iii)"] == ("30", "0")
    assert rows["NFPA 51B to the 2014 edition"] == ("30", "0")
    assert rows["NFPA 51B:2019"] == ("60", "3")
    assert watch_rules() == tuple(rows)


def test_clearances_and_limits():
    # 35 ft: 29 CFR 1910.252(a)(2)(iii) (seen), (vii)-(viii) (from memory); 1 gal, 50 lb, 10 lb: 30 CFR 57.4660 (seen)
    what = " ".join(r["what"] for r in table("clearances").rows)
    assert what.count("35 ft (10.7 m)") == 3
    assert pytest.approx(10.7, abs=0.05) == 35 * 0.3048
    assert all(x in what for x in ("1 gal", "50 lb", "10 lb"))
    limits = {(r["name"], r["substance"]): (r["limit"], r["over"]) for r in table("exposure_limits").rows}
    # 29 CFR 1910.1026 (seen); 1910.1000 table Z-1, 1910.1025, 1910.1027 (from memory)
    assert limits["stainless", "chromium VI"] == ("5 ug/m3; action level 2.5", "8 h")
    assert limits["stainless", "nickel"] == ("1 mg/m3", "8 h")
    assert limits["steel", "manganese"] == ("5 mg/m3", "ceiling")
    assert limits["steel", "iron oxide fume"] == ("10 mg/m3", "8 h")
    assert limits["galvanised", "zinc oxide fume"] == ("5 mg/m3", "8 h")
    assert limits["paint", "lead"] == ("50 ug/m3; action level 30", "8 h")
    assert limits["any", "nitrogen dioxide"] == ("5 ppm", "ceiling")
    assert limits["any", "ozone"] == ("0.1 ppm", "8 h")
