"""The timetable against an independent replay in small time steps, and its laws."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.planning.kit_file import generic_kit as built_in
from lagline.planning.timetable import make_timetable, setup_origin
from lagline.records.figure import Basis, Figure, Spread
from lagline.records.finding import Severity
from lagline.records.geometry import Arc, Line
from lagline.records.job import Stock
from lagline.records.kit import Kit
from lagline.records.plan import Method, Setting, Start, Step, StraightGuide, Timetable
from lagline.trade.air import pressure_rate
from lagline.trade.duty import allowed_share
from tests.cutting import plain_setting
from tests.kits import generic_kit

PERIOD_S = 600.0
PACE = 10.0


def setting(name: str = "test", current_a: float = 65.0) -> Setting:
    plain = plain_setting(Stock("steel", "mild", 10.0, "10 mm"))
    return replace(plain, id=name, current_a=current_a, pace_mm_s=replace(plain.pace_mm_s, value=PACE))


def step(number: int, length_mm: float, method: Method = Method.STRAIGHTEDGE, **more: object) -> Step:
    """A straight cut of that length; a drilled hole for Method.DRILL."""
    line = Line((0.0, 0.0), (length_mm, 0.0))
    drill = method is Method.DRILL
    made = Step(
        number=number,
        cut=f"c{number}",
        group=1,
        of=1,
        plate=0,
        placed=0,
        title=f"cut {number}",
        method=method,
        start=Start.NONE if drill else Start.EDGE,
        line=(Arc((0.0, 0.0), 5.0, 0.0, -6.283185307179586),) if drill else (line,),
        path=() if drill else (line,),
        guide=None,
        kept_side="right",
        square_side="right",
        heading_deg=0.0,
        setting="test",
        clamp=(0.0, 0.0),
        frees="part",
        drop_kg=1.0,
    )
    return replace(made, **more)  # type: ignore[arg-type]


def kit(
    share: float = 0.4, tank_l: float = 5000.0, delivery: float = 300.0, setup_s: float = 20.0, **air: float
) -> Kit:
    base = generic_kit(duty=((65.0, share),))
    s = Spread(setup_s, setup_s / 2, setup_s * 2)
    return replace(
        base,
        air=replace(base.air, tank_l=tank_l, delivery_l_min=delivery, **air),
        bench=replace(base.bench, straight_setup_s=s, arm_setup_s=s, template_setup_s=s),
    )


def used(table: Timetable, shares: list[float], number: int, earlier_s: float = 0.0) -> float:
    """Most of the allowed arc time in any ten minutes ending while that step burns, on a 0.1 s grid; the step may be
    moved earlier."""
    arcs = [(c.end_s - c.arc_s, c.end_s, x) for c, x in zip(table.clocks, shares, strict=True)][: number + 1]
    begin, end, share = arcs[number]
    arcs[number] = (begin - earlier_s, end - earlier_s, share)
    t = np.arange(begin - earlier_s, end - earlier_s + 0.05, 0.1)
    total = sum(np.clip(np.minimum(e, t) - np.maximum(b, t - PERIOD_S), 0, None) / (PERIOD_S * x) for b, e, x in arcs)
    return float(np.max(total))


def lowest(table: Timetable, bench: Kit, number: int, earlier_s: float = 0.0, dt: float = 0.02) -> float:
    """Lowest pressure during steps up to a number, by small steps of time; that step's wait may be cut short."""
    air, events = bench.air, []
    for c in table.clocks[: number + 1]:
        cut_short = earlier_s if c.number == table.clocks[number].number else 0.0
        trigger = c.end_s - c.arc_s - air.pre_flow_s - cut_short
        wait_from = trigger + cut_short - c.air_wait_s
        events.append((wait_from if c.air_wait_s else None, trigger, c.end_s - cut_short + air.post_flow_s))
    p, running, low, now, i = air.cut_out_kpa_g, False, air.cut_out_kpa_g, 0.0, 0
    flow_until, bled = -1.0, set()
    while now < events[-1][2]:
        while i < len(events) and now >= events[i][1]:
            flow_until, i = events[i][2], i + 1
        flowing = now < flow_until
        if i < len(events) and events[i][0] is not None and now >= max(events[i][0], flow_until) and i not in bled:
            bled.add(i)
            if not running:
                p, running = min(p, air.cut_in_kpa_g), True
        rate = pressure_rate(air.tank_l, air.delivery_l_min if running else 0, air.use_l_min.value if flowing else 0)
        p, now = max(0.0, p + rate * dt), now + dt
        if p <= air.cut_in_kpa_g:
            running = True
        elif p >= air.cut_out_kpa_g and rate > 0:
            running, p = False, air.cut_out_kpa_g
        low = min(low, p)
    return low


