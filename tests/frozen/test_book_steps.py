"""A book written before a step is brought up to date and loses nothing. ``book_v0001.sql`` is a book that the program
wrote when its tables were at step 0001, dumped: corrected, set aside, taken back, removed, put back."""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from lagline.book.coupons import CouponBook
from lagline.book.open_book import FILE
from lagline.book.tables import HEAD, ONLY_ADDED_TO
from lagline.records.coupon import Coupon, CouponCut, Dross

DUMP = (Path(__file__).parent / "book_v0001.sql").read_text(encoding="utf-8")
CUT = CouponCut(152.4, 16.0, True, 2.159, 1.6, 10.16, 12.192, 0.254, 0.762, 1.5875, Dross.SLOW, 0.8)
CORRECTED = Coupon(
    "c-2026-03-02-02", "2026-03-02", "65 A", "steel", 9.525, 65.0, (CUT, CouponCut(seconds=10.0, kerf_top_mm=5.08)),
    "slipway cradle", 40, 12.5, 620.5281, 7.3, 80.0, 78.1, 80.0, 82.2, 7.9, 3.2, 10.6, "corrected",
    ("cuts[1].kerf_top_mm",),
)  # fmt: skip
LAST = Coupon("c-2026-03-03-01", "2026-03-03", "45 A", "stainless", 3.0, 40.0, (), crater_mm=3.0)


@pytest.fixture
def home() -> Iterator[Path]:
    """A folder with a book of step 0001, at a place anybody may come to."""
    folder = Path(tempfile.mkdtemp())
    with closing(sqlite3.connect(folder / FILE)) as connection:
        connection.executescript(DUMP)
        connection.execute("PRAGMA journal_mode = WAL")  # as the program leaves it; a dump does not tell
    yield folder
    folder.chmod(0o755)
    shutil.rmtree(folder)


def rows(folder: Path) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table of the first step, as they lie in the file."""
    with closing(sqlite3.connect(folder / FILE)) as connection:
        return {t: connection.execute(f"SELECT * FROM {t} ORDER BY rowid").fetchall() for t in ONLY_ADDED_TO}


def step(folder: Path) -> str:
    with closing(sqlite3.connect(folder / FILE)) as connection:
        (found,) = connection.execute("SELECT version_num FROM alembic_version").fetchone()
    return str(found)


def test_the_dump_is_of_the_first_step(home: Path) -> None:
    assert step(home) == "0001" < HEAD
    assert {t: len(r) for t, r in rows(home).items()} == {
        "coupon": 4, "coupon_cut": 5, "coupon_aside": 4, "coupon_mark": 3,
    }  # fmt: skip


def test_every_row_is_kept(home: Path) -> None:
    before = rows(home)
    assert CouponBook(home).coupons() == (CORRECTED, LAST)
    assert step(home) == HEAD
    after = rows(home)
    assert {t: r for t, r in after.items() if t != "coupon_aside"} == {
        t: r for t, r in before.items() if t != "coupon_aside"
    }
    # of no measurement had anybody said that it stands
    assert after["coupon_aside"] == [(*r, 0) for r in before["coupon_aside"]]


def test_what_was_done_is_told_as_before(home: Path) -> None:
    first, corrected, removed, back = CouponBook(home).all()
    assert [(a.what, a.about, a.why) for a in first.acts] == [
        ("entered", "", ""), ("set aside", "cuts[1].kerf_top_mm", "misread"), ("set aside", "crater_mm", ""),
        ("taken back", "crater_mm", "it was right"), ("corrected", "c-2026-03-02-02", ""),
    ]  # fmt: skip
    assert (first.replaced_by, corrected.replaces) == ("c-2026-03-02-02", "c-2026-03-02-01")
    assert (removed.removed, back.removed) == (True, False)
    assert [a.what for a in back.acts] == ["entered", "removed", "put back"]


def test_work_goes_on_in_it(home: Path) -> None:
    book = CouponBook(home)
    assert book.add(LAST).id == "c-2026-03-03-02"
    assert book.stands(CORRECTED.id, "cut 2 kerf top").stands == ("cuts[1].kerf_top_mm",)
    assert book.get(CORRECTED.id).coupon.set_aside == ()
    assert book.take_back(CORRECTED.id, "cut 2 kerf top").stands == ()


@pytest.mark.parametrize("table", ONLY_ADDED_TO)
@pytest.mark.parametrize("change", ["DELETE FROM {}", "UPDATE {} SET rowid = rowid"])
def test_nothing_in_it_can_be_changed_afterwards(home: Path, table: str, change: str) -> None:
    CouponBook(home).all()
    with (
        closing(sqlite3.connect(home / FILE)) as connection,
        pytest.raises(sqlite3.IntegrityError, match="only added to"),
    ):
        connection.execute(change.format(table))


def test_from_a_folder_that_cannot_be_written_it_is_still_read(home: Path) -> None:
    (home / FILE).chmod(0o444)
    home.chmod(0o555)
    before = (home / FILE).read_bytes()
    mine, theirs = os.pipe()
    child = os.fork()
    if not child:  # root may write anywhere: be somebody else
        try:
            if os.getuid() == 0:
                os.setgroups([])
                os.setgid(65534)
                os.setuid(65534)
            said = repr(CouponBook(home).coupons())
        except BaseException as e:  # noqa: BLE001
            said = repr(e)
        os.write(theirs, said.encode())
        os._exit(0)
    os.close(theirs)
    with os.fdopen(mine) as pipe:
        assert pipe.read() == repr((CORRECTED, LAST))
    os.waitpid(child, 0)
    assert (home / FILE).read_bytes() == before
