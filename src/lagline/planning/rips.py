"""One straightedge for several edges: edges on one line become one cut, and what is left of each outline others.

A rip runs along a line through edges of several parts, on one side of it or on both (then the neighbours share the
kerf). Between edges the arc stays on where the way is short and clear, else it is struck anew under the same guide.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

import shapely
from shapely.geometry.base import BaseGeometry

from lagline.planning.entries import EDGE_RUN_MM, RUN_INS, TOUCH_MM
from lagline.planning.ground import Station
from lagline.planning.guides import OVERHANG_MM, straight_guide
from lagline.planning.kerfs import kerfs_of
from lagline.planning.lines import Edge, Run, merged, runs_of
from lagline.planning.passes import NEIGHBOUR_KERFS, RUN_ON_KERFS
from lagline.records.geometry import Line, Loop, Point, Segment
from lagline.records.plan import Cut, Entry, Method, Pass, Start
from lagline.shapes.along import from_polar

THROUGH_MM = 75.0  # a gap no longer than this is cut through: about what a new start costs; common practice, no source


@dataclass(frozen=True, slots=True)
class Traced:
    """The outline of one placed part, split into set-ups. ``inside`` when it lies in another part's window."""

    ident: str
    station: Station
    travel: Loop
    passes: tuple[Pass, ...]
    holes: tuple[str, ...]  # its own cuts that come first
    inside: bool = False


def rips_of(traced: Mapping[int, Traced], plate: int) -> tuple[tuple[Cut, ...], dict[int, frozenset[int]]]:
    """Return the rips of a plate, and for each part the passes of its outline that need no cut of their own: those
    rips take over, and those on the plate's own edge.

    Parts of several settings never share; parts in another's window go alone.
    """
    cuts: list[Cut] = []
    taken: dict[int, set[int]] = {i: set(factory_edges(t)) for i, t in traced.items()}
    settings = {t.station.setting.id for t in traced.values()}
    for name in sorted(settings):
        mine = {i: t for i, t in traced.items() if t.station.setting.id == name and not t.inside}
        edges = tuple(e for i, t in mine.items() for e in _edges(i, t) if e.at not in taken[i])
        if not edges:
            continue
        any_station = next(iter(mine.values())).station
        reach = max(any_station.kit.guides.straightedges_mm, default=0.0) - 2 * OVERHANG_MM
        todo = list(runs_of(edges, reach))[::-1]
        while todo:
            run = todo.pop()
            cut, used = _rip(run, mine, plate, len(cuts) + 1)
            if cut is None:
                continue
            cuts.append(cut)
            for e in used:
                taken[e.part].add(e.at)
            rest = tuple(e for e in run.edges if e not in used)
            if len({e.part for e in rest}) > 1:
                todo.append(Run(run.axis, run.off_mm, rest))
    return tuple(cuts), {i: frozenset(at) for i, at in taken.items()}


def _edges(index: int, t: Traced) -> Iterator[Edge]:
    for at, p in enumerate(t.passes):
        line = p.line[0]
        if p.method is Method.STRAIGHTEDGE and not p.closed and len(p.line) == 1 and isinstance(line, Line):
            half = t.station.side * t.station.setting.kerf_mm.value / 2
            yield Edge(index, at, line, _trimmed(_moved(line, half), p.path))


def _trimmed(whole: Line, path: tuple[Segment, ...]) -> Line:
    """The kerf's middle along an edge, without what runs on beyond its corners; it ends early at inside corners."""
    h = whole.heading_start
    c, s = math.cos(h), math.sin(h)

    def along(p: Point) -> float:
        return (p[0] - whole.start[0]) * c + (p[1] - whole.start[1]) * s

    a, b = max(0.0, along(path[0].start)), min(whole.length, along(path[-1].end))
    return Line(from_polar(whole.start, h, a), from_polar(whole.start, h, b)) if a < b else whole


def _moved(line: Line, right_mm: float) -> Line:
    h = line.heading_start - math.pi / 2
    return Line(from_polar(line.start, h, right_mm), from_polar(line.end, h, right_mm))


def _forward(run: Run, traced: Mapping[int, Traced]) -> bool:
    """Which way to travel: as edges with nothing facing them ask; else the square side to whoever needs it more."""
    if run.alone is not None:
        return run.alone

    def need(forward: bool) -> float:
        total = 0.0
        for e in run.edges:
            if e.forward == forward:
                part = traced[e.part].station.blank.part
                total += e.line.length * (2.0 if part.tolerance_mm else 1.0)
        return total

    return need(True) >= need(False)


