"""Quote and safety sheet as a person asks for them: command, page, program; bad input told, nothing lost."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from pypdf import PdfReader
from starlette.testclient import TestClient

from lagline.desk.planner import plan_files
from lagline.planning.drops import drops_of
from lagline.planning.offcuts import offcuts_of
from lagline.planning.quote import quote_of
from lagline.records.plan import Plan
from lagline.trade.mass import mass_of_area
from lagline.web.app import create_app
from tests.derived.test_command import job_file, lagline

JOB = """
name = "two pads"
units = "mm"
layout = "guided"
[stock]
metal = "steel"
thickness = "10"
[[parts]]
name = "pad"
shape = "rectangle"
width = "300"
height = "120"
quantity = 3
edges = { bottom = "weld" }
[[plates]]
name = "A"
width = "700"
height = "500"
"""


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Plan]:
    path = job_file(tmp_path_factory.mktemp("job"), JOB)
    return path, plan_files(path)


@pytest.fixture(scope="module")
def web(tmp_path_factory: pytest.TempPathFactory, planned: tuple[Path, Plan]) -> Iterator[tuple[TestClient, str]]:
    app = create_app(tmp_path_factory.mktemp("home"))
    slug = app.state.desk.shelve(planned[0], None, planned[1])
    with TestClient(app, base_url="http://127.0.0.1:8770", follow_redirects=False) as c:
        yield c, slug


def test_pieces_of_shared_cuts_weigh_what_the_plan_says(planned):
    _, plan = planned
    drops = drops_of(plan)
    assert {d.what for d in drops if d.part} == {"pad #1", "pad #2", "pad #3"}
    assert all(d.sure for d in drops)
    for s in plan.steps:
        assert sum(d.kg for d in drops if d.number == s.number) == pytest.approx(s.drop_kg, rel=0.02, abs=0.05)
    for d in drops:
        if d.part:  # a rectangle hangs in its middle
            k = next(i for i, p in enumerate(plan.layout.placed) if p.name(plan.blanks) == d.what)
            x0, y0, x1, y1 = plan.layout.placed[k].move.outline(plan.blanks[0].cut).bounds()
            assert d.at == pytest.approx(((x0 + x1) / 2, (y0 + y1) / 2), abs=0.3)


def test_the_offcuts_credited_are_those_the_rack_is_given(planned):
    _, plan = planned
    (use,) = plan.plates
    found = offcuts_of(plan, 0)
    assert found
    kg = mass_of_area("steel", sum(o.area_mm2 for o in found), 10.0).value
    assert use.kept_kg == pytest.approx(kg, rel=0.03)  # the rack's outlines lie up to 1 mm inside
    assert use.kept_kg <= use.left_kg + use.drops_kg
    (metal,) = [x for x in quote_of(plan).lines if x.group == "metal"]
    price = dict(plan.kit.bench.metal_per_kg)["steel"]
    whole = mass_of_area("steel", 700.0 * 500.0, 10.0).value
    assert metal.money.value == pytest.approx(price * (whole - use.kept_kg / 2))
    assert metal.money.high == pytest.approx(price * whole)


def test_quote_page(web):
    client, slug = web
    plain = client.get(f"/jobs/{slug}/quote")
    assert plain.status_code == 200
    assert "grinding edges" in plain.text
    assert "Break-even" not in plain.text
    asked = client.get(
        f"/jobs/{slug}/quote", params={"labour": "75", "margin": "20", "compare": "1", "shop": "Quay <yard>"}
    )
    assert asked.status_code == 200
    assert "Break-even" in asked.text
    assert "Quay &lt;yard&gt;" in asked.text
    assert "margin, 20 % of the price" in asked.text


@pytest.mark.parametrize("rates", [{"labour": "-4"}, {"margin": "nan"}, {"overhead": "1e9"}, {"tips": "<b>"}])
def test_bad_rates_come_back_beside_their_field(web, rates):
    client, slug = web
    ((name, text),) = rates.items()
    bad = client.get(f"/jobs/{slug}/quote", params=rates)
    assert bad.status_code == 422
    assert "field-fault" in bad.text
    assert "<b>&lt;" not in bad.text
    assert f'name="{name}"' in bad.text
    told = client.get(f"/api/jobs/{slug}/quote", params=rates)
    assert told.status_code == 422
    assert [f["where"] for f in told.json()["findings"]] == [f"quote, {name}"]
    assert client.get(f"/jobs/{slug}/quote.pdf", params=rates).status_code == 422


def test_quote_for_programs_and_on_paper(web):
    client, slug = web
    a = client.get(f"/api/jobs/{slug}/quote", params={"labour": "50"}).json()
    b = client.get(f"/api/jobs/{slug}/quote", params={"labour": "100"}).json()
    work = [sum(x["cost_money"] for x in d["lines"] if x["group"] == "labour") for d in (a, b)]
    assert work[1] == pytest.approx(2 * work[0], rel=1e-3)
    data = client.get(f"/jobs/{slug}/quote.pdf", params={"shop": "Quay yard", "margin": "10"}).content
    pages = [" ".join(p.extract_text().split()) for p in PdfReader(io.BytesIO(data)).pages]
    assert len(pages) == 2
    assert all(x in pages[0] for x in ("Quay yard", "customer", "date", "pad", "Price"))
    assert "margin" not in pages[0]  # how it is made up is for the shop
    assert "margin, 10 % of the price" in pages[1]


def test_safety_page(web):
    client, slug = web
    plain = client.get(f"/jobs/{slug}/safety")
    assert plain.status_code == 200
    assert "start + " in plain.text
    timed = client.get(f"/jobs/{slug}/safety", params={"start": "23:30"})
    assert "next day" in timed.text
    bad = client.get(f"/jobs/{slug}/safety", params={"start": "25:00"})
    assert bad.status_code == 422
    assert "25:00" in bad.text
    assert "field-fault" in bad.text
    assert client.get(f"/api/jobs/{slug}/safety", params={"start": "noon"}).status_code == 422
    assert client.get(f"/api/jobs/{slug}/safety", params={"watch_rule": "x"}).status_code == 422
    assert client.get(f"/jobs/{slug}/safety.pdf", params={"start": "07:00"}).content.startswith(b"%PDF")
    told = client.get(f"/api/jobs/{slug}/safety", params={"start": "23:30"}).json()
    assert told["start"] == "23:30"
    assert len(told["drops"]) >= 3


def test_jobs_without_a_plan(web):
    client, _ = web
    for what in ("quote", "safety"):
        assert client.get(f"/jobs/none/{what}").status_code == 404
        assert client.get(f"/api/jobs/none/{what}").status_code == 404


def test_commands(planned, tmp_path):
    path, plan = planned
    done = lagline("quote", str(path), "--json", "--compare", "--margin", "20", "--out", str(tmp_path / "q.pdf"))
    assert done.returncode == 0, done.stderr
    quote = json.loads(done.stdout)
    assert quote["margin_share"] == 0.2
    assert quote["break_even"]
    assert (tmp_path / "q.pdf").read_bytes().startswith(b"%PDF")
    done = lagline("safety", str(path), "--start", "13:30", "--out", str(tmp_path / "s.pdf"))
    assert done.returncode == 0, done.stderr
    assert "watch until, at the least" in done.stdout
    assert (tmp_path / "s.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("quote", "--labour", "-3"), "is no rate for labour"),
        (("quote", "--margin", "nan"), "is no rate for margin"),
        (("quote", "--paper", "napkin"), "letter or a4"),
        (("safety", "--start", "25:00"), "is no time of day"),
        (("safety", "--paper", "roll"), "letter or a4"),
    ],
)
def test_commands_refuse_before_the_long_work(words, said, tmp_path):
    done = lagline(words[0], str(tmp_path / "no-such-job.toml"), *words[1:])
    assert done.returncode == 2
    assert said in done.stderr
    assert "Traceback" not in done.stderr
