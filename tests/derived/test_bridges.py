"""Bridges: strips hang on until everything else of them is cut, and come out right."""

from __future__ import annotations

import itertools
import math
import random
from dataclasses import replace

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.cards import plan_json, words
from lagline.cards.draw_plate import plate_picture
from lagline.cards.draw_step import step_picture
from lagline.planning.bow_notes import camber_of
from lagline.planning.bridge_places import APART_MM, CORNER_MM, LEAST_STRETCH_MM, Side, evenly, places
from lagline.planning.bridges import WIDTH_MM, from_both_ends
from lagline.planning.chain import plan
from lagline.planning.job_file import job_from_text
from lagline.planning.kit_file import generic_kit
from lagline.planning.proof import torch_path, what_is_left
from lagline.records.errors import LaglineError
from lagline.records.finding import Severity
from lagline.records.geometry import Line
from lagline.records.job import Job, Part, Plate, Stock
from lagline.records.plan import Plan, Start, Step
from lagline.trade.bow import allowed_bow_mm, judged_bow_mm
from tests.cutting import box
from tests.generate import random_blanks, rectangle_blank

STOCK = Stock("steel", "mild", 6.0, "6 mm")


def strap(name: str, long: float, wide: float, **fields: object) -> Part:
    return replace(rectangle_blank(name, long, wide).part, stock=STOCK, quantity=1, **fields)  # type: ignore[arg-type]


def job_of(*parts: Part, wide: float = 2000.0, high: float = 900.0, margin: float = 6.35, **fields: object) -> Job:
    fields = {"layout": "quick", **fields}
    return Job("straps", "mm", parts, (Plate("A", "plate", box(wide, high), STOCK, margin),), **fields)  # type: ignore[arg-type]


def mixed_job(seed: int) -> Job:
    """Up to three kinds of strip, some with a word of their own, among other parts."""
    r = random.Random(seed)
    parts = []
    for n in range(r.randint(1, 3)):
        long = r.uniform(250, 1300)
        parts.append(
            replace(
                strap(f"strap {n}", long, min(r.uniform(15, 90), long / 6.2)),
                quantity=r.randint(1, 2),
                tolerance_mm=r.choice([0.0, 4.0]),
                bridge_mm=r.choice([None, None, None, 0.0, 20.0]),
            )
        )
    parts += [replace(b.part, stock=STOCK) for b in random_blanks(seed, r.randint(0, 2), low_mm=80, high_mm=300)]
    made = job_of(
        *parts,
        wide=1500.0,
        margin=r.choice([0.0, 6.35, 30.0]),
        layout=r.choice(["quick", "guided"]),
        bridges=r.choice([None, True]),
        seed=seed + 1,
    )
    return replace(made, plates=(replace(made.plates[0], factory_edges=r.choice([(), ("bottom",)])),))


def planned(seed: int) -> Plan:
    return plan(mixed_job(seed), generic_kit())


def swept(made: Plan, steps: list[Step]) -> shapely.Geometry:
    by_id = {s.id: s for s in made.settings}
    return shapely.union_all(
        [
            torch_path(s, by_id[s.setting]).buffer(by_id[s.setting].kerf_mm.value / 2, quad_segs=64)
            for s in steps
            if s.path
        ]
    )


