"""Verdicts on hand-made jobs: which link is named, what its margin is, and that sums add up."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.planning.fit import size_fit
from lagline.planning.settings import choose_settings
from lagline.planning.timetable import make_timetable
from lagline.planning.verdict import judge
from lagline.records.figure import Basis, Figure
from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Arc, Line, Loop, Outline
from lagline.records.job import Edge, EdgeUse, Job, Part, Stock
from lagline.records.kit import Kit
from lagline.records.plan import (
    ArmGuide,
    Blank,
    Method,
    PlateUse,
    Setting,
    Start,
    Step,
    StraightGuide,
    Totals,
    Verdict,
)
from lagline.trade.mass import mass_of_area
from tests.cutting import box, cut_on_paper
from tests.kits import generic_kit

Judged = tuple[tuple[Verdict, ...], tuple[PlateUse, ...], Totals, tuple[Finding, ...]]
POINT = (0.0, 0.0)


def blank(
    t_mm: float, hole_mm: float = 60.0, side: float = 200.0, tolerance: float = 0.0, coating: str = "bare"
) -> Blank:
    """A square plate with a round hole in the middle."""
    hole = Loop((Arc((side / 2, side / 2), hole_mm / 2, 0.0, -2 * math.pi),), ("hole",))
    outline = Outline(box(side, side).outer, (hole,))
    names = (*outline.outer.names, "hole")
    stock = Stock("steel", "mild", t_mm, f"{t_mm:g} mm", coating)
    part = Part("cheek", outline, 1, stock, tuple(Edge(n, EdgeUse.FREE) for n in names), tolerance_mm=tolerance)
    return Blank(part, outline, outline, (), outline.area, mass_of_area("steel", outline.area, t_mm))


def bench(**power: object) -> Kit:
    """A bench that rests for nothing but what is asked: large tank, strong compressor."""
    kit = generic_kit(**power)
    return replace(kit, air=replace(kit.air, tank_l=2000.0, delivery_l_min=300.0))


def run(
    one: Blank, kit: Kit | None = None, current_a: float | None = None, units: str = "in", **job: object
) -> tuple[Judged, tuple[Step, ...], Setting]:
    kit = kit or bench()
    found, _ = choose_settings((one,), kit, current_a)
    cuts, steps, _, _, plate, layout = cut_on_paper((one,), kit, found[0])
    table, _ = make_timetable(steps, found, kit)
    asked = Job("job", units, (one.part,), (plate,), **job)  # type: ignore[arg-type]
    return judge(asked, kit, (one,), found, layout, cuts, steps, table), steps, found[0]


def codes(findings: tuple[Finding, ...], severity: Severity | None = None) -> list[str]:
    return [f.code for f in findings if severity is None or f.severity is severity]


def test_a_plain_job_goes() -> None:
    (verdicts, _, totals, findings), steps, _ = run(blank(8.0))
    assert [v.number for v in verdicts] == [s.number for s in steps]
    assert all(v.go and v.margin >= 0 and v.weakest for v in verdicts)
    assert Severity.NO_GO not in {f.severity for f in findings}
    assert totals.starts == len(steps) == totals.setups
    assert totals.pierces == sum(s.start is Start.PIERCE for s in steps) >= 1
    assert totals.cut_length_mm == pytest.approx(sum(x.length for s in steps for x in s.path))
    assert totals.minutes.low < totals.minutes.value < totals.minutes.high
    assert totals.cost.low < totals.cost.value < totals.cost.high
    assert {"marking out", "arc on", "nozzles", "electrodes"} <= {name for name, _ in totals.cost.inputs}


def test_too_thick_is_a_no_go_by_thickness() -> None:
    """The set is rated 19.05 mm; severed to 1.25 times that: 23.8 mm. 30 mm is (23.8 - 30)/23.8 short."""
    (verdicts, _, _, findings), _, _ = run(blank(30.0), current_a=65.0)
    worst = verdicts[0]
    assert not worst.go
    assert min(v.margin for v in verdicts) < 0
    outline = next(v for v in verdicts if v.weakest == "thickness")
    assert outline.margin == pytest.approx((19.05 * 1.25 - 30) / (19.05 * 1.25), rel=1e-3)
    assert "cannot-go" in codes(findings, Severity.NO_GO)


def test_pierce_is_the_weakest_link_where_only_the_edge_start_holds() -> None:
    """Half of 19.05 mm is pierced. 12 mm is cut clean from an edge, but not pierced."""
    one = blank(12.0)
    kit = bench()
    (verdicts, *_), steps, setting = run(one, kit, 65.0)
    assert not setting.pierce_ok
    assert all(v.go for v in verdicts)  # the cuts stage gave edge or drilled starts
    forced = tuple(replace(s, start=Start.PIERCE) if s.path else s for s in steps)
    cuts, _, _, _, plate, layout = cut_on_paper((one,), kit, setting)
    table, _ = make_timetable(forced, (setting,), kit)
    job = Job("job", "in", (one.part,), (plate,))
    verdicts, _, _, findings = judge(job, kit, (one,), (setting,), layout, cuts, forced, table)
    assert {v.weakest for v in verdicts} == {"pierce"}
    assert verdicts[0].margin == pytest.approx((19.05 / 2 - 12) / (19.05 / 2), rel=1e-3)
    assert not any(v.go for v in verdicts)
    stops = [f for f in findings if f.code == "cannot-go"]
    assert len(stops) == 1
    assert stops[0].where == f"set-ups 1 to {len(steps)}"


@pytest.mark.parametrize(("share", "goes"), [(0.3, True), (0.02, False)])
def test_duty_is_named_when_a_cut_outruns_the_set(share: float, goes: bool) -> None:
    (verdicts, _, _, _), _, _ = run(blank(10.0), bench(duty=((65.0, share),)), 65.0)
    short = [v for v in verdicts if v.weakest == "duty" and not v.go]
    assert bool(short) != goes


def test_air_is_named_when_the_tank_cannot_carry_a_cut() -> None:
    kit = generic_kit()
    kit = replace(kit, air=replace(kit.air, tank_l=1.0, delivery_l_min=20.0))
    (verdicts, _, _, findings), _, _ = run(blank(10.0), kit)
    assert {v.weakest for v in verdicts} == {"air"}
    assert not any(v.go for v in verdicts)
    assert "cannot-go" not in codes(findings)  # the timetable tells it, once


def test_current_above_the_set_is_a_no_go() -> None:
    (verdicts, *_), _, setting = run(blank(10.0), current_a=90.0)
    assert not setting.edge_ok
    assert {v.weakest for v in verdicts} == {"current"}
    assert verdicts[0].margin == pytest.approx((65 - 90) / 65)


@settings(deadline=None, max_examples=15)
@given(st.floats(3, 28), st.sampled_from([25.0, 45.0, 65.0]))
def test_go_agrees_with_the_settings_stage(t_mm: float, amps: float) -> None:
    """Two ways to the same answer: the setting's own flags, and the verdict's links."""
    (verdicts, *_), steps, setting = run(blank(t_mm), bench(duty=((65.0, 1.0),)), amps)
    for v, s in zip(verdicts, steps, strict=True):
        if s.path:
            holds = setting.edge_ok and (setting.pierce_ok or s.start is not Start.PIERCE)
            assert holds == (v.margin >= 0 or v.weakest in ("air", "duty", "hole size"))


def test_tolerance_in_reach_doubtful_and_out_of_reach() -> None:
    """A straightedge holds 0.8 to 1.6 mm by itself; the stack's value lies above 1.2."""

    def outcome(wanted: float) -> tuple[list[str], list[bool]]:
        (verdicts, _, _, findings), steps, _ = run(blank(5.0, hole_mm=90, tolerance=wanted))
        straight = [v.go for v, s in zip(verdicts, steps, strict=True) if s.method is Method.STRAIGHTEDGE]
        return codes(findings), straight

    assert not {"tolerance-short", "tolerance-doubtful"} & set(outcome(6.0)[0])
    doubtful, go = outcome(1.2)
    assert "tolerance-doubtful" in doubtful
    assert all(go)
    short, go = outcome(0.5)
    assert "tolerance-short" in short
    assert not any(go)


