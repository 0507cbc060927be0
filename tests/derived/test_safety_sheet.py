"""The safety sheet of real plans: centres of gravity, watch times over midnight, doses, and the printed pages."""

from __future__ import annotations

import io
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from lagline.cards import safety_card
from lagline.desk.safety_desk import printed, safe, safety_dict
from lagline.planning.chain import plan as make_plan
from lagline.planning.clock_time import DAY_MIN, read_start, show_after, show_time
from lagline.planning.drops import drops_of
from lagline.planning.job_file import job_from_text
from lagline.planning.kit_file import generic_kit
from lagline.planning.safety_sheet import safety_sheet
from lagline.records.errors import LaglineError
from lagline.records.finding import Severity
from lagline.records.plan import Plan, Start
from lagline.trade.noise import NIOSH, OSHA, dose_percent
from tests.sample_plan import sample_plan

JOB = """
name = "drops"
units = "mm"
layout = "quick"
[stock]
metal = "steel"
thickness = "12"
coating = "paint"
[[parts]]
name = "coped plate"
shape = "rectangle"
width = "300"
height = "200"
cope_width = "120"
cope_height = "80"
edges = { all = "weld" }
[[parts]]
name = "ring"
shape = "ring"
outside = "240"
inside = "120"
[[plates]]
name = "A"
width = "900"
height = "500"
"""


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    job, _ = job_from_text(JOB, tmp_path_factory.mktemp("job"), "job.toml")
    return make_plan(job, generic_kit(), ())


def on_a_grid(inside, box, n=900):
    """Area and centre of a shape by counting points: nothing of it is the polygon's own formula."""
    x0, y0, x1, y1 = box
    xs, ys = (np.linspace(a, b, n, endpoint=False) + (b - a) / n / 2 for a, b in ((x0, x1), (y0, y1)))
    x, y = np.meshgrid(xs, ys)
    hit = inside(x, y)
    return hit.sum() * (x1 - x0) * (y1 - y0) / n / n, x[hit].mean(), y[hit].mean()


def test_centres_of_gravity_by_counting_points(plan):
    drops = {d.what: d for d in drops_of(plan)}
    placed = {p.name(plan.blanks): p for p in plan.layout.placed}
    kerf = plan.settings[0].kerf_mm.value
    assert all(d.sure for d in drops.values())
    ring, hole, coped = drops["ring"], drops["waste"], drops["coped plate"]
    cut = {b.part.name: b.cut for b in plan.blanks}
    # the ring's middle, by its move; the drop's the same, with a kerf less all round
    middle = placed["ring"].move.point(cut["ring"].outer.segments[0].centre)
    r, b = (loop.segments[0].radius for loop in cut["ring"].loops)
    assert ring.at == pytest.approx(middle, abs=0.2)
    assert hole.at == pytest.approx(middle, abs=1.0)  # its pierce and run-in are eaten out of one side
    assert ring.kg == pytest.approx(math.pi * (r**2 - b**2) * 12 * 7850e-9, rel=0.002)
    assert hole.kg == pytest.approx(math.pi * (b - kerf) ** 2 * 12 * 7850e-9, rel=0.03)
    # the coped plate: counted on a grid in its own coordinates, then moved
    box = cut["coped plate"].bounds()
    corners = np.array([s.start for s in cut["coped plate"].outer.segments])
    assert len(corners) == 6
    notch = corners[~np.isclose(corners[:, 0], box[0]) & ~np.isclose(corners[:, 0], box[2])
                    & ~np.isclose(corners[:, 1], box[1]) & ~np.isclose(corners[:, 1], box[3])][0]  # fmt: skip
    x0, y0, x1, y1 = box
    rectangle = ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
    missing = next(c for c in rectangle if not np.isclose(corners, c).all(axis=1).any())
    lo, hi = np.minimum(notch, missing), np.maximum(notch, missing)
    area, cx, cy = on_a_grid(lambda x, y: ~((x > lo[0]) & (x < hi[0]) & (y > lo[1]) & (y < hi[1])), box)
    assert coped.kg == pytest.approx(area * 12 * 7850e-9, rel=0.003)
    assert coped.at == pytest.approx(placed["coped plate"].move.point((cx, cy)), abs=0.4)


