"""Coupons at the desk: entered, corrected, set aside, what they teach, whether a tip is going. For command and page."""

from __future__ import annotations

import contextlib
import datetime
import gzip
import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from lagline import __version__
from lagline.book.coupons import CouponBook, KeptCoupon, same_measured
from lagline.book.kept import Kept
from lagline.book.learned_text import learned_from_text, learned_text
from lagline.book.shelf import default_folder
from lagline.planning.coupon_read import coupon_from_fields, coupon_from_form, coupon_from_words, read_coupon
from lagline.records.coupon import Belief, Coupon, Gouged, Learned
from lagline.records.errors import LaglineError
from lagline.records.figure import Figure
from lagline.records.finding import Finding, Severity, sort_findings
from lagline.records.kit import Kit
from lagline.trade.set_aside import in_words, measurements, without_set_aside
from lagline.trade.tip_drift import TipDrift, drift_findings, drifts, tips_used

if TYPE_CHECKING:
    from lagline.planning.coupon_plan import CouponPlan

KEPT = "learned.gz"


@dataclass(frozen=True, slots=True)
class Entered:
    """A coupon as it was kept, and what was noticed about it."""

    coupon: Coupon
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Taught:
    """What the coupons of one tip and metal changed, at the plate and current of the last: figures by name
    (``kerf``, ``guide on kept part`` ...), as they were without any coupon and as they are now."""

    belief: Belief
    thickness_mm: float
    current_a: float
    rows: tuple[tuple[str, Figure, Figure], ...]


