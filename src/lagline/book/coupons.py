"""Coupons in the shop book. Nothing kept is ever changed: a correction is a new coupon that names the one it
replaces; setting a measurement aside, saying it stands and removing a coupon are rows of their own, and each can be
taken back.

Glossary
--------
standing : neither replaced nor removed: what counts
aside    : a measurement its user looked at and does not want counted; kept all the same
stands   : a measurement its user looked at and says is right as it is, however odd. Of aside and stands the later holds
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Table, func, insert, select
from sqlalchemy.exc import IntegrityError

from lagline.book.open_book import Book
from lagline.book.tables import coupon, coupon_aside, coupon_cut, coupon_mark
from lagline.records.coupon import Coupon, CouponCut, Dross
from lagline.records.errors import LaglineError, refuse
from lagline.trade.set_aside import in_words, measurement_name, measurements

MOST_A_DAY = 999
_OWN = tuple(f.name for f in fields(Coupon) if f.name not in ("id", "cuts", "set_aside", "stands"))
_CUT = tuple(f.name for f in fields(CouponCut))


@dataclass(frozen=True, slots=True)
class Act:
    """One thing done to a coupon: ``entered``, ``corrected``, ``set aside``, ``stands``, ``taken back``,
    ``removed``, ``put back``; ``about`` the measurement or the other coupon."""

    at: str  # ISO 8601, UTC
    what: str
    about: str = ""
    why: str = ""


@dataclass(frozen=True, slots=True)
class KeptCoupon:
    """A coupon as it lies in the book, with what was done to it, oldest first."""

    coupon: Coupon
    replaces: str | None
    replaced_by: str | None
    removed: bool
    acts: tuple[Act, ...]

    @property
    def standing(self) -> bool:
        """Whether it counts."""
        return self.replaced_by is None and not self.removed


class CouponBook:
    """The coupons of one data folder."""

    def __init__(self, root: Path) -> None:
        self.book = Book(root)

    # ---- looking ----

    def coupons(self) -> tuple[Coupon, ...]:
        """Return the coupons that stand, in order of day and number; nothing when there is no book yet."""
        return tuple(k.coupon for k in self.all() if k.standing)

    def all(self) -> tuple[KeptCoupon, ...]:
        """Return every coupon ever entered, replaced and removed ones too, in order of day and number."""
        with self.book.reading() as connection:
            return _kept(connection) if connection is not None else ()

    def get(self, id_: str) -> KeptCoupon:
        """Return one coupon. Errors: LaglineError for an id that is not in the book."""
        return _named(self.all(), id_)

    def correctable(self, id_: str) -> Coupon:
        """Return a coupon that may be corrected. Errors: LaglineError when it is unknown, removed or corrected."""
        return _standing(self.get(id_), "corrected")

    # ---- adding ----

    def add(self, given: Coupon, *, replaces: str | None = None) -> Coupon:
        """Keep a coupon and return it with the id it was given.

        ``replaces`` is the id of the coupon this one corrects: what was said there of measurements that are the same
        here, set aside or right as they stand, still holds. Errors: LaglineError when that one is unknown, removed or
        corrected already.
        """
        for _ in range(5):
            # a clash is only possible where a writer is not alone, which on SQLite it is: another took the number
            with contextlib.suppress(IntegrityError), self.book.writing() as connection:
                return self._add(connection, given, replaces)
        raise refuse("book-busy", self.book.name, "others write at the same time; nothing was written", "try again")

    def _add(self, connection: Connection, given: Coupon, replaces: str | None) -> Coupon:
        aside, stands = set(given.set_aside), set(given.stands)
        if replaces is not None:
            old = _standing(_named(_kept(connection), replaces), "corrected")
            here = dict(measurements(given))
            same = {n for n, v in measurements(old) if here.get(n) == v} - aside - stands
            aside, stands = aside | same & set(old.set_aside), stands | same & set(old.stands)
        stands -= aside
        top = connection.execute(select(func.max(coupon.c.number)).where(coupon.c.date == given.date)).scalar()
        number = (top or 0) + 1
        if number > MOST_A_DAY:
            raise refuse("book-day-full", given.date, f"{MOST_A_DAY} coupons of one day are in the book", "another day")
        id_ = f"c-{given.date}-{number:02d}"
        now = _now()
        connection.execute(
            insert(coupon).values(
                id=id_, number=number, replaces=replaces, written_at=now, **{f: getattr(given, f) for f in _OWN}
            )
        )
        for n, cut in enumerate(given.cuts, 1):
            values: dict[str, Any] = {f: getattr(cut, f) for f in _CUT}
            values["dross"] = str(cut.dross) if cut.dross is not None else None
            connection.execute(insert(coupon_cut).values(coupon=id_, number=n, **values))
        for name in sorted(aside | stands):
            said = {"field": name, "aside": name in aside, "stands": name in stands}
            connection.execute(insert(coupon_aside).values(coupon=id_, why="", written_at=now, **said))
        return replace(given, id=id_, set_aside=tuple(sorted(aside)), stands=tuple(sorted(stands)))

    def set_aside(self, id_: str, *fields: str, why: str = "") -> Coupon:
        """Set measurements aside: kept and shown, not counted.

        Each is named as in records, or ``cut 1 kerf top``; of several all or none. Errors: LaglineError for a
        measurement this coupon does not have, or that is set aside already.
        """
        return self._say(id_, fields, why, aside=True)

    def stands(self, id_: str, *fields: str, why: str = "") -> Coupon:
        """Say that measurements are right as they stand: counted, however odd. Errors as :meth:`set_aside`."""
        return self._say(id_, fields, why, stands=True)

    def take_back(self, id_: str, *fields: str, why: str = "") -> Coupon:
        """Take back that measurements are set aside, or that they stand: they count when they fit the rest.

        Errors: LaglineError when neither was said of one.
        """
        return self._say(id_, fields, why)

    def _say(self, id_: str, fields: Iterable[str], why: str, *, aside: bool = False, stands: bool = False) -> Coupon:
        with self.book.writing() as connection:
            old = _standing(_named(_kept(connection), id_), "changed")
            has = [n for n, _ in measurements(old)]
            for field, name in {f: measurement_name(f) for f in fields}.items():
                if name is None or name not in has:
                    raise refuse(
                        "measurement-unknown", id_, f'has no measurement "{field[:60]}"', ", ".join(map(in_words, has))
                    )
                if (name in old.set_aside, name in old.stands) == (aside, stands):
                    say = "is set aside" if aside else "stands" if stands else "is neither set aside nor said to stand"
                    said = [*(f"{n} is set aside" for n in old.set_aside), *(f"{n} stands" for n in old.stands)]
                    raise refuse(
                        "measurement-as-is",
                        id_,
                        f"{in_words(name)} {say}",
                        ", ".join(map(in_words, said)) or "nothing was said yet",
                    )
                _row(connection, coupon_aside, old.id, why, field=name, aside=aside, stands=stands)
            return _named(_kept(connection), id_).coupon

    def remove(self, id_: str, why: str = "") -> None:
        """Mark a coupon as removed. Errors: LaglineError when it is unknown, replaced or removed already."""
        with self.book.writing() as connection:
            _row(connection, coupon_mark, _standing(_named(_kept(connection), id_), "removed").id, why, removed=True)

    def put_back(self, id_: str, why: str = "") -> Coupon:
        """Take a removal back. Errors: LaglineError when it was not removed."""
        with self.book.writing() as connection:
            kept = _named(_kept(connection), id_)
            if not kept.removed:
                raise refuse("coupon-as-is", id_, "was not removed", "a removed coupon")
            _row(connection, coupon_mark, kept.coupon.id, why, removed=False)
            return kept.coupon


def same_measured(a: Coupon, b: Coupon) -> bool:
    """Return whether two coupons say the same but for id and what was said of their measurements."""
    return replace(a, id="", set_aside=(), stands=()) == replace(b, id="", set_aside=(), stands=())


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="microseconds")


def _row(connection: Connection, table: Table, id_: str, why: str, **values: object) -> None:
    connection.execute(insert(table).values(coupon=id_, why=why[:500], written_at=_now(), **values))


def _named(all_: Iterable[KeptCoupon], id_: str) -> KeptCoupon:
    wanted = id_.strip().lower()
    found = next((k for k in all_ if k.coupon.id == wanted), None)
    if found is None:
        raise refuse("coupon-unknown", "book", f'there is no coupon "{id_[:60]}"', "`lagline coupon list` shows them")
    return found


def _standing(kept: KeptCoupon, what: str) -> Coupon:
    if kept.replaced_by is not None:
        raise _gone(kept, what, f"was corrected by {kept.replaced_by}", f"that one is {what} instead")
    if kept.removed:
        raise _gone(kept, what, "is removed", "put it back first")
    return kept.coupon


def _gone(kept: KeptCoupon, what: str, why: str, allowed: str) -> LaglineError:
    return refuse("coupon-gone", kept.coupon.id, f"cannot be {what}: it {why}", allowed)


def _kept(connection: Connection) -> tuple[KeptCoupon, ...]:
    """Everything in the book, read in four queries."""
    rows = connection.execute(select(coupon).order_by(coupon.c.date, coupon.c.number)).mappings().all()
    cuts: dict[str, list[CouponCut]] = {}
    for r in connection.execute(select(coupon_cut).order_by(coupon_cut.c.coupon, coupon_cut.c.number)).mappings():
        cuts.setdefault(r["coupon"], []).append(_cut(r))
    acts: dict[str, list[Act]] = {}
    words: dict[str, dict[str, str]] = {}
    removed: dict[str, bool] = {}
    heirs = {r["replaces"]: r["id"] for r in rows if r["replaces"]}
    for r in rows:
        acts[r["id"]] = [Act(r["written_at"], "entered", r["replaces"] or "")]
    for r in rows:
        if r["replaces"]:
            acts[r["replaces"]].append(Act(r["written_at"], "corrected", r["id"]))
    for r in connection.execute(select(coupon_aside).order_by(coupon_aside.c.seq)).mappings():
        what = "set aside" if r["aside"] else "stands" if r["stands"] else "taken back"
        words.setdefault(r["coupon"], {})[r["field"]] = what
        acts[r["coupon"]].append(Act(r["written_at"], what, r["field"], r["why"]))
    for r in connection.execute(select(coupon_mark).order_by(coupon_mark.c.seq)).mappings():
        removed[r["coupon"]] = r["removed"]
        acts[r["coupon"]].append(Act(r["written_at"], "removed" if r["removed"] else "put back", "", r["why"]))
    return tuple(
        KeptCoupon(
            Coupon(
                id=r["id"],
                cuts=tuple(cuts.get(r["id"], ())),
                set_aside=_said(words.get(r["id"], {}), "set aside"),
                stands=_said(words.get(r["id"], {}), "stands"),
                **{f: r[f] for f in _OWN},
            ),
            r["replaces"],
            heirs.get(r["id"]),
            removed.get(r["id"], False),
            tuple(sorted(acts[r["id"]], key=lambda a: a.at)),
        )
        for r in rows
    )


def _said(words: Mapping[str, str], what: str) -> tuple[str, ...]:
    return tuple(sorted(name for name, said in words.items() if said == what))


def _cut(row: Mapping[str, Any]) -> CouponCut:
    values = {f: row[f] for f in _CUT}
    if values["dross"] is not None:
        values["dross"] = Dross(values["dross"])
    return CouponCut(**values)
