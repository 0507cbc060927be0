"""Lengths: shop text against exact fractions, and the laws of showing and reading back."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.records.errors import LaglineError
from lagline.records.length import (
    exact_mm,
    read_length,
    seconds_per_inch,
    show_both,
    show_fraction,
    show_length,
    show_pace,
)

# An inch is 25.4 mm exactly: international yard and pound agreement of 1959.
IN = Fraction(254, 10)


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("3/8", "3/8"),
        ('3/8"', "3/8"),
        ('1-1/2"', "3/2"),
        ("1 1/2 in", "3/2"),
        ("1 1/2 in.", "3/2"),
        ("5' 3-1/4\"", "253/4"),
        ("5'-3 1/4\"", "253/4"),
        ("5' 3-1/4", "253/4"),
        ("5'3\"", "63"),
        ("6 ft 2 in", "74"),
        ("6ft. 2in.", "74"),
        ("6 feet 2 inches", "74"),
        ("5.5'", "66"),
        ("5 1/2 ft", "66"),
        (".375", "3/8"),
        ("0.375 in", "3/8"),
        ("3.", "3"),
        ("½", "1/2"),
        ("1½", "3/2"),
        ("11½″", "23/2"),
        ("1⅝ in", "13/8"),
        ("1⁄2", "1/2"),
        ("5′ 3¼″", "253/4"),
        ("5’ 3-1/4”", "253/4"),
        ("5''", "5"),
        ("1–1/2", "3/2"),
        ("  2   IN ", "2"),
        ("9/8", "9/8"),
    ],
)
def test_shop_text_in_inches(text, inches):
    assert exact_mm(text, "in", "x") == Fraction(inches) * IN


@pytest.mark.parametrize(
    ("text", "mm"), [("12 mm", "12"), ("12mm", "12"), ("1.5 cm", "15"), ("2 m", "2000"), ("1/2 mm", "1/2"), ("7", "7")]
)
def test_shop_text_in_millimetres(text, mm):
    assert exact_mm(text, "mm", "x") == Fraction(mm)


def test_bare_numbers_take_the_default_unit_and_decimals_stay_as_written():
    assert exact_mm(0.1, "mm", "x") == Fraction(1, 10)
    assert exact_mm(48, "in", "x") == 48 * IN
    assert exact_mm("48", "mm", "x") == 48
    assert exact_mm("48 mm", "in", "x") == 48


@pytest.mark.parametrize(
    "text",
    [
        "",
        "   ",
        "1/0",
        "1 1/0",
        "0/0",
        "nan",
        "inf",
        "two",
        "10 ga",
        "3 4",
        "3-4",
        "1 - 1/2",
        "1.5-1/2",
        "1 5/4",
        "1/2/3",
        "1e3",
        "--1",
        "2²",
        "٣",
        "5' 13\"",
        "5.5' 3\"",
        "1' -2\"",
        '3/8 in"',
        "12 yd",
        '"',
        "'",
        "9" * 70,
        "9" * 50,
        "1001 m",
        "\x00",
        "⅟",
        True,
        None,
        [],
        {},
        float("nan"),
        float("inf"),
        10**400,
        -(10**400),
        1e300,
    ],
)
def test_what_is_not_a_length_is_refused_with_a_finding(text):
    with pytest.raises(LaglineError) as e:
        exact_mm(text, "in", "job.toml: width")
    (f,) = e.value.findings
    assert f.where == "job.toml: width"
    assert f.allowed


def test_decimal_comma_gets_a_hint():
    for text in ("12,5", "1,200 mm"):
        with pytest.raises(LaglineError) as e:
            read_length(text, "mm", "x")
        assert "comma" in e.value.findings[0].message
        assert "point" in e.value.findings[0].allowed


def test_below_and_at_zero_only_when_asked():
    for text in ("-1/2", "−1/2", "- 1/2", -0.5):
        with pytest.raises(LaglineError):
            read_length(text, "in", "x")
        assert read_length(text, "in", "x", signed=True) == -12.7
    assert read_length("0", "in", "x") == 0
    with pytest.raises(LaglineError):
        read_length("0", "in", "x", zero=False)


@given(
    mm=st.floats(-50_000, 50_000),
    den=st.sampled_from([16, 32, 64]),
    feet=st.booleans(),
)
@settings(deadline=None, max_examples=300)
def test_what_is_shown_reads_back_within_half_a_step(mm, den, feet):
    shown, moved = show_fraction(mm, den, feet=feet)
    back = exact_mm(shown, "mm", "x")  # the mark in the text decides, not the default unit
    assert abs(back - Fraction(mm)) <= IN / (2 * den)
    assert float(back - Fraction(mm)) == pytest.approx(moved, abs=1e-9)
    # the nearest step, checked against Python's own exact rounding of the fraction
    steps = abs(Fraction(mm)) / IN * den
    assert abs(back) in {k * IN / den for k in (steps.__floor__(), steps.__ceil__())}


@given(n=st.integers(0, 64 * 600), den=st.sampled_from([16, 32, 64]), feet=st.booleans())
@settings(deadline=None, max_examples=200)
def test_whole_steps_come_back_exact_and_unmarked(n, den, feet):
    exact = Fraction(n, den) * IN
    shown = show_length(float(exact), "in", den, feet=feet)
    assert not shown.startswith("~")
    assert exact_mm(shown, "in", "x") == exact


@given(mm=st.floats(0, 5000))
@settings(deadline=None, max_examples=200)
def test_mark_says_when_rounding_moved_it(mm):
    shown = show_length(mm, "in", 16, mark_over_mm=0.4)
    moved = abs(float(exact_mm(shown.removeprefix("~"), "in", "x")) - mm)
    if shown.startswith("~"):
        assert moved > 0.4 - 1e-6 or (shown == '~0"' and mm > 0.01)
    else:
        assert moved <= 0.4 + 1e-6


@given(mm=st.floats(-5000, 5000), decimals=st.integers(0, 3))
@settings(deadline=None, max_examples=100)
def test_millimetres_read_back(mm, decimals):
    back = exact_mm(show_length(mm, "mm", decimals=decimals), "in", "x")
    assert abs(float(back) - mm) <= 0.5 * 10**-decimals + 1e-9


@given(st.text(max_size=12))
@settings(deadline=None, max_examples=300)
def test_any_text_is_a_length_or_a_finding(text):
    try:
        value = exact_mm(text, "in", "x")
    except LaglineError:
        return
    assert any(c.isdigit() or c.isnumeric() for c in text)
    assert isinstance(value, Fraction)


@given(
    whole=st.integers(0, 500),
    num=st.integers(1, 63),
    den=st.sampled_from([2, 4, 8, 16, 32, 64]),
    sep=st.sampled_from("- "),
)
@settings(deadline=None, max_examples=200)
def test_mixed_numbers_equal_their_fraction(whole, num, den, sep):
    text = f'{whole}{sep}{num}/{den}"'
    if num >= den:
        with pytest.raises(LaglineError):
            exact_mm(text, "in", "x")
    else:
        assert exact_mm(text, "in", "x") == (whole + Fraction(num, den)) * IN


def test_shown_forms():
    assert show_length(38.1, "in") == '1-1/2"'
    assert show_length(63.25 * 25.4, "in", feet=True) == "5' 3-1/4\""
    assert show_length(63.25 * 25.4, "in") == '63-1/4"'
    assert show_length(-9.525, "in") == '-3/8"'
    assert show_length(12.0, "mm") == "12 mm"
    assert show_length(100.0, "mm", decimals=0) == "100 mm"
    assert show_length(-0.001, "mm") == "0 mm"
    assert show_length(0.3, "in") == '~0"'
    assert show_both(9.525) == '3/8" (9.5 mm)'


def test_pace_as_a_beat():
    # 3 s/in is 20 in/min: derived, 60/3
    twenty = 20 * 25.4 / 60
    assert seconds_per_inch(twenty) == pytest.approx(3)
    assert show_pace(twenty, "in") == "3.0 s per inch (20 in/min)"
    assert show_pace(10.0, "mm") == "10.0 mm/s (2.5 s per 25 mm)"
    for bad in (0, -1, float("nan"), float("inf")):
        with pytest.raises(ValueError):
            seconds_per_inch(bad)
