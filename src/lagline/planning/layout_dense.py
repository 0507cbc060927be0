"""Dense layout: a solver presses the parts together along each plate, in a process of its own.

What comes back is treated as a proposal: every copy is laid down only where the exact test finds it clear, the
rest is laid the quick way (into windows, into what is left), and the better of this and the quick layout is kept.
A solver that crashes, hangs or is killed costs its time and nothing else.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable
from typing import Any

from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from lagline.planning.dense_frame import area_up_to, container, cut_to, with_fewer_points
from lagline.planning.dense_press import Row, SolverFault, press
from lagline.planning.dense_task import (
    Ways,
    around,
    drawn_in,
    frame_task,
    laid_down,
    proposals,
    solver_shape,
    strip_task,
)
from lagline.planning.layout_fill import Filling, GrownKey, Spot, StampKey
from lagline.planning.layout_quick import lay, measure
from lagline.planning.layout_raster import Stamp
from lagline.records.finding import Finding, Severity
from lagline.records.job import Plate

FILL = 0.9  # share of a square-cornered plate's area that is offered to the solver
# On metal of any outline the solver is asked, try after try, to use more of it: by how much of what is waste the waste
# is to shrink. With little time a great step would cost all of it for nothing.
CLOSER, CLOSER_A_SECOND, CLOSER_MOST = 0.05, 0.01, 0.2
LEAST_CLOSER = 0.02
LEAST_S = 0.7  # a try shorter than this is not begun
SHARE = 0.5  # of the time left that one try may take
FINEST_MM = 0.002  # how near to touching parts are slid to win the last hundredths across a plate
ONWARD_MM = (0.01, 0.03, 0.1, 0.3, 0.9)  # how far a place that just fails is moved along
NUDGES_MM = (0.05, 0.2, 0.8)  # and about
Told = Callable[[float], None]
Layout = tuple[list[Filling], list[int]]


def dense(
    ways: Ways,
    gap_mm: float,
    start: Layout,
    *,
    seed: int,
    seconds: float,
    progress: Callable[[float, str], None],
    cancelled: Callable[[], bool],
    better: Callable[[list[Filling], list[int]], None] = lambda _fillings, _left: None,
) -> tuple[list[Filling], list[int], list[Finding]]:
    """Return the better of the quick layout ``start`` and one pressed by the solver, and what was noticed.

    Parameters
    ----------
    ways : the ways each part may lie
    gap_mm : clear distance between cut outlines [mm]
    start : the quick layout: plates with their parts, parts left over
    seconds : how long to press, per plate with parts on it [s]
    better : shown each layout that is better than all before it, as they come, no more than one a second; every
        place in it has passed the exact test; to be read at once, the plates go on being worked on
    """
    return _Dense(ways, gap_mm, start, seed, seconds, progress, cancelled, better).run()


class _Dense:
    """One run over the plates of a stock. ``pool`` holds what is not laid on the plates done so far."""

    def __init__(
        self,
        ways: Ways,
        gap_mm: float,
        start: Layout,
        seed: int,
        seconds: float,
        progress: Callable[[float, str], None],
        cancelled: Callable[[], bool],
        better: Callable[[list[Filling], list[int]], None],
    ):
        self.ways, self.gap, self.start, self.seed, self.seconds = ways, gap_mm, start, seed, seconds
        self.progress, self.cancelled, self.better = progress, cancelled, better
        self.area = {p: w[0].shape.area for p, w in ways.items()}
        self.stamps: dict[StampKey, Stamp] = {}
        self.grown: dict[GrownKey, BaseGeometry] = {}
        self.findings: list[Finding] = []
        self.done: list[Filling] = []
        self.pool: list[int] = []
        self.best = measure(*start, self.area)
        self.shown: tuple[list[tuple[Filling, list[Spot]]], list[int]] | None = None
        self.shown_at = -1e9
        self.showing_took = 0.0

    def run(self) -> tuple[list[Filling], list[int], list[Finding]]:
        olds, left = self.start
        self.pool = self._ordered([s.lie.part for f in olds for s in f.spots] + left)
        for old in olds:
            new = self._plate(old) if old.spots and not self.cancelled() else None
            if new is None or not new.spots:  # no answer: as the quick layout has it, as far as copies remain
                new = self._as_before(old, Counter(self.pool), self._bare(old))
            self.done.append(new)
            self.pool = self._without(new)
            self.pool = lay(self.ways, self.pool, [new], lambda _: None, lambda: False)
        last = measure(self.done, self.pool, self.area)
        if self.shown is not None and self.best < last:
            return *self._again(*self.shown), self.findings
        if last < measure(*self.start, self.area):
            return self.done, self.pool, self.findings
        return *self.start, self.findings

    def _again(self, plates: list[tuple[Filling, list[Spot]]], left: list[int]) -> Layout:
        """Return a layout that was shown as it was then."""
        fillings = []
        for was, spots in plates:
            new = self._bare(was)
            for spot in spots:
                new.put(spot)
            fillings.append(new)
        return fillings, left

    def _bare(self, old: Filling) -> Filling:
        """The plate without parts."""
        return Filling(old.index, old.plate, self.gap, self.stamps, self.grown)

    def _ordered(self, copies: list[int]) -> list[int]:
        return sorted(copies, key=lambda p: (-self.area[p], p))

    def _without(self, filling: Filling) -> list[int]:
        """The pool, less what lies on a plate."""
        return self._ordered(list((Counter(self.pool) - Counter(s.lie.part for s in filling.spots)).elements()))

    def _as_before(self, old: Filling, counts: Counter[int], new: Filling | None = None) -> Filling:
        """Return the plate as the quick layout has it, as far as there are copies for it; they are taken off."""
        kept = []
        for spot in old.spots:
            if counts[spot.lie.part] > 0:
                kept.append(spot)
                counts[spot.lie.part] -= 1
        if new is None:
            if len(kept) == len(old.spots):
                return old
            new = self._bare(old)
        for spot in kept:
            new.put(spot)
        return new

    # -- one plate ----------------------------------------------------------------------------------------------

    def _plate(self, old: Filling) -> Filling | None:
        """Return the plate pressed, None when nothing came of it."""
        inner = nested(old)
        mine = list(
            (Counter(s.lie.part for k, s in enumerate(old.spots) if k not in inner) & Counter(self.pool)).elements()
        )
        others = list((Counter(self.pool) - Counter(s.lie.part for s in old.spots)).elements())
        if not mine:
            return None
        text = f"pressing parts together on {old.plate.name}"
        done, total = len(self.done), len(self.start[0])

        def told(share: float) -> None:
            self.progress((done + share) / total, text)

        try:
            if old.plain:
                return self._strip(old, mine, others, told)
            return self._region(old, mine, others, old.usable(), told)
        except (SolverFault, OSError) as fault:
            self._note(old.plate, f"the dense layout gave no answer: {fault}")
        return None

    def _note(self, plate: Plate, message: str, allowed: str = "laid out the quick way") -> None:
        self.findings.append(Finding("layout-dense", Severity.NOTE, plate.name, message, allowed))

    def _cut_short(self, plate: Plate, trouble: str) -> None:
        if trouble and not self.cancelled():
            self._note(plate, f"the dense layout was cut short: {trouble}", "the best it had answered was used")

    def _strip(self, old: Filling, mine: list[int], others: list[int], told: Told) -> Filling | None:
        """Press along a square-cornered plate, which is the solver's strip."""
        room = FILL * (old.limits[2] - old.limits[0]) * (old.limits[3] - old.limits[1])
        offered = mine + self._more(others, room - sum(self.area[p] for p in mine), self.area)
        task = strip_task(self.ways, offered, old, self.gap, self.seconds, self.seed)
        if not task["items"]:
            return None
        rows, trouble = press(task, told, self.cancelled, lambda rows: self._heard(old, rows, offered, task))
        self._cut_short(old.plate, trouble)
        return self._laid(old, rows, offered, task)[0]

    def _region(
        self, old: Filling, mine: list[int], others: list[int], free: BaseGeometry, told: Told
    ) -> Filling | None:
        """Press into free metal of any outline: try after try, more of it is to be used, or less of it used up."""
        wide = with_fewer_points(laid_down(container(free, self.gap, around(self.gap) - self.gap / 2), old))
        grown = {p: solver_shape(self.ways[p][0], self.gap).area for p in {*mine, *others}}
        reach = old.used + around(self.gap)
        low = min(0.9, sum(grown[p] for p in mine) / area_up_to(wide, reach))
        began, closer = time.monotonic(), min(CLOSER_MOST, CLOSER + CLOSER_A_SECOND * self.seconds)
        best: tuple[float, float, Filling] | None = None
        while closer >= LEAST_CLOSER and not self.cancelled():
            spent = time.monotonic() - began
            left = self.seconds - spent
            if left < LEAST_S and spent > 0.1:
                break
            share = low + closer * (1 - low)
            offered = mine + self._more(others, share * wide.area - sum(grown[p] for p in mine), grown)
            opening = cut_to(wide, sum(grown[p] for p in offered) / share)
            task = frame_task(self.ways, offered, old, opening, self.gap, max(min(left, 1.0), SHARE * left), self.seed)
            if task is None or len(task["items"]) < 2:
                break

            def at(part: float, spent: float = spent, wanted: float = task["seconds"]) -> None:
                told(min(0.99, (spent + part * wanted) / self.seconds))

            try:
                rows, trouble = press(task, at, self.cancelled)
            except (SolverFault, OSError):
                if best is None:
                    raise
                break
            self._cut_short(old.plate, trouble)
            new, all_clear = self._laid(old, rows, offered, task)
            mark = (-sum(self.area[s.lie.part] for s in new.spots), new.used)
            if best is None or mark < best[:2]:
                best = (*mark, new)
                if not self._soon():
                    self._show(new)
                    self.shown_at = time.monotonic()
            low, closer = (share, closer) if all_clear else (low, closer / 2)
        return best[2] if best else None

    @staticmethod
    def _more(others: list[int], room: float, area: dict[int, float]) -> list[int]:
        """Return copies from elsewhere, in order, as far as there is room."""
        out = []
        for part in others:
            if area[part] <= room:
                out.append(part)
                room -= area[part]
        return out

    def _laid(self, old: Filling, rows: list[Row], offered: list[int], task: dict[str, Any]) -> tuple[Filling, bool]:
        """Return the plate with the solver's places that pass the exact test, and whether all did."""
        new = self._bare(old)
        counts = Counter(offered)
        spots = proposals(rows, self.ways, new, counts, task)
        if "block" in task:
            spots = self._drawn_in(old, spots)
        for _ in range(2):  # what just failed may pass once the others have settled
            missed = []
            for spot in spots:
                clear = cleared(new, spot) if counts[spot.lie.part] > 0 else None
                if clear is None:
                    missed.append(spot)
                else:
                    new.put(clear)
                    counts[spot.lie.part] -= 1
            new.settle()
            spots = missed
            if not spots:
                break
        return new, not +counts

    def _drawn_in(self, old: Filling, spots: list[Spot]) -> list[Spot]:
        """Return places in a strip a little higher than the plate settled towards the datum corner.

        What rounding and the higher strip leave between parts is taken out from there upwards; so what just fits across
        the plate comes to lie on it.
        """
        x0, y0, x1, y1 = old.limits
        roomy = self._bare(old)
        roomy.limits = (x0, y0, x1 + 2, y1 + 2)
        for spot in spots:
            clear = cleared(roomy, spot)
            if clear is not None:
                roomy.put(clear)
        roomy.settle(fine_mm=FINEST_MM)
        return sorted(roomy.spots, key=lambda s: (*roomy.uv(s), s.lie.part))

    # -- what is shown meanwhile ----------------------------------------------------------------------------------

    def _soon(self) -> bool:
        """True when the last layout shown is too short a while ago, or showing takes too much of the time."""
        return time.monotonic() - self.shown_at < max(1.0, 4 * self.showing_took)

    def _heard(self, old: Filling, rows: list[Row], offered: list[int], task: dict[str, Any]) -> None:
        if not self._soon():
            began = time.monotonic()
            self._show(self._laid(old, rows, offered, task)[0])
            self.shown_at = time.monotonic()
            self.showing_took = self.shown_at - began

    def _show(self, new: Filling) -> None:
        """Show the layout as it would be with this plate, the plates after it as they were, when it is better."""
        counts = Counter(self._without(new))
        rest = [self._as_before(old, counts) for old in self.start[0][len(self.done) + 1 :]]
        fillings, left = [*self.done, new, *rest], self._ordered(list(counts.elements()))
        mark = measure(fillings, left, self.area)
        if mark < self.best:
            self.best, self.shown = mark, ([(f, list(f.spots)) for f in fillings], left)
            self.better(fillings, left)


