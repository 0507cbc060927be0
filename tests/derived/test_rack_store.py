"""The rack in the book: nothing lost or changed, two at once, what became of each item, and faults of the disk."""

from __future__ import annotations

import math
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy.exc import IntegrityError

from lagline.book.coupons import CouponBook
from lagline.book.open_book import FILE
from lagline.book.rack import RackBook
from lagline.book.tables import RACK_ONLY_ADDED_TO, metadata, rack_act
from lagline.records.errors import LaglineError
from lagline.records.geometry import Outline
from lagline.records.job import Stock
from lagline.records.rack import RackItem, RackState, rack_mark
from tests.generate import blob, circle, polygon_loop, random_blanks

STEEL = Stock("steel", "A36", 9.525, '3/8"', "rust")
SQUARE = Outline(polygon_loop([(0, 0), (400, 0), (400, 300), (0, 300)]), (circle((90, 90), 20, "h1", hole=True),))
ONE = RackItem("", "offcut", SQUARE, STEEL, "door end", "H4711", "bay 2", "2026-03-02", 12.5, "bowed a little")


@pytest.fixture
def book(tmp_path: Path) -> RackBook:
    return RackBook(tmp_path / "home")


def codes(caught) -> set[str]:
    return {f.code for f in caught.value.findings}


def test_nothing_is_made_by_looking(book: RackBook, tmp_path: Path):
    assert (book.all(), book.cuts()) == ((), ())
    with pytest.raises(LaglineError, match="there is no"):
        book.get("R-1")
    assert not (tmp_path / "home").exists()


words = st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=30)
outlines = st.integers(0, 500).map(lambda s: random_blanks(s, 1)[0].cut) | st.just(SQUARE)
items = st.builds(
    RackItem, st.just(""), st.sampled_from(["plate", "offcut"]), outlines,
    st.builds(Stock, st.sampled_from(["steel", "aluminium"]), words, st.floats(0.3, 150), words, words),
    words, words, words, st.dates().map(str), st.none() | st.floats(0, 1e6), words, words, st.just(""), words,
)  # fmt: skip


@given(st.lists(items, min_size=1, max_size=4))
@settings(deadline=None, max_examples=12)
def test_what_comes_out_is_what_went_in(given_):
    with tempfile.TemporaryDirectory() as folder:
        marks = [i.mark for i in RackBook(Path(folder)).add(*given_)]
        again = RackBook(Path(folder)).all()
        assert [k.item for k in again] == [replace(g, mark=m) for g, m in zip(given_, marks, strict=True)]
        assert marks == [f"R-{n}" for n in range(1, len(given_) + 1)]


def test_a_free_outline_comes_back_to_the_last_bit(book: RackBook):
    import random

    wild = blob(random.Random(3), 400)
    book.add(replace(ONE, outline=wild))
    assert book.get("r1").item.outline == wild


@pytest.mark.parametrize(("given_", "mark"), [("r7", "R-7"), (" R-007 ", "R-7"), ("R 12", "R-12"), ("R-0", "R-0"),
                                             ("", ""), ("R--7", "R--7"), ("seven", "seven")])  # fmt: skip
def test_marks_as_people_type_them(given_: str, mark: str):
    assert rack_mark(given_) == mark


def test_scrapped_and_put_back_with_why(book: RackBook):
    (one,) = book.add(ONE)
    assert book.scrap(one.mark, "rusted through").state is RackState.SCRAPPED
    with pytest.raises(LaglineError) as e:
        book.scrap(one.mark)
    assert codes(e) == {"rack-gone"}
    assert book.put_back("r-1").state is RackState.ON
    with pytest.raises(LaglineError) as e:
        book.put_back(one.mark)
    assert codes(e) == {"rack-as-is"}
    acts = book.get(one.mark).acts
    assert [(a.what, a.why) for a in acts] == [("put on", ""), ("scrapped", "rusted through"), ("put back", "")]
    assert book.get(one.mark).item == one


def test_a_cut_uses_and_leaves_once(book: RackBook):
    book.add(ONE, ONE)
    done = book.cut("cradle", "ABC-DEF", ["r2"], [replace(ONE, from_plate="R-2")])
    assert (done.fresh, done.used, done.left) == (True, ("R-2",), ("R-3",))
    before = book.all()
    twice = book.cut("cradle", "ABC-DEF", ["r2"], [ONE])
    assert replace(twice, fresh=True) == done
    assert not twice.fresh
    assert book.all() == before
    used, new = book.get("R-2").item, book.get("R-3").item
    assert (used.state, used.by_job, used.by_plan) == (RackState.USED, "cradle", "ABC-DEF")
    assert (new.state, new.from_job, new.from_plan, new.from_plate) == (RackState.ON, "cradle", "ABC-DEF", "R-2")
    assert book.get("R-1").item.state is RackState.ON


