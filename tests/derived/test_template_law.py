"""The law of templates: a disc rolled round the printed edge, the kerf swept, and what is left laid on the drawing.

Wherever the outline can be followed the part equals the drawing to 0.05 mm; every place it does not is marked, and
nothing else is.
"""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
import shapely
from scipy.spatial import cKDTree
from shapely.geometry import LineString, Point, Polygon, box

from lagline.records.geometry import Arc, Line, Loop
from lagline.shapes.rolled import Rolled, roll
from tests.template_outlines import filleted, template_outline

SAME_MM = 0.05
TELL_MM = 0.015  # above the flattening of arcs, below what is marked


def rolled_path(edge: tuple[tuple[float, float], ...], cup: float, inside: bool) -> Polygon:
    """What the tip's centre runs round, the cup rolling on the printed edge."""
    board = Polygon(edge)
    assert board.is_valid
    round_it = board.buffer(-cup if inside else cup, quad_segs=90)
    path = Polygon(max(shapely.get_parts(round_it), key=lambda g: g.area).exterior)
    # a disc of the cup's radius touches the edge and is never over it
    for i in range(40):
        centre = path.exterior.interpolate(i / 40, normalized=True)
        assert board.exterior.distance(centre) == pytest.approx(cup, abs=0.02)
        assert board.contains(centre) == inside
    return path


def cut_out(path: Polygon, kerf: float, inside: bool) -> Polygon:
    """What the kerf along that path leaves of the part, or takes out of it."""
    left, bottom, right, top = path.buffer(kerf + 5).bounds
    plate = box(left, bottom, right, top)
    swath = LineString(path.exterior.coords).buffer(kerf / 2, quad_segs=90)
    rest = shapely.get_parts(plate.difference(swath))
    drop = next(p for p in rest if p.intersects(Point(left, bottom)))
    if inside:
        return Polygon(drop.interiors[0])  # everything within the kerf's far side is gone
    inner = [p for p in rest if p is not drop]
    return Polygon(max(inner, key=lambda p: p.area).exterior)


def check(loop: Loop, made: Rolled, cup: float, kerf: float) -> int:
    """Hold one template to the law; returns how many places are marked."""
    got = cut_out(rolled_path(made.edge, cup, made.inside), kerf, made.inside)
    want = Polygon(loop.points(0.002))
    zones = shapely.union_all([Polygon(m.zone) for m in made.marks])
    over = got.difference(want.buffer(SAME_MM)).difference(zones)
    under = want.buffer(-SAME_MM).difference(got).difference(zones)
    assert over.area < 1e-4, (over.centroid, over.area)
    assert under.area < 1e-4, (under.centroid, under.area)
    # what is said to be left is what is left
    assert Polygon(made.left).symmetric_difference(got).area < SAME_MM * got.length
    short, long = want.buffer(-TELL_MM).difference(got), got.difference(want.buffer(TELL_MM))
    missing, extra = (long, short) if made.inside else (short, long)
    for m in made.marks:
        zone = Polygon(m.zone)
        off = missing if m.kind in ("outer corner", "outer radius", "tongue") else extra
        assert off.intersection(zone).area > 0, m.kind  # nothing is marked that is right
        # and no more of it than is wrong: a millimetre round the place
        assert missing.union(extra).buffer(1.0).covers(zone), m.kind
    return len(made.marks)


def law(seed: int) -> tuple[int, int, int]:
    """One generated outline with its holes: loops proved, places marked, loops that take no template."""
    rng = random.Random(seed + 10_000)
    cup, kerf = rng.uniform(5, 16), rng.uniform(1.0, 3.0)
    outline = template_outline(seed)
    proved = marked = none = 0
    for loop in outline.loops:
        inside = loop is not outline.outer
        made = roll(loop, cup, kerf, inside=inside)
        if made is None:
            d = cup - kerf / 2
            want = Polygon(loop.points(0.002))
            # no room: the shrunken part is nothing, or the cup does not go into the opening
            assert want.buffer(-(kerf / 2) if inside else -d).area < 1e-6 * want.area + 1e-2
            none += 1
            continue
        proved += 1
        marked += check(loop, made, cup, kerf)
    return proved, marked, none


