"""Which plates and offcuts of the rack a job is cut from: offcuts before whole plates, the cheapest set that takes the
parts, and a sentence for every item why it is used or not.

Glossary
--------
worth   : money an item stands for: as written on it, else its weight at the kit's price, an offcut at a share of it
to keep : pieces left that are worth keeping, as ``planning/offcuts.py`` has it
charge  : worth of the plates that are cut, less the worth of what is left of them to keep
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace

from lagline.planning.choose_layout import choose_layout, gap_between
from lagline.planning.fit import bad_side_rule
from lagline.planning.guides import OVERHANG_MM
from lagline.planning.intake import intake, may_hold
from lagline.planning.layout import lay_out
from lagline.planning.plate_use import WORTH_MM
from lagline.planning.rack_use import weight
from lagline.planning.settings import choose_settings
from lagline.records.coupon import Learned
from lagline.records.finding import Finding, Severity
from lagline.records.job import Job, Plate
from lagline.records.kit import Kit
from lagline.records.plan import Blank, Layout, Setting
from lagline.shapes.region import joined, loop_polygon, pieces, polygon
from lagline.trade.cost import OFFCUT_SHARE
from lagline.trade.mass import mass_of_area
from lagline.trade.register import formula

MOST_TRIES, LEAST_TRIES = 24, 8  # quick layouts for each stock: fewer the more copies there are
MOST_LAID = 480  # copies laid in all of them
MOST_ALONE = 12  # of them with one item alone
_FLAT_MM = 0.1


@dataclass(frozen=True, slots=True)
class Told:
    """One item of the rack: whether it is used, and why in a sentence."""

    mark: str
    used: bool
    why: str


@dataclass(frozen=True, slots=True)
class Advice:
    """The job with the plates it is best cut from, and what was said of each that was offered."""

    job: Job
    cut: tuple[str, ...]  # names of the plates parts lie on
    told: tuple[Told, ...]
    charge: float
    left_over: int  # copies without a place, laid out the quick way until :func:`laid_as_planned`
    tries: int


@dataclass(frozen=True, slots=True)
class _Trial:
    """A set of plates laid out: what has no place [mm2], money, scrap [mm2], and what lies on which plate."""

    marks: frozenset[str]
    over_mm2: float
    charge: float
    worth: float  # of the plates that are cut
    scrap_mm2: float
    copies: tuple[tuple[str, int], ...]  # by plate name
    kept: tuple[tuple[str, float], ...]  # worth to keep, by plate name
    over: int

    @property
    def rank(self) -> tuple[float, ...]:
        return (round(self.over_mm2, 1), round(self.charge, 2), round(self.worth, 2), round(self.scrap_mm2, 1))


@formula(
    "rack.charge",
    text="charge = SUM over plates cut (worth - worth to keep); worth as written, else mass x price, for an offcut x "
    "0.5; to keep: mass x price x 0.5, never more for its weight than the plate it came from",
    gives="metal a set of plates costs a job, for choosing between sets [money]",
    source="sum (derived); the share 0.5: ours, common practice, no source; price from the kit file, else by weight",
)
def charge_of(worth: float, whole_mm2: float, kept_mm2: float, offcut_per_mm2: float) -> tuple[float, float]:
    """Return the charge for one plate that is cut, and the worth of what is left to keep [money]."""
    kept = kept_mm2 * min(offcut_per_mm2, worth / whole_mm2)
    return worth - kept, kept


def from_rack(job: Job, kit: Kit, learned: Learned = Learned()) -> tuple[Job, tuple[Finding, ...]]:
    """Return a job that chooses from the rack with the plates it is best cut from, any other job as it is."""
    if not job.rack:
        return job, ()
    advice = advise(job, kit, learned)
    notes = tuple(
        Finding("rack-used" if t.used else "rack-left", Severity.NOTE, t.mark, t.why, "`lagline rack advise` says more")
        for t in advice.told
    )
    return advice.job, notes


def advise(job: Job, kit: Kit, learned: Learned = Learned()) -> Advice:
    """Choose, of the plates a job may take from the rack, those it is best cut from.

    Every set tried is laid out the quick way. Plates the job names itself are there in every set. Least is best:
    copies without a place, then the charge, then the worth taken off the rack, then scrap. The same job gives the same
    answer.
    """
    blanks, _ = intake(job)
    settings, _ = choose_settings(blanks, kit, job.current_a, learned)
    keep: set[str] = set()
    spare: set[str] = set()
    cut: set[str] = set()
    told: dict[str, Told] = {}
    charge, over, tries = 0.0, 0, 0
    for key in dict.fromkeys(b.part.stock.key for b in blanks):
        search = _Search(job, kit, blanks, settings, key)
        best = search.best()
        keep |= best.marks | {p.rack for p in search.own}
        cut |= {n for n, _ in best.copies}
        spare |= search.spare(best)
        charge, over, tries = charge + best.charge, over + best.over, tries + len(search.known)
        told |= {t.mark: t for t in search.why(best)}
    offered = {m for m, _ in job.rack}
    plates = tuple(replace(p, spare=p.name in spare) for p in job.plates if p.rack not in offered or p.rack in keep)
    order = [told[m] for m, _ in job.rack if m in told]
    # with no place for anything the job keeps what it was offered: the layout then says why
    names = tuple(p.name for p in plates if p.name in cut)
    return Advice(replace(job, plates=plates or job.plates), names, tuple(order), charge, over, tries)


def laid_as_planned(advice: Advice, kit: Kit, learned: Learned = Learned()) -> Advice:
    """Return advice with the plates cut and the copies left over as the job's plan has them: laid out the same way."""
    job = advice.job
    blanks, _ = intake(job)
    settings, _ = choose_settings(blanks, kit, job.current_a, learned)
    made = choose_layout(
        job, kit, blanks, settings, seconds=5, tell=lambda _share, _text: None, stop=lambda: False,
        sketch=lambda _: None,
    ).layout  # fmt: skip
    cut = {p.plate for p in made.placed}
    names = tuple(p.name for i, p in enumerate(job.plates) if i in cut)
    return replace(advice, cut=names, left_over=sum(n for _, n in made.unplaced))


