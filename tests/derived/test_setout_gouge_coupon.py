"""A gouge measured on a coupon counts for the groove, by its tip and metal, and what is typed goes before it."""

from __future__ import annotations

from pathlib import Path

import pytest

from lagline.desk import setout_desk
from lagline.desk.coupon_desk import CouponDesk
from lagline.planning.kit_file import generic_kit
from lagline.records.setout import SetOut

KIT = generic_kit()
ASKED = {"kind": "crack", "thickness": '3/4"', "depth": '3/8"', "length": '5"'}


def enter(desk: CouponDesk, width: str, depth: str, tip: str = "65 A", date: str = "2026-11-01") -> str:
    given = {"tip": tip, "metal": "steel", "thickness": '3/4"', "current": "65"}
    also = (f"gouge width={width}", f"gouge depth={depth}", "gouge pace=30 in/min", f"date={date}")
    return desk.add_words(given, also, (), KIT).coupon.id


def groove(desk: CouponDesk, **more: str) -> SetOut:
    return setout_desk.answer("gouge", "groove", ASKED | more, kit=(KIT, ()), learn=desk.learned_for)


@pytest.fixture
def desk(tmp_path: Path) -> CouponDesk:
    return CouponDesk(tmp_path)


def test_the_last_gouge_of_the_tip_is_used_and_named(desk: CouponDesk):
    before = groove(desk)
    enter(desk, '5/16"', '3/32"', date="2026-10-01")
    last = enter(desk, '1/4"', '1/16"')
    after = groove(desk)
    assert after["arc_share"] < before["arc_share"]
    assert any(last in f.message for f in after.findings)
    typed = groove(desk, read_width='1/4"', read_depth='1/16"', read_pace="30")
    assert typed["arc_share"] == pytest.approx(after["arc_share"], rel=1e-6)
    assert not any(last in f.message for f in typed.findings)
    again = groove(desk)  # read back from what is kept
    assert again == after


def test_a_gouge_of_another_tip_or_metal_says_nothing(desk: CouponDesk):
    steel, stainless = groove(desk)["arc_share"], groove(desk, metal="stainless")["arc_share"]
    enter(desk, '1/4"', '1/16"', tip="45 A")
    assert groove(desk)["arc_share"] == steel
    enter(desk, '1/4"', '1/16"')
    assert groove(desk)["arc_share"] != steel
    assert groove(desk, metal="stainless")["arc_share"] == stainless