def cleared(filling: Filling, spot: Spot) -> Spot | None:
    """Return the spot, moved a little where it must be to pass the exact test, None when that does not do.

    Along the plate first, away from the datum: what is still to be laid lies there and moves on as well.
    """
    x0, y0, x1, y1 = filling.limits
    lie = spot.lie
    at = (drawn_in(spot.x, x0, x1 - lie.width), drawn_in(spot.y, y0, y1 - lie.height))
    axis = filling.long_axis
    ways = [(0.0, 0.0)]
    ways += [(by, 0.0) if axis == 0 else (0.0, by) for by in ONWARD_MM]
    ways += [(dx * by, dy * by) for by in NUDGES_MM for dx in (-1, 0, 1) for dy in (-1, 0, 1) if dx or dy]
    for dx, dy in ways:
        if filling.clear(lie, at[0] + dx, at[1] + dy):
            return Spot(lie, at[0] + dx, at[1] + dy)
    return None


def nested(filling: Filling) -> set[int]:
    """Return which spots lie inside a window of another part."""
    solid = [Polygon(s.exterior) for s in filling.shapes[: len(filling.spots)]]
    return {
        n
        for n, s in enumerate(solid)
        if any(m != n and other.area > s.area and other.contains(s) for m, other in enumerate(solid))
    }
