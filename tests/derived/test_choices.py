"""The doors to the choices: files, command, page, programs; progress, stop, take, clash, and a search that crashes."""

from __future__ import annotations

import html
import json
import os
import re
import signal
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest
from starlette.testclient import TestClient
from typer.testing import CliRunner

from lagline.book.shelf import JOB
from lagline.cli.choices_command import stop_by_hand
from lagline.cli.main import app
from lagline.desk.choice_desk import (
    Choices,
    best_at_nothing,
    choices_of,
    choices_of_files,
    picture_files,
    used_now,
    way_pictures,
)
from lagline.desk.choice_room import Search
from lagline.desk.job_desk import JobDesk
from lagline.desk.plan_room import State
from lagline.web.app import create_app
from tests.derived.test_command import lagline

TEXT = """name = "Pads"
units = "in"
layout = "quick"
stock = { metal = "steel", thickness = "1/4" }

[[parts]]
name = "pad"
shape = "rectangle"
width = "6"
height = "4"
quantity = 3

[[parts]]
name = "washer"
shape = "disc"
diameter = "3"
quantity = 2

[[plates]]
name = "A"
width = "30"
height = "20"
"""
KEYS = {
    "best_at", "layout", "seed", "used_now", "minutes", "setups", "metal_cost", "cost", "offcut_width_mm",
    "offcut_height_mm", "left_over",
}  # fmt: skip


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Choices:
    path = tmp_path_factory.mktemp("job") / JOB
    path.write_text(TEXT)
    return choices_of_files(path, seconds=1)


@pytest.fixture
def web(tmp_path: Path, made: Choices) -> Iterator[TestClient]:
    """The pages, with a search that gives what was found already."""
    with TestClient(create_app(tmp_path), base_url="http://127.0.0.1:8770", follow_redirects=False) as c:
        room(c, lambda *_, found, **__: (found(made), made)[1])
        yield c


def desk(web: TestClient) -> JobDesk:
    return web.app.state.desk  # type: ignore[attr-defined]


def room(web: TestClient, make: object) -> None:
    desk(web).choices._make = make  # type: ignore[assignment]


@pytest.fixture
def slug(web: TestClient) -> str:
    return desk(web).add_files("pads", {JOB: TEXT.encode()})


def ended(web: TestClient, slug: str) -> Search:
    search = desk(web).choices.search(slug)
    assert search.over.wait(60)
    return search


def mark(web: TestClient, slug: str) -> str:
    return desk(web).shelf.read(slug, JOB).mark


def say(text: str) -> str:
    return html.unescape(re.sub(r"<[^>]+>", " ", text))


# ---- files and command ----


def test_from_files_they_are_told_drawn_and_the_one_in_use_is_known(made: Choices) -> None:
    assert made.ways
    files = picture_files(made)
    assert len(files) >= len(made.ways)
    assert all(data.startswith(b"<svg") for data in files.values())
    for way in made.ways:
        (svg,) = way_pictures(made, way).values()
        assert "<text" not in svg
        assert svg.count('class="ll-part"') == len(way.laid.layout.placed)
    for way in made.ways:
        asked = replace(made.job, layout=way.method, seed=way.seed)
        assert used_now(asked, made.ways) is way
    assert used_now(replace(made.job, layout="quick", seed=99), made.ways) is None
    assert used_now(replace(made.job, layout="best"), made.ways) is None
    here = {(w.method, w.seed) for w in made.ways}
    for layout, seed in (("guided", 1), ("guided", 2), ("quick", 1), ("quick", 2), ("dense", 1)):
        asked = replace(made.job, layout=layout, seed=seed)
        assert best_at_nothing(asked, made) is ((layout, seed) not in here)
    for layout, seed in (("best", 1), ("quick", 3), ("dense", 2)):  # never tried: nothing is known of them
        assert not best_at_nothing(replace(made.job, layout=layout, seed=seed), made)


def test_the_command_prints_them_and_writes_a_picture_of_each(tmp_path: Path) -> None:
    path = tmp_path / JOB
    path.write_text(TEXT)
    done = lagline("choices", str(path), "--seconds", "1", "--out", str(tmp_path / "out"), "--json")
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert set(told["choices"][0]) == KEYS
    assert sorted(n for c in told["choices"] for n in c["best_at"]) == [
        "best offcut", "fewest minutes", "least money", "least plate",
    ]  # fmt: skip
    assert "walking and rests left out" in told["minutes_are"]
    assert len(list((tmp_path / "out").glob("choice-*.svg"))) == len(told["choices"])


@pytest.mark.parametrize(
    "text", ["", "nonsense = = 1", TEXT.replace('"1/4"', '"nan"'), TEXT.replace("[[plates]]", "[[p]]")]
)
def test_an_unusable_file_ends_with_2_and_says_why(tmp_path: Path, text: str) -> None:
    path = tmp_path / JOB
    path.write_text(text)
    done = CliRunner().invoke(app, ["choices", str(path), "--json"])
    assert done.exit_code == 2
    assert json.loads(done.stdout)["findings"]


