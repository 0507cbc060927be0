"""Drawn pieces made fit for joining: specks and doubles taken out, ends brought together."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Arc, Free, Line, Point, Segment
from lagline.shapes.arcs import moved_ends
from lagline.shapes.region import chain_line

Chain: TypeAlias = tuple[Segment, ...]  # drawn as one piece, end to end

SPECK_MM = 1e-3
SAME_MM = 0.01
LISTED = 12
MOST_IN_CELL = 50
MOST_ALIKE = 50


def at(p: Point) -> str:
    """Return a place as a person reads it."""
    return f"({p[0]:.2f}, {p[1]:.2f}) mm"


def length(chain: Chain) -> float:
    """Return the length of a chain [mm]."""
    return sum(s.length for s in chain)


def _finite(s: Segment) -> bool:
    numbers = (*s.centre, s.radius, s.angle, s.sweep) if isinstance(s, Arc) else tuple(c for p in s.points() for c in p)
    return all(map(math.isfinite, numbers))


def without_specks(chains: Sequence[Chain], where: str) -> tuple[list[Chain], list[Finding]]:
    """Drop pieces of no length or with impossible numbers."""
    kept: list[Chain] = []
    findings: list[Finding] = []
    gone, bad = 0, 0
    for chain in chains:
        if not all(map(_finite, chain)):
            bad += 1
            continue
        whole = tuple(s for s in chain if s.length > SPECK_MM or (len(chain) > 1 and s.length > 1e-6))
        gone += not whole
        if whole:
            kept.append(whole)
    if gone:
        message = f"{gone} piece{'s' * (gone > 1)} of no length removed"
        findings.append(Finding("no-length-removed", Severity.MENDED, where, message))
    if bad:
        message = f"{bad} piece{'s' * (bad > 1)} with impossible numbers left out"
        findings.append(Finding("bad-number", Severity.NO_GO, where, message, "finite numbers"))
    return kept, findings


@dataclass(frozen=True, slots=True)
class Knot:
    """A place where ends meet: the point they are brought to and how far apart they were [mm]."""

    point: Point
    gap_mm: float


def knots(chains: Sequence[Chain], tol_mm: float) -> tuple[list[tuple[int, int]], list[Knot]]:
    """Return, for each chain, the knots of its two ends, and the knots.

    Ends within ``tol_mm`` of each other share a knot. An arc's end holds its place and lines come to it.
    """
    ends = np.array([p for c in chains for p in (c[0].start, c[-1].end)], dtype=float).reshape(-1, 2)
    parent = list(range(len(ends)))

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    if len(ends):
        # ends at one place count once, and a crowd within one small cell too: pairs would grow as its square
        spots, which = np.unique(ends, axis=0, return_inverse=True)
        cells, cell, crowd = np.unique(np.floor(spots / (tol_mm / 3)), axis=0, return_inverse=True, return_counts=True)
        if int(crowd.max()) > MOST_IN_CELL:
            spots, which = cells * (tol_mm / 3), cell.ravel()[which.ravel()]
        first = np.full(len(spots), -1)
        for i, spot in enumerate(which.ravel().tolist()):
            if first[spot] < 0:
                first[spot] = i
            parent[i] = int(first[spot])
        points = shapely.points(spots)
        for i, j in shapely.STRtree(points).query(points, predicate="dwithin", distance=tol_mm).T.tolist():
            a, b = root(int(first[i])), root(int(first[j]))
            if a != b:
                parent[max(a, b)] = min(a, b)
    groups: dict[int, list[int]] = defaultdict(list)
    for i in range(len(ends)):
        groups[root(i)].append(i)
    number = {r: k for k, r in enumerate(groups)}
    table: list[Knot] = []
    for members in groups.values():
        xy = ends[members]
        gap = float(np.hypot(*(xy[:, None] - xy[None]).reshape(-1, 2).T).max()) if len(members) < 200 else tol_mm
        stiff = [i for i in members if isinstance(chains[i // 2][0 if i % 2 == 0 else -1], Arc)]
        mean = ends[stiff or members].mean(axis=0) if gap > 1e-9 else xy[0]
        table.append(Knot((float(mean[0]), float(mean[1])), gap))
    return [(number[root(2 * i)], number[root(2 * i + 1)]) for i in range(len(chains))], table


def moved(s: Segment, a: Point, b: Point) -> Segment:
    """Return the segment with its ends brought to a and b."""
    match s:
        case Line():
            return Line(a, b)
        case Arc():
            return moved_ends(s, a, b)
        case Free():
            return Free((a, *s.vertices[1:-1], b))


def pulled(chain: Chain, a: Point, b: Point) -> Chain:
    """Return the chain with its first start and last end brought to a and b."""
    out = list(chain)
    out[0] = moved(out[0], a, out[0].end if len(out) > 1 else b)
    out[-1] = moved(out[-1], out[-1].start, b)
    return tuple(s for s in out if s.length > 1e-9)


def without_doubles(
    chains: Sequence[Chain], ends: Sequence[tuple[int, int]], where: str
) -> tuple[list[int], list[Finding]]:
    """Return the numbers of the chains to keep: of those drawn twice over, in either direction, one."""
    groups: dict[tuple[int, int], list[int]] = defaultdict(list)
    for i, (a, b) in enumerate(ends):
        groups[min(a, b), max(a, b)].append(i)
    drop: set[int] = set()
    for members in groups.values():
        if len(members) < 2:
            continue
        kept: list[tuple[float, BaseGeometry]] = []
        for i in members:
            line = chain_line(chains[i])
            if any(abs(line.length - n) <= 0.2 and near.covers(line) for n, near in kept):
                drop.add(i)
            elif len(kept) < MOST_ALIKE:
                kept.append((line.length, line.buffer(SAME_MM * 5)))
    if not drop:
        return list(range(len(chains))), []
    first = chains[min(drop)][0]
    message = (
        f"{len(drop)} piece{'s' * (len(drop) > 1)} drawn twice over, the double removed, first at {at(first.start)}"
    )
    return [i for i in range(len(chains)) if i not in drop], [
        Finding("doubles-removed", Severity.MENDED, where, message)
    ]


def few(findings: Sequence[Finding], listed: int = LISTED) -> list[Finding]:
    """Return the findings with at most ``listed`` of each code, the rest counted in one more."""
    seen: dict[str, int] = defaultdict(int)
    out = []
    for f in findings:
        seen[f.code] += 1
        if seen[f.code] <= listed:
            out.append(f)
    for code, n in seen.items():
        if n > listed:
            f = next(f for f in findings if f.code == code)
            out.append(Finding(code, f.severity, f.where, f"and {n - listed} more like these ({code})", f.allowed))
    return out
