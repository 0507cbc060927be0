"""A plate's page: what lies on it, pinned and let go, regions and edges; two writers at once, and every bad input."""

from __future__ import annotations

import html
import re
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from lagline.book.shelf import JOB
from lagline.desk.job_desk import JobDesk
from lagline.planning.pins_held import held, left_bottom
from lagline.records.plan import Plan
from lagline.web.app import create_app

TEXT = """# two plates
name = "Pads"
units = "in"
layout = "quick"
stock = { metal = "steel", thickness = "1/4" }

[[parts]]
name = "pad"
shape = "rectangle"
width = "6"
height = "4"
quantity = 3
edges = { bottom = "weld" }

[[plates]]
name = "A"
width = "30"
height = "20"

[[plates]]
name = "spare"
kind = "plate"
width = "40"
height = "40"
"""


@pytest.fixture
def web(tmp_path: Path) -> Iterator[TestClient]:
    with TestClient(create_app(tmp_path), base_url="http://127.0.0.1:8770", follow_redirects=False) as c:
        yield c


def desk(web: TestClient) -> JobDesk:
    return web.app.state.desk  # type: ignore[attr-defined]


@pytest.fixture
def slug(web: TestClient) -> str:
    return desk(web).add_files("pads", {JOB: TEXT.encode()})


@pytest.fixture(scope="module")
def still(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestClient, str]]:
    """A planned job that no test changes."""
    app = create_app(tmp_path_factory.mktemp("home"))
    with TestClient(app, base_url="http://127.0.0.1:8770", follow_redirects=False) as c:
        name = desk(c).add_files("pads", {JOB: TEXT.encode()})
        planned(c, name)
        yield c, name


def planned(web: TestClient, slug: str) -> Plan:
    work = desk(web).room.work(slug)
    assert work.over.wait(60)
    assert work.plan is not None, work.findings
    return work.plan


def text_of(web: TestClient, slug: str) -> str:
    return desk(web).shelf.read(slug, JOB).text


def form_of(page: str, has: str) -> dict[str, str]:
    """The fields of the form whose button has this name, as a browser sends them untouched."""
    (form,) = [f for f in re.findall(r"<form.*?</form>", page, re.S) if f'aria-label="{has}"' in f or f">{has}</" in f]
    fields = {}
    for tag in re.findall(r"<input[^>]*>", form):
        found = {k: html.unescape(v) for k, v in re.findall(r'(\w+)="([^"]*)"', tag)}
        if found.get("type") != "checkbox" or "checked" in tag:
            fields[found["name"]] = found.get("value", "on")
    return fields


def say(text: str) -> str:
    return html.unescape(re.sub(r"<[^>]+>", " ", text))


def test_every_part_is_listed_and_pinned_where_it_lies(web: TestClient, slug: str) -> None:
    before = planned(web, slug)
    where = next({p.plate for p in before.layout.placed}.__iter__())
    address = f"/jobs/{slug}/plate/{where}"
    page = web.get(address).text
    for n in (1, 2, 3):
        assert f"pad #{n}" in say(page)
    form = form_of(page, "Pin pad #2")
    answer = web.post(f"{address}/pin", data=form)
    assert answer.status_code == 303, answer.text
    after = planned(web, slug)
    (pin,) = after.job.pins
    old = next(p for p in before.layout.placed if p.name(before.blanks) == "pad #2")
    assert left_bottom(before.job.parts[0], pin.move) == pytest.approx(
        left_bottom(before.job.parts[0], old.move), abs=2e-6
    )
    assert list(held(after.job, after.blanks, after.layout).values()) == [0]
    assert text_of(web, slug).startswith(TEXT)  # nothing else was touched
    page = web.get(answer.headers["location"]).text
    assert "Pinned." in say(page)
    assert page.count(">pinned</b>") == 1
    assert "ll-pin" in page

    gone = web.post(f"{address}/let-go", data=form_of(page, re.search(r'aria-label="(Let go of [^"]*)"', page)[1]))  # type: ignore[index]
    assert gone.status_code == 303
    assert planned(web, slug).job.pins == ()
    assert "Let go." in say(web.get(gone.headers["location"]).text)


