"""Pages: every route answers, what is typed comes back, faults are findings beside their field, nothing is lost."""

from __future__ import annotations

import html
import json
import re
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from lagline.book.shelf import JOB, KIT
from lagline.desk.job_desk import JobDesk
from lagline.desk.plan_room import PlanRoom, State
from lagline.desk.planner import plan_outputs
from lagline.desk.write_out import FAULTS, Writer, pack
from lagline.planning.chain import Progress, Stopped
from lagline.web.app import create_app
from lagline.web.look import unbroken
from lagline.web.serve import serve
from tests.sample_plan import sample_plan

FIELDS = {
    "name": "Gusset job",
    "units": "in",
    "part.leg_across": "8",
    "part.leg_up": "10",
    "part.quantity": "2",
    "part.edges_outer": "weld",
    "stock.metal": "steel",
    "stock.thickness": "3/8",
    "stock.coating": "mill scale",
    "plate.width": "48",
    "plate.height": "24",
}
SQUARE = (
    b'<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="80mm" viewBox="0 0 100 80">'
    b'<path d="M0 0L100 0L100 80L0 80Z"/></svg>'
)
OPEN = SQUARE.replace(b"L0 80Z", b"")
CROSSED = SQUARE.replace(b"L100 80L0 80Z", b"L0 80L100 80Z")


def client(folder: Path) -> TestClient:
    return TestClient(create_app(folder), base_url="http://127.0.0.1:8770", follow_redirects=False)


@pytest.fixture(scope="module")
def web(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    with client(tmp_path_factory.mktemp("home")) as c:
        yield c


def desk(web: TestClient) -> JobDesk:
    return web.app.state.desk  # type: ignore[attr-defined]


def planned(web: TestClient, slug: str) -> str:
    """The plan page once planning is over."""
    assert desk(web).room.work(slug).over.wait(60)
    answer = web.get(f"/jobs/{slug}")
    assert answer.status_code == 200
    return answer.text


@pytest.fixture(scope="module")
def slug(web: TestClient) -> str:
    answer = web.post("/new/gusset", data=FIELDS)
    assert answer.status_code == 303, answer.text
    found = answer.headers["location"].removeprefix("/jobs/")
    planned(web, found)
    return found


def mark(web: TestClient, slug: str, file: str = JOB) -> str:
    return desk(web).shelf.read(slug, file).mark


def said(text: str) -> str:
    """A page's words."""
    return html.unescape(re.sub(r"<[^>]+>", " ", text))


def test_every_page_answers(web: TestClient, slug: str) -> None:
    pages = [
        "/", "/new", "/new/gusset", "/new/drawing", "/new/points", "/formulas", "/api", f"/jobs/{slug}",
        f"/jobs/{slug}/plate/0", f"/jobs/{slug}/setup/1", f"/jobs/{slug}/add", f"/jobs/{slug}/add/ring",
        f"/jobs/{slug}/edit/job.toml", f"/jobs/{slug}/edit/kit.toml", f"/jobs/{slug}/files/job.toml",
        f"/jobs/{slug}/thumb.svg",
    ]  # fmt: skip
    for address in pages:
        answer = web.get(address)
        assert answer.status_code == 200, address
        assert "Traceback" not in answer.text


def test_every_link_of_a_plan_leads_somewhere(web: TestClient, slug: str) -> None:
    seen, todo = set(), [f"/jobs/{slug}", f"/jobs/{slug}/setup/1", f"/jobs/{slug}/setup/2"]
    pages = {a: web.get(a).text for a in todo}
    links = {html.unescape(a) for text in pages.values() for a in re.findall(r'(?:href|src)="(/[^"#]*)', text)}
    assert sum("/why/" in a for a in links) >= 10
    for address in sorted(links - {f"/jobs/{slug}/files"}):
        answer = web.get(address)
        assert answer.status_code == 200, address
        seen.add(address)
    assert len(seen) > 25


def test_every_figure_of_the_plan_can_be_asked_why(web: TestClient, slug: str) -> None:
    plan = desk(web).room.known(slug)
    assert plan is not None
    for i, setting in enumerate(plan.settings):
        answer = web.get(f"/jobs/{slug}/why/settings.{i}.kerf_mm")
        assert answer.status_code == 200
        assert html.escape(setting.kerf_mm.source) in answer.text.replace("&#39;", "&#x27;")
        assert setting.kerf_mm.basis.value in answer.text
    for path in ("", "job", "settings", "settings.99.kerf_mm", "kit.power.name", "__class__", "settings.0.__class__"):
        assert web.get(f"/jobs/{slug}/why/{path}").status_code == 404, path


def test_the_plan_page_tells_what_the_plan_says(web: TestClient, slug: str) -> None:
    plan = desk(web).room.known(slug)
    assert plan is not None
    text = said(planned(web, slug))
    assert ("NO-GO" in text) is (not plan.go)
    assert "gusset #1" in text
    assert f"/jobs/{slug}/setup/{plan.steps[-1].number}" in planned(web, slug)
    assert planned(web, slug).count("<svg") >= 1


def test_a_change_is_planned_and_can_be_undone(web: TestClient, slug: str) -> None:
    before = desk(web).room.known(slug)
    assert before is not None
    given = {"key": "quantity-0", "value": "3", "based_on": mark(web, slug)}
    answer = web.post(f"/jobs/{slug}/change", data=given)
    assert answer.status_code == 303
    assert "quantity = 3" in desk(web).shelf.read(slug, JOB).text
    assert desk(web).room.work(slug).over.wait(60)
    page = web.get(answer.headers["location"]).text
    assert "Before the change" in page
    after = desk(web).room.known(slug)
    assert after is not None
    assert len(after.layout.placed) == 3
    undo = {"key": "quantity-0", "value": "2", "based_on": mark(web, slug)}
    assert web.post(f"/jobs/{slug}/change", data=undo).status_code == 303
    assert desk(web).room.work(slug).over.wait(60)
    assert desk(web).room.known(slug) == before


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("quantity-0", "0"), ("quantity-0", "-1"), ("quantity-0", "two"), ("quantity-0", "1e9"), ("current", "nan"),
        ("current", "inf"), ("current", "1000000"), ("current", "-5"), ("thickness", ""), ("thickness", "3 furlong"),
        ("thickness", "0"), ("thickness", "1/0"), ("thickness", "x" * 500), ("plate-0-width", "-48"),
        ("metal", "wood"), ("nothing", "1"), ("gap", "NaN"), ("seed", "1.5"), ("layout", "clever"),
    ],
)  # fmt: skip
def test_a_bad_value_changes_nothing_and_says_why(web: TestClient, slug: str, key: str, value: str) -> None:
    before = desk(web).shelf.read(slug, JOB)
    answer = web.post(f"/jobs/{slug}/change", data={"key": key, "value": value, "based_on": before.mark})
    assert answer.status_code == 422
    assert "Cannot be used" in answer.text
    assert desk(web).shelf.read(slug, JOB) == before


