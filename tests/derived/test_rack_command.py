"""`lagline rack` as a person and a program use it: status 0, 2 and 3, findings never a traceback; and /api/rack."""

from __future__ import annotations

import html
import json
import re
import shlex
import shutil
from pathlib import Path

import pytest
from starlette.testclient import TestClient
from typer.testing import CliRunner

from lagline.cli.main import app
from lagline.desk.planner import plan_files
from lagline.desk.rack_desk import rack_items
from lagline.web.app import create_app

JOB = """
name = "rail brackets"
units = "in"
rack = true
layout = "quick"
stock = { metal = "steel", thickness = "3/8" }
parts = [{ shape = "rectangle", name = "cheek", width = "7", height = "5", quantity = 2 }]
"""
SIZE = ("--width", "24", "--height", "18", "--metal", "steel", "--thickness", "3/8")


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("LAGLINE_HOME", str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "job.toml").write_text(JOB)
    return tmp_path / "home"


def run(*words: str, status: int = 0) -> str:
    done = CliRunner().invoke(app, ["rack", *words])
    assert done.exit_code == status, done.output
    assert done.exception is None or isinstance(done.exception, SystemExit)
    return done.output


def told(*words: str, status: int = 0) -> dict:
    return json.loads(run(*words, "--json", status=status))


def codes(*words: str, status: int = 2) -> set[str]:
    return {f["code"] for f in told(*words, status=status)["findings"]}


def test_added_listed_shown_scrapped_put_back(home: Path):
    assert "nothing lies on the rack" in run("list")
    assert not home.exists()
    added = told(
        "add", *SIZE, "--hole", "x=4, y=5, diameter=2", "--place", "bay 2", "--worth", "12.50", "--copies", "2"
    )
    one, two = added["items"]
    assert (one["mark"], two["mark"], one["place"], one["worth"]) == ("R-1", "R-2", "bay 2", 12.5)
    assert one["area_mm2"] == pytest.approx(24 * 18 * 25.4**2 - 3.14159265 * 25.4**2, rel=1e-6)
    assert one["rectangle_mm"] == pytest.approx([5 * 25.4, 0, 19 * 25.4, 18 * 25.4], abs=0.1)
    assert [i["mark"] for i in told("list")["items"]] == ["R-1", "R-2"]
    assert "scrapped" in run("scrap", "r2", "--why", "bent")
    assert [i["mark"] for i in told("list")["items"]] == ["R-1"]
    assert [i["state"] for i in told("list", "--all")["items"]] == ["on the rack", "scrapped"]
    assert [a["what"] for a in told("show", "R-2")["acts"]] == ["put on", "scrapped"]
    assert "bent" in run("show", "R-2")
    assert told("put-back", "R-2")["state"] == "on the rack"
    assert codes("put-back", "R-2") == {"rack-as-is"}
    assert codes("scrap", "R-9") == codes("show", "seven") == {"rack-unknown"}


@pytest.mark.parametrize(
    "words",
    [
        (), ("--width", "24"), ("--width", "0", "--height", "18"), ("--width", "nan", "--height", "18"),
        ("--width", "1e9", "--height", "18"), ("--width", "-4", "--height", "18"), ("--width", "", "--height", ""),
        ("--width", "99999999999999999999 mm", "--height", "18"), ("nowhere.dxf",), ("job.toml",), (".",),
        ("--width", "24", "--height", "18", "--worth", "nan"), ("--width", "24", "--height", "18", "--worth", "-1"),
        ("--width", "24", "--height", "18", "--worth", "1e99"), ("--width", "24", "--height", "18", "--date", "today"),
        ("--width", "24", "--height", "18", "--hole", "a big one"),
        ("--width", "24", "--height", "18", "--kind", "bar"),
        ("--width", "24", "--height", "18", "--hole", "x=25, y=5, diameter=2"),
        ("--width", "24", "--height", "18", "--hole", "left=-1, bottom=-1, width=30, height=30"),
        ("--width", "24", "--height", "18", "--diagonals", "30"),
        ("--width", "24", "--height", "18", "--diagonals", "3, 4"),
        ("--width", "24", "--height", "18", "--copies", "0"), ("--width", "24", "--height", "18", "--copies", "999"),
        ("--width", "24", "--height", "18", "--name", "x" * 201), ("--width", "24", "--height", "18", "--name", "\x07"),
        ("--width", "24", "--height", "18", "--units", "feet"),
    ],
)  # fmt: skip
def test_what_cannot_lie_there_is_refused_and_nothing_kept(home: Path, words: tuple[str, ...]):
    found = told("add", *words, "--metal", "steel", "--thickness", "3/8", status=2)["findings"]
    assert any(f["severity"] == "refused" and f["message"] for f in found)
    assert told("list")["items"] == []