def a_setting(t_mm: float) -> Setting:
    return choose_settings((blank(t_mm),), bench(), 55.0)[0][0]


def a_step(method: Method, guide: object, line: tuple[Line | Arc, ...]) -> Step:
    return Step(
        *(1, "c", 1, 1, 0, 0, "t", method, Start.EDGE, line, line, guide, "right", "right"),  # type: ignore[arg-type]
        *(0.0, "s", POINT, "part", 1.0),
    )


def test_promise_is_never_under_iso_9013_class_2() -> None:
    """ISO 9013:2017 class 2 (seen): over 10 to 15 mm thick, 315 to 1000 mm: 2.3 mm; 5 mm thick, 35 to 125 mm: 0.9."""
    flat = Figure(1.0, 1.0, 1.0, "mm", "x", Basis.DEFAULT, "test")
    bar = StraightGuide("drop", flat, (POINT, POINT), (POINT,) * 4, (), "clamp")
    step = a_step(Method.STRAIGHTEDGE, bar, (Line(POINT, (500.0, 0.0)),))
    thick = size_fit(step, a_setting(12.0), bench(), 500.0)
    assert thick.value == pytest.approx(2.3)
    assert ("ISO 9013:2017 class 2", "2.3 mm") in thick.inputs
    thin = size_fit(step, a_setting(5.0), bench(), 100.0)
    assert thin.value > 1.2
    assert thin.low == pytest.approx(0.8)
    none = size_fit(step, a_setting(25.0), bench(), 100.0)
    assert dict(none.inputs)["ISO 9013:2017 class 2"].startswith("no value")