def _rip(run: Run, traced: Mapping[int, Traced], plate: int, number: int) -> tuple[Cut | None, frozenset[Edge]]:
    """Return the cut of a run and the edges it makes: all, or those before a place where no arc can be struck."""
    forward = _forward(run, traced)
    heading = run.axis if forward else run.axis + math.pi
    first = traced[run.edges[0].part]
    station, kerf = first.station, first.station.setting.kerf_mm.value
    clear = Clear(station.ground.outlines, {e.part for e in run.edges}, kerf)
    on = _arcs(run, clear)
    if not forward:
        on = [(b, a) for a, b in reversed(on)]
    starts = [straight_starts(run.point(a), heading, station, clear) for a, _ in on]
    n = next((k for k in range(1, len(on)) if not starts[k]), len(on))
    on = on[:n]
    used = [e for e in run.edges if any(min(s) - 0.01 <= run.extent(e)[0] <= max(s) + 0.01 for s in on)]
    if len({e.part for e in used}) < 2:
        return None, frozenset()
    used.sort(key=lambda e: (run.extent(e)[0] * (1 if forward else -1), e.part))
    paths = [Line(run.point(a), _run_on(run.point(b), heading, kerf, clear)) for a, b in on]
    kept = -station.side * kerf / 2  # to the right of travel: the square side's edge
    lines = [_moved(Line(run.point(a), run.point(b)), kept) for a, b in on]
    way = Line(lines[0].start, lines[-1].end)
    guide = straight_guide(
        way, station.setting, station.kit, -1 if station.kept == "right" else 1, station.ground.metal
    )
    primary = next((e for e in used if e.forward == forward), used[0])
    serves = tuple(dict.fromkeys([primary.part, *(e.part for e in used if e.forward == forward)]))
    across = tuple(dict.fromkeys(e.part for e in used if e.forward != forward and e.part not in serves))
    name = f"{len(used)} edges in one line"
    passes = [Pass(name, Method.STRAIGHTEDGE, (lines[0],), (paths[0],), False, guide)]
    for line, path, ways in zip(lines[1:], paths[1:], starts[1:], strict=False):
        passes.append(Pass(name, Method.STRAIGHTEDGE, (line,), (path,), False, guide, ways[0].start, ways[0].run_in))
    begin = paths[0].start
    entries = starts[0] or (Entry(0, 0.0, Start.KERF, (begin, begin)),)
    cut = Cut(
        id=f"{first.ident.rsplit('-', 1)[0]}-s{number}",
        placed=primary.part,
        plate=plate,
        role="rip",
        loop=traced[primary.part].travel,
        setting=station.setting.id,
        kept_side=station.kept,
        passes=tuple(passes),
        entries=tuple(replace(e, leave=paths[-1].end) for e in entries),
        after=tuple(dict.fromkeys(c for i in (*serves, *across) for c in traced[i].holes)),
        frees="nothing",
        drop_kg=0.0,
        serves=serves,
        across=across,
    )
    return cut, frozenset(used)


def _arcs(run: Run, clear: Clear) -> list[tuple[float, float]]:
    """Where along the axis the arc is on: over the edges, and over gaps that are short and clear [mm]."""
    extents = merged([run.extent(e) for e in run.edges], 0.5)
    on = [extents[0]]
    for a, b in extents[1:]:
        if a - on[-1][1] <= THROUGH_MM and clear(run.point(on[-1][1]), run.point(a), 0.5):
            on[-1] = (on[-1][0], b)
        else:
            on.append((a, b))
    return on


class Clear:
    """Whether a straight way of the torch keeps off the parts: those it serves, and all others."""

    def __init__(self, outlines: Mapping[int, BaseGeometry], serves: set[int], kerf_mm: float) -> None:
        self.kerf = kerf_mm
        self.own = [outlines[i] for i in serves]
        self.others = [o for i, o in outlines.items() if i not in serves]
        shapely.prepare(self.own)
        shapely.prepare(self.others)

    def __call__(self, a: Point, b: Point, kerfs: float) -> bool:
        """From a to b, that many kerfs between the kerf's middle and other parts, half a kerf to those served."""
        way: BaseGeometry = shapely.LineString([a, b]) if a != b else shapely.Point(a)
        return not (
            shapely.dwithin(self.own, way, self.kerf / 2 - TOUCH_MM).any()
            or shapely.dwithin(self.others, way, kerfs * self.kerf - TOUCH_MM).any()
        )

    def off(self, p: Point, distance_mm: float) -> bool:
        """Whether a point keeps that far from every part."""
        spot = shapely.Point(p)
        return not any(shapely.dwithin(g, spot, distance_mm).any() for g in (self.own, self.others) if len(g))


def _run_on(end: Point, heading: float, kerf: float, clear: Callable[[Point, Point, float], bool]) -> Point:
    """Carry a line on beyond the last corner: as far as a neighbour's kerf allows, at least into the corner's own."""
    for far, kerfs in ((RUN_ON_KERFS, NEIGHBOUR_KERFS), (1.0, NEIGHBOUR_KERFS), (0.5, 0.5)):
        to = from_polar(end, heading, far * kerf)
        if clear(end, to, kerfs):
            return to
    return end


