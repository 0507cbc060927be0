"""One field set or removed: the field changes, every comment stays, and everything else reads as before."""

from __future__ import annotations

import copy
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.data.demo_files import demo_files
from lagline.planning.job_edit import remove_value, set_value
from lagline.records.errors import LaglineError

TEXT = demo_files()["job.toml"].decode()
COMMENTS = [line.split("#", 1)[1] for line in TEXT.splitlines() if "#" in line]


def put(data, path, value):
    out = copy.deepcopy(data)
    here = out
    for key in path[:-1]:
        here = here[key]
    if isinstance(here, list) and path[-1] == len(here):
        here.append(value)
    else:
        here[path[-1]] = value
    return out


@given(
    path=st.sampled_from(
        [
            ("name",),
            ("seed",),
            ("stock", "grade"),
            ("stock", "coating"),
            ("parts", 0, "quantity"),
            ("parts", 3, "tolerance"),
            ("parts", 5, "edges"),
            ("parts", 5, "edges", "bottom"),
            ("plates", 0, "diagonals"),
            ("plates", 1, "holes"),
            ("plates", 1, "new"),
        ]
    ),
    value=st.one_of(
        st.text(max_size=8),
        st.integers(-(2**40), 2**40),
        st.booleans(),
        st.floats(-1e6, 1e6),
        st.lists(st.integers(0, 9), max_size=3),
        st.dictionaries(st.sampled_from(["all", "bottom", "a b"]), st.text(max_size=4), max_size=2),
    ),
)
@settings(deadline=None, max_examples=60)
def test_only_that_field_changes_and_comments_stay(path, value):
    text = set_value(TEXT, path, value)
    assert tomllib.loads(text) == put(tomllib.loads(TEXT), path, value)
    for comment in COMMENTS:
        if comment.strip():
            assert comment.strip() in text


def test_a_part_is_added_and_removed_again():
    new = {"name": "shim", "shape": "disc", "diameter": "3"}
    n = len(tomllib.loads(TEXT)["parts"])
    more = set_value(TEXT, ("parts", n), new)
    assert tomllib.loads(more)["parts"][n] == new
    assert tomllib.loads(remove_value(more, ("parts", n))) == tomllib.loads(TEXT)


def test_tables_on_the_way_are_made():
    text = set_value("", ("parts", 0, "edges", "all"), "weld")
    assert tomllib.loads(text) == {"parts": [{"edges": {"all": "weld"}}]}


@pytest.mark.parametrize(
    "path",
    [(), ("parts", 99, "name"), ("parts", -1, "name"), ("parts", "name"), ("name", "x"), ("stock", 0), ("parts", 0, 0)],
)
def test_a_path_that_leads_nowhere_is_refused(path):
    with pytest.raises(LaglineError):
        set_value(TEXT, path, 1)
    with pytest.raises(LaglineError):
        remove_value(TEXT, path)


def test_what_toml_cannot_hold_is_refused():
    for value in (None, object(), {"a": None}):
        with pytest.raises(LaglineError):
            set_value(TEXT, ("name",), value)
    with pytest.raises(LaglineError):
        set_value("not = = toml", ("name",), "x")
