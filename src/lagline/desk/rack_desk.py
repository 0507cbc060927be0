"""The rack at the desk: items added, scrapped, put back; a job that was cut; which items a job should use. For command
and page alike."""

from __future__ import annotations

import contextlib
import datetime
import hashlib
import tempfile
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from lagline.book.rack import KeptItem, RackBook, RackCut
from lagline.book.shelf import JOB, check_drawing, default_folder
from lagline.desk.new_job import Upload
from lagline.desk.planner import Learn, no_coupons, read_files
from lagline.desk.rack_cut import PlanCut, cut_of
from lagline.planning.fields import read_toml
from lagline.planning.job_file import job_name, rack_marks, takes_from_rack
from lagline.planning.rack_advice import Advice, Told, advise, laid_as_planned
from lagline.planning.rack_read import holes_of, item_from_fields
from lagline.planning.rack_use import described
from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Finding
from lagline.records.job import Job
from lagline.records.kit import Kit
from lagline.records.plan import Plan
from lagline.records.rack import RackItem, RackPast, RackState

MOST_AT_ONCE = 100
LARGEST_PLAN = 60_000_000


@dataclass(frozen=True, slots=True)
class Added:
    """Items as they were kept, and what was noticed about them."""

    items: tuple[RackItem, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Advised:
    """Advice for a job, with a word on every item that lies on the rack, and the money of the kit."""

    job: Job
    kit: Kit
    advice: Advice
    told: tuple[Told, ...]


class RackDesk:
    """The rack of one data folder (the shelf's unless told)."""

    def __init__(self, root: Path | None = None) -> None:
        self.book = RackBook(root if root is not None else default_folder())

    # ---- looking ----

    def all(self) -> tuple[KeptItem, ...]:
        """Return every item there ever was."""
        return self.book.all()

    def get(self, mark: str) -> KeptItem:
        """Return one item with its history. Errors: LaglineError for an unknown mark."""
        return self.book.get(mark)

    def items(self) -> tuple[RackItem, ...]:
        """Return every item as it is now: what a job's reader asks for."""
        return tuple(k.item for k in self.book.all())

    def pasts(self, job: str) -> tuple[RackPast, ...]:
        """Return the plans of a job that were cut, the last first. Errors: LaglineError as :meth:`all`."""
        return self.book.pasts(job)

    def stamp(self, job_text: str) -> tuple[str, tuple[tuple[RackPast, str], ...]]:
        """Return a text that changes whenever what a job may take from the rack does, "" for one that takes nothing;
        and for each of its plans that was cut the text as it was before."""
        try:
            if not takes_from_rack(job_text):
                return "", ()
            name, named, chooses = job_name(job_text, JOB), rack_marks(job_text), "rack" in read_toml(job_text, JOB)
            items, pasts = self.items(), self.pasts(name)
        except LaglineError:
            return "", ()

        def told(items: tuple[RackItem, ...]) -> str:
            seen = [
                i for i in items
                if i.mark in named or (chooses and (i.state is RackState.ON or i.by_job == name))
            ]  # fmt: skip
            said = [(i.mark, i.kind, i.outline, i.stock, i.worth, i.called, i.state, i.by_job, i.by_plan) for i in seen]
            return hashlib.sha256(repr(said).encode()).hexdigest()

        return told(items), tuple((p, told(p.items)) for p in pasts)

    # ---- adding ----

    def add(self, data: Mapping[str, object], where: str, folder: Path, copies: int = 1, **more: bool) -> Added:
        """Put an item on the rack, given as named values (see ``rack_read.item_from_fields``), as often as there are
        copies of it. Errors: LaglineError for what cannot be true or cannot be kept."""
        if not 1 <= copies <= MOST_AT_ONCE:
            raise refuse("field-bad", "copies", f"{copies} of them", f"1 to {MOST_AT_ONCE} at once")
        item, findings = item_from_fields(data, where, folder, _today(), **more)
        return Added(self.book.add(*[item] * copies), findings)

    def add_form(self, given: Mapping[str, str], drawings: tuple[Upload, ...]) -> Added:
        """Put an item on the rack, given as a form: by a drawing when there is one, else by size. Errors as above."""
        data: dict[str, object] = {k: v.strip() for k, v in given.items() if v.strip() and k in _FORM}
        copies = given.get("copies", "").strip() or "1"
        if not (copies.isascii() and copies.isdecimal() and len(copies) < 5):
            raise refuse("field-bad", "copies", f'"{copies[:20]}" is not a number of pieces', f"1 to {MOST_AT_ONCE}")
        if holes := holes_of(given.get("holes", "").splitlines(), "hole"):
            data["holes"] = holes
        with tempfile.TemporaryDirectory(prefix="lagline-") as made:
            folder = Path(made)
            for d in drawings[:1]:
                name = check_drawing(Path(d.name.replace("\\", "/")).name, d.data, "drawing")
                (folder / name).write_bytes(d.data)
                data |= {"file": name}
            return self.add(data, "form", folder, int(copies))

    # ---- changing, each by a row of its own that can be taken back ----

    def scrap(self, mark: str, why: str = "") -> RackItem:
        """Say an item is scrapped."""
        return self.book.scrap(mark, why)

    def put_back(self, mark: str, why: str = "") -> RackItem:
        """Put a used or scrapped item back."""
        return self.book.put_back(mark, why)

    # ---- a job that was cut ----

    def cuts_of(self, plan_mark: str, job: str, used: Iterable[str]) -> tuple[RackCut, ...]:
        """Return when a plan was cut from these items; none when the book cannot be read."""
        wanted = (plan_mark, job, frozenset(used))
        with contextlib.suppress(LaglineError):
            return tuple(c for c in self.book.cuts() if (c.plan, c.job, frozenset(c.used)) == wanted)
        return ()

    def cut_plan(self, plan: Plan, *, again: bool = False, anyway: bool = False) -> RackCut:
        """Write that a plan was cut: its plates used, its offcuts on the rack; once, unless ``again``.

        Errors: LaglineError for a plan that is a no-go, unless it was cut ``anyway``; for plates used meanwhile.
        """
        from lagline.cards.plan_json import to_json

        return self._cut(cut_of(to_json(plan), plan.job.name, _today().isoformat()), again=again, anyway=anyway)

    def cut_file(self, path: Path, *, again: bool = False, anyway: bool = False) -> RackCut:
        """Write that the plan of a plan.json was cut. Errors as :meth:`cut_plan`, and for a file that is no plan."""
        return self._cut(cut_of(_read(path), path.name, _today().isoformat()), again=again, anyway=anyway)

    def _cut(self, told: PlanCut, *, again: bool, anyway: bool) -> RackCut:
        if not told.go and not anyway and not self.cuts_of(told.plan, told.job, told.used):
            say = f"plan {told.plan} is a no-go as it stands: nothing was written"
            raise refuse("plan-no-go", told.job, say, "mend the plan first, or say it was cut anyway")
        return self.book.cut(told.job, told.plan, told.used, told.offcuts, again=again)

    # ---- advice ----

    def advise_file(self, job_path: Path, kit_path: Path | None = None, learn: Learn = no_coupons) -> Advised:
        """Return which items of the rack a job should use, whether or not it says ``rack = true``.

        Errors: LaglineError when a file or the book cannot be used.
        """
        job, kit, _ = read_files(job_path, kit_path, self.items, choose=True)
        learned, _ = learn(kit)
        advice = laid_as_planned(advise(job, kit, learned), kit, learned)
        return Advised(job, kit, advice, _every(advice, job, self.items()))


def rack_pasts(job: str) -> tuple[RackPast, ...]:
    """Return the plans of a job that were cut, by the book of the usual folder. Errors: LaglineError as above."""
    return RackDesk().pasts(job)


def rack_items() -> tuple[RackItem, ...]:
    """Return what lies, or lay, on the rack of the usual folder. Errors: LaglineError when the book cannot be read."""
    return RackDesk().items()


_FORM = ("units", "kind", "width", "height", "diagonals", "metal", "grade", "thickness", "coating", "name", "heat",
         "place", "date", "worth", "note")  # fmt: skip


def _every(advice: Advice, job: Job, items: tuple[RackItem, ...]) -> tuple[Told, ...]:
    """What is said of the items offered, then of every other one that lies on the rack."""
    told = {t.mark: t for t in advice.told}
    keys = {p.stock.key for p in job.parts}
    named = {p.rack for p in job.plates} - {m for m, _ in job.rack}
    for i in (i for i in items if i.mark not in told and i.state is RackState.ON):
        if i.mark in named:
            told[i.mark] = Told(i.mark, True, "used: the job names it")
        elif i.stock.key not in keys:
            told[i.mark] = Told(i.mark, False, f"not used: it is {described(i.stock)}")
        else:
            told[i.mark] = Told(i.mark, False, "not looked at: there are many smaller ones, or a plate is called so")
    for i in (i for i in items if i.state is RackState.USED and i.by_job == job.name and i.stock.key in keys):
        told[i.mark] = Told(i.mark, False, f"gone: this job used it, plan {i.by_plan}")
    return tuple(told.values())


def _today() -> datetime.date:
    return datetime.date.today()


def _read(path: Path) -> str:
    """A plan.json's text: larger than any file people write themselves."""
    allowed = "a plan.json, as `lagline plan JOB --out DIR` writes it"
    try:
        if path.is_dir():
            raise refuse("file-unreadable", str(path), "is a folder", allowed)
        if path.stat().st_size > LARGEST_PLAN:
            raise refuse("file-unreadable", str(path), f"is over {LARGEST_PLAN // 10**6} MB", allowed)
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError:
        raise refuse("file-unreadable", str(path), "is not plain text", allowed) from None
    except (OSError, ValueError) as e:
        why = e.strerror if isinstance(e, OSError) and e.strerror else "cannot be opened"
        raise refuse("file-unreadable", str(path), f"cannot be read: {why.lower()}", allowed) from None