def test_a_part_is_moved_by_its_numbers(web: TestClient, slug: str) -> None:
    planned(web, slug)
    page = web.get(f"/jobs/{slug}/plate/0").text
    form = {**form_of(page, "Pin pad #1"), "left": "20", "bottom": "10-1/2", "turn": "90"}
    assert web.post(f"/jobs/{slug}/plate/0/pin", data=form).status_code == 303
    plan = planned(web, slug)
    (i,) = held(plan.job, plan.blanks, plan.layout)
    lies = plan.layout.placed[i].move.outline(plan.job.parts[0].outline).bounds()
    assert lies == pytest.approx((20 * 25.4, 10.5 * 25.4, 24 * 25.4, 16.5 * 25.4))
    assert re.search(r'left = "20"\nbottom = "10-1/2"\nturn = 90\n', text_of(web, slug))


def test_a_pin_that_cannot_lie_there_is_named_and_can_be_let_go(web: TestClient, slug: str) -> None:
    planned(web, slug)
    form = {**form_of(web.get(f"/jobs/{slug}/plate/0").text, "Pin pad #1"), "left": "27"}
    web.post(f"/jobs/{slug}/plate/0/pin", data=form)
    plan = planned(web, slug)
    assert not plan.go
    page = web.get(f"/jobs/{slug}/plate/0").text
    assert "cannot lie there" in say(page)
    assert "reaches over the plate" in say(page)
    assert web.post(f"/jobs/{slug}/plate/0/let-go", data=form_of(page, "Let go of pad")).status_code == 303
    assert planned(web, slug).go


def test_regions_keep_parts_out_and_are_removed(web: TestClient, slug: str) -> None:
    planned(web, slug)
    address = f"/jobs/{slug}/plate/0"
    form = form_of(web.get(address).text, "Keep parts out")
    whole = {**form, "left": "-1", "bottom": "-1", "width": "20", "height": "40"}
    assert web.post(f"{address}/keep-out", data=whole).status_code == 303
    plan = planned(web, slug)
    for p in plan.layout.placed:
        if p.plate == 0:
            assert p.move.outline(plan.blanks[p.part].cut).bounds()[0] >= 19 * 25.4 - 1e-3
    page = web.get(address).text
    assert '20" by 40"' in say(page)
    assert "keep out" in page
    remove = form_of(page, "Remove the region 20&#34; by 40&#34;, left -1&#34;, bottom -1&#34;")
    assert web.post(f"{address}/open-up", data=remove).status_code == 303
    assert planned(web, slug).job.plates[0].keep_out == ()
    assert text_of(web, slug) == TEXT


def test_a_plate_nothing_lies_on_has_its_page(web: TestClient, slug: str) -> None:
    plan = planned(web, slug)
    (unused,) = {0, 1} - {p.plate for p in plan.layout.placed}
    page = web.get(f"/jobs/{slug}/plate/{unused}")
    assert page.status_code == 200
    assert "No part lies on it" in say(page.text)
    assert "<svg" in page.text
    assert f"/jobs/{slug}/plate/{unused}" in web.get(f"/jobs/{slug}").text


def test_factory_edges_are_ticked_and_unticked(web: TestClient, slug: str) -> None:
    planned(web, slug)
    address = f"/jobs/{slug}/plate/1"
    form = form_of(web.get(address).text, "Use these edges")
    assert set(form) == {"form", "based_on"}
    assert web.post(f"{address}/edges", data={**form, "left": "yes", "bottom": "yes"}).status_code == 303
    assert planned(web, slug).job.plates[1].factory_edges == ("bottom", "left")
    form = form_of(web.get(address).text, "Use these edges")
    assert {"left", "bottom"} <= set(form)
    del form["left"], form["bottom"]
    assert web.post(f"{address}/edges", data=form).status_code == 303
    assert text_of(web, slug) == TEXT