steps_of = st.lists(st.floats(20, 2000), min_size=1, max_size=9).map(
    lambda lengths: tuple(step(i + 1, x) for i, x in enumerate(lengths))
)


@settings(deadline=None, max_examples=25)
@given(steps_of, st.floats(0.35, 1.0), st.floats(0, 200))
def test_no_ten_minutes_are_overrun_and_no_rest_is_longer_than_it_must(
    steps: tuple[Step, ...], share: float, setup_s: float
) -> None:
    table, findings = make_timetable(steps, (setting(),), kit(share, setup_s=setup_s))
    shares = [share] * len(steps)
    for n, clock in enumerate(table.clocks):
        assert used(table, shares, n) <= 1 + 1e-6
        assert clock.duty_used == pytest.approx(used(table, shares, n), abs=0.11 / (PERIOD_S * share))
        assert clock.rest_s >= 0
        if clock.rest_s > 1:
            assert used(table, shares, n, 1.0) > 1
    assert not findings
    assert table.first_short == 0


@settings(deadline=None, max_examples=25)
@given(
    st.lists(st.tuples(st.floats(50, 1200), st.booleans()), min_size=2, max_size=9),
    st.floats(0.25, 0.9),
    st.floats(1.0, 2.0),
)
def test_two_currents_each_weigh_by_their_own_share(cuts: list[tuple[float, bool]], low: float, high: float) -> None:
    high = min(0.9, low * high)  # no flatter than equal heating, (65/45)^2 = 2.09, or the set is taken for a warm body
    base = kit()
    bench = replace(base, power=replace(base.power, duty=((65.0, low), (45.0, high))))
    both = (setting("test", 65.0), setting("small", 45.0))
    steps = tuple(step(i + 1, x, setting="small" if s else "test") for i, (x, s) in enumerate(cuts))
    shares = [high if s else low for _, s in cuts]
    table, _ = make_timetable(steps, both, bench)
    for n, clock in enumerate(table.clocks):
        assert used(table, shares, n) <= 1 + 1e-6
        if clock.rest_s > 1:
            assert used(table, shares, n, 1.0) > 1


@settings(deadline=None, max_examples=12)
@given(
    st.lists(st.floats(100, 900), min_size=1, max_size=6).map(
        lambda lengths: tuple(step(i + 1, x) for i, x in enumerate(lengths))
    ),
    st.floats(60, 300),
    st.floats(60, 220),
    st.floats(0, 60),
)
def test_the_tank_never_starves_the_torch_and_no_wait_is_longer_than_it_must(
    steps: tuple[Step, ...], tank_l: float, delivery: float, setup_s: float
) -> None:
    bench = kit(1.0, tank_l, delivery, setup_s)
    table, findings = make_timetable(steps, (setting(),), bench)
    going = table.first_short or len(steps) + 1
    assert bool(table.first_short) == any(f.code == "outruns-air" for f in findings)
    for n, clock in enumerate(table.clocks[: going - 1]):
        # The replay's own error: one small step of pressure change at each switch of the compressor.
        assert lowest(table, bench, n) >= bench.air.least_kpa_g - 3
        if clock.air_wait_s > 2:
            assert lowest(table, bench, n, 2.0) < bench.air.least_kpa_g


def test_a_clock_adds_up() -> None:
    steps = (step(1, 800), step(2, 0, Method.DRILL, setting="test"), step(3, 1500, start=Start.PIERCE))
    bench = kit(0.4)
    table, _ = make_timetable(steps, (setting(),), bench)
    now = 0.0
    for c in table.clocks:
        assert c.begin_s == pytest.approx(now)
        assert c.end_s == pytest.approx(c.begin_s + c.setup_s + c.rest_s + c.air_wait_s + c.arc_s)
        now = c.end_s
    assert [c.arc_s for c in table.clocks] == pytest.approx([3 + 80, 0, 8 + 150])
    # 20 s to lay the first part aside, walk 800 mm back at 500 mm/s, drill 60 s; then 20 s to set up, 1 s of pre-flow.
    assert [c.setup_s for c in table.clocks] == pytest.approx([21, 20 + 800 / 500 + 60, 21])
    assert table.total_s.value == pytest.approx(now)
    assert table.total_s.low < now < table.total_s.high
    assert table.arc_s == pytest.approx(241)
    assert table.duty_share.value == 0.4


