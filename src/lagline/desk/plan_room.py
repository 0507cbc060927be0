"""Planning in the background: one plan at work, its progress and first picture to be looked at, stopped on request.

A plan is known by the fingerprint of its inputs; asked for twice it is made once, and kept over a restart.
"""

from __future__ import annotations

import contextlib
import logging
import queue
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path

from lagline import __version__
from lagline.book.kept import Kept
from lagline.book.shelf import JOB, Shelf
from lagline.desk.pictures import draw_plate, preview_pictures, used_plates
from lagline.desk.planner import Learn, find_kit, no_coupons
from lagline.desk.rack_again import is_that, planned
from lagline.planning.chain import Progress, Stopped, plan
from lagline.planning.fields import read_file
from lagline.planning.job_file import job_from_text
from lagline.planning.kit_file import generic_kit
from lagline.planning.rack_use import Rack, no_rack
from lagline.records.coupon import Learned
from lagline.records.errors import LaglineError
from lagline.records.finding import Finding, Severity
from lagline.records.job import Job
from lagline.records.kit import Kit
from lagline.records.plan import Plan
from lagline.records.rack import RackPast

log = logging.getLogger(__name__)
MOST_IN_MIND = 24
NEXT_LOOK_S = 1.0  # a better layout is drawn no sooner after the one before
SALT = f"lagline {__version__}"


# how the rack lies for a job's text, and for each plan of the job that was cut how it lay before
Lying = Callable[[str], tuple[str, tuple[tuple[RackPast, str], ...]]]


class State(StrEnum):
    """How far a piece of work is."""

    WAITING = "waiting for the plan before it"
    WORKING = "planning"
    DONE = "done"
    REFUSED = "refused"
    STOPPED = "stopped"
    FAILED = "failed"


@dataclass
class Work:
    """One plan being made. Written by the worker, read by the pages."""

    slug: str
    fingerprint: str
    state: State = State.WAITING
    stage: str = "waiting"
    share: float = 0.0
    pictures: dict[int, str] = field(default_factory=dict)  # by plate; the best layout so far until there is a plan
    plan: Plan | None = None
    findings: tuple[Finding, ...] = ()
    stop: threading.Event = field(default_factory=threading.Event)
    seen: threading.Event = field(default_factory=threading.Event)  # there is something to look at
    over: threading.Event = field(default_factory=threading.Event)

    @property
    def at_work(self) -> bool:
        return not self.over.is_set()


def read_inputs(folder: Path, rack: Rack = no_rack, *, own: bool = False) -> tuple[Job, Kit, tuple[Finding, ...]]:
    """Read the job and kit of a job's folder; drawings outside it are refused. ``rack`` says what lies on the rack;
    with ``own``, to look a job over, what it used itself as well.

    Errors: LaglineError with the findings of both files together.
    """
    refused: list[Finding] = []
    noticed: list[Finding] = []
    job = kit = None
    try:
        job, found = job_from_text(read_file(folder / JOB), folder, JOB, rack=rack, own=own)
        noticed.extend(found)
    except LaglineError as error:
        refused.extend(error.findings)
    try:
        kit, found = find_kit(folder / JOB, None)
        noticed.extend(found)
    except LaglineError as error:
        refused.extend(error.findings)
    if job is None or kit is None:
        raise LaglineError(*refused)
    return job, kit, tuple(noticed)


