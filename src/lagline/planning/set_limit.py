"""How long the set may run: a warm body where its plate tells a time constant, else ten minutes at equal heating.

Either way the plate's own rhythm, ten minutes at 40 C, is what may be kept up for ever.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

from lagline.planning.duty_log import DutyLog
from lagline.records.kit import PowerSet
from lagline.trade.duty import PERIOD_S, allowed_share, limit_cycle_peak
from lagline.trade.set_heat import SetHeat, level, longest_s, rhythm_share, set_heat, start_for, warmth_after

COLD = 0.02  # warmth left after four time constants: nobody waits longer


class SetState(Protocol):
    """A set while the job goes by. Arcs are told in their order."""

    def earliest(self, ready_s: float, arc_s: float, current_a: float) -> float:
        """Earliest time from ``ready_s`` on [s] at which an arc may begin."""
        ...

    def burn(self, begin_s: float, arc_s: float, current_a: float) -> float:
        """Note an arc; return how near its limit the set came [-], 1 being there."""
        ...


@dataclass(frozen=True, slots=True)
class SetLimit:
    """What a set allows: its plate, the warm body fitted to it (None: equal heating), and the rise allowed in the air
    it stands in as a share of the one at 40 C."""

    power: PowerSet
    heat: SetHeat | None
    level: float

    def share(self, current_a: float) -> float:
        """Share of every ten minutes the arc may burn for ever at a current [A]."""
        if self.heat is None:
            return min(1.0, allowed_share(current_a, self.power.duty) * self.level)
        return rhythm_share(self.heat.final(current_a), self.level, self.heat.tau_s)

    def most_arc_s(self, current_a: float) -> float:
        """Longest arc in one go at a current [A], the set cold [s]; infinite at full duty."""
        if self.heat is None:
            share = self.share(current_a)
            return math.inf if share >= 1 else share * PERIOD_S
        return longest_s(COLD, self.heat.final(current_a), self.level, self.heat.tau_s)

    def rest_before_s(self, arc_s: float, current_a: float) -> float:
        """Rest from a set at its limit to an arc of a length [s, A]; infinite when it is too long for any rest."""
        if self.heat is None:
            state = DutyLog()
            share = self.share(current_a)
            if share >= 1:
                return 0.0
            if arc_s > share * PERIOD_S + 1e-6:
                return math.inf
            state.burn(-share * PERIOD_S, share * PERIOD_S, share)
            return state.earliest(0.0, arc_s, share)
        start = start_for(arc_s, self.heat.final(current_a), self.level, self.heat.tau_s)
        return math.inf if start < COLD else self.heat.tau_s * math.log(self.level / start)

    def fresh(self) -> SetState:
        """Return the set as it stands when the job begins, after what it burnt in the ten minutes before.

        The warm body is taken to have run in that rhythm all day; the ten-minute window counts the arc as one that
        has just ended.
        """
        before = self.power.warmth.arc_before_min * 60
        if self.heat is None:
            log = _Window(self, DutyLog())
            if before > 0:
                log.burn(-before, before, self.power.rated_current_a)
            return log
        return _Body(self, self.heat, self.warm_at_start())

    def warm_at_start(self) -> float:
        """Warmth of the body when the job begins [-]; 0 for equal heating."""
        before = self.power.warmth.arc_before_min * 60
        if self.heat is None or before <= 0:
            return 0.0
        peak = limit_cycle_peak(before / PERIOD_S, PERIOD_S, self.heat.tau_s)
        return min(self.level, self.heat.final(self.power.rated_current_a) * peak)


@dataclass(slots=True)
class _Window:
    """Equal heating: the duty log at the share of each arc's current."""

    limit: SetLimit
    log: DutyLog

    def earliest(self, ready_s: float, arc_s: float, current_a: float) -> float:
        return self.log.earliest(ready_s, arc_s, self.limit.share(current_a))

    def burn(self, begin_s: float, arc_s: float, current_a: float) -> float:
        return self.log.burn(begin_s, arc_s, self.limit.share(current_a))


@dataclass(slots=True)
class _Body:
    """A warm body: its warmth at a time [s]."""

    limit: SetLimit
    heat: SetHeat
    warm: float
    at_s: float = 0.0

    def _then(self, at_s: float) -> float:
        return warmth_after(self.warm, 0.0, max(0.0, at_s - self.at_s), self.heat.tau_s)

    def earliest(self, ready_s: float, arc_s: float, current_a: float) -> float:
        """An arc too long for a cold set is not waited for: no rest would do."""
        may = start_for(arc_s, self.heat.final(current_a), self.limit.level, self.heat.tau_s)
        now = self._then(ready_s)
        if now <= may or may < COLD:
            return ready_s
        return ready_s + self.heat.tau_s * math.log(now / may)

    def burn(self, begin_s: float, arc_s: float, current_a: float) -> float:
        start = self._then(begin_s)
        end = warmth_after(start, self.heat.final(current_a), arc_s, self.heat.tau_s)
        # beyond its limit the set switches itself off: it is never warmer than that
        self.warm, self.at_s = min(end, self.limit.level), begin_s + arc_s
        return max(start, end) / self.limit.level


def set_limit(power: PowerSet) -> SetLimit:
    """Return what a set allows."""
    return SetLimit(power, set_heat(power.duty), level(power.warmth.ambient_c))