def test_masses_are_the_plans(plan):
    by = {}
    for d in drops_of(plan):
        by[d.number] = by.get(d.number, 0.0) + d.kg
    for s in plan.steps:
        if s.frees == "nothing":
            assert s.number not in by
        else:
            assert by[s.number] <= s.drop_kg * 1.05 + 0.05
            assert by[s.number] > 0.8 * s.drop_kg


def test_made_up_masses_are_told_as_unsure():
    # the sample plan's masses are nobody's: the plan's mass stands, the place is the part's, and it says so
    drops = {d.number: d for d in drops_of(sample_plan())}
    assert not drops[15].sure
    assert drops[15].kg == pytest.approx(1.9)
    assert drops[20].sure
    rows = safety_card.drop_rows(tuple(drops.values()), "in")
    assert next(r for r in rows if r[0] == "15")[3].endswith("about")


def test_watch_ends_after_the_last_arc(plan):
    s = safety_sheet(plan)
    assert s.last_arc_s is not None
    expected, soonest, latest = s.last_arc_s
    arcs = [c.end_s for c in plan.timetable.clocks if c.arc_s > 0]
    assert expected == pytest.approx(max(arcs))
    assert soonest <= expected <= latest
    for w in s.watches:
        assert w.end_s == pytest.approx(expected + 60 * w.watch_min)
        assert w.end_latest_s == pytest.approx(latest + 60 * w.watch_min)
    assert [w.rule for w in s.watches if w.used] == ["NFPA 51B:2019"]  # the longest unless one is named
    named = safety_sheet(plan, "29 CFR 1910.252(a)(2)(iii)")
    assert [w.watch_min for w in named.watches if w.used] == [30]
    with pytest.raises(LaglineError) as caught:
        safety_sheet(plan, "hearsay")
    assert "NFPA 51B:2019" in caught.value.findings[0].allowed


def test_doses_add(plan):
    for rule in (OSHA, NIOSH):
        both = dose_percent(rule, ((98, 0.5), (105, 0.25)))
        assert both == pytest.approx(dose_percent(rule, ((98, 0.5),)) + dose_percent(rule, ((105, 0.25),)))
        assert dose_percent(rule, ()) == 0
    s = safety_sheet(plan)
    for n in s.noises:
        assert n.low <= n.dose <= n.high
    alone = {n.rule.name: n.dose for n in s.noises if n.work == "arc alone"}
    ground = {n.rule.name: n.dose for n in s.noises if n.work == "arc and grinding"}
    assert set(alone) == set(ground)
    assert all(ground[k] > alone[k] for k in alone)
    assert alone[NIOSH.name] > alone[OSHA.name]
    arc_h = sum(c.arc_s for c in plan.timetable.clocks) / 3600
    assert alone[OSHA.name] == pytest.approx(dose_percent(OSHA, ((101.5, arc_h),)))


def test_lens_and_limits_of_the_job(plan):
    s = safety_sheet(plan)
    kit = replace(plan.kit, bench=replace(plan.kit.bench, lens_rule="29 CFR 1910.133; EN 169:2002"))
    both = safety_sheet(replace(plan, kit=kit))
    assert [x.rule for x in s.lenses if x.used] == ["29 CFR 1910.133"]
    assert [x.rule for x in both.lenses if x.used] == ["EN 169:2002"]  # of several the darkest
    assert both.shade is not None
    assert both.shade.value == 11
    substances = {e.substance for e in s.exposures}
    assert {"lead", "cadmium", "manganese", "ozone", "nitrogen dioxide"} <= substances
    assert "nickel" not in substances


def test_a_closed_vessel_stops_it_on_the_sheet(plan):
    shut = replace(plan, job=replace(plan.job, closed_vessel=True))
    s = safe(shut)
    assert any(f.severity is Severity.NO_GO for f in s.sheet.findings)
    text = " ".join(p.extract_text() for p in PdfReader(io.BytesIO(printed(s, "letter"))).pages)
    assert "NOT AS IT STANDS" in text


