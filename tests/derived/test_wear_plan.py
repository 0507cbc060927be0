"""Wear of nozzle and electrode over a job: more asked is never less used, and changes fall between set-ups."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.planning.fit import tip_used
from lagline.planning.wear_plan import changed_after, wear_plan
from lagline.records.figure import Figure, Spread
from lagline.records.plan import Start
from lagline.trade.wear import OUTLASTS, Use, air_share, electrodes, nozzles, tip_sets
from tests.sample_plan import sample_plan

COUNT = Spread(300.0, 150.0, 600.0, default=True)
uses = st.builds(Use, st.integers(0, 400), st.integers(0, 200), st.floats(0, 20_000))
dryers = st.sampled_from(["", "none", "aftercooler", "refrigerated", "desiccant"])


def ends(f: Figure) -> tuple[float, float, float]:
    return f.low, f.value, f.high


@settings(deadline=None, max_examples=60)
@given(uses, st.integers(0, 50), st.integers(0, 50), st.floats(0, 2000), dryers)
def test_more_starts_never_take_fewer_tips(use, edge, pierces, arc_s, dryer):
    for wears in (nozzles, electrodes):
        less, more = wears(use, COUNT, dryer), wears(use.plus(edge, pierces, arc_s), COUNT, dryer)
        assert all(b >= a for a, b in zip(ends(less), ends(more), strict=True))


@settings(deadline=None, max_examples=60)
@given(uses, dryers)
def test_by_hand_the_nozzle_goes_first(use, dryer):
    # by hand the nozzle, on machines the electrode: common practice, no source
    nozzle, electrode = nozzles(use, COUNT, dryer), electrodes(use, COUNT, dryer)
    assert electrode.value <= nozzle.value
    assert electrode.value * OUTLASTS.value <= nozzle.value * (1 + 1e-9)


@settings(deadline=None, max_examples=40)
@given(uses)
def test_wetter_air_never_makes_tips_last(use):
    by = [nozzles(use, COUNT, d) for d in ("desiccant", "refrigerated", "aftercooler", "none")]
    for dry, wet in itertools.pairwise(by):
        assert wet.value >= dry.value
        assert wet.high >= dry.high
    own = replace(COUNT, default=False)  # counted on one's own air: the dryer says nothing more
    assert nozzles(use, own, "none").value == nozzles(use, own, "desiccant").value


def test_dry_air_and_starts_alone_give_the_usual_sets():
    assert nozzles(Use(100, 50, 600), COUNT, "desiccant").value == pytest.approx(tip_sets(100, 50, 600, COUNT).value)
    assert air_share("no such dryer") == Spread.exact(1.0)


@settings(deadline=None, max_examples=60)
@given(st.lists(uses, min_size=1, max_size=40))
def test_changes_keep_every_part_within_its_life(asked):
    numbered = [(n, u) for n, u in enumerate(asked, 1) if u.starts]
    for wears in (lambda u: nozzles(u, COUNT), lambda u: electrodes(u, COUNT)):
        after = changed_after(numbered, wears, lambda f: f.value)
        bounds = [0, *after, len(asked)]
        for a, b in itertools.pairwise(bounds):
            span = Use()
            inside = [u for n, u in numbered if a < n <= b]
            for u in inside:
                span = span.plus(u.edge_starts, u.pierces, u.arc_s)
            assert wears(span).value <= 1 + 1e-6 or len(inside) == 1
        assert len(changed_after(numbered, wears, lambda f: f.high)) >= len(after)


def test_plan_of_the_sample_job():
    plan = sample_plan()
    kit = replace(plan.kit, bench=replace(plan.kit.bench, starts_per_tip_set=Spread(6.0, 3.0, 12.0)))
    tips = tuple(plan.setting(s.setting).tip for s in plan.steps)
    clocks = plan.timetable.clocks
    (worn,) = wear_plan(kit, plan.settings, plan.steps, clocks)
    assert worn.use.starts == sum(1 for s in plan.steps if s.path)
    assert worn.use.pierces == sum(1 for s in plan.steps if s.path and s.start is Start.PIERCE)
    nozzle = [c.after for c in worn.changes if c.part == "nozzle"]
    assert worn.stock[0] == 1 + len(nozzle)
    assert worn.stock_safe[0] >= worn.stock[0]
    assert nozzle
    # the kerf is taken for new again in the set-up after a change
    used = tip_used(kit, tips, plan.steps, tuple(c.arc_s for c in clocks))
    arcs = [i for i, s in enumerate(plan.steps) if s.path]
    fresh = [plan.steps[i].number for i in arcs if used[i] == 0]
    assert fresh == [plan.steps[arcs[0]].number, *(next(plan.steps[i].number for i in arcs if plan.steps[i].number > a)
                                                   for a in nozzle)]  # fmt: skip
    assert wear_plan(kit, plan.settings, (), ()) == ()