def test_what_was_typed_is_kept_beside_its_fault(web: TestClient, slug: str) -> None:
    given = {"key": "thickness", "value": 'three "eighths" <b>', "based_on": mark(web, slug)}
    answer = web.post(f"/jobs/{slug}/change", data=given)
    assert answer.status_code == 422
    assert html.escape(given["value"]).replace("&quot;", "&#34;") in answer.text
    assert "<b>" + "three" not in answer.text
    form = answer.text.split('value="thickness"')[1].split("</form>")[0]
    assert "field-fault" in form


def test_a_kit_value_with_its_spread(web: TestClient, slug: str) -> None:
    given = {"key": "cup", "value": "12 mm", "low": "11.8 mm", "high": "12.4 mm", "based_on": mark(web, slug, KIT)}
    assert web.post(f"/jobs/{slug}/change", data=given).status_code == 303
    assert desk(web).room.work(slug).over.wait(60)
    plan = desk(web).room.known(slug)
    assert plan is not None
    cup = plan.kit.torch.cup_radius_mm
    assert (cup.low, cup.value, cup.high, cup.default) == (11.8, 12.0, 12.4, False)
    wrong = {"key": "cup", "value": "12 mm", "low": "13 mm", "high": "", "based_on": mark(web, slug, KIT)}
    assert web.post(f"/jobs/{slug}/change", data=wrong).status_code == 422
    empty = {"key": "cup", "value": "", "low": "", "high": "", "based_on": mark(web, slug, KIT)}
    assert web.post(f"/jobs/{slug}/change", data=empty).status_code == 303
    assert "cup_radius" not in desk(web).shelf.read(slug, KIT).text


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("part.leg_across", "", "needs its leg_across"),
        ("part.leg_across", "0", "out of range"),
        ("part.leg_across", "-8", "below zero"),
        ("part.leg_across", "NaN", "is not a length"),
        ("part.leg_across", "8 furlongs", "furlongs"),
        ("part.leg_across", "1e999", "is not a length"),
        ("part.leg_across", "99999999", "over a kilometre"),
        ("part.quantity", "many", "will not do"),
        ("part.quantity", "0", "will not do"),
        ("part.tolerance", "tight", "is not a length"),
        ("stock.thickness", "", "is missing"),
        ("stock.thickness", "77 ga", "77 ga"),
        ("stock.metal", "wood", "is not known"),
        ("plate.width", "", "is missing"),
        ("plate.height", "0", "out of range"),
        ("plate.diagonal_1", "12", "diagonal"),
        ("part.snipe", "40", "snipe"),
    ],
)
def test_a_bad_field_is_faulted_beside_it_and_the_rest_is_kept(
    web: TestClient, field: str, value: str, words: str
) -> None:
    given = FIELDS | {field: value, "part.name": "Möller's <gusset>"}
    answer = web.post("/new/gusset", data=given)
    assert answer.status_code == 422, answer.headers.get("location")
    assert words in said(answer.text)
    assert "Möller&#39;s &lt;gusset&gt;" in answer.text
    near = "plate.file" if field.startswith("plate.diagonal") else field
    label = next(p for p in re.split(r"(?=<label)", answer.text) if f'name="{near}"' in p)
    assert "field-fault" in label
    assert web.get("/jobs/gusset").status_code == 404


