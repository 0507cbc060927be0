"""What a job may take from the rack: plates named by their mark, and all that matches when the job says so."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from typing import TypeAlias

from lagline.planning.fields import Fields, nearest, read_text, shown
from lagline.records.errors import LaglineError
from lagline.records.job import Part, Plate, Stock
from lagline.records.rack import RackItem, RackState, rack_mark

Rack: TypeAlias = Callable[[], tuple[RackItem, ...]]
MOST_OFFERED = 40


def no_rack() -> tuple[RackItem, ...]:
    """Return what lies on no rack at all."""
    return ()


def may_use(items: Iterable[RackItem], job: str) -> tuple[RackItem, ...]:
    """Return the items with those the job itself used counted as lying there: its plan stays as it was when cut."""
    return tuple(i for i in items if i.state is not RackState.USED or i.by_job == job)


def rack_plate(item: RackItem, margin_mm: float) -> Plate:
    """Return an item as a plate of a job, called by its mark."""
    return Plate(item.mark, item.kind, item.outline, item.stock, margin_mm, mark=item.called, rack=item.mark)


def on_rack(f: Fields, rack: Rack) -> RackItem | None:
    """Return the item a plate's table names in ``rack``; None when it was refused."""
    f.known |= {"name"}
    given = f.take("rack", read_text, "")
    if not given:
        return None
    try:
        items = rack()
    except LaglineError as e:
        f.findings.extend(e.findings)
        return None
    here = {i.mark: i for i in items if i.state is not RackState.SCRAPPED}
    mark = rack_mark(given)
    if mark in here:
        return here[mark]
    scrapped = any(i.mark == mark for i in items)
    say = f"{shown(given)} is scrapped" if scrapped else f"{shown(given)} is not on the rack, or used by another job"
    f.refuse("rack-unknown", "rack", say, nearest(mark, here) if here else "nothing lies on the rack")
    return None


def offered_to(
    f: Fields, rack: Rack, job: str, parts: tuple[Part, ...], plates: Sequence[Plate | None]
) -> tuple[RackItem, ...]:
    """Return what a job that says ``rack = true`` chooses from: items of its metals and thicknesses, least first.

    What the job itself left is not offered to it again.
    """
    try:
        items = rack()
    except LaglineError as e:
        f.findings.extend(e.findings)
        return ()
    keys = {p.stock.key for p in parts}
    taken = {p.rack for p in plates if p is not None} | {p.name for p in plates if p is not None}
    fit = [
        i for i in items
        if i.state is not RackState.SCRAPPED and i.stock.key in keys and i.mark not in taken
        and (i.from_job != job or i.state is RackState.USED)
    ]  # fmt: skip
    fit.sort(key=lambda i: (i.kind != "offcut", i.outline.area, int(i.mark[2:])))
    if len(fit) > MOST_OFFERED:
        say = f"{len(fit)} items match: the {MOST_OFFERED} smallest are looked at"
        f.note("rack-many", "rack", say, 'name larger ones: [[plates]] rack = "R-7"')
    if not fit and not plates:
        want = ", ".join(sorted({described(p.stock) for p in parts}))
        f.refuse(
            "rack-empty", "rack", f"nothing on the rack is {want or 'of this metal'}", "put it there, or [[plates]]"
        )
    return tuple(fit[:MOST_OFFERED])


def check_metal(f: Fields, plates: Sequence[Plate | None], parts: tuple[Part, ...]) -> None:
    """Refuse plates named by mark that no part may be cut from, and a mark named twice."""
    keys = {p.stock.key for p in parts}
    for p in (p for p in plates if p is not None and p.rack and parts and p.stock.key not in keys):
        want = ", ".join(sorted({described(q.stock) for q in parts}))
        f.refuse("rack-metal", f"plates {p.rack}", f"is {described(p.stock)}; no part of this job is", want)
    for mark, n in Counter(p.rack for p in plates if p is not None and p.rack).items():
        if n > 1:
            f.refuse("rack-twice", f"plates {mark}", f"is named {n} times", "once: there is one of it")


def described(stock: Stock) -> str:
    """Return a stock in words: ``3/8" steel``."""
    return f"{stock.thickness_text} {stock.metal}"
