"""Laws of straight guides: the cup between guide and line, bars that lead the whole cut, diagonals that prove it."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.cards.setout_picture import overlaps
from lagline.setouts.families import asks
from lagline.trade import guide_bar, mark_out
from tests.ask import ask

FEW = settings(deadline=None, max_examples=20)


@FEW
@given(st.floats(3, 30), st.floats(0.5, 5))
def test_the_two_guides_are_a_cup_apart(r, k):
    s = ask("guide", "straight", {"thickness": "10", "cup_radius": f"{r}", "kerf": f"{k}"}, units="mm")
    # both guides at once would hold a cup of that diameter, and the line lies half a kerf off its middle
    assert s["offset_kept_mm"] + s["offset_drop_mm"] == pytest.approx(2 * r, abs=1e-6)
    assert s["offset_drop_mm"] - s["offset_kept_mm"] == pytest.approx(k, abs=1e-6)


@FEW
@given(st.floats(5, 20_000), st.floats(140, 3000), st.floats(0, 45))
def test_bar_leads_the_whole_cut_and_runs_over_every_end(cut, bar, over):
    places = guide_bar.bar_places(cut, bar, over)
    assert places[0].cut_from_mm == 0
    assert places[-1].cut_to_mm == pytest.approx(cut)
    for a, b in itertools.pairwise(places):
        assert a.cut_to_mm == b.cut_from_mm
    for p in places:
        assert p.bar_to_mm - p.bar_from_mm == pytest.approx(bar)
        assert p.bar_from_mm <= p.cut_from_mm - over + 1e-6
        assert p.bar_to_mm >= p.cut_to_mm + over - 1e-6
        assert len(p.clamps_mm) >= 2
        assert 0 < p.clamps_mm[0] < p.clamps_mm[-1] < bar
        assert all(b - a <= guide_bar.SPACING_MM + 1e-6 for a, b in itertools.pairwise(p.clamps_mm))
    # one place fewer would not do
    assert len(places) == 1 or (len(places) - 1) * (bar - 2 * over) < cut


@FEW
@given(st.floats(10, 5000), st.floats(10, 5000), st.floats(0, 0.2))
def test_diagonals_give_back_the_lean(a, b, share):
    out = share * a
    up = math.sqrt(a**2 - out**2)
    corners = ((0.0, 0.0), (b, 0.0), (b + out, up), (out, up))  # side a leans by out over the base b
    long, short = math.dist(corners[0], corners[2]), math.dist(corners[1], corners[3])
    assert mark_out.diagonals_apart(a, b, out) == pytest.approx(long - short, abs=1e-9 * (a + b))
    assert mark_out.out_of_square(b, long, short) == pytest.approx(out, abs=1e-6 * (a + b))


@pytest.mark.parametrize("name", ["straight", "blocks"])
@pytest.mark.parametrize("r", ["3", "11", "40"])
def test_pictures_have_no_words_on_each_other(name, r):
    texts = {"thickness": "10", "cup_radius": r, "kerf": "1.7"}
    s = ask("guide", name, texts, units="mm")
    assert overlaps(s.picture) == ()
    for sheet in s.sheets:
        assert overlaps(sheet, full_scale=True) == ()


@pytest.mark.parametrize("name", [a.name for a in asks("guide")])
@pytest.mark.parametrize("units", ["in", "mm"])
def test_the_examples_work(name, units):
    one = next(a for a in asks("guide") if a.name == name)
    s = ask("guide", name, dict(one.example))
    assert s.numbers
    assert s.steps
    assert s.picture is not None
    assert overlaps(s.picture) == ()
    assert any(n.main for n in s.numbers)
    assert ask("guide", name, dict(one.example)) == s
