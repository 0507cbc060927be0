"""Loose chains joined to closed ones, in any order and direction.

Chains are the edges of a graph whose knots are places where ends meet. Edges on no cycle are open lines and are
named with both ends. What is left must pass every knot an even number of times, else lines branch there.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict, deque
from collections.abc import Iterable, Sequence

import shapely

from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Arc, Point
from lagline.shapes.arcs import FULL
from lagline.shapes.clean import Chain, Knot, at, knots, length, pulled, without_doubles

SHUT_MM = 1e-3  # ends this close were drawn as meeting
MOST_GAPS = 100_000
NEARLY_MM = 1.0  # a gap up to this is reported with its size: the outline was meant to be closed

Edge = tuple[int, int, int]  # chain, knot, knot


def reverse(chain: Chain) -> Chain:
    """Return the chain travelled the other way."""
    return tuple(s.reversed() for s in chain[::-1])


def _bridges(edges: Sequence[Edge], n_knots: int) -> set[int]:
    """Chains on no cycle, by depth-first search with low points (no recursion)."""
    near: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for c, a, b in edges:
        near[a].append((c, b))
        near[b].append((c, a))
    order = [-1] * n_knots
    low = [0] * n_knots
    found: set[int] = set()
    clock = 0
    for root in near:
        if order[root] >= 0:
            continue
        order[root] = low[root] = clock
        clock += 1
        stack = [(root, -1, iter(near[root]))]
        while stack:
            knot, by, rest = stack[-1]
            step = next(rest, None)
            if step is None:
                stack.pop()
                if stack:
                    up = stack[-1][0]
                    low[up] = min(low[up], low[knot])
                    if low[knot] > order[up]:
                        found.add(by)
                continue
            chain, to = step
            if chain == by:
                continue
            if order[to] >= 0:
                low[knot] = min(low[knot], order[to])
            else:
                order[to] = low[to] = clock
                clock += 1
                stack.append((to, chain, iter(near[to])))
    return found


def _components(edges: Sequence[Edge]) -> list[list[Edge]]:
    parent: dict[int, int] = {}

    def root(i: int) -> int:
        parent.setdefault(i, i)
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    for _, a, b in edges:
        parent[root(a)] = root(b)
    groups: dict[int, list[Edge]] = defaultdict(list)
    for e in edges:
        groups[root(e[1])].append(e)
    return list(groups.values())


def _cycles(edges: Sequence[Edge]) -> list[list[tuple[int, bool]]]:
    """Walk an all-even graph and take a cycle off whenever the walk comes back to a knot on it.

    Each step is a chain and whether it is travelled as drawn.
    """
    near: dict[int, deque[Edge]] = defaultdict(deque)
    for e in edges:
        near[e[1]].append(e)
        near[e[2]].append(e)
    used: set[int] = set()
    out: list[list[tuple[int, bool]]] = []
    for first in edges:
        if first[0] in used:
            continue
        knot = first[1]
        path: list[tuple[int, bool, int]] = []  # chain, as drawn?, knot it left from
        seen = {knot: 0}
        while True:
            while near[knot] and near[knot][0][0] in used:
                near[knot].popleft()
            if not near[knot]:
                break
            step = near[knot][0]
            used.add(step[0])
            forward = step[1] == knot
            path.append((step[0], forward, knot))
            knot = step[2] if forward else step[1]
            if knot in seen:
                cut = seen[knot]
                out.append([(c, f) for c, f, _ in path[cut:]])
                for _, _, left in path[cut + 1 :]:
                    del seen[left]
                del path[cut:]
            else:
                seen[knot] = len(path)
    return out


def _paths(edges: Iterable[Edge]) -> list[list[Edge]]:
    """Open edges strung together where just two of them meet."""
    left = {e[0]: e for e in edges}
    near: dict[int, list[Edge]] = defaultdict(list)
    for e in left.values():
        near[e[1]].append(e)
        near[e[2]].append(e)
    out = []
    while left:
        _, start = left.popitem()
        path = deque([start])
        for add, end in ((path.appendleft, start[1]), (path.append, start[2])):
            knot = end
            while len(near[knot]) == 2:
                step = next((e for e in near[knot] if e[0] in left), None)
                if step is None:
                    break
                del left[step[0]]
                add(step)
                knot = step[2] if step[1] == knot else step[1]
        out.append(list(path))
    return out


def _ends(path: Sequence[Edge]) -> tuple[int, int]:
    """The two end knots of an open path."""
    count: Counter[int] = Counter(k for _, a, b in path for k in (a, b))
    ends = [k for k in (path[0][1], path[0][2], path[-1][1], path[-1][2]) if count[k] == 1]
    return (ends[0], ends[-1]) if len(ends) > 1 else (path[0][1], path[-1][2])


def _open_findings(
    paths: Sequence[Sequence[Edge]], chains: Sequence[Chain], table: Sequence[Knot], degree: dict[int, int], where: str
) -> list[Finding]:
    """Say of each open path where it ends, and how wide the gap is when another open end is close."""
    dead = [(k, i) for i, path in enumerate(paths) for k in _ends(path) if degree[k] == 1]
    sizes = [sum(length(chains[e[0]]) for e in path) for path in paths]
    gaps: dict[int, tuple[float, Point, Point]] = {}
    nearly: dict[int, set[int]] = defaultdict(set)  # which ends of a path have another open end close by
    if dead:
        points = shapely.points([table[k].point for k, _ in dead])
        near = shapely.STRtree(points).query(points, predicate="dwithin", distance=NEARLY_MM)
        for m, n in near.T[:MOST_GAPS].tolist():
            (k, i), (other, j) = dead[m], dead[n]
            if k == other or (i == j and sizes[i] < 4 * NEARLY_MM):
                continue
            p, q = sorted((table[k].point, table[other].point))
            nearly[i].add(k)
            gaps[i] = max(gaps.get(i, (0.0, p, q)), (math.dist(p, q), p, q))
    out = []
    for i, path in enumerate(paths):
        p, q = sorted(table[k].point for k in _ends(path))
        what = f"{sizes[i]:.1f} mm of line is open, from {at(p)} to {at(q)}; left out"
        # an outline that was meant to be closed has another end close by at both its ends
        if len(nearly[i]) < 2:
            out.append(Finding("open-line", Severity.CAUTION, where, what, "only closed lines are parts"))
            continue
        gap, g, h = gaps[i]
        what += f"; open by {gap:.2f} mm between {at(g)} and {at(h)}"
        out.append(Finding("outline-open", Severity.NO_GO, where, what, "close the gap in the drawing"))
    return sorted(out, key=lambda f: (f.code, f.message))


def _shut(chain: Chain, p: Point) -> Chain:
    """Return a chain whose ends nearly meet closed at p."""
    only = chain[0]
    if len(chain) == 1 and isinstance(only, Arc):
        return (Arc(only.centre, only.radius, only.angle, math.copysign(FULL, only.sweep)),)
    return pulled(chain, p, p)


def join(chains: Sequence[Chain], tol_mm: float, where: str) -> tuple[list[Chain], list[Finding]]:
    """Return closed chains, and findings: gaps mended, doubles, open lines, branching lines."""
    ends, table = knots(chains, tol_mm)
    findings: list[Finding] = []
    kept, doubles = without_doubles(chains, ends, where)
    findings += doubles
    closed: list[Chain] = []
    edges: list[Edge] = []
    mended: list[Knot] = []
    specks = 0
    for i in kept:
        a, b = ends[i]
        if a != b:
            edges.append((i, a, b))
        elif length(chains[i]) > 3 * tol_mm:
            gap = math.dist(chains[i][0].start, chains[i][-1].end)
            p = chains[i][0].start
            if gap > SHUT_MM:
                mended.append(Knot(p, gap))
            closed.append(_shut(chains[i], p) if gap > 0 else chains[i])
        else:
            specks += 1
    if specks:
        message = f"{specks} piece{'s' * (specks > 1)} shorter than the joining tolerance removed"
        findings.append(Finding("specks-removed", Severity.MENDED, where, message))
    # the walk must not depend on the order in which pieces were drawn
    edges.sort(key=lambda e: sorted((table[e[1]].point, table[e[2]].point)))
    degree: dict[int, int] = defaultdict(int)
    for _, a, b in edges:
        degree[a] += 1
        degree[b] += 1
    bridges = _bridges(edges, len(table))
    findings += _open_findings(_paths(e for e in edges if e[0] in bridges), chains, table, degree, where)
    for part in _components([e for e in edges if e[0] not in bridges]):
        meet: dict[int, int] = defaultdict(int)
        for _, a, b in part:
            meet[a] += 1
            meet[b] += 1
        odd = sorted(table[k].point for k, n in meet.items() if n % 2)
        if odd:
            size = sum(length(chains[e[0]]) for e in part)
            places = ", ".join(at(p) for p in odd[:4]) + (f" and {len(odd) - 4} more" if len(odd) > 4 else "")
            message = (
                f"lines branch at {places}: {size:.1f} mm of line left out, it could be closed in more ways than one"
            )
            findings.append(
                Finding("lines-branch", Severity.NO_GO, where, message, "draw each outline closed by itself")
            )
            continue
        mended += [table[k] for k in meet if table[k].gap_mm > SHUT_MM]
        for walk in _cycles(part):
            loop: list[Chain] = []
            for i, forward in walk:
                a, b = ends[i]
                chain = pulled(chains[i], table[a].point, table[b].point)
                loop.append(chain if forward else reverse(chain))
            closed.append(tuple(s for c in loop for s in c))
    if mended:
        worst = max(mended, key=lambda k: k.gap_mm)
        n = len(mended)
        message = f"{n} gap{'s' * (n > 1)} closed, the largest {worst.gap_mm:.3f} mm at {at(worst.point)}"
        findings.append(Finding("gaps-closed", Severity.MENDED, where, message))
    return closed, findings