def test_the_printed_sheet(plan):
    for paper in ("letter", "a4"):
        data = printed(safe(plan, "23:50"), paper)
        assert data == printed(safe(plan, "23:50"), paper)
        pages = PdfReader(io.BytesIO(data)).pages
        assert len(pages) <= 2
        text = " ".join(" ".join(p.extract_text().split()) for p in pages)
        for words in ("next day", "issued by", "watch by", "extinguisher", "or darker", "NFPA 51B:2019",
                      "centre of gravity", "Local codes"):  # fmt: skip
            assert words in text, words


def test_nothing_to_cut(plan):
    none = replace(plan, steps=(), timetable=replace(plan.timetable, clocks=(), arc_s=0.0), verdicts=())
    s = safe(none, "07:00")
    assert (s.sheet.last_arc_s, s.sheet.watches, s.sheet.noises, s.sheet.drops) == (None, (), (), ())
    assert "safety-nothing" in {f.code for f in s.sheet.findings}
    assert printed(s, "letter").startswith(b"%PDF")
    assert safety_dict(s)["fire_watch"] == []


def test_drilling_alone_has_no_arc(plan):
    cold = tuple(replace(s, path=(), start=Start.NONE, frees="nothing") for s in plan.steps)
    clocks = tuple(replace(c, arc_s=0.0) for c in plan.timetable.clocks)
    s = safety_sheet(replace(plan, steps=cold, timetable=replace(plan.timetable, clocks=clocks)))
    assert s.shade is None
    assert s.watches == ()


# ---- the clock ----


@pytest.mark.parametrize(
    ("text", "minutes"),
    [("13:30", 810), ("1:30 pm", 810), ("1:30PM", 810), ("7 am", 420), ("12 am", 0), ("12:15 pm", 735), ("0:00", 0),
     ("23.59", 1439), (" 07:05 ", 425)],
)  # fmt: skip
def test_times_of_day(text, minutes):
    assert read_start(text) == minutes


@pytest.mark.parametrize(
    "text", ["24:00", "13:60", "13:30 pm", "0 am", "nan", "", "1330", "7", "-1:00", "13:3", "١٣:٣٠", "9" * 50]
)
def test_no_times_of_day(text):
    with pytest.raises(LaglineError) as caught:
        read_start(text)
    assert "13:30" in caught.value.findings[0].allowed


def test_over_midnight_and_over_days():
    assert show_time(23 * 60 + 30, 29 * 60) == "23:59"
    assert show_time(23 * 60 + 30, 30 * 60) == "00:00 next day"
    assert show_time(23 * 60 + 30, 24 * 3600) == "23:30 next day"
    assert show_time(60, 48 * 3600) == "01:00 2 days later"
    assert show_time(600, 1) == "10:01"  # never told too early
    assert show_after(59) == "start + 1 min"
    assert show_after(24 * 3600) == "start + 24 h 00"


@settings(deadline=None, max_examples=100)
@given(st.integers(0, DAY_MIN - 1), st.floats(0, 20 * 86400))
def test_the_clock_told_is_the_clock_reckoned(start, after):
    text = show_time(start, after)
    hour, minute = int(text[:2]), int(text[3:5])
    days = 0 if len(text) == 5 else 1 if text.endswith("next day") else int(text.split()[1])
    told = days * DAY_MIN + 60 * hour + minute
    assert 0 <= told - start - after / 60 < 1 + 1e-6


def test_a_job_of_more_than_a_day_rolls_over(plan):
    late = tuple(replace(c, begin_s=c.begin_s + 90_000, end_s=c.end_s + 90_000) for c in plan.timetable.clocks)
    assert show_time(read_start("13:30"), late[-1].end_s)[5:] in (" next day", " 2 days later")
    slow = replace(plan.kit.bench, straight_setup_s=replace(plan.kit.bench.straight_setup_s, value=36_000, low=36_000,
                                                            high=36_000))  # fmt: skip
    s = safe(replace(plan, kit=replace(plan.kit, bench=slow)), "13:30")
    assert s.sheet.last_arc_s is not None
    assert s.sheet.last_arc_s[0] > 24 * 3600
    used = next(w for w in s.sheet.watches if w.used)
    assert safety_dict(s)["fire_watch"][-1]["end"] == show_time(810, used.end_s)
    assert "later" in show_time(810, used.end_s) or "next day" in show_time(810, used.end_s)
