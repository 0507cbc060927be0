"""Which layout a job is cut by: the one asked for, or of several the one that costs least."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from lagline.planning.bridges import with_bridges
from lagline.planning.cuts import make_cuts
from lagline.planning.estimate import Estimate, estimate
from lagline.planning.fit import bad_side_rule
from lagline.planning.full_width import with_full_width
from lagline.planning.guides import OVERHANG_MM
from lagline.planning.layout import lay_out
from lagline.planning.trim import after_trim, with_trims
from lagline.records.finding import Finding
from lagline.records.job import Job
from lagline.records.kit import Kit
from lagline.records.plan import Blank, Cut, Layout, Setting

TRIED = ("quick", "guided")  # what "best" chooses between; the quick way has something to show sooner


@dataclass(frozen=True, slots=True)
class LaidOut:
    """A layout with its cuts, what was noticed about them, and what it will ask of the bench."""

    layout: Layout
    cuts: tuple[Cut, ...]
    findings: tuple[Finding, ...]
    estimate: Estimate


def choose_layout(
    job: Job,
    kit: Kit,
    blanks: tuple[Blank, ...],
    settings: tuple[Setting, ...],
    *,
    seconds: int,
    tell: Callable[[float, str], None],
    stop: Callable[[], bool],
    sketch: Callable[[Layout], None],
) -> LaidOut:
    """Lay the job out as it asks; for "best" every way in ``TRIED``, and the cheapest by its estimate.

    ``sketch`` is shown a first layout early, and each better one; stopped, the best so far is returned.
    """
    ways = TRIED if job.layout == "best" else (job.layout,)
    best: LaidOut | None = None
    for n, method in enumerate(ways):

        def told(share: float, text: str, done: int = n) -> None:
            tell((done + share) / len(ways), text)

        shown = sketch if best is None else _nothing
        made = laid_out(job, kit, blanks, settings, method, seconds=seconds, tell=told, stop=stop, sketch=shown)
        if best is None or made.estimate.rank < best.estimate.rank:
            best = made
            sketch(made.layout)
        if stop():
            break
    assert best is not None
    return best


def laid_out(
    job: Job,
    kit: Kit,
    blanks: tuple[Blank, ...],
    settings: tuple[Setting, ...],
    method: str,
    *,
    seconds: int = 5,
    tell: Callable[[float, str], None] = lambda _share, _text: None,
    stop: Callable[[], bool] = lambda: False,
    sketch: Callable[[Layout], None] = lambda _layout: None,
) -> LaidOut:
    """Lay the job out one way and make its cuts."""
    whole = job
    job = replace(job, plates=tuple(after_trim(p) for p in job.plates))
    layout = lay_out(
        blanks,
        job.plates,
        gap_between(job, kit, settings),
        seed=job.seed,
        method=method,
        seconds=seconds,
        progress=tell,
        cancelled=stop,
        kerfs_mm={s.stock.key: s.kerf_mm.value for s in settings if s.bevel_deg == 0},
        bad_side=bad_side_rule(blanks, settings),
        pins=job.pins,
        reach_mm=max(kit.guides.straightedges_mm, default=0.0) - 2 * OVERHANG_MM,
        sketch=sketch,
    )
    cuts, found = make_cuts(blanks, job.plates, layout, settings, kit)
    cuts, bridged = with_bridges(job, kit, blanks, settings, layout, cuts)
    cuts = with_full_width(job.plates, kit, blanks, settings, layout, cuts)
    cuts, trimmed = with_trims(whole, kit, settings, layout, cuts)
    return LaidOut(layout, cuts, (*found, *trimmed, *bridged), estimate(job, kit, blanks, settings, layout, cuts))


def _nothing(_layout: Layout) -> None:
    return None


def gap_between(job: Job, kit: Kit, settings: tuple[Setting, ...]) -> float:
    """Return the clear gap between parts [mm]: as the job asks, else two kerfs and the hand's allowance."""
    if job.gap_mm is not None:
        return job.gap_mm
    return 2 * max((s.kerf_mm.value for s in settings), default=0.0) + kit.bench.cup_gap_mm