def test_cut_again_when_said_so(book: RackBook):
    book.cut("cradle", "ABC-DEF", [], [ONE])
    second = book.cut("cradle", "ABC-DEF", [], [ONE], again=True)
    assert (second.number, second.left, second.fresh) == (2, ("R-2",), True)
    assert [c.number for c in book.cuts()] == [1, 2]


def test_the_same_layout_on_another_plate_is_a_cut_of_its_own(book: RackBook):
    """A plan's mark says where parts lie and how they are cut, not from which plate."""
    book.add(ONE, ONE)
    book.cut("cradle", "ABC-DEF", ["R-1"], [])
    second = book.cut("cradle", "ABC-DEF", ["r2"], [])
    assert (second.fresh, second.number, second.used) == (True, 2, ("R-2",))
    assert book.get("R-2").item.state is RackState.USED
    assert not book.cut("cradle", "ABC-DEF", ["R-1"], []).fresh


def test_the_rack_as_it_was_before_a_cut(book: RackBook):
    book.add(ONE, ONE)
    book.scrap("R-2")
    before = tuple(k.item for k in book.all())
    book.cut("cradle", "ABC-DEF", ["R-1"], [ONE])
    book.put_back("R-2")
    book.add(ONE)
    (past,) = book.pasts("cradle")
    assert (past.job, past.plan, past.used, past.items) == ("cradle", "ABC-DEF", ("R-1",), before)
    assert book.pasts("other") == ()
    book.cut("cradle", "XYZ-XYZ", ["R-2"], [])
    assert [p.plan for p in book.pasts("cradle")] == ["XYZ-XYZ", "ABC-DEF"]
    # put back, and used by another: the first plan has nothing to be read on any more
    book.put_back("R-1")
    assert [p.plan for p in book.pasts("cradle")] == ["XYZ-XYZ"]
    book.cut("other", "OOO-OOO", ["R-1"], [])
    assert [p.plan for p in book.pasts("cradle")] == ["XYZ-XYZ"]
    assert book.pasts("other")[0].items[1].by_job == "cradle"


def test_used_metal_is_not_used_twice(book: RackBook):
    book.add(ONE, ONE)
    book.cut("cradle", "ABC-DEF", ["R-1"], [ONE])
    book.scrap("R-2")
    for used, said in ((["R-1"], "used by cradle, plan ABC-DEF"), (["R-2"], "scrapped"), (["R-9"], "there is no")):
        before = book.all()
        with pytest.raises(LaglineError, match=said):
            book.cut("other", "XYZ-XYZ", used, [ONE, ONE])
        assert book.all() == before
        assert len(book.cuts()) == 1
    book.put_back("R-1", "the cut was called off")
    assert book.cut("other", "XYZ-XYZ", ["R-1", "R-1"], []).used == ("R-1",)


def test_the_database_itself_refuses_every_change(book: RackBook):
    book.add(ONE)
    book.cut("cradle", "ABC-DEF", ["R-1"], [ONE])
    assert set(RACK_ONLY_ADDED_TO) == {t for t in metadata.tables if t.startswith("rack")}
    for table in RACK_ONLY_ADDED_TO:
        for change in ("DELETE FROM {}", "UPDATE {} SET rowid = rowid"):
            with (
                closing(sqlite3.connect(book.book.path)) as connection,  # type: ignore[arg-type]
                pytest.raises(sqlite3.IntegrityError, match="only added to"),
            ):
                connection.execute(change.format(table))


def test_links_are_held(book: RackBook):
    book.add(ONE)
    with pytest.raises(IntegrityError), book.book.writing() as connection:
        connection.execute(rack_act.insert().values(item="R-99", what="used", why="", written_at=""))


def test_a_write_that_fails_leaves_nothing(book: RackBook):
    book.add(ONE)
    bad = replace(ONE, outline=Outline(polygon_loop([(0, 0), (math.nan, 0), (1, 1)])))
    with pytest.raises(ValueError, match="not finite"):
        book.cut("cradle", "ABC-DEF", ["R-1"], [ONE, bad])
    assert len(book.all()) == 1
    assert book.get("R-1").item.state is RackState.ON
    assert book.cuts() == ()


# ---- two at once ----

WRITER = """
import sys
from pathlib import Path
from lagline.book.rack import RackBook
from tests.derived.test_rack_store import ONE
from dataclasses import replace
home, who, what = Path(sys.argv[1]), sys.argv[2], sys.argv[3]
if what == "add":
    for n in range(10):
        print(RackBook(home).add(replace(ONE, name=who, note=str(n)))[0].mark)
else:
    done = RackBook(home).cut(who, "ABC-DEF" if what == "same" else who, ["R-1"], [ONE])
    print(done.fresh, *done.left)
"""


