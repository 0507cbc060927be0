"""Layout: where every copy of every part lies, on which plate or offcut."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial

from lagline.planning.layout_check import check_layout
from lagline.planning.layout_dense import dense
from lagline.planning.layout_fill import Filling
from lagline.planning.layout_find import find
from lagline.planning.layout_guided import Guided, Metal, Rows
from lagline.planning.layout_lines import shared_pairs
from lagline.planning.layout_open import Group, groups_of, open_plates, ways_on
from lagline.planning.layout_pins import Pins, take_pins
from lagline.planning.layout_quick import plate_order, quick
from lagline.planning.layout_units import BadSide, may_take_bad_side
from lagline.planning.layout_words import count_of, named, rims_unused, why_left
from lagline.records.finding import Finding, Severity
from lagline.records.job import Pin, Plate
from lagline.records.plan import Blank, Layout, Placed

Progress = Callable[[float, str], None]
StockKey = tuple[str, float]
METHODS = ("quick", "dense", "guided")


def lay_out(
    blanks: tuple[Blank, ...],
    plates: tuple[Plate, ...],
    gap_mm: float,
    *,
    seed: int,
    method: str = "quick",
    seconds: int = 5,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] | None = None,
    sketch: Callable[[Layout], None] | None = None,
    pins: tuple[Pin, ...] = (),
    kerfs_mm: Mapping[StockKey, float] | None = None,
    bad_side: BadSide | None = None,
    reach_mm: float = math.inf,
) -> Layout:
    """Lay every copy of every part on plates of its own stock, true to shape, windows included.

    Parameters
    ----------
    blanks : parts at the size they come off the torch
    plates : plates and offcuts, any outline, openings and bad areas as holes
    gap_mm : clear distance kept between cut outlines, zero or more [mm]
    seed : the same seed gives the same quick or guided layout, to the byte
    method : "quick"; "dense" to let a solver press the parts together for a while; "guided" to lay straight-sided
        parts in bands and grids, so that few straightedge set-ups make their edges
    seconds : how long the dense layout may press, per plate [s]; the others do not look at the clock
    progress : told the share done (0 to 1) and what is being done
    cancelled : asked often; once true, what lies so far is returned and the rest is left over
    sketch : shown a first try early, unchecked, and each better one, one stock of the job after the other
    pins : copies that stay where the user put them; all else is laid round them
    kerfs_mm : for each stock, how wide it is cut [mm]: how far apart neighbours lie that share a cut; a stock that is
        not in it has none
    bad_side : whether an edge (part index, its name) may lie on the torch's worse side; without it, edges used free
        or to be welded of parts without a tolerance may
    reach_mm : how long a line one straightedge serves [mm]

    Returns
    -------
    The layout. Copies without a place are counted in ``unplaced`` and named in its findings.

    Validity: outlines that cross themselves are not for this stage; intake refuses them. A layout has one shared kerf:
    in a job of several stocks, only those cut as wide as the one with most copies share kerfs.
    Errors: ValueError for a gap below zero or an unknown method, both bugs of the caller.
    Sources: own method, see docs/layout.md.
    """
    if not (math.isfinite(gap_mm) and gap_mm >= 0):
        raise ValueError(f"gap must be zero or more, got {gap_mm}")
    if method not in METHODS:
        raise ValueError(f"method must be one of {', '.join(METHODS)}, got {method!r}")
    tell = progress or (lambda _share, _text: None)
    stop = cancelled or (lambda: False)
    kerfs, may_be_bad = kerfs_mm or {}, bad_side or may_take_bad_side(blanks)
    kerf = _kerf(blanks, kerfs)
    pinned = take_pins(pins, blanks, plates, gap_mm, kerf, may_be_bad)
    rows: Rows = [(p.placed.part, p.placed.plate, p.placed.move) for p in pinned.stay]
    left = Counter(pinned.off)
    findings: list[Finding] = [*pinned.findings, *(rims_unused(plates) if method == "guided" else ())]
    keys = list(dict.fromkeys(b.part.stock.key for b in blanks if b.part.quantity > 0))
    for n, key in enumerate(keys):
        copies = {
            k: pinned.left(k, b.part.quantity)
            for k, b in enumerate(blanks)
            if b.part.stock.key == key and b.part.quantity > 0
        }
        usable = [(i, plates[i]) for i in plate_order(plates) if plates[i].stock.key == key and not plates[i].spare]

        def told(share: float, text: str, done: int = n) -> None:
            tell((done + share) / len(keys), text)

        def show(some: Rows, over: list[int], pins: Rows = rows, off: Counter[int] = left) -> None:
            if sketch is not None:
                now = tuple(sorted((Counter(over) + off).items()))
                sketch(Layout(_numbered(pins + some, plates), now, gap_mm, method))

        task = _Task(
            blanks,
            Counter({k: c for k, c in copies.items() if c}),
            groups_of(usable, list(copies), blanks),
            pinned,
            Metal(gap_mm, kerf if kerfs.get(key) == kerf else 0.0, may_be_bad, reach_mm),
            seed,
            told,
            stop,
            show,
        )
        some, over, noticed = task.guided() if method == "guided" else task.plain(method, seconds)
        rows += some
        left += Counter(over)
        findings += noticed
    if stop():
        say = "stopped before it was finished, as asked"
        findings.append(Finding("layout-stopped", Severity.CAUTION, "layout", say, "run it again"))
    placed = _numbered(rows, plates)
    shared = shared_pairs(placed, blanks, kerf, may_be_bad) if method == "guided" or pinned.stay else ()
    told_of = tuple(dict.fromkeys(findings))
    layout = Layout(placed, tuple(sorted((+left).items())), gap_mm, method, told_of, shared, kerf if shared else 0.0)
    layout = without_faults(layout, blanks, plates, pins)
    tell(1.0, "parts laid out")

    def fits_empty(blank: Blank, plate: Plate) -> bool:
        ways = ways_on(0, blank, plate)
        if any(find(Filling(0, piece, gap_mm, {}), ways) for piece in open_plates(plate, [], gap_mm) if ways):
            return True
        if method != "guided" or not ways:
            return False
        alone = Guided((blank,), Counter({0: 1}), groups_of([(0, plate)], [0], (blank,)), _NO_PINS, Metal(gap_mm, kerf))
        return not alone.run(seed, lambda _s, _t: None, lambda: False, lambda _r, _o: None)[1]

    told_left = tuple(
        why_left(blanks[k], c - pinned.off[k], plates, fits_empty, method)
        for k, c in layout.unplaced
        if c > pinned.off[k] and not stop()
    )
    return replace(layout, findings=layout.findings + told_left)


_NO_PINS = Pins((), Counter(), ())


def _later(told: Callable[[float, str, float, float], None], share: float, text: str) -> None:
    told(share, text, 0.1, 0.9)


@dataclass(frozen=True, slots=True)
class _Task:
    """One stock's copies and plates, and whom to tell."""

    blanks: tuple[Blank, ...]
    copies: Counter[int]
    groups: list[Group]
    pins: Pins
    metal: Metal
    seed: int
    tell: Progress
    stop: Callable[[], bool]
    show: Callable[[Rows, list[int]], None]

    def guided(self) -> tuple[Rows, list[int], list[Finding]]:
        """Lay in bands; where that leaves metal over that the quick way does not, the quick way."""
        rows, over = Guided(self.blanks, self.copies, self.groups, self.pins, self.metal).run(
            self.seed, self.tell, self.stop, self.show
        )
        if not over or self.stop():
            return rows, over, []
        again = replace(self, tell=lambda _share, _text: None, show=lambda _rows, _over: None)
        other, other_over, _ = again.plain("quick", 0)
        if self._area(other_over) >= self._area(over) - 1e-3:
            return rows, over, []
        count = Counter(over) - Counter(other_over)
        names = named([count_of(self.blanks[k], n) for k, n in sorted(count.items())])
        say = f"in bands there is no room for {names}: laid out the quick way, with more straight cuts"
        return other, other_over, [Finding("layout-guided", Severity.NOTE, "layout", say, "more metal, for bands")]

    def plain(self, method: str, seconds: int) -> tuple[Rows, list[int], list[Finding]]:
        """Lay the quick way, plates of one grain after another, and let the dense layout press them."""
        rows: Rows = []
        findings: list[Finding] = []
        todo = sorted(self.copies.elements())
        share = 0.1 if method == "dense" else 1.0
        for n, group in enumerate(self.groups):
            able = [k for k in todo if k in group.lies]
            todo = [k for k in todo if k not in group.lies]
            plates = [
                (i, piece)
                for i, plate in group.plates
                for piece in open_plates(plate, [p.area for p in self.pins.on(i)], self.metal.gap_mm)
            ]

            def told(done: float, text: str, low: float = 0.0, wide: float = share, at: int = n) -> None:
                self.tell((at + low + wide * done) / len(self.groups), text)

            def seen(fillings: list[Filling], over: list[int], rest: list[int] = todo, so_far: Rows = rows) -> None:
                self.show(so_far + _rows(fillings), over + rest)

            fillings, over = quick(
                group.lies, able, plates, self.metal.gap_mm,
                seed=self.seed, progress=told, cancelled=self.stop, show=seen,
            )  # fmt: skip
            if method == "dense" and not self.stop():
                fillings, over, noticed = dense(
                    group.lies,
                    self.metal.gap_mm,
                    (fillings, over),
                    seed=self.seed,
                    seconds=max(1, seconds),
                    progress=partial(_later, told),
                    cancelled=self.stop,
                    better=seen,
                )
                findings += noticed
            rows += _rows(fillings)
            todo = sorted(todo + over)
        return rows, todo, findings

    def _area(self, parts: list[int]) -> float:
        return sum(self.blanks[k].cut.area for k in parts)