def check_bridges(made: Plan) -> int:
    """Every law at once, seen on the steps and the metal; returns how many bridges there are."""
    bridges = [s for s in made.steps if s.bridge]
    held = {i for c in made.cuts if c.role == "bridge" for i in c.parts}
    strips = {i for i in held if wants(made, made.blanks[made.layout.placed[i].part])}
    for step in made.steps:  # nothing is let go but by its last bridge
        assert step.bridge or not strips & set(step.freed)
        later = [s for s in bridges if s.number > step.number]
        assert not any(i in s.parts for s in later for i in step.freed)
    for i in strips:
        mine = [s for s in made.steps if i in s.parts]
        assert [s.bridge for s in mine] == sorted(s.bridge for s in mine)  # all bridges after all else
        freed = [s for s in made.steps if i in s.freed]
        assert len(freed) == 1
        assert freed[0].bridge
    left = what_is_left(made.job.plates, made.blanks, made.layout, made.steps, made.settings)
    assert all(e.right for e in left), [e for e in left if not e.right]
    before = swept(made, [s for s in made.steps if not s.bridge])
    plate = shapely.box(*made.job.plates[0].outline.bounds())
    for s in bridges:
        assert s.start is Start.KERF
        assert before.distance(shapely.Point(s.path[0].start)) < 1e-6
        way = shapely.LineString([s.path[0].start, s.path[-1].end])
        asked = [
            made.blanks[made.layout.placed[i].part].part.bridge_mm or WIDTH_MM["mm"] for i in s.parts if i in strips
        ]
        standing = plate.intersection(way).difference(before)
        assert standing.geom_type == "LineString"
        assert standing.length == pytest.approx(max(asked), abs=0.05)
    for s in made.steps:
        if s.leaves_mm:
            follower = [b for b in bridges if math.dist(b.path[0].start, s.path[-1].end) < 1e-6]
            assert len(follower) == 1
    clamp = shapely.Point(made.steps[0].clamp)
    for i in strips:  # the strip is part of what the clamp holds until its own bridges are cut
        first = next(s.number for s in made.steps if s.bridge and i in s.parts)
        cut = swept(made, [s for s in made.steps if s.number < first])
        (kept,) = (g for g in shapely.get_parts(plate.difference(cut)) if g.contains(clamp))
        outline = made.layout.placed[i].move.outline(made.blanks[made.layout.placed[i].part].cut)
        assert kept.contains(shapely.Polygon(outline.outer.points(0.05)).representative_point())
    assert not [f for f in made.findings if f.code in ("cut-from-loose", "part-not-as-drawn")]
    for c in made.cuts:  # and nothing is bridged without need
        if c.role == "bridge":
            parts = [made.blanks[made.layout.placed[i].part] for i in c.parts]
            assert any(wants(made, b) for b in parts)
            assert all(b.part.bridge_mm != 0 for b in parts)
    return len(bridges)


@given(st.integers(0, 10_000))
@settings(deadline=None, max_examples=6)
def test_strips_hang_on_to_their_last_bridge_and_come_out_right(seed: int):
    check_bridges(planned(seed))


@pytest.mark.deep
@given(st.integers(0, 1_000_000))
@settings(deadline=None, max_examples=200)
def test_many_more_strips_hang_on(seed: int):
    check_bridges(planned(seed))


def wants(made: Plan, blank) -> bool:
    camber = camber_of(blank, made.settings)
    if camber is None or blank.part.bridge_mm == 0:
        return False
    long = max(blank.cut.bounds()[2] - blank.cut.bounds()[0], blank.cut.bounds()[3] - blank.cut.bounds()[1])
    too_far = judged_bow_mm(camber) > allowed_bow_mm(blank.part.tolerance_mm, long)
    return bool(blank.part.bridge_mm) or made.job.bridges is True or too_far


def test_same_seed_same_plan():
    one = plan(mixed_job(5), generic_kit())
    assert any(s.bridge for s in one.steps)
    assert plan_json.to_json(one) == plan_json.to_json(plan(mixed_job(5), generic_kit()))


def test_within_tolerance_nothing_is_bridged_and_out_of_it_something_is():
    for wide in (40.0, 76.0, 190.0):
        for tolerance in (0.0, 1.0, 12.0):
            made = plan(job_of(strap("strap", 1200, wide, tolerance_mm=tolerance)), generic_kit())
            camber = camber_of(made.blanks[0], made.settings)
            assert camber is not None
            assert camber.value < judged_bow_mm(camber) < camber.high
            too_far = judged_bow_mm(camber) > (tolerance or 3.6)
            assert any(s.bridge for s in made.steps) == too_far


def test_the_job_and_the_part_have_their_say():
    def count(part: Part, bridges: bool | None) -> int:
        return sum(s.bridge for s in plan(job_of(part, bridges=bridges), generic_kit()).steps)

    bowing, stiff = strap("strap", 1200, 40), strap("strap", 1200, 190)
    assert count(bowing, None) >= 2
    assert count(bowing, False) == 0
    assert count(replace(bowing, bridge_mm=0.0), True) == 0
    assert count(replace(bowing, bridge_mm=12.0), False) >= 2
    assert count(stiff, None) == 0
    assert count(stiff, True) >= 2
    told = plan(job_of(strap("plate", 300, 200, bridge_mm=12.0)), generic_kit()).findings
    assert "bridge-unused" in {f.code for f in told}


