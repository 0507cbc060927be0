"""The model's pace and kerf against printed tables, each row predicted from the others; same figures in the docs.

The limits are what was measured: a change that predicts worse fails, and one that predicts better should tighten them.
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from lagline.trade.coupon_rows import (
    half_loss,
    kerf_mean,
    kerf_model,
    kerf_regression,
    kerf_rows,
    left_out,
)
from lagline.trade.heat import cylinder_loss, front_half
from lagline.trade.pace_check import aluminium_rows, mechanised_rows

RULES = ("one_over_t", "power_over_t", "regression")


def rms(rows, name):
    return math.sqrt(sum(getattr(r, name) ** 2 for r in rows) / len(rows))


# Bohnart, Welding: Principles and Practices, tables 17-2 and 17-3 (stainless, aluminium seen; steel from memory)
@pytest.mark.parametrize(
    ("metal", "model", "error", "best_rule"),
    [("steel", "whole", 0.110, 0.030), ("stainless", "whole", 0.145, 0.193), ("aluminium", "half", 0.338, 0.397)],
)
def test_error_on_rows_left_out(metal, model, error, best_rule):
    rows = left_out(mechanised_rows(metal))
    assert rms(rows, model) == pytest.approx(error, abs=0.001)
    assert min(rms(rows, r) for r in RULES) == pytest.approx(best_rule, abs=0.001)


def test_nothing_beaten_on_steel_best_on_stainless_and_aluminium():
    best = {}
    for metal, model in (("steel", "whole"), ("stainless", "whole"), ("aluminium", "half")):
        rows = left_out(mechanised_rows(metal))
        best[metal] = rms(rows, model) < min(rms(rows, r) for r in RULES)
    assert best == {"steel": False, "stainless": True, "aluminium": True}


def test_a_falloff_learned_from_the_other_rows_does_not_help():
    # four to seven rows cannot tell a bend from their scatter: the prior keeps it near nought
    for metal in ("steel", "stainless", "aluminium"):
        rows = left_out(mechanised_rows(metal))
        assert rms(rows, "whole_bent") >= rms(rows, "whole") - 0.001


def test_second_book_agrees_that_aluminium_loses_less_than_the_whole_cylinder():
    # Mathers, The Welding of Aluminium and Its Alloys, tables 4.1 and 4.2 (seen). The leading half was chosen looking
    # at the first book; this one had no say in it. No model of ours is the best there.
    rows = left_out(aluminium_rows())
    assert len(rows) == 28
    measured = {n: rms(rows, n) for n in ("whole", "half", "half_bent", *RULES)}
    expected = {
        "whole": 0.800, "half": 0.646, "half_bent": 0.485,
        "one_over_t": 0.899, "power_over_t": 0.449, "regression": 0.419,
    }  # fmt: skip
    for name, value in expected.items():
        assert measured[name] == pytest.approx(value, abs=0.003), name


@pytest.mark.parametrize("pe", [0.02, 0.1, 0.5, 1.0, 5.0, 10.0])
def test_half_loss_is_the_front_flux_less_the_slots_own_heat(pe):
    assert half_loss(pe) == pytest.approx(front_half(pe) - 2 * pe, rel=2e-3)
    assert 0.45 * cylinder_loss(pe) < half_loss(pe) < 0.75 * cylinder_loss(pe)


# Adv. Mater. Sci. Eng. 2023, article 1189042, table 5 (seen)
def test_the_kerf_table_is_the_printed_one():
    rows = kerf_rows()
    assert len(rows) == 27

    def level(**at):
        chosen = [r.kerf_mm for r in rows if all(getattr(r, k) == v for k, v in at.items())]
        return sum(chosen) / len(chosen)

    # level means (derived from the table)
    assert [level(bar=b) for b in (4, 5, 6)] == pytest.approx([1.488, 1.385, 1.236], abs=0.001)
    assert [level(current_a=a) for a in (110, 120, 130)] == pytest.approx([1.193, 1.356, 1.560], abs=0.001)
    assert [level(pace_mm_min=v) for v in (1000, 1400, 1800)] == pytest.approx([1.297, 1.337, 1.474], abs=0.001)


def folds(name):
    rows = kerf_rows()
    if name == "one":
        return [([*rows[:i], *rows[i + 1 :]], [rows[i]]) for i in range(len(rows))]
    values = sorted({getattr(r, name) for r in rows})
    return [([r for r in rows if getattr(r, name) != v], [r for r in rows if getattr(r, name) == v]) for v in values]


@pytest.mark.parametrize(
    ("held_out", "model", "regression", "mean"),
    [("one", 0.0575, 0.0472, 0.207), ("current_a", 0.0648, 0.0546, 0.261), ("bar", 0.0827, 0.0574, 0.231)],
)
def test_kerf_of_runs_held_out(held_out, model, regression, mean):
    def error(rule):
        e = [rule(train, r) - r.kerf_mm for train, test in folds(held_out) for r in test]
        return math.sqrt(sum(x * x for x in e) / len(e))

    # plain regression is a little better there: the table's effects add, power laws multiply (docs)
    assert error(kerf_model) == pytest.approx(model, abs=0.0005)
    assert error(kerf_regression) == pytest.approx(regression, abs=0.0005)
    assert error(kerf_mean) == pytest.approx(mean, abs=0.001)


def test_the_docs_show_what_is_measured():
    text = (Path(__file__).parents[2] / "docs" / "coupon-model.md").read_text(encoding="utf-8")
    names = ("whole", "whole_bent", "half", "half_bent", *RULES)
    for metal, rows in [(m, mechanised_rows(m)) for m in ("steel", "stainless", "aluminium")]:
        told = left_out(rows)
        assert f"|**rms {metal}**||" + "|".join(f"**{rms(told, n):.3f}**" for n in names) + "|" in text
        for r in told:
            errors = "|".join(f"{getattr(r, n):+.2f}" for n in names)
            assert f"|{metal} {r.row.label}|{r.row.pace_mm_s * 60 / 25.4:.0f}|{errors}|" in text