@pytest.mark.parametrize(
    "metal", [("--metal", "mithril", "--thickness", "3/8"), ("--thickness", "3/8"), ("--metal", "steel"),
              ("--metal", "steel", "--thickness", "nan"), ("--metal", "steel", "--thickness", "0")],
)  # fmt: skip
def test_metal_and_thickness_must_be_known(home: Path, metal: tuple[str, ...]):
    assert codes("add", "--width", "24", "--height", "18", *metal) & {"field-bad", "field-missing", "length-bad"}


def typed_in_docs() -> list[list[str]]:
    """The lines of docs/rack.md that put something on the rack by size, as a shell splits them."""
    text = (Path(__file__).parents[2] / "docs" / "rack.md").read_text().replace("\\\n", " ")
    lines = [shlex.split(line) for line in text.splitlines() if line.startswith("    lagline rack add ")]
    return [words[2:] for words in lines]


def test_what_the_guide_types_works(home: Path):
    typed = typed_in_docs()
    assert len(typed) == 2
    first, second = (told(*words)["items"][0] for words in typed)
    assert (first["mark"], first["place"], first["heat"]) == ("R-1", "bay 2", "4711")
    # the burnt corner is off the outline: 24 x 18 less 3 x 6, less the hole of 2
    assert second["area_mm2"] == pytest.approx((24 * 18 - 18 - 3.14159265) * 25.4**2, rel=1e-6)
    assert second["rectangle_mm"] == pytest.approx([5 * 25.4, 0, 19 * 25.4, 18 * 25.4], abs=0.1)
    assert len(second["outline"]["holes"]) == 1


def test_what_the_page_shows_to_type_works(tmp_path: Path):
    with TestClient(create_app(tmp_path), base_url="http://127.0.0.1") as client:
        shown = html.unescape(re.search(r'name="holes"[^>]*placeholder="([^"]*)"', client.get("/rack/add").text)[1])
        assert len(shown.splitlines()) == 2
        form = {"width": "24", "height": "18", "metal": "steel", "thickness": "3/8", "holes": shown}
        assert client.post("/rack/add", data=form, follow_redirects=False).status_code == 303
        (item,) = client.get("/api/rack").json()["items"]
        assert item["area_mm2"] < (24 * 18 - 3.14) * 25.4**2
        through = form | {"holes": "left=10, bottom=-1, width=2, height=20"}
        assert "cuts it through" in client.post("/rack/add", data=through).text
        assert "cuts it through" not in client.post("/rack/add", data=form).text
        sent = client.post("/api/rack", json={k: v for k, v in form.items() if k != "holes"} | {
            "holes": [{"left": 10, "bottom": -1, "width": 2, "height": 20}]}).json()  # fmt: skip
        assert "bad-area-apart" in {f["code"] for f in sent["findings"]}
        bad = client.post("/rack/add", data=form | {"holes": "x=4, y=5, diameter=2\nx=40, y=5, diameter=2"})
        assert bad.status_code == 422
        assert "lies where there is no metal" in bad.text
        assert "hole 2" in bad.text
        assert "holes[" not in bad.text


