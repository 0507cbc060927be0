"""Straightedges and gauge blocks against the trade's worked numbers.

The rows are the trade's own (guide distances, tilt, diagonals): derived geometry, common practice for the rest.
"""

from __future__ import annotations

import pytest

from lagline.records.errors import LaglineError
from lagline.records.finding import Severity
from lagline.records.setout import SetOut
from lagline.trade import mark_out
from lagline.trade.lead import lead_in
from tests.ask import ask

CUP_AND_KERF = {"cup_radius": "11 mm", "kerf": "1.7 mm"}


def straight(**texts: str) -> SetOut:
    return ask("guide", "straight", {"thickness": "12 mm", **texts}, units="mm")


def test_guide_on_the_part_and_on_the_drop():
    # guide on the kept part R - k/2, on the drop R + k/2 (derived)
    s = straight(**CUP_AND_KERF)
    assert s["offset_kept_mm"] == pytest.approx(10.15)
    assert s["offset_drop_mm"] == pytest.approx(11.85)


def test_a_lean_of_three_degrees():
    # 12 mm (guide and standoff) at 3 deg = 0.63 mm; through a 12 mm plate another 0.63 (derived)
    standoff = ask("guide", "straight", {"thickness": "12"}, units="mm")
    told = dict(next(n for n in standoff.numbers if n.key == "lean_at_top_mm").figure.inputs)
    rub = float(told["height of the rub over the plate [mm]"])
    s = straight(guide_height=f"{6.35 + 12 - rub} mm", tilt="3")
    assert s["lean_at_top_mm"] == pytest.approx(0.63, abs=0.005)
    assert s["lean_through_plate_mm"] == pytest.approx(0.63, abs=0.005)


def test_out_of_square_by_the_diagonals():
    # s = (d1 - d2) d/(2w): 48 x 24 in, diagonals 1/8 apart: 0.070 over 24 in; 12 x 12, 1/16 apart: 0.044 (derived)
    for a, b, apart, out in ((48, 24, 1 / 8, 0.070), (12, 12, 1 / 16, 0.044)):
        d = mark_out.diagonal(a, b)
        assert mark_out.out_of_square(a, d + apart / 2, d - apart / 2) == pytest.approx(out, abs=0.0005)
        assert mark_out.diagonals_apart(b, a, out) == pytest.approx(apart, rel=0.01)


@pytest.mark.parametrize(("a", "b", "d"), [(3, 4, 5), (6, 8, 10), (9, 12, 15)])
def test_three_four_five(a, b, d):
    # 3-4-5, 6-8-10 and 9-12-15 ft (derived)
    s = ask("guide", "straight", {"thickness": "3/8", "part_length": f"{b} ft", "part_width": f"{a} ft"})
    assert s["diagonal_mm"] == pytest.approx(d * 304.8)


def test_rectangle_is_marked_from_its_datum_edges():
    s = straight(part_length="1000", part_width="75", out_of_square="1", **CUP_AND_KERF)
    rows = {r[0]: r[1:] for r in s.table("mark_out").rows}
    assert rows["length"] == pytest.approx((1000, 1000 - 10.15, 1000 + 11.85))
    assert rows["width"] == pytest.approx((75, 75 - 10.15, 75 + 11.85))


def test_run_in_is_the_trade_s():
    # lead-in >= max(t, 1/4 in): common practice, no source
    assert straight()["run_in_mm"] == lead_in(12) == 12
    assert ask("guide", "straight", {"thickness": "1/8"})["run_in_mm"] == 6.35


def test_both_roundings_are_shown_with_what_they_cost():
    # 10.15 mm is 25.575/64 in: 26/64 = 13/32 (10.319 mm, 0.169 over); to half a millimetre 10.0 (0.150 under)
    s = straight(**CUP_AND_KERF)
    kept = s.table("rounding").rows[0]
    assert kept == ("kept part", 10.15, '13/32"', 0.169, 10.0, -0.15)


def test_blocks_are_as_wide_as_the_distances_and_say_what_they_are_for():
    # one "keep" and one "drop" block: common practice, no source; widths derived
    s = ask("guide", "blocks", {"thickness": "12", **CUP_AND_KERF}, units="mm")
    assert (s["block_keep_mm"], s["block_drop_mm"]) == pytest.approx((10.15, 11.85))
    (sheet,) = s.sheets
    heights = [max(p[1] for p in k.points) - min(p[1] for p in k.points) for k in sheet.strokes]
    assert heights == pytest.approx([10.15, 11.85])
    assert [max(p[0] for p in k.points) for k in sheet.strokes] == pytest.approx([152.4, 152.4])
    words = " ".join(t.text for t in sheet.texts)
    for word in ("KEEP", "DROP", "R 11 mm", "kerf 1.7 mm", "tip"):
        assert word in words
    assert "R 11 mm, kerf 1.7 mm" in sheet.label[0]


@pytest.mark.parametrize(
    ("texts", "says"),
    [
        ({"thickness": "0"}, "out of range"),
        ({"thickness": "nan"}, "is not a length"),
        ({"thickness": "-3"}, "out of range"),
        ({"thickness": "1e9"}, "not a length"),
        ({"thickness": "999999999"}, "kilometre"),
        ({"cup_radius": "2", "kerf": "6"}, "no more than half the kerf"),
        ({"cut_length": "500", "straightedge": "100"}, "next to nothing"),
        ({"part_length": "500"}, "the part width is needed too"),
        ({"part_length": "500", "part_width": "20", "out_of_square": "30"}, "as much as the side"),
        ({"tilt": "90"}, "out of range"),
    ],
)
def test_impossible_asks_are_refused_with_what_works(texts, says):
    with pytest.raises(LaglineError, match=says) as refused:
        straight(**texts)
    for f in refused.value.findings:
        assert f.severity is Severity.REFUSED
        assert f.allowed


def test_what_the_set_cannot_cut_is_a_no_go():
    s = ask("guide", "straight", {"thickness": "2"})
    assert any(f.severity is Severity.NO_GO for f in s.findings)