def test_a_circle_about_a_pivot_doubles_on_the_diameter() -> None:
    flat = Figure(50.0, 50.0, 50.0, "mm", "x", Basis.DEFAULT, "test")
    arm = ArmGuide(POINT, flat, flat, True)
    part_of = (Arc(POINT, 50.0, 0.0, 1.0),)
    whole = (Arc(POINT, 50.0, 0.0, 3.0), Arc(POINT, 50.0, 3.0, 2 * math.pi - 3.0))
    setting, kit = a_setting(5.0), bench()
    one = size_fit(a_step(Method.ARM, arm, part_of), setting, kit, 100.0)
    both = size_fit(a_step(Method.ARM, arm, whole), setting, kit, 100.0)
    assert both.value == pytest.approx(2 * one.value)


@settings(deadline=None, max_examples=15)
@given(st.floats(4, 16), st.floats(30, 120), st.floats(150, 500))
def test_mass_is_neither_made_nor_lost(t_mm: float, hole_mm: float, side: float) -> None:
    """Plate = part + drop + what is left + kerf; the kerf is its path times its width but for ends and overlaps."""
    one = blank(t_mm, hole_mm, side)
    (_, uses, totals, _), steps, setting = run(one)
    kg = mass_of_area("steel", 1.0, t_mm).value
    _, _, _, _, plate, _ = cut_on_paper((one,), bench(), setting)
    use, k = uses[0], setting.kerf_mm.value
    assert use.parts_kg == pytest.approx(one.mass_kg.value) == totals.parts_kg
    rest = plate.outline.area - (use.parts_kg + use.drops_kg + use.left_kg) / kg
    path = sum(x.length for s in steps for x in s.path)
    # Corners: the kerf leaves rounds and fillets of the order of its own square; overlaps at overruns take off.
    assert path * k * 0.8 - 40 * k * k < rest < path * k + 40 * k * k
    assert use.use_share == pytest.approx(one.area_mm2 / plate.outline.area)
    if all(s.path for s in steps):
        hole = math.pi * hole_mm**2 / 4
        assert hole * 0.2 < use.drops_kg / kg < hole


def test_cautions_name_their_rules() -> None:
    (_, _, _, findings), _, _ = run(blank(10.0, coating="galvanised"))
    assert {"lens", "fire-watch", "fume-iron", "fume-zinc", "noise", "tip-voltage", "hot-metal"} <= set(codes(findings))
    lens = next(f for f in findings if f.code == "lens")
    assert "29 CFR 1910.133" in lens.message
    fire = next(f for f in findings if f.code == "fire-watch")
    assert "1910.252" in fire.message
    assert "2019" in fire.message
    assert not any("vessel" in f.code for f in findings)