def centres(made: Rolled, cup: float) -> np.ndarray:
    """Where the tip's centre goes, point by point, without any offsetting: off every place of the edge by the cup's
    radius, all round its corners, and only where the cup then does not bite into the board elsewhere."""
    ring = np.array(made.edge)
    area = np.sum(ring[:, 0] * np.roll(ring[:, 1], -1) - np.roll(ring[:, 0], -1) * ring[:, 1]) / 2
    if (area > 0) == made.inside:
        ring = ring[::-1]  # the cup then lies to the right of the way along the edge
    spots, found = [], []
    for i in range(len(ring)):
        before, at, after = ring[i - 1], ring[i], ring[(i + 1) % len(ring)]
        way, length = after - at, math.dist(after, at)
        along = at + np.linspace(0, 1, max(2, math.ceil(length / 0.1)))[:, None] * way
        spots.append(along)
        found.append(along + cup * np.array([way[1], -way[0]]) / length)
        a, b = (math.atan2(*(-v[0], v[1])) for v in (at - before, way))  # headings of the two normals
        turn = math.remainder(b - a, 2 * math.pi)
        if turn > 0:
            fan = a + np.linspace(0, 1, max(2, math.ceil(turn * cup / 0.1)))[1:-1] * turn
            found.append(at + cup * np.column_stack([np.cos(fan), np.sin(fan)]))
    every = np.vstack(found)
    clear, _ = cKDTree(np.vstack(spots)).query(every)
    return every[clear > cup - 0.01]


def edge_points(loop: Loop) -> tuple[np.ndarray, np.ndarray]:
    """Places along a drawn loop and the way into the metal there, straight from its lines and arcs."""
    places, into = [], []
    for s in loop.segments:
        for u in np.linspace(0, 1, max(4, math.ceil(s.length)))[1:-1]:
            if isinstance(s, Arc):
                angle = s.angle + u * s.sweep
                places.append(s.at(angle))
                heading = angle + math.copysign(math.pi / 2, s.sweep)
            else:
                places.append((s.start[0] + u * (s.end[0] - s.start[0]), s.start[1] + u * (s.end[1] - s.start[1])))
                heading = s.heading_start
            into.append((-math.sin(heading), math.cos(heading)))
    return np.array(places).reshape(-1, 2), np.array(into).reshape(-1, 2)


def judged_by_points(seed: int) -> int:
    """The same law with no offsets at all: just inside the drawn edge no centre is within half a kerf, just outside
    one is. Returns how many places were judged."""
    rng = random.Random(seed + 10_000)
    cup, kerf = rng.uniform(5, 16), rng.uniform(1.0, 3.0)
    outline = template_outline(seed)
    judged = 0
    for loop in outline.loops:
        made = roll(loop, cup, kerf, inside=loop is not outline.outer)
        if made is None:
            continue
        tree = cKDTree(centres(made, cup))
        places, into = edge_points(loop)
        zones = shapely.union_all([Polygon(m.zone) for m in made.marks]).buffer(2 * SAME_MM)
        free = ~shapely.contains_xy(zones, places) if not zones.is_empty else np.ones(len(places), dtype=bool)
        want = Polygon(loop.points(0.002))
        beside = [places[free] + side * 1.2 * SAME_MM * into[free] for side in (1, -1)]
        # a step off one edge lands beside it, not over the next: no hair's breadth of a point, no corner
        sound = np.all([shapely.distance(shapely.points(b), want.exterior) > SAME_MM for b in beside], axis=0)
        sound &= shapely.contains_xy(want, beside[0]) != made.inside
        sound &= shapely.contains_xy(want, beside[1]) == made.inside
        metal, kerfed = (tree.query(b[sound])[0] for b in beside)
        assert np.all(metal > kerf / 2)
        assert np.all(kerfed < kerf / 2)
        judged += int(sound.sum())
    return judged


@pytest.mark.parametrize("seed", range(6))
def test_law_by_points_alone(seed: int):
    assert judged_by_points(seed) > 100


@pytest.mark.deep
@pytest.mark.parametrize("fifty", range(10))
def test_law_by_points_alone_on_five_hundred_outlines(fifty: int):
    assert sum(judged_by_points(s) for s in range(fifty * 50, fifty * 50 + 50)) > 5_000