def test_forty_percent_by_hand() -> None:
    """40 % is 240 s in 600. Cuts of 123 and 163 s, 21 s of set-up each: 46 s of the first must have left the ten
    minutes when the second ends, so that ends 646 s after the first began, at 21 + 646 = 667 s."""
    table, _ = make_timetable((step(1, 1200), step(2, 1600)), (setting(),), kit(0.4))
    second = table.clocks[1]
    assert second.end_s == pytest.approx(667)
    # 144 s when the first ends, 20 s to lay the part aside, back along its 1200 mm at 500 mm/s, 21 s, the rest,
    # then 163 s of arc
    assert second.rest_s == pytest.approx(667 - 163 - 144 - 20 - 21 - 1200 / 500)


def test_what_fell_is_laid_aside_first_and_a_heavy_piece_takes_longer() -> None:
    def second(**fell: object) -> float:
        first = replace(step(1, 800), **fell)  # type: ignore[arg-type]
        return make_timetable((first, step(2, 100)), (setting(),), kit(0.4))[0].clocks[1].setup_s

    nothing = second(frees="nothing", drop_kg=0.0)
    assert second(frees="part", drop_kg=22.0) == pytest.approx(nothing + 20)
    assert second(frees="drop", drop_kg=24.0) == pytest.approx(nothing + 60)
    held = make_timetable((step(1, 800), replace(step(2, 100), held=True)), (setting(),), kit(0.4))[0].clocks[1]
    assert held.setup_s == pytest.approx(second(frees="part") - 20)  # the guide stays


def test_a_cut_longer_than_the_set_allows_is_named() -> None:
    table, findings = make_timetable((step(1, 100), step(2, 2500)), (setting(),), kit(0.4))
    assert table.first_short == 2
    assert [f.code for f in findings] == ["outruns-set"]
    assert findings[0].severity is Severity.NO_GO
    assert "outruns the set" in findings[0].message
    assert "cut it in two" in findings[0].allowed
    assert "set-up 2" in findings[0].where
    assert table.clocks[1].duty_used == pytest.approx(253 / 240)
    assert table.clocks[1].rest_s > 0  # nothing of the first cut still counts when the set trips


def test_after_an_overrun_the_next_cut_still_keeps_the_duty() -> None:
    table, _ = make_timetable((step(1, 2500), step(2, 300)), (setting(),), kit(0.4))
    assert used(table, [0.4, 0.4], 1) <= 1 + 1e-6
    assert used(table, [0.4, 0.4], 1, 1.0) > 1


def test_a_cut_longer_than_the_air_is_named() -> None:
    """100 L from 860 to 480 kPa hold 380 L of free air; 160 used and 60 made in a minute last 228 s."""
    bench = kit(1.0, 100.0, 60.0, pre_flow_s=0.0, post_flow_s=0.0)
    held, _ = make_timetable((step(1, 10), step(2, 2200)), (setting(),), bench)
    assert held.first_short == 0
    table, findings = make_timetable((step(1, 2300),), (setting(),), bench)
    assert table.first_short == 1
    assert [f.code for f in findings] == ["outruns-air"]
    assert "at most 228 s of arc" in findings[0].allowed


@settings(deadline=None, max_examples=25)
@given(steps_of, st.floats(60, 200), st.floats(1.01, 3), st.floats(50, 155))
def test_a_bigger_tank_never_waits_more(steps: tuple[Step, ...], tank_l: float, larger: float, delivery: float) -> None:
    """True for a compressor that runs whenever the tank is not full. With a band between cut-in and cut-out it is not
    true of a row of cuts: the larger tank can happen to be caught just above cut-in."""
    waits: list[float] = []
    for volume in (tank_l, tank_l * larger):
        bench = kit(1.0, volume, delivery, cut_in_kpa_g=860.0, cut_out_kpa_g=860.0)
        table, findings = make_timetable(steps, (setting(),), bench)
        if any(f.code == "outruns-air" for f in findings):
            assert not waits, "the larger tank fails where the smaller did not"
            return
        waits.append(sum(c.air_wait_s for c in table.clocks))
    assert waits[1] <= waits[0] + 1e-6


