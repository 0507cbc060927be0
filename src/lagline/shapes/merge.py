"""Edges as a person sees them: pieces of one line, arc or curve run together before they get names."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable

import numpy as np
import shapely

from lagline.records.geometry import Arc, Free, Line, Segment, chain_points, wrap
from lagline.shapes.arcs import FULL, NEAR_MM, STRAIGHT_MM, closest_arc
from lagline.shapes.clean import Chain, moved

SMOOTH = math.radians(15)  # a corner below this between short pieces is part of a curve
REAL_ARC = math.radians(20)  # a curve below this much turn is not called an arc by itself
ALIKE = 4.0  # neighbouring pieces of one curve differ in length by no more than this ratio
FEWEST = 4
SLIVER_MM = 0.02
SHARP = math.radians(40)
LONG_CHORD_MM = 1.0  # a bend flattened within 0.01 mm has no chord this long and this sharp beside it
SAME_HEADING = math.radians(2)
ALIKE_MM = 0.15


def _turn(a: Segment, b: Segment) -> float:
    return wrap(b.heading_start - a.heading_end)


def _from_corner(chain: Chain) -> Chain:
    """Return the closed chain started at its sharpest corner."""
    turns = [abs(_turn(a, b)) for a, b in zip(chain[-1:] + chain[:-1], chain, strict=True)]
    k = max(range(len(chain)), key=lambda i: (round(turns[i], 9), -i))
    return chain[k:] + chain[:k]


def _runs(chain: Chain, together: Callable[[Segment, Segment], bool]) -> list[Chain]:
    """Split a closed chain into runs of neighbours that belong together, started where two do not."""
    n = len(chain)
    first = next((i for i in range(n) if not together(chain[i - 1], chain[i])), None)
    chain = _from_corner(chain) if first is None else chain[first:] + chain[:first]
    runs: list[list[Segment]] = [[chain[0]]]
    for a, b in itertools.pairwise(chain):
        if together(a, b):
            runs[-1].append(b)
        else:
            runs.append([b])
    return [tuple(r) for r in runs]


def _at_corners(s: Segment) -> Chain:
    """Split a free curve where its vertices make a corner, not a bend: sharp, or between two long chords."""
    if not isinstance(s, Free):
        return (s,)
    v = s.vertices
    if len(v) == 2:
        return (Line(v[0], v[1]),)
    steps = np.diff(np.asarray(v), axis=0)
    size = np.hypot(*steps.T)
    heading = np.arctan2(steps[:, 1], steps[:, 0])
    turn = np.abs((np.diff(heading) + math.pi) % FULL - math.pi)
    long = np.minimum(size[:-1], size[1:]) >= LONG_CHORD_MM
    cuts = [0, *(np.flatnonzero((turn > SHARP) | ((turn > SMOOTH) & long)) + 1).tolist(), len(v) - 1]
    pieces = (v[a : b + 1] for a, b in itertools.pairwise(cuts))
    return tuple(Line(p[0], p[1]) if len(p) == 2 else Free(p) for p in pieces)


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
    """Whether two arcs run on smoothly round nearly one circle; :func:`_one_arc` has the last word."""
    return (
        isinstance(a, Arc)
        and isinstance(b, Arc)
        and a.sweep * b.sweep > 0
        and abs(_turn(a, b)) < SAME_HEADING
        and math.dist(a.centre, b.centre) <= ALIKE_MM
        and abs(a.radius - b.radius) <= ALIKE_MM
    )


def _one_arc(run: Chain, whole: bool) -> Chain:
    """Return the one arc or circle that follows a run of arcs, the run itself when none does."""
    arcs = [s for s in run if isinstance(s, Arc)]
    if len(arcs) < 2 or len(arcs) != len(run):
        return run
    total = sum(s.sweep for s in arcs)
    first = arcs[0]
    circle = whole and abs(abs(total) - FULL) < SAME_HEADING
    if not circle and abs(total) > FULL - SAME_HEADING:
        return run
    if all(s.centre == first.centre and s.radius == first.radius for s in arcs):
        return (Arc(first.centre, first.radius, first.angle, math.copysign(FULL, total) if circle else total),)
    pts = [s.at(s.angle + s.sweep * i / 8) for s in arcs for i in range(8)]
    fitted = closest_arc((*pts, pts[0] if circle else arcs[-1].end), chords=False)
    return (fitted,) if isinstance(fitted, Arc) else run


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
    split = tuple(piece for s in _without_slivers(chain) for piece in _at_corners(s))
    drawn = _one_line(split)
    out: Chain = tuple(_named_arc(s, REAL_ARC) for s in drawn)
    runs = _runs(out, _one_curve)
    out = tuple(_named_arc(s, 0.0) for r in runs for s in _curve(r))
    if len(out) < len(drawn):
        words.append("runs of short pieces taken as one curve")
    if any(isinstance(s, Arc) and s not in drawn for s in out):
        words.append(f"curves taken as the arcs they follow within {NEAR_MM} mm")
    before = len(out)
    grouped = _runs(out, _same_circle)
    out = tuple(s for r in grouped for s in _one_arc(r, len(grouped) == 1))
    if len(out) < before:
        words.append("arcs of one circle joined")
    return out, tuple(words)