def test_parts_left_over_in_all_of_them_end_with_3(tmp_path: Path) -> None:
    path = tmp_path / JOB
    path.write_text(TEXT.replace('width = "30"', 'width = "9"').replace('height = "20"', 'height = "9"'))
    done = CliRunner().invoke(app, ["choices", str(path), "--seconds", "1"])
    assert done.exit_code == 3
    assert "no room for" in done.stdout


def test_the_first_interrupt_stops_the_search_and_the_second_is_as_usual() -> None:
    before = signal.signal(signal.SIGINT, signal.default_int_handler)  # a worker that shares the tests out ignores it
    try:
        with stop_by_hand() as stop:
            assert not stop()
            os.kill(os.getpid(), signal.SIGINT)
            assert stop()
            with pytest.raises(KeyboardInterrupt):
                os.kill(os.getpid(), signal.SIGINT)
        assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
    finally:
        signal.signal(signal.SIGINT, before)


# ---- page ----


def test_the_page_shows_each_with_its_numbers_and_marks_the_one_in_use(
    web: TestClient, slug: str, made: Choices
) -> None:
    ended(web, slug)
    page = web.get(f"/jobs/{slug}/choices").text
    assert page.count("<svg") == len(made.ways)
    assert "walking and rests left out" in say(page)
    for way in made.ways:
        assert f"{way.method}, seed {way.seed}" in say(page)
    in_use = used_now(made.job, made.ways)
    assert page.count("laid out this way now") == (in_use is not None)
    assert page.count("Take this one</button>") == len(made.ways) - (in_use is not None)
    assert "hx-trigger" not in page
    assert f"/jobs/{slug}/choices" in (desk(web).room.work(slug).over.wait(60) and web.get(f"/jobs/{slug}").text)


def test_one_is_taken_written_into_the_file_and_the_choices_stay(web: TestClient, slug: str, made: Choices) -> None:
    search = ended(web, slug)
    way = made.ways[0]
    data = {"layout": way.method, "seed": str(way.seed), "based_on": mark(web, slug)}
    answer = web.post(f"/jobs/{slug}/choices/take", data=data)
    assert answer.status_code == 303
    assert answer.headers["location"].startswith(f"/jobs/{slug}?before=")
    text = desk(web).shelf.read(slug, JOB).text
    assert f'layout = "{way.method}"' in text
    assert f"seed = {way.seed}" in text
    assert desk(web).choices.search(slug) is search  # not looked for anew
    page = web.get(f"/jobs/{slug}/choices").text
    assert page.count("laid out this way now") == 1
    data = {"layout": "best", "based_on": mark(web, slug)}
    assert web.post(f"/jobs/{slug}/choices/take", data=data).status_code == 303
    assert 'layout = "best"' in desk(web).shelf.read(slug, JOB).text
    assert desk(web).room.work(slug).over.wait(60)
    assert web.get(f"/jobs/{slug}/choices").text.count("laid out this way now") <= 1


@pytest.mark.parametrize(
    ("layout", "seed"),
    [
        ("", "1"),
        ("spiral", "1"),
        ("quick", "-1"),
        ("quick", "nan"),
        ("quick", "two"),
        ("quick", "9" * 11),
        ("quick", "1.5"),
    ],
)
def test_what_a_job_cannot_have_is_not_taken(web: TestClient, slug: str, layout: str, seed: str) -> None:
    data = {"layout": layout, "seed": seed, "based_on": mark(web, slug)}
    answer = web.post(f"/jobs/{slug}/choices/take", data=data)
    assert answer.status_code == 422
    assert "nothing was changed" in say(answer.text)
    assert desk(web).shelf.read(slug, JOB).text == TEXT


def test_a_file_changed_meanwhile_is_a_clash(web: TestClient, slug: str) -> None:
    old = mark(web, slug)
    desk(web).shelf.save(slug, JOB, TEXT.replace("quantity = 3", "quantity = 2"), old)
    data = {"layout": "guided", "seed": "2", "based_on": old}
    answer = web.post(f"/jobs/{slug}/choices/take", data=data)
    assert answer.status_code == 409
    text = desk(web).shelf.read(slug, JOB).text
    assert "quantity = 2" in text
    assert "guided" not in text


