"""Edges as a person sees them: pieces of one line, arc or curve run together before they get names."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable

import shapely

from lagline.records.geometry import Arc, Free, Line, Segment, chain_points, wrap
from lagline.shapes.arcs import FULL, NEAR_MM, STRAIGHT_MM, closest_arc
from lagline.shapes.clean import Chain, moved

SMOOTH = math.radians(15)  # a corner below this between short pieces is part of a curve
REAL_ARC = math.radians(20)  # a curve below this much turn is not called an arc by itself
ALIKE = 4.0  # neighbouring pieces of one curve differ in length by no more than this ratio
FEWEST = 4
SLIVER_MM = 0.02


def _turn(a: Segment, b: Segment) -> float:
    return wrap(b.heading_start - a.heading_end)


def _from_corner(chain: Chain) -> Chain:
    """Return the closed chain started at its sharpest corner."""
    turns = [abs(_turn(a, b)) for a, b in zip(chain[-1:] + chain[:-1], chain, strict=True)]
    k = max(range(len(chain)), key=lambda i: (round(turns[i], 9), -i))
    return chain[k:] + chain[:k]


def _runs(chain: Chain, together: Callable[[Segment, Segment], bool]) -> list[Chain]:
    """Split a chain into runs of neighbours that belong together."""
    runs: list[list[Segment]] = [[chain[0]]]
    for a, b in itertools.pairwise(chain):
        if together(a, b):
            runs[-1].append(b)
        else:
            runs.append([b])
    return [tuple(r) for r in runs]


def _nearly_ahead(a: Segment, b: Segment) -> bool:
    return isinstance(a, Line) and isinstance(b, Line) and abs(_turn(a, b)) <= SMOOTH


def _one_line(chain: Chain) -> Chain:
    """Run lines together where every corner left out stays within 0.005 mm of the longer line."""
    out: list[Segment] = []
    for run in _runs(chain, _nearly_ahead):
        if len(run) == 1:
            out += run
            continue
        thin = shapely.LineString(chain_points(run)).simplify(STRAIGHT_MM)
        corners = [(float(x), float(y)) for x, y in shapely.get_coordinates(thin)]
        out += [Line(a, b) for a, b in itertools.pairwise(corners)]
    return tuple(out)


def _same_circle(a: Segment, b: Segment) -> bool:
    return (
        isinstance(a, Arc)
        and isinstance(b, Arc)
        and a.sweep * b.sweep > 0
        and math.dist(a.centre, b.centre) <= NEAR_MM
        and abs(a.radius - b.radius) <= NEAR_MM
    )


def _one_arc(run: Chain, whole: bool) -> Chain:
    arcs = [s for s in run if isinstance(s, Arc)]
    if len(arcs) < 2 or len(arcs) != len(run):
        return run
    total = sum(s.sweep for s in arcs)
    first = arcs[0]
    if whole and abs(abs(total) - FULL) < 1e-3:
        n = len(arcs)
        centre = (sum(s.centre[0] for s in arcs) / n, sum(s.centre[1] for s in arcs) / n)
        radius = sum(s.radius for s in arcs) / n
        return (Arc(centre, radius, first.angle, math.copysign(FULL, total)),)
    if abs(total) > FULL - 1e-3:
        return run
    pts = [s.at(s.angle + s.sweep * i / 8) for s in arcs for i in range(8)]
    # chords are an eighth of an arc: the samples themselves are what must lie on the circle
    centre = first.centre
    if all(s.centre == centre and s.radius == first.radius for s in arcs):
        return (Arc(centre, first.radius, first.angle, total),)
    fitted = closest_arc((*pts, arcs[-1].end), math.inf)
    if not isinstance(fitted, Arc) or max(abs(math.dist(p, fitted.centre) - fitted.radius) for p in pts) > NEAR_MM:
        return run
    return (fitted,)


def _curve(run: Chain) -> Chain:
    """Run short pieces of a curve together."""
    if len(run) < 2 or (all(isinstance(s, Line) for s in run) and len(run) < FEWEST):
        return run
    return (Free(chain_points(run)),)


def _one_curve(a: Segment, b: Segment) -> bool:
    if isinstance(a, Arc) or isinstance(b, Arc) or abs(_turn(a, b)) > SMOOTH:
        return False
    la, lb = a.length, b.length
    if isinstance(a, Free) and isinstance(b, Free):
        return True
    if isinstance(a, Free) or isinstance(b, Free):
        line = lb if isinstance(a, Free) else la
        piece = a if isinstance(a, Free) else b
        return line <= ALIKE * piece.length / max(1, len(piece.points()) - 1)
    return max(la, lb) <= ALIKE * min(la, lb)


def _named_arc(s: Segment, least: float) -> Segment:
    """Return a free curve as the arc or line that it is, else itself."""
    if not isinstance(s, Free):
        return s
    found = closest_arc(s.vertices)
    if found is None or (isinstance(found, Arc) and abs(found.sweep) < least):
        return s
    return found


def _without_slivers(chain: Chain) -> Chain:
    """Take out lines too short to see, bringing what follows to where they began."""
    out: list[Segment] = []
    for s in chain:
        start = out[-1].end if out else s.start
        if isinstance(s, Line) and s.length < SLIVER_MM and len(chain) > 3:
            continue
        out.append(s if s.start == start else moved(s, start, s.end))
    if len(out) < 2:
        return chain
    if out[-1].end != out[0].start:
        out[-1] = moved(out[-1], out[-1].start, out[0].start)
    return tuple(out)


def merge(chain: Chain) -> tuple[Chain, tuple[str, ...]]:
    """Return a closed chain with its edges run together, and words for what was taken as what."""
    words: list[str] = []
    drawn = _one_line(_from_corner(_without_slivers(chain)))
    out: Chain = tuple(_named_arc(s, REAL_ARC) for s in _from_corner(drawn))
    runs = _runs(_from_corner(out), _one_curve)
    out = tuple(_named_arc(s, 0.0) for r in runs for s in _curve(r))
    if len(out) < len(drawn):
        words.append("runs of short pieces taken as one curve")
    if any(isinstance(s, Arc) and s not in drawn for s in out):
        words.append(f"curves taken as the arcs they follow within {NEAR_MM} mm")
    before = len(out)
    grouped = _runs(_from_corner(out), _same_circle)
    out = tuple(s for r in grouped for s in _one_arc(r, len(grouped) == 1))
    if len(out) < before:
        words.append("arcs of one circle joined")
    return out, tuple(words)
