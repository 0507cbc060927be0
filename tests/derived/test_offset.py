"""Parallel curves against shapely's buffer (a second engine) and against closed forms."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.records.geometry import Arc, Free, Line, Loop
from lagline.shapes.offset import grow, parallel, shift
from lagline.shapes.region import loop_polygon


def poly(*pts: tuple[float, float]) -> Loop:
    n = len(pts)
    return Loop(tuple(Line(pts[i], pts[(i + 1) % n]) for i in range(n)), tuple(f"e{i + 1}" for i in range(n)))


def circle(r: float, ccw: bool = True) -> Loop:
    return Loop((Arc((0.0, 0.0), r, 0.0, math.copysign(2 * math.pi, 1 if ccw else -1)),), ("rim",))


def rounded(w: float, h: float, r: float) -> Loop:
    q = math.pi / 2
    s = (
        Line((r, 0), (w - r, 0)),
        Arc((w - r, r), r, -q, q),
        Line((w, r), (w, h - r)),
        Arc((w - r, h - r), r, 0, q),
        Line((w - r, h), (r, h)),
        Arc((r, h - r), r, q, q),
        Line((0, h - r), (0, r)),
        Arc((r, r), r, 2 * q, q),
    )
    return Loop(s, tuple(f"e{i}" for i in range(8)))


def test_rectangle_grows_by_its_amounts():
    grown = grow(poly((0, 0), (100, 0), (100, 50), (0, 50)), (1.0, 2.0, 3.0, 0.0))
    assert loop_polygon(grown).bounds == pytest.approx((0, -1, 102, 53))
    assert grown.area == pytest.approx(102 * 54)


def test_circle_radius_changes_outward_and_a_hole_shrinks():
    assert grow(circle(40), (1.5,)).segments[0].radius == pytest.approx(41.5)
    assert grow(circle(40, ccw=False), (1.5,)).segments[0].radius == pytest.approx(38.5)


def test_rounded_rectangle_keeps_its_arcs():
    grown = grow(rounded(120, 80, 10), (1.25,) * 8)
    assert [type(s) for s in grown.segments] == [Line, Arc] * 4
    assert {round(s.radius, 6) for s in grown.segments if isinstance(s, Arc)} == {11.25}
    inside = grow(rounded(120, 80, 10), (-1.25,) * 8)
    assert {round(s.radius, 6) for s in inside.segments if isinstance(s, Arc)} == {8.75}


def test_inside_radius_smaller_than_the_amount_is_lost_and_neighbours_meet():
    r, q = 0.5, math.pi / 2
    # an L whose inside corner has a 0.5 mm radius
    segs = (
        Line((0, 0), (60, 0)),
        Line((60, 0), (60, 30)),
        Line((60, 30), (30 + r, 30)),
        Arc((30 + r, 30 + r), r, -q, -q),
        Line((30, 30 + r), (30, 60)),
        Line((30, 60), (0, 60)),
        Line((0, 60), (0, 0)),
    )
    chains = parallel(Loop(segs, tuple("abcdefg")), (0.9,) * 7)
    assert chains[3] == ()
    assert chains[2][-1].end == pytest.approx((30.9, 30.9))
    assert chains[4][0].start == pytest.approx((30.9, 30.9))


def test_closes_up_is_an_error():
    with pytest.raises(ValueError, match="nothing is left"):
        grow(circle(1.0, ccw=False), (1.5,))


def test_shift_of_free_matches_the_arc_it_samples():
    arc = Arc((0, 0), 50, 0.2, 1.5)
    free = Free(arc.points(0.0005))
    moved = shift(free, 2.0)
    assert moved is not None
    assert all(abs(math.hypot(*p) - 52) < 0.01 for p in moved.points())


@st.composite
def star_loops(draw: st.DrawFn) -> Loop:
    n = draw(st.integers(3, 9))
    radii = draw(st.lists(st.floats(30, 90), min_size=n, max_size=n))
    phase = draw(st.floats(0, 6))
    return poly(*((r * math.cos(phase + 2 * math.pi * i / n), r * math.sin(phase + 2 * math.pi * i / n))
                  for i, r in enumerate(radii)))  # fmt: skip


@given(star_loops(), st.floats(-2, 3).map(lambda a: round(a, 4)))
@settings(deadline=None, max_examples=150)
def test_grow_equals_a_mitred_buffer(loop: Loop, amount: float):
    try:
        ours = loop_polygon(grow(loop, (amount,) * len(loop.segments)))
    except ValueError:
        return  # acute spikes may close up; the next law bounds how often
    judge = loop_polygon(loop).buffer(amount, join_style="mitre", mitre_limit=50)
    close = loop_polygon(loop).buffer(amount, join_style="round", quad_segs=64)
    # sharp corners are cut short at four times the amount, so compare away from the spikes
    spikes = shapely.union_all([shapely.Point(s.start).buffer(8 * abs(amount) + 0.1) for s in loop.segments])
    assert ours.symmetric_difference(judge).difference(spikes).area < 1e-3
    assert close.difference(ours).area < 1e-3 or amount < 0


@given(star_loops())
@settings(deadline=None, max_examples=60)
def test_grow_then_shrink_returns(loop: Loop):
    try:
        there = grow(loop, (1.0,) * len(loop.segments))
        back = grow(there, (-1.0,) * len(there.segments))
    except ValueError:
        return
    assert loop_polygon(back).symmetric_difference(loop_polygon(loop)).area < 0.05 * loop.length


def test_ordinary_stars_do_not_fail():
    failures = 0
    for k in range(200):
        n = 3 + k % 7
        radii = [40 + 37 * math.sin(1.7 * k + 2.3 * i) ** 2 for i in range(n)]
        loop = poly(*((r * math.cos(6.2832 * i / n), r * math.sin(6.2832 * i / n)) for i, r in enumerate(radii)))
        try:
            grow(loop, (0.8,) * n)
        except ValueError:
            failures += 1
    assert failures == 0