class _Search:
    """The sets of plates for the parts of one stock."""

    def __init__(
        self, job: Job, kit: Kit, blanks: tuple[Blank, ...], settings: tuple[Setting, ...], key: tuple[str, float]
    ) -> None:
        self.job, self.kit, self.settings = job, kit, settings
        self.blanks = tuple(b for b in blanks if b.part.stock.key == key)
        asked = dict(job.rack)
        held = {pin.plate for pin in job.pins}
        mine = [p for p in job.plates if p.stock.key == key]
        self.offered = {p.rack: p for p in mine if p.rack in asked and p.name not in held}
        self.own = tuple(p for p in mine if p.rack not in self.offered)
        self.price = dict(kit.bench.metal_per_kg).get(key[0], 0.0) or 1.0
        self.worth = {p.name: self._worth(p, asked.get(p.rack)) for p in mine}
        copies = sum(b.part.quantity for b in self.blanks)
        self.most = max(LEAST_TRIES, min(MOST_TRIES, MOST_LAID // max(copies, 1)))
        self.parts_mm2 = math.fsum(b.cut.area * b.part.quantity for b in self.blanks)
        self.known: dict[frozenset[str], _Trial] = {}

    def _area(self, marks: frozenset[str]) -> float:
        return math.fsum(self.offered[m].outline.area for m in marks)

    def _worth(self, plate: Plate, given: float | None) -> float:
        if given is not None:
            return given
        share = OFFCUT_SHARE if plate.kind == "offcut" else 1.0
        return share * self.price * self._kg(plate, plate.outline.area)

    def _kg(self, plate: Plate, area_mm2: float) -> float:
        return mass_of_area(plate.stock.metal, area_mm2, plate.stock.thickness_mm).value

    def best(self) -> _Trial:
        """Return the cheapest set found: all, none, the most and the least in worth, each alone; then one more or one
        less than the best. Sets smaller than the parts are not tried."""
        marks = sorted(self.offered, key=lambda m: (self.worth[self.offered[m].name], int(m[2:])))
        some = [n for n in (1, 2, 3, 5, 8, 13, 21) if n < len(marks)]
        sets = [frozenset[str]()] if self.own else []
        sets += [frozenset(marks[-n:]) for n in some]
        sets += [frozenset(marks[:n]) for n in some]
        sets += [frozenset([m]) for m in marks[:MOST_ALONE]]
        # what surely gives everything a place comes first: with few tries the rest may not be reached
        large = [s for s in dict.fromkeys(sets) if self.own or self._area(s) >= self.parts_mm2]
        sets = [frozenset(marks), *large][: max(1, self.most * 2 // 3)]
        best = min((self._try(s) for s in sets), key=lambda t: t.rank)
        while len(self.known) < self.most:
            # an item nothing lies on is no part of the set
            cut = {n for n, _ in best.copies}
            used = frozenset(m for m in best.marks if self.offered[m].name in cut)
            near = [used, *(used - {m} for m in sorted(used)), *(used | {m} for m in marks)]
            may = (s for s in dict.fromkeys(near) if s not in self.known)
            fresh = [s for s in may if self.own or (s and (best.over or self._area(s) >= self.parts_mm2))]
            tried = [self._try(s) for s in fresh[: self.most - len(self.known)]]
            better = min(tried, key=lambda t: t.rank, default=best)
            if better.rank >= best.rank:
                break
            best = better
        cut = {n for n, _ in best.copies}
        return replace(best, marks=frozenset(m for m in best.marks if self.offered[m].name in cut))

    def spare(self, best: _Trial) -> set[str]:
        """Return the job's own plates that can be left alone: without them everything still finds its place."""
        cut = {n for n, _ in best.copies}
        held = {pin.plate for pin in self.job.pins}
        alone = {p.name for p in self.own} - cut - held
        if not alone or best.over or not self.offered:
            return set()
        plates = (*self.own, *(p for m, p in self.offered.items() if m in best.marks))
        again = self._laid(best.marks, tuple(p for p in plates if p.name not in alone))
        return set() if again.over else alone

    def _try(self, marks: frozenset[str]) -> _Trial:
        if marks not in self.known:
            plates = (*self.own, *(p for m, p in self.offered.items() if m in marks))
            self.known[marks] = self._laid(marks, plates)
        return self.known[marks]

    def _laid(self, marks: frozenset[str], plates: tuple[Plate, ...]) -> _Trial:
        names, parts = {p.name for p in plates}, {b.part.name for b in self.blanks}
        layout = lay_out(
            self.blanks,
            plates,
            gap_between(self.job, self.kit, self.settings),
            seed=self.job.seed,
            method="quick",
            pins=tuple(p for p in self.job.pins if p.plate in names and p.part in parts),
            kerfs_mm={s.stock.key: s.kerf_mm.value for s in self.settings if s.bevel_deg == 0},
            bad_side=bad_side_rule(self.blanks, self.settings),
            reach_mm=max(self.kit.guides.straightedges_mm, default=0.0) - 2 * OVERHANG_MM,
        )
        charge = scrap = 0.0
        kept: list[tuple[str, float]] = []
        for n in sorted({p.plate for p in layout.placed}):
            one, left, stays = self._after(plates[n], n, layout)
            charge, scrap = charge + one, scrap + left
            kept.append((plates[n].name, stays))
        worth = math.fsum(self.worth[plates[n].name] for n in {p.plate for p in layout.placed})
        copies = Counter(plates[p.plate].name for p in layout.placed)
        over = math.fsum(self.blanks[k].cut.area * c for k, c in layout.unplaced)
        return _Trial(
            marks,
            over,
            charge,
            worth,
            scrap,
            tuple(sorted(copies.items())),
            tuple(kept),
            sum(c for _, c in layout.unplaced),
        )

    def _after(self, plate: Plate, index: int, layout: Layout) -> tuple[float, float, float]:
        """Charge, scrap [mm2] and worth to keep of one plate, by its layout: a kerf round every part."""
        kerf = next((s.kerf_mm.value for s in self.settings if s.stock.key == plate.stock.key), 0.0)
        solids = [
            loop_polygon(p.move.outline(self.blanks[p.part].cut).outer, _FLAT_MM)
            for p in layout.placed
            if p.plate == index
        ]
        left = polygon(plate.outline, _FLAT_MM) - joined(s.buffer(kerf, join_style="mitre") for s in solids)
        # quicker than a rectangle in each: where a square fits, so does a round of its side
        kept = math.fsum(g.area for g in pieces(left) if not g.buffer(-WORTH_MM / 2, quad_segs=4).is_empty)
        per_mm2 = OFFCUT_SHARE * self.price * self._kg(plate, 1e6) / 1e6
        charge, worth = charge_of(self.worth[plate.name], plate.outline.area, kept, per_mm2)
        return charge, left.area - kept, worth

    # ---- why ----

    def why(self, best: _Trial) -> Iterable[Told]:
        """Say of every item offered why it is used or not."""
        copies, kept = dict(best.copies), dict(best.kept)
        for mark, plate in self.offered.items():
            worth = self.worth[plate.name]
            if mark in best.marks:
                n = copies[plate.name]
                left = kept[plate.name]
                rest = f"{self._said(left)} of it is left to keep" if left > 0 else "nothing of it is left to keep"
                yield Told(mark, True, f"used: {n} {'part lies' if n == 1 else 'parts lie'} on it, worth "
                           f"{self._said(worth)}, and {rest}")  # fmt: skip
                continue
            alone = self.known.get(frozenset([mark]))
            more = self.known.get(best.marks | {mark})
            yield Told(mark, False, self._why_not(plate, best, alone, more))

    def _said(self, worth: float) -> str:
        """Say what metal is worth: in shop money, without a price in the kit as the weight of plate it stands for."""
        if dict(self.kit.bench.metal_per_kg).get(self.blanks[0].part.stock.metal):
            return f"{self.kit.bench.currency} {worth:.2f}"
        return f"{weight(worth, self.job.units)} of plate"

    def _why_not(self, plate: Plate, best: _Trial, alone: _Trial | None, more: _Trial | None) -> str:
        if not any(may_hold(plate, polygon(b.cut, _FLAT_MM)) for b in self.blanks):
            return "not used: no part of its metal is small enough for it"
        if alone is not None and plate.name not in dict(alone.copies):
            return "not used: no part found room on it"
        cut = ", ".join(n for n, _ in best.copies) or "nothing"
        if best.over and (more is None or more.over_mm2 >= best.over_mm2):
            return f"not used: it takes no more parts than {cut} does"
        if more is not None and plate.name not in dict(more.copies):
            return f"not needed: every part lies on {cut}"
        with_it = [t for t in (more, alone) if t is not None and plate.name in dict(t.copies)]
        if with_it:
            other = min(with_it, key=lambda t: t.rank)
            if other.over_mm2 > best.over_mm2 + 1:
                return f"not used: with it {other.over} {'part has' if other.over == 1 else 'parts have'} no place"
            costlier = other.charge - best.charge
            if costlier > 0.005:
                return f"not used: with it the metal comes to {self._said(costlier)} more than on {cut}"
        return f"not needed: every part lies on {cut}"