@pytest.mark.parametrize(
    ("what", "bad", "words"),
    [
        ("pin", {"left": ""}, "is empty"),
        ("pin", {"bottom": "nan"}, "not a length"),
        ("pin", {"turn": "up"}, "not a number of degrees"),
        ("pin", {"turn": "nan"}, "not a number of degrees"),
        ("pin", {"part": "<b>nobody</b>"}, "no part of this job"),
        ("pin", {"key": "0123456789ab"}, "not there any more"),
        ("let-go", {"key": ""}, "not there any more"),
        ("keep-out", {"left": "", "bottom": "", "width": "", "height": ""}, "is empty"),
        ("keep-out", {"left": "1", "bottom": "1", "width": "-1", "height": "2"}, "below zero"),
        ("keep-out", {"left": "1", "bottom": "1", "width": "nan", "height": "2"}, "not a length"),
        ("keep-out", {"left": "wide", "bottom": "1", "width": "1", "height": "2"}, "not a length"),
        ("keep-out", {"left": "90", "bottom": "1", "width": "1", "height": "2"}, "no part of it lies on the plate"),
        ("keep-out", {"left": "1", "bottom": "1", "width": "9999", "height": "2"}, "out of range"),
        ("open-up", {"key": "nothing"}, "not there any more"),
    ],
)
def test_bad_input_changes_nothing_and_says_why(
    still: tuple[TestClient, str], what: str, bad: dict[str, str], words: str
) -> None:
    web, slug = still
    page = web.get(f"/jobs/{slug}/plate/0").text
    form = {**form_of(page, "Pin pad #1" if what == "pin" else "Keep parts out"), **bad}
    answer = web.post(f"/jobs/{slug}/plate/0/{what}", data=form)
    assert answer.status_code == 422, answer.text
    assert words in say(answer.text)
    assert "nothing was changed" in say(answer.text)
    assert "<b>nobody" not in answer.text
    assert text_of(web, slug) == TEXT


def test_what_was_typed_stays_beside_its_fault(still: tuple[TestClient, str]) -> None:
    web, slug = still
    form = {**form_of(web.get(f"/jobs/{slug}/plate/0").text, "Pin pad #1"), "left": "4x", "bottom": "7-1/2"}
    page = web.post(f"/jobs/{slug}/plate/0/pin", data=form).text
    (row,) = [r for r in re.findall(r"<details class=\"copy\".*?</details>", page, re.S) if "field-fault" in r]
    assert row.startswith(f'<details class="copy" id="{form["form"]}" open')
    assert 'value="4x"' in row
    assert 'value="7-1/2"' in row


def test_two_writers_at_once_lose_nothing(web: TestClient, slug: str) -> None:
    planned(web, slug)
    page = web.get(f"/jobs/{slug}/plate/0").text
    mine, theirs = form_of(page, "Pin pad #1"), form_of(page, "Keep parts out")
    theirs |= {"left": "25", "bottom": "1", "width": "2", "height": "2"}
    answers: list[int] = []
    ways = [("pin", mine), ("keep-out", theirs)]
    threads = [
        threading.Thread(
            target=lambda w=w, f=f: answers.append(web.post(f"/jobs/{slug}/plate/0/{w}", data=f).status_code)  # type: ignore[misc]
        )
        for w, f in ways
    ]
    for t in threads:
        t.start()
    for t in threads:
        t.join(60)
    assert sorted(answers) == [303, 409]
    text = text_of(web, slug)
    assert ("[[pins]]" in text) is not ("keep_out" in text)
    late = web.post(f"/jobs/{slug}/plate/0/pin", data={**mine, "left": "3"})
    assert late.status_code == 409
    assert 'left = "3"' in say(late.text)  # what was meant is not lost
    assert text_of(web, slug) == text


def test_a_plate_that_is_not_there_and_a_job_that_cannot_be_planned(web: TestClient, slug: str) -> None:
    planned(web, slug)
    for number in (2, 99, -1):
        assert web.get(f"/jobs/{slug}/plate/{number}").status_code == 404, number
    held_ = desk(web).shelf.read(slug, JOB)
    desk(web).shelf.save(slug, JOB, TEXT.replace('"1/4"', '"thin"'), held_.mark)
    assert desk(web).room.work(slug).over.wait(60)
    answer = web.get(f"/jobs/{slug}/plate/0")
    assert (answer.status_code, answer.headers["location"]) == (303, f"/jobs/{slug}")