def test_all_faults_are_told_at_once(web: TestClient) -> None:
    bad = {"part.leg_across": "x", "part.leg_up": "", "stock.thickness": "?", "plate.width": "-1", "units": "yards"}
    text = said(web.post("/new/gusset", data=FIELDS | bad).text)
    for words in ('"x" is not a length', '"?" is not a length', '"-1" is below zero', '"yards"'):
        assert words in text


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("a.svg", OPEN, "no closed outline"),
        ("a.svg", CROSSED, "cross"),
        ("a.svg", b"", "is empty"),
        ("a.svg", b"\xff\xfe\x00junk", "a.svg"),
        ("a.svg", b'<!DOCTYPE x [<!ENTITY a "b">]><svg>&a;</svg>', "a.svg"),
        ("a.dxf", b"not a drawing", "a.dxf"),
        ("a.exe", b"MZ", "is not a drawing"),
        ("../../a.svg", SQUARE, "will not do as a file name"),
        ("a.svg", b"<svg>" + b" " * 10_000_001, "MB"),
    ],
)
def test_a_bad_drawing_is_told(web: TestClient, name: str, data: bytes, words: str) -> None:
    answer = web.post("/new/drawing", data=FIELDS, files=[("part.file", (name, data))])
    assert answer.status_code == 422
    assert words in said(answer.text)


def test_drawings_become_parts_and_more_are_added(web: TestClient) -> None:
    sent = [
        ("part.file", ("pad one.svg", SQUARE)),
        ("part.file", ("Plåt (2).svg", SQUARE.replace(b"100 80", b"90 80"))),
    ]
    answer = web.post("/new/drawing", data=FIELDS | {"name": "Two pads"}, files=sent)
    assert answer.status_code == 303, said(answer.text)
    slug = answer.headers["location"].removeprefix("/jobs/")
    assert desk(web).shelf.names(slug) == (JOB, KIT, "Pl_t _2_.svg", "pad one.svg")
    more = {"part.outside": "4", "part.inside": "2", "based_on": mark(web, slug)}
    assert web.post(f"/jobs/{slug}/add/ring", data=more).status_code == 303
    late = web.post(f"/jobs/{slug}/add/ring", data=more)
    assert late.status_code == 409
    page = planned(web, slug)
    for word in ("pad one", "ring", "Pl t"):
        assert word in page


def test_a_part_larger_than_the_plate_is_a_no_go_not_a_fault(web: TestClient) -> None:
    answer = web.post("/new/gusset", data=FIELDS | {"part.leg_across": "80", "part.leg_up": "60"})
    assert answer.status_code == 303
    text = said(planned(web, answer.headers["location"].removeprefix("/jobs/")))
    assert "NO-GO" in text
    assert "No room for" in text


def test_a_missing_drawing_is_told_on_the_plan_page(web: TestClient) -> None:
    answer = web.post("/new/drawing", data=FIELDS, files=[("part.file", ("pad.svg", SQUARE))])
    slug = answer.headers["location"].removeprefix("/jobs/")
    (desk(web).shelf.folder(slug) / "pad.svg").unlink()
    text = said(planned(web, slug))
    assert "cannot be planned" in text
    assert "pad.svg" in text


