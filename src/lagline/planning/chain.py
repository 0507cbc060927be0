"""The whole chain, top to bottom: a job and a kit in, a plan out. Reads as the job is done."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from lagline import __version__
from lagline.planning.bow_notes import strip_findings
from lagline.planning.choose_layout import choose_layout
from lagline.planning.falls import falls_of, plate_metals
from lagline.planning.intake import intake
from lagline.planning.order import order_cuts
from lagline.planning.proof import prove, what_is_left
from lagline.planning.settings import choose_settings
from lagline.planning.steps import make_steps, work_clamp
from lagline.planning.timetable import make_timetable
from lagline.planning.untangle import untangle
from lagline.planning.verdict import judge
from lagline.records.coupon import Learned
from lagline.records.finding import Finding, sort_findings
from lagline.records.job import Job
from lagline.records.kit import Kit
from lagline.records.plan import Blank, Layout, Plan
from lagline.trade.tip_drift import tips_used


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a plan has come: the stage at work, share done [0..1], and the best layout so far when it is new."""

    stage: str
    share: float
    blanks: tuple[Blank, ...] = ()
    layout: Layout | None = None


class Stopped(Exception):
    """The caller asked to stop; nothing was planned."""


def plan(
    job: Job,
    kit: Kit,
    noticed: tuple[Finding, ...] = (),
    *,
    learned: Learned = Learned(),
    tell: Callable[[Progress], None] = lambda _: None,
    stop: Callable[[], bool] = lambda: False,
    seconds: int = 5,
) -> Plan:
    """Return the plan for a job with a kit.

    Parameters
    ----------
    noticed : findings made while the files were read; they join the plan's own
    learned : what the bench's coupons say; figures they reach take their value and spread from them
    tell : called as stages are done
    stop : asked between stages; True raises :class:`Stopped`
    seconds : time a dense layout may take [s]

    Same job, kit and seed give the same plan (a dense layout excepted, whose answer the plan keeps).
    """

    def at(stage: str, share: float, blanks: tuple[Blank, ...] = (), layout: Layout | None = None) -> None:
        tell(Progress(stage, share, blanks, layout))
        if stop():
            raise Stopped(stage)

    at("reading the parts", 0.0)
    blanks, f_intake = intake(job)
    at("choosing the settings", 0.05)
    settings, f_settings = choose_settings(blanks, kit, job.current_a, learned)
    at("laying out", 0.1)
    reached = ("laying out", 0.1)

    def laying(share: float, stage: str) -> None:
        nonlocal reached
        reached = stage, 0.1 + 0.4 * share
        at(*reached)

    chosen = choose_layout(
        job,
        kit,
        blanks,
        settings,
        seconds=seconds,
        tell=laying,
        stop=stop,
        sketch=lambda laid: tell(Progress(*reached, blanks, laid)),
    )
    layout, cuts, f_cuts = chosen.layout, chosen.cuts, chosen.findings
    at("setting out the cuts", 0.6, blanks, layout)
    at("putting them in order", 0.65)
    anchors = {i: work_clamp(i, job.plates, blanks, layout) for i in {c.plate for c in cuts}}
    metals = plate_metals(cuts, blanks, job.plates, layout, settings, anchors)
    order, f_loose = order_cuts(cuts, kit, job.seed, metals)
    order, f_order = untangle(cuts, order, settings)
    falls = falls_of(cuts, order, job.plates, metals)
    steps, f_steps = make_steps(cuts, order, blanks, job.plates, layout, settings, kit, falls)
    at("keeping time", 0.85)
    timetable, f_time = make_timetable(steps, settings, kit)
    at("checking the parts that are left", 0.9)
    f_proof = prove(what_is_left(job.plates, blanks, layout, steps, settings), blanks, layout, f_cuts)
    verdicts, plates, totals, f_verdict = judge(job, kit, blanks, settings, layout, cuts, steps, timetable)
    at("done", 1.0)
    findings = (
        *tips_used(noticed, {s.tip for s in settings}),
        *f_intake,
        *f_settings,
        *layout.findings,
        *f_cuts,
        *f_loose,
        *f_order,
        *f_steps,
        *strip_findings(blanks, settings, layout, cuts, job.units),
        *f_time,
        *f_proof,
        *f_verdict,
    )
    return Plan(
        job, kit, blanks, settings, layout, cuts, steps, timetable, verdicts, plates, totals,
        sort_findings(findings), __version__,
    )  # fmt: skip
