"""Set, tank and line in a timetable against replays in small steps of time that share nothing with the planner."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from lagline.planning.air_change import air_change
from lagline.planning.air_path import at_torch_kpa_g, least_kpa_g, longest_flow_s, made_l_min, tank_ref_kpa
from lagline.planning.kit_file import generic_kit as built_in
from lagline.planning.kit_file import kit_from_text
from lagline.planning.set_change import current_for, pieces_for
from lagline.planning.set_limit import set_limit
from lagline.planning.supply_check import draw, known, least_awg, longest_cord_m, most_current, notes, too_much
from lagline.planning.tank import Tank
from lagline.planning.timetable import make_timetable
from lagline.records.errors import LaglineError
from lagline.records.figure import Spread
from lagline.records.finding import Severity
from lagline.records.job import Stock
from lagline.records.kit import Air, AirLine, Intake, Kit, Warmth
from lagline.records.plan import Step, Timetable
from lagline.trade.moist_air import condensed_g_m3, dew_point_c, enhancement, humidity_ratio, saturation_kpa
from lagline.trade.set_heat import set_heat
from tests.derived.test_timetable import setting, step
from tests.kits import generic_kit

POINTS = ((60.0, 0.4), (40.0, 1.0))  # a set of about 27 minutes


def lines(lengths: list[float], **more: object) -> tuple[Step, ...]:
    return tuple(step(i + 1, x, **more) for i, x in enumerate(lengths))


def bench(duty=POINTS, setup_s: float = 20.0, warmth: Warmth = Warmth(), **air: float) -> Kit:
    base = generic_kit(duty=duty, rated_current_a=60.0, warmth=warmth)
    s = Spread(setup_s, setup_s / 2, setup_s * 2)
    return replace(
        base,
        air=replace(base.air, **({"tank_l": 5000.0, "delivery_l_min": 300.0} | air)),
        bench=replace(base.bench, straight_setup_s=s),
    )


def own_fit(points) -> tuple[float, float]:
    """Time constant and never-resting current of two points: the rhythm played out, cycle by cycle."""

    def peak(share: float, tau: float) -> float:
        up, down = math.exp(-share * 600 / tau), math.exp(-(1 - share) * 600 / tau)
        w = 0.0
        for _ in range(400):  # start of the arc, cycle after cycle
            w = (1 - (1 - w) * up) * down
        return 1 - (1 - w) * up

    (i1, x1), (i2, x2) = points
    tau = brentq(lambda t: i1**2 * peak(x1, t) - i2**2 * peak(x2, t), 60, 20_000, xtol=1e-9)
    return tau, i2 * math.sqrt(peak(x2, tau))


def warmest(
    table: Timetable, amps: list[float], tau: float, full: float, upto: int, earlier: float = 0.0, start: float = 0.0,
    dt: float = 0.25,
) -> float:  # fmt: skip
    """Warmth at its highest until the end of a step's arc, in steps of a quarter second; that arc may begin earlier."""
    arcs = [(c.end_s - c.arc_s, c.end_s, a) for c, a in zip(table.clocks, amps, strict=True)][: upto + 1]
    b, e, a = arcs[upto]
    arcs[upto] = (b - earlier, e - earlier, a)
    w = high = start
    now = 0.0
    for begin, end, i in arcs:
        for until, final in ((begin, 0.0), (end, (i / full) ** 2)):
            while now < until - 1e-9:
                h = min(dt, until - now)
                half = w + (final - w) * h / 2 / tau
                w, now = w + (final - half) * h / tau, now + h
                high = max(high, w)
    return high


