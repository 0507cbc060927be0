"""Rectangles side by side on a plate, cut on shared lines, made by hand: cuts, their kerfs, and what an order of them
does, found with plain areas and nothing of the planner's."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from lagline.planning.loose import PlateMetal
from lagline.records.geometry import Arc, Line, Loop, Point
from lagline.records.plan import Cut, Entry, Method, Pass, Start

KERF_MM = 2.0
RUN_ON_MM = 8.0
FRAME_MM = 60.0
TEAR_MM = 0.05  # as documented in planning/kerf_net.py: metal thinner than twice this holds nothing


@dataclass(frozen=True)
class Grid:
    cuts: tuple[Cut, ...]
    metal: PlateMetal

    @property
    def order(self) -> list[tuple[str, int]]:
        return [(c.id, 0) for c in self.cuts]


def grid(
    seed: int, rows: int, columns: int, *, holes: bool = True, bricks: bool = False, both_ends: bool = False
) -> Grid:
    """Cells in rows, ``bricks``: each row split where it likes; ``both_ends``: every line may be begun at either."""
    r = np.random.default_rng(seed)
    ys = np.cumsum([FRAME_MM, *r.uniform(60, 160, rows)])
    splits = [np.cumsum([FRAME_MM, *r.uniform(60, 160, columns)]) for _ in range(rows if bricks else 1)]
    width = float(splits[0][-1])
    splits = [s[0] + (s - s[0]) * (width - s[0]) / (s[-1] - s[0]) for s in splits]
    plate = shapely.box(0, 0, width + FRAME_MM, float(ys[-1]) + FRAME_MM)
    cells: list[tuple[float, float, float, float]] = []
    for k in range(rows):
        xs = splits[k if bricks else 0]
        cells += [(float(a), float(ys[k]), float(b), float(ys[k + 1])) for a, b in itertools.pairwise(xs)]
    half = KERF_MM / 2
    parts = {i: shapely.box(x0 + half, y0 + half, x1 - half, y1 - half) for i, (x0, y0, x1, y1) in enumerate(cells)}
    cuts: list[Cut] = []
    kerfs: dict[str, BaseGeometry] = {}
    bored: dict[int, str] = {}
    for i, p in list(parts.items()):
        if holes and r.uniform() < 0.4:
            name = f"p{i}-h1"
            c = (float(p.centroid.x), float(p.centroid.y))
            bored[i] = name
            cuts.append(_hole(name, i, c))
            parts[i] = p.difference(shapely.Point(c).buffer(12))
            kerfs[name] = shapely.Point(c).buffer(12).difference(shapely.Point(c).buffer(12 - KERF_MM))
    lines: list[tuple[str, Point, Point]] = []
    for k, y in enumerate(ys):
        lines.append((f"row{k}", (FRAME_MM - RUN_ON_MM, float(y)), (width + RUN_ON_MM, float(y))))
    if bricks:
        for k in range(rows):
            for j, x in enumerate(splits[k]):
                lines.append((f"col{k}-{j}", (float(x), float(ys[k])), (float(x), float(ys[k + 1]))))
    else:
        for j, x in enumerate(splits[0]):
            lines.append((f"col{j}", (float(x), FRAME_MM - RUN_ON_MM), (float(x), float(ys[-1]) + RUN_ON_MM)))
    for name, a, b in lines:
        kerfs[name] = shapely.LineString([a, b]).buffer(half)
        serves = tuple(i for i, p in parts.items() if kerfs[name].distance(p) < 0.01)
        cuts.append(open_cut(name, a, b, serves, tuple(bored[i] for i in serves if i in bored), both_ends=both_ends))
    return Grid(tuple(cuts), PlateMetal(plate, (FRAME_MM / 3, FRAME_MM / 3), kerfs, {}, parts))


def open_cut(
    name: str,
    a: Point,
    b: Point,
    serves: tuple[int, ...] = (0,),
    after: tuple[str, ...] = (),
    *,
    both_ends: bool = False,
    role: str = "rip",
    start: Start = Start.PIERCE,
) -> Cut:
    line = Line(a, b)
    loop = Loop((Line(a, b), Line(b, (b[0] + 30, b[1] + 40)), Line((b[0] + 30, b[1] + 40), a)), ("x", "y", "z"))
    ways = [(a, b), (b, a)] if both_ends else [(a, b)]
    entries = tuple(Entry(0, 0.0, start, (s, s), e) for s, e in ways)
    one = Pass(name, Method.STRAIGHTEDGE, (line,), (line,), False, None)
    return Cut(name, serves[0], 0, role, loop, "s", "right", (one,), entries, after, "nothing", 0.0, serves=serves)


def _hole(name: str, part: int, centre: Point) -> Cut:
    rim = Arc(centre, 12.0, 0.0, -6.283185307179586)
    one = Pass("rim", Method.ARM, (rim,), (rim,), True, None)
    entries = (Entry(0, 0.0, Start.PIERCE, (centre, rim.start)),)
    return Cut(name, part, 0, "hole", Loop((rim,), ("rim",)), "s", "right", (one,), entries, (), "drop", 0.1)


def told_by_areas(metal: PlateMetal, order: list[tuple[str, int]]) -> tuple[dict[str, list[float]], list[str]]:
    """Areas [mm2] of the pieces each cut lets loose, largest first, and the cuts that run in loose metal."""
    rest = metal.metal
    anchor = shapely.Point(metal.anchor)
    freed: dict[str, list[float]] = {}
    slips: list[str] = []
    held = _held(rest, anchor)
    for name, _ in order:
        if name not in metal.kerfs:
            continue
        kerf = metal.kerfs[name].buffer(TEAR_MM, quad_segs=2)
        takes = kerf.intersection(rest)
        loose = takes.difference(held)
        if any(p.area > 0.5 for p in shapely.get_parts(loose)):
            slips.append(name)
        rest = rest.difference(kerf)
        before, held = held, _held(rest, anchor)
        gone = before.difference(kerf).difference(held)
        areas = sorted((p.area for p in shapely.get_parts(gone) if p.area > 0.5), reverse=True)
        if areas:
            freed[name] = areas
    return freed, slips


def _held(rest: BaseGeometry, anchor: shapely.Point) -> BaseGeometry:
    return min(shapely.get_parts(rest), key=lambda p: p.distance(anchor))
