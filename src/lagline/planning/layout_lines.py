"""Straight lines of a layout: how many set-ups of a straightedge make its outer edges, and which kerfs are shared."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable

import numpy as np
import numpy.typing as npt
import shapely

from lagline.planning.layout_open import Rim, rims
from lagline.planning.layout_units import FACING_MM, BadSide, edge_name, straight_edges
from lagline.records.geometry import Line, Move
from lagline.records.job import Plate
from lagline.records.plan import Blank, Placed
from lagline.shapes.region import polygon

Floats = npt.NDArray[np.float64]
ANGLE_RAD = 1e-6
OFF_MM = 1e-3
KERF_MM = 1e-5  # how exactly two edges face each other a kerf apart


def straight_lines(
    parts: Iterable[tuple[int, Move]],
    blanks: tuple[Blank, ...],
    plate: Plate,
    kerf_mm: float,
    reach_mm: float = math.inf,
) -> int:
    """Return how many times a straightedge is clamped for the outer straight edges of parts on one plate.

    Edges whose kerfs have one and the same middle are cut along one straightedge, as far as it reaches; those on a
    side of the plate that is a part's edge are not cut.
    """
    lines = [line for part, move in parts for _, line in straight_edges(move.outline(blanks[part].cut))]
    uncut = rims(plate)
    lines = [s for s in lines if not any(_on(s, r) for r in uncut)]
    if not lines:
        return 0
    ends = np.array([(*s.start, *s.end) for s in lines])
    angle, off, low, high = _middles(ends, kerf_mm)
    order = np.lexsort((low, off, np.round(angle / ANGLE_RAD)))
    angle, off, low, high = angle[order], off[order], low[order], high[order]
    new = np.concatenate([[True], (np.diff(angle) > 2 * ANGLE_RAD) | (np.diff(off) > OFF_MM)])
    if reach_mm == math.inf:
        return int(new.sum())
    count, starts = 0, [*np.flatnonzero(new).tolist(), len(new)]
    for a, b in itertools.pairwise(starts):
        count += _spans(sorted(zip(low[a:b].tolist(), high[a:b].tolist(), strict=True)), reach_mm)
    return count


def _spans(stretches: list[tuple[float, float]], reach_mm: float) -> int:
    """How many straightedges of that reach the stretches of one line need, one too long for it counted once."""
    count, first = 0, -math.inf
    for low, high in stretches:
        if high - first > reach_mm:
            count, first = count + 1, low
    return count


def _on(line: Line, rim: Rim) -> bool:
    axis = rim.side % 2
    return all(abs(p[axis] - rim.at) < OFF_MM for p in (line.start, line.end))


def _middles(ends: Floats, kerf_mm: float) -> tuple[Floats, Floats, Floats, Floats]:
    """Direction in [0, pi) of the middles of the edges' kerfs, their distance from the origin, from where to where."""
    heading = np.arctan2(ends[:, 3] - ends[:, 1], ends[:, 2] - ends[:, 0])
    axis = heading % math.pi
    axis[math.pi - axis < ANGLE_RAD] = 0.0
    x = ends[:, 0] + kerf_mm / 2 * np.sin(heading)  # outer loops have the part on their left
    y = ends[:, 1] - kerf_mm / 2 * np.cos(heading)
    c, s = np.cos(axis), np.sin(axis)
    along = np.sort(np.stack([ends[:, 0] * c + ends[:, 1] * s, ends[:, 2] * c + ends[:, 3] * s]), axis=0)
    return axis, y * c - x * s, along[0], along[1]


def shared_pairs(
    placed: tuple[Placed, ...], blanks: tuple[Blank, ...], kerf_mm: float, bad_side: BadSide
) -> tuple[tuple[int, int], ...]:
    """Return the pairs of placed parts that face each other along straight edges just a kerf apart, where one cut
    may make both."""
    if kerf_mm <= 0 or not placed:
        return ()
    outlines = [p.move.outline(blanks[p.part].cut) for p in placed]
    areas = [polygon(o) for o in outlines]
    edges = [straight_edges(o, FACING_MM) for o in outlines]
    tree = shapely.STRtree(areas)
    first, second = tree.query(areas, predicate="dwithin", distance=kerf_mm + OFF_MM)
    out = []
    for a, b in sorted(zip(first.tolist(), second.tolist(), strict=True)):
        if a < b and placed[a].plate == placed[b].plate:
            faces = [
                (e, f)
                for e, one in edges[a]
                for f, other in edges[b]
                if facing(one, other, kerf_mm)
            ]  # fmt: skip
            if faces and all(_one_cut(blanks, (placed[a].part, e), (placed[b].part, f), bad_side) for e, f in faces):
                out.append((a, b))
    return tuple(out)


def facing(one: Line, other: Line, kerf_mm: float) -> bool:
    """Whether two edges, material on their left, face each other that far apart."""
    h = one.heading_start
    if abs(math.remainder(other.heading_start - h - math.pi, 2 * math.pi)) > ANGLE_RAD:
        return False
    c, s = math.cos(h), math.sin(h)
    ends = [(p[0] - one.start[0], p[1] - one.start[1]) for p in (other.start, other.end)]
    if any(abs(x * s - y * c - kerf_mm) > KERF_MM for x, y in ends):
        return False
    along = sorted(x * c + y * s for x, y in ends)
    return min(along[1], one.length) - max(along[0], 0.0) >= FACING_MM


def _one_cut(blanks: tuple[Blank, ...], one: tuple[int, str], other: tuple[int, str], bad_side: BadSide) -> bool:
    names = [(p, edge_name(n)) for p, n in (one, other)]
    square = all(blanks[p].part.edge(n).bevel_deg == 0 for p, n in names)
    return square and any(bad_side(p, n) for p, n in names)
