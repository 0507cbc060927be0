"""What to cut first while a line cools: a later cut that lies cold, waits for nothing, and leaves nothing loose."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from lagline.planning.falls import plate_metals
from lagline.planning.heat import LineHeat, PlateHeat
from lagline.planning.loose import Atoms
from lagline.records.plan import Cut, Plan, Start, Step

_NEAR_MM = 0.02


def instead(plan: Plan, plate: PlateHeat) -> dict[int, int]:
    """Return for set-ups whose line is too hot the set-up to do first, by number, where there is one.

    The whole cut of that set-up is brought forward to just before the hot one. Kept: what a cut comes after; starts
    from a kerf that is not open by then are not brought forward; no more cuts than before run in loose metal, asked of
    the plate's atoms; bridges stay where they are; a cut once begun is not broken off.
    """
    hot = [line for line in plate.lines if line.cold]
    if not hot:
        return {}
    steps = {s.number: s for s in plan.steps}
    cuts = {c.id: c for c in plan.cuts}
    mine = [s for s in plan.steps if s.plate == plate.plate]
    order = list(dict.fromkeys(s.cut for s in mine))
    entries = {s.cut: _entry(cuts[s.cut], s) for s in mine if s.group == 1}
    atoms = Atoms(plate_metals(plan.cuts, plan.blanks, plan.job.plates, plan.layout, plan.settings,
                               {plate.plate: mine[0].clamp})[plate.plate])  # fmt: skip

    def loose(sequence: Sequence[str]) -> int:
        known = [(c, entries.get(c, 0)) for c in sequence if cuts[c].role != "trim"]
        return len(atoms.check(known).slips)

    before = loose(order)
    out: dict[int, int] = {}
    for line in hot:
        found = _first(line, steps, cuts, order, lambda new: loose(new) <= before)
        if found is not None:
            out[line.number] = found
    return out


def _first(
    line: LineHeat, steps: dict[int, Step], cuts: dict[str, Cut], order: list[str],
    holds: Callable[[Sequence[str]], bool],
) -> int | None:  # fmt: skip
    step = steps[line.number]
    at = order.index(step.cut)
    done = set(order[:at])
    if step.group != 1:
        return None
    for number in line.cold:
        other = steps[number]
        cut = cuts[other.cut]
        if other.group != 1 or other.start is Start.KERF or other.cut == step.cut or cut.role == "bridge":
            continue
        if not set(cut.after) <= done:
            continue
        rest = [c for c in order[at:] if c != other.cut]
        if holds([*order[:at], other.cut, *rest]):
            return number
    return None


def _entry(cut: Cut, step: Step) -> int:
    """The entry a step began at, 0 where none is found."""
    if not step.path:
        return 0
    begin = step.path[0].start
    return next((n for n, e in enumerate(cut.entries) if e.run_in and math.dist(e.run_in[0], begin) < _NEAR_MM), 0)