class PlanRoom:
    """The plans of a shelf. One worker: a bench computer has other things to do."""

    def __init__(
        self,
        shelf: Shelf,
        kept: Kept,
        make: Callable[..., Plan] = plan,
        learn: Learn = no_coupons,
        coupons: Callable[[], str] = lambda: "",
        rack: Rack = no_rack,
        lying: Lying = lambda _: ("", ()),
    ) -> None:
        """``learn`` says what the bench's coupons teach, ``coupons`` tells one state of them from another; ``rack``
        what lies on the rack, ``lying`` tells one state of it, as far as a job's text takes from it, from another, and
        so for each plan of the job that was cut."""
        self.shelf, self.kept, self._make, self.learn, self._coupons = shelf, kept, make, learn, coupons
        self._rack, self._lying = rack, lying
        self._same: dict[tuple[str, str], bool] = {}  # whether a fingerprint's plan is one that was cut
        self._works: OrderedDict[str, Work] = OrderedDict()
        self._queue: queue.SimpleQueue[Work | None] = queue.SimpleQueue()
        self._lock = threading.Lock()
        self._worker: threading.Thread | None = None

    def fingerprint(self, slug: str) -> str:
        """Return what tells a job's inputs as they are now, coupons included, from any other.

        Inputs whose plan was cut keep the fingerprint they had before, though the rack is another since.
        """
        now, pasts = self._rack_told(slug)
        for past, before in pasts:
            was = self._print(slug, before)
            if (was, past.plan) not in self._same and (plan := self.kept.get_plan(was)) is not None:
                self._same[was, past.plan] = is_that(plan, past)
            if self._same.get((was, past.plan)):
                return was
        return self._print(slug, now)

    def _print(self, slug: str, taken: str) -> str:
        return self.shelf.fingerprint(slug, f"{SALT} {self._coupons()}{taken}")

    def _rack_told(self, slug: str) -> tuple[str, tuple[tuple[RackPast, str], ...]]:
        with contextlib.suppress(LaglineError):  # a text that cannot be read is told when it is planned
            return self._lying(self.shelf.read(slug, JOB).text)
        return "", ()

    def work(self, slug: str) -> Work:
        """Return the work on a job as its files are now: done, at work, or begun by this call.

        Errors: LaglineError when the job is not on the shelf or its files cannot be read.
        """
        fingerprint = self.fingerprint(slug)
        key = f"{slug} {fingerprint}"
        with self._lock:
            known = self._works.get(key)
            if known is not None:
                self._works.move_to_end(key)
                return known
            work = Work(slug, fingerprint)
            kept = self.kept.get_plan(fingerprint)
            if kept is not None:
                work.plan, work.findings, work.share = kept, kept.findings, 1.0
                work.pictures = self._draw(fingerprint, kept)
                self._end(work, State.DONE)
            for other in self._works.values():
                if other.slug == slug:
                    other.stop.set()
            self._works[key] = work
            while len(self._works) > MOST_IN_MIND:
                self._works.popitem(last=False)[1].stop.set()
            if work.at_work:
                if self._worker is None or not self._worker.is_alive():
                    self._worker = threading.Thread(target=self._run, name="planning", daemon=True)
                    self._worker.start()
                self._queue.put(work)
        return work

    def known(self, slug: str) -> Plan | None:
        """Return the job's plan if it is made already, else None. Errors as :meth:`work`."""
        fingerprint = self.fingerprint(slug)
        with self._lock:
            work = self._works.get(f"{slug} {fingerprint}")
        return work.plan if work is not None else self.kept.get_plan(fingerprint)

    def stop(self, slug: str) -> None:
        """Ask the work on a job to stop."""
        with self._lock:
            for work in self._works.values():
                if work.slug == slug and work.at_work:
                    work.stop.set()

    def again(self, slug: str) -> None:
        """Forget work on a job that was stopped or failed, so that the next look begins anew."""
        with self._lock:
            for key, work in list(self._works.items()):
                if work.slug == slug and work.state in (State.STOPPED, State.FAILED):
                    del self._works[key]

    def close(self) -> None:
        """Stop everything and let the worker go."""
        with self._lock:
            for work in self._works.values():
                work.stop.set()
            self._queue.put(None)

    def _run(self) -> None:
        while (work := self._queue.get()) is not None:
            if work.stop.is_set():
                self._end(work, State.STOPPED)
                continue
            try:
                self._one(work)
            except Stopped:
                self._end(work, State.STOPPED)
            except LaglineError as error:
                work.findings = error.findings
                self._end(work, State.REFUSED)
            except BaseException:  # a solver that panics raises no Exception, and the pages must live on
                log.exception("planning %s failed", work.slug)
                work.findings = (
                    Finding(
                        "planning-failed",
                        Severity.REFUSED,
                        work.slug,
                        f'the program failed while "{work.stage}"; your files are as they were',
                        "change what you changed last, or plan again; the log on the terminal says more",
                    ),
                )
                self._end(work, State.FAILED)

    def _one(self, work: Work) -> None:
        work.state, work.stage = State.WORKING, "reading the files"
        drawn, again = None, 0.0  # the layout on the page, and when a better one may take its place

        def read(rack: Rack) -> tuple[Job, Kit, tuple[Finding, ...]]:
            inputs = read_inputs(self.shelf.folder(work.slug), rack)
            if inputs[0].rack:
                work.stage = "looking over the rack"
            return inputs

        def make(job: Job, kit: Kit, noticed: tuple[Finding, ...], learned: Learned) -> Plan:
            def tell(progress: Progress) -> None:
                nonlocal drawn, again
                work.stage, work.share = progress.stage, progress.share
                now = time.monotonic()
                if progress.layout in (None, drawn) or (now < again and not work.stop.is_set()):
                    return
                drawn, again = progress.layout, now + NEXT_LOOK_S
                work.pictures = preview_pictures(job, kit, progress.blanks, progress.layout)
                work.seen.set()

            return self._make(job, kit, noticed, learned=learned, tell=tell, stop=work.stop.is_set)

        _, pasts = self._rack_told(work.slug)
        made = planned(read, make, self.learn, self._rack, [p for p, _ in pasts])
        work.stage = "drawing the plates"
        same = self.shelf.has(work.slug) and self.fingerprint(work.slug) == work.fingerprint
        work.pictures = self._draw(work.fingerprint, made, keep=same)
        if same:
            self.kept.put_plan(work.fingerprint, made)
        work.plan, work.findings, work.share = made, made.findings, 1.0
        self._end(work, State.DONE)

    def _draw(self, fingerprint: str, plan: Plan, *, keep: bool = True) -> dict[int, str]:
        """Return the pictures of a plan's plates, from what is kept where it can."""
        out = {}
        for i in used_plates(plan):
            name = f"screen-{i}.svg"
            kept = self.kept.get(fingerprint, name) if keep else None
            out[i] = kept.decode() if kept is not None else draw_plate(plan, i)
            if kept is None and keep:
                self.kept.put(fingerprint, name, out[i].encode())
        return out

    def _end(self, work: Work, state: State) -> None:
        work.state = state
        work.over.set()
        work.seen.set()


_SMALLEST = """
units = "mm"
stock = { metal = "steel", thickness = 6 }
parts = [{ shape = "disc", diameter = 80 }, { shape = "rectangle", width = 90, height = 60 }]
plates = [{ width = 300, height = 200 }]
"""


def warm_up() -> None:
    """Plan a small job and forget it: the slow libraries are then loaded before somebody waits for them."""
    from lagline.planning.heat import heat_of

    job, _ = job_from_text(_SMALLEST, Path(), JOB)
    heat_of(plan(job, generic_kit()))
