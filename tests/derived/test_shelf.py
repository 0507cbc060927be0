"""The shelf keeps jobs whole: nothing outside its folder, nothing half written, nobody's change lost."""

from __future__ import annotations

import os
import threading
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.book.kept import Kept
from lagline.book.record_text import plan_from_text, plan_text
from lagline.book.shelf import JOB, KIT, Clash, Held, Shelf, check_drawing, default_folder, mark_of, slug_of
from lagline.records.errors import LaglineError
from tests.sample_plan import sample_plan

JOB_TEXT = b'name = "gusset job"\n'


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    return Shelf(tmp_path / "home")


def test_a_job_put_on_is_found_as_it_was(shelf: Shelf) -> None:
    slug = shelf.add("Gusset Job!", {JOB: JOB_TEXT, "cheek.dxf": b"0\nEOF\n"})
    assert slug == "gusset-job"
    assert shelf.slugs() == (slug,)
    assert shelf.names(slug) == (JOB, "cheek.dxf")
    assert shelf.read(slug, JOB) == Held(JOB_TEXT.decode(), mark_of(JOB_TEXT))
    assert shelf.read(slug, KIT).text == ""


def test_equal_names_get_folders_of_their_own(shelf: Shelf) -> None:
    assert [shelf.add("x", {JOB: JOB_TEXT}) for _ in range(3)] == ["x", "x-2", "x-3"]


@given(st.text(max_size=80))
@settings(deadline=None, max_examples=100)
def test_any_name_gives_a_folder_name_without_a_path(name: str) -> None:
    slug = slug_of(name)
    assert slug
    assert set(slug) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")
    assert not slug.startswith("-")
    assert len(slug) <= 50


@pytest.mark.parametrize(
    "slug", ["..", ".", "", "../x", "x/../y", "/etc", "X", "a b", "%2e%2e", ".bin", "x" * 80, "a\0b", "-x"]
)
def test_no_path_tricks_in_job_names(shelf: Shelf, slug: str) -> None:
    shelf.add("x", {JOB: JOB_TEXT})
    with pytest.raises(LaglineError) as e:
        shelf.read(slug, JOB)
    assert e.value.findings[0].code == "job-unknown"


@pytest.mark.parametrize(
    ("name", "data", "code"),
    [
        ("../a.dxf", b"x", "file-name"),
        ("a/b.dxf", b"x", "file-name"),
        ("a\\b.dxf", b"x", "file-name"),
        ("..dxf", b"x", "file-name"),
        (".hidden.dxf", b"x", "file-name"),
        ("a\0.dxf", b"x", "file-name"),
        ("x" * 120 + ".dxf", b"x", "file-name"),
        ("job.toml", b"x", "file-kind"),
        ("run.exe", b"x", "file-kind"),
        ("a.svg", b"", "file-empty"),
        ("a.svg", b"x" * 10_000_001, "file-large"),
    ],
)
def test_only_drawings_of_a_sane_size_are_kept(shelf: Shelf, name: str, data: bytes, code: str) -> None:
    slug = shelf.add("x", {JOB: JOB_TEXT})
    with pytest.raises(LaglineError) as e:
        shelf.keep_drawing(slug, name, data)
    assert e.value.findings[0].code == code
    assert shelf.names(slug) == (JOB,)
    with pytest.raises(LaglineError):
        check_drawing(name, data, "drawing")


def test_a_drawing_never_replaces_another(shelf: Shelf) -> None:
    slug = shelf.add("x", {JOB: JOB_TEXT, "a.svg": b"one"})
    assert shelf.keep_drawing(slug, "a.svg", b"one") == "a.svg"
    assert shelf.keep_drawing(slug, "A.SVG", b"two") == "A-2.SVG"
    assert shelf.path(slug, "a.svg").read_bytes() == b"one"


def test_a_save_over_somebody_elses_change_is_refused_and_both_are_shown(shelf: Shelf) -> None:
    slug = shelf.add("x", {JOB: JOB_TEXT})
    first = shelf.read(slug, JOB)
    assert isinstance(shelf.save(slug, JOB, 'name = "theirs"\n', first.mark), Held)
    done = shelf.save(slug, JOB, 'name = "mine"\n', first.mark)
    assert isinstance(done, Clash)
    assert (done.theirs.text, done.yours) == ('name = "theirs"\n', 'name = "mine"\n')
    assert shelf.read(slug, JOB).text == 'name = "theirs"\n'
    assert isinstance(shelf.save(slug, JOB, done.yours, done.theirs.mark), Held)


