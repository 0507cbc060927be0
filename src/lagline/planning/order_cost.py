"""What an order of cuts costs the hand: the cuts of one plate as a problem of tasks, options and links [s]."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace

import numpy as np
import shapely

from lagline.planning.kerf_net import PlateMetal
from lagline.planning.order_search import Bools, Floats, Problem, Way, closure
from lagline.records.geometry import Point
from lagline.records.kit import Kit
from lagline.records.plan import Cut, Entry, Method, Start
from lagline.shapes.region import chain_line, loop_polygon
from lagline.trade.register import formula
from lagline.trade.wear import PIERCE_STARTS

HEAT_REACH_MM = 60.0  # nearer than this, the next cut runs in metal still warm from the one before
HEAT_S = 15.0  # what touching the cut before is worth; falls in a straight line to nothing at the reach
CHANGE_S = 20.0  # put one kind of guide away, fetch another
SMALL_FIRST_S = 0.05  # a tie-breaker: each place further back costs the smallest cut this much, the largest nothing
STRIP_ASPECT = 6.0
AWKWARD_S_PER_M = 10.0  # pushing away from the body, or against the hand
STRETCH_S_PER_M = 10.0  # leaning further in from the plate's edge than one reaches

_KINDS = {m: i for i, m in enumerate(Method)}
_BLOCK = {"trim": 0, "drill": 0, "strip": 2, "bridge": 3}  # everything else 1


@dataclass(frozen=True, slots=True)
class PlateCosts:
    """What the cuts of one plate cost in any order: all of the problem that precedence has no part in."""

    cuts: tuple[Cut, ...]
    free: Problem  # without precedence
    own_from_kerf: Floats  # cost of each option begun in a kerf that is open by then
    strip: tuple[bool, ...]

    def problem(self, must: Bools, from_kerf: frozenset[int] = frozenset()) -> Problem:
        """Return the problem with its precedence.

        Parameters
        ----------
        must : precedence among the cuts, closed; drilling first and strips last are added
        from_kerf : open cuts (by place in ``cuts``) that begin in an open kerf, without a start of their own
        """
        blocks = _blocks(self.cuts, self.strip, must)
        begun = np.isin(self.free.task_of, list(from_kerf))
        own = np.where(begun, self.own_from_kerf, self.free.own)
        return replace(self.free, own=own, must=closure(must | (blocks[:, None] < blocks[None, :])))


@formula(
    "order.cost",
    text="cost = walk / pace + change of guide + heat (1 - gap / reach) + start + wear + awkward travel + stretch, "
    "summed over the sequence; walk = gap within the hand's reach, else the longer of gap and way round the plate",
    gives="what the order stage makes small [s]",
    source="common practice, no source (order of cuts, skip about to spread heat); the weights are ours",
)
def plate_costs(cuts: tuple[Cut, ...], kit: Kit, metal: PlateMetal | None = None) -> PlateCosts:
    """Return what the cuts of one plate cost in any order.

    Parameters
    ----------
    metal : the plate, to stand around and reach into; None to walk straight from cut to cut
    """
    enter: list[Point] = []
    leave: list[Point] = []
    changes: list[float] = []
    start: list[float] = []
    kind_in: list[int] = []
    kind_out: list[int] = []
    first = [0]
    for cut in cuts:
        for entry in cut.entries or (None,):
            a, b = _ends(cut, entry)
            enter.append(a)
            leave.append(b)
            begin, end, between = _tools(cut, entry)
            kind_in.append(begin)
            kind_out.append(end)
            changes.append(CHANGE_S * between)
            start.append(start_cost_s(entry, kit) if entry else 0.0)
        first.append(len(start))
    drill = np.array([c.role == "drill" for c in cuts])
    outlines = [loop_polygon(c.loop, 0.1) for c in cuts]
    frames = [shapely.minimum_rotated_rectangle(o) for o in outlines]
    # a rip is a line, and so are bridges: neither small nor a strip
    sizes = np.array(
        [math.inf if c.role in ("rip", "bridge", "trim") else _sides(f)[1] for c, f in zip(cuts, frames, strict=True)]
    )
    rank = np.argsort(np.argsort(sizes, kind="stable"), kind="stable") / max(1, len(cuts) - 1)
    rank[np.isinf(sizes)] = 1.0
    hot = [shapely.union_all([chain_line(p.path, 0.1) for p in c.passes if p.path]) if c.open else o.exterior
           for c, o in zip(cuts, outlines, strict=True)]  # fmt: skip
    places, ends = np.array(enter), np.array(leave)
    way, awkward = (None, np.zeros(len(start))) if metal is None else _hands(places, ends, metal, kit)
    besides = np.array(changes) + awkward
    free = Problem(
        places,
        ends,
        besides + np.array(start),
        np.array(kind_in, dtype=np.int64),
        np.array(kind_out, dtype=np.int64),
        np.array(first, dtype=np.int64),
        np.zeros((len(cuts), len(cuts)), dtype=np.bool_),
        _heat(hot, drill),
        SMALL_FIRST_S * (1 - rank),
        kit.bench.walk_mm_s,
        CHANGE_S,
        way,
    )
    strip = tuple(c.role == "outline" and _is_strip(f) for c, f in zip(cuts, frames, strict=True))
    return PlateCosts(cuts, free, besides + kit.bench.start_s.value, strip)


@formula(
    "order.start",
    text="edge: start_s; pierce: pierce_s + (4 - 1) (tip set / starts per set) / labour; drilled: start_s + drill_s",
    gives="what a way to begin costs, wear turned into time at the labour rate [s]",
    source="common practice, no source: a pierce wears a tip like several edge starts",
)
def start_cost_s(entry: Entry, kit: Kit) -> float:
    """Return what it costs to begin a cut this way [s], the run-in included at the middle of the hand's pace."""
    bench, hand = kit.bench, kit.operator
    run_in = sum(float(np.hypot(b[0] - a[0], b[1] - a[1])) for a, b in itertools.pairwise(entry.run_in)) / (
        (hand.pace_low_mm_s + hand.pace_high_mm_s) / 2
    )
    if entry.start is Start.PIERCE:
        labour = bench.labour_per_h.value / 3600
        start = bench.tip_set_cost / max(bench.starts_per_tip_set.value, 1.0)
        wear_s = (PIERCE_STARTS.value - 1) * start / labour if labour > 0 else 0.0
        return bench.pierce_s.value + wear_s + run_in
    if entry.start is Start.DRILLED:
        return bench.start_s.value + bench.drill_s.value + run_in
    return bench.start_s.value + run_in


