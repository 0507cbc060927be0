"""The rack in the shop book: plates and offcuts, what became of them, and which jobs were cut. Nothing kept is ever
changed or taken out: using, scrapping and putting back are rows of their own, the last of which holds."""

from __future__ import annotations

import contextlib
import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, func, insert, select
from sqlalchemy.exc import IntegrityError

from lagline.book.open_book import Book
from lagline.book.record_text import outline_from_text, outline_text
from lagline.book.tables import rack_act, rack_cut, rack_item
from lagline.records.errors import LaglineError, refuse
from lagline.records.job import Stock
from lagline.records.rack import RackItem, RackPast, RackState, rack_mark

MOST_ITEMS = 5000
_PLAIN = ("kind", "name", "heat", "place", "date", "worth", "note", "from_job", "from_plan", "from_plate")
_STOCK = ("metal", "grade", "thickness_mm", "thickness_text", "coating")
_STATES = {"used": RackState.USED, "scrapped": RackState.SCRAPPED, "put back": RackState.ON}


@dataclass(frozen=True, slots=True)
class RackAct:
    """One thing done to an item: ``put on``, ``used``, ``scrapped``, ``put back``; ``about`` the plan that used it or
    left it."""

    at: str  # ISO 8601, UTC
    what: str
    about: str = ""
    why: str = ""
    by: str = ""  # the job whose plan used it


@dataclass(frozen=True, slots=True)
class KeptItem:
    """An item as it is now, with what was done to it, oldest first."""

    item: RackItem
    acts: tuple[RackAct, ...]


@dataclass(frozen=True, slots=True)
class RackCut:
    """A job that was cut: marks of the items it used and of the offcuts it left. ``fresh`` when just written."""

    job: str
    plan: str
    number: int  # how often this plan was cut
    at: str
    used: tuple[str, ...]
    left: tuple[str, ...]
    fresh: bool = False


class RackBook:
    """The rack of one data folder."""

    def __init__(self, root: Path) -> None:
        self.book = Book(root)

    # ---- looking ----

    def all(self) -> tuple[KeptItem, ...]:
        """Return every item there ever was, in order of its mark; nothing when there is no book yet."""
        with self.book.reading() as connection:
            return _kept(connection) if connection is not None else ()

    def get(self, mark: str) -> KeptItem:
        """Return one item. Errors: LaglineError for a mark that was never given."""
        return _named(self.all(), mark)

    def cuts(self) -> tuple[RackCut, ...]:
        """Return every job that was cut, oldest first."""
        with self.book.reading() as connection:
            return _cuts(connection) if connection is not None else ()

    def pasts(self, job: str) -> tuple[RackPast, ...]:
        """Return each plan of a job that was cut, the last first, with the rack as it was just before; not one whose
        plates were put back or used by another since."""
        with self.book.reading() as connection:
            if connection is None:
                return ()
            kept, cuts = _kept(connection), [c for c in _cuts(connection) if c.job == job]
        now = {k.item.mark: k.item for k in kept}
        out: dict[tuple[str, frozenset[str]], RackPast] = {}
        for c in reversed(cuts):
            mine = all((now[m].state, now[m].by_job, now[m].by_plan) == (RackState.USED, job, c.plan) for m in c.used)
            if mine:
                out.setdefault((c.plan, frozenset(c.used)), RackPast(job, c.plan, c.at, c.used, _before(kept, c.at)))
        return tuple(out.values())

    # ---- adding ----

    def add(self, *items: RackItem) -> tuple[RackItem, ...]:
        """Put items on the rack, all or none, and return them with their marks. Errors: LaglineError when full."""
        for _ in range(5):
            with contextlib.suppress(IntegrityError), self.book.writing() as connection:
                return tuple(_add(connection, i, None) for i in items)
        raise self._busy()

    def cut(
        self, job: str, plan: str, used: Iterable[str], offcuts: Iterable[RackItem], *, again: bool = False
    ) -> RackCut:
        """Write that a plan was cut: items used, offcuts put on the rack; all of it or nothing.

        A plan already cut from the same items is returned as it was written then, and nothing changes, unless it was
        cut ``again``.
        Errors: LaglineError when an item is unknown, used up or scrapped.
        """
        used, offcuts = tuple(used), tuple(offcuts)
        for _ in range(5):
            with contextlib.suppress(IntegrityError), self.book.writing() as connection:
                before = [c for c in _cuts(connection) if c.plan == plan]
                same = [c for c in before if set(c.used) == {rack_mark(m) for m in used}]
                if same and not again:
                    return same[-1]
                return _cut(connection, job, plan, len(before) + 1, used, offcuts)
        raise self._busy()

    def _busy(self) -> LaglineError:
        return refuse("book-busy", self.book.name, "others write at the same time; nothing was written", "try again")

    # ---- changing, each by a row of its own ----

    def scrap(self, mark: str, why: str = "") -> RackItem:
        """Say an item is scrapped. Errors: LaglineError when it is unknown or not on the rack."""
        with self.book.writing() as connection:
            item = _on(_named(_kept(connection), mark).item, "scrapped")
            _act(connection, item.mark, "scrapped", None, why)
            return replace(item, state=RackState.SCRAPPED)

    def put_back(self, mark: str, why: str = "") -> RackItem:
        """Put a used or scrapped item back on the rack. Errors: LaglineError when it is unknown or lies there."""
        with self.book.writing() as connection:
            item = _named(_kept(connection), mark).item
            if item.state is RackState.ON:
                raise refuse("rack-as-is", item.mark, "is on the rack", "an item that was used or scrapped")
            _act(connection, item.mark, "put back", None, why)
            return replace(item, state=RackState.ON, by_job="", by_plan="")


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="microseconds")


