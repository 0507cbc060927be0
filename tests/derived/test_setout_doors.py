"""Set-outs through their doors: command, page and interface for programs answer alike, and bad input is told."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from typer.testing import CliRunner

from lagline.cli.main import app
from lagline.desk import setout_desk
from lagline.planning.kit_file import generic_kit
from lagline.records.errors import LaglineError
from lagline.records.finding import Finding
from lagline.records.setout import SetOut
from lagline.setouts.ask import Ask
from lagline.setouts.families import FAMILIES, ask_of, asks
from lagline.trade.catalogue import all_formulas
from lagline.web.app import create_app

ALL = [a for name in FAMILIES for a in asks(name)]
IDS = [a.kind for a in ALL]
KEYS = {f.key for f in all_formulas()}
UNITS = (
    r"mm|mm2|mm3|mm_s|mm3_s|cm3|cm3_s|deg|s|min|kg|kg_m|a|percent|kpa_g|kj|kw|w|sets|per_m|per_ft|l|l_min|g_m3|c|v|kva"
)


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    return TestClient(create_app(tmp_path_factory.mktemp("jobs")), base_url="http://127.0.0.1:8770")


def command(ask: Ask, texts: dict[str, str], *more: str, folder: Path | None = None) -> tuple[int, str]:
    options = [x for k, v in texts.items() for x in ("--" + k.replace("_", "-"), v)]
    result = CliRunner().invoke(app, [ask.family, ask.name, *options, *more])
    if isinstance(result.exception, LaglineError):
        return 2, json.dumps([f.code for f in result.exception.findings])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, result.output


def plain(ask: Ask) -> SetOut:
    return setout_desk.answer(ask.family, ask.name, dict(ask.example), kit=(generic_kit(), ()))


@pytest.mark.parametrize("ask", ALL, ids=IDS)
def test_command_and_interface_say_the_same(ask: Ask, client: TestClient):
    code, out = command(ask, dict(ask.example), "--json")
    assert code in (0, 3)
    said = json.loads(out)
    posted = client.get(f"/api/setouts/{ask.family}/{ask.name}", params=dict(ask.example)).json()
    for told in (said, posted):
        del told["findings"]
    assert said == posted


@pytest.mark.parametrize("ask", ALL, ids=IDS)
def test_every_answer_carries_its_unit_its_formula_and_no_nan(ask: Ask):
    made = plain(ask)
    told = json.dumps(setout_desk.as_dict(made), allow_nan=False)
    assert json.loads(told)["set_out"] == ask.kind
    for n in made.numbers:
        assert math.isfinite(n.figure.value)
        assert n.words
        assert n.figure.source, n.key
        if n.figure.unit:
            assert re.search(rf"_({UNITS})$", n.key), (n.key, n.figure.unit)
    registered = [n for n in made.numbers if n.figure.formula in KEYS]
    assert len(registered) * 2 >= len(made.numbers), [n.figure.formula for n in made.numbers]
    assert made.steps, "nobody is told what to do"
    assert any(n.main for n in made.numbers)


@pytest.mark.parametrize("ask", ALL, ids=IDS)
def test_page_shows_the_answers_and_prints_the_sheet(ask: Ask, client: TestClient):
    where = f"/setouts/{ask.family}/{ask.name}"
    empty = client.get(where)
    assert empty.status_code == 200
    got = client.get(where, params=dict(ask.example))
    assert got.status_code == 200
    made = plain(ask)
    assert made.title.replace('"', "&#34;").split("&")[0] in got.text
    assert "<svg" in got.text
    pdf = client.get(where + "/sheet.pdf", params=dict(ask.example))
    assert pdf.content.startswith(b"%PDF")
    assert client.get(where + "/picture.svg").text.startswith("<svg")


BAD = (
    "abc",
    "-5",
    "0",
    "nan",
    "inf",
    "1e400",
    "999999999",
    "5 furlongs",
    "1/0",
    "3-1/0",
    "\u0000",
    "💥",
    "1,5",
    "--",
    " ",
)


@pytest.mark.parametrize("ask", ALL, ids=IDS)
def test_nonsense_in_any_field_is_told_and_never_breaks(ask: Ask, client: TestClient):
    where = f"/setouts/{ask.family}/{ask.name}"
    for f in setout_desk.with_bench(ask).fields:
        for bad in BAD:
            texts = dict(ask.example) | {f.name: bad}
            found: tuple[Finding, ...] = ()
            try:
                made = setout_desk.answer(ask.family, ask.name, texts, kit=(generic_kit(), ()))
                json.dumps(setout_desk.as_dict(made), allow_nan=False)
            except LaglineError as error:
                found = error.findings
            assert all(x.message and x.where for x in found)
        if f.kind != "file":
            got = client.get(where, params=dict(ask.example) | {f.name: "abc"})
            assert got.status_code in (200, 422)
    needed = [f for f in ask.fields if f.required]
    if needed:
        with pytest.raises(LaglineError) as error:
            setout_desk.answer(ask.family, ask.name, {}, kit=(generic_kit(), ()))
        assert {x.code for x in error.value.findings} == {"setout-missing"}
        assert len(error.value.findings) == len(needed)


@pytest.mark.parametrize("ask", ALL, ids=IDS)
def test_help_names_every_field(ask: Ask):
    result = CliRunner().invoke(app, [ask.family, ask.name, "--help"], env={"COLUMNS": "200", "TERMINAL_WIDTH": "200"})
    assert result.exit_code == 0
    for f in ask.fields:
        assert f.option in result.output


def test_unknown_set_outs_and_fields_are_told_with_the_nearest(client: TestClient):
    assert client.get("/setouts/guide/strait").status_code == 404
    assert client.get("/setouts/nothing/straight").status_code == 404
    got = client.get("/api/setouts/guide/straight", params={"thickness": '3/8"', "thicknes": "1"})
    assert got.status_code == 422
    assert "thicknes" in got.json()["findings"][0]["message"]
    with pytest.raises(LaglineError):
        setout_desk.answer("guide", "straight", {"thickness": "3/8"}, units="furlongs")
    with pytest.raises(LaglineError):
        ask_of("guide", "strait")


def test_a_page_cannot_ask_for_a_file_of_this_machine(client: TestClient):
    told = {(s["family"], s["name"]): s["fields"] for s in client.get("/api/setouts").json()["set_outs"]}
    for a in ALL:
        for f in a.fields:
            if f.kind == "file":
                got = client.get(f"/setouts/{a.family}/{a.name}", params=dict(a.example) | {f.name: "/etc/hostname"})
                assert got.status_code == 422
                assert f.name not in [x["name"] for x in told[a.family, a.name]]


def test_sheet_is_written_whole_or_told(tmp_path: Path):
    ask = ask_of("guide", "straight")
    code, _ = command(ask, dict(ask.example), "--sheet", str(tmp_path / "new" / "s.pdf"), "--paper", "a4")
    assert code == 0
    assert (tmp_path / "new" / "s.pdf").read_bytes().startswith(b"%PDF")
    (tmp_path / "file").write_text("x")
    code, said = command(ask, dict(ask.example), "--sheet", str(tmp_path / "file" / "s.pdf"))
    assert code == 2
    assert "cannot-write" in said
    code, said = command(ask, dict(ask.example), "--paper", "napkin")
    assert code == 2
    assert "setout-paper" in said


def test_the_beat_is_heard_through_every_door(tmp_path: Path, client: TestClient):
    ask = ask_of("guide", "beat")
    code, _ = command(ask, dict(ask.example), "--wav", str(tmp_path / "beat.wav"))
    assert code == 0
    got = client.get("/setouts/guide/beat/beat.wav", params=dict(ask.example))
    assert got.headers["content-type"] == "audio/wav"
    assert got.content == (tmp_path / "beat.wav").read_bytes()
    assert "beat.wav" in client.get("/setouts/guide/beat", params=dict(ask.example)).text
    assert client.get("/setouts/guide/straight/beat.wav", params={"thickness": '3/8"'}).status_code == 422
    long = dict(ask.example) | {"length": "60 ft", "pace": "1 in/min"}
    assert client.get("/setouts/guide/beat/beat.wav", params=long).status_code == 422


def test_thickness_may_be_a_gauge():
    made = setout_desk.answer("guide", "straight", {"thickness": "10 ga"}, kit=(generic_kit(), ()))
    assert {k: v for k, _, v in made.given}["thickness"] == "10 ga"
    assert made["kerf_mm"] > 0


def test_what_was_typed_is_shown_as_it_was_typed():
    typed = {"thickness": "0.237", "cup_radius": "11.1 mm", "tilt": "2"}
    made = setout_desk.answer("guide", "straight", typed, kit=(generic_kit(), ()))
    shown = {k: v for k, _, v in made.given}
    assert (shown["thickness"], shown["cup_radius"], shown["tilt"]) == ('0.237"', "11.1 mm", "2 deg")
