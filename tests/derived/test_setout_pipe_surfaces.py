"""Every pipe end and hole against roots searched along the pipe's own lines, on surfaces written down separately."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from tests.pipe_judge import Frame, ask, box_sign, column, highest, round_box, round_sign, walk

CLOSE = 0.01
FEW = settings(deadline=None, max_examples=8)
MARKS = st.sampled_from(["8", "12", "16", "24", "32"])


@st.composite
def branches(draw):
    header = draw(st.floats(40, 900))
    branch = header * draw(st.floats(0.1, 0.999))
    offset = draw(st.sampled_from([0.0, 1.0, -1.0])) * draw(st.floats(0, 1)) * (header - branch) / 2
    wall = draw(st.one_of(st.none(), st.floats(0.02, 0.4).map(lambda k: k * branch / 2)))
    assume(branch > 8 and (wall is None or 0.5 < wall < branch / 2 - 0.2))
    return {
        "header": round(header, 3), "branch": round(branch, 3), "wall": wall and round(wall, 3),
        "offset": round(offset * 0.999, 3), "angle": round(draw(st.floats(15, 165)), 2), "marks": draw(MARKS),
        "contact": draw(st.sampled_from(["set-on", "set-in"])), "torch": draw(st.sampled_from(["radial", "fixed"])),
    }  # fmt: skip


@FEW
@given(branches())
def test_the_branch_end_lies_on_the_header(b):
    wall = {"wall": b["wall"]} if b["wall"] else {}
    made = ask("saddle", header_diameter=b["header"], branch_diameter=b["branch"], angle=b["angle"], offset=b["offset"],
               contact=b["contact"], torch=b["torch"], marks=b["marks"], **wall)  # fmt: skip
    frame, sign, r = Frame(b["angle"], b["offset"]), round_sign(b["header"] / 2), b["branch"] / 2
    laid = r - b["wall"] if b["wall"] and b["contact"] == "set-on" and b["torch"] == "radial" else r

    def w(t: float, radius: float = laid) -> float:
        return frame.meets(radius * math.cos(t), radius * math.sin(t), sign)

    top = highest(w)
    assert made["header_to_base_mm"] == pytest.approx(top, abs=CLOSE)
    for a, ordinate, end in zip(
        np.radians(column(made, "angle_deg")), column(made, "ordinate_mm"), column(made, "from_end_mm"), strict=True
    ):
        assert ordinate == pytest.approx(top - w(a), abs=CLOSE)
        assert end == pytest.approx(made["base_from_end_mm"] - ordinate, abs=1e-3)
    if b["wall"] and b["torch"] == "fixed":
        for a, through in zip(np.radians(column(made, "angle_deg")), column(made, "true_thickness_mm"), strict=True):
            inside = w(a, r - b["wall"])
            assert through == pytest.approx(math.hypot(b["wall"], inside - w(a)), abs=CLOSE)


@FEW
@given(branches())
def test_joint_angles_are_those_between_the_two_surfaces(b):
    made = ask("saddle", header_diameter=b["header"], branch_diameter=b["branch"], angle=b["angle"], offset=b["offset"],
               marks=b["marks"])  # fmt: skip
    frame, r = Frame(b["angle"], b["offset"]), b["branch"] / 2
    for a, got in zip(np.radians(column(made, "angle_deg")), column(made, "joint_angle_deg", "fits"), strict=True):
        x, y = r * math.cos(a), r * math.sin(a)
        at = frame.line(x, y) + frame.meets(x, y, round_sign(b["header"] / 2)) * frame.d
        out_branch = math.cos(a) * frame.top + math.sin(a) * frame.right
        out_header = np.array([0.0, at[1], at[2]]) / math.hypot(at[1], at[2])
        between = math.degrees(math.acos(max(-1.0, min(1.0, float(out_branch @ out_header)))))
        assert got == pytest.approx(180 - between, abs=0.02)


@FEW
@given(branches(), st.floats(0.02, 0.3))
def test_the_hole_is_where_the_branch_comes_through(b, share):
    header, r = b["header"] / 2, b["branch"] / 2
    wall = round(share * (header - r - abs(b["offset"])), 3)
    assume(wall > 0.4)
    made = ask("header-hole", header_diameter=b["header"], branch_diameter=b["branch"], angle=b["angle"],
               offset=b["offset"], marks=b["marks"], header_wall=wall, contact="set-in")  # fmt: skip
    frame = Frame(b["angle"], b["offset"])
    columns = [column(made, k) for k in ("angle_deg", "along_mm", "around_mm", "true_thickness_mm", "bevel_deg")]
    for a, along, around, through, bevel in zip(*columns, strict=True):
        turn = around / header
        at = np.array([along, header * math.sin(turn), header * math.cos(turn)])
        apart = at - frame.foot
        across = apart - (apart @ frame.d) * frame.d
        assert float(np.linalg.norm(across)) == pytest.approx(r, abs=CLOSE)
        assert float(across @ frame.top) == pytest.approx(r * math.cos(math.radians(a)), abs=CLOSE)
        assert float(across @ frame.right) == pytest.approx(r * math.sin(math.radians(a)), abs=CLOSE)
        inner = round_sign(header - wall)
        deep = brentq(lambda s, at=at, inner=inner: inner(at - s * frame.d), 0, at[2] / frame.d[2])
        assert through == pytest.approx(deep, abs=CLOSE)
        normal = np.array([0.0, math.sin(turn), math.cos(turn)])
        assert bevel == pytest.approx(math.degrees(math.acos(min(1.0, float(normal @ frame.d)))), abs=0.01)


@FEW
@given(st.floats(20, 800), st.floats(0.02, 0.5), st.floats(2, 118), MARKS, st.sampled_from(["fixed", "radial"]))
def test_a_mitre_lies_in_the_plane_that_halves_the_turn(d, share, turn, marks, torch):
    d, wall, turn = round(d, 3), round(min(max(share * d / 2, 0.5), 90.0), 3), round(turn, 2)
    assume(wall < d / 2 - 0.2)
    made = ask("mitre", diameter=d, wall=wall, angle=turn, marks=marks, torch=torch)
    first = np.array([0.0, 0.0, 1.0])  # the pipe runs this way, then turns away from its top line
    then = np.array([-math.sin(math.radians(turn)), 0.0, math.cos(math.radians(turn))])
    normal = first + then

    def reach(radius: float, a: float) -> float:
        foot = np.array([radius * math.cos(a), radius * math.sin(a), 0.0])
        return float(brentq(lambda s: float((foot + s * first) @ normal), -1e5, 1e5, xtol=1e-10))

    for a, ordinate, through in zip(
        np.radians(column(made, "angle_deg")), column(made, "ordinate_mm"), column(made, "true_thickness_mm"),
        strict=True,
    ):  # fmt: skip
        outside, inside = reach(d / 2, a), reach(d / 2 - wall, a)
        assert ordinate == pytest.approx(outside if torch == "fixed" else min(outside, inside), abs=CLOSE)
        lean = math.hypot(wall, outside - inside)
        assert through == pytest.approx(lean if torch == "fixed" else wall, abs=CLOSE)


@FEW
@given(st.floats(20, 800), st.floats(15, 90), MARKS, st.sampled_from(["plate", "tube-on-pipe"]))
def test_an_end_on_a_flat_face_lies_on_it(d, lean, marks, name):
    d, lean = round(d, 3), round(lean, 2)
    wide = {"tube_width": round(1.2 * d, 3)} if name == "tube-on-pipe" else {}
    made = ask(name, diameter=d, angle=lean, marks=marks, **wide)
    frame = Frame(lean, 0.0)
    foot = 0.0
    for a, ordinate in zip(np.radians(column(made, "angle_deg")), column(made, "ordinate_mm"), strict=True):
        p = frame.line(d / 2 * math.cos(a), d / 2 * math.sin(a))
        up = brentq(lambda s, p=p: (p + s * frame.d)[2], -1e5, 1e5, xtol=1e-10)
        assert ordinate == pytest.approx(foot - up, abs=CLOSE)


@st.composite
def tubes(draw):
    w, h = draw(st.floats(20, 300)), draw(st.floats(20, 300))
    wall = draw(st.floats(0.6, 0.2 * min(w, h)))
    corner = draw(st.sampled_from([0.0, 0.5, 1.5, 2.5])) * wall
    assume(corner < min(w, h) / 2 - 1 and wall < min(w, h) / 2 - 1)
    return round(w, 3), round(h, 3), round(wall, 3), round(corner, 3)


@FEW
@given(tubes(), st.floats(1.05, 2.5), st.floats(15, 165), st.floats(-1, 1), st.booleans(), st.sampled_from([2, 4, 6]))
def test_a_coped_tube_lies_on_its_header(tube, size, lean, move, over_box, parts):
    w, h, wall, corner = tube
    across, lean = round(w * size + 0.01, 3), round(lean, 2)
    offset = round(move * (across - w) / 2 * 0.98, 3)
    if over_box:
        rc = round(0.1 * across, 3)
        over = {"over": "box", "header_width": across, "header_depth": 50.0, "header_corner": min(rc, 25.0)}
        sign = box_sign(across, 50.0, min(rc, 25.0))
    else:
        over, sign = {"over": "round", "header_diameter": across}, round_sign(across / 2)
    made = ask("box-notch", width=w, height=h, wall=wall, corner_radius=corner, angle=lean, offset=offset,
               torch="fixed", parts=parts, paper_thickness="0", **over)  # fmt: skip
    frame, outline = Frame(lean, offset), round_box(w, h, corner)
    places = [walk(outline, (h / 2, 0.0), a) for a in column(made, "along_mm")]
    up = [frame.meets(x, y, sign) for x, y in places]
    for ordinate, u in zip(column(made, "ordinate_mm"), up, strict=True):
        assert ordinate == pytest.approx(made["header_to_base_mm"] - u, abs=CLOSE)
    assert made["header_to_base_mm"] >= max(up) - CLOSE


@FEW
@given(tubes(), st.floats(1, 118))
def test_a_mitred_tube_lies_in_the_plane(tube, turn):
    w, h, wall, corner = tube
    turn = round(turn, 2)
    made = ask("box-mitre", width=w, height=h, wall=wall, corner_radius=corner, angle=turn, paper_thickness="0")
    outline = round_box(w, h, corner)
    assert made["circumference_mm"] == pytest.approx(outline.length, abs=CLOSE)
    for along, ordinate in zip(column(made, "along_mm"), column(made, "ordinate_mm"), strict=True):
        x, _ = walk(outline, (h / 2, 0.0), along)
        assert ordinate == pytest.approx(x * math.tan(math.radians(turn / 2)), abs=CLOSE)
    assert made["cutback_mm"] == pytest.approx(h * math.tan(math.radians(turn / 2)), abs=CLOSE)


@FEW
@given(st.floats(20, 600), st.floats(0.5, 6), st.floats(5, 270), st.integers(2, 9), st.floats(0, 200))
def test_a_turn_closes(d, ratio, turn, n, tangent):
    d, turn, tangent = round(d, 3), round(turn, 2), round(tangent, 3)
    big = round(ratio * d + 0.01, 3)
    assume(turn / (2 * (n - 1)) <= 60)
    made = ask("turn", diameter=d, radius=big, angle=turn, pieces=n, tangent=tangent, marks="16")
    centres, firsts, lasts = (column(made, k, "pieces") for k in ("centre_mm", "first_deg", "last_deg"))
    assert float(np.sum(firsts) + np.sum(lasts)) == pytest.approx(turn, abs=1e-3)  # each weld turns by both its cuts
    at, heading = np.zeros(3), 0.0
    across = np.array([0.0, 1.0, 0.0])
    ordinates, angles = column(made, "ordinate_mm"), np.radians(column(made, "angle_deg"))
    previous = None
    for i in range(n):
        along = np.array([-math.sin(heading), 0.0, math.cos(heading)])
        heel = np.array([math.cos(heading), 0.0, math.sin(heading)])

        def ring(where, along, heel, sense):
            return np.asarray(
                [where + d / 2 * (math.cos(a) * heel + math.sin(a) * across) + sense * o * along
                 for a, o in zip(angles, ordinates, strict=True)]
            )  # fmt: skip

        if previous is not None:
            assert np.abs(ring(at, along, heel, -1) - previous).max() < CLOSE  # the two cut faces are one
        at = at + centres[i] * along
        previous = ring(at, along, heel, 1)
        heading += math.radians(lasts[i] + (firsts[i + 1] if i < n - 1 else 0.0))
    t = math.radians(turn)
    last = np.array([-math.sin(t), 0.0, math.cos(t)])
    end = np.array([big * (math.cos(t) - 1), 0.0, tangent + big * math.sin(t)]) + tangent * last
    assert np.abs(at - end).max() < CLOSE
    for k, side in (("throat_mm", -1), ("heel_mm", 1)):
        for i, got in enumerate(column(made, k, "pieces")):
            cuts = math.tan(math.radians(firsts[i])) + math.tan(math.radians(lasts[i]))
            assert got == pytest.approx(centres[i] + side * d / 2 * cuts, abs=CLOSE)


MANY = settings(deadline=None, max_examples=250)


@pytest.mark.deep
@MANY
@given(branches())
def test_many_branch_ends(b):
    test_the_branch_end_lies_on_the_header.hypothesis.inner_test(b)


@pytest.mark.deep
@MANY
@given(branches(), st.floats(0.02, 0.3))
def test_many_holes(b, share):
    test_the_hole_is_where_the_branch_comes_through.hypothesis.inner_test(b, share)


@pytest.mark.deep
@MANY
@given(tubes(), st.floats(1.05, 2.5), st.floats(15, 165), st.floats(-1, 1), st.booleans(), st.sampled_from([2, 4, 6]))
def test_many_coped_tubes(tube, size, lean, move, over_box, parts):
    test_a_coped_tube_lies_on_its_header.hypothesis.inner_test(tube, size, lean, move, over_box, parts)