class CouponDesk:
    """The coupons of one data folder (the shelf's unless told)."""

    def __init__(self, root: Path | None = None) -> None:
        home = root if root is not None else default_folder()
        self.book = CouponBook(home)
        self.kept = Kept(home / "kept")

    # ---- entering ----

    def add_file(self, path: Path, kit: Kit | None = None, *, replaces: str | None = None) -> Entered:
        """Read a coupon file and keep it. Errors: LaglineError for what cannot be true or cannot be kept."""
        return self._keep(lambda: read_coupon(path, kit), replaces)

    def add_fields(
        self, data: Mapping[str, object], name: str, kit: Kit | None = None, *, replaces: str | None = None
    ) -> Entered:
        """Keep a coupon given as named values. Errors as :meth:`add_file`."""
        return self._keep(lambda: coupon_from_fields(data, name, kit), replaces)

    def add_words(
        self,
        given: Mapping[str, object],
        also: Sequence[str],
        cuts: Sequence[str],
        kit: Kit | None = None,
        *,
        replaces: str | None = None,
    ) -> Entered:
        """Keep a coupon given as options and words (see ``coupon_read.coupon_from_words``). Errors as above."""
        return self._keep(lambda: coupon_from_words(given, also, cuts, kit), replaces)

    def add_form(
        self,
        form: Mapping[str, str],
        kit: Kit | None = None,
        *,
        replaces: str | None = None,
        today: datetime.date | None = None,
    ) -> Entered:
        """Keep a coupon given as the texts of a form (see ``coupon_read.coupon_from_form``). Errors as above."""
        return self._keep(lambda: coupon_from_form(form, kit, today), replaces)

    def _keep(self, read: Callable[[], tuple[Coupon, tuple[Finding, ...]]], replaces: str | None) -> Entered:
        try:
            coupon, findings = read()
        except LaglineError as e:
            raise LaglineError(*e.findings, *self._not_correctable(replaces)) from None
        if replaces is None and (twin := twin_of(coupon, self.book.coupons())):
            findings = (*findings, twin_question(twin))
        return Entered(self.book.add(coupon, replaces=replaces), findings)

    def _not_correctable(self, replaces: str | None) -> tuple[Finding, ...]:
        """Why a coupon cannot be corrected, to be told with all else that is wrong."""
        if replaces is not None:
            try:
                self.book.correctable(replaces)
            except LaglineError as e:
                return e.findings
        return ()

    # ---- looking ----

    def standing(self) -> tuple[Coupon, ...]:
        """Return the coupons that count."""
        return self.book.coupons()

    def all(self) -> tuple[KeptCoupon, ...]:
        """Return every coupon ever entered."""
        return self.book.all()

    def show(self, id_: str) -> KeptCoupon:
        """Return one coupon with its history. Errors: LaglineError for an unknown id."""
        return self.book.get(id_)

    # ---- changing, each by a row of its own that can be taken back ----

    def set_aside(self, id_: str, *fields: str, why: str = "") -> Coupon:
        """Set measurements aside (``cut 1 kerf top``)."""
        return self.book.set_aside(id_, *fields, why=why)

    def stands(self, id_: str, *fields: str, why: str = "") -> Coupon:
        """Say that measurements are right as they stand: counted, however odd."""
        return self.book.stands(id_, *fields, why=why)

    def take_back(self, id_: str, *fields: str, why: str = "") -> Coupon:
        """Take back that measurements are set aside, or that they stand."""
        return self.book.take_back(id_, *fields, why=why)

    def remove(self, id_: str, why: str = "") -> None:
        """Mark a coupon as removed."""
        self.book.remove(id_, why)

    def put_back(self, id_: str, why: str = "") -> Coupon:
        """Take a removal back."""
        return self.book.put_back(id_, why)

    def stamp(self) -> str:
        """Return a text that changes whenever what counts of the coupons does; the same when the book is unreadable."""
        try:
            return hashlib.sha256(repr(self.book.coupons()).encode()).hexdigest()
        except LaglineError:
            return ""

    # ---- learning ----

    def learned_for(self, kit: Kit) -> tuple[Learned, tuple[Finding, ...]]:
        """Return what the coupons of a kit's bench teach, one belief per tip and metal.

        A book that cannot be read is a caution, not an error: planning goes on with the defaults, and says so.
        """
        try:
            coupons = self.book.coupons()
        except LaglineError as e:
            return Learned(), tuple(
                replace(f, severity=Severity.CAUTION, message=f"{f.message}; planned without your coupons")
                for f in e.findings
            )
        return self._learned(coupons, kit)

    def _learned(self, coupons: tuple[Coupon, ...], kit: Kit) -> tuple[Learned, tuple[Finding, ...]]:
        """What coupons teach, worked out once for the same coupons and kit and then read; and what is to be said of
        them, a tip that is going first of all."""
        taught, findings = self._worked_out(coupons, kit)
        return taught, sort_findings((*findings, *_of_tips(coupons, kit), *_twins(coupons, kit)))

    def _worked_out(self, coupons: tuple[Coupon, ...], kit: Kit) -> tuple[Learned, tuple[Finding, ...]]:
        mark = _mark(coupons, kit)
        if mark is None:
            return learned_from(coupons, kit)
        with contextlib.suppress(ValueError, OSError, EOFError):
            if (held := self.kept.get(mark, KEPT)) is not None:
                return learned_from_text(gzip.decompress(held).decode())
        what = learned_from(coupons, kit)
        self.kept.put(mark, KEPT, gzip.compress(learned_text(what).encode(), 5, mtime=0))
        return what

    def taught(self, kit: Kit) -> tuple[tuple[Taught, ...], tuple[Finding, ...]]:
        """Return what changed by the coupons, before and after. Errors: LaglineError when the book cannot be read."""
        learned, findings = self._learned(self.book.coupons(), kit)
        return tuple(_taught(kit, b) for b in learned.beliefs), findings

    def plan(
        self, kit: Kit, metal: str, thickness_mm: float, current_a: float, tip: str, *, gouge: bool = False
    ) -> CouponPlan:
        """Return the next coupon to cut, given what is known already. Errors: LaglineError for an unknown tip."""
        from lagline.planning.coupon_plan import plan_coupon

        learned, findings = self.learned_for(kit)
        made = plan_coupon(kit, metal, thickness_mm, current_a, tip, learned.of(tip, metal), gouge)
        return replace(made, findings=(*made.findings, *tips_used(findings, (tip,))))

    def drift(self) -> tuple[tuple[TipDrift, ...], tuple[Finding, ...]]:
        """Return the charts of every tip and what they say. Errors: LaglineError when the book cannot be read."""
        found = drifts(self.book.coupons())
        return found, drift_findings(found)


def learned_for(kit: Kit, root: Path | None = None) -> tuple[Learned, tuple[Finding, ...]]:
    """Return what the book's coupons teach about a kit; see :meth:`CouponDesk.learned_for`."""
    try:
        desk = CouponDesk(root)
    except LaglineError as e:  # an address that is none
        return Learned(), tuple(replace(f, severity=Severity.CAUTION) for f in e.findings)
    return desk.learned_for(kit)


def _mark(coupons: tuple[Coupon, ...], kit: Kit) -> str | None:
    """Hash of all that a belief is made from, the model's own code with it; None without coupons."""
    if not coupons:
        return None
    import lagline.trade

    total = hashlib.sha256(repr((coupons, kit, __version__)).encode())
    for path in sorted(Path(lagline.trade.__path__[0]).glob("*.py")):
        total.update(path.read_bytes())
    return total.hexdigest()[:40]