def test_a_closed_vessel_is_not_cut_as_it_stands() -> None:
    (_, _, _, findings), _, _ = run(blank(10.0), closed_vessel=True)
    assert "closed-vessel" in codes(findings, Severity.NO_GO)
    person = next(f for f in findings if f.code == "closed-vessel-person")
    assert "competent person" in person.message
    assert "permit" in person.message


def test_a_closed_vessel_made_safe_goes_with_its_cautions() -> None:
    """29 CFR 1910.252(a)(3) (from memory): cleaned, blanked off and vented before heat."""
    said = "steamed out, both manways open, tested for gas by the yard chemist this morning"
    (verdicts, _, _, findings), _, _ = run(blank(10.0), closed_vessel=True, vessel_made_safe=said)
    assert all(v.go for v in verdicts)
    assert not codes(findings, Severity.NO_GO)
    vessel = next(f for f in findings if f.code == "closed-vessel")
    assert vessel.severity is Severity.CAUTION
    assert said in vessel.message
    assert "29 CFR 1910.252(a)(3)" in vessel.message
    assert "closed-vessel-person" in codes(findings, Severity.CAUTION)


def test_why_holds_only_what_failed() -> None:
    """10 mm is within thickness and pierce; 90 A is beyond a 65 A set, and the arc time beyond 2 % duty."""
    (verdicts, *_), _, _ = run(blank(10.0), bench(duty=((65.0, 0.02),)), 65.0)
    assert any(not v.go for v in verdicts)
    for v in verdicts:
        assert len(v.why) == 1
        assert v.why[0].startswith(f"{v.weakest}: ")
        assert v.go or v.weakest == "duty"
    (verdicts, *_), _, _ = run(blank(30.0), bench(duty=((65.0, 0.02),)), 65.0)
    outline = next(v for v in verdicts if len(v.why) > 1)
    assert {w.split(":")[0] for w in outline.why} <= {"thickness", "pierce", "duty", "hole size"}


def test_a_cut_that_outruns_the_set_is_told_once() -> None:
    one, kit = blank(10.0), bench(duty=((65.0, 0.02),))
    found, _ = choose_settings((one,), kit, 65.0)
    cuts, steps, _, _, plate, layout = cut_on_paper((one,), kit, found[0])
    table, clock = make_timetable(steps, found, kit)
    *_, judged = judge(Job("job", "in", (one.part,), (plate,)), kit, (one,), found, layout, cuts, steps, table)
    told = [f for f in (*clock, *judged) if f.severity is Severity.NO_GO]
    assert {f.code for f in told} == {"outruns-set"}
    where = [f.where for f in told]
    assert len(where) == len(set(where))


def test_a_doubtful_tolerance_is_not_called_spare() -> None:
    """Wanted a little less than expected, more than the lucky end: it goes, and says that it may miss."""
    (verdicts, *_), steps, _ = run(blank(5.0, hole_mm=90))
    expected = next(v.tolerance_mm for v, s in zip(verdicts, steps, strict=True) if s.method is Method.STRAIGHTEDGE)
    (verdicts, _, _, findings), steps, _ = run(blank(5.0, hole_mm=90, tolerance=expected.value * 0.99), units="mm")
    v = next(v for v, s in zip(verdicts, steps, strict=True) if s.method is Method.STRAIGHTEDGE)
    assert v.go
    assert v.margin == pytest.approx(-1 / 99)
    assert v.weakest.startswith("tolerance: expected ")
    assert v.weakest.endswith(": may miss")
    shown, wanted = (float(x.split()[0]) for x in (v.weakest.split("expected ")[1], v.weakest.split("wanted ")[1]))
    assert shown > wanted
    assert any(f.code == "tolerance-doubtful" and f"{wanted:g} mm wanted" in f.message for f in findings)


