"""Looking for ways to lay a job out, in the background: one search at work, what it found so far to be looked at.

A search is known by the fingerprint of the job's inputs, and kept in memory only: it can be made again.
"""

from __future__ import annotations

import logging
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field

from lagline.book.shelf import Shelf
from lagline.desk.choice_desk import Choices, choices_of, used_now, way_pictures
from lagline.desk.plan_room import State, read_inputs
from lagline.desk.planner import Learn, no_coupons
from lagline.planning.frontier import Choice
from lagline.planning.rack_use import Rack, no_rack
from lagline.records.errors import LaglineError
from lagline.records.finding import Finding, Severity
from lagline.records.job import Job
from lagline.records.plan import Plan

log = logging.getLogger(__name__)
MOST_IN_MIND = 8


@dataclass(frozen=True, slots=True)
class Way:
    """One way, drawn: a picture for each plate it uses."""

    choice: Choice
    pictures: dict[int, str]


@dataclass
class Search:
    """One search. Written by its thread, read by the pages."""

    slug: str
    fingerprint: str
    state: State = State.WAITING
    stage: str = "waiting for the search before it"
    share: float = 0.0
    found: Choices | None = None
    ways: tuple[Way, ...] = ()
    findings: tuple[Finding, ...] = ()
    stop: threading.Event = field(default_factory=threading.Event)
    over: threading.Event = field(default_factory=threading.Event)

    @property
    def at_work(self) -> bool:
        return not self.over.is_set()

    def used(self, job: Job, plan: Plan | None) -> Choice | None:
        """Return the way a job is laid out by as it stands now, None when it is none of these."""
        return used_now(job, tuple(w.choice for w in self.ways), plan)


class ChoiceRoom:
    """The searches of a shelf. One at a time: a bench computer has other things to do."""

    def __init__(
        self,
        shelf: Shelf,
        fingerprint: Callable[[str], str],
        make: Callable[..., Choices] = choices_of,
        learn: Learn = no_coupons,
        rack: Rack = no_rack,
    ) -> None:
        """``fingerprint`` tells a job's inputs as they are now from any other; ``rack`` says what lies on the rack."""
        self.shelf, self._fingerprint, self._make, self._learn = shelf, fingerprint, make, learn
        self._rack = rack
        self._searches: OrderedDict[str, Search] = OrderedDict()
        self._lock = threading.Lock()
        self._at_work = threading.Lock()

    def search(self, slug: str) -> Search:
        """Return the search for a job as its files are now: over, at work, or begun by this call.

        Errors: LaglineError when the job is not on the shelf or its files cannot be read.
        """
        fingerprint = self._fingerprint(slug)
        key = f"{slug} {fingerprint}"
        with self._lock:
            if key in self._searches:
                self._searches.move_to_end(key)
                return self._searches[key]
            for other in self._searches.values():
                if other.slug == slug:
                    other.stop.set()
            search = self._searches[key] = Search(slug, fingerprint)
            while len(self._searches) > MOST_IN_MIND:
                self._searches.popitem(last=False)[1].stop.set()
        threading.Thread(target=self._run, args=(search,), name="choices", daemon=True).start()
        return search

    def stop(self, slug: str) -> None:
        """Ask the searches for a job to stop; what they found stays."""
        with self._lock:
            for search in self._searches.values():
                if search.slug == slug and search.at_work:
                    search.stop.set()

    def again(self, slug: str) -> None:
        """Forget searches that were stopped or failed, so that the next look begins anew."""
        with self._lock:
            for key, search in list(self._searches.items()):
                if search.slug == slug and search.state in (State.STOPPED, State.FAILED):
                    del self._searches[key]

    def carry(self, slug: str, before: str) -> None:
        """Keep the search known under the fingerprint ``before`` for the job as it is now: only which way it is laid
        out by has changed, not what there is to choose from."""
        after = self._fingerprint(slug)
        with self._lock:
            search = self._searches.get(f"{slug} {before}")
            if search is not None:
                self._searches[f"{slug} {after}"] = search

    def close(self) -> None:
        """Stop everything."""
        with self._lock:
            for search in self._searches.values():
                search.stop.set()

    def _run(self, search: Search) -> None:
        with self._at_work:
            try:
                if not search.stop.is_set():
                    self._one(search)
                self._end(search, State.STOPPED if search.stop.is_set() else State.DONE)
            except LaglineError as error:
                search.findings = error.findings
                self._end(search, State.REFUSED)
            except BaseException:  # a solver that panics raises no Exception, and the pages must live on
                log.exception("looking for ways to lay out %s failed", search.slug)
                say = f'the program failed while "{search.stage}"; your files are as they were'
                allowed = "take one of those found, or look again; the log on the terminal says more"
                search.findings = (Finding("choices-failed", Severity.REFUSED, search.slug, say, allowed),)
                self._end(search, State.FAILED)

    def _one(self, search: Search) -> None:
        search.state, search.stage = State.WORKING, "reading the files"
        job, kit, noticed = read_inputs(self.shelf.folder(search.slug), self._rack)
        learned, more = self._learn(kit)
        drawn: dict[tuple[str, int], dict[int, str]] = {}

        def tell(share: float, text: str) -> None:
            search.share, search.stage = share, text

        def found(choices: Choices) -> None:
            ways = []
            for c in choices.ways:
                key = (c.method, c.seed)
                if key not in drawn:
                    drawn[key] = way_pictures(choices, c)
                ways.append(Way(c, drawn[key]))
            search.found, search.ways = choices, tuple(ways)

        found(self._make(job, kit, (*noticed, *more), learned=learned, tell=tell, stop=search.stop.is_set, found=found))
        search.share = 1.0

    def _end(self, search: Search, state: State) -> None:
        search.state = state
        search.over.set()
