"""Where along a cut its bridges stand: evenly, clear of corners and of other kerfs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

APART_MM = 450.0  # bridges stand no further apart than this (18 in), nor from an end; common practice, no source
LEAST_STRETCH_MM = 50.0  # the arc is on for at least this between bridges: shorter stretches are all starts
CORNER_MM = 25.0  # a bridge keeps this far from a corner and from another kerf; common practice, no source
STEP_MM = 2.0


@dataclass(frozen=True, slots=True)
class Side:
    """An edge of a placed part along a straight pass: of which cut (index) and pass, from where to where along its
    path [mm], and whether the part lies on the kept side of travel. ``long`` when it is one of its long edges."""

    strip: int
    cut: int
    at: int
    lo: float
    hi: float
    kept: bool
    long: bool
    kerf_mm: float


@dataclass(frozen=True, slots=True)
class Gap:
    """Where the arc is off [mm along the pass]."""

    begin: float
    end: float


def evenly(lo: float, hi: float, wide: float, blocked: Sequence[tuple[float, float]]) -> tuple[Gap, ...]:
    """Return gaps of a width along a stretch [mm], at least two where they find room, none where not even one does.

    Their middles share the stretch evenly, moved off what is blocked by up to a quarter of that share. Where so many
    find no place, those that do stand as near to it as they can, no two nearer than half a share.
    """
    most = max(2, math.ceil((hi - lo) / APART_MM))
    for n in range(most, 0, -1):
        gaps = _near_shares(lo, hi, wide, blocked, n, 0.25)
        if len(gaps) == n:
            if n == most:
                return gaps
            break
    return max(gaps if len(gaps) == n else (), _near_shares(lo, hi, wide, blocked, most, float(most)), key=len)


def _near_shares(
    lo: float, hi: float, wide: float, blocked: Sequence[tuple[float, float]], n: int, off: float
) -> tuple[Gap, ...]:
    """Up to n gaps, each as near to the middle of its share as may be, no further off than so many shares."""
    share = (hi - lo) / n
    gaps: list[Gap] = []
    for i in range(n):
        for m in _around(lo + share * (i + 0.5), share * off):
            a, b = m - wide / 2, m + wide / 2
            if (
                lo + LEAST_STRETCH_MM <= a
                and b <= hi - LEAST_STRETCH_MM
                and all(abs(g.begin - a) >= max(share / 2 - 1e-6, wide + LEAST_STRETCH_MM) for g in gaps)
                and not any(c < b and a < d for c, d in blocked)
            ):
                gaps.append(Gap(a, b))
                break
    return tuple(sorted(gaps, key=lambda g: g.begin))


def _around(middle: float, far: float) -> list[float]:
    steps = int(far // STEP_MM)
    return [middle, *(middle + d * STEP_MM * k for k in range(1, steps + 1) for d in (1, -1))]


def places(
    chosen: Sequence[Side],
    sides: Sequence[Side],
    widths: dict[int, float],
    blocked: Sequence[tuple[float, float]],
) -> tuple[Gap, ...]:
    """Return the gaps of one line for the sides chosen on it.

    Parameters
    ----------
    chosen : the sides to be bridged
    sides : of every part on the line, strips or not; a bridge lies wholly along each part it touches, and where two
        strips face each other it is as wide as the wider one wants
    widths : of the strips' bridges, by placed part [mm]
    blocked : where no bridge may stand [mm along the pass]
    """
    out: list[Gap] = []
    corners = [(e - CORNER_MM, e + CORNER_MM) for s in sides for e in (s.lo, s.hi)]
    for side in sorted(chosen, key=lambda s: (s.lo, s.strip)):
        facing = [s for s in sides if s.kept != side.kept and min(s.hi, side.hi) - max(s.lo, side.lo) > LEAST_STRETCH_MM
                  and s.strip in widths]  # fmt: skip
        wide = max(widths[s.strip] for s in (side, *facing)) + side.kerf_mm
        taken = [(g.begin - LEAST_STRETCH_MM, g.end + LEAST_STRETCH_MM) for g in out]
        lo, hi = side.lo, side.hi
        for other in facing:  # where both agree
            if min(other.hi, hi) - max(other.lo, lo) >= (side.hi - side.lo) / 2:
                lo, hi = max(lo, other.lo), min(hi, other.hi)
        out.extend(evenly(lo, hi, wide, (*corners, *blocked, *taken)))
    return tuple(sorted(out, key=lambda g: g.begin))