@pytest.mark.parametrize(("units", "own", "other"), [("mm", " mm", r"\d in\b|psi|\blb\b"), ("in", " in", "mm|kPa|kg")])
def test_words_are_in_the_units_of_the_job(units: str, own: str, other: str) -> None:
    kit = bench()
    dry = replace(kit, air=replace(kit.air, tank_l=1.0, delivery_l_min=20.0))
    said: list[str] = []
    for one, with_kit in ((blank(30.0, side=400.0), kit), (blank(10.0, tolerance=0.5), dry), (blank(10.0), kit)):
        (verdicts, _, _, findings), _, _ = run(one, with_kit, 65.0, units=units)
        said += [w for v in verdicts for w in v.why]
        said += [f.message for f in findings if f.code in ("cannot-go", "tolerance-short", "drop-heavy")]
    assert any(own in w for w in said)
    assert not [w for w in said if re.search(other, w)]


def test_heavy_pieces_are_named_with_their_mass() -> None:
    """A 400 mm square of 10 mm with a 60 mm hole: 7850 kg/m3 x 1.572e-3 m3 = 12.3 kg."""
    (_, _, _, findings), steps, _ = run(blank(10.0, side=400.0))
    heavy = [f for f in findings if f.code == "drop-heavy"]
    assert len(heavy) == 1
    last = next(s for s in steps if s.frees == "part")
    assert f"set-up {last.number} part 27 lb" in heavy[0].message
    (_, _, _, findings), _, _ = run(blank(10.0, side=400.0), units="mm")
    assert f"set-up {last.number} part 12 kg" in next(f for f in findings if f.code == "drop-heavy").message
    (_, _, _, light), _, _ = run(blank(5.0))
    assert "drop-heavy" not in codes(light)


def test_metal_without_a_price_is_said_and_left_out() -> None:
    kit = bench()
    none = replace(kit, bench=replace(kit.bench, metal_per_kg=()))
    (_, _, priced, _), _, _ = run(blank(10.0), kit)
    (_, _, bare, findings), _, _ = run(blank(10.0), none)
    assert "metal-no-price" in codes(findings)
    metal = sum(float(v.split()[0]) for name, v in priced.cost.inputs if name.startswith("metal"))
    assert priced.cost.value - bare.cost.value == pytest.approx(metal, abs=0.01)


def test_minutes_by_hand() -> None:
    """A square with a round hole: 10 min marking (5 to 15), the timetable, what fell laid aside after its end (20 s, 10
    to 40), and the path at 4 ft/min (2 to 6) of chipping; no edge asks for grinding."""
    one = blank(10.0)
    (_, _, sums, _), steps, setting = run(one)
    table, _ = make_timetable(steps, (setting,), bench())
    path = sum(s.length for step in steps for s in step.path)
    last = steps[-1]
    assert last.frees == "part"
    assert last.drop_kg < 23
    expected = 600 + table.total_s.value + 20 + path / (4 * 304.8 / 60)
    assert sums.minutes.value * 60 == pytest.approx(expected)
    assert sums.minutes.low * 60 == pytest.approx(300 + table.total_s.low + 10 + path / (6 * 304.8 / 60))
    assert sums.minutes.high * 60 == pytest.approx(900 + table.total_s.high + 40 + path / (2 * 304.8 / 60))
    weld = replace(one, part=replace(one.part, edges=tuple(replace(e, use=EdgeUse.WELD) for e in one.part.edges)))
    (_, _, ground, _), _, _ = run(weld)
    edge = sum(s.length for o in one.finished.loops for s in o.segments)  # at 1 ft/min, 1/2 to 2
    assert ground.minutes.value - sums.minutes.value == pytest.approx(edge / 304.8)
    assert ground.minutes.high - sums.minutes.high == pytest.approx(edge / 152.4)


def test_nothing_to_do() -> None:
    one, kit = blank(10.0), bench()
    found, _ = choose_settings((one,), kit, None)
    _, _, _, _, plate, layout = cut_on_paper((one,), kit, found[0])
    table, _ = make_timetable((), found, kit)
    job = Job("job", "in", (one.part,), (plate,))
    verdicts, uses, totals, findings = judge(job, kit, (one,), found, replace(layout, placed=()), (), (), table)
    assert verdicts == ()
    assert uses[0].parts_kg == 0
    assert uses[0].offcut_mm[2:] == pytest.approx(plate.outline.bounds()[2:])
    assert (totals.minutes.value, totals.cost.value, totals.starts) == (0.0, 0.0, 0)
    assert findings == ()