@pytest.mark.parametrize(
    ("holes", "area", "size", "fell"),
    [
        (["left=0, bottom=12, width=3, height=6"], 432 - 18, (24, 18), 0),  # within the corner, touching two edges
        (["left=-2, bottom=-2, width=5, height=5"], 432 - 9, (24, 18), 0),  # the lower left corner itself
        (["left=-1, bottom=0, width=3, height=18"], 22 * 18, (22, 18), 0),  # a whole side: what stays moves to 0, 0
        (["left=10, bottom=-1, width=2, height=20"], 12 * 18, (12, 18), 1),
        (["left=10, bottom=0, width=2, height=18", "left=14, bottom=5, width=1, height=1",
          "left=2, bottom=5, width=1, height=1"], 12 * 18 - 1, (12, 18), 1),
        (["left=4, bottom=4, width=4, height=4", "left=6, bottom=6, width=4, height=4"], 432 - 28, (24, 18), 0),
        (["left=4, bottom=17, width=2, height=1"], 432 - 2, (24, 18), 0),  # touches the top from below
    ],
)  # fmt: skip
def test_burnt_edges_are_taken_off_the_outline(home: Path, holes, area, size, fell):
    words = [w for h in holes for w in ("--hole", h)]
    got = told("add", *SIZE, *words)
    (item,) = got["items"]
    assert item["area_mm2"] == pytest.approx(area * 25.4**2, rel=1e-6)
    assert (item["width_mm"] / 25.4, item["height_mm"] / 25.4) == pytest.approx(size, abs=1e-3)
    assert sum(f["code"] == "bad-area-apart" for f in got["findings"]) == fell
    corners = [p for _, *ends in item["outline"]["outer"]["segments_mm"] for p in ends]
    assert (min(x for x, _ in corners), min(y for _, y in corners)) == pytest.approx((0, 0), abs=1e-3)


def test_words_of_the_rack_name_what_the_rack_has(home: Path):
    said = {f["code"]: f for f in told("add", *SIZE)["findings"]}
    assert "[" not in said["square-unmeasured"]["allowed"]
    assert 'diagonals "30, 30-1/16"' in said["square-unmeasured"]["allowed"]
    leaning = told("add", *SIZE, "--diagonals", "30, 30-1/16")
    assert "square-unmeasured" not in {f["code"] for f in leaning["findings"]}
    # by the law of cosines: a parallelogram's side leans (d1^2 - d2^2) / (4 w)
    lean = (30.0625**2 - 30**2) / (4 * 24)
    assert leaning["items"][0]["width_mm"] == pytest.approx((24 + lean) * 25.4, rel=1e-6)
    for bad in ("30", "3, 4, 5", "a, b"):
        found = told("add", *SIZE, "--diagonals", bad, status=2)["findings"]
        assert any(f["where"].endswith("diagonals") for f in found)
        assert not any("trim" in f["allowed"] for f in found)
    skewed = told("add", *SIZE, "--diagonals", "31, 29")["findings"]
    assert [f["allowed"] for f in skewed if f["code"] == "plate-skew"] == ["check the tape"]
    hole = told("add", *SIZE, "--hole", "x=4, y=5, diameter=2", "--hole", "x=4", status=2)["findings"]
    assert {f["where"].split(":")[1].strip() for f in hole if f["severity"] == "refused"} == {"hole 2"}


def test_a_drawing_that_is_not_text_is_refused(home: Path):
    Path("bad.svg").write_bytes(b"\xff\xfe\x00<svg" * 40)
    assert told("add", "bad.svg", "--metal", "steel", "--thickness", "3/8", status=2)["findings"]


def test_advised_planned_cut_once(home: Path):
    run("add", *SIZE)
    run("add", "--width", "48", "--height", "24", "--metal", "steel", "--thickness", "3/8", "--kind", "plate")
    run("add", "--width", "24", "--height", "18", "--metal", "aluminium", "--thickness", "3/8")
    advice = told("advise", "job.toml")
    assert (advice["plates"], advice["left_over"]) == (["R-1"], 0)
    why = {i["mark"]: i for i in advice["items"]}
    assert {m: i["used"] for m, i in why.items()} == {"R-1": True, "R-2": False, "R-3": False}
    assert "aluminium" in why["R-3"]["why"]
    assert len(told("list")["items"]) == 3  # advice changes nothing
    done = told("cut", "job.toml")
    assert (done["used"], done["left"], done["fresh"]) == (["R-1"], ["R-4"], True)
    left = told("show", "R-4")
    assert (left["from_job"], left["from_plan"], left["from_plate"]) == ("rail brackets", done["plan"], "R-1")
    again = told("cut", "job.toml")
    assert again == done | {"fresh": False}
    assert "nothing changed" in run("cut", "job.toml")
    assert [i["mark"] for i in told("list", "--all")["items"]] == ["R-1", "R-2", "R-3", "R-4"]
    # cut once more from the same plate: it is gone
    assert codes("cut", "job.toml", "--again") == {"rack-gone"}


