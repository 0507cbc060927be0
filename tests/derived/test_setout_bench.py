"""Air, supply and set as set-outs: they agree with a plan's own rules and move the right way."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.planning.air_path import longest_flow_s
from lagline.planning.kit_file import generic_kit
from lagline.planning.timetable import make_timetable
from lagline.records.errors import LaglineError
from lagline.records.figure import Spread
from lagline.records.finding import Severity
from lagline.records.plan import Method
from lagline.records.setout import SetOut
from lagline.setouts.bench_air import AIR
from lagline.setouts.bench_set import SET
from lagline.setouts.bench_supply import SUPPLY
from tests.derived.test_timetable import setting, step
from tests.setout_bench import typed

KIT = generic_kit()


def codes(s: SetOut, severity: Severity = Severity.NO_GO) -> list[str]:
    return [f.code for f in s.findings if f.severity is severity]


@settings(deadline=None, max_examples=15)
@given(st.integers(10, 120), st.floats(1, 6.5))
def test_the_longest_cut_goes_and_a_hundredth_more_does_not(gallons: int, cfm: float) -> None:
    more = {"thickness": "3/8", "tank": f"{gallons} gal", "delivery": f"{cfm:.2f} cfm"}
    longest = typed(AIR, **more)["longest_cut_mm"]
    if longest < 5:
        return
    assert "outruns-air" not in codes(typed(AIR, cut=f"{longest - 0.01:.3f} mm", **more))
    over = typed(AIR, cut=f"{longest * 1.01 + 0.1:.3f} mm", **more)
    assert "outruns-air" in codes(over)
    assert "tank of" in next(f for f in over.findings if f.code == "outruns-air").allowed


def test_a_compressor_that_keeps_up_sets_no_limit() -> None:
    s = typed(AIR, thickness="3/8", delivery="9 cfm")
    assert math.isinf(longest_flow_s(KIT.air, KIT.air.use_l_min.value))
    assert "longest_cut_mm" not in [n.key for n in s.numbers]
    assert "air-keeps-up" in codes(s, Severity.NOTE)


def test_narrow_hose_raises_the_least_and_then_starves_the_torch() -> None:
    def least(bore: str) -> SetOut:
        return typed(AIR, thickness="3/8", delivery="4 cfm", hose_length="100 ft", hose_bore=bore)

    wide, narrow, worst = (least(b) for b in ("1/2", "6 mm", "3 mm"))
    assert wide["least_kpa_g"] == KIT.air.least_kpa_g < narrow["least_kpa_g"]
    assert "hose-narrow" in codes(narrow, Severity.CAUTION)
    assert "outruns-air" in codes(worst)
    told = next(f for f in worst.findings if f.code == "outruns-air").allowed
    assert "bore" in told
    assert "no longer" not in told  # its couplings alone are too much
    middle = least("4.5 mm")
    assert "outruns-air" in codes(middle)
    assert "a hose no longer than" in next(f for f in middle.findings if f.code == "outruns-air").allowed


def test_dryers_reach_the_class_they_are_sold_for() -> None:
    # ISO 8573-1: +3 C is class 4, -40 C class 2 (seen)
    rows = {r[0]: r for r in typed(AIR, thickness="3/8").table("dryers").rows}
    assert rows["refrigerated"][-1] == "4"
    assert rows["desiccant"][-1] == "2"
    drained = [rows[k][1] for k in ("none", "refrigerated", "desiccant")]
    assert drained == sorted(drained)
    hot = replace(KIT, air=replace(KIT.air, intake=replace(KIT.air.intake, tank_c=60.0, intake_c=30.0, humidity=0.9)))
    s = typed(AIR, thickness="3/8", kit=hot)
    assert "water-in-hose" in codes(s, Severity.CAUTION)
    by = {r[0]: r for r in s.table("dryers").rows}
    assert by["none"][2] > by["aftercooler"][2] > by["refrigerated"][2] == 0
    # an aftercooler moves water from the hose to the drain
    assert by["aftercooler"][1] > by["none"][1]
    assert by["aftercooler"][1] + by["aftercooler"][2] == pytest.approx(by["none"][1] + by["none"][2])


def test_supply_turns_down_to_what_the_cord_carries() -> None:
    s = typed(SUPPLY, cord="14 AWG", cord_length="100 ft")
    assert s["most_output_a"] < 65
    down = typed(SUPPLY, cord="14 AWG", cord_length="100 ft", amps=math.floor(s["most_output_a"]))
    assert {f.code for f in down.findings} <= {"current-below-set"}
    assert s["drop_percent"] == pytest.approx(100 * (1 - _far_volts(s) / 240), rel=1e-9)
    assert typed(SUPPLY, volts="480")["line_a"] < s["line_a"]
    for bad in ({"cord": "11 AWG"}, {"cord": "10 AWG", "cord_length": "900 ft", "volts": "90"}):
        with pytest.raises(LaglineError):
            typed(SUPPLY, **bad)


def _far_volts(s: SetOut) -> float:
    """Volts at the set: its power over its current."""
    return 1000 * s["input_kva"] / s["line_a"]


@settings(deadline=None, max_examples=10)
@given(st.integers(2, 8), st.floats(10, 60), st.floats(0, 200), st.booleans())
def test_rests_are_those_of_a_plan(cuts: int, inches: float, between: float, warm: bool) -> None:
    duty = ((65.0, 0.3), (36.0, 1.0)) if warm else ((65.0, 0.5),)
    air = replace(KIT.air, delivery_l_min=5000.0, pre_flow_s=0.0)
    pause = Spread.exact(between)
    kit = replace(
        KIT,
        power=replace(KIT.power, duty=duty),
        air=air,
        bench=replace(KIT.bench, straight_setup_s=pause, start_s=Spread.exact(2.0)),
    )
    s = typed(SET, thickness="3/8", cut=f"{inches:.3f}", cuts=str(cuts), between=f"{between:.3f}", kit=kit, amps=65)
    arc = s["arc_s"]
    steps = tuple(replace(step(i + 1, 10 * (arc - 2), Method.STRAIGHTEDGE), frees="nothing") for i in range(cuts))
    # no walk: every cut begins where the last ended
    steps = tuple(
        replace(x, path=x.path if i % 2 == 0 else tuple(_back(p) for p in x.path)) for i, x in enumerate(steps)
    )
    table, _ = make_timetable(steps, (setting("test", 65.0),), kit)
    assert sum(c.setup_s for c in table.clocks) == pytest.approx(cuts * between, abs=1e-6)
    assert s["rest_s"] == pytest.approx(sum(c.rest_s for c in table.clocks), abs=0.1)


def _back(p):
    return replace(p, start=p.end, end=p.start)


def test_a_cut_too_long_for_the_set_is_named_with_a_current_that_does() -> None:
    s = typed(SET, thickness="3/8", cut="150")
    assert "outruns-set" in codes(s)
    told = next(f for f in s.findings if f.code == "outruns-set").allowed
    assert "cut it in two" in told
    amps = float(told.split("about ")[-1].split(" A")[0])
    assert "outruns-set" not in codes(typed(SET, thickness="3/8", cut="150", amps=amps))
    assert "outruns-set" in codes(typed(SET, thickness="3/8", cut="150", amps=amps + 5))


def test_hot_day_and_a_warm_start_cost_rests() -> None:
    rests = [
        typed(SET, thickness="3/8", cut="60", **more)["rest_s"] for more in ({}, {"arc_before": "4"}, {"ambient": "48"})
    ]
    assert rests[0] < min(rests[1:])
