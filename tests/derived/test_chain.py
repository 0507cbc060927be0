"""The chain whole: the demo and generated jobs, from files to a plan."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
import shapely

from lagline.cards import bench_card, plan_json
from lagline.desk.demo import write_demo
from lagline.desk.planner import plan_files, plan_outputs
from lagline.planning.chain import Progress, Stopped, plan
from lagline.planning.kit_file import generic_kit
from lagline.planning.layout_check import check_layout
from lagline.planning.proof import what_is_left
from lagline.records.finding import Severity
from lagline.records.job import Job
from lagline.records.plan import Method, Plan, Start
from lagline.shapes.region import polygon, swath
from tests.generate import random_job


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    folder = tmp_path_factory.mktemp("demo")
    write_demo(folder)
    return plan_files(folder / "job.toml")


def test_the_demo_is_a_real_job_and_goes(demo: Plan):
    assert len(demo.blanks) >= 12
    assert len(demo.layout.placed) >= 30
    assert len(demo.job.plates) == 2
    assert {p.plate for p in demo.layout.placed} == {0, 1}
    assert demo.go, [f for f in demo.findings if f.severity is Severity.NO_GO]
    assert {s.method for s in demo.steps} == set(Method)
    assert {Start.EDGE, Start.PIERCE, Start.KERF, Start.NONE} <= {s.start for s in demo.steps}


def test_every_part_of_the_demo_comes_out_as_drawn(demo: Plan):
    check_plan(demo)
    left = what_is_left(demo.job.plates, demo.blanks, demo.layout, demo.steps, demo.settings)
    assert len(left) == len(demo.layout.placed)
    assert all(e.right for e in left)


def test_same_job_and_seed_same_plan_and_same_card(demo: Plan, tmp_path: Path):
    write_demo(tmp_path)
    again = plan_files(tmp_path / "job.toml")
    assert plan_json.to_json(again) == plan_json.to_json(demo)
    assert bench_card.pdf(again, "letter") == bench_card.pdf(demo, "letter")


def test_every_output_is_there(demo: Plan):
    files, failed = plan_outputs(demo)
    assert not failed
    assert {"plan.json", "bench-card.pdf", "templates.pdf", "plate.dxf", "plate-A.svg", "plate-L.svg"} == set(files)
    assert all(files.values())


def test_every_figure_of_the_settings_names_a_registered_formula(demo: Plan):
    from lagline.records.figure import Figure
    from lagline.trade import catalogue

    for s in demo.settings:
        for name in s.__slots__:
            value = getattr(s, name)
            if isinstance(value, Figure):
                assert catalogue.get(value.formula).source, name


def check_kerfs(made: Plan, shapes: list[shapely.Polygon]) -> None:
    """No kerf enters a part, and no two parts' kerfs overlap but for lines cut in one with a neighbour's.

    A window may start from the opening that a part cut in it has left, half a tip over that kerf; a run-in that crosses
    another is told.
    """
    placed = made.layout.placed
    kerf = {s.id: s.kerf_mm.value for s in made.settings}
    unable = {f.where.split(" #")[0].split(",")[0] for f in made.findings if f.code == "no-room-to-start"}
    told = {f.where.removeprefix("cut ") for f in made.findings if f.code == "run-in-crosses"}
    alone = {c.id for c in made.cuts if not c.open}
    for s in made.steps:
        if s.path and s.cut not in alone and s.cut not in told:
            taken = swath(s.path, kerf[s.setting])
            for j, p in enumerate(shapes):
                assert placed[j].plate != s.plate or not taken.intersects(p.buffer(-0.03)), (s.title, j)
    swaths: dict[int, list[shapely.Geometry]] = {}
    starts: dict[int, list[shapely.Geometry]] = {}
    for s in made.steps:
        if (
            s.path
            and s.cut in alone
            and s.cut not in told
            and placed[s.placed].name(made.blanks).split(" #")[0] not in unable
        ):
            swaths.setdefault(s.placed, []).append(swath(s.path, kerf[s.setting]))
            starts.setdefault(s.placed, []).append(shapely.Point(s.path[0].start).buffer(1.5 * kerf[s.setting]))
    whole = {i: shapely.union_all(g) for i, g in swaths.items()}
    for i, a in whole.items():
        for j, p in enumerate(shapes):
            assert placed[i].plate != placed[j].plate or not a.intersects(p.buffer(-0.03)), (i, j)
        for j, b in whole.items():
            if j < i and placed[i].plate == placed[j].plate:
                common = a.intersection(b)
                if any(shapely.Polygon(shapes[x].exterior).contains(shapes[y]) for x, y in ((i, j), (j, i))):
                    common = common.difference(shapely.union_all([*starts[i], *starts[j]]))
                assert common.area < 1e-3, (placed[i].name(made.blanks), placed[j].name(made.blanks))


def check_plan(made: Plan) -> None:
    """What must hold of any plan, whatever the job."""
    placed = made.layout.placed
    shapes = [polygon(p.move.outline(made.blanks[p.part].cut)) for p in placed]
    for i, a in enumerate(shapes):
        plate = made.job.plates[placed[i].plate]
        assert polygon(plate.outline).buffer(1e-3).contains(a)
        for j in range(i):
            if placed[i].plate == placed[j].plate:
                least = made.layout.kerf_mm if made.layout.shared else made.layout.gap_mm
                assert a.distance(shapes[j]) >= least - 2e-3
    assert not check_layout(made.layout, made.blanks, made.job.plates)
    wanted = sum(b.part.quantity for b in made.blanks)
    assert wanted == len(placed) + sum(n for _, n in made.layout.unplaced)
    seen: set[str] = set()
    for s in made.steps:
        cut = next(c for c in made.cuts if c.id == s.cut)
        assert set(cut.after) <= seen, s.title
        if s.group == s.of:
            seen.add(s.cut)
    assert seen == {c.id for c in made.cuts}
    assert len(made.verdicts) == len(made.steps) == len(made.timetable.clocks)
    stopped = {f.where.split(" #")[0].split(",")[0] for f in made.findings
               if f.severity is Severity.NO_GO and f.code != "part-not-as-drawn"}  # fmt: skip
    for e in what_is_left(made.job.plates, made.blanks, made.layout, made.steps, made.settings):
        name = placed[e.placed].name(made.blanks).split(" #")[0]
        assert e.right or name in stopped, (name, e)
    check_kerfs(made, shapes)
    for s in made.steps:
        if s.start is Start.PIERCE:
            point = shapely.Point(s.path[0].start)
            assert min(g.distance(point) for i, g in enumerate(shapes) if placed[i].plate == s.plate) > 0.5


@pytest.mark.parametrize("seed", range(4))
def test_generated_jobs(seed: int):
    blanks, plates = random_job(seed, 8)
    job = Job(f"job {seed}", "mm", tuple(b.part for b in blanks), plates, seed=seed)
    made = plan(job, generic_kit())
    check_plan(made)
    plan_json.to_json(made)


@pytest.mark.deep
@pytest.mark.parametrize("seed", range(50, 150))
def test_generated_jobs_deep(seed: int):
    blanks, plates = random_job(seed, 4 + seed % 12, 1 + seed % 3)
    job = Job(f"job {seed}", "mm", tuple(b.part for b in blanks), plates, seed=seed)
    check_plan(plan(job, generic_kit()))


def test_a_plan_can_be_stopped_and_tells_how_far_it_is():
    blanks, plates = random_job(1, 3)
    job = Job("stopped", "mm", tuple(b.part for b in blanks), plates)
    told: list[Progress] = []
    with pytest.raises(Stopped):
        plan(job, generic_kit(), tell=told.append, stop=lambda: len(told) > 2)
    assert told
    assert [p.share for p in told] == sorted(p.share for p in told)


def test_peak_memory_of_the_demo_is_under_600_mb(tmp_path: Path):
    write_demo(tmp_path)
    code = (  # VmHWM belongs to the process's own memory; ru_maxrss would count the parent's, carried over by exec
        "import sys; from pathlib import Path\n"
        "from lagline.desk.planner import plan_files, plan_outputs\n"
        "plan_outputs(plan_files(Path(sys.argv[1])))\n"
        "print(next(w for w in Path('/proc/self/status').read_text().splitlines() if w.startswith('VmHWM')).split()[1])"
    )
    done = subprocess.run([sys.executable, "-c", code, str(tmp_path / "job.toml")], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert int(done.stdout) < 600 * 1024


def test_a_picture_that_fails_does_not_lose_the_card(demo: Plan, monkeypatch: pytest.MonkeyPatch):
    def broken(*_: object, **__: object) -> str:
        raise ValueError("a geometry fault")

    monkeypatch.setattr("lagline.cards.draw.plate_svg", broken)
    files, failed = plan_outputs(demo)
    assert set(failed) == {"plate-A.svg", "plate-L.svg"}
    assert {"plan.json", "bench-card.pdf", "plate.dxf", "templates.pdf"} == set(files)
