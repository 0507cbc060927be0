"""Whatever is typed into a bevel or a beam set-out: it is answered whole, or refused with a reason and a way out."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from lagline.records.errors import LaglineError
from lagline.setouts.ask import Ask, Field
from lagline.setouts.families import asks
from tests.setout_bench import typed

ALL = (*asks("bevel"), *asks("beam"))
ODD = ("", "0", "-1", "nan", "inf", "1e9", "3/0", "abc", "1/2", "45", "90", "180", "12 mm", "½", "0.0001 mm")


def _value(f: Field) -> st.SearchStrategy[str]:
    if f.kind == "choice":
        return st.sampled_from(f.choices)
    unit = " mm" if f.kind == "length" else ""
    top = min(f.most, 400.0)
    if f.kind == "count":
        return st.integers(int(f.least), int(f.most)).map(str)
    near = st.floats(f.least, max(top, f.least), allow_nan=False).map(lambda v: f"{v:.3f}{unit}")
    return st.one_of(near, st.sampled_from((f"{f.least}{unit}", f"{f.most}{unit}")))


def _answers(ask: Ask, odd: bool) -> st.SearchStrategy[dict[str, str]]:
    """The example with a few fields changed, so that most of it stands."""
    one = st.sampled_from(ask.fields).flatmap(
        lambda f: st.tuples(st.just(f.name), st.sampled_from(ODD) if odd else _value(f))
    )
    return st.lists(one, min_size=1, max_size=4).map(lambda pairs: dict(ask.example) | dict(pairs))


def _whole(ask: Ask, texts: dict[str, str], units: str) -> None:
    try:
        s = typed(ask, units, **texts)
    except LaglineError as error:
        said = [(f.message, f.where) for f in error.findings]
        assert all(m and w for m, w in said)
        return
    assert len({n.key for n in s.numbers}) == len(s.numbers)
    assert s.picture is not None
    for d in (s.picture, *s.sheets):
        assert d.bounds[2] > d.bounds[0]
        for a in d.areas:
            assert Polygon(a.points).is_valid
        assert all(len(x.points) > 1 for x in d.strokes)


@pytest.mark.parametrize("ask", ALL, ids=lambda a: a.kind.replace(" ", "-"))
def test_near_the_example(ask):
    @given(_answers(ask, odd=False), st.sampled_from(("in", "mm")))
    @settings(deadline=None, max_examples=12)
    def run(texts, units):
        _whole(ask, texts, units)

    run()


@pytest.mark.parametrize("ask", ALL, ids=lambda a: a.kind.replace(" ", "-"))
def test_odd_text(ask):
    @given(_answers(ask, odd=True), st.sampled_from(("in", "mm")))
    @settings(deadline=None, max_examples=8)
    def run(texts, units):
        _whole(ask, texts, units)

    run()


@pytest.mark.deep
@pytest.mark.parametrize("ask", ALL, ids=lambda a: a.kind.replace(" ", "-"))
def test_far_and_wide(ask):
    @given(st.one_of(_answers(ask, odd=False), _answers(ask, odd=True)), st.sampled_from(("in", "mm")))
    @settings(deadline=None, max_examples=300)
    def run(texts, units):
        _whole(ask, texts, units)

    run()
