"""Split a loop into set-ups: what a straightedge, a circle arm or a template can lead in one go."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from lagline.planning.ground import Station
from lagline.planning.guides import guide_for
from lagline.records.geometry import Arc, Free, Line, Loop, Segment
from lagline.records.plan import Method, Pass
from lagline.shapes.along import chain_length
from lagline.shapes.offset import parallel
from lagline.shapes.reach import misfit
from lagline.shapes.region import joined, loop_polygon, pieces, swath

SHORTEST_STRAIGHT_MM = 25.0  # below this a straightedge is not worth clamping; common practice, no source
SHORTEST_TEMPLATE_MM = 60.0  # below this a template is not worth making; common practice, no source
SMOOTH_RAD = math.radians(2.0)
RUN_ON_KERFS = 4.0
NEIGHBOUR_KERFS = 1.5  # kerf centre to a neighbour: half a kerf here, a whole one there


@dataclass(frozen=True, slots=True)
class Stretch:
    """One segment of the loop with its kerf centre, what leads it, and the turn into it [rad]."""

    line: Segment
    name: str
    path: tuple[Segment, ...]
    method: Method
    turn: float

    @property
    def alone(self) -> bool:
        return self.method in (Method.STRAIGHTEDGE, Method.ARM)

    def joins(self, before: Stretch) -> bool:
        """Can this be cut in one go with the stretch before it?"""
        return not self.alone and self.method is before.method and abs(self.turn) < SMOOTH_RAD


def split_into_passes(travel: Loop, station: Station) -> tuple[Pass, ...]:
    """Return the set-ups of a loop in travel order.

    A smooth loop that needs a template anywhere is cut in one go with one template; otherwise straightedge and
    circle arm lead one segment each, and a template or the free hand leads each smooth run of the rest.

    Errors: ValueError when the kerf closes the loop up.
    """
    kerf = station.setting.kerf_mm.value
    for limit in (RUN_ON_KERFS * kerf, kerf / 2, 0.0):  # run on less where a neighbour is near
        paths = parallel(travel, (station.side * kerf / 2,) * len(travel.segments), limit)
        path = itertools.chain.from_iterable(paths)
        if station.ground.clear_of_others(path, station.index, NEIGHBOUR_KERFS * kerf):
            break
    all_stretches = zip(travel.segments, travel.names, paths, travel.turns(), strict=True)
    stretches = [Stretch(s, n, p, _method(s, p, station), t) for s, n, p, t in all_stretches if p]
    if whole := _whole(travel, stretches, station):
        return whole
    if not any(s.alone for s in stretches) or not _cuts_loose(travel, stretches, kerf, station.side):
        return _in_one(travel, station)
    return tuple(_pass(run, station) for run in _runs(stretches))


def _cuts_loose(travel: Loop, stretches: list[Stretch], kerf: float, side: int) -> bool:
    """Do these paths leave the loop as it should be? Detail finer than the kerf can lead them astray."""
    fine = 3 * kerf
    if len(stretches) == len(travel.segments) and all(s.line.length > fine for s in stretches):
        return True
    inside = loop_polygon(travel, 0.01)
    if not inside.is_valid:
        return False
    around = inside.buffer(3 * kerf)
    part = inside if travel.area * side > 0 else around.difference(inside)
    left = pieces(around.difference(joined(swath(s.path, kerf) for s in stretches)))
    mine = max(left, key=lambda p: p.intersection(part).area, default=None)
    return mine is not None and max(misfit(mine, part, kerf / 2)) < 1e-3


def _in_one(travel: Loop, station: Station) -> tuple[Pass, ...]:
    """The loop in one go with a template, or freehand: every edge too short for a guide of its own, or its detail
    finer than the kerf (which then leaves what a round kerf can)."""
    points = travel.points(0.005)
    loop = Loop((Free((*points, points[0])),), ("all round",))
    path = parallel(loop, (station.side * station.setting.kerf_mm.value / 2,))[0]
    left, bottom, right, top = loop_polygon(travel, 0.1).bounds
    guides = station.kit.guides
    fits = guides.template and SHORTEST_TEMPLATE_MM <= max(right - left, top - bottom) <= guides.template_max_mm
    method = Method.TEMPLATE if fits else Method.FREEHAND
    guide = guide_for(method, loop.segments, path, "all round", station, closed=True)
    return (Pass("all round", method, loop.segments, path, True, guide),)


def _method(segment: Segment, path: tuple[Segment, ...], station: Station) -> Method:
    guides = station.kit.guides
    if isinstance(segment, Line) and segment.length >= SHORTEST_STRAIGHT_MM:
        return Method.STRAIGHTEDGE
    if isinstance(segment, Arc) and segment.length >= SHORTEST_STRAIGHT_MM:
        arm = next((s.radius for s in path if isinstance(s, Arc)), 0.0)
        if guides.arm_min_mm <= arm <= guides.arm_max_mm and station.ground.holds(segment.centre):
            return Method.ARM
    return Method.TEMPLATE if guides.template else Method.FREEHAND


def _whole(travel: Loop, stretches: list[Stretch], station: Station) -> tuple[Pass, ...]:
    """The loop as one closed pass, empty when it is not one."""
    if not all(abs(s.turn) < SMOOTH_RAD for s in stretches):
        return ()
    led = [s for s in stretches if not s.alone] or (stretches if len(stretches) == 1 else [])
    if not led:
        return ()
    method = led[0].method
    tightest = station.setting.cup_radius_mm.value - station.setting.kerf_mm.value / 2
    bulges = (s.line.radius for s in stretches if isinstance(s.line, Arc) and s.line.sweep * station.side > 0)
    if method is Method.TEMPLATE and min(bulges, default=tightest) < tightest:
        return ()  # the template's corner would be sharp and the part's come out rounder than drawn
    left, bottom, right, top = loop_polygon(travel, 0.1).bounds
    if method is Method.TEMPLATE and max(right - left, top - bottom) > station.kit.guides.template_max_mm:
        return ()
    line, path = tuple(s.line for s in stretches), tuple(p for s in stretches for p in s.path)
    name = "all round"
    return (Pass(name, method, line, path, True, guide_for(method, line, path, name, station, closed=True)),)


def _runs(stretches: list[Stretch]) -> list[list[Stretch]]:
    """Neighbours that are cut in one go, also across the loop's first corner."""
    runs: list[list[Stretch]] = []
    for s in stretches:
        if runs and s.joins(runs[-1][-1]):
            runs[-1].append(s)
        else:
            runs.append([s])
    if len(runs) > 1 and runs[0][0].joins(runs[-1][-1]):
        runs = [runs[-1] + runs[0], *runs[1:-1]]
    return runs


def _pass(run: list[Stretch], station: Station) -> Pass:
    line, path = tuple(s.line for s in run), tuple(p for s in run for p in s.path)
    method = run[0].method
    if method is Method.TEMPLATE and chain_length(line) < SHORTEST_TEMPLATE_MM:
        method = Method.FREEHAND
    name = run[0].name if len(run) == 1 else f"{run[0].name} to {run[-1].name}"
    return Pass(name, method, line, path, False, guide_for(method, line, path, name, station))