@settings(deadline=None, max_examples=12)
@given(st.lists(st.floats(500, 6000), min_size=2, max_size=7), st.floats(0, 120), st.booleans())
def test_the_set_never_passes_its_limit_and_no_rest_is_a_second_too_long(lengths, setup_s, two) -> None:
    kit = bench(setup_s=setup_s)
    tau, full = own_fit(POINTS)
    settings_ = (setting("test", 60.0), setting("small", 45.0))
    steps = tuple(step(i + 1, x, setting="small" if two and i % 2 else "test") for i, x in enumerate(lengths))
    amps = [45.0 if two and i % 2 else 60.0 for i in range(len(lengths))]
    table, findings = make_timetable(steps, settings_, kit)
    assert [f.code for f in findings] == ["set-warmth"]
    for n, c in enumerate(table.clocks):
        peak = warmest(table, amps, tau, full, n)
        assert peak <= 1 + 1e-4
        assert c.duty_used <= 1 + 1e-9
        if c.rest_s > 1:
            assert warmest(table, amps, tau, full, n, 1.0) > 1
            assert c.duty_used == pytest.approx(1, abs=1e-6)


@settings(deadline=None, max_examples=20)
@given(st.floats(0.3, 0.7), st.floats(0.85, 1.0), st.floats(1.2, 1.8))
def test_whatever_the_plate_its_own_rhythm_can_be_kept_up(low, high, ratio) -> None:
    points = ((40.0 * ratio, low), (40.0, high))
    heat = set_heat(points)
    assume(heat is not None)
    assert heat is not None
    limit = set_limit(generic_kit(duty=points, rated_current_a=40.0 * ratio).power)
    for amps, share in points:
        assert limit.share(amps) == pytest.approx(share, rel=1e-6)
        state, now, used = limit.fresh(), 0.0, 0.0
        for _ in range(60):
            begin = state.earliest(now, share * 600 - 1e-6, amps)
            assert begin - now < 1e-3
            used = state.burn(begin, share * 600 - 1e-6, amps)
            now = begin + 600
        assert used <= 1 + 1e-9
    # between the points the warm body needs no more rest than the steeper of two power laws would give
    shares = [limit.share(40.0 * (1 + (ratio - 1) * k / 10)) for k in range(11)]
    assert shares == sorted(shares, reverse=True)


def test_carried_over_warmth_makes_the_first_rest() -> None:
    for points in (POINTS, ((60.0, 0.4),)):
        rests = []
        for minutes in (0.0, 2.0, 4.0):
            table, _ = make_timetable(lines([2200]), (setting("test", 60.0),), bench(points, 0.0, Warmth(40, minutes)))
            rests.append(table.clocks[0].rest_s)
        assert rests == sorted(rests)
        assert rests[0] == 0 < rests[2]


def test_hot_air_around_the_set_costs_and_cool_air_gains() -> None:
    for points in (POINTS, ((60.0, 0.4),)):
        totals = [
            make_timetable(lines([2000] * 6), (setting("test", 60.0),), bench(points, 5.0, Warmth(c)))[0].rest_s
            for c in (20.0, 40.0, 48.0)
        ]
        assert totals == sorted(totals)
        assert totals[0] < totals[2]


def test_full_duty_never_rests_and_never_outruns() -> None:
    table, findings = make_timetable(
        lines([9000, 9000]), (setting("test", 40.0),), bench(((60.0, 0.4), (40.0, 1.0)), 0)
    )
    assert [f.code for f in findings] == ["set-warmth"]
    assert table.rest_s == 0
    table, findings = make_timetable(lines([9000]), (setting("test", 40.0),), bench(((60.0, 1.0),), 0))
    assert (findings, table.rest_s) == ((), 0)


def test_what_to_change_for_the_set_is_enough_and_not_too_much() -> None:
    kit = replace(built_in(), power=replace(built_in().power, duty=((65.0, 0.3), (36.0, 1.0))))
    s = replace(setting("test", 65.0), stock=Stock("steel", "", 6.0, "6 mm"))
    limit = set_limit(kit.power)
    arc = limit.most_arc_s(65.0) * 1.5
    assert pieces_for(arc, 65.0, limit) == 2
    lower = current_for(s, arc, kit)
    assert lower is not None
    assert lower < 65
    assert math.isfinite(limit.rest_before_s(arc / 2, 65.0))


