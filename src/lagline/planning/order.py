"""The order stage: which cut next, and where to begin it.

Plates in their order; on each plate the drilling first, strips last, otherwise as cheap as may be in walking,
changes of guide, dwelling in hot metal, and starts (an edge start before a pierce).
"""

from __future__ import annotations

import itertools

import numpy as np
import shapely

from lagline.planning.order_search import Bools, Floats, Problem, closure, solve
from lagline.records.geometry import Point
from lagline.records.kit import Kit
from lagline.records.plan import Cut, Entry, Method, Start
from lagline.shapes.region import loop_polygon
from lagline.trade.register import formula
from lagline.trade.wear import PIERCE_STARTS

HEAT_REACH_MM = 60.0  # nearer than this, the next cut runs in metal still warm from the one before
HEAT_S = 15.0  # what touching the cut before is worth; falls in a straight line to nothing at the reach
CHANGE_S = 20.0  # put one kind of guide away, fetch another
SMALL_FIRST_S = 0.05  # a tie-breaker: each place further back costs the smallest cut this much, the largest nothing
STRIP_ASPECT = 6.0

_KINDS = {m: i for i, m in enumerate(Method)}
_BLOCK = {"drill": 0, "strip": 2}  # everything else 1


@formula(
    "order.cost",
    text="cost = walk / pace + change of guide + heat (1 - gap / reach) + start + wear, summed over the sequence",
    gives="what the order stage makes small [s]",
    source="common practice, no source (order of cuts, skip about to spread heat); the weights are ours",
)
def choose_order(cuts: tuple[Cut, ...], kit: Kit, seed: int) -> tuple[tuple[int, int], ...]:
    """Return every cut once, as (index into ``cuts``, index into its entries; 0 for a drilled hole without any).

    Plates in order; drilling first on each plate unless it waits for a cut; ``Cut.after`` kept; strips (longer
    than six times their width) last where nothing waits for them. Exact for small plates, a seeded search for
    others; same input and seed, same order.

    Raises ValueError for what no earlier stage may hand over: an ``after`` that names no cut, that goes round in
    a circle or back to an earlier plate, ids that are not unique, a cut with no way to begin it.
    """
    index = {c.id: i for i, c in enumerate(cuts)}
    if len(index) != len(cuts):
        raise ValueError("cut ids are not unique")
    before = np.zeros((len(cuts), len(cuts)), dtype=np.bool_)
    for j, cut in enumerate(cuts):
        if not cut.entries and cut.role != "drill":
            raise ValueError(f"cut {cut.id} has no entry")
        for name in cut.after:
            if name not in index:
                raise ValueError(f"cut {cut.id} comes after {name}, which is no cut")
            if cuts[index[name]].plate > cut.plate:
                raise ValueError(f"cut {cut.id} on plate {cut.plate} comes after {name} on a later plate")
            before[index[name], j] = True
    try:
        must = closure(before)
    except ValueError as error:
        circle = [c.id for i, c in enumerate(cuts) if _reaches_itself(before, i)]
        raise ValueError(f"cuts {', '.join(circle)} wait for each other in a circle") from error
    out: list[tuple[int, int]] = []
    for plate in sorted({c.plate for c in cuts}):
        here = [i for i, c in enumerate(cuts) if c.plate == plate]
        problem = plate_problem(tuple(cuts[i] for i in here), must[np.ix_(here, here)], kit)
        sequence, chosen, _ = solve(problem, seed)
        out.extend((here[t], int(o - problem.first[t])) for t, o in zip(sequence, chosen, strict=True))
    return tuple(out)


def plate_problem(cuts: tuple[Cut, ...], must: Bools, kit: Kit) -> Problem:
    """Return the cuts of one plate as a search problem; ``must`` is closed."""
    enter: list[Point] = []
    leave: list[Point] = []
    own: list[float] = []
    kind_in: list[int] = []
    kind_out: list[int] = []
    first = [0]
    for cut in cuts:
        for entry in cut.entries or (None,):
            a, b = _ends(cut, entry)
            enter.append(a)
            leave.append(b)
            begin, end, changes = _tools(cut, entry)
            kind_in.append(begin)
            kind_out.append(end)
            own.append(CHANGE_S * changes + (start_cost_s(entry, kit) if entry else 0.0))
        first.append(len(own))
    outlines = [loop_polygon(c.loop, 0.1) for c in cuts]
    frames = [shapely.minimum_rotated_rectangle(o) for o in outlines]
    sizes = np.array([_sides(f)[1] for f in frames])
    drill = np.array([c.role == "drill" for c in cuts])
    strip = [_is_strip(c, f) for c, f in zip(cuts, frames, strict=True)]
    blocks = _blocks(cuts, strip, must)
    rank = np.argsort(np.argsort(sizes, kind="stable"), kind="stable") / max(1, len(cuts) - 1)
    return Problem(
        np.array(enter),
        np.array(leave),
        np.array(own),
        np.array(kind_in, dtype=np.int64),
        np.array(kind_out, dtype=np.int64),
        np.array(first, dtype=np.int64),
        closure(must | (blocks[:, None] < blocks[None, :])),
        _heat(outlines, drill),
        SMALL_FIRST_S * (1 - rank),
        kit.bench.walk_mm_s,
        CHANGE_S,
    )


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


def _ends(cut: Cut, entry: Entry | None) -> tuple[Point, Point]:
    """Where the arc is struck and where it stops: a loop ends where its run-in met it."""
    if entry is not None and entry.run_in:
        return entry.run_in[0], entry.run_in[-1]
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


def _is_strip(cut: Cut, frame: shapely.Geometry) -> bool:
    short, long = _sides(frame)
    return cut.role == "outline" and long > STRIP_ASPECT * short > 0


def _blocks(cuts: tuple[Cut, ...], strip: list[bool], must: Bools) -> np.ndarray:
    """0 drilling, 1 cuts, 2 strips; drilling that waits for a cut is done among the cuts, and so is a strip that a
    cut waits for."""
    block = np.array([_BLOCK.get("strip" if s else c.role, 1) for c, s in zip(cuts, strip, strict=True)])
    for j in np.flatnonzero(block == 0):
        if (block[must[:, j]] > 0).any():
            block[j] = 1
    for i in np.flatnonzero(block == 2):
        if (block[must[i]] < 2).any():
            block[i] = 1
    return block


def _heat(outlines: list[shapely.Geometry], drill: Bools) -> Floats:
    """Cost of cutting j straight after i, by the gap between their lines; drilling warms nothing [s]."""
    rings = np.array([o.exterior for o in outlines], dtype=object)
    cost = np.zeros((len(rings), len(rings)))
    if len(rings) > 1:
        i, j = shapely.STRtree(rings).query(rings, predicate="dwithin", distance=HEAT_REACH_MM)
        cost[i, j] = HEAT_S * (1 - shapely.distance(rings[i], rings[j]) / HEAT_REACH_MM)
    cost[drill, :] = 0.0
    cost[:, drill] = 0.0
    np.fill_diagonal(cost, 0.0)
    return cost


def _reaches_itself(before: Bools, start: int) -> bool:
    todo, seen = list(np.flatnonzero(before[start])), set()
    while todo:
        at = int(todo.pop())
        if at == start:
            return True
        if at not in seen:
            seen.add(at)
            todo.extend(np.flatnonzero(before[at]))
    return False
