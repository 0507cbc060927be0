"""Beams, channel and angle: pieces put together in the plane and in space, areas, corners, refusals."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Point, Polygon, box

from lagline.records.errors import LaglineError
from lagline.records.finding import Severity
from lagline.setouts.beam_block import BLOCK
from lagline.setouts.beam_cope import COPE, cope_outline
from lagline.setouts.beam_fair import FAIR
from lagline.setouts.beam_hole import HOLE, hole_outline
from lagline.setouts.beam_mitre import ANGLE, CHANNEL, angle_faces, channel_faces, offsets
from lagline.setouts.beam_notch import NOTCH, v_outline
from lagline.trade import structural
from tests.setout_bench import typed

ALL = (COPE, BLOCK, HOLE, NOTCH, CHANNEL, ANGLE, FAIR)


@pytest.mark.parametrize("ask", ALL, ids=lambda a: a.name)
@pytest.mark.parametrize("units", ["in", "mm"])
def test_every_example_is_made(ask, units):
    texts = {k: v if k in ("turn",) else f"{v} in" for k, v in ask.example}
    s = typed(ask, units, **texts)
    assert s.kind == ask.kind
    assert len({n.key for n in s.numbers}) == len(s.numbers)
    assert any(n.main for n in s.numbers)
    assert s.steps
    assert not [f for f in s.findings if f.severity is Severity.NO_GO]
    assert s.picture is not None
    for d in (s.picture, *s.sheets):
        for a in d.areas:
            assert Polygon(a.points).is_valid
    parts = [Polygon(a.points) for a in s.picture.areas]
    for i, p in enumerate(parts):
        assert all(p.intersection(q).area < 1e-6 for q in parts[i + 1 :])


@given(st.floats(4, 24), st.floats(0.25, 1), st.floats(0.2, 2), st.floats(0, 0.5))
@settings(deadline=None, max_examples=30)
def test_a_coped_beam_goes_in_and_stands_off_as_told(flange, web, thick, clear):
    back = structural.cope_setback(flange, web, 1 / 16) + clear
    r, deep = 0.1, thick + 0.3
    beam = Polygon([*cope_outline(back, deep, r), (60, 0), (60, -20), (0, -20)])
    mid = -1 / 16 - web / 2
    other = box(mid - flange / 2, -thick, mid + flange / 2, 0).union(box(mid - web / 2, -40, mid + web / 2, 0))
    assert beam.intersection(other).area < 1e-9
    # the upright of the cope stands off the flange's edge by what was asked, the web off the web by 1/16
    assert beam.intersection(box(0, -0.05, 90, 0)).bounds[0] - other.bounds[2] == pytest.approx(clear, abs=1e-9)
    assert beam.bounds[0] - (mid + web / 2) == pytest.approx(1 / 16)


@given(st.floats(10, 200), st.floats(10, 100), st.floats(0.05, 0.9))
@settings(deadline=None, max_examples=30)
def test_the_cope_takes_its_rectangle_less_the_corner(back, deep, share):
    r = share * min(back, deep)
    gone = Polygon([*cope_outline(back, deep, r), (0, 0)])
    assert gone.area == pytest.approx(back * deep - r * r * (1 - math.pi / 4), rel=2e-3)


@given(st.floats(30, 150), st.floats(15, 50), st.floats(10, 14), st.floats(20, 90))
@settings(deadline=None, max_examples=40)
def test_the_access_hole_is_smooth_and_nowhere_tighter_than_its_radius(long, high, r, run_out):
    a = math.radians(run_out)
    start = long - high / math.tan(a) - r * math.tan(a / 2)
    if start < 0 or high / math.sin(a) < r * math.tan(a / 2):
        return
    line = hole_outline(long, high, r, run_out)
    turns = []
    for p, q, s in zip(line, line[1:], line[2:], strict=False):
        one, two = math.atan2(q[1] - p[1], q[0] - p[0]), math.atan2(s[1] - q[1], s[0] - q[0])
        turns.append(math.degrees(two - one))
    assert all(-1e-6 <= t <= run_out / 16 + 1e-6 for t in turns)
    assert sum(turns) == pytest.approx(run_out, rel=0.05)
    assert line[-1] == pytest.approx((long, 0))
    # a disc of that radius rolls through the corner
    centre = Point(start, r - high)
    hole = Polygon([*line, (0, 0), (0, -high)]) if line[0] != (0, -high) else Polygon([*line, (0, 0)])
    assert (
        centre.buffer(r * 0.99).intersection(box(0, -high, long, 0)).difference(hole.buffer(1e-6)).area < 0.02 * r * r
    )


@given(st.floats(30, 150), st.floats(2, 12), st.floats(10, 140))
@settings(deadline=None, max_examples=40)
def test_the_v_closes_when_the_leg_is_folded_and_the_corner_is_where_told(leg, t, turn):
    left, point, right = v_outline(leg, t, turn)
    shut = [
        affinity.rotate(Point(p), side * turn / 2, origin=Point(point)).coords[0]
        for p, side in ((left, -1), (right, 1))
    ]
    assert shut[0] == pytest.approx(shut[1], abs=1e-9)
    # each half's heel, folded, meets the other's on the mirror line; measured along the heel from the centre line
    gain = structural.fold_gain(t, turn)
    corners = [
        affinity.rotate(Point(side * -gain, -leg), side * turn / 2, origin=Point(point)).coords[0] for side in (-1, 1)
    ]
    assert corners[0][0] == pytest.approx(0, abs=1e-9)
    assert corners[0] == pytest.approx(corners[1], abs=1e-9)


def test_the_outside_length_of_a_bent_side_is_met():
    s = typed(NOTCH, thickness="1/4", leg="3", turn="90", to_corner="36")
    assert s["centre_mm"] == pytest.approx((36 - 1 / 4) * 25.4)


LYING = (
    channel_faces(150, 60, 6, 9, "flat"),
    channel_faces(150, 60, 6, 9, "toes-in"),
    channel_faces(150, 60, 6, 9, "toes-out"),
    angle_faces(75, 8, "heel-out"),
    angle_faces(75, 8, "heel-in"),
)


@pytest.mark.parametrize("lying", LYING)
@given(st.floats(5, 145))
@settings(deadline=None, max_examples=15)
def test_two_mitred_pieces_meet_on_one_plane_at_the_turn(lying, turn):
    """Mirror the piece across the plane through its cut: every face meets itself, and the axes turn as asked."""
    half = math.radians(turn / 2)
    normal = (math.cos(half), math.sin(half))  # of the plane through the long point; y is in from the outside, down
    for f in lying.faces:
        for y, x in zip((f.y0, f.y1), offsets(f, turn), strict=True):
            assert x * normal[0] - y * normal[1] == pytest.approx(0, abs=1e-9)
            assert 0 <= y <= lying.width_mm
    d = (1.0, 0.0)
    along = 2 * (d[0] * normal[0] - d[1] * normal[1])
    other = (d[0] - along * normal[0], d[1] + along * normal[1])
    between = math.degrees(math.acos(max(-1, min(1, other[0]))))
    assert between == pytest.approx(180 - turn, abs=1e-6)


def test_lines_of_neighbouring_faces_meet():
    s = typed(CHANNEL, **dict(CHANNEL.example))
    web, outer, inner = s.table("lines").rows
    assert web[2] == outer[2]
    assert web[3] == inner[2]
    assert (web[4], outer[4], inner[4]) == (0, 45, 45)
    cuts = {r[0]: r for r in s.table("cuts").rows}
    assert cuts["inner flange, outer face"][2] == pytest.approx(5 / 16 * 25.4 * math.sqrt(2), abs=1e-3)


def test_the_block_drops_what_it_weighs():
    s = typed(BLOCK, "mm", flange_thickness="10", flange_width="200", web="8", depth="300", block_length="150",
              fillet="12", radius="13")  # fmt: skip
    assert s["strip_mm"] == pytest.approx(96 - 12)
    assert s["drop_kg"] == pytest.approx(84 * 150 * 10 * 7850e-9)
    flush = typed(BLOCK, "mm", flange_thickness="10", flange_width="200", web="8", depth="300", block_length="150",
                  fillet="12", leave="0", radius="13")  # fmt: skip
    assert any(f.code == "block-fillet" for f in flush.findings)
    assert {r[2] for r in flush.table("cuts").rows} == {10, 22}


def test_lines_are_carried_round_from_both_flanges():
    s = typed(COPE, **dict(COPE.example))
    rows = s.table("lines").rows
    total = [r[3] for r in rows if "inner face" in str(r[2])]
    depth, tf = 9.9375 * 25.4, 12.7
    assert sum(total) == pytest.approx(depth - 2 * tf, abs=2e-3)
    assert {r[0] for r in rows} >= {"top flange, outer face", "top flange, both edges", "web, both faces"}


def test_the_sheet_is_the_cope_at_full_scale():
    s = typed(COPE, **dict(COPE.example))
    (sheet,) = s.sheets
    left, bottom, right, top = sheet.bounds
    assert right - left == pytest.approx(s["setback_mm"])
    assert top - bottom == pytest.approx(s["inside_mm"] + 4.0, abs=4.01)  # the corner's centre mark may stand over
    (paper,) = sheet.areas
    whole = s["setback_mm"] * s["inside_mm"]
    r = s["radius_mm"]
    assert Polygon(paper.points).area == pytest.approx(whole - r * r * (1 - math.pi / 4), rel=2e-3)


@given(st.floats(1, 50), st.floats(4, 20), st.floats(0.8, 3))
@settings(deadline=None, max_examples=30)
def test_a_cup_run_in_the_templates_corner_leaves_the_radius(r, cup, kerf):
    """On the kept part: the tip runs at the template's corner less the cup, the kerf's kept edge k/2 further out."""
    template = structural.template_corner(r, cup, kerf, kept=True)
    assert template - cup + kerf / 2 == pytest.approx(r)
    drop = structural.template_corner(r, cup, kerf, kept=False)
    assert drop + cup + kerf / 2 == pytest.approx(r)


@pytest.mark.parametrize(
    ("ask", "texts", "field", "better"),
    [
        (COPE, {"cope_depth": "6"}, "cope depth", "a seat"),
        (COPE, {"receiving_flange_width": "13/16", "receiving_web": "3/4"}, "receiving flange width", "no cope"),
        (COPE, {"lower": "3"}, "lower", "no cope"),
        (COPE, {"cope_depth": "3/4"}, "radius", "or more"),
        (COPE, {"radius": "1/64"}, "radius", "drilled hole"),
        (COPE, {"radius": "4", "cope_depth": "4-3/4"}, "radius", ""),
        (COPE, {"flange_thickness": "5"}, "beam cope", "flange thickness"),
        (HOLE, {"hole_height": "7"}, "hole height", "half the clear web"),
        (HOLE, {"hole_length": "1/2"}, "hole length", "or more"),
        (HOLE, {"radius": "3"}, "radius", "higher hole"),
        (HOLE, {"land": "1/2"}, "land", "under"),
        (BLOCK, {"leave": "4"}, "leave", "under"),
        (BLOCK, {"radius": "3-7/8"}, "radius", "up to"),
        (NOTCH, {"turn": "0"}, "turn", "no notch"),
        (NOTCH, {"turn": "-90"}, "turn", ""),
        (NOTCH, {"to_corner": "1"}, "to corner", "or more"),
        (NOTCH, {"leg": "1/2"}, "leg", "over"),
        (NOTCH, {"kind": "lap", "to_corner": ""}, "over leg", "other angle"),
        (CHANNEL, {"turn": "0"}, "turn", "square end"),
        (CHANNEL, {"turn": "170"}, "turn", "butt"),
        (CHANNEL, {"outside_length": "10"}, "outside length", "over"),
        (ANGLE, {"turn": "nan"}, "turn", ""),
        (FAIR, {"nick": "3-1/2", "width": "6"}, "nick", "half"),
    ],
)
def test_what_cannot_be_is_said_with_what_would(ask, texts, field, better):
    with pytest.raises(LaglineError) as error:
        typed(ask, **(dict(ask.example) | texts))
    found = [f for f in error.value.findings if f.where.endswith(field)]
    assert found, [str(f) for f in error.value.findings]
    assert better in found[0].allowed


def test_what_should_not_be_is_said():
    def codes(ask, **texts):
        return {f.code for f in typed(ask, **(dict(ask.example) | texts)).findings}

    assert "cope-both" in codes(COPE, at="both", cope_depth="2-1/2")
    assert "cope-both" not in codes(COPE, at="both")
    assert "cope-shallow" in codes(COPE, receiving_fillet="3/4", cope_depth="1")
    assert "cope-tight" in codes(COPE, flange_clearance="0")
    assert "cope-cup" in codes(COPE)
    assert "cope-cup" not in codes(COPE, cope_depth="1-1/2")
    assert "fillet-missing" in codes(COPE, receiving_fillet="0")
    assert "cope-long" in codes(COPE, receiving_flange_width="20", depth="4-1/2", flange_thickness="3/8")
    assert "beam-beyond-set" in codes(COPE, flange_thickness="1-1/4")
    assert "mitre-steep" in codes(CHANNEL, turn="120", outside_length="")


def test_every_row_of_the_edge_rules_reads_by_itself():
    def made(ask):
        return typed(ask, **dict(ask.example))

    cope = made(COPE)
    rows = {r[0]: r[1] for r in cope.table("rules").rows}
    assert rows["steepest slope of a faired surface"] == "1 in 10"
    assert rows['fairing of a notch 3/16" deep, on each side of it'] == '1-7/8"'
    for words, figure, source in cope.table("rules").rows:
        assert figure, words
        assert source, words
        assert not words.startswith(("so ", "and ", "but ")), words
        assert not words.rstrip().endswith((" in", " than", " about", " more")), words
    # structural edge rules go with beams, not with frames of angle iron
    for name, there in ((ANGLE, False), (NOTCH, False), (CHANNEL, True), (FAIR, True)):
        assert ("rules" in {t.key for t in made(name).tables}) == there, name.name
    assert not any("copes" in r[0] for r in made(CHANNEL).table("rules").rows)