air_of = st.builds(
    lambda tank, make, use, hose, bore, high, hot: Air(
        make, tank, 620.0, 860.0, 480.0, Spread.exact(use), 1.0, 15.0,
        AirLine(Spread.exact(hose), Spread.exact(bore), 2, 520.0, 450.0), Intake(high, hot, 0.6, hot + 10, "none"),
    ),
    st.floats(40, 400), st.floats(30, 260), st.floats(120, 300), st.floats(0, 60_000), st.floats(5, 12),
    st.floats(0, 3000), st.floats(-10, 45),
)  # fmt: skip


def own_air(air: Air) -> tuple[float, float, float]:
    """Free air made [L/min], kPa in the tank for a litre of it, and pressure outside, worked out anew."""
    at = air.intake
    assert at is not None
    outside = 101.325 * (1 - 2.25577e-5 * at.altitude_m) ** 5.2559
    moles = (outside - at.humidity * saturation_kpa(at.intake_c)) / (at.intake_c + 273.15)  # per swept volume
    made = air.delivery_l_min * moles / (100 / 293.15)
    return made, 100 / 293.15 * (at.tank_c + 273.15) / air.tank_l, outside


@settings(deadline=None, max_examples=25)
@given(air_of, st.floats(5, 400), st.floats(0, 400))
def test_tank_against_the_differential_equation(air: Air, flow_s: float, idle_s: float) -> None:
    """dp/dt integrated by Runge-Kutta from one switch of the compressor to the next: 1e-6 of the pressure."""
    made, per_l, _ = own_air(air)
    tank = Tank.full(air)
    p, running = air.cut_out_kpa_g, False
    for seconds, use in ((flow_s, air.use_l_min.value), (idle_s, 0.0), (flow_s / 2, air.use_l_min.value)):
        tank, _ = tank.after(seconds, use)
        t = 0.0
        while t < seconds - 1e-12:
            rate = lambda _t, _p, on=running, u=use: [((made if on else 0.0) - u) / 60 * per_l]  # noqa: E731
            goal = 0.0 if running and made < use else air.cut_out_kpa_g if running else air.cut_in_kpa_g
            event = lambda _t, q, g=goal: q[0] - g  # noqa: E731
            event.terminal = True  # type: ignore[attr-defined]
            event.direction = 1 if goal == air.cut_out_kpa_g and running else -1  # type: ignore[attr-defined]
            got = solve_ivp(rate, (t, seconds), [p], events=event, rtol=1e-10, atol=1e-9)
            p, t = float(got.y[0][-1]), float(got.t[-1])
            if got.status == 1:
                if goal == 0.0:
                    p = 0.0
                    break
                p, running = goal, not running
    assert tank.kpa_g == pytest.approx(p, rel=1e-6, abs=1e-5)


@settings(deadline=None, max_examples=12)
@given(air_of, st.lists(st.floats(100, 1500), min_size=1, max_size=5), st.floats(0, 60))
def test_the_torch_has_its_pressure_to_the_end_of_every_cut(air: Air, lengths: list[float], setup_s: float) -> None:
    kit = replace(bench(((60.0, 1.0),), setup_s), air=air)
    table, findings = make_timetable(lines(lengths), (setting("test", 60.0),), kit)
    assert {f.code for f in findings} <= {"outruns-air", "air-bleed"}
    assert air.line is not None
    made, per_l, outside = own_air(air)
    metres = air.line.hose_length_mm.value / 1000 + 2 * 1.5
    take = metres * 1.6e12 * (air.use_l_min.value / 60_000) ** 1.85 / air.line.hose_bore_mm.value**5
    going = table.first_short or len(lengths) + 1
    for c in table.clocks[: going - 1]:
        # the tank of the clock, let down by the steepest the flow can: the lowest it can be at the arc's end
        p = c.tank_start_kpa_g
        flow_s = air.pre_flow_s + c.arc_s
        if p <= air.cut_in_kpa_g:
            p = min(p, p + (made - air.use_l_min.value) / 60 * per_l * flow_s)
        else:
            p = min(p, c.tank_end_kpa_g)
        x, n = p + outside, 2000
        for _ in range(n):  # along the hose
            x -= take / n / max(x, 1e-3)
        there = min(x - outside, air.line.regulator_kpa_g)
        assert there >= air.line.torch_least_kpa_g - 0.5
        assert c.torch_kpa_g >= air.line.torch_least_kpa_g - 1e-3
        assert c.torch_kpa_g <= air.line.regulator_kpa_g


