"""Jobs on the shelf as the pages use them: cards, the demo, changing a value, a part more, files to take away."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path

from lagline.book.kept import PLAN, Kept
from lagline.book.shelf import JOB, KIT, Clash, Held, Shelf, default_folder
from lagline.desk.choice_desk import taken
from lagline.desk.choice_room import ChoiceRoom
from lagline.desk.coupon_desk import CouponDesk
from lagline.desk.demo import demo_files
from lagline.desk.kit_form import fill
from lagline.desk.new_job import KIT_TEXT, Made, Upload, add_parts, job_files, make_job
from lagline.desk.one_value import OneValue, changed
from lagline.desk.pictures import small
from lagline.desk.plan_room import PlanRoom, Work
from lagline.desk.rack_desk import RackDesk
from lagline.desk.write_out import Writer, Written, pack
from lagline.planning.fields import read_file, read_toml
from lagline.planning.job_edit import set_value
from lagline.planning.job_file import job_from_text
from lagline.planning.kit_file import kit_from_text
from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Finding
from lagline.records.job import Job
from lagline.records.plan import Plan

CARD, THUMB = "card.json", "thumb.svg"


@dataclass(frozen=True, slots=True)
class Summary:
    """A plan in one line."""

    go: bool
    minutes: tuple[float, float, float]  # low, best, high
    cost: tuple[float, float, float]
    currency: str
    setups: int
    left_over: int


@dataclass(frozen=True, slots=True)
class JobCard:
    """A job on the start page. ``summary`` is None when it is not planned as it stands."""

    slug: str
    name: str
    parts: int
    metal: str
    summary: Summary | None
    fingerprint: str
    fault: str = ""


def summary_of(plan: Plan) -> Summary:
    """Return a plan in one line."""
    t = plan.totals
    return Summary(
        plan.go,
        (t.minutes.low, t.minutes.value, t.minutes.high),
        (t.cost.low, t.cost.value, t.cost.high),
        plan.kit.bench.currency,
        len(plan.steps),
        sum(n for _, n in plan.layout.unplaced),
    )


class JobDesk:
    """The jobs of one shelf and their plans."""

    def __init__(self, root: Path | None = None) -> None:
        home = root if root is not None else default_folder()
        self.shelf = Shelf(home)
        self.kept = Kept(home / "kept")
        coupons = CouponDesk(home)
        self.rack = RackDesk(home)
        self.room = PlanRoom(
            self.shelf, self.kept, learn=coupons.learned_for, coupons=coupons.stamp, rack=self.rack.items,
            lying=self.rack.stamp,
        )  # fmt: skip
        self.choices = ChoiceRoom(self.shelf, self.room.fingerprint, learn=coupons.learned_for, rack=self.rack.items)
        self.writer = Writer(self.kept)

    # ---- looking ----

    def cards(self, most: int = 200) -> tuple[JobCard, ...]:
        """Return the jobs, last changed first. Errors: LaglineError when the shelf cannot be read."""
        return tuple(self.card(slug) for slug in self.shelf.slugs()[:most])

    def card(self, slug: str) -> JobCard:
        try:
            text = self.shelf.read(slug, JOB).text
            fingerprint = self.room.fingerprint(slug)
            job = read_toml(text, JOB)
        except LaglineError as e:
            return JobCard(slug, slug, 0, "", None, "", str(e.findings[0]))
        stock, parts = job.get("stock"), job.get("parts")
        metal = ""
        if isinstance(stock, dict):
            thick = str(stock.get("thickness", ""))[:30]
            bare = thick and not any(c.isalpha() or c in '"\u2033' for c in thick)  # its unit is the job's
            unit = f" {str(job.get('units', 'in'))[:2]}" if bare else ""
            metal = f"{thick}{unit} {str(stock.get('metal', ''))[:30]}".strip()
        name = str(job.get("name") or slug)[:80]
        number = len(parts) if isinstance(parts, list) else 0
        if self.kept.get(fingerprint, CARD) is None and self.kept.get(fingerprint, PLAN) is not None:
            self._note(self.room.work(slug))  # planned while nobody looked at its page
        return JobCard(slug, name, number, metal, self.summary(fingerprint), fingerprint)

    def _note(self, work: Work) -> None:
        if work.plan is not None:
            self.note_plan(work)

    def summary(self, fingerprint: str) -> Summary | None:
        """Return what is known of a plan by its fingerprint, None when it was not made."""
        try:
            data = self.kept.get(fingerprint, CARD)
        except ValueError:
            return None
        if data is None:
            return None
        try:
            d = json.loads(data)
            return Summary(**{k: tuple(v) if isinstance(v, list) else v for k, v in d.items()})
        except (ValueError, TypeError):
            return None

    def note_plan(self, work: Work) -> Summary:
        """Keep a done plan's line and small picture for the start page, and return the line."""
        assert work.plan is not None
        made = summary_of(work.plan)
        if self.kept.get(work.fingerprint, THUMB) is None:
            self.kept.put(work.fingerprint, CARD, json.dumps(asdict(made)).encode())
            first = next(iter(work.pictures.values()), "")
            self.kept.put(work.fingerprint, THUMB, small(first).encode())
        return made

    def thumb(self, slug: str) -> str:
        """Return the small picture of a planned job, empty when there is none."""
        data = self.kept.get(self.room.fingerprint(slug), THUMB)
        return data.decode() if data else ""

    # ---- new ----

    def add_demo(self) -> str:
        """Put the demo on the shelf, or find it there unchanged, and return its slug."""
        return self.add_files("slipway cradle repair", demo_files())

    def add_files(self, name: str, files: Mapping[str, bytes]) -> str:
        """Put a job's files on the shelf, or find the same ones there, and return its slug."""
        names = tuple(n for n in (JOB, KIT) if n in files) + tuple(sorted(set(files) - {JOB, KIT}))
        for slug in self.shelf.slugs():
            if self.shelf.names(slug) == names and all(
                self.shelf.path(slug, n).read_bytes() == data for n, data in files.items()
            ):
                return slug
        return self.shelf.add(name, files)

    def shelve(self, job_path: Path, kit_path: Path | None = None, plan: Plan | None = None) -> str:
        """Copy a job from its own folder onto the shelf, drawings and kit with it, and return its slug.

        ``plan`` is what was made of it already: the pages then show the very plan of the card.
        Errors: LaglineError for a job that cannot be read.
        """
        text = read_file(job_path)
        job, files = read_toml(text, job_path.name), {}
        for key in ("parts", "plates"):
            tables = job.get(key)
            for i, table in enumerate(tables if isinstance(tables, list) else []):
                given = table.get("file") if isinstance(table, dict) else None
                if not isinstance(given, str):
                    continue
                name = Path(given).name
                data = (job_path.parent / given).read_bytes()
                if files.get(name, data) != data:
                    name = f"{key}-{i + 1}-{name}"  # the shelf has no folders, and two had the same name
                files[name] = data
                if name != given:
                    text = set_value(text, (key, i, "file"), name)
        kit = kit_path or job_path.parent / KIT
        if kit.is_file():
            files[KIT] = read_file(kit).encode()
        files[JOB] = text.encode()
        slug = self.add_files(str(job.get("name") or job_path.stem), files)
        if plan is not None:
            self.kept.put_plan(self.room.fingerprint(slug), plan)
            self._note(self.room.work(slug))
        return slug

    def add_job(
        self, kind: str, given: Mapping[str, str], drawings: tuple[Upload, ...], offcut: tuple[Upload, ...]
    ) -> str:
        """Make a job from a page's fields and return its slug. Errors: see :func:`make_job`, :meth:`Shelf.add`."""
        findings: list[Finding] = []
        made, kit = None, KIT_TEXT
        try:
            made = make_job(kind, given, drawings, offcut)
        except LaglineError as e:
            findings.extend(e.findings)
        try:
            # a length without a unit is meant in the unit of the page it was typed on
            units = {"kit.units": "mm"} if given.get("units") == "mm" else {}
            kit = fill(KIT_TEXT, {**given, **units})
            kit_from_text(kit, KIT)
        except LaglineError as e:
            findings.extend(e.findings)
        if made is None or findings:
            raise LaglineError(*findings)
        return self.shelf.add(str(read_toml(made.text, JOB).get("name")), job_files(made, kit))

    def add_part(
        self, slug: str, kind: str, given: Mapping[str, str], drawings: tuple[Upload, ...], based_on: str
    ) -> Held | Clash:
        """Add a part to a job, one for each drawing. Errors: see :func:`add_parts`."""
        held = self.shelf.read(slug, JOB)
        made, _ = add_parts(held.text, self.shelf.folder(slug), kind, given, drawings)
        if held.mark != based_on:
            return Clash(held, made.text)
        return self._keep(slug, made, based_on)

    def _keep(self, slug: str, made: Made, based_on: str) -> Held | Clash:
        for name, data in made.drawings.items():
            self.shelf.keep_drawing(slug, name, data)
        return self.shelf.save(slug, JOB, made.text, based_on)

    # ---- changing ----

    def change(self, slug: str, key: str, given: Mapping[str, str], based_on: str) -> tuple[OneValue, Held | Clash]:
        """Change one value of a job or kit; nothing is saved when the result could not be planned.

        Returns the value as it stood, and the file as saved or the clash.
        Errors: LaglineError for a value that will not do; the files are then as they were.
        """
        job, kit = self.shelf.read(slug, JOB), self.shelf.read(slug, KIT)
        one, text = changed(job.text, kit.text, key, given)
        self.check(slug, one.file, text)
        return one, self.shelf.save(slug, one.file, text, based_on)

    def edit(
        self, slug: str, make: Callable[[str], str], based_on: str, also: Callable[[Job], None] = lambda _: None
    ) -> Held | Clash:
        """Save a job's text as ``make`` returns it from the present one; not when it could not be planned.

        Errors: LaglineError of ``make``, of the text it makes, or of ``also``, which is shown the job read from it; the
        file is then as it was.
        """
        held = self.shelf.read(slug, JOB)
        text = make(held.text)
        also(job_from_text(text, self.shelf.folder(slug), JOB, rack=self.rack.items, own=True)[0])
        return Clash(held, text) if held.mark != based_on else self.shelf.save(slug, JOB, text, based_on)

    def take_choice(self, slug: str, layout: str, seed: str, based_on: str) -> Held | Clash:
        """Write a way to lay the job out into its file. Errors: see :func:`taken` and :meth:`edit`."""
        before = self.room.fingerprint(slug)
        done = self.edit(slug, lambda text: taken(text, layout, seed), based_on)
        if isinstance(done, Held):
            self.choices.carry(slug, before)
        return done

    def fill_kit(self, slug: str, given: Mapping[str, str], based_on: str) -> Held | Clash:
        """Fill in the kit from its page; nothing is saved when it could not be used. Errors: see :func:`fill`."""
        held = self.shelf.read(slug, KIT)
        text = fill(held.text, given)
        kit_from_text(text, KIT)
        if held.mark != based_on:
            return Clash(held, text)
        return self.shelf.save(slug, KIT, text, based_on)

    def check(self, slug: str, file: str, text: str) -> tuple[Finding, ...]:
        """Return the notes on a job or kit text; LaglineError when it could not be planned."""
        if file == JOB:
            return job_from_text(text, self.shelf.folder(slug), JOB, rack=self.rack.items, own=True)[1]
        if file == KIT:
            return kit_from_text(text, KIT)[1]
        raise refuse("file-unknown", file[:60], "is not a text that is edited here", f"{JOB} or {KIT}")

    # ---- taking away ----

    def outputs(self, slug: str) -> Written | None:
        """Return the files of a planned job when they are written; None while they are being written.

        Errors: LaglineError when the job is not planned or the files could not be written.
        """
        plan, fingerprint = self._planned(slug)
        done = self.writer.ready(fingerprint)
        if done is None:
            self.writer.begin(fingerprint, plan)
        return done

    def write_again(self, slug: str) -> None:
        """Try anew to write files that could not be made."""
        self.writer.again(self.room.fingerprint(slug))

    def _planned(self, slug: str) -> tuple[Plan, str]:
        plan = self.room.known(slug)
        if plan is None:
            raise refuse("not-planned", slug, "the job is not planned as it stands", "open its page: that plans it")
        return plan, self.room.fingerprint(slug)

    def file(self, slug: str, name: str) -> bytes:
        """Return one of a job's files: its texts and drawings, or one made from its plan, waited for.

        Errors: LaglineError for a name it has not, naming those it has.
        """
        if name in self.shelf.names(slug):
            return self.shelf.path(slug, name).read_bytes()
        plan, fingerprint = self._planned(slug)
        written = self.writer.files(fingerprint, plan)
        made = written.files
        if failed := [f for f in written.findings if f.where == name]:
            raise LaglineError(*failed)
        if name not in made:
            known = ", ".join((*self.shelf.names(slug), *made))
            raise refuse("file-unknown", slug, f'there is no file "{name[:60]}"', known)
        return made[name]

    def all_files(self, slug: str) -> bytes:
        """Return everything of a job in one zip, waited for."""
        own = {n: self.shelf.path(slug, n).read_bytes() for n in self.shelf.names(slug)}
        plan, fingerprint = self._planned(slug)
        return pack(own | self.writer.files(fingerprint, plan).files)

    def close(self) -> None:
        """Stop planning, looking for choices and writing."""
        self.room.close()
        self.choices.close()
        self.writer.close()
