"""The heat of a whole plan: every plate taken through its steps by the clock, and what that says at the bench.

Glossary
--------
rise  : temperature over the air's
front : nearer to a kerf than ``believe_mm`` the field is not believed
line  : a step's cut before it is made; the metal it will run in
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from lagline.planning.heat_tracks import Burn, burns_of
from lagline.records.finding import Finding
from lagline.records.geometry import Point
from lagline.records.plan import Plan
from lagline.shapes.region import polygon
from lagline.trade.heat_field import MOST_WORK, Field, Floats, Ints, Links, choose_cell
from lagline.trade.heat_plate import handle_c, loss_per_s
from lagline.trade.register import formula

AIR_C = 20.0
LIMIT_C = 150.0  # metal hotter than this before its own cut is told; ours, no source
STRETCH_MM = 40.0  # so much of a line must be that hot on average
NEAR_END_MM = 25.0  # of a line that goes on from the kerf before it, where it is hot in any case
WATCH_S = 3 * 3600.0  # how long a plate is watched after its last cut
LONGEST_WAIT_S = 1800.0
MOST_WAITS = 12  # waits worked out for a plate
LOOK_ON = 24  # set-ups looked at for one that lies cold


class Halted(Exception):
    """The caller asked to stop; there is no answer."""


@dataclass(frozen=True, slots=True)
class Frame:
    """The plate at one moment [s, on the job's clock]: the rise of every square, row by row from below [K]."""

    at_s: float
    rise: Floats


@dataclass(frozen=True, slots=True)
class PartHeat:
    """What one placed part goes through: its highest temperature off the front (None where it is all front), when it
    comes loose, how hot it is then on the whole, and when all of it may be taken in the hand (None: not while
    watched)."""

    placed: int
    name: str
    peak_c: float | None
    loose_s: float
    loose_c: float
    handle_s: float | None

    @property
    def wait_s(self) -> float | None:
        """From coming loose to being fit to handle [s]."""
        return None if self.handle_s is None else max(0.0, self.handle_s - self.loose_s)


@dataclass(frozen=True, slots=True)
class LineHeat:
    """How hot the metal of a step's line is when its arc is struck: the hottest stretch of it, and where. ``wait_s`` is
    what would cool it to the limit, None where it was not looked for or is more than half an hour; ``cold`` are later
    set-ups that begin a cut in metal well below the limit at that moment."""

    number: int
    title: str
    hottest_c: float
    at: Point
    wait_s: float | None = None
    cold: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class PlateHeat:
    """One plate's answer. ``peak`` and frames are rises by square; a square's middle is at ``corner`` plus its column
    and row times ``cell_mm``."""

    plate: int
    name: str
    metal: str
    cell_mm: float
    coarse: bool
    corner: Point
    solid: np.ndarray
    peak: Floats
    off_front: np.ndarray  # squares where the peak is believed
    believe_mm: float
    frames: tuple[Frame, ...]
    course: tuple[tuple[float, float], ...]  # clock [s], hottest square off every open front [C]
    hottest_c: float
    hottest_at: Point
    parts: tuple[PartHeat, ...]
    lines: tuple[LineHeat, ...]
    put_kj: float
    cut_mm: float
    loss_per_s: float
    findings: tuple[Finding, ...] = ()

    def place(self, row: int, column: int) -> Point:
        """Middle of a square [mm]."""
        return (self.corner[0] + column * self.cell_mm, self.corner[1] + row * self.cell_mm)


@dataclass(slots=True)
class _Watch:
    """What is kept while a plate goes through its steps."""

    labels: Ints
    count: int
    seen: list[tuple[float, float, Floats]] = field(default_factory=list)

    def look(self, f: Field, at_s: float) -> None:
        from lagline.trade.heat_kernel import tallest

        most = np.zeros(max(self.count, 1))
        tallest(f.rise, self.labels, most)
        self.seen.append((at_s, float(f.rise.max()), most))


def heat_of(
    plan: Plan,
    *,
    losses: bool = True,
    frames: int = 0,
    at_s: Sequence[float] = (),
    limit_c: float = LIMIT_C,
    most_work: float = MOST_WORK,
    tell: Callable[[float, str], None] = lambda _share, _text: None,
    stop: Callable[[], bool] = lambda: False,
) -> tuple[PlateHeat, ...]:
    """Return the heat of every plate on which an arc is struck.

    Parameters
    ----------
    losses : False switches the loss to air and bench off
    frames : how many moments of each plate to keep, chosen among the ends of its cuts and the time after
    at_s : moments on the job's clock to keep [s]
    limit_c : metal hotter than this before its own cut is told [C]
    most_work : squares times steps for all plates together
    tell : hears the share done and what is at work
    stop : asked after every step; True raises :class:`Halted`
    """
    by_plate: dict[int, list[Burn]] = {}
    for b in burns_of(plan):
        by_plate.setdefault(b.plate, []).append(b)
    total = sum(map(len, by_plate.values()))
    out: list[PlateHeat] = []
    done = 0
    for index, burns in sorted(by_plate.items()):
        share = most_work * (0.8 * len(burns) / total + 0.2 / len(by_plate))
        at_work = f"heat of plate {plan.job.plates[index].name}"

        def step(n: int, before: int = done, text: str = at_work) -> None:
            if stop():
                raise Halted(text)
            tell((before + n) / total, text)

        out.append(_plate(plan, index, burns, losses, frames, at_s, limit_c, share, step))
        done += len(burns)
    return tuple(out)


def _plate(
    plan: Plan, index: int, burns: list[Burn], losses: bool, frames: int, at_s: Sequence[float], limit_c: float,
    most_work: float, step: Callable[[int], None],
) -> PlateHeat:  # fmt: skip
    plate = plan.job.plates[index]
    metal, thick = plate.stock.metal, plate.stock.thickness_mm
    area = polygon(plate.outline, 0.1)
    arc_s = math.fsum(b.track.seconds for b in burns)
    last_s = burns[-1].struck_s + burns[-1].track.seconds
    rest_s = last_s - burns[0].struck_s - arc_s
    cell, coarse = choose_cell(area, metal, arc_s, rest_s + WATCH_S / 2, len(burns) + 1, most_work)
    f = Field(area, metal, thick, cell, loss_per_s(metal, thick) if losses else 0.0)
    here = [i for i, p in enumerate(plan.layout.placed) if p.plate == index]
    areas = [polygon(p.move.outline(plan.blanks[p.part].cut), 0.1) for p in (plan.layout.placed[i] for i in here)]
    watch = _Watch(f.labels(areas), len(areas))
    freed = {s.number: s.freed or ((s.placed,) if s.frees == "part" else ()) for s in plan.steps}
    loose: dict[int, tuple[float, float]] = {}
    kerf = max(2 * b.track.half_kerf_mm for b in burns)
    believe = max(2 * kerf, 2 * cell)
    links = [f.links(b.track) for b in burns]
    keep = sorted({*_moments(burns, frames), *(max(t, 0.0) for t in at_s)})
    kept: list[Frame] = []
    lines: list[LineHeat] = []
    waits = 0
    now = burns[0].struck_s
    kept.extend(Frame(t, f.rise.copy()) for t in keep if t <= now)
    for n, (b, lk) in enumerate(zip(burns, links, strict=True)):
        step(n)
        now = _rest_to(f, now, b.struck_s, keep, kept, watch)
        line = _line_heat(f, b, lk)
        if line.hottest_c > limit_c:
            wait = _wait_s(f, b, lk, limit_c) if waits < MOST_WAITS else None
            waits += 1
            later = zip(burns[n + 1 : n + 1 + LOOK_ON], links[n + 1 : n + 1 + LOOK_ON], strict=True)
            cold = tuple(o.number for o, k in later if _line_heat(f, o, k).hottest_c < AIR_C + (limit_c - AIR_C) / 2)
            line = LineHeat(line.number, line.title, line.hottest_c, line.at, wait, cold)
        lines.append(line)
        end = b.struck_s + b.track.seconds
        due = [t for t in keep if now < t < end]
        f.cut(b.track, lk, [(t - now, lambda t=t: kept.append(Frame(t, f.rise.copy()))) for t in due])  # type: ignore[misc]
        now = end
        kept.extend(Frame(t, f.rise.copy()) for t in keep if t == end)
        watch.look(f, now)
        loose |= {i: (now, _mean(f, watch.labels == here.index(i))) for i in freed[b.number] if i in here}
    step(len(burns) - 1)
    limit = handle_c().value - AIR_C
    until = max([now, *keep])
    now = _rest_to(f, now, until, keep, kept, watch)
    while losses and now < last_s + WATCH_S and f.rise.max() > limit:
        step(len(burns) - 1)
        now = _rest_to(f, now, now + 600.0, (), [], watch)
    off = _off_front(f, links, believe)
    parts = _parts(plan, here, loose, f, watch, off, limit)
    hot = np.where(off, f.peak, -np.inf)
    row, column = (int(v) for v in np.unravel_index(int(hot.argmax()), hot.shape))
    return PlateHeat(
        index, plate.name, metal, cell, coarse, (f.x0, f.y0), f.metal, f.peak, off, believe, tuple(kept),
        tuple((t, AIR_C + top) for t, top, _ in watch.seen), AIR_C + max(0.0, float(hot.max())), f.place(row, column),
        parts, tuple(lines), f.put_j / 1000, math.fsum(b.track.length_mm for b in burns), f.loss_per_s,
    )  # fmt: skip


def _rest_to(f: Field, now: float, then: float, keep: Sequence[float], kept: list[Frame], watch: _Watch) -> float:
    """Let the plate lie until a time, keeping the moments on the way."""
    for stop in (*(t for t in keep if now < t < then), then):
        if stop > now:
            begin = now
            f.rest(stop - now, lambda gone, begin=begin: watch.look(f, begin + gone))  # type: ignore[misc]
            now = stop
        if stop in keep:
            kept.append(Frame(stop, f.rise.copy()))
    return now


def _moments(burns: list[Burn], frames: int) -> list[float]:
    """Ends of cuts spread evenly over the heat laid in, and two moments after the last."""
    if frames <= 0:
        return []
    ends = [b.struck_s + b.track.seconds for b in burns]
    after = max(0, min(2, frames - 1))
    length = list(itertools.accumulate(b.track.length_mm for b in burns))
    n = frames - after
    wanted = [length[-1] * (k + 1) / n for k in range(n)]
    chosen = {ends[next(i for i, v in enumerate(length) if v >= w - 1e-9)] for w in wanted}
    return sorted({*chosen, *(ends[-1] + s for s in (300.0, 1200.0)[:after])})


@formula(
    "heat.line-before",
    text="hottest mean over 40 mm of a line at the moment its arc is struck, 25 mm at the ends left out where it goes "
    "on from a kerf",
    gives="temperature of the metal a cut is going to run in [C]",
    source="derived from the heat field; the length and the limit of 150 C: ours, no source",
)
def _line_heat(f: Field, b: Burn, links: Links) -> LineHeat:
    """Return how hot a step's line is now."""
    (values, along), middle = _along(f, b, links), b.track.points[0]
    if not len(values):
        return LineHeat(b.number, b.title, AIR_C, middle)
    k = int(values.argmax())
    n = int(np.abs(links.along_mm - along[k]).argmin())
    return LineHeat(b.number, b.title, AIR_C + float(values[k]), f.place(int(links.row[n]), int(links.column[n])))


def _along(f: Field, b: Burn, links: Links) -> tuple[Floats, Floats]:
    """Mean rise over a stretch about places along a line, and those places [mm]."""
    length = b.track.length_mm
    low, high = (NEAR_END_MM if b.goes_on else 0.0), length - (NEAR_END_MM if b.goes_on else 0.0)
    use = (links.along_mm >= low) & (links.along_mm <= high)
    here = f.metal[links.row, links.column]
    there = f.metal[links.row + 1 - links.across, links.column + links.across]
    use &= here & there
    if not use.any():
        return np.zeros(0), np.zeros(0)
    a, b_ = f.rise[links.row, links.column], f.rise[links.row + 1 - links.across, links.column + links.across]
    s, v = links.along_mm[use], ((a + b_) / 2)[use]
    sums = np.r_[0.0, np.cumsum(v)]
    lo = np.searchsorted(s, np.minimum(s - STRETCH_MM / 2, s[-1] - STRETCH_MM))
    hi = np.searchsorted(s, np.maximum(s + STRETCH_MM / 2, s[0] + STRETCH_MM), "right")
    mean: Floats = (sums[hi] - sums[lo]) / np.maximum(hi - lo, 1)
    return mean, s


def _wait_s(f: Field, b: Burn, links: Links, limit_c: float) -> float | None:
    """How long the plate must lie before a step's line is below a limit [s]; None where half an hour is not enough."""
    g, gone, pause = f.copy(), 0.0, 15.0
    before = float(_along(g, b, links)[0].max()) + AIR_C
    while gone < LONGEST_WAIT_S:
        g.rest(pause)
        now = float(_along(g, b, links)[0].max()) + AIR_C
        if now <= limit_c:
            share = math.log((before - AIR_C) / max(limit_c - AIR_C, 1e-9)) / max(
                math.log((before - AIR_C) / max(now - AIR_C, 1e-9)), 1e-9
            )
            return gone + pause * min(1.0, share)
        gone, before, pause = gone + pause, now, 1.3 * pause
    return None


def _off_front(f: Field, links: Sequence[Links], believe_mm: float) -> np.ndarray:
    """Metal squares further from every cut than where the field is believed."""
    from scipy.ndimage import distance_transform_edt

    free = np.ones(f.metal.shape, dtype=np.bool_)
    for lk in links:
        free[lk.cells] = False
    far = (distance_transform_edt(free) + 0.5) * f.cell_mm
    out: np.ndarray = (far >= believe_mm) & f.metal
    return out


def _mean(f: Field, mine: np.ndarray) -> float:
    """Mean rise of some squares, each by the metal in it [K]."""
    metal = (1 / f.share)[mine]
    return float((f.rise[mine] * metal).sum() / metal.sum()) if metal.size else 0.0


def _parts(
    plan: Plan, here: list[int], loose: dict[int, tuple[float, float]], f: Field, watch: _Watch, off: np.ndarray,
    limit: float,
) -> tuple[PartHeat, ...]:  # fmt: skip
    times = [t for t, _, _ in watch.seen]
    out = []
    for k, i in enumerate(here):
        mine = (watch.labels == k) & off
        at, mean = loose.get(i, (times[-1], _mean(f, watch.labels == k)))
        first = next(n for n, t in enumerate(times) if t >= at - 1e-6)
        tops = [float(most[k]) for _, _, most in watch.seen[first:]]
        # once it is cool it is taken away: what the field says of its place later is not about it
        cool = next((n for n, top in enumerate(tops) if top <= limit), None)
        handle = None if cool is None else at
        if cool:
            a, b = tops[cool - 1], max(tops[cool], 1e-9)
            share = math.log(a / limit) / math.log(a / b)
            handle = times[first + cool - 1] + (times[first + cool] - times[first + cool - 1]) * share
        peak = AIR_C + float(f.peak[mine].max()) if mine.any() else None
        out.append(PartHeat(i, plan.layout.placed[i].name(plan.blanks), peak, at, AIR_C + mean, handle))
    return tuple(out)