def test_a_strip_shorter_than_two_bridges_gets_one_or_none_and_it_is_said():
    def made(long: float) -> Plan:
        return plan(job_of(strap("strap", long, long / 8), bridges=True), generic_kit())

    assert sum(s.bridge for s in made(220).steps) == 2
    assert sum(s.bridge for s in made(140).steps) == 1
    none = made(100)
    assert not any(s.bridge for s in none.steps)
    assert [f.severity for f in none.findings if f.code == "bridge-none"] == [Severity.CAUTION]


def test_a_strip_on_the_mill_edge_is_bridged_along_its_other_edge():
    made = job_of(strap("strap", 1200, 40), layout="guided", margin=0.0)
    made = replace(made, plates=(replace(made.plates[0], factory_edges=("bottom", "left")),))
    done = plan(made, generic_kit())
    assert check_bridges(done) >= 2
    (outline,) = (p.move.outline(done.blanks[p.part].cut) for p in done.layout.placed)
    assert min(outline.bounds()[:2]) == pytest.approx(0, abs=0.01)  # it lies on the edge


def test_strips_that_share_a_kerf_are_bridged_there_for_both():
    made = plan(job_of(replace(strap("strap", 1200, 40), quantity=3), layout="guided"), generic_kit())
    assert made.layout.shared
    check_bridges(made)
    shared = [c for c in made.cuts if c.role == "bridge" and len(c.parts) > 1]
    assert shared
    lines = {tuple(sorted(c.parts)) for c in shared}
    assert lines <= {tuple(sorted(pair)) for pair in made.layout.shared}
    assert len({i for c in made.cuts if c.role == "bridge" for i in c.parts}) == 3
    (drilled,) = [f for f in made.findings if f.code == "start-drilled"]
    assert drilled.where.count("#") == len(shared)  # no drop there takes a start behind a bridge


def test_a_strip_between_a_ribbon_and_a_part_hangs_on_the_part_which_is_cut_out_later():
    parts = strap("strap", 1200, 40), strap("wide", 800, 300)
    made = plan(job_of(*parts, wide=1300, high=500, layout="guided", margin=3.0), generic_kit())
    check_bridges(made)
    assert any(s.bridge for s in made.steps)


def test_a_strip_beside_one_that_wants_none_is_not_bridged_there():
    parts = strap("strap a", 1200, 40), strap("strap b", 1200, 40, bridge_mm=0.0)
    made = plan(job_of(*parts, layout="guided", margin=30.0), generic_kit())
    check_bridges(made)
    for c in made.cuts:
        if c.role == "bridge":
            assert {made.layout.placed[i].part for i in c.parts} == {0}


def test_the_wider_bridge_of_two_and_never_over_a_corner():
    a = Side(0, 0, 0, 0.0, 1000.0, True, True, 2.0)
    b = Side(1, 0, 0, 300.0, 1300.0, False, True, 2.0)
    gaps = places([a], [a, b], {0: 12.0, 1: 20.0}, [])
    assert gaps
    for g in gaps:
        assert g.end - g.begin == pytest.approx(22.0)
        assert all(abs(e - x) >= CORNER_MM for e in (g.begin, g.end) for x in (0.0, 300.0, 1000.0, 1300.0))
        assert g.begin >= 300.0  # where both agree
        assert g.end <= 1000.0


@given(
    st.floats(60, 4000),
    st.floats(8, 54),
    st.lists(st.tuples(st.floats(0, 4000), st.floats(1, 300)), max_size=4),
)
@settings(deadline=None, max_examples=150)
def test_bridges_stand_apart_clear_of_what_is_blocked(long: float, wide: float, blocks: list[tuple[float, float]]):
    blocked = [(a, a + w) for a, w in blocks]
    gaps = evenly(0.0, long, wide, blocked)
    for g in gaps:
        assert g.end - g.begin == pytest.approx(wide)
        assert not any(a < g.end and g.begin < b for a, b in blocked)
    ends = [0.0, *itertools.chain.from_iterable((g.begin, g.end) for g in gaps), long]
    stretches = [b - a for a, b in zip(ends[::2], ends[1::2], strict=True)]
    if gaps:
        assert min(stretches) >= LEAST_STRETCH_MM - 1e-9
    if not blocked:
        assert bool(gaps) == (long >= 2 * LEAST_STRETCH_MM + wide)
        assert len(gaps) >= 2 or long < 3 * LEAST_STRETCH_MM + 2 * wide + 4 * LEAST_STRETCH_MM
        assert max(stretches, default=0.0) <= APART_MM or not gaps