def test_text_is_edited_with_line_and_clash(web: TestClient, slug: str) -> None:
    held = desk(web).shelf.read(slug, JOB)
    broken = held.text.replace("quantity = 2", "quantity = = 2")
    answer = web.post(f"/jobs/{slug}/edit/job.toml", data={"text": broken, "based_on": held.mark})
    assert answer.status_code == 422
    line = broken.splitlines().index("quantity = = 2") + 1
    assert f"line {line}" in said(answer.text)
    assert "quantity = = 2" in answer.text
    assert desk(web).shelf.read(slug, JOB) == held
    good = {"text": held.text + "\n# mine\n", "based_on": held.mark}
    assert web.post(f"/jobs/{slug}/edit/job.toml", data=good).status_code == 303
    clash = web.post(f"/jobs/{slug}/edit/job.toml", data={"text": held.text + "# yours\n", "based_on": held.mark})
    assert clash.status_code == 409
    assert "# mine" in clash.text
    assert "# yours" in clash.text
    now = mark(web, slug)
    assert web.post(f"/jobs/{slug}/edit/job.toml", data={"text": held.text, "based_on": now}).status_code == 303
    outside = held.text + '\n[[parts]]\nfile = "../../../etc/hosts.svg"\n'
    assert (
        web.post(f"/jobs/{slug}/edit/job.toml", data={"text": outside, "based_on": mark(web, slug)}).status_code == 422
    )


def test_a_job_goes_off_the_shelf_and_back(web: TestClient) -> None:
    slug = web.post("/new/gusset", data=FIELDS | {"name": "Soon gone"}).headers["location"].removeprefix("/jobs/")
    answer = web.post(f"/jobs/{slug}/off")
    assert web.get(f"/jobs/{slug}").status_code == 404
    page = web.get(answer.headers["location"]).text
    called = re.search(r'action="(/back/[^"]+)"', page)
    assert called
    assert web.post(called[1]).headers["location"] == f"/jobs/{slug}"
    planned(web, slug)


def test_a_shelf_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "home").write_text("in the way")
    with client(tmp_path / "home") as c:
        answer = c.post("/new/gusset", data=FIELDS)
        assert answer.status_code == 422
        assert "LAGLINE_HOME" in said(answer.text)


def test_unknown_things_are_not_here(web: TestClient, slug: str) -> None:
    for address in (
        "/nope", "/jobs/nope", "/jobs/..%2f..%2fetc", f"/jobs/{slug}/setup/9999", f"/jobs/{slug}/files/..%2fjob.toml",
        "/new/sprocket", "/formulas/none", f"/jobs/{slug}/plate/7", "/static/../app.py", "/static/%2e%2e/app.py",
    ):  # fmt: skip
        answer = web.get(address)
        assert answer.status_code == 404, address
        assert "Traceback" not in answer.text


def test_a_crash_in_planning_is_a_finding_and_the_pages_live_on(tmp_path: Path) -> None:
    with client(tmp_path) as c:
        d = desk(c)

        def crash(*_: object, **__: object) -> None:
            raise BaseException("a solver's panic")

        d.room = PlanRoom(d.shelf, d.kept, crash)  # type: ignore[arg-type]
        slug = c.post("/new/gusset", data=FIELDS).headers["location"].removeprefix("/jobs/")
        text = said(planned(c, slug))
        assert "the program failed" in text
        assert "Plan again" in text
        assert c.get("/").status_code == 200
        assert c.post(f"/jobs/{slug}/again").status_code == 303


def test_planning_shows_progress_and_stops_when_asked(tmp_path: Path) -> None:
    with client(tmp_path) as c:
        d = desk(c)
        sample = sample_plan()

        def slow(*_: object, tell, stop, **__: object):  # type: ignore[no-untyped-def]
            tell(Progress("laying out", 0.3, sample.blanks, sample.layout))
            while not stop():
                time.sleep(0.01)
            raise Stopped("laying out")

        d.room = PlanRoom(d.shelf, d.kept, slow)
        slug = c.post("/new/gusset", data=FIELDS).headers["location"].removeprefix("/jobs/")
        assert d.room.work(slug).seen.wait(10)
        page = c.get(f"/jobs/{slug}").text
        assert "30 %" in page
        assert "hx-trigger" in page
        assert '<noscript><meta http-equiv="refresh"' in page
        assert "<svg" in page
        c.post(f"/jobs/{slug}/stop")
        assert d.room.work(slug).state is State.STOPPED
        assert "Planning was stopped" in c.get(f"/jobs/{slug}").text