def _kerf(blanks: tuple[Blank, ...], kerfs_mm: Mapping[StockKey, float]) -> float:
    """Return the kerf that neighbours share [mm]: a layout has one, that of the metal with most copies."""
    copies: Counter[StockKey] = Counter()
    for b in blanks:
        copies[b.part.stock.key] += b.part.quantity
    known = [(n, key) for key, n in copies.items() if key in kerfs_mm]
    return kerfs_mm[max(known)[1]] if known else 0.0


def _rows(fillings: list[Filling]) -> Rows:
    return [(s.lie.part, f.index, s.lie.move(s.x, s.y)) for f in fillings for s in f.spots]


def _numbered(rows: Rows, plates: tuple[Plate, ...]) -> tuple[Placed, ...]:
    """Number the copies of each part in the order plates are used, then from the datum corner outwards."""
    rank = {i: n for n, i in enumerate(plate_order(plates))}
    rows = sorted(rows, key=lambda s: (s[0], rank[s[1]], s[2].dx, s[2].dy, s[2].turn, s[2].mirror))
    return tuple(
        Placed(part, n + 1, plate, move)
        for part, group in itertools.groupby(rows, key=lambda s: s[0])
        for n, (_, plate, move) in enumerate(group)
    )


def without_faults(
    layout: Layout, blanks: tuple[Blank, ...], plates: tuple[Plate, ...], pins: tuple[Pin, ...] = ()
) -> Layout:
    """Return the layout with every copy that fails the independent check taken off it and named."""
    faults = [f for f in check_layout(layout, blanks, plates, pins) if f.placed >= 0]
    if not faults:
        return layout
    bad = {f.placed for f in faults}
    off = Counter(layout.placed[n].part for n in bad)
    counts = Counter(dict(layout.unplaced)) + off
    kept = [n for n in range(len(layout.placed)) if n not in bad]
    placed = _numbered([(p.part, p.plate, p.move) for p in (layout.placed[n] for n in kept)], plates)
    new = {n: placed.index(replace(layout.placed[n], copy=c)) for n, c in _copies(layout, kept).items()}
    pairs = [(new[a], new[b]) for a, b in layout.shared if a in new and b in new]
    notes = tuple(
        Finding(
            "layout-check", Severity.NO_GO, blanks[layout.placed[f.placed].part].part.name, f"{f.message}; taken off"
        )
        for f in faults
    )
    return replace(
        layout,
        placed=placed,
        unplaced=tuple(sorted(counts.items())),
        findings=layout.findings + notes,
        shared=tuple(sorted((min(p), max(p)) for p in pairs)),
    )


def _copies(layout: Layout, kept: list[int]) -> dict[int, int]:
    """Return the new copy number of each index that is kept: copies stay in their order."""
    count: Counter[int] = Counter()
    out = {}
    for n in kept:
        count[layout.placed[n].part] += 1
        out[n] = count[layout.placed[n].part]
    return out
