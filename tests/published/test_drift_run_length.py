"""Run lengths of cumulative sums against printed ones."""

from __future__ import annotations

import pytest

from lagline.trade.drift import coupons_to_false_alarm


@pytest.mark.parametrize(
    ("decision", "both", "printed"),
    # k = 0.5: 168 (h = 4) and 465 (h = 5) when both ways count, twice that one way: Montgomery, Introduction to
    # Statistical Quality Control, table of ARLs after Hawkins 1993 (from memory)
    [(4, True, 168), (5, True, 465), (4, False, 336), (5, False, 930)],
)
def test_siegmund_formula_within_2_percent_of_printed(decision, both, printed):
    assert coupons_to_false_alarm(0.5, decision, both_ways=both) == pytest.approx(printed, rel=0.02)
