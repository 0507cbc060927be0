"""The coupon page: its example is read without a word, and its table of findings holds every one there is."""

from __future__ import annotations

import re
from pathlib import Path

from lagline.planning.coupon_read import coupon_from_text
from lagline.planning.coupon_table import CUT_LENGTHS
from lagline.planning.kit_file import generic_kit

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "coupon.md").read_text(encoding="utf-8")
SOURCES = (
    "planning/coupon_read.py",
    "planning/coupon_table.py",
    "planning/coupon_fields.py",
    "planning/coupon_doubts.py",
    "book/coupons.py",
    "book/open_book.py",
    "desk/coupon_desk.py",
    "trade/coupon_fit.py",
    "trade/coupon_stands.py",
    "trade/coupon_unusable.py",
    "trade/tip_drift.py",
)
CODE = re.compile(r'(?:refuse|_no|_ask|_fault|Finding|_gone)\(\s*(?:f"[^"]*"|"([a-z]+(?:-[a-z]+)+)")')


def test_the_example_is_a_good_coupon():
    example = re.search(r"```toml\n(.*?)```", PAGE, re.DOTALL)
    assert example is not None
    c, found = coupon_from_text(example[1], "coupon.toml", generic_kit())
    assert found == ()
    assert len(c.cuts) == 2


def test_every_finding_is_in_the_table():
    told = set(re.findall(r"`([a-z]+(?:-[a-z]+)+)`", PAGE))
    raised = {
        code
        for source in SOURCES
        for code in CODE.findall((ROOT / "src" / "lagline" / source).read_text(encoding="utf-8"))
        if code
    }
    assert len(raised) > 35
    assert raised <= told, raised - told


def test_every_measurement_of_a_cut_is_on_the_page():
    for field in (*CUT_LENGTHS, "seconds", "through", "gap_right", "gap_left", "lag", "dross"):
        assert f"`{field}`" in PAGE
