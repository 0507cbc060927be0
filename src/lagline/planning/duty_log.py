"""What the set has burnt in the last ten minutes, and how soon it may burn again."""

from __future__ import annotations

from dataclasses import dataclass, field

from lagline.trade.duty import PERIOD_S

_EPS = 1e-9


@dataclass(slots=True)
class DutyLog:
    """Arc times so far. An arc at a current with allowed share X uses up 1/(600 X) of the set for each second it
    burns; in any 600 s the sum may reach 1. At one current that is the duty factor as it stands on the plate; at
    several it weighs each by its own share."""

    arcs: list[tuple[float, float, float]] = field(default_factory=list)  # begin, end [s], use per second

    def used(self, at_s: float) -> float:
        """Share of the allowed arc time used in the ten minutes that end at a time [s]."""
        return sum(w * max(0.0, min(e, at_s) - max(b, at_s - PERIOD_S)) for b, e, w in self.arcs)

    def burn(self, begin_s: float, arc_s: float, share: float) -> float:
        """Note an arc; return the most that was used in any ten minutes ending while it burnt."""
        self.arcs = [a for a in self.arcs if a[1] > begin_s - PERIOD_S]
        self.arcs.append((begin_s, begin_s + arc_s, 1 / (PERIOD_S * share)))
        ends = {begin_s, begin_s + arc_s, *self._corners(begin_s, begin_s + arc_s)}
        return max(self.used(t) for t in ends)

    def earliest(self, ready_s: float, arc_s: float, share: float) -> float:
        """Return the earliest time from ``ready_s`` on at which an arc may begin so that no ten minutes are overrun.

        With P(t) what the past still counts at t (falling, in straight pieces), an arc begun at a needs
        P(a + u) <= 1 - w u for every u up to its length. Each corner of P and the arc's end gives one bound on a;
        the largest is exact. An arc that is too long by itself waits until nothing of the past counts.
        """
        w = 1 / (PERIOD_S * share)
        length = min(arc_s, 1 / w)
        corners = self._corners(ready_s, float("inf"))
        begin = max(ready_s, self._falls_to(1.0, ready_s, corners))
        for t in corners:
            u = (1 - self.used(t)) / w
            if 0 <= u < length - _EPS:
                begin = max(begin, t - u)
        return max(begin, self._falls_to(max(0.0, 1 - w * length), ready_s, corners) - length)

    def _corners(self, after_s: float, before_s: float) -> list[float]:
        return sorted({t + PERIOD_S for b, e, _ in self.arcs for t in (b, e) if after_s < t + PERIOD_S < before_s})

    def _falls_to(self, level: float, from_s: float, corners: list[float]) -> float:
        """First time from ``from_s`` on when the past counts no more than a level."""
        t, p = from_s, self.used(from_s)
        if p <= level + _EPS:
            return t
        for corner in corners:
            q = self.used(corner)
            if q <= level + _EPS:
                return corner if p - q < _EPS else max(t, corner - (level - q) / (p - q) * (corner - t))
            t, p = corner, q
        return t