def test_progress_is_shown_and_a_stop_keeps_the_best_so_far(web: TestClient, slug: str, made: Choices) -> None:
    def slow(*_: object, tell, found, stop, **__: object) -> Choices:  # type: ignore[no-untyped-def]
        found(made)
        tell(0.4, "pressing parts together")
        while not stop():
            time.sleep(0.01)
        return made

    room(web, slow)
    search = desk(web).choices.search(slug)
    for _ in range(1000):
        if search.share:
            break
        time.sleep(0.01)
    page = web.get(f"/jobs/{slug}/choices").text
    assert "40 %" in page
    assert "hx-trigger" in page
    assert '<noscript><meta http-equiv="refresh"' in page
    assert page.count("<svg") == len(made.ways)
    told = web.get(f"/api/jobs/{slug}/choices?wait_s=0").json()
    assert told["state"] == "planning"
    assert told["share_done"] == 0.4
    assert web.post(f"/jobs/{slug}/choices/stop").status_code == 303
    assert ended(web, slug).state is State.STOPPED
    page = web.get(f"/jobs/{slug}/choices").text
    assert "best found so far" in say(page)
    assert page.count("<svg") == len(made.ways)
    room(web, lambda *_, found, **__: made)
    assert web.post(f"/jobs/{slug}/choices/again").status_code == 303
    assert ended(web, slug).state is State.DONE


def test_a_crash_is_a_finding_what_was_found_stays_and_the_pages_live_on(
    web: TestClient, slug: str, made: Choices
) -> None:
    def crash(*_: object, found, **__: object) -> Choices:  # type: ignore[no-untyped-def]
        found(made)
        raise BaseException("a solver's panic")

    room(web, crash)
    assert ended(web, slug).state is State.FAILED
    page = web.get(f"/jobs/{slug}/choices")
    assert page.status_code == 200
    assert "the program failed" in say(page.text)
    assert "Look again" in page.text
    assert page.text.count("<svg") == len(made.ways)
    room(web, lambda *_, **__: 1 / 0)
    web.post(f"/jobs/{slug}/choices/again")
    assert ended(web, slug).state is State.FAILED
    assert web.get(f"/api/jobs/{slug}/choices").status_code == 422
    assert web.get("/").status_code == 200


def test_one_search_at_a_time_and_newer_work_on_a_job_stops_older(web: TestClient, slug: str, made: Choices) -> None:
    inside, most = [0], [0]
    lock = threading.Lock()

    def slow(*_: object, stop, **__: object) -> Choices:  # type: ignore[no-untyped-def]
        with lock:
            inside[0] += 1
            most[0] = max(most[0], inside[0])
        for _ in range(20):
            if stop():
                break
            time.sleep(0.01)
        with lock:
            inside[0] -= 1
        return made

    room(web, slow)
    other = desk(web).add_files("others", {JOB: TEXT.replace("Pads", "Others").encode()})
    first = desk(web).choices.search(slug)
    second = desk(web).choices.search(other)
    desk(web).shelf.save(slug, JOB, TEXT + "\n", mark(web, slug))
    third = desk(web).choices.search(slug)
    for search in (first, second, third):
        assert search.over.wait(30)
    assert first.stop.is_set()
    assert (second.state, third.state) == (State.DONE, State.DONE)
    assert most == [1]


def test_a_job_that_cannot_be_read_is_told_on_its_page(web: TestClient, slug: str) -> None:
    desk(web).shelf.save(slug, JOB, TEXT.replace('"1/4"', '"thin"'), mark(web, slug))
    assert ended(web, slug).state is State.REFUSED
    page = web.get(f"/jobs/{slug}/choices")
    assert page.status_code == 200
    assert "cannot be laid out as it stands" in say(page.text)
    assert "thin" in page.text
    answer = web.get(f"/api/jobs/{slug}/choices")
    assert answer.status_code == 422
    assert "thin" in answer.json()["findings"][0]["message"]


def test_unknown_jobs_are_not_here(web: TestClient) -> None:
    for address in ("/jobs/nobody/choices", "/api/jobs/nobody/choices"):
        assert web.get(address).status_code == 404
    for what in ("take", "stop", "again"):
        assert web.post(f"/jobs/nobody/choices/{what}", data={}).status_code == 404


# ---- programs ----


def test_programs_get_what_the_command_gives(tmp_path: Path) -> None:
    with TestClient(create_app(tmp_path), base_url="http://127.0.0.1:8770") as c:
        room(c, partial(choices_of, seconds=1))
        slug = desk(c).add_files("pads", {JOB: TEXT.encode()})
        answer = c.get(f"/api/jobs/{slug}/choices").json()
        assert answer["state"] == "done"
        assert {"layout_now": "quick", "seed_now": 1, "currency": "USD"}.items() <= answer.items()
        assert all(set(w) == KEYS for w in answer["choices"])
        assert sum(len(w["best_at"]) for w in answer["choices"]) == 4
        for wrong in ("-1", "nan", "soon", "301"):
            assert c.get(f"/api/jobs/{slug}/choices?wait_s={wrong}").status_code == 422, wrong
        assert "/api/jobs/{slug}/choices" in c.get("/api/openapi.json").json()["paths"]