@pytest.mark.parametrize("tens", range(4))
def test_part_left_equals_the_drawing_wherever_it_can_be_followed(tens: int):
    proved, marked, _ = (sum(c) for c in zip(*(law(s) for s in range(tens * 10, tens * 10 + 10)), strict=True))
    assert proved >= 8
    assert marked >= 10


@pytest.mark.deep
@pytest.mark.parametrize("fifty", range(10))
def test_law_on_five_hundred_outlines(fifty: int):
    proved, _, none = (sum(c) for c in zip(*(law(s) for s in range(fifty * 50, fifty * 50 + 50)), strict=True))
    assert proved > none


def test_followable_outline_has_no_mark():
    # every salient radius at least R - k/2 and every hollow one at least k/2: nothing to mark
    ring = [(0.0, 0.0), (200.0, 0.0), (200.0, 60.0), (120.0, 60.0), (120.0, 160.0), (0.0, 160.0)]
    loop = filleted(ring, [12.0, 12.0, 12.0, 5.0, 12.0, 12.0], "e")
    made = roll(loop, 11.0, 2.0, inside=False)
    assert made is not None
    assert made.marks == ()
    assert check(loop, made, 11.0, 2.0) == 0


def test_square_corners_come_out_as_the_trade_says():
    # sharp outer corner: part corner radius R - k/2; the part's inner radius is then k/2 (derived)
    ring = [(0.0, 0.0), (200.0, 0.0), (200.0, 60.0), (120.0, 60.0), (120.0, 160.0), (0.0, 160.0)]
    loop = filleted(ring, [0.0] * 6, "e")
    made = roll(loop, 11.0, 2.0, inside=False)
    assert made is not None
    kinds = {m.at: m for m in made.marks}
    assert len(kinds) == 6
    inner = kinds.pop((120.0, 60.0))
    assert inner.kind == "inner corner"
    assert inner.angle_deg == pytest.approx(270)
    assert inner.deep_mm == pytest.approx((math.sqrt(2) - 1) * 1.0, abs=0.05)
    for m in kinds.values():
        assert m.kind == "outer corner"
        assert m.angle_deg == pytest.approx(90)
        assert m.deep_mm == pytest.approx((math.sqrt(2) - 1) * 10.0, abs=0.05)
    # the corner left is an arc of R - k/2 about the template's own corner
    got = Polygon(made.left)
    for a in (185, 200, 225, 250, 265):
        p = Point(10 + 10 * math.cos(math.radians(a)), 10 + 10 * math.sin(math.radians(a)))
        assert got.exterior.distance(p) < 0.01


def test_notch_narrower_than_the_kerf_is_marked_and_wider_is_cut():
    def notched(width: float) -> Rolled:
        x = 100.0
        ring = [(0.0, 0.0), (200.0, 0.0), (200.0, 100.0), (x + width / 2, 100.0), (x + width / 2, 60.0),
                (x - width / 2, 60.0), (x - width / 2, 100.0), (0.0, 100.0)]  # fmt: skip
        made = roll(filleted(ring, [0.0] * 8, "e"), 11.0, 2.0, inside=False)
        assert made is not None
        return made

    assert "notch" in {m.kind for m in notched(1.9).marks}
    wide = notched(2.5)
    assert "notch" not in {m.kind for m in wide.marks}
    assert sum(m.kind == "inner corner" for m in wide.marks) == 2


def test_smallest_template_hole_is_the_cup():
    # smallest template hole: cup diameter, so the smallest hole made is the kerf itself (derived)
    def hole(diameter: float) -> Rolled | None:
        return roll(Loop((Arc((0, 0), diameter / 2, 0.0, -2 * math.pi),), ("h",)), 11.0, 2.0, inside=True)

    assert hole(1.95) is None
    made = hole(2.2)
    assert made is not None
    assert Polygon(made.edge).area == pytest.approx(math.pi * (1.1 + 10.0) ** 2, rel=1e-3)
    assert made.marks == ()


def test_template_of_a_strip_narrower_than_two_insets_is_none():
    ring = [(0.0, 0.0), (200.0, 0.0), (200.0, 19.9), (0.0, 19.9)]
    segments = tuple(Line(a, b) for a, b in zip(ring, ring[1:] + ring[:1], strict=True))
    assert roll(Loop(segments, ("a", "b", "c", "d")), 11.0, 2.0, inside=False) is None
