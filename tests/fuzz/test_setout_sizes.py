"""Any text as the sizes of a shape, any shape: a template or a refusal that says what works, never a break."""

from __future__ import annotations

import contextlib
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.desk.setout_desk import as_dict
from lagline.records.errors import LaglineError
from lagline.shapes.named import SHAPES
from tests.ask import ask

NAMES = sorted({p.name for s in SHAPES.values() for p in s.params})
VALUES = (
    "12",
    "3-1/2",
    "0",
    "-4",
    "nan",
    "1e9",
    "1/0",
    "all",
    "top-left",
    "0,0 9,0 0,9",
    "0,0 9",
    "",
    "=",
    "1000",
    "½",
)
PAIRS = st.lists(st.tuples(st.sampled_from(NAMES), st.sampled_from(VALUES)), max_size=6)


def told(texts: dict[str, str]) -> None:
    with contextlib.suppress(LaglineError):  # it cannot be made without a finding
        assert json.dumps(as_dict(ask("guide", "template", {"thickness": "1/4", **texts})), allow_nan=False)


@settings(deadline=None, max_examples=30)
@given(st.sampled_from(sorted(SHAPES)), PAIRS)
def test_sizes_of_any_names_and_values(shape, pairs):
    told({"shape": shape, "sizes": " ".join(f"{n}={v}" for n, v in pairs)})


@settings(deadline=None, max_examples=30)
@given(st.sampled_from(sorted(SHAPES)), st.text(max_size=40))
def test_sizes_of_any_text(shape, text):
    told({"shape": shape, "sizes": text})


@settings(deadline=None, max_examples=20)
@given(st.sampled_from(sorted(SHAPES)), st.dictionaries(st.sampled_from(NAMES), st.floats(0.1, 80), max_size=8))
def test_sizes_of_any_length(shape, sizes):
    told({"shape": shape, "sizes": " ".join(f"{n}={v:.3f}" for n, v in sizes.items())})


@pytest.mark.parametrize("rows", [11, 1000])
def test_a_field_of_holes_is_refused_before_it_is_drawn(rows):
    sizes = f"width=300 height=300 hole=1 edge_across=3 edge_up=3 rows={rows} columns={rows}"
    with pytest.raises(LaglineError, match="too many for a template"):
        ask("guide", "template", {"thickness": "1/4", "shape": "base_plate", "sizes": sizes})