def test_a_plan_is_made_once_and_outlives_the_server(tmp_path: Path) -> None:
    made: list[int] = []
    plan = replace(sample_plan(), version="kept")

    def count(*_: object, **__: object):  # type: ignore[no-untyped-def]
        made.append(1)
        return plan

    with client(tmp_path) as c:
        d = desk(c)
        d.room = PlanRoom(d.shelf, d.kept, count)
        slug = c.post("/new/gusset", data=FIELDS).headers["location"].removeprefix("/jobs/")
        assert d.room.work(slug).over.wait(10)
        for _ in range(3):
            assert c.get(f"/jobs/{slug}").status_code == 200
    with client(tmp_path) as c:
        d = desk(c)
        d.room = PlanRoom(d.shelf, d.kept, count)
        assert d.room.work(slug).plan == plan
    assert made == [1]


def test_a_job_from_elsewhere_comes_onto_the_shelf_with_its_drawings_and_plan(tmp_path: Path) -> None:
    job = (
        'units = "mm"\n[stock]\nmetal = "steel"\nthickness = 6\n[[parts]]\nfile = "a/pad.svg"\n'
        '[[parts]]\nname = "other"\nfile = "b/pad.svg"\n[[plates]]\nwidth = 400\nheight = 300\n'
    )
    for folder, data in (("a", SQUARE), ("b", SQUARE.replace(b"100 80", b"90 80"))):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "pad.svg").write_bytes(data)
    (tmp_path / "pads.toml").write_text(job)
    plan = replace(sample_plan(), version="from the command")
    d = JobDesk(tmp_path / "home")
    slug = d.shelve(tmp_path / "pads.toml", None, plan)
    assert d.shelf.names(slug) == (JOB, "pad.svg", "parts-2-pad.svg")
    assert d.room.work(slug).plan == plan
    assert d.check(slug, JOB, d.shelf.read(slug, JOB).text) is not None
    assert d.shelve(tmp_path / "pads.toml") == slug


def test_a_job_shelved_with_its_plan_is_planned_on_the_start_page(tmp_path: Path) -> None:
    made = sample_plan()
    (tmp_path / "job.toml").write_text(
        'units = "mm"\n[stock]\nmetal = "steel"\nthickness = 6\n[[parts]]\nshape = "disc"\ndiameter = 80\n'
        "[[plates]]\nwidth = 400\nheight = 300\n"
    )
    JobDesk(tmp_path / "home").shelve(tmp_path / "job.toml", None, made)
    with client(tmp_path / "home") as c:
        text = c.get("/").text
        assert "not planned as it stands" not in text
        assert f"{len(made.steps)} set-ups" in said(text)
        slug = desk(c).shelf.slugs()[0]
        for name in ("card.json", "thumb.svg"):  # as left by a plan whose page nobody opened
            (desk(c).kept.root / desk(c).room.fingerprint(slug) / name).unlink()
        assert "not planned as it stands" not in c.get("/").text


def files_page(web: TestClient, slug: str) -> str:
    """The page of files once it no longer goes on by itself."""
    for _ in range(600):
        text = web.get(f"/jobs/{slug}/files").text
        if "hx-trigger" not in text.split('id="made"')[1][:200]:
            return text
        time.sleep(0.1)
    raise AssertionError("the page of files goes on for ever")