@settings(deadline=None, max_examples=25)
@given(air_of, st.floats(20, 900))
def test_each_change_of_the_air_alone_is_just_enough(air: Air, arc_s: float) -> None:
    use = air.use_l_min.value
    flow = air.pre_flow_s + arc_s + air.post_flow_s
    assume(longest_flow_s(air, use) < flow)
    c = air_change(air, flow, use)
    assert air.line is not None

    def goes(**other: object) -> bool:
        line = replace(air.line, **{k: v for k, v in other.items() if k.startswith("hose")})  # type: ignore[type-var]
        rest = {k: v for k, v in other.items() if not k.startswith("hose")}
        return longest_flow_s(replace(air, line=line, **rest), use) >= flow - 1e-6  # type: ignore[arg-type]

    for value, name, up in ((c.tank_l, "tank_l", 1), (c.plate_l_min, "delivery_l_min", 1)):
        if value is not None:
            assert goes(**{name: value * (1 + 1e-9)})
            assert not goes(**{name: value * (1 - 0.01 * up)})
    if c.bore_mm is not None:
        assert goes(hose_bore_mm=Spread.exact(c.bore_mm * (1 + 1e-9)))
        assert not goes(hose_bore_mm=Spread.exact(c.bore_mm * 0.99))
    if c.hose_m is not None:
        assert goes(hose_length_mm=Spread.exact(c.hose_m * 1000 * (1 - 1e-9)))
        assert not goes(hose_length_mm=Spread.exact(c.hose_m * 1010 + 10))


def test_place_and_warmth_of_air_by_direction() -> None:
    def made(**at: float) -> float:
        air = built_in().air
        return made_l_min(replace(air, intake=replace(air.intake, **at)))  # type: ignore[type-var]

    base = made()
    assert base == pytest.approx(built_in().air.delivery_l_min, rel=2e-3)  # sea level is free air
    assert made(altitude_m=1500) == pytest.approx(0.835 * base, rel=0.01)  # as the pressure falls
    assert made(intake_c=40) < base < made(intake_c=0)
    assert made(humidity=1.0, intake_c=40) < made(humidity=0.1, intake_c=40)
    air = built_in().air
    hot = replace(air, intake=replace(air.intake, tank_c=60.0))  # type: ignore[type-var]
    assert tank_ref_kpa(hot) > tank_ref_kpa(air)  # a warm tank holds less free air
    assert longest_flow_s(hot, 300.0) < longest_flow_s(air, 300.0)
    assert at_torch_kpa_g(air, 800, 200) == air.line.regulator_kpa_g  # type: ignore[union-attr]
    assert at_torch_kpa_g(air, 0, 200) == 0
    assert least_kpa_g(air, 198) == air.least_kpa_g


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ('[air]\nhose_bore = "0 mm"', "hose_bore"),
        ("[air]\nhose_bore = nan", "hose_bore"),
        ('[air]\nhose_length = "-5 ft"', "hose_length"),
        ('[air]\naltitude = "20000 ft"', "altitude"),
        ('[air]\naltitude = "-10 m"', "altitude"),
        ("[air]\naltitude = 300", "altitude"),
        ('[air]\ntank = "-60 gal"', "tank"),
        ('[air]\ncut_in = "140 psi"', "cut_in"),
        ('[air]\nregulator = "50 psi"', "regulator"),
        ('[air]\nhumidity = "140 %"', "humidity"),
        ('[air]\nintake_temp = "95"', "intake_temp"),
        ('[air]\nintake_temp = "400 F"', "intake_temp"),
        ("[air]\nfittings = 2.5", "fittings"),
        ('[air]\ndryer = "fridge"', "dryer"),
        ("[power]\nphases = 2", "phases"),
        ('[power]\ncord = "11 AWG"', "cord"),
        ('[power]\nefficiency = "0 %"', "efficiency"),
        ('[power]\nambient = "nan C"', "ambient"),
        ("[power]\narc_before_min = 11", "arc_before_min"),
        ("[power]\nbreaker_a = inf", "breaker_a"),
    ],
)
def test_bad_figures_are_refused_with_their_place(text: str, where: str) -> None:
    with pytest.raises(LaglineError) as e:
        kit_from_text(text, "k")
    assert any(f.where.endswith(where) and f.allowed for f in e.value.findings), [str(f) for f in e.value.findings]


