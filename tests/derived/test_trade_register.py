"""The register: every formula of the trade says what it is, where from and how far it goes."""

from __future__ import annotations

import importlib
import pkgutil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import lagline.trade
from lagline.data import table
from lagline.records.finding import Severity
from lagline.trade.register import Limit, all_formulas, formula, get, out_of_range

MODULES = [m.name for m in pkgutil.iter_modules(lagline.trade.__path__)]
for _name in MODULES:
    importlib.import_module(f"lagline.trade.{_name}")
OURS = all_formulas()
TAGS = ("(seen", "seen)", "from memory", "derived", "common practice, no source", "kit", "table ", "definition")


def test_there_are_many_and_keys_are_topic_dot_name():
    assert len(OURS) > 60
    for f in OURS:
        topic, _, name = f.key.partition(".")
        assert topic
        assert name
        assert f.key == f.key.lower()


@pytest.mark.parametrize("f", OURS, ids=lambda f: f.key)
def test_every_formula_is_complete(f):
    assert f.text
    assert f.gives
    assert f.source
    assert len(f.doc) > 20
    for limit in f.limits:
        assert limit.low < limit.high
        assert limit.unit
    assert len({limit.name for limit in f.limits}) == len(f.limits)
    assert any(tag in f.source for tag in TAGS), f.source
    if "[" in f.gives:
        assert "]" in f.gives


def test_a_key_is_registered_once():
    with pytest.raises(ValueError, match="twice"):
        formula("pace.beat", text="x", gives="x", source="x")(lambda: None)
    with pytest.raises(KeyError):
        get("no.such")


LIMITS = [(f.key, limit) for f in OURS for limit in f.limits]


@given(st.sampled_from(LIMITS), st.floats(0, 1))
@settings(deadline=None, max_examples=60)
def test_inside_is_silent_and_outside_is_said(entry, share):
    key, limit = entry
    inside = limit.low + share * (limit.high - limit.low)
    assert out_of_range(key, "here", **{limit.name: min(max(inside, limit.low), limit.high)}) == ()
    width = limit.high - limit.low
    for outside in (limit.low - 0.01 * width, limit.high + 0.01 * width):
        (finding,) = out_of_range(key, "here", **{limit.name: outside})
        assert finding.severity is Severity.CAUTION
        assert limit.unit in finding.message
        assert f"{limit.low:g} to {limit.high:g}" in finding.allowed


def test_inputs_that_have_no_limit_are_left_alone():
    assert out_of_range("pace.beat", "here", something_else=1e9) == ()
    assert Limit("x", 0, 1, "mm").why == ""


@pytest.mark.parametrize(
    "name",
    [
        "metals",
        "sheet_gauges",
        "kerf_by_current",
        "handbook_pace",
        "handbook_aluminium",
        "nec_630_11_a",
        "iso9013_ranges",
        "iso9013_profile",
        "iso9013_class1",
        "iso9013_class2",
        "iso9013_class2_2002",
        "grinding_allowance",
        "hand_tolerance",
        "lens_shades",
        "fire_watch",
        "fume",
    ],
)
def test_every_table_has_a_source_and_whole_rows(name):
    t = table(name)
    assert len(t.source) > 10
    assert t.rows
    for row in t.rows:
        assert None not in row
        assert None not in row.values()
