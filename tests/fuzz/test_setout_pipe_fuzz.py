"""Whatever is typed into a pipe set-out, it answers or says what is wrong; it never falls over."""

from __future__ import annotations

import math

from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.desk.setout_desk import answer, as_dict
from lagline.records.errors import LaglineError
from lagline.setouts.families import asks

ASKS = asks("pipe")
ODD = ["", "0", "-1", "nan", "inf", "1e9", "1/0", "4 kg", "3-4", "½", "two", "0.1", "1000 m", "9" * 50, "🔥", "10 ga"]
SANE = ["1/2", "2", "3", "4-1/2", "8-5/8", "12", "3/16 in", "6 mm", "45", "90", "30", "15", "120"]


@st.composite
def typed(draw):
    ask = draw(st.sampled_from(ASKS))
    start = dict(ask.example)
    for f in draw(st.lists(st.sampled_from(ask.fields), max_size=4)):
        values = SANE + ODD if f.kind != "choice" else [*f.choices, "x"]
        start[f.name] = draw(st.sampled_from(values))
    return ask, start


def run(case, units):
    ask, texts = case
    told = ()
    try:
        made = answer("pipe", ask.name, texts, units=units)
    except LaglineError as error:
        told = error.findings
    if told:
        assert all(f.message and f.where for f in told)
        return
    for row in made.table("ordinates").rows:
        assert all(math.isfinite(v) for v in row if not isinstance(v, str))
    assert as_dict(made)["ordinates"]
    low, high = made.sheets[0].bounds[:2], made.sheets[0].bounds[2:]
    assert high[0] > low[0]
    assert high[1] > low[1]


@given(typed(), st.sampled_from(["in", "mm"]))
@settings(deadline=None, max_examples=80)
def test_it_answers_or_says_why_not(case, units):
    run(case, units)