def straight_starts(a: Point, heading: float, station: Station, clear: Clear) -> tuple[Entry, ...]:
    """Ways to begin a straight cut at a point from straight behind it: at a plate's edge, or in the waste."""
    ground, setting = station.ground, station.setting
    if not ground.plate.contains(shapely.Point(a)):  # the line begins at the plate's edge, or beyond it
        return (Entry(0, 0.0, Start.EDGE, (a, a)),)
    out: list[Entry] = []
    far = from_polar(a, heading, -EDGE_RUN_MM)
    hit = shapely.intersection(ground.rim, shapely.LineString([a, far]))
    if not hit.is_empty:
        points = [(float(x), float(y)) for x, y in shapely.get_coordinates(hit)]
        q = min(points, key=lambda p: math.dist(p, a))
        if math.dist(q, a) > 1e-6 and clear(q, a, NEIGHBOUR_KERFS):
            out.append(Entry(0, 0.0, Start.EDGE, (q, a)))
    inside = Start.PIERCE if setting.pierce_ok else Start.DRILLED
    for share in RUN_INS:
        start, crater = from_polar(a, heading, -share * setting.lead_in_mm), min(share, 1.0) * setting.crater_radius_mm
        spot = shapely.Point(start)
        way = shapely.LineString([start, a])
        if (
            ground.plate.contains(way)
            and clear(start, a, NEIGHBOUR_KERFS)
            and clear.off(start, crater)
            and not shapely.dwithin(ground.rim, spot, crater)
        ):
            out.append(Entry(0, 0.0, inside, (start, a)))
            break
    return tuple(out)


def factory_edges(t: Traced) -> frozenset[int]:
    """Return which passes of an outline lie on the plate's own edge: nothing is to be cut there."""
    rim = t.station.ground.rim
    return frozenset(
        at
        for at, p in enumerate(t.passes)
        if p.method is Method.STRAIGHTEDGE and isinstance(line := p.line[0], Line)
        and max(rim.distance(shapely.Point(q)) for q in (line.start, line.end, from_polar(line.start,
                line.heading_start, line.length / 2))) < TOUCH_MM
    )  # fmt: skip


def rest_of(t: Traced, taken: frozenset[int], find: Callable[[tuple[Pass, ...]], tuple[Entry, ...]]) -> list[Cut]:
    """Return what is left of an outline once rips have taken some of its edges: one open cut for each chain."""
    n = len(t.passes)
    out: list[Cut] = []
    starts = [i for i in range(n) if i not in taken and (i - 1) % n in taken]  # none when all is taken
    for k, begin in enumerate(starts, 1):
        chain = []
        i = begin
        while i not in taken:
            chain.append(t.passes[i])
            i = (i + 1) % n
        passes = tuple(chain)
        at = passes[0].path[0]
        if t.station.ground.plate.contains(shapely.Point(at.start)):
            entries = find(passes) or (Entry(0, 0.0, Start.KERF, (at.start, at.start)),)
        else:
            entries = (Entry(0, 0.0, Start.EDGE, (at.start, at.start)),)
        out.append(
            Cut(
                id=f"{t.ident}-e{k}",
                placed=t.station.index,
                plate=t.station.plate_index,
                role="edge",
                loop=t.travel,
                setting=t.station.setting.id,
                kept_side=t.station.kept,
                passes=passes,
                entries=tuple(replace(e, leave=passes[-1].path[-1].end) for e in entries),
                after=t.holes,
                frees="nothing",
                drop_kg=0.0,
            )
        )
    return out


def from_kerfs(cuts: tuple[Cut, ...], kerfs_mm: Mapping[str, float]) -> tuple[tuple[Cut, ...], tuple[Cut, ...]]:
    """Let each open cut that has no other start wait for one whose kerf it begins in.

    Returns the cuts, and those for which there is none.
    """
    swaths = kerfs_of(cuts, kerfs_mm)
    after = {c.id: set(c.after) for c in cuts}
    needy: list[tuple[Cut, list[Cut]]] = []
    for cut in cuts:
        if cut.open and all(e.start is Start.KERF for e in cut.entries):
            begin = shapely.Point(cut.passes[0].path[0].start)
            near = [
                c
                for c in cuts
                if c.plate == cut.plate and c.id in swaths and c.id != cut.id and swaths[c.id].distance(begin) < 0.1
            ]
            # a line that runs through the corner before one that only ends there, its own part's before another's
            near.sort(key=lambda c: (c.role != "rip", cut.placed not in c.parts, c.id))
            needy.append((cut, near))
    lost = []
    for cut, near in sorted(needy, key=lambda n: (len(n[1]), n[0].id)):
        free = next((c for c in near if not _waits(c.id, cut.id, after)), None)
        if free is None:
            lost.append(cut)
        else:
            after[cut.id].add(free.id)
    gone = {c.id for c in lost}
    out = [
        replace(c, entries=tuple(replace(e, start=Start.DRILLED) for e in c.entries))
        if c.id in gone
        else replace(c, after=(*c.after, *sorted(after[c.id] - set(c.after))))
        for c in cuts
    ]
    return tuple(out), tuple(lost)


def _waits(name: str, other: str, after: Mapping[str, set[str]]) -> bool:
    """Does a cut wait for another, itself or through those it waits for?"""
    todo, seen = [name], {name}
    while todo:
        here = todo.pop()
        if here == other:
            return True
        new = after.get(here, set()) - seen
        seen |= new
        todo.extend(new)
    return False
