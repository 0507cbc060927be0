"""How many passes a groove takes, where each runs, and how long they burn."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.records.figure import Spread
from lagline.shapes.groove import Profile
from lagline.trade.gouge import Pass
from lagline.trade.register import Limit, formula

RAMP = Spread(3.0, 2.0, 4.0, default=True)
GAUGE_S = Spread(60.0, 30.0, 120.0, default=True)
_EPS = 1e-9


@dataclass(frozen=True, slots=True)
class Run:
    """One pass of the groove.

    ``layer`` counts from 1; ``depth_mm`` is the groove's depth once its layer is out, ``deeper_mm`` how much of that
    is the layer's; ``width_mm`` its share of the layer's width, ``offset_mm`` from the groove's middle, ``run_mm``
    how far it travels, ``area_mm2`` the section it takes away.
    """

    layer: int
    depth_mm: float
    deeper_mm: float
    width_mm: float
    offset_mm: float
    run_mm: float
    area_mm2: float


@formula(
    "gouge.passes",
    text="layers of D/n each, in each the least number of passes that its width, its area and its depth allow; "
    "the n with the fewest passes",
    gives="passes that open a groove",
    source="geometry (derived); a layer is the groove shifted down, so layers add up to the groove exactly",
    limits=(Limit("depth_mm", 0.5, 40, "mm", "deeper than any was compared"),),
)
def plan_passes(
    profile: Profile, depth_mm: float, one: Pass, full_mm: float, ramps: int, slope: float
) -> tuple[Run, ...]:
    """Passes that open a groove.

    Parameters: profile, depth [mm], what one pass takes, length of full depth [mm], number of ramped ends and their
    slope 1:s. Returns the passes, top layer first, each layer left to right. More per pass never takes more of them.
    """
    counts: tuple[int, ...] = ()
    n = max(1, math.ceil(depth_mm / one.depth_mm - _EPS))
    # n layers take n passes or more, and by their widths n times the mean width over a pass's: no fewer beyond
    least = max(1.0, profile.area(depth_mm) / depth_mm / one.width_mm)
    while not counts or n * least < sum(counts):
        found = tuple(_tracks(profile, depth_mm, n, i, one) for i in range(1, n + 1))
        if not counts or sum(found) < sum(counts):
            counts = found
        n += 1
    layers = len(counts)
    out = []
    for i, tracks in enumerate(counts, 1):
        above, here = depth_mm * (i - 1) / layers, depth_mm * i / layers
        width, area = profile.width(here), profile.area(here) - profile.area(above)
        run = full_mm + ramps * slope * (depth_mm - above)
        out += [
            Run(i, here, here - above, width / tracks, (k - (tracks - 1) / 2) * width / tracks, run, area / tracks)
            for k in range(tracks)
        ]
    return tuple(out)


def _tracks(profile: Profile, depth_mm: float, layers: int, layer: int, one: Pass) -> int:
    above, here = depth_mm * (layer - 1) / layers, depth_mm * layer / layers
    by_width = profile.width(here) / one.width_mm
    by_area = (profile.area(here) - profile.area(above)) / one.area_mm2
    return max(1, math.ceil(by_width - _EPS), math.ceil(by_area - _EPS))


@formula(
    "gouge.arc-time",
    text="t = SUM of runs / v",
    gives="time the arc burns [s]",
    source="definition (derived)",
    limits=(Limit("pace_mm_s", 5, 40, "mm/s"),),
)
def arc_time(runs: tuple[Run, ...], pace_mm_s: float) -> float:
    """Time the arc burns over all passes at a pace [mm/s]. [s]"""
    return math.fsum(r.run_mm for r in runs) / pace_mm_s


@formula(
    "gouge.whole-time",
    text="t = arc + n (start + gauging stop), and no less than arc/X once the arc is over X of ten minutes",
    gives="time from first strike to last gauging [s]",
    source="start from the kit; 1 min (1/2 to 2) a stop to chip, brush and gauge is ours; duty X from the kit",
    limits=(Limit("share", 0.05, 1, "-"),),
)
def whole_time(arc_s: float, passes: int, start_s: float, gauge_s: float, share: float) -> float:
    """Time for the groove: arc [s], passes, seconds for a start and for a gauging stop, allowed duty share. [s]"""
    plain = arc_s + passes * (start_s + gauge_s)
    return max(plain, arc_s / share) if arc_s > 600 * share else plain