@formula(
    "order.hands",
    text="awkward = 10 s/m (travel away from the body + travel against the hand), stretch = 10 s/m (depth - reach); "
    "the body at the plate's edge nearest to the middle of the cut, right hand from right to left",
    gives="what it costs to cut out of reach, or the wrong way for the hand [s]",
    source="right-handed from right to left: Bowditch and others, Welding Fundamentals, 2017, exercise 26-1 (flame); "
    "pulling rather than pushing: common practice, no source; the weights are ours",
)
def _hands(enter: Floats, leave: Floats, metal: PlateMetal, kit: Kit) -> tuple[Way, Floats]:
    """Where one stands round the plate for each start and end, and the cost of the hand's direction and reach [s]."""
    ring = shapely.geometry.polygon.orient(shapely.convex_hull(metal.metal)).exterior
    starts, stops = shapely.points(enter), shapely.points(leave)
    reach = kit.operator.reach_mm
    at = (shapely.line_locate_point(ring, starts), shapely.line_locate_point(ring, stops))
    way = Way(*at, ring.length, reach)
    middle = shapely.line_locate_point(ring, shapely.points((enter + leave) / 2))
    behind, before = (shapely.get_coordinates(shapely.line_interpolate_point(ring, (middle + d) % ring.length))
                      for d in (-0.5, 0.5))  # fmt: skip
    along = before - behind
    along /= np.maximum(np.hypot(*along.T), 1e-9)[:, None]  # round the plate with it on the left hand
    facing = np.c_[-along[:, 1], along[:, 0]]
    travel = leave - enter
    away, right = (travel * facing).sum(axis=1), (travel * along).sum(axis=1)
    against = right if kit.operator.hand == "right" else -right
    awkward = np.maximum(away, 0.0) + np.maximum(against, 0.0)
    stretch = sum(np.maximum(shapely.distance(ring, p) - reach, 0.0) for p in (starts, stops))
    return way, (AWKWARD_S_PER_M * awkward + STRETCH_S_PER_M * stretch) / 1000


def _ends(cut: Cut, entry: Entry | None) -> tuple[Point, Point]:
    """Where the arc is struck and where it stops: a loop ends where its run-in met it, an open cut where it says."""
    if entry is not None and entry.run_in:
        return entry.run_in[0], entry.leave or entry.run_in[-1]
    centre = loop_polygon(cut.loop, 0.1).centroid
    return (centre.x, centre.y), (centre.x, centre.y)


def _tools(cut: Cut, entry: Entry | None) -> tuple[int, int, int]:
    """Kind of guide at the beginning and the end of a cut begun at this entry, and changes on the way round."""
    if entry is None or not cut.passes:
        kind = _KINDS[Method.DRILL if cut.role == "drill" else Method.FREEHAND]
        return kind, kind, 0
    at = entry.pass_index
    kinds = [_KINDS[p.method] for p in cut.passes[at:] + cut.passes[:at]]
    return kinds[0], kinds[-1], sum(a != b for a, b in itertools.pairwise(kinds))


def _sides(frame: shapely.Geometry) -> tuple[float, float]:
    """Short and long side of a rectangle."""
    ring = shapely.get_coordinates(frame)
    if len(ring) < 4:
        return 0.0, 0.0
    a, b = (float(np.hypot(*(ring[i + 1] - ring[i]))) for i in (0, 1))
    return min(a, b), max(a, b)


def _is_strip(frame: shapely.Geometry) -> bool:
    short, long = _sides(frame)
    return long > STRIP_ASPECT * short > 0


def _blocks(cuts: tuple[Cut, ...], strip: tuple[bool, ...], must: Bools) -> np.ndarray:
    """0 trims and drilling, 1 cuts, 2 strips, 3 bridges; drilling that waits for a cut is done among the cuts, and so
    are a strip and a bridge that a cut waits for."""
    block = np.array([_BLOCK.get("strip" if s else c.role, 1) for c, s in zip(cuts, strip, strict=True)])
    for j in np.flatnonzero(block == 0):
        if (block[must[:, j]] > 0).any():
            block[j] = 1
    for i in np.flatnonzero(block >= 2):
        block[i] = block[must[i]].min(initial=block[i])
    return block


def _heat(outlines: list[shapely.Geometry], drill: Bools) -> Floats:
    """Cost of cutting j straight after i, by the gap between their lines; drilling warms nothing [s]."""
    lines = np.array(outlines, dtype=object)
    cost = np.zeros((len(lines), len(lines)))
    if len(lines) > 1:
        i, j = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=HEAT_REACH_MM)
        cost[i, j] = HEAT_S * (1 - shapely.distance(lines[i], lines[j]) / HEAT_REACH_MM)
    cost[drill, :] = 0.0
    cost[:, drill] = 0.0
    np.fill_diagonal(cost, 0.0)
    return cost