@lru_cache(maxsize=8)
def learned_from(coupons: tuple[Coupon, ...], kit: Kit) -> tuple[Learned, tuple[Finding, ...]]:
    """Return what coupons teach about a kit. Those of a bench of another name are left out and named.

    A coupon without a bench counts for every kit that has its tip.
    """
    mine = tuple(c for c in coupons if c.bench in ("", kit.name))
    findings: list[Finding] = []
    if others := sorted({c.bench for c in coupons} - {"", kit.name}):
        n = sum(c.bench in others for c in coupons)
        say = f"{n} {'coupon is' if n == 1 else 'coupons are'} of {', '.join(others)} and not used for {kit.name}"
        findings.append(Finding("coupons-of-others", Severity.NOTE, "book", say, "the kit's name says whose they are"))
    tips = {t.name for t in kit.torch.tips}
    counted = tuple(without_set_aside(c) for c in mine if measurements(without_set_aside(c)))
    pairs = sorted({(c.tip, c.metal) for c in counted if c.tip in tips})
    if not counted:
        return Learned(), tuple(findings)
    from lagline.trade.coupon_fit import believe

    beliefs = []
    for tip, metal in pairs:
        belief, found = believe(kit, tip, metal, counted)
        beliefs.append(belief)
        findings.extend(found)
    told = (replace(f, where=in_words(f.where), message=in_words(f.message)) for f in findings)
    gouges = tuple(
        Gouged(c.id, c.tip, c.metal, c.gouge_width_mm, c.gouge_depth_mm, c.gouge_pace_mm_s, c.current_a)
        for c in sorted(counted, key=lambda c: (c.date, c.id))
        if c.tip in tips and c.gouge_width_mm and c.gouge_depth_mm and c.gouge_pace_mm_s
    )
    return Learned(tuple(beliefs), gouges), sort_findings(told)


def twin_of(coupon: Coupon, others: tuple[Coupon, ...]) -> Coupon | None:
    """Return the first other coupon that says the same as one, None where there is none."""
    return next((c for c in others if c.id != coupon.id and same_measured(c, coupon)), None)


def twin_question(twin: Coupon) -> Finding:
    """Return the question whether a coupon was entered twice."""
    say = f"says the same as {twin.id}; was it entered twice?"
    return Finding("coupon-same", Severity.CAUTION, "coupon", say, "kept as given; remove one if so")


def _counted(coupons: tuple[Coupon, ...], kit: Kit) -> tuple[Coupon, ...]:
    tips = {t.name for t in kit.torch.tips}
    return tuple(c for c in coupons if c.bench in ("", kit.name) and c.tip in tips)


def _of_tips(coupons: tuple[Coupon, ...], kit: Kit) -> tuple[Finding, ...]:
    """What the charts say of a kit's tips, each caution with what to do about it."""
    do = "change the tip, or cut a coupon with it before the job"
    return tuple(
        replace(f, allowed=do) if f.severity is Severity.CAUTION else f
        for f in drift_findings(drifts(_counted(coupons, kit)))
    )


def _twins(coupons: tuple[Coupon, ...], kit: Kit) -> tuple[Finding, ...]:
    """Coupons that say the same as one before: each counts, which halves spreads that nobody measured twice."""
    mine = _counted(coupons, kit)
    return tuple(
        Finding(
            "coupon-same",
            Severity.CAUTION,
            f"coupon {c.id}",
            f"says the same as {twin.id}, and both count: spreads are given as if it had been measured twice",
            "entered twice? remove one",
        )
        for n, c in enumerate(mine)
        if (twin := twin_of(c, mine[:n])) is not None
    )


def _taught(kit: Kit, belief: Belief) -> Taught:
    from lagline.trade.coupon_fit import believe
    from lagline.trade.coupon_predict import sight

    before, _ = believe(kit, belief.tip, belief.metal, ())
    at = dict(belief.reference)
    thickness, current = at["thickness_mm"], at["current_a"]
    told = [_figures(sight(kit, b), thickness, current) for b in (before, belief)]
    rows = tuple((name, was, now) for (name, was), (_, now) in zip(*told, strict=True))
    return Taught(belief, thickness, current, rows)


def _figures(s: object, thickness_mm: float, current_a: float) -> list[tuple[str, Figure]]:
    from lagline.trade import coupon_predict as p

    assert isinstance(s, p.Sight)
    c = s.at(thickness_mm, current_a)
    mid = p.mid_pace(s, c)
    slow, fast, sever = p.edges(s, c)
    kept, drop = p.offsets(s, c)
    right, left = p.bevels(s)
    return [
        ("pace", mid),
        ("slow dross below", slow),
        ("fast dross above", fast),
        ("not through above", sever),
        ("kerf", p.kerf(s, c)),
        ("cup radius", p.cup(s)),
        ("guide on kept part", kept),
        ("guide on drop", drop),
        ("bevel right", right),
        ("bevel left", left),
        ("lag", p.lag(s, c, mid.value)),
        ("crater radius", p.crater_radius(s, thickness_mm)),
    ]