def both(home: Path, what: str) -> list[tuple[int, str, str]]:
    running = [
        subprocess.Popen(
            [sys.executable, "-c", WRITER, str(home), w, what], stdout=subprocess.PIPE, stderr=subprocess.PIPE,
            text=True, env=os.environ | {"PYTHONPATH": os.getcwd()},
        )
        for w in "ab"
    ]  # fmt: skip
    said = [p.communicate(timeout=120) for p in running]
    return [(p.returncode, *s) for p, s in zip(running, said, strict=True)]


def test_two_writers_at_once_both_survive(tmp_path: Path):
    said = both(tmp_path / "home", "add")
    assert [s[0] for s in said] == [0, 0]
    kept = [k.item for k in RackBook(tmp_path / "home").all()]
    assert {i.mark for i in kept} == {f"R-{n}" for n in range(1, 21)} == {*said[0][1].split(), *said[1][1].split()}
    for who in "ab":
        assert [i.note for i in kept if i.name == who] == [str(n) for n in range(10)]


def test_one_plan_cut_by_two_at_once_is_cut_once(tmp_path: Path):
    RackBook(tmp_path / "home").add(ONE)
    said = both(tmp_path / "home", "same")
    assert sorted(s[1].strip() for s in said) == ["False R-2", "True R-2"]
    assert len(RackBook(tmp_path / "home").all()) == 2


def test_one_plate_used_by_two_at_once_goes_to_one(tmp_path: Path):
    RackBook(tmp_path / "home").add(ONE)
    said = both(tmp_path / "home", "other")
    assert sorted(s[0] for s in said) == [0, 1]
    assert any("it was used by" in s[2] for s in said)
    assert len(RackBook(tmp_path / "home").cuts()) == 1


# ---- faults ----


def test_a_folder_that_cannot_be_written(tmp_path: Path):
    """It is read all the same; nothing is written, and the refusal names the file."""
    home = Path(tempfile.mkdtemp())
    RackBook(home).add(ONE)
    with closing(sqlite3.connect(home / FILE)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    for f in home.iterdir():
        f.chmod(0o444)
    home.chmod(0o555)
    before = (home / FILE).read_bytes()
    mine, theirs = os.pipe()
    child = os.fork()
    if not child:  # root may write anywhere: be somebody else
        said = []
        try:
            if os.getuid() == 0:
                os.setgroups([])
                os.setgid(65534)
                os.setuid(65534)
            said.append(str([k.item.mark for k in RackBook(home).all()]))
            RackBook(home).scrap("R-1")
        except LaglineError as e:
            said.append(e.findings[0].code)
        except BaseException as e:  # noqa: BLE001
            said.append(repr(e))
        os.write(theirs, "|".join(said).encode())
        os._exit(0)
    os.close(theirs)
    with os.fdopen(mine) as pipe:
        assert pipe.read() == "['R-1']|book-read-only"
    os.waitpid(child, 0)
    home.chmod(0o755)
    assert (home / FILE).read_bytes() == before
    shutil.rmtree(home)


@pytest.mark.parametrize("spoiled", [b"R-1 is a plate\n" * 300, bytes(range(256)) * 64], ids=["text", "noise"])
def test_a_damaged_file_is_kept_and_named(tmp_path: Path, spoiled: bytes):
    path = tmp_path / FILE
    path.write_bytes(spoiled)
    fresh = RackBook(tmp_path)
    for act in (fresh.all, lambda: fresh.add(ONE), lambda: fresh.scrap("R-1"), lambda: fresh.cut("a", "b", [], [ONE])):
        with pytest.raises(LaglineError) as e:
            act()
        assert codes(e) == {"book-damaged"}
        assert path.read_bytes() == spoiled


def test_an_outline_spoiled_from_outside_is_told(book: RackBook):
    book.add(ONE)
    with closing(sqlite3.connect(book.book.path)) as connection:  # type: ignore[arg-type]
        connection.execute("DROP TRIGGER rack_item_no_update")
        connection.execute('UPDATE rack_item SET outline = \'{"is": "Nothing"}\'')
        connection.commit()
    with pytest.raises(LaglineError) as e:
        book.all()
    assert codes(e) == {"book-damaged"}
    assert e.value.findings[0].where == "R-1"


def test_coupons_and_rack_share_one_book(book: RackBook, tmp_path: Path):
    from tests.derived.test_coupon_store import ONE as COUPON

    book.add(ONE)
    assert CouponBook(tmp_path / "home").add(COUPON).id == "c-2026-03-02-01"
    assert len(book.all()) == 1