def test_cut_from_a_plan_file(home: Path):
    run("add", *SIZE)
    assert CliRunner().invoke(app, ["plan", "job.toml", "--out", "out"]).exit_code == 0
    plan = json.loads(Path("out/plan.json").read_text())
    done = told("cut", "--plan", "out/plan.json")
    assert (done["plan"], done["used"]) == (plan["mark"], ["R-1"])
    (left,) = (told("show", m) for m in done["left"])
    assert left["area_mm2"] == pytest.approx(sum(o["area_mm2"] for u in plan["plates"] for o in u["offcuts"]), rel=1e-6)
    assert told("cut", "job.toml") == done | {"fresh": False}


def planned(status: int, *words: str) -> dict:
    done = CliRunner().invoke(app, ["plan", "job.toml", *words, "--json"])
    assert done.exit_code == status, done.output
    return json.loads(done.stdout)


def cut_plates(plan: dict) -> set[str]:
    return {plan["job"]["plates"][u["plate"]]["rack"] for u in plan["plates"] if u["parts_kg"] > 0}


NAMED = JOB.replace("rack = true\n", "") + 'plates = [{ rack = "R-1" }]\n'


@pytest.mark.parametrize("text", [JOB, NAMED], ids=["chosen", "named"])
def test_the_very_plan_that_was_cut_can_be_printed_again(home: Path, text: str):
    run("add", *SIZE)
    Path("job.toml").write_text(text)
    before = planned(0)
    run("cut", "job.toml")
    # what came onto the rack since, and what the job left, make no other plan of it
    run("add", "--width", "20", "--height", "10", "--metal", "steel", "--thickness", "3/8")
    again = planned(0, "--out", "out")
    assert (again["mark"], cut_plates(again)) == (before["mark"], {"R-1"})
    assert [f["where"] for f in again["findings"] if f["code"] == "already-cut"] == ["rail brackets"]
    assert not any(f["code"] == "already-cut" for f in before["findings"])
    assert Path("out/bench-card.pdf").stat().st_size > 0


@pytest.mark.parametrize(
    ("was", "now"),
    [("quantity = 2", "quantity = 4"), ('"rail brackets"', '"rail brackets, second"'), ('"7"', '"7-1/4"')],
    ids=["more", "another name", "larger"],
)
def test_any_other_plan_finds_the_plate_used(home: Path, was: str, now: str):
    run("add", *SIZE)
    Path("job.toml").write_text(NAMED)
    done = told("cut", "job.toml")
    Path("job.toml").write_text(NAMED.replace(was, now))
    (found,) = (f for f in planned(2)["findings"] if f["code"] == "rack-gone")
    assert f"used by rail brackets, plan {done['plan']}" in found["message"]
    assert codes("cut", "job.toml") == codes("advise", "job.toml") == {"rack-gone"}
    # left to choose, it takes what the first left of it, and says why not the plate itself
    Path("job.toml").write_text(JOB.replace(was, now))
    chosen = planned(0)
    assert cut_plates(chosen) == set(done["left"])
    spent = [f["message"] for f in chosen["findings"] if f["code"] == "rack-spent"]
    assert spent == (
        [] if "second" in now else [f"not offered, used when this job was cut: R-1 by plan {done['plan']}"]
    )
    assert told("cut", "job.toml")["used"] == done["left"]
    # the plan that was cut first is still the one that was cut
    Path("job.toml").write_text(NAMED)
    assert planned(0)["mark"] == done["plan"]


def test_the_same_layout_on_another_plate_is_not_the_one_that_was_cut(home: Path):
    run("add", *SIZE, "--copies", "2")
    text = NAMED.replace('rack = "R-1"', 'rack = "R-1", name = "A"')
    Path("job.toml").write_text(text)
    first = told("cut", "job.toml")
    Path("job.toml").write_text(text.replace("R-1", "R-2"))
    second = planned(0)
    assert second["mark"] == first["plan"]  # parts lie the same, and the plate is called the same
    assert not any(f["code"] == "already-cut" for f in second["findings"])
    done = told("cut", "job.toml")
    assert (done["fresh"], done["used"]) == (True, ["R-2"])
    assert {i["mark"]: i["state"] for i in told("list", "--all")["items"]}["R-2"] == "used"


