"""The plan page while a plan is made: a first layout soon, then better ones; a stop and a killed solver survived."""

from __future__ import annotations

import os
import signal
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from lagline.book.shelf import JOB
from lagline.desk import plan_room
from lagline.desk.job_desk import JobDesk
from lagline.desk.plan_room import PlanRoom, State
from lagline.planning import choose_layout as stage
from lagline.planning import dense_press
from lagline.planning.chain import Progress, Stopped, plan
from lagline.planning.choose_layout import choose_layout
from lagline.planning.intake import intake
from lagline.planning.job_file import job_from_text
from lagline.planning.kit_file import generic_kit
from lagline.planning.layout_check import check_layout
from lagline.planning.settings import choose_settings
from lagline.records.plan import Layout
from lagline.web.app import create_app
from tests.sample_plan import sample_plan

SMALL = """
name = "small"
units = "mm"
layout = "{}"
stock = {{ metal = "steel", thickness = 6 }}
parts = [
    {{ shape = "disc", diameter = 80, quantity = 3 }},
    {{ shape = "gusset", leg_across = 120, leg_up = 90, quantity = 4 }},
]
plates = [{{ width = 600, height = 400 }}]
"""
MIXED = """
name = "mixed"
units = "mm"
layout = "{}"
stock = {{ metal = "steel", thickness = 10 }}
parts = [
    {{ shape = "strip", length = 700, width = 60, quantity = 4 }},
    {{ shape = "gusset", leg_across = 160, leg_up = 180, quantity = 6 }},
    {{ shape = "ring", outside = 220, inside = 110, quantity = 4 }},
    {{ shape = "rectangle", width = 220, height = 140, quantity = 10 }},
]
plates = [{{ width = 1600, height = 1000 }}]
"""


@pytest.fixture
def web(tmp_path: Path) -> Iterator[TestClient]:
    with TestClient(create_app(tmp_path), base_url="http://127.0.0.1:8770", follow_redirects=False) as c:
        yield c


def desk(web: TestClient) -> JobDesk:
    return web.app.state.desk  # type: ignore[attr-defined]


def sketches(layout: str, stop: Callable[[list[Layout]], bool] = lambda _: False) -> tuple[list[Layout], Layout]:
    """The layouts shown on the way to a job of twenty-four parts, and the one chosen."""
    job, _ = job_from_text(MIXED.format(layout), Path(), JOB)
    kit = generic_kit()
    blanks, _ = intake(job)
    settings, _ = choose_settings(blanks, kit, None)
    seen: list[Layout] = []
    chosen = choose_layout(
        job, kit, blanks, settings, seconds=1, tell=lambda _share, _text: None, stop=lambda: stop(seen),
        sketch=seen.append,
    )  # fmt: skip
    assert check_layout(chosen.layout, blanks, job.plates) == ()
    for one in seen:  # a sketch is not checked, but loses nothing
        assert len(one.placed) + sum(n for _, n in one.unplaced) == 24
    return seen, chosen.layout


@pytest.mark.parametrize("layout", ["quick", "guided"])
def test_a_first_layout_is_shown_before_the_last_and_stopping_then_keeps_it_whole(layout: str) -> None:
    seen, chosen = sketches(layout)
    assert chosen.placed == seen[-1].placed
    assert chosen.unplaced == ()
    stopped, kept = sketches(layout, stop=bool)  # as soon as there is something to see
    assert stopped[0].placed == seen[0].placed
    assert kept.unplaced == ()
    assert kept.placed in [s.placed for s in stopped]


def test_the_best_way_shows_the_quick_one_first_and_stopped_stays_with_it(monkeypatch: pytest.MonkeyPatch) -> None:
    begun: list[str] = []
    lay_out = stage.lay_out

    def noted(*args: object, method: str, **more: object) -> Layout:
        begun.append(method)
        return lay_out(*args, method=method, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(stage, "lay_out", noted)
    seen, chosen = sketches("best", stop=lambda _: len(begun) > 1)
    assert begun == ["quick", "guided"]
    assert seen[0].method == chosen.method == "quick"
    assert chosen.unplaced == ()


def test_better_layouts_take_the_place_of_the_first_and_a_stop_leaves_the_best(
    web: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(plan_room, "NEXT_LOOK_S", 3600.0)
    sample = sample_plan()
    fewer = replace(sample.layout, placed=sample.layout.placed[:1])
    fewest = replace(sample.layout, placed=())
    shown = threading.Event()

    def slow(*_: object, tell, stop, **__: object) -> None:  # type: ignore[no-untyped-def]
        tell(Progress("laying out", 0.3, sample.blanks, fewest))
        tell(Progress("laying out", 0.4, sample.blanks, fewer))  # too soon after the one before
        shown.set()
        while not stop():
            time.sleep(0.01)
        tell(Progress("laying out", 0.4, sample.blanks, sample.layout))
        raise Stopped("laying out")

    d = desk(web)
    d.room = PlanRoom(d.shelf, d.kept, slow)  # type: ignore[arg-type]
    slug = d.add_files("small", {JOB: SMALL.format("quick").encode()})
    work = d.room.work(slug)
    assert shown.wait(10)
    assert web.get(f"/jobs/{slug}").text.count('class="ll-part"') == 0
    web.post(f"/jobs/{slug}/stop")
    assert work.over.wait(10)
    assert work.state is State.STOPPED
    page = web.get(f"/jobs/{slug}").text
    assert page.count('class="ll-part"') == len(sample.layout.placed)
    assert "Planning was stopped" in page


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGSTOP])
def test_a_killed_or_hung_solver_leaves_the_page_answering_and_a_whole_plan(
    web: TestClient, monkeypatch: pytest.MonkeyPatch, how: signal.Signals
) -> None:
    workers: list[int] = []
    begin = dense_press.subprocess.Popen

    def noted(*args, **more):  # type: ignore[no-untyped-def]
        process = begin(*args, **more)
        workers.append(process.pid)
        os.kill(process.pid, how)
        return process

    monkeypatch.setattr(dense_press.subprocess, "Popen", noted)
    monkeypatch.setattr(dense_press, "OVERTIME_S", 0.0)
    d = desk(web)
    d.room = PlanRoom(d.shelf, d.kept, lambda *a, **k: plan(*a, seconds=1, **k))
    slug = d.add_files("small", {JOB: SMALL.format("dense").encode()})
    work = d.room.work(slug)
    answers = []
    while not work.over.wait(0.2):
        answers.append(web.get(f"/jobs/{slug}").status_code)
    assert workers
    assert set(answers) <= {200}
    assert work.state is State.DONE
    assert work.plan is not None
    assert work.plan.layout.unplaced == ()
    assert "layout-dense" in {f.code for f in work.plan.findings}
    assert web.get(f"/jobs/{slug}").status_code == 200
