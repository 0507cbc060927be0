"""The heat of a job on its page and for programs."""

from __future__ import annotations

import re

import pytest
from starlette.testclient import TestClient

from lagline.web.app import create_app

BASE = "http://127.0.0.1:8770"
JOB = """
name = "two straps"
units = "mm"
stock = { metal = "steel", thickness = 6 }
parts = [{ name = "strap", shape = "rectangle", width = 400, height = 50, quantity = 2 },
         { name = "pad", shape = "disc", diameter = 90 }]
plates = [{ name = "A", width = 600, height = 300 }]
layout = "quick"
"""


@pytest.fixture(scope="module")
def shelf(tmp_path_factory):
    with TestClient(create_app(tmp_path_factory.mktemp("shelf")), base_url=BASE) as page:
        yield page, page.app.state.desk.add_files("two straps", {"job.toml": JOB.encode()})


def _ready(page, slug):
    work = page.app.state.desk.room.work(slug)
    assert work.over.wait(60)
    heat = page.app.state.heat.work(work.fingerprint, work.plan)
    assert heat.over.wait(60)
    return heat


def test_the_page_shows_pictures_parts_bands_and_bow(shelf):
    page, slug = shelf
    _ready(page, slug)
    text = page.get(f"/jobs/{slug}/heat").text
    assert text.count("heat-picture") == 1
    assert "strap #1" in text
    assert "both long edges cut" in text
    assert "paint blisters" in text
    options = re.findall(r'<option value="(\w+)"', text)
    assert options[0] == "peak"
    assert len(options) > 5
    for key in options:
        got = page.get(f"/jobs/{slug}/heat/0/{key}.svg")
        assert got.status_code == 200
        assert got.headers["content-type"].startswith("image/svg+xml")
        assert got.text.startswith("<svg")
        assert len(got.text) < 120_000


def test_without_a_script_a_moment_is_chosen_by_its_form(shelf):
    page, slug = shelf
    _ready(page, slug)
    text = page.get(f"/jobs/{slug}/heat?plate0=2").text
    assert re.search(r'heat-picture" src="/jobs/[^"]*/heat/0/2.svg', text)
    assert re.search(r'<option value="2" selected>', text)
    assert "/heat/0/peak.svg" in page.get(f"/jobs/{slug}/heat?plate0=99999").text


def test_what_is_not_there_is_told(shelf):
    page, slug = shelf
    _ready(page, slug)
    assert page.get(f"/jobs/{slug}/heat/7/peak.svg").status_code == 404
    assert page.get(f"/jobs/{slug}/heat/0/x.svg").status_code == 404
    assert page.get("/jobs/nothing/heat").status_code == 404


def test_programs_get_what_the_command_prints(shelf):
    page, slug = shelf
    _ready(page, slug)
    got = page.get(f"/api/jobs/{slug}/heat").json()
    (plate,) = got["plates"]
    assert {p["part"] for p in plate["parts"]} == {"strap #1", "strap #2", "pad"}
    assert all(p["loose_mean_c"] > 20 for p in plate["parts"])
    assert got["strips"][0]["ways"][0]["left_mm"] > got["strips"][0]["ways"][1]["left_mm"]
