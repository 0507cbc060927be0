"""What each cut takes away, for the question what comes loose when it is made."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping

import shapely
from shapely.geometry.base import BaseGeometry

from lagline.records.plan import Cut
from lagline.shapes.region import chain_line, loop_polygon

TOL_MM = 0.05


def kerfs_of(cuts: Iterable[Cut], kerfs_mm: Mapping[str, float]) -> dict[str, BaseGeometry]:
    """Return the metal each cut takes but its first run-in, by cut id; ``kerfs_mm`` by setting [mm].

    Drilled holes part nothing and are left out, but for those at a slot's ends, without which its drop would hold.
    """
    cuts = tuple(cuts)
    ends = {name for c in cuts if c.role == "slot" for name in c.after}
    out: dict[str, BaseGeometry] = {}
    for cut in cuts:
        if cut.role != "drill":
            out[cut.id] = _kerf(cut, kerfs_mm[cut.setting])
        elif cut.id in ends:
            out[cut.id] = loop_polygon(cut.loop, TOL_MM)
    return out


def _kerf(cut: Cut, kerf_mm: float) -> BaseGeometry:
    passes = [p for p in cut.passes if p.path]
    ways = [chain_line(p.path, TOL_MM) for p in passes]
    turns = list(itertools.pairwise(passes if cut.open else [*passes, *passes[:1]]))
    for a, b in turns if cut.role != "slot" else ():
        # round a corner sharper than the run-on reaches, or struck anew under the same guide
        way = b.run_in if b.start is not None else (a.path[-1].end, b.path[0].start)
        if len(way) > 1 and math.dist(way[0], way[-1]) > TOL_MM:
            ways.append(shapely.LineString(way))
    return shapely.union_all([w.buffer(kerf_mm / 2, quad_segs=4) for w in ways])