def test_a_plate_put_back_and_used_by_another_is_gone_for_the_first(home: Path):
    run("add", *SIZE)
    Path("job.toml").write_text(NAMED)
    run("cut", "job.toml")
    run("put-back", "R-1")
    Path("other.toml").write_text(NAMED.replace("rail brackets", "other").replace("quantity = 2", "quantity = 3"))
    run("cut", "other.toml")
    (found,) = (f for f in planned(2)["findings"] if f["code"] == "rack-gone")
    assert "used by other" in found["message"]


def test_the_page_and_its_programs_say_the_same(tmp_path: Path):
    folder = tmp_path / "jobs" / "rail-brackets"
    folder.mkdir(parents=True)
    (folder / "job.toml").write_text(NAMED)
    given = {"width": "24", "height": "18", "metal": "steel", "thickness": "3/8"}
    with TestClient(create_app(tmp_path), base_url="http://127.0.0.1") as client:
        client.post("/api/rack", json=given)
        before = client.get("/api/jobs/rail-brackets/plan").json()
        done = client.post("/api/jobs/rail-brackets/cut").json()
        assert (done["used"], done["fresh"]) == (["R-1"], True)
        assert client.post("/api/jobs/rail-brackets/cut").json() == done | {"fresh": False}
        assert client.get("/api/jobs/rail-brackets/plan").json()["mark"] == before["mark"]
        text = NAMED.replace("quantity = 2", "quantity = 4")
        for changed in (text, text.replace("rail brackets", "another")):
            answer = client.post("/api/plan", data={"job": changed})
            assert [f["code"] for f in answer.json()["findings"]] == ["rack-gone"]
        same = client.post("/api/plan", data={"job": NAMED}).json()
        assert same["mark"] == before["mark"]
        assert "already-cut" in {f["code"] for f in same["findings"]}
        (folder / "job.toml").write_text(text)
        answer = client.get("/api/jobs/rail-brackets/plan")
        assert answer.status_code == 422
        assert "used by rail brackets" in answer.text
        # set back to what was cut, it is there again; and so when nothing of it was kept
        (folder / "job.toml").write_text(NAMED)
        assert client.get("/api/jobs/rail-brackets/plan").json()["mark"] == before["mark"]
        shutil.rmtree(tmp_path / "kept")
    with TestClient(create_app(tmp_path), base_url="http://127.0.0.1") as client:
        assert client.get("/api/jobs/rail-brackets/plan").json()["mark"] == before["mark"]


def test_a_no_go_is_not_cut_unless_it_was(home: Path):
    run("add", *SIZE)
    Path("job.toml").write_text(JOB.replace("quantity = 2", "quantity = 40"))
    assert told("advise", "job.toml", status=3)["left_over"] > 0
    assert "parts find no place" in run("advise", "job.toml", status=3)
    assert codes("cut", "job.toml", status=3) == {"plan-no-go"}
    assert len(told("list", "--all")["items"]) == 1
    assert told("cut", "job.toml", "--anyway")["used"] == ["R-1"]


@pytest.mark.parametrize("layout", ["quick", "guided", "best"])
def test_advice_ends_with_what_the_plan_says(home: Path, layout: str):
    """Slanting plates: the ways to lay out differ in how much they place."""
    for w in ("24", "31"):
        run("add", "--width", w, "--height", "18", "--metal", "steel", "--thickness", "3/8", "--hole",
            "x=9, y=9, diameter=3")  # fmt: skip
    text = JOB.replace('layout = "quick"', f'layout = "{layout}"').replace("quantity = 2", "quantity = 40")
    Path("job.toml").write_text(text)
    made = plan_files(Path("job.toml"), rack=rack_items)
    advice = told("advise", "job.toml", status=3)
    assert advice["left_over"] == sum(n for _, n in made.layout.unplaced) > 0
    assert set(advice["plates"]) == {made.job.plates[p.plate].name for p in made.layout.placed}


