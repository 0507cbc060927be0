"""Layout: where every copy of every part lies, on which plate or offcut."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import replace

from lagline.planning.layout_check import check_layout
from lagline.planning.layout_dense import dense
from lagline.planning.layout_fill import Filling
from lagline.planning.layout_find import find
from lagline.planning.layout_guided import Metal, guided
from lagline.planning.layout_lines import shared_pairs
from lagline.planning.layout_quick import plate_order, quick
from lagline.planning.layout_shapes import Lie, lies
from lagline.planning.layout_units import BadSide, may_take_bad_side
from lagline.planning.layout_words import why_left
from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Move
from lagline.records.job import Plate
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
    kerfs_mm: Mapping[StockKey, float] | None = None,
    bad_side: BadSide | None = None,
) -> Layout:
    """Lay every copy of every part on plates of its own stock, true to shape, windows included.

    Parameters
    ----------
    blanks : parts at the size they come off the torch
    plates : plates and offcuts, any outline, openings and bad areas as holes
    gap_mm : clear distance kept between cut outlines, zero or more [mm]
    seed : the same seed gives the same quick layout, to the byte
    method : "quick", or "dense" to let a solver press the parts together for a while
    seconds : how long the dense layout may press, per plate [s]; the quick one does not look at the clock
    progress : told the share done (0 to 1) and what is being done
    cancelled : asked often; once true, what lies so far is returned and the rest is left over
    sketch : shown a first try early, unchecked, when the job is of one stock

    Returns
    -------
    The layout. Copies without a place are counted in ``unplaced`` and named in its findings.

    Validity: outlines that cross themselves are not for this stage; intake refuses them.
    Errors: ValueError for a gap below zero or an unknown method, both bugs of the caller.
    Sources: own method, see docs/layout.md.
    """
    if not (math.isfinite(gap_mm) and gap_mm >= 0):
        raise ValueError(f"gap must be zero or more, got {gap_mm}")
    if method not in METHODS:
        raise ValueError(f"method must be one of {METHODS}, got {method!r}")
    tell = progress or (lambda _share, _text: None)
    stop = cancelled or (lambda: False)
    ways = {k: lies(k, b) for k, b in enumerate(blanks) if b.part.quantity > 0}
    keys = list(dict.fromkeys(blanks[k].part.stock.key for k in ways))
    kerfs = kerfs_mm or {}
    may_be_bad = bad_side or may_take_bad_side(blanks)
    kerf = _kerf(blanks, kerfs) if method == "guided" else 0.0
    spots: list[tuple[int, int, Move]] = []
    left: list[int] = []
    findings: list[Finding] = []
    for n, key in enumerate(keys):
        mine = {k: w for k, w in ways.items() if blanks[k].part.stock.key == key}
        copies = [k for k in mine for _ in range(blanks[k].part.quantity)]
        usable = [(i, plates[i]) for i in plate_order(plates) if plates[i].stock.key == key]

        def told(share: float, text: str, done: int = n) -> None:
            tell((done + share) / len(keys), text)

        def partly(share: float, text: str, told: Progress = told) -> None:
            told(share * (0.1 if method == "dense" else 1.0), text)

        def first(fillings: list[Filling], over: list[int]) -> None:
            if sketch is not None and len(keys) == 1:
                sketch(
                    Layout(_numbered(_spots(fillings), plates), tuple(sorted(Counter(over).items())), gap_mm, method)
                )

        if method == "guided":
            metal = Metal(gap_mm, kerf if kerfs.get(key) == kerf else 0.0, may_be_bad)
            fillings, over = guided(
                mine, copies, usable, blanks, metal, seed=seed, progress=partly, cancelled=stop, first=first
            )
        else:
            fillings, over = quick(
                mine, copies, usable, gap_mm, seed=seed, progress=partly, cancelled=stop, first=first
            )

        def pressed(share: float, text: str, told: Progress = told) -> None:
            told(0.1 + 0.9 * share, text)

        if method == "dense" and not stop():
            fillings, over, noticed = dense(
                mine,
                gap_mm,
                (fillings, over),
                seed=seed,
                seconds=max(1, seconds),
                progress=pressed,
                cancelled=stop,
            )
            findings += noticed
        spots += _spots(fillings)
        left += over
    if stop():
        findings.append(
            Finding(
                "layout-stopped", Severity.CAUTION, "layout", "stopped before it was finished, as asked", "run it again"
            )
        )
    placed = _numbered(spots, plates)
    shared = shared_pairs(placed, blanks, kerf, may_be_bad)
    over_all = tuple(sorted(Counter(left).items()))
    layout = Layout(placed, over_all, gap_mm, method, tuple(findings), shared, kerf)
    layout = without_faults(layout, blanks, plates)
    tell(1.0, "parts laid out")

    def fits_empty(some: tuple[Lie, ...], plate: Plate) -> bool:
        return find(Filling(0, plate, gap_mm, {}), some) is not None

    told_left = tuple(why_left(blanks[k], c, plates, fits_empty, method) for k, c in layout.unplaced if not stop())
    return replace(layout, findings=layout.findings + told_left)


def _kerf(blanks: tuple[Blank, ...], kerfs_mm: Mapping[StockKey, float]) -> float:
    """Return the kerf that neighbours share [mm]: a layout has one, that of the metal with most copies."""
    copies = Counter({b.part.stock.key: 0 for b in blanks})
    for b in blanks:
        copies[b.part.stock.key] += b.part.quantity
    known = [(n, key) for key, n in copies.items() if key in kerfs_mm]
    return kerfs_mm[max(known)[1]] if known else 0.0


def _spots(fillings: list[Filling]) -> list[tuple[int, int, Move]]:
    return [(s.lie.part, f.index, s.lie.move(s.x, s.y)) for f in fillings for s in f.spots]


def _numbered(spots: list[tuple[int, int, Move]], plates: tuple[Plate, ...]) -> tuple[Placed, ...]:
    """Number the copies of each part in the order plates are used, then from the datum corner outwards."""
    rank = {i: n for n, i in enumerate(plate_order(plates))}
    spots = sorted(spots, key=lambda s: (s[0], rank[s[1]], s[2].dx, s[2].dy, s[2].turn, s[2].mirror))
    return tuple(
        Placed(part, n + 1, plate, move)
        for part, group in itertools.groupby(spots, key=lambda s: s[0])
        for n, (_, plate, move) in enumerate(group)
    )


def without_faults(layout: Layout, blanks: tuple[Blank, ...], plates: tuple[Plate, ...]) -> Layout:
    """Return the layout with every copy that fails the independent check taken off it and named."""
    faults = [f for f in check_layout(layout, blanks, plates) if f.placed >= 0]
    if not faults:
        return layout
    bad = {f.placed for f in faults}
    off = Counter(layout.placed[n].part for n in bad)
    counts = Counter(dict(layout.unplaced)) + off
    kept = [(p.part, p.plate, p.move) for n, p in enumerate(layout.placed) if n not in bad]
    notes = tuple(
        Finding(
            "layout-check", Severity.NO_GO, blanks[layout.placed[f.placed].part].part.name, f"{f.message}; taken off"
        )
        for f in faults
    )
    return replace(
        layout,
        placed=_numbered(kept, plates),
        shared=(),
        unplaced=tuple(sorted(counts.items())),
        findings=layout.findings + notes,
    )
