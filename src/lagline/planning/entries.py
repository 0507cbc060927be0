"""Where a cut can begin: from a plate edge, or from a pierce (or drilled hole) in the waste with a run-in to the line.

A run-in comes from behind the line's start, straight or swung towards the waste. It keeps half a kerf from its own
part, a kerf and a half from every other (so that kerfs stay apart), and its crater keeps off all of them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from lagline.planning.ground import Ground, Station
from lagline.planning.passes import NEIGHBOUR_KERFS
from lagline.records.geometry import Point
from lagline.records.plan import Entry, Pass, Start
from lagline.shapes.along import chain_length, from_polar, place

SWINGS_RAD = tuple(math.radians(a) for a in (0, 30, 60, 90, 120, 150))
ASIDE_RAD = tuple(math.radians(a) for a in (90, 120, 150))  # for a start that must leave the metal behind it whole
MOST_ENTRIES = 8
EDGE_RUN_MM = 75.0  # a plate edge further than this is not worth running in from; common practice, no source
# run-ins tried in turn, as shares of the wanted one: longer where the crater would touch an edge, then shorter with a
# crater as much smaller
RUN_INS = (1.0, 1.5, 2.0, 0.75, 0.5)
TOUCH_MM = 0.02

Ranked = tuple[tuple[float, ...], Entry]


@dataclass(frozen=True, slots=True)
class _Try:
    pass_index: int
    at_mm: float
    join: Point
    away: float  # heading from the join to the start [rad]
    swing: int


def find_entries(passes: tuple[Pass, ...], station: Station) -> tuple[Entry, ...]:
    """Return at most eight ways to begin the cut, best first; empty when no waste takes a start.

    Plate edges come before pierces, long run-ins before short ones, straight ones before swung ones.
    """
    tries = list(_tries(passes, station.side))
    found: dict[tuple[int, float], Ranked] = {}
    for rank, entry in _edge_starts(tries, station):
        _keep(found, rank, entry)
    inside = Start.PIERCE if station.setting.pierce_ok else Start.DRILLED
    for n, share in enumerate(RUN_INS):
        if len(found) >= MOST_ENTRIES:
            break
        for rank, entry in _holes_in_waste(tries, share, inside, station):
            _keep(found, (1.0, float(n), *rank), entry)
    best = sorted(found.items(), key=lambda f: (f[1][0], f[0]))[:MOST_ENTRIES]
    return tuple(entry for _, (_, entry) in best)


def start_aside(join: Point, heading: float, station: Station, waste_side: int) -> Entry | None:
    """Return a way to begin a straight cut at a point from the waste beside it, the metal behind left whole; None when
    no waste takes it. Its pass index means nothing; ``waste_side`` is -1 left of travel, 1 right."""
    tries = [_Try(0, 0.0, join, heading + math.pi + waste_side * s, n) for n, s in enumerate(ASIDE_RAD)]
    inside = Start.PIERCE if station.setting.pierce_ok else Start.DRILLED
    for share in RUN_INS:
        if ranked := _holes_in_waste(tries, share, inside, station):
            return min(ranked, key=lambda r: r[0])[1]
    return None


def _keep(found: dict[tuple[int, float], Ranked], rank: tuple[float, ...], entry: Entry) -> None:
    """One entry for each place on the line: the best."""
    key = (entry.pass_index, round(entry.at_mm, 3))
    if key not in found or rank < found[key][0]:
        found[key] = (rank, entry)


def _tries(passes: tuple[Pass, ...], side: int) -> list[_Try]:
    places: list[tuple[int, float]] = []
    if len(passes) == 1 and passes[0].closed:
        length = chain_length(passes[0].path)
        places = [(0, length * i / MOST_ENTRIES) for i in range(MOST_ENTRIES)]
    else:
        places = [(i, 0.0) for i, p in enumerate(passes) if p.path]
    out = []
    for index, at in places:
        join, heading = place(passes[index].path, at)
        # the waste lies to the left of travel when side is -1: swing from straight behind towards it
        out += [_Try(index, at, join, heading + math.pi + side * swing, n) for n, swing in enumerate(SWINGS_RAD)]
    return out


def _edge_starts(tries: list[_Try], station: Station) -> list[Ranked]:
    ground, kerf = station.ground, station.setting.kerf_mm.value
    rays = [shapely.LineString([t.join, from_polar(t.join, t.away, EDGE_RUN_MM)]) for t in tries]
    hits = shapely.intersection(ground.rim, np.array(rays, dtype=object))
    reached = [(t, shapely.get_coordinates(h)) for t, h in zip(tries, hits, strict=True) if not h.is_empty]
    ends = [min(((float(x), float(y)) for x, y in points), key=lambda p: math.dist(p, t.join)) for t, points in reached]
    runs = shapely.linestrings([[q, t.join] for (t, _), q in zip(reached, ends, strict=True)] or np.empty((0, 2, 2)))
    long = shapely.length(runs)
    clear = (long > 1e-6) & _clear(ground, runs, station.index, kerf)
    return [
        ((0.0, float(run), float(t.swing)), Entry(t.pass_index, t.at_mm, Start.EDGE, (q, t.join)))
        for (t, _), q, run, ok in zip(reached, ends, long, clear, strict=True)
        if ok
    ]


def _clear(ground: Ground, runs: NDArray[np.object_], index: int, kerf: float) -> NDArray[np.bool_]:
    own = shapely.dwithin(ground.outlines[index], runs, kerf / 2 - TOUCH_MM)
    return np.asarray(~own & ~ground.near_others(index, runs, NEIGHBOUR_KERFS * kerf - TOUCH_MM))


def _holes_in_waste(tries: list[_Try], share: float, kind: Start, station: Station) -> list[Ranked]:
    ground, setting = station.ground, station.setting
    starts = [from_polar(t.join, t.away, share * setting.lead_in_mm) for t in tries]
    spots = shapely.points(starts)
    crater = min(share, 1.0) * setting.crater_radius_mm
    clear = shapely.contains(ground.plate, spots) & ~shapely.dwithin(ground.parts, spots, crater)
    clear &= ~shapely.dwithin(ground.rim, spots, crater)
    likely = np.flatnonzero(clear)
    if not len(likely):
        return []
    runs = shapely.linestrings([[starts[k], tries[k].join] for k in likely])
    clear = shapely.contains(ground.plate, runs) & _clear(ground, runs, station.index, setting.kerf_mm.value)
    good = [(tries[k], starts[k]) for k in likely[clear].tolist()]
    return [((float(t.swing),), Entry(t.pass_index, t.at_mm, kind, (start, t.join))) for t, start in good]
