"""Joining loose pieces: the outlines do not depend on order, direction, place or small gaps."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.records.finding import Severity
from lagline.records.geometry import Arc, Free, Line, Move, Outline, Segment
from lagline.shapes.assemble import Drawing, assemble
from lagline.shapes.named import make_shape
from lagline.shapes.region import polygon

PARTS: list[tuple[str, dict[str, object]]] = [
    ("rectangle", {"width": 200, "height": 120, "corner_radius": 20}),
    ("rectangle", {"width": 200, "height": 120, "cope_width": 40, "cope_height": 30, "chamfer": 15}),
    ("gusset", {"leg_across": 150, "leg_up": 100, "snipe": 20, "nose": 12}),
    ("flange", {"outside": 300, "inside": 150, "bolt_circle": 230, "bolts": 8, "bolt_hole": 22}),
    ("slotted_plate", {"width": 200, "height": 150, "slot_length": 90, "slot_width": 16, "slots": 3, "pitch": 40}),
    ("sector", {"outside": 400, "inside": 260, "angle": 75}),
    ("strip", {"length": 500, "width": 60, "hole": 18, "hole_from_end": 40, "ends": "round"}),
]


def pieces(outline: Outline) -> list[Segment]:
    return [s for loop in outline.loops for s in loop.segments]


def jittered(s: Segment, rng: random.Random, by: float) -> Segment:
    def p(q: tuple[float, float]) -> tuple[float, float]:
        a = rng.uniform(0, 2 * math.pi)
        return (q[0] + by * math.cos(a), q[1] + by * math.sin(a))

    if isinstance(s, Line):
        return Line(p(s.start), p(s.end))
    if isinstance(s, Arc):
        return Arc(p(s.centre), s.radius, s.angle, s.sweep)
    return Free((p(s.vertices[0]), *s.vertices[1:-1], p(s.vertices[-1])))


def kinds(d: Drawing) -> list[list[list[str]]]:
    return [[[type(s).__name__ for s in loop.segments] for loop in o.loops] for o in d.outlines]


@settings(deadline=None, max_examples=60)
@given(
    st.sampled_from(PARTS),
    st.integers(0, 10**6),
    st.floats(-math.pi, math.pi),
    st.floats(-5000, 5000),
    st.floats(0, 0.02),
    st.booleans(),
)
def test_same_outline_from_any_order_direction_place_and_jitter(
    part: tuple[str, dict[str, object]], seed: int, turn: float, shift: float, by: float, mirror: bool
) -> None:
    rng = random.Random(seed)
    outline, _ = make_shape(*part, "part")
    move = Move(shift, -shift / 3, turn, mirror)
    loose = [move.segment(s) for s in pieces(outline)]
    loose = [s.reversed() if rng.random() < 0.5 else s for s in loose]
    rng.shuffle(loose)
    d = assemble([jittered(s, rng, by) for s in loose])
    want = polygon(move.outline(outline))
    assert len(d.outlines) == 1
    got = d.outlines[0]
    assert len(got.holes) == len(outline.holes)
    # every edge moved by no more than the jitter and the joining, both under 0.05 mm
    assert polygon(got).symmetric_difference(want).area <= 0.05 * want.length
    assert sorted(map(len, (loop.segments for loop in got.loops))) == sorted(
        map(len, (loop.segments for loop in outline.loops))
    )
    assert sum(isinstance(s, Arc) for s in pieces(got)) == sum(isinstance(s, Arc) for s in pieces(outline))
    names = [n for loop in got.loops for n in loop.names]
    assert len(names) == len(set(names))


@settings(deadline=None, max_examples=30)
@given(st.sampled_from(PARTS), st.randoms(use_true_random=False))
def test_order_changes_nothing_at_all(part: tuple[str, dict[str, object]], rng: random.Random) -> None:
    outline, _ = make_shape(*part, "part")
    loose = pieces(outline)
    shuffled = loose[:]
    rng.shuffle(shuffled)
    a, b = assemble(loose), assemble(shuffled)
    assert a.findings == b.findings
    assert kinds(a) == kinds(b)
    for x, y in zip(pieces(a.outlines[0]), pieces(b.outlines[0]), strict=True):
        assert math.dist(x.start, y.start) < 1e-6
        assert x.length == pytest.approx(y.length)


def square(x: float, y: float, s: float) -> list[Segment]:
    c = [(x, y), (x + s, y), (x + s, y + s), (x, y + s)]
    return [Line(a, b) for a, b in zip(c, c[1:] + c[:1], strict=True)]


@settings(deadline=None, max_examples=20)
@given(st.integers(1, 7))
def test_nested_squares_alternate_metal_and_hole(n: int) -> None:
    loose = [s for i in range(n) for s in square(10.0 * i, 10.0 * i, 200 - 20.0 * i)]
    d = assemble(loose)
    areas = [(200 - 20.0 * i) ** 2 for i in range(n)]
    assert len(d.outlines) == (n + 1) // 2
    assert sum(o.area for o in d.outlines) == pytest.approx(sum(a * (-1) ** i for i, a in enumerate(areas)))
    assert ("outline-in-opening" in {f.code for f in d.findings}) == (n > 2)


@pytest.mark.parametrize("gap", [0.0, 0.02, 0.049, 0.06, 0.5, 0.99, 1.5, 30.0])
def test_gap_is_closed_told_or_open(gap: float) -> None:
    loose = [*square(0, 0, 100)[:3], Line((0, 100), (0, gap))]
    d = assemble(loose)
    codes = {f.code for f in d.findings}
    if gap < 0.05:
        assert len(d.outlines) == 1
        assert ("gaps-closed" in codes) == (gap > 0)
    else:
        assert d.outlines == ()
        assert ("outline-open" in codes) == (gap <= 1)
        assert ("open-line" in codes) == (gap > 1)
        f = next(f for f in d.findings if "open" in f.code and f.code != "no-outline")
        assert "(0.00, 0.00) mm" in f.message  # the place of one end
        assert gap > 1 or f"{gap:.2f} mm" in f.message
        assert d.findings[0].severity is Severity.REFUSED


@pytest.mark.parametrize("gap", [0.0, 1e-7, 2e-3, 0.04])
def test_one_closed_piece_is_shut(gap: float) -> None:
    ring = Arc((10, 20), 50, 1.0, 2 * math.pi - gap / 50)
    d = assemble([ring])
    assert d.outlines[0].area == pytest.approx(math.pi * 2500)
    ring_as_curve = Free(Arc((10, 20), 50, 1.0, 2 * math.pi - gap / 50).points(0.005))
    d = assemble([ring_as_curve])
    assert d.outlines[0].area == pytest.approx(math.pi * 2500, rel=1e-3)
    square_as_chain = [*square(0, 0, 100)[:3], Line((0, 100), (0, gap))]
    assert assemble([square_as_chain]).outlines[0].area == pytest.approx(10000)


def test_two_halves_with_gaps_are_told_open() -> None:
    loose = [
        Line((0, 0), (100, 0)),
        Line((100, 0), (100, 49.7)),
        Line((100, 50.3), (100, 100)),
        Line((100, 100), (0, 100)),
        Line((0, 100), (0, 50.2)),
        Line((0, 49.8), (0, 0)),
    ]
    d = assemble(loose)
    assert [f.code for f in d.findings] == ["no-outline", "outline-open", "outline-open"]
    assert "0.60 mm" in d.findings[1].message


def test_bow_tie_is_named_with_its_place() -> None:
    d = assemble(
        [Line((0, 0), (100, 100)), Line((100, 100), (100, 0)), Line((100, 0), (0, 100)), Line((0, 100), (0, 0))]
    )
    assert d.outlines == ()
    f = next(f for f in d.findings if f.code == "outline-crosses-itself")
    assert f.severity is Severity.NO_GO
    assert "(50.00, 50.00) mm" in f.message


def test_crossing_outlines_are_both_left_out() -> None:
    d = assemble(square(0, 0, 100) + square(50, 50, 100) + square(300, 0, 50))
    assert [o.area for o in d.outlines] == [2500]
    assert "cross" in next(f.message for f in d.findings if f.code == "outlines-cross")


def test_squares_meeting_at_a_corner_are_two() -> None:
    d = assemble(square(0, 0, 100) + square(100, 100, 50))
    assert sorted(o.area for o in d.outlines) == [2500, 10000]


def test_line_across_is_told_as_branching() -> None:
    d = assemble([*square(0, 0, 100), Line((0, 0), (100, 100))])
    f = next(f for f in d.findings if f.code == "lines-branch")
    assert "(0.00, 0.00) mm" in f.message
    assert "(100.00, 100.00) mm" in f.message


def test_stray_line_on_a_corner_does_not_cost_the_outline() -> None:
    d = assemble([*square(0, 0, 100), Line((100, 100), (150, 150))])
    assert [o.area for o in d.outlines] == [10000]
    assert [f.code for f in d.findings] == ["open-line"]


def test_doubles_and_specks_are_removed_and_said() -> None:
    loose = square(0, 0, 100)
    d = assemble([*loose, loose[1].reversed(), loose[2], Line((5, 5), (5, 5)), Line((100, 100), (100, 100.0001))])
    assert [o.area for o in d.outlines] == [10000]
    assert {f.code for f in d.findings} == {"doubles-removed", "no-length-removed"}
    assert "2 pieces drawn twice" in next(f.message for f in d.findings if f.code == "doubles-removed")


def test_outline_drawn_twice_as_a_whole() -> None:
    d = assemble([tuple(square(0, 0, 100)), tuple(square(0, 0, 100)), Arc((50, 50), 10, 0, 2 * math.pi)])
    assert len(d.outlines) == 1
    assert len(d.outlines[0].holes) == 1


def test_lines_in_line_and_arcs_of_one_circle_become_one_edge() -> None:
    loose: list[Segment] = [Line((i * 10.0, 0), (i * 10.0 + 10, 0)) for i in range(10)]
    loose += [Arc((100, 50), 50, -math.pi / 2 + i * math.pi / 4, math.pi / 4) for i in range(4)]
    loose += [Line((100, 100), (0, 100)), Line((0, 100), (0, 0))]
    d = assemble(loose)
    assert kinds(d) == [[["Line", "Arc", "Line", "Line"]]]
    assert d.outlines[0].area == pytest.approx(100 * 100 + math.pi * 2500 / 2)


@settings(deadline=None, max_examples=40)
@given(st.floats(5, 500), st.integers(2, 8), st.floats(0, 6))
def test_part_circles_become_one_circle(r: float, n: int, start: float) -> None:
    arcs = [Arc((10, 20), r, start + 2 * math.pi * i / n, 2 * math.pi / n) for i in range(n)]
    d = assemble(arcs)
    (edge,) = d.outlines[0].outer.segments
    assert isinstance(edge, Arc)
    assert edge.is_circle
    assert edge.radius == pytest.approx(r)
    assert d.outlines[0].outer.names == ("e1",)


@settings(deadline=None, max_examples=40)
@given(st.floats(20, 300), st.floats(1.0, 5.5))
def test_fine_polygon_on_an_arc_becomes_the_arc(r: float, sweep: float) -> None:
    arc = Arc((0, 0), r, 0.3, sweep)
    chords = [Line(a, b) for a, b in zip(arc.points(0.015), arc.points(0.015)[1:], strict=False)]
    sides = [Line(arc.end, (0.0, 0.0)), Line((0.0, 0.0), arc.start)]
    d = assemble([*chords, *sides])
    assert sorted(kinds(d)[0][0]) == ["Arc", "Line", "Line"]
    got = next(s for s in d.outlines[0].outer.segments if isinstance(s, Arc))
    assert got.radius == pytest.approx(r, abs=0.2)
    assert any("arc" in f.message for f in d.findings)


def test_a_drawn_hexagon_is_not_rounded() -> None:
    outline, _ = make_shape("polygon", {"sides": 12, "across_flats": 60}, "part")
    d = assemble(pieces(outline))
    assert kinds(d) == [[["Line"] * 12]]


@pytest.mark.parametrize("length", [1e-12, 1e-7, 1e-3, 0.01])
def test_tiny_arcs_do_not_blow_up(length: float) -> None:
    tiny = Arc((0, 0.02), 0.02, -math.pi / 2, length / 0.02)
    sides = [Line(tiny.end, (100, 0)), Line((100, 0), (100, 50)), Line((100, 50), (0, 0))]
    for pieces_ in ([tiny, *sides], [(tiny, *sides)]):
        d = assemble(pieces_)
        assert d.outlines[0].area == pytest.approx(2500, abs=5)
        assert all(abs(c) < 101 for s in pieces(d.outlines[0]) if isinstance(s, Arc) for c in s.centre)


def test_names() -> None:
    outline, _ = make_shape(*PARTS[4], "part")
    d = assemble(pieces(outline))
    assert d.outlines[0].outer.names == ("e1", "e2", "e3", "e4")
    assert d.outlines[0].holes[0].names == ("h1.1", "h1.2", "h1.3", "h1.4")
    e1 = d.outlines[0].outer.segments[0]
    assert (e1.start, e1.end) == ((0, 0), (200, 0))  # the bottom edge, from the lowest left corner


def test_impossible_numbers_are_left_out_and_said() -> None:
    d = assemble([*square(0, 0, 100), Line((0, math.nan), (1, 1)), Line((0, 0), (math.inf, 1))])
    assert len(d.outlines) == 1
    assert [f.code for f in d.findings] == ["bad-number"]


def test_crowds_do_not_take_for_ever() -> None:
    star = [Line((0, 0), (100 * math.cos(i), 100 * math.sin(i))) for i in range(4000)]
    rng = random.Random(1)
    fuzz = [Line((rng.random() / 50, rng.random() / 50), (rng.random() / 50, 5 + i / 100)) for i in range(2000)]
    spindle = [Arc((0, y), math.hypot(50, y), math.atan2(-y, 50), -1.0) for y in range(1, 500)]
    d = assemble([*star, *fuzz, *spindle])
    assert d.findings
    nothing = assemble([])
    assert [f.code for f in nothing.findings] == ["no-outline"]