@given(st.integers(1, 40))
def test_ends_are_cut_before_the_middle_and_in_turn(n: int):
    turns = from_both_ends(n)
    assert sorted(turns) == list(range(n))
    for a, b in itertools.pairwise(turns[: n - 1]):
        assert abs(a - b) >= (n - 1) // 2 - max(0, turns.index(b) - 1)
    if n > 1:
        assert turns[:2] == (0, n - 1)


def test_a_guide_still_there_serves_the_bridges_too():
    # ends on the mill edges: the long edge is the strip's only cut, and its bridges follow with the guide in place
    made = job_of(strap("strap", 800, 40), wide=800.0, layout="guided", margin=0.0)
    made = replace(made, plates=(replace(made.plates[0], factory_edges=("bottom", "left", "right")),))
    done = plan(made, generic_kit())
    assert check_bridges(done) == 2
    assert sum(not s.held for s in done.steps) == 1
    assert all(s.guide == done.steps[0].guide for s in done.steps)


def test_card_and_pictures_say_what_to_leave_and_what_to_cut_last():
    made = plan(job_of(strap("strap", 1200, 40)), generic_kit())
    leaving = next(s for s in made.steps if s.leaves_mm)
    last = next(s for s in made.steps if s.bridge)
    assert words.besides(leaving, "in") == 'Leave 9/16" standing at the end: a bridge, cut last'
    assert "cut last" in words.besides(last, "mm")
    assert "no pierce" in words.start(last)
    assert any("leave 15 mm" in t.text for t in step_picture(made, leaving.number, paper=True).labels)
    assert any(t.text == "bridge, last" for t in step_picture(made, last.number, paper=True).labels)
    n = sum(s.bridge for s in made.steps)
    picture = plate_picture(made, 0, paper=True)
    assert any(t.text == f"{last.number}-{last.number + n - 1} bridges, last" for t in picture.labels)


def test_starts_pierces_and_minutes_are_counted():
    with_them = plan(job_of(strap("strap", 1200, 40)), generic_kit())
    without = plan(job_of(strap("strap", 1200, 40), bridges=False), generic_kit())
    n = sum(s.bridge for s in with_them.steps)
    assert n == 3
    assert with_them.totals.starts == without.totals.starts + 2 * n
    assert with_them.totals.pierces == without.totals.pierces + n
    assert with_them.totals.minutes.value > without.totals.minutes.value
    cut = math.fsum(seg.length for s in with_them.steps for seg in s.line if isinstance(seg, Line))
    plain = math.fsum(seg.length for s in without.steps for seg in s.line if isinstance(seg, Line))
    # each bridge is a kerf longer than the metal it was: the line is cut once all the same
    assert cut == pytest.approx(plain, abs=0.01)


HEAD = '[stock]\nmetal = "steel"\nthickness = "1/4"\n[[plates]]\nwidth = "60"\nheight = "30"\n'
PART = '[[parts]]\nshape = "strip"\nlength = "48"\nwidth = "1"\n'


@pytest.mark.parametrize(("said", "read"), [("true", True), ("false", False), ('"auto"', None), ('"Auto"', None)])
def test_the_job_file_says_bridges(said: str, read: bool | None, tmp_path):
    job, _ = job_from_text(f'units = "in"\nbridges = {said}\n' + HEAD + PART, tmp_path, "job.toml")
    assert job.bridges is read
    assert job.parts[0].bridge_mm is None


@pytest.mark.parametrize(("said", "mm"), [('"1/2"', 12.7), ("0", 0.0), ('"15 mm"', 15.0)])
def test_the_job_file_says_a_bridge(said: str, mm: float, tmp_path):
    job, _ = job_from_text('units = "in"\n' + HEAD + PART + f"bridge = {said}\n", tmp_path, "job.toml")
    assert job.parts[0].bridge_mm == pytest.approx(mm)


@pytest.mark.parametrize(
    ("head", "part"), [("bridges = 3", ""), ('bridges = "some"', ""), ("", 'bridge = "1/16"'), ("", 'bridge = "5"'),
                       ("", "bridge = -1"), ("", "bridge = true")]
)  # fmt: skip
def test_what_is_no_bridge_is_refused(head: str, part: str, tmp_path):
    with pytest.raises(LaglineError) as caught:
        job_from_text(f'units = "in"\n{head}\n' + HEAD + PART + part + "\n", tmp_path, "job.toml")
    assert any("bridge" in f.where for f in caught.value.findings)