def test_files_that_cannot_be_made_are_told_and_the_others_given(
    web: TestClient, slug: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = desk(web).room.known(slug)
    assert plan is not None

    def broken(*_: object) -> bytes:
        raise RuntimeError("no typesetter here")

    monkeypatch.setattr("lagline.cards.bench_card.pdf", broken)
    made, failed = plan_outputs(plan)
    assert {"plan.json", "plate.dxf", "plate.svg"} <= set(made)
    assert failed == {"bench-card.pdf": "RuntimeError: no typesetter here"}
    packed = pack(made | {FAULTS: json.dumps(failed).encode()})
    monkeypatch.setattr(Writer, "_write", lambda *_: packed)
    text = files_page(web, slug)
    assert "Not every file could be made" in text
    assert "no typesetter here" in text
    assert "plate.dxf" in text
    assert web.get(f"/jobs/{slug}/files/plate.dxf").content == made["plate.dxf"]
    assert "no typesetter here" in web.get(f"/jobs/{slug}/files/bench-card.pdf").text
    monkeypatch.undo()
    assert web.post(f"/jobs/{slug}/files/again").status_code == 303
    assert "could be made" not in files_page(web, slug)


def test_a_writer_that_dies_or_a_full_disk_does_not_keep_the_page_waiting(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with client(tmp_path) as c:
        slug = c.post("/new/gusset", data=FIELDS).headers["location"].removeprefix("/jobs/")
        planned(c, slug)
        monkeypatch.setattr("lagline.desk.write_out.sys.executable", "/bin/false")
        assert "No file could be made" in files_page(c, slug)
        assert "No file could be made" in files_page(c, slug)
        monkeypatch.setattr("lagline.desk.write_out.sys.executable", "/nowhere/python")
        c.post(f"/jobs/{slug}/files/again")
        assert "no such file" in files_page(c, slug)
        monkeypatch.setattr(Writer, "_write", lambda *_: pack({"plan.json": b"{}"}))
        monkeypatch.setattr(desk(c).kept, "put", lambda *_: None)  # nothing can be kept
        c.post(f"/jobs/{slug}/files/again")
        assert "plan.json" in files_page(c, slug)


def test_a_no_go_is_named_and_has_no_beat(web: TestClient) -> None:
    thick = FIELDS | {"stock.thickness": "2-1/2", "name": "too thick"}
    slug = web.post("/new/gusset", data=thick).headers["location"].removeprefix("/jobs/")
    text = planned(web, slug)
    plan = desk(web).room.known(slug)
    assert plan is not None
    assert not plan.go
    worst = re.search(r'<p class="no worst">(.*?)</p>', text, re.S)
    assert worst
    assert len(said(worst[1]).split()) > 4
    for verdict in plan.verdicts[:2]:
        page = web.get(f"/jobs/{slug}/setup/{verdict.number}").text
        assert verdict.go == ('class="beat"' in page)


def test_a_fraction_stays_on_one_line_and_fields_stay_plain() -> None:
    text = '<p title="6-19/32&#34;">6-19/32&#34; up</p><textarea>1-1/2</textarea><svg><text>1-1/2</text></svg>'
    assert unbroken(text) == text.replace(">6-19/32&#34; up", '><span class="nb">6-19/32&#34;</span> up')


def test_settings_are_headed_by_metal_and_edge(web: TestClient, slug: str) -> None:
    assert "<h3>3/8 in steel, square</h3>" in planned(web, slug)


def test_the_first_page_lists_the_parts_before_anything_is_laid_out(tmp_path: Path) -> None:
    with client(tmp_path) as c:
        hold = threading.Event()
        plan = sample_plan()

        def slow(*_: object, **__: object):  # type: ignore[no-untyped-def]
            hold.wait(30)
            return plan

        desk(c).room = PlanRoom(desk(c).shelf, desk(c).kept, slow)
        slug = c.post("/new/gusset", data=FIELDS | {"part.name": "foot gusset"}).headers["location"]
        text = c.get(slug).text
        hold.set()
        assert "foot gusset" in text.split('id="plan"')[1].split('id="change"')[0]


def test_serving_stays_on_this_computer_and_finds_a_free_port(tmp_path: Path) -> None:
    import socket
    import urllib.request

    import uvicorn

    from lagline.records.errors import LaglineError

    for host in ("0.0.0.0", "192.168.1.5", "example"):
        with pytest.raises(LaglineError):
            serve(tmp_path, 0, host)
    taken = socket.socket()
    taken.bind(("127.0.0.1", 0))
    taken.listen()
    told: list[str] = []
    up = threading.Event()
    servers: list[uvicorn.Server] = []
    begin = uvicorn.Server.startup

    async def remember(self: uvicorn.Server, sockets: list[socket.socket] | None = None) -> None:
        servers.append(self)
        await begin(self, sockets)

    def ready(address: str) -> None:
        told.append(address)
        up.set()

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(uvicorn.Server, "startup", remember)
        thread = threading.Thread(target=serve, args=(tmp_path, taken.getsockname()[1]), kwargs={"ready": ready})
        thread.start()
        assert up.wait(20)
    assert told[0].startswith("http://127.0.0.1:")
    assert not told[0].endswith(f":{taken.getsockname()[1]}/")
    with urllib.request.urlopen(told[0], timeout=10) as answer:
        assert answer.status == 200
    servers[0].should_exit = True
    thread.join(15)
    assert not thread.is_alive()
    taken.close()
