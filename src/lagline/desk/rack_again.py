"""A plan that was cut, read again: the very same plan keeps its plates, any other plan finds them used up."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from lagline.cards.words import plan_mark
from lagline.planning.rack_advice import from_rack
from lagline.planning.rack_use import Rack
from lagline.records.coupon import Learned
from lagline.records.errors import LaglineError
from lagline.records.finding import Finding, Severity
from lagline.records.job import Job
from lagline.records.kit import Kit
from lagline.records.plan import Plan
from lagline.records.rack import RackPast

MOST_LOOKED_AT = 3  # plans of a job that were cut: each may have to be planned again to be told from another
Read = Callable[[Rack], tuple[Job, Kit, tuple[Finding, ...]]]
Learn = Callable[[Kit], tuple[Learned, tuple[Finding, ...]]]
Make = Callable[[Job, Kit, tuple[Finding, ...], Learned], Plan]
Pasts = Callable[[str], tuple[RackPast, ...]]  # by what the job is called


def no_pasts(_job: str) -> tuple[RackPast, ...]:
    """Return the plans of a job that were cut where no book is kept: none."""
    return ()


def planned(read: Read, make: Make, learn: Learn, rack: Rack, pasts: Iterable[RackPast] = ()) -> Plan:
    """Return the plan of a job on the rack as it lies.

    Where the job, on the rack as it lay before one of its plans was cut, still gives that very plan, it is that plan,
    and says it was cut. Errors: LaglineError of ``read``, which reads job and kit with a rack, and ``make``.
    """
    for past in tuple(pasts)[:MOST_LOOKED_AT]:
        try:
            job, kit, noticed = read(lambda past=past: past.items)  # type: ignore[misc]
        except LaglineError:
            continue  # what is wrong with it is told below
        learned, found = learn(kit)
        job, chosen = from_rack(job, kit, learned)
        if not set(past.used) <= {p.rack for p in job.plates}:
            continue
        plan = make(job, kit, (*noticed, *found, *chosen, said(past)), learned)
        if is_that(plan, past):
            return plan
    job, kit, noticed = read(rack)
    learned, found = learn(kit)
    job, chosen = from_rack(job, kit, learned)
    return make(job, kit, (*noticed, *found, *chosen), learned)


def is_that(plan: Plan, past: RackPast) -> bool:
    """Return whether a plan is the one that was cut: the same mark, from the same plates, for the same job."""
    return (plan.job.name, plan_mark(plan), used_by(plan)) == (past.job, past.plan, frozenset(past.used))


def used_by(plan: Plan) -> frozenset[str]:
    """Return the marks of the rack's plates that parts of a plan lie on."""
    return frozenset(plan.job.plates[p.plate].rack for p in plan.layout.placed) - {""}


def said(past: RackPast) -> Finding:
    """Return the word that a plan was cut."""
    used = f" from {', '.join(past.used)}" if past.used else ""
    say = f"already cut{used} on {past.at[:10]}, plan {past.plan}: this is that plan again, to look at or print"
    allowed = "to cut more, change the job or give it another name: it is then planned on what lies on the rack now"
    return Finding("already-cut", Severity.CAUTION, past.job, say, allowed)