def test_weights_in_the_shops_own_unit(home: Path):
    """12 x 12 x 1/2 in of steel weighs 20 lb (20.4 by its density): common practice, no source."""
    size = ("--width", "12", "--height", "12", "--metal", "steel")
    assert "20 lb (9.3 kg)" in run("add", *size, "--thickness", "1/2")
    metric = run(
        "add", "--width", "300", "--height", "300", "--units", "mm", "--metal", "steel", "--thickness", "12 mm"
    )
    assert "kg" in metric
    assert "lb" not in metric
    with TestClient(create_app(home), base_url="http://127.0.0.1") as client:
        for page in ("/rack", "/rack/R-1"):
            assert "20 lb (9.3 kg)" in client.get(page).text


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("cut",), "field-missing"), (("cut", "job.toml", "--plan", "p"), "field-missing"),
        (("cut", "--plan", "nowhere.json"), "file-unreadable"), (("cut", "--plan", "."), "file-unreadable"),
        (("cut", "--plan", "job.toml"), "plan-unreadable"), (("cut", "nowhere.toml"), "file-unreadable"),
        (("cut", "--plan", "latin.json"), "file-unreadable"), (("cut", "--plan", "empty.json"), "plan-unreadable"),
        (("advise", "nowhere.toml"), "file-unreadable"), (("advise", "empty.json"), "field-missing"),
    ],
)  # fmt: skip
def test_files_that_will_not_do(home: Path, words: tuple[str, ...], code: str):
    Path("latin.json").write_bytes(b'{"program": "lagline\xe9"}')
    Path("empty.json").touch()
    assert code in codes(*words)


def test_a_damaged_book_is_told_and_left(home: Path):
    home.mkdir()
    (home / "book.sqlite").write_bytes(b"not a book\n" * 500)
    for words in (("list",), ("add", *SIZE), ("scrap", "R-1"), ("show", "R-1"), ("advise", "job.toml")):
        assert "book-damaged" in codes(*words)
    assert (home / "book.sqlite").read_bytes() == b"not a book\n" * 500


def test_the_same_for_programs(tmp_path: Path):
    with TestClient(create_app(tmp_path), base_url="http://127.0.0.1") as client:
        given = {"width": "24", "height": "18", "metal": "steel", "thickness": "3/8"}
        made = client.post("/api/rack", json=given)
        assert made.status_code == 201
        assert made.json()["items"][0]["mark"] == "R-1"
        for bad in (
            {},
            given | {"width": 1e400},
            given | {"file": "/etc/hostname"},
            given | {"width": None},
            given | {"trim": ["left"]},
        ):
            text = json.dumps(bad)
            answer = client.post("/api/rack", content=text, headers={"content-type": "application/json"})
            assert answer.status_code == 422
        assert client.get("/api/rack/R-9").status_code == 404
        assert client.post("/api/rack/R-1/scrap?why=bent").json()["state"] == "scrapped"
        assert client.get("/api/rack").json() == {"items": []}
        assert client.post("/api/rack/R-1/scrap").status_code == 422
        assert client.post("/api/rack/R-1/put-back").json()["state"] == "on the rack"
        assert [a["what"] for a in client.get("/api/rack/R-1").json()["acts"]] == ["put on", "scrapped", "put back"]


def test_pages_refuse_what_will_not_do(tmp_path: Path):
    other = {"origin": "http://elsewhere.example"}
    with TestClient(create_app(tmp_path), base_url="http://127.0.0.1") as client:
        form = {"width": "24", "height": "18", "metal": "steel", "thickness": "3/8", "copies": "1"}
        assert client.post("/rack/add", data=form, headers=other).status_code == 403
        for bad in ({"copies": "lots"}, {"width": ""}, {"width": "nan"}, {"holes": "in the middle"}, {"worth": "nan"}):
            answer = client.post("/rack/add", data=form | bad)
            assert answer.status_code == 422
            assert "Nothing is stored yet" in answer.text
        assert client.get("/rack?put=R-1+%00&gone=x&metal=y").status_code == 200
        assert "<script>alert" not in client.get("/rack?metal=<script>alert(1)</script>").text
        done = client.post("/rack/add", data=form | {"name": "<b>bold</b>"}, follow_redirects=True)
        assert "&lt;b&gt;bold&lt;/b&gt;" in done.text
        assert client.get("/rack/R-1/picture.svg").headers["content-type"].startswith("image/svg+xml")
        assert "<b>bold" not in client.get("/rack/R-1/picture.svg").text
        assert client.get("/rack/R-2").status_code == 404
        assert client.post("/jobs/none/cut", data={"plan": "A"}).status_code == 404
        assert client.post("/rack/R-1/scrap", headers=other).status_code == 403
        assert client.get("/api/rack").json()["items"][0]["state"] == "on the rack"