def test_many_writers_at_once_leave_one_whole_text_and_tell_the_others(shelf: Shelf) -> None:
    slug = shelf.add("x", {JOB: JOB_TEXT})
    mark = shelf.read(slug, JOB).mark
    texts = [f'name = "{i}"\n' * 2000 for i in range(8)]
    done: list[Held | Clash] = []
    go = threading.Barrier(len(texts))

    def write(text: str) -> None:
        go.wait()
        done.append(shelf.save(slug, JOB, text, mark))

    threads = [threading.Thread(target=write, args=(t,)) for t in texts]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    assert sum(isinstance(d, Held) for d in done) == 1
    assert len(done) == len(texts)
    assert shelf.read(slug, JOB).text in texts
    assert not [p for p in shelf.folder(slug).iterdir() if p.name.startswith(".")]


def test_a_job_taken_off_can_be_put_back(shelf: Shelf) -> None:
    slug = shelf.add("x", {JOB: JOB_TEXT})
    called = shelf.bin(slug)
    assert shelf.slugs() == ()
    assert shelf.binned() == (called,)
    shelf.add("x", {JOB: JOB_TEXT})
    assert shelf.put_back(called) == "x-2"
    assert set(shelf.slugs()) == {"x", "x-2"}
    with pytest.raises(LaglineError):
        shelf.put_back("../jobs/x")


def test_a_text_that_is_not_utf8_is_named(shelf: Shelf) -> None:
    slug = shelf.add("x", {JOB: JOB_TEXT})
    (shelf.folder(slug) / JOB).write_bytes(b"name = \xff\xfe")
    with pytest.raises(LaglineError) as e:
        shelf.read(slug, JOB)
    assert e.value.findings[0].code == "file-unreadable"
    with pytest.raises(LaglineError):
        shelf.add("y", {JOB: b"\xff"})


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    # a file where the folder should be: refused for every user, the superuser too
    (tmp_path / "home").write_text("in the way")
    with pytest.raises(LaglineError) as e:
        Shelf(tmp_path / "home").add("x", {JOB: JOB_TEXT})
    assert e.value.findings[0].code == "shelf-read-only"
    assert Shelf(tmp_path / "nothing").slugs() == ()


def test_the_fingerprint_follows_every_input(shelf: Shelf) -> None:
    slug = shelf.add("x", {JOB: JOB_TEXT, "a.svg": b"one"})
    seen = {shelf.fingerprint(slug)}
    (shelf.folder(slug) / "a.svg").write_bytes(b"two")
    seen.add(shelf.fingerprint(slug))
    (shelf.folder(slug) / KIT).write_bytes(b"# kit")
    seen.add(shelf.fingerprint(slug))
    seen.add(shelf.fingerprint(slug, "another version"))
    assert len(seen) == 4
    assert shelf.fingerprint(slug) in seen


def test_the_data_folder_is_where_it_is_said(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("LAGLINE_HOME", str(tmp_path / "mine"))
    assert default_folder() == tmp_path / "mine"
    monkeypatch.delenv("LAGLINE_HOME")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert default_folder() == tmp_path / "lagline"
    monkeypatch.setenv("XDG_DATA_HOME", "not/absolute")
    assert default_folder() == Path(os.path.expanduser("~")) / ".local/share/lagline"


def test_a_plan_comes_back_from_text_as_it_was(tmp_path: Path) -> None:
    plan = sample_plan()
    assert plan_from_text(plan_text(plan)) == plan
    kept = Kept(tmp_path / "kept")
    kept.put_plan("a" * 40, plan)
    assert kept.get_plan("a" * 40) == plan
    assert kept.get_plan("b" * 40) is None
    kept.put("a" * 40, "plan.gz", b"garbage")
    assert kept.get_plan("a" * 40) is None


@pytest.mark.parametrize("text", ["", "{}", "[]", '{"is":"Path","x":1}', '{"is":"Line"}', '{"is":"Move","dx":0}'])
def test_a_text_that_is_no_plan_is_refused(text: str) -> None:
    with pytest.raises(ValueError):
        plan_from_text(text)


def test_only_so_many_answers_are_kept(tmp_path: Path) -> None:
    kept = Kept(tmp_path / "kept", most=3)
    for i in range(6):
        kept.put(f"{i:040x}", "a", b"x")
        os.utime(tmp_path / "kept" / f"{i:040x}", (i, i))
    assert len(list((tmp_path / "kept").iterdir())) <= 4
    assert kept.get(f"{5:040x}", "a") == b"x"
    with pytest.raises(ValueError):
        kept.put("../../x", "a", b"x")
    with pytest.raises(ValueError):
        kept.put("0" * 40, "../a", b"x")