def _add(connection: Connection, item: RackItem, cut: int | None) -> RackItem:
    number = (connection.execute(select(func.max(rack_item.c.number))).scalar() or 0) + 1
    if number > MOST_ITEMS:
        raise refuse("rack-full", "rack", f"there have been {MOST_ITEMS} items on it", "begin a new book")
    at = [v for loop in item.outline.loops for p in loop.points() for v in p]
    if not all(map(math.isfinite, at)) or (item.worth is not None and not math.isfinite(item.worth)):
        raise ValueError("an item of the rack holds a number that is not finite")
    mark = f"R-{number}"
    values: dict[str, Any] = {f: getattr(item, f) for f in _PLAIN}
    values |= {f: getattr(item.stock, f) for f in _STOCK}
    values |= {"outline": outline_text(item.outline), "cut": cut, "written_at": _now()}
    connection.execute(insert(rack_item).values(mark=mark, number=number, **values))
    return replace(item, mark=mark, state=RackState.ON, by_job="", by_plan="")


def _act(connection: Connection, mark: str, what: str, cut: int | None, why: str) -> None:
    values = {"item": mark, "what": what, "cut": cut, "why": why[:500], "written_at": _now()}
    connection.execute(insert(rack_act).values(**values))


def _cut(
    connection: Connection, job: str, plan: str, number: int, used: tuple[str, ...], offcuts: tuple[RackItem, ...]
) -> RackCut:
    kept = _kept(connection)
    marks = [_on(_named(kept, m).item, "cut").mark for m in dict.fromkeys(used)]
    now = _now()
    seq = connection.execute(
        insert(rack_cut).values(plan=plan, number=number, job=job, written_at=now)
    ).inserted_primary_key
    assert seq is not None
    for mark in marks:
        _act(connection, mark, "used", seq[0], "")
    left = [_add(connection, replace(o, from_job=job, from_plan=plan), seq[0]).mark for o in offcuts]
    return RackCut(job, plan, number, now, tuple(marks), tuple(left), fresh=True)


def _named(kept: Iterable[KeptItem], mark: str) -> KeptItem:
    wanted = rack_mark(mark)
    found = next((k for k in kept if k.item.mark == wanted), None)
    if found is None:
        raise refuse(
            "rack-unknown", "rack", f'there is no "{mark.strip()[:60]}"', "`lagline rack list` shows the marks"
        )
    return found


def _on(item: RackItem, what: str) -> RackItem:
    if item.state is RackState.USED:
        say = f"cannot be {what}: it was {item.spent}"
        raise refuse("rack-gone", item.mark, say, "put it back first, if that is wrong")
    if item.state is RackState.SCRAPPED:
        raise refuse("rack-gone", item.mark, f"cannot be {what}: it is scrapped", "put it back first")
    return item


def _cuts(connection: Connection) -> tuple[RackCut, ...]:
    used: dict[int, list[str]] = {}
    left: dict[int, list[str]] = {}
    for r in connection.execute(
        select(rack_act).where(rack_act.c.cut.is_not(None)).order_by(rack_act.c.seq)
    ).mappings():
        used.setdefault(r["cut"], []).append(r["item"])
    marks = select(rack_item.c.mark, rack_item.c.cut).where(rack_item.c.cut.is_not(None))
    for r in connection.execute(marks.order_by(rack_item.c.seq)).mappings():
        left.setdefault(r["cut"], []).append(r["mark"])
    return tuple(
        RackCut(r["job"], r["plan"], r["number"], r["written_at"], tuple(used.get(r["seq"], ())),
                tuple(left.get(r["seq"], ())))
        for r in connection.execute(select(rack_cut).order_by(rack_cut.c.seq)).mappings()
    )  # fmt: skip


def _kept(connection: Connection) -> tuple[KeptItem, ...]:
    """Everything on the rack, ever, read in three queries."""
    cuts = {r["seq"]: r for r in connection.execute(select(rack_cut)).mappings()}
    items: dict[str, RackItem] = {}
    acts: dict[str, list[RackAct]] = {}
    for r in connection.execute(select(rack_item).order_by(rack_item.c.number)).mappings():
        try:
            outline = outline_from_text(r["outline"])
        except ValueError:
            say = "its outline cannot be read: the file was changed from outside, or is damaged"
            raise refuse("book-damaged", r["mark"], say, "put back a copy of the book") from None
        stock = Stock(*(r[f] for f in _STOCK))
        items[r["mark"]] = RackItem(r["mark"], outline=outline, stock=stock, **{f: r[f] for f in _PLAIN})
        acts[r["mark"]] = [RackAct(r["written_at"], "put on", r["from_plan"])]
    for r in connection.execute(select(rack_act).order_by(rack_act.c.seq)).mappings():
        by = cuts.get(r["cut"])
        job, plan = (by["job"], by["plan"]) if by is not None else ("", "")
        items[r["item"]] = replace(items[r["item"]], state=_STATES[r["what"]], by_job=job, by_plan=plan)
        acts[r["item"]].append(RackAct(r["written_at"], r["what"], plan, r["why"], job))
    return tuple(KeptItem(i, tuple(acts[m])) for m, i in items.items())


def _before(kept: Iterable[KeptItem], at: str) -> tuple[RackItem, ...]:
    """The items as they were before a moment; those put on later are not there."""
    out = []
    for k in kept:
        done = [a for a in k.acts if a.at < at]
        if done:
            last = done[-1]
            by, plan = (last.by, last.about) if last.what == "used" else ("", "")
            out.append(replace(k.item, state=_STATES.get(last.what, RackState.ON), by_job=by, by_plan=plan))
    return tuple(out)
