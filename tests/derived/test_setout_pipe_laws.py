"""Laws of pipe set-outs: symmetry, scale, closing wraps, gaps, thickness and pace, sheets, and what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.cards.setout_picture import overlaps
from lagline.desk.setout_desk import answer, as_dict, sheet_pdf
from lagline.records.errors import LaglineError
from lagline.records.finding import Severity
from lagline.setouts.ask import read_given
from lagline.setouts.families import ask_of, asks
from tests.pipe_judge import ask, column

FEW = settings(deadline=None, max_examples=8)
NAMES = [a.name for a in asks("pipe")]
SIZES = {
    "header_diameter": "219.1", "branch_diameter": "114.3", "diameter": "114.3", "angle": "60", "radius": "171",
    "pieces": "4", "tube_width": "150", "width": "60", "height": "80",
}  # fmt: skip


def small(name: str, **more: object):
    fields = {f.name for f in ask_of("pipe", name).fields}
    return ask(name, **({k: v for k, v in SIZES.items() if k in fields} | more))


def of(severity: Severity, made) -> list[str]:
    return [f.code for f in made.findings if f.severity is severity]


def test_every_joint_is_there():
    flat = ["square", "mitre", "plate", "tube-on-pipe", "turn"]
    assert [*flat, "saddle", "lateral", "header-hole", "box-mitre", "box-notch"] == NAMES


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("units", ["in", "mm"])
def test_the_example_works_and_can_be_printed(name, units):
    made = answer("pipe", name, dict(ask_of("pipe", name).example), units="in")
    assert not of(Severity.NO_GO, made)
    flat = as_dict(made)
    assert flat["ordinates"][0]["mark"] == 1
    assert made.steps
    assert overlaps(made.picture) == ()
    for sheet in made.sheets:
        assert overlaps(sheet, full_scale=True) == ()
        assert sheet.label
    if units == "mm" and name in ("saddle", "header-hole"):
        assert sheet_pdf(made, units, "a4")[:5] == b"%PDF-"


@given(st.sampled_from(NAMES), st.floats(25, 90), st.sampled_from(["mm", "in"]), st.floats(0.3, 4))
@settings(deadline=None, max_examples=25)
def test_words_never_lie_on_each_other(name, lean, units, scale):
    fields = {f.name for f in ask_of("pipe", name).fields}
    texts = {k: v for k, v in SIZES.items() if k in fields} | {"angle": f"{lean:.1f}"}
    texts = {
        k: f"{float(v) * scale:.2f} mm" if k not in ("angle", "pieces") else v for k, v in texts.items() if k in fields
    }
    if name == "box-notch":
        texts["header_diameter"] = f"{120 * scale:.2f} mm"
    made = answer("pipe", name, texts, units=units)
    assert overlaps(made.picture) == ()
    for sheet in made.sheets:
        assert overlaps(sheet, full_scale=True) == ()


@FEW
@given(st.floats(20, 700), st.floats(0, 2))
def test_the_wrap_is_as_long_as_the_pipe_is_round(d, paper):
    d, paper = round(d, 3), round(paper, 3)
    for name in ("square", "mitre", "plate", "turn"):
        made = small(name, diameter=d, radius=d, paper_thickness=paper) if name == "turn" else small(
            name, diameter=d, paper_thickness=paper
        )  # fmt: skip
        assert made["circumference_mm"] == pytest.approx(math.pi * d)
        assert made["wrap_length_mm"] == pytest.approx(math.pi * (d + paper))
        along = column(made, "along_mm")
        assert along[0] == 0
        assert np.diff(along) == pytest.approx(made["wrap_length_mm"] / 16, abs=1e-3)
        (left, _, right, _) = made.sheets[0].areas[0].points[0] + made.sheets[0].areas[0].points[1]
        assert right - left == pytest.approx(made["wrap_length_mm"])


@FEW
@given(st.floats(0.1, 0.99), st.floats(20, 160), st.floats(0, 0.9))
def test_symmetry_of_a_saddle(ratio, lean, move):
    header, lean = 300.0, round(lean, 1)
    branch = round(ratio * header, 2)
    offset = round(move * (header - branch) / 2, 3)

    def line(**more):
        made = ask("saddle", header_diameter=header, branch_diameter=branch, **more)
        return column(made, "ordinate_mm")

    square = line(angle=90)
    assert square == pytest.approx(np.roll(square[::-1], 1), abs=2e-3)  # left and right of the top line
    assert square == pytest.approx(np.roll(square, 8), abs=2e-3)  # either way along the header
    leaning = line(angle=lean, offset=offset)
    assert leaning == pytest.approx(np.roll(line(angle=round(180 - lean, 1), offset=offset)[::-1], 9), abs=5e-3)
    other = line(angle=lean, offset=-offset)
    assert leaning == pytest.approx(np.roll(other[::-1], 1), abs=5e-3)
    assert leaning.min() >= -1e-9  # measured from the highest point


@FEW
@given(st.sampled_from(["saddle", "lateral", "plate", "mitre"]), st.floats(0.2, 5))
def test_twice_the_size_twice_the_ordinates(name, k):
    one, other = small(name), small(name, **{f: float(v) * k for f, v in SIZES.items() if f.endswith("diameter")
                                            and f in {x.name for x in ask_of("pipe", name).fields}})  # fmt: skip
    assert column(other, "ordinate_mm") == pytest.approx(k * column(one, "ordinate_mm"), abs=1e-3)


@pytest.mark.parametrize("name", ["saddle", "lateral", "plate", "mitre", "turn", "header-hole"])
def test_more_marks_are_the_same_line(name):
    key = "along_mm" if name == "header-hole" else "ordinate_mm"
    finest = {"16": 2, "8": 4, "32": 1}
    all32 = column(small(name, marks="32"), key)
    for marks, step in finest.items():
        assert column(small(name, marks=marks), key) == pytest.approx(all32[::step], abs=1e-6)
    assert column(small(name, marks="24"), key)[::3] == pytest.approx(column(small(name, marks="8"), key), abs=1e-6)
    assert column(small(name, marks="12"), key) == pytest.approx(column(small(name, marks="24"), key)[::2], abs=1e-6)


@FEW
@given(st.floats(1, 20), st.floats(20, 90), st.sampled_from(["mitre", "plate"]))
def test_a_square_torch_never_lets_flat_ends_foul(wall, lean, name):
    made = small(name, wall=round(wall, 2), angle=round(lean, 1), torch="radial")
    outside, inside = column(made, "gap_outside_mm", "fits"), column(made, "gap_inside_mm", "fits")
    assert outside.min() >= -1e-9
    assert inside.min() >= -1e-9
    assert np.minimum(outside, inside) == pytest.approx(0, abs=1e-9)  # one edge touches everywhere
    assert column(made, "true_thickness_mm") == pytest.approx(round(wall, 2), abs=1e-4)
    fixed = small(name, wall=round(wall, 2), angle=round(lean, 1), torch="fixed")
    bevel = np.radians(column(fixed, "bevel_deg"))
    assert column(fixed, "true_thickness_mm") == pytest.approx(round(wall, 2) / np.cos(bevel), abs=1e-3)
    assert column(fixed, "gap_outside_mm", "fits") == pytest.approx(0)


def test_what_a_square_torch_leaves_on_a_saddle():
    made = small("saddle", angle=90, wall=8)
    assert column(made, "gap_outside_mm", "fits").min() >= 0  # square branch: the inside meets, the outside opens
    assert column(made, "gap_inside_mm", "fits") == pytest.approx(0)
    leaning = small("saddle", angle=60, wall=8)
    foul = column(leaning, "gap_outside_mm", "fits")
    assert foul[8] == pytest.approx(-8 / math.tan(math.radians(60)), abs=1e-3)  # crotch: wall over the tangent
    assert "outside-fouls" in of(Severity.CAUTION, leaning)
    assert "outside-fouls" not in of(Severity.CAUTION, small("saddle", angle=60, wall=8, torch="fixed"))


def test_beyond_a_right_angle_the_top_line_is_in_the_crotch():
    assert "mark 9 is in the crotch" in small("lateral", angle="60").steps[0]
    assert "mark 1 is in the crotch" in small("lateral", angle="120").steps[0]
    assert column(small("lateral", angle="120"), "joint_angle_deg", "fits")[0] == pytest.approx(60)


def test_a_branch_set_in_to_the_bore_is_that_much_longer():
    outer = small("saddle", angle=90, contact="set-in", wall=6)
    inner = small("saddle", angle=90, contact="set-in", wall=6, header_wall=8.2)
    assert outer["header_to_base_mm"] - inner["header_to_base_mm"] == pytest.approx(8.2)


def test_the_torch_slows_where_it_goes_through_more():
    fixed = small("mitre", wall=6.02, angle=90)
    pace, thick = column(fixed, "pace_mm_s"), column(fixed, "true_thickness_mm")
    assert pace[int(np.argmax(thick))] == pace.min()
    assert pace.min() == pytest.approx(fixed["pace_slowest_mm_s"], abs=1e-3)
    assert pace.max() > pace.min()
    assert fixed["true_thickness_most_mm"] == pytest.approx(6.02 * math.sqrt(2), abs=1e-3)
    radial = small("mitre", wall=6.02, angle=90, torch="radial")
    assert np.ptp(column(radial, "pace_mm_s")) == 0
    length = radial["cut_length_mm"]
    assert radial["arc_time_s"] == pytest.approx(length / radial["pace_slowest_mm_s"], rel=1e-3)
    bare = small("mitre", angle=90)
    assert not [n for n in bare.numbers if n.key.startswith("pace")]


def test_the_cut_on_the_sheet_passes_through_every_mark():
    for name in ("saddle", "mitre", "box-notch", "turn"):
        more = {"header_diameter": "120"} if name == "box-notch" else {}
        made = small(name, **more)
        line = np.asarray(next(s for s in made.sheets[0].strokes if s.kind == "cut").points)
        for x, y in zip(column(made, "along_mm"), column(made, "ordinate_mm"), strict=True):
            near = line[int(np.argmin(np.abs(line[:, 0] - x)))]
            assert near == pytest.approx((x, y), abs=2e-3)
        assert np.hypot(*np.diff(line, axis=0).T).max() < 3  # dense enough to look smooth
        assert line[0][1] == pytest.approx(line[-1][1], abs=1e-6)  # meets itself when wrapped


def test_set_in_radial_hole_warns_that_it_is_tight_inside():
    assert "hole-tight-inside" in of(Severity.CAUTION, small("header-hole", contact="set-in", torch="radial",
                                                            header_wall="8", angle="90"))  # fmt: skip
    assert "hole-tight-inside" not in of(Severity.CAUTION, small("header-hole", contact="set-in", header_wall="8"))


def test_too_flat_a_torch_is_a_no_go():
    assert "torch-too-flat" in of(Severity.NO_GO, small("saddle", angle="25", wall="6", torch="fixed"))
    assert "out-of-range" in of(Severity.CAUTION, small("saddle", angle="25", wall="6"))


REFUSED = [
    ("saddle", {"branch_diameter": "250"}, "larger than", "219.1 mm"),
    ("saddle", {"offset": "200"}, "misses", "52.4 mm"),
    ("saddle", {"offset": "60"}, "runs past", "52.4 mm"),
    ("saddle", {"offset": "-60"}, "runs past", "52.4 mm"),
    ("saddle", {"angle": "10"}, "crotch", "15 to 165"),
    ("saddle", {"angle": "170"}, "crotch", "15 to 165"),
    ("saddle", {"wall": "60"}, "no bore", "57"),
    ("saddle", {"header_wall": "8"}, "does not go into", "set-in"),
    ("saddle", {"marks": "10"}, "not a choice", "16"),
    ("saddle", {"marks": "nan"}, "not a choice", "16"),
    ("saddle", {"branch_diameter": "nan"}, "not a length", "3/8"),
    ("saddle", {"branch_diameter": "0"}, "out of range", "6 mm"),
    ("saddle", {"branch_diameter": "-4"}, "out of range", "6 mm"),
    ("saddle", {"branch_diameter": "1e9"}, "", ""),
    ("saddle", {"branch_diameter": "900000"}, "out of range", "5000 mm"),
    ("saddle", {"branch_diameter": "4 kg"}, "unit", "mm"),
    ("saddle", {"angle": "inf"}, "not an angle", "angle"),
    ("saddle", {"contact": "stuck"}, "not a choice", "set-on"),
    ("lateral", {"angle": ""}, "needed", "angle"),
    ("header-hole", {"header_wall": "60"}, "bore", "hole"),
    ("header-hole", {"branch_diameter": "230"}, "larger than", "219.1"),
    ("header-hole", {"branch_wall": "58"}, "no bore", "57"),
    ("turn", {"pieces": "1"}, "no turn", "2 or more"),
    ("turn", {"pieces": "0"}, "no turn", "2 or more"),
    ("turn", {"pieces": "2.5"}, "whole number", "pieces"),
    ("turn", {"radius": "50"}, "half the diameter", "57.1"),
    ("turn", {"angle": "270", "pieces": "2"}, "knife edge", "4 pieces"),
    ("mitre", {"angle": "150"}, "half the turn", "1 to 120"),
    ("plate", {"angle": "10"}, "neither torch", "15 to 90"),
    ("tube-on-pipe", {"tube_width": "100"}, "overhangs", "100 mm"),
    ("box-mitre", {"wall": "31"}, "no bore", "30"),
    ("box-mitre", {"corner_radius": "31"}, "does not fit", "30"),
    ("box-notch", {"header_diameter": ""}, "needed", "outside"),
    ("box-notch", {"header_diameter": "50"}, "runs past", "50 mm"),
    ("box-notch", {"header_diameter": "120", "offset": "95"}, "misses", "30 mm"),
    ("box-notch", {"over": "box", "header_width": "80", "header_corner": "41"}, "do not fit", "40"),
    ("square", {"diameter": "two"}, "not a length", "3/8"),
    ("square", {"wide": "2"}, "nothing called", "diameter"),
]


@pytest.mark.parametrize(("name", "texts", "says", "instead"), REFUSED)
def test_the_impossible_is_refused_with_what_would_work(name, texts, says, instead):
    with pytest.raises(LaglineError) as caught:
        small(name, **texts)
    told = caught.value.findings
    assert all(f.severity is Severity.REFUSED and f.allowed and "pipe" in f.where for f in told)
    assert any(says in f.message and instead in f.allowed for f in told), told


def test_what_is_offered_instead_works():
    assert small("saddle", branch_diameter="219.1")  # equal tee
    assert small("saddle", offset="52.4")
    assert small("saddle", angle="15")
    assert small("turn", radius="57.15")["end_throat_mm"] == pytest.approx(0)
    assert small("turn", angle="270", pieces="4")
    assert small("mitre", angle="120")


def test_all_faults_are_told_at_once():
    with pytest.raises(LaglineError) as caught:
        small("saddle", angle="5", wall="80")
    assert len(caught.value.findings) == 2


def test_make_works_without_the_desk():
    plain = ask_of("pipe", "saddle")
    texts = {"header_diameter": "323.8mm", "branch_diameter": "202.74mm", "angle": "90", "marks": "16"}
    made = plain.make(read_given(plain, texts))
    assert made["cutback_mm"] == pytest.approx(35.663, abs=5e-4)
    assert made == plain.make(read_given(plain, texts))
