"""The kit asked on the pages: what is typed is what is planned with, what is empty is said to be assumed."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from lagline.book.shelf import KIT
from lagline.data.demo_files import demo_files
from lagline.desk.kit_fields import KitField, kit_fields
from lagline.desk.kit_form import as_it_stands, assumed, fill, usual_bore_mm
from lagline.planning.kit_file import generic_kit, kit_from_text
from lagline.web.app import create_app
from tests.derived.test_web_pages import FIELDS, desk, planned, said

OWN = {
    "kit.power.rated_current_a": "105", "kit.power.rated_thickness": "1", "kit.power.duty_share": "60",
    "kit.tips.0.max_current_a": "105", "kit.tips.0.bore": "", "kit.torch.cup_radius": "1/2",
}  # fmt: skip


@pytest.fixture(scope="module")
def web(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    app = create_app(tmp_path_factory.mktemp("home"))
    with TestClient(app, base_url="http://127.0.0.1:8770", follow_redirects=False) as c:
        yield c


def made(web: TestClient, **more: str) -> str:
    answer = web.post("/new/gusset", data=FIELDS | more)
    assert answer.status_code == 303, said(answer.text)
    return answer.headers["location"].removeprefix("/jobs/")


def test_a_new_job_is_planned_with_the_set_that_was_typed(web: TestClient) -> None:
    slug = made(web, **OWN)
    text = planned(web, slug)
    plan = desk(web).room.known(slug)
    assert plan is not None
    power, torch = plan.kit.power, plan.kit.torch
    assert power.rated_current_a == 105
    assert power.rated_thickness_mm.value == pytest.approx(25.4)
    assert power.duty == ((pytest.approx(105 * math.sqrt(0.6), abs=0.06), 1.0), (105, 0.6))
    assert [t.max_current_a for t in torch.tips] == [105]
    assert torch.cup_radius_mm.value == pytest.approx(12.7)
    assert not torch.cup_radius_mm.default
    assert "generic set" not in text


def test_lengths_are_in_the_unit_of_the_page(web: TestClient) -> None:
    metric = {"units": "mm", "part.leg_across": "200", "part.leg_up": "250", "stock.thickness": "10",
              "plate.width": "1200", "plate.height": "600"}  # fmt: skip
    slug = made(web, **metric, **{"kit.torch.cup_radius": "12"})
    kit, _ = kit_from_text(desk(web).shelf.read(slug, KIT).text, KIT)
    assert kit.torch.cup_radius_mm.value == 12


def test_the_generic_set_is_a_caution_under_the_verdict_until_it_is_described(web: TestClient) -> None:
    slug = made(web)
    text = planned(web, slug)
    assert "Caution generic set: every figure is a default" in " ".join(said(text).split())
    assert text.index("generic set") < text.index('class="plate"')
    assert f'href="/jobs/{slug}/kit"' in text
    form = web.get(f"/jobs/{slug}/kit").text
    mark = re.search(r'name="based_on" value="([^"]+)"', form)
    assert mark
    assert web.post(f"/jobs/{slug}/kit", data=OWN | {"based_on": mark[1]}).status_code == 303
    assert "generic set" not in planned(web, slug)
    late = web.post(f"/jobs/{slug}/kit", data=OWN | {"based_on": mark[1], "kit.air.tank": "80 gal"})
    assert late.status_code == 409


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("kit.power.rated_current_a", "lots", "is not a number"),
        ("kit.power.rated_current_a", "4", "out of range"),
        ("kit.power.rated_thickness", "", "missing beside rated_current_a"),
        ("kit.power.rated_thickness", "thick", "is not a length"),
        ("kit.power.duty_share", "150", "is not a share"),
        ("kit.power.duty_share", "half", "is not a share"),
        ("kit.tips.0.max_current_a", "many", "is not a number"),
        ("kit.tips.0.bore", "9 mm", "out of range"),
        ("kit.torch.cup_radius", "-1", "below zero"),
    ],
)
def test_a_bad_figure_of_the_set_is_told_beside_its_field(web: TestClient, field: str, value: str, words: str) -> None:
    slug = made(web, name="kept kit")
    before = desk(web).shelf.read(slug, KIT)
    given = OWN | {field: value}
    for address, data in (("/new/gusset", FIELDS | given), (f"/jobs/{slug}/kit", given | {"based_on": before.mark})):
        answer = web.post(address, data=data)
        assert answer.status_code == 422, address
        beside = answer.text.split(f'name="{field}"')[1].split('class="label"')[0]
        assert words in said(beside), (address, said(answer.text)[:600])
    assert desk(web).shelf.read(slug, KIT) == before


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("kit.quote.margin", "95 %", "a tenth of the price"),
        ("kit.bench.metal_per_kg.steel", "-2", "out of range"),
        ("kit.bench.labour_per_h", "dear", "is not a number"),
    ],
)
def test_a_bad_rate_is_told_beside_its_field(web: TestClient, field: str, value: str, words: str) -> None:
    slug = made(web, name="kept rates")
    before = desk(web).shelf.read(slug, KIT)
    answer = web.post(f"/jobs/{slug}/kit", data={field: value, "based_on": before.mark})
    assert answer.status_code == 422
    assert words in said(answer.text.split(f'name="{field}"')[1].split('class="label"')[0])
    assert desk(web).shelf.read(slug, KIT) == before


def test_a_kit_filled_in_with_what_it_holds_is_unchanged() -> None:
    text = demo_files()["kit.toml"].decode()
    assert fill(text, as_it_stands(text)) == text


TYPED = {
    "name": "mine", "delivery": "12 cfm", "tank": "70 gal", "cut_in": "100 psi", "cut_out": "150 psi", "use": "9 cfm",
    "pace_low": "14 in/min", "pace_high": "44 in/min", "straightedges": "20, 30", "min_current_a": "31",
    "supply_v": "230", "square_side": "left",
    "reach": "20", "cup_radius": "1/2", "rated_thickness": "7/8", "height": "1/2", "hold": "clamp", "hand": "left",
    "cord": "6 AWG", "cord_length": "50 ft", "breaker_a": "60", "ambient": "35 C", "arc_before_min": "3",
    "hose_length": "50 ft", "hose_bore": "1/2", "fittings": "4", "regulator": "80 psi", "torch_least": "70 psi",
    "altitude": "5000 ft", "intake_temp": "95 F", "humidity": "80 %", "tank_temp": "110 F", "dryer": "refrigerated",
    "shop": "Quay yard", "labour_per_h": "75", "steel": "2.1", "stainless": "7.5", "aluminium": "8",
    "tip_set_cost": "22", "energy_per_kwh": "0.25", "overhead": "15 %", "margin": "20 %",
}  # fmt: skip


@pytest.mark.parametrize("field", [f for g in kit_fields().values() for f in g if f.path[-1] != "rated_current_a"])
def test_every_field_of_the_page_reaches_the_kit_and_nothing_else_moves(field: KitField) -> None:
    text = demo_files()["kit.toml"].decode()
    value = TYPED.get(str(field.path[-1]), "1-1/2")
    filled = fill(text, {field.name: value, f"{field.name}.low": "", f"{field.name}.high": ""})
    was, now = as_it_stands(text), as_it_stands(filled)
    assert now[field.name] == value
    assert {k for k in now if now[k] != was[k]} <= {field.name, f"{field.name}.low", f"{field.name}.high"}
    kit_from_text(filled, KIT)
    empty = fill(filled, {field.name: "", f"{field.name}.low": "", f"{field.name}.high": ""})
    assert as_it_stands(empty)[field.name] == ""


def test_tips_are_changed_added_and_taken_out() -> None:
    text = demo_files()["kit.toml"].decode()
    more = fill(text, {"kit.tips.3.max_current_a": "105", "kit.tips.0.name": "small"})
    kit, _ = kit_from_text(more.replace("rated_current_a = 85", "rated_current_a = 105"), KIT)
    assert [t.name for t in kit.torch.tips] == ["small", "65 A", "85 A", "105 A"]
    cells = ("name", "bore", "max_current_a", "kerf", "kerf.low", "kerf.high")
    less = fill(text, {f"kit.tips.{i}.{k}": "" for i in (0, 2) for k in cells})
    assert [t.name for t in kit_from_text(less, KIT)[0].torch.tips] == ["65 A"]
    none = fill(less, {f"kit.tips.0.{k}": "" for k in ("name", "bore", "max_current_a")})
    assert kit_from_text(none, KIT)[0].torch.tips == generic_kit().torch.tips


def test_the_usual_bore_is_that_of_the_generic_tips() -> None:
    for tip in generic_kit().torch.tips:
        assert usual_bore_mm(tip.max_current_a) == pytest.approx(tip.bore_mm, abs=0.03)


def test_only_the_generic_set_is_cautioned() -> None:
    assert assumed(generic_kit()) is not None
    assert assumed(kit_from_text(demo_files()["kit.toml"].decode(), KIT)[0]) is None
    assert "every figure" not in assumed(kit_from_text('[torch]\ncup_radius = "1/2"\n', KIT)[0]).message  # type: ignore[union-attr]


def test_the_kit_page_says_how_it_stands(web: TestClient, tmp_path: Path) -> None:
    slug = web.post("/demo").headers["location"].removeprefix("/jobs/")
    text = web.get(f"/jobs/{slug}/kit").text
    for words in ('value="85"', 'value="3/4"', 'value="60"', 'value="66"', 'value="2.3 mm"', 'value="24, 48"'):
        assert words in text, words