@pytest.mark.parametrize("volume", [60.0, 120.0, 240.0])
def test_first_cut_from_a_full_tank_needs_no_wait_once_the_tank_is_large_enough(volume: float) -> None:
    lengths = []
    for tank_l in (volume, 2 * volume):
        long = max(x for x in range(100, 6000, 50) if _goes(x, tank_l))
        lengths.append(long)
    assert lengths[1] > lengths[0]


def _goes(length_mm: float, tank_l: float) -> bool:
    table, _ = make_timetable((step(1, length_mm),), (setting(),), kit(1.0, tank_l, 60.0))
    return not table.first_short and table.clocks[0].air_wait_s == 0


def test_no_steps() -> None:
    table, findings = make_timetable((), (setting(),), kit())
    assert (table.clocks, table.total_s.value, table.arc_s, table.first_short, findings) == ((), 0.0, 0.0, 0, ())


def test_a_short_straightedge_is_set_again_for_each_shift() -> None:
    flat = Figure(1.0, 1.0, 1.0, "mm", "x", setting().pace_mm_s.basis, "test")
    corner = (0.0, 0.0)
    guide = StraightGuide("drop", flat, (corner, corner), (corner,) * 4, (), "clamp", shifts=2)
    plain, _ = make_timetable((step(1, 100),), (setting(),), kit())
    shifted, _ = make_timetable((step(1, 100, guide=guide),), (setting(),), kit())
    assert shifted.total_s.value - plain.total_s.value == pytest.approx(40)


def test_share_comes_from_the_set() -> None:
    bench = generic_kit()
    table, _ = make_timetable((step(1, 100),), (setting(current_a=55.0),), bench)
    assert table.duty_share.value == allowed_share(55.0, bench.power.duty)


def test_bleeding_is_said_when_the_compressor_would_never_start() -> None:
    """The first cut leaves the tank above cut-in, the compressor stopped; the next wants more than that with the
    compressor stopped, less than a full tank with it running."""
    bench = kit(1.0, 100.0, 100.0, 5.0, pre_flow_s=0.0, post_flow_s=0.0)
    table, findings = make_timetable((step(1, 500), step(2, 2500)), (setting(),), bench)
    assert table.clocks[0].tank_end_kpa_g > bench.air.cut_in_kpa_g
    assert [f.code for f in findings] == ["air-bleed"]
    assert table.clocks[1].air_wait_s > 0
    assert lowest(table, bench, 1) >= bench.air.least_kpa_g - 3


def test_a_start_hole_is_drilled_once() -> None:
    """As part of the set-up, 60 s; not where a step of its own drilled it there (5 mm radius about the start)."""
    start = step(2, 100, start=Start.DRILLED)
    own = step(1, 0, Method.DRILL, diameter_mm=10.0)
    far = replace(own, line=(Arc((200.0, 0.0), 5.0, 0.0, -6.283185307179586),))
    for steps, extra in (((start,), 60), ((own, start), 0), ((far, start), 60)):
        table, _ = make_timetable(steps, (setting(),), kit())
        walk = 200 / 500 if far in steps else 0
        assert table.clocks[-1].setup_s == pytest.approx(20 + 1 + walk + extra)


def test_set_up_is_the_users_only_when_set_up_and_walk_are() -> None:
    generic = built_in()
    mine = replace(generic, origin="kit.toml", bench=replace(generic.bench, straight_setup_s=Spread.exact(100.0)))
    timed = replace(mine, bench=replace(mine.bench, walk_mm_s=400.0))
    assert [setup_origin(step(1, 100), k)[0] for k in (generic, mine, timed)] == [
        Basis.DEFAULT,
        Basis.DEFAULT,
        Basis.KIT,
    ]
    assert setup_origin(step(1, 100, Method.ARM), timed)[0] is Basis.DEFAULT
    assert "generic kit" in make_timetable((step(1, 100),), (setting(),), generic)[0].total_s.source
    assert "kit.toml" in make_timetable((step(1, 100),), (setting(),), timed)[0].total_s.source
    table, _ = make_timetable((step(1, 100),), (setting(),), mine)
    assert table.duty_share.basis is Basis.DEFAULT
