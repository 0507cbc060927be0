"""What a job uses of each tip: starts, pierces, arc, nozzles and electrodes, and after which set-up to change them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from lagline.records.figure import Figure
from lagline.records.kit import Kit
from lagline.records.plan import Clock, Setting, Start, Step
from lagline.trade.wear import Use, electrodes, nozzles

Wears = Callable[[Use], Figure]


@dataclass(frozen=True, slots=True)
class Change:
    """One change within the job: the part, after which set-up it is expected, and after which to look at it first."""

    part: str  # "nozzle" or "electrode"
    after: int
    look_after: int


@dataclass(frozen=True, slots=True)
class TipWear:
    """One tip over the job, begun new. ``stock`` and ``stock_safe``: nozzles and electrodes to have, as expected and
    when they wear as fast as they may."""

    tip: str
    use: Use
    nozzles: Figure
    electrodes: Figure
    changes: tuple[Change, ...]
    stock: tuple[int, int]
    stock_safe: tuple[int, int]


def wear_plan(
    kit: Kit, settings: tuple[Setting, ...], steps: tuple[Step, ...], clocks: tuple[Clock, ...]
) -> tuple[TipWear, ...]:
    """Return the wear of every tip that strikes an arc, in order of first use.

    A part is changed between set-ups, never in one: before the set-up that would take it past its life. One set-up that
    asks more than a whole life is begun with a new part.
    """
    per_set, dryer = kit.bench.starts_per_tip_set, dryer_of(kit)
    tip_of = {s.id: s.tip for s in settings}
    by_tip: dict[str, list[tuple[int, Use]]] = {}
    for step, clock in zip(steps, clocks, strict=True):
        if (use := use_of(step, clock.arc_s)).starts:
            by_tip.setdefault(tip_of[step.setting], []).append((step.number, use))

    def nozzle(use: Use) -> Figure:
        return nozzles(use, per_set, dryer)

    def electrode(use: Use) -> Figure:
        return electrodes(use, per_set, dryer)

    out = []
    for tip, asked in by_tip.items():
        whole = _sum(use for _, use in asked)
        changes: list[Change] = []
        counts: list[tuple[int, int]] = []
        for part, wears in (("nozzle", nozzle), ("electrode", electrode)):
            expected = changed_after(asked, wears, lambda f: f.value)
            soonest = changed_after(asked, wears, lambda f: f.high)
            changes.extend(Change(part, a, min(a, s)) for a, s in zip(expected, soonest, strict=False))
            counts.append((1 + len(expected), 1 + len(soonest)))
        (n, n_safe), (e, e_safe) = counts
        out.append(
            TipWear(
                tip,
                whole,
                nozzle(whole),
                electrode(whole),
                tuple(sorted(changes, key=lambda c: (c.after, c.part))),
                (n, e),
                (n_safe, e_safe),
            )
        )
    return tuple(out)


def dryer_of(kit: Kit) -> str:
    """How the air of a kit is dried, "" when it does not say."""
    return kit.air.intake.dryer if kit.air.intake is not None else ""


def use_of(step: Step, arc_s: float) -> Use:
    """What a set-up asks of its tip; nothing for a drill."""
    if not step.path or step.start is Start.NONE:
        return Use()
    through = step.start is Start.PIERCE
    return Use(int(not through), int(through), arc_s)


def past_life(used: float) -> bool:
    """Whether more than one whole nozzle or electrode is used."""
    return used > 1 + 1e-9


def _sum(uses: Iterable[Use]) -> Use:
    total = Use()
    for u in uses:
        total = total.plus(u.edge_starts, u.pierces, u.arc_s)
    return total


def changed_after(asked: list[tuple[int, Use]], wears: Wears, pick: Callable[[Figure], float]) -> tuple[int, ...]:
    """Return the set-ups after which a part is changed, one new at the first; none for what lasts the job.

    ``asked``: number and use of each set-up in order; ``wears`` how many a use takes; ``pick`` the end of its spread.
    """
    out: list[int] = []
    spent, before = Use(), 0
    for number, use in asked:
        after = spent.plus(use.edge_starts, use.pierces, use.arc_s)
        if spent.starts and past_life(pick(wears(after))):
            out.append(before)
            after = use
        spent, before = after, number
    return tuple(out)