def test_no_tank_is_hoses_and_a_bowl() -> None:
    kit, _ = kit_from_text('[air]\ntank = "0 gal"\ndelivery = "3 cfm"', "k")
    table, findings = make_timetable(lines([800]), (setting("test", 60.0),), kit)
    assert [f.code for f in findings] == ["outruns-air"]
    assert "gal" in findings[0].allowed
    assert table.first_short == 1


def test_temperatures_in_either_unit() -> None:
    for said in ("95 F", "35 C", "35 °C", "95F", "35 deg c"):
        kit, _ = kit_from_text(f'[air]\nintake_temp = "{said}"', "k")
        assert kit.air.intake is not None
        assert kit.air.intake.intake_c == pytest.approx(35)


@settings(deadline=None, max_examples=40)
@given(st.floats(0, 45), st.floats(200, 1500), st.floats(0.1, 1.0))
def test_dew_point_is_the_inverse_and_water_is_kept(t: float, p: float, rh: float) -> None:
    w = humidity_ratio(t, 101.325, rh)
    dew = dew_point_c(w, 101.325)
    assert dew <= t + 1e-5
    assert humidity_ratio(dew, 101.325) == pytest.approx(w, rel=1e-4)
    assert dew_point_c(w, p) > dew  # under pressure water comes sooner
    assert condensed_g_m3(w, t, p) >= 0
    assert enhancement(t, p) >= 1


def cord(awg: str, feet: float, duty=((65.0, 0.5),), **more: object):
    kit, _ = kit_from_text(f'[power]\ncord = "{awg} AWG"\ncord_length = "{feet} ft"', "k")
    return replace(kit.power, duty=duty, **more)  # type: ignore[arg-type]


@settings(deadline=None, max_examples=25)
@given(st.sampled_from(["14", "12", "10", "8", "6"]), st.floats(10, 300))
def test_the_largest_current_of_a_cord_is_the_largest(awg: str, feet: float) -> None:
    power = cord(awg, feet)
    most, why = most_current(power)
    assert 0 <= most <= power.rated_current_a
    if why:
        assert too_much(power, most) == ""
        assert too_much(power, most + 0.5) == why
    else:
        assert most == power.rated_current_a


def test_cord_changes_are_just_enough() -> None:
    power = cord("12", 150)
    thin = {f.code: f for f in notes(power, 65.0, "here")}
    assert set(thin) == {"cord-short", "cord-drop"}
    assert "electrician" in thin["cord-short"].allowed
    better = least_awg(power, 65.0)
    assert better in ("8", "6", "4", "2")
    assert not notes(replace(power, supply=replace(power.supply, cord_awg=better)), 65.0, "here")
    metres = longest_cord_m(cord("6", 500), 65.0)
    for share, over in ((0.999, False), (1.001, True)):
        d = draw(cord("6", metres / 0.3048 * share), 65.0)
        assert (d.drop[0] > 0.05) is over


def test_a_plan_speaks_of_the_cord_only_when_it_is_known() -> None:
    assert not known(built_in().power.supply)
    assert known(cord("8", 25).supply)
    big = cord("8", 25, supply_v=240.0)
    told = notes(replace(big, supply=replace(big.supply, breaker_a=20.0)), 65.0, "here")
    assert [f.code for f in told] == ["breaker-short"]
    assert told[0].severity is Severity.NO_GO
    told = notes(replace(big, supply=replace(big.supply, breaker_a=400.0)), 65.0, "here")
    assert [f.code for f in told] == ["breaker-large"]
