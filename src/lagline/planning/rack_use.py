"""What a job may take from the rack: plates named by their mark, and all that matches when the job says so."""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import TypeAlias

from lagline.planning.cautions import POUND_KG
from lagline.planning.fields import Fields, nearest, read_text, shown
from lagline.records.errors import LaglineError
from lagline.records.finding import Severity
from lagline.records.job import Part, Plate, Stock
from lagline.records.rack import RackItem, RackState, rack_mark

Rack: TypeAlias = Callable[[], tuple[RackItem, ...]]
MOST_OFFERED, MOST_NAMED, MOST_TOLD = 40, 12, 6


def no_rack() -> tuple[RackItem, ...]:
    """Return what lies on no rack at all."""
    return ()


def with_own(items: Sequence[RackItem], job: str) -> tuple[RackItem, ...]:
    """Return the items with those the job itself used as if they lay there: to look a job's text over, never to plan
    it."""
    own = (i.state is RackState.USED and i.by_job == job for i in items)
    return tuple(replace(i, state=RackState.ON) if o else i for i, o in zip(items, own, strict=True))


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
    here = {i.mark: i for i in items if i.state is RackState.ON}
    mark = rack_mark(given)
    if mark in here:
        return here[mark]
    lies = _lying(mark, here)
    gone = next((i for i in items if i.mark == mark), None)
    if gone is not None and gone.spent:
        say = f"{shown(given)} was {gone.spent}; only that very plan can be read again, unchanged"
        f.refuse("rack-gone", "rack", say, f"{lies}; `lagline rack put-back {mark}` if it was not cut after all")
    else:
        say = f"{shown(given)} is scrapped" if gone is not None else f"{shown(given)} is not on the rack"
        f.refuse("rack-unknown", "rack", say, lies)
    return None


def _lying(mark: str, here: Mapping[str, RackItem]) -> str:
    """What to name instead: the marks that lie there, the nearest in writing first when there are many."""
    if not here:
        return "nothing lies on the rack"
    if len(here) <= MOST_NAMED:
        return nearest(mark, here)
    close = ", ".join(difflib.get_close_matches(mark, here, n=3, cutoff=0.6))
    return f"{f'such as {close}; ' if close else ''}`lagline rack list` shows all {len(here)}"


def offered_to(
    f: Fields, rack: Rack, job: str, parts: tuple[Part, ...], plates: Sequence[Plate | None]
) -> tuple[RackItem, ...]:
    """Return what a job that says ``rack = true`` chooses from: items of its metals and thicknesses, least first.

    What is used up is left out, and said when it was this job that used it.
    """
    try:
        items = rack()
    except LaglineError as e:
        f.findings.extend(e.findings)
        return ()
    keys = {p.stock.key for p in parts}
    taken = {p.rack for p in plates if p is not None} | {p.name for p in plates if p is not None}
    match = [i for i in items if i.stock.key in keys and i.mark not in taken]
    fit = [i for i in match if i.state is RackState.ON]
    if spent := [i for i in match if i.state is RackState.USED and i.by_job == job]:
        told = ", ".join(f"{i.mark} by plan {i.by_plan}" for i in spent[-MOST_TOLD:])
        more = f", and {len(spent) - MOST_TOLD} before" if len(spent) > MOST_TOLD else ""
        say = f"not offered, used when this job was cut: {told}{more}"
        f.note("rack-spent", "rack", say, "`lagline rack put-back` if it was not cut after all")
    fit.sort(key=lambda i: (i.kind != "offcut", i.outline.area, int(i.mark[2:])))
    if len(fit) > MOST_OFFERED:
        say = f"{len(fit)} items match: the {MOST_OFFERED} smallest are looked at"
        f.note("rack-many", "rack", say, 'name larger ones: [[plates]] rack = "R-7"')
    if not fit and not plates and _stock_known(f):
        want = ", ".join(sorted({described(p.stock) for p in parts}))
        gone = f"; this job used {', '.join(i.mark for i in spent[-MOST_TOLD:])}" if spent else ""
        say = f"nothing on the rack is {want or 'of this metal'}{gone}"
        f.refuse("rack-empty", "rack", say, "put it there, or [[plates]]")
    return tuple(fit[:MOST_OFFERED])


def check_metal(f: Fields, plates: Sequence[Plate | None], parts: tuple[Part, ...]) -> None:
    """Refuse plates named by mark that no part may be cut from, and a mark named twice."""
    keys = {p.stock.key for p in parts}
    sure = parts and _stock_known(f)
    for p in (p for p in plates if p is not None and p.rack and sure and p.stock.key not in keys):
        want = ", ".join(sorted({described(q.stock) for q in parts}))
        f.refuse("rack-metal", f"plates {p.rack}", f"is {described(p.stock)}; no part of this job is", want)
    for mark, n in Counter(p.rack for p in plates if p is not None and p.rack).items():
        if n > 1:
            f.refuse("rack-twice", f"plates {mark}", f"is named {n} times", "once: there is one of it")


def _stock_known(f: Fields) -> bool:
    """Whether metal and thickness were said: where they were refused, parts have a stand-in that nobody gave."""
    return not any(n.severity is Severity.REFUSED and n.where.endswith((": metal", ": thickness")) for n in f.findings)


def weight(kg: float, units: str) -> str:
    """Return a weight as a shop says it: pounds with kilograms beside them for one that works in inches."""
    if units == "mm":
        return f"{kg:.1f} kg"
    pounds = kg / POUND_KG
    return f"{pounds:.{0 if pounds >= 20 else 1}f} lb ({kg:.1f} kg)"


def described(stock: Stock) -> str:
    """Return a stock in words: ``3/8" steel``."""
    return f"{stock.thickness_text} {stock.metal}"
