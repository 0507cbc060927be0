"""Beams against the Navy's rule for copes and the edge rules of structural codes, each named with edition and tag."""

from __future__ import annotations

import math

import pytest

from lagline.data import table
from lagline.records.finding import Severity
from lagline.setouts.beam_cope import COPE
from lagline.setouts.beam_fair import FAIR
from lagline.setouts.beam_hole import HOLE
from lagline.setouts.beam_mitre import ANGLE, CHANNEL
from lagline.trade import structural
from lagline.trade.structural import rule
from tests.setout_bench import typed

IN = 25.4


def cope(**texts: str):
    return typed(COPE, **(dict(COPE.example) | {"flange_clearance": "0"} | texts))


@pytest.mark.parametrize(
    ("flange", "web", "inches"),
    # NAVEDTRA 14251, Steelworker, ch. 3 (seen): half the receiving flange less half its web plus 1/16 in
    [("8", "5/16", 4 - 5 / 32 - 1 / 16), ("6", "1/4", 3 - 1 / 8 - 1 / 16), ("10", "1/2", 5 - 1 / 4 - 1 / 16)],
)
def test_cope_set_back(flange, web, inches):
    s = cope(receiving_flange_width=flange, receiving_web=web)
    assert s["setback_mm"] == pytest.approx(inches * IN)
    (n,) = [n for n in s.numbers if n.key == "setback_mm"]
    assert "NAVEDTRA 14251" in n.figure.source


def test_two_beams_of_ten_inches_by_39_pounds():
    # NAVEDTRA's figure shows W10 x 39 into W10 x 39 (seen); sizes 7.985, 0.315, 0.530 in: AISC Manual (from memory)
    size = {"flange_width": "7.985", "web": "0.315", "flange_thickness": "0.530"}
    s = cope(**size, **{f"receiving_{k}": v for k, v in size.items()}, depth="9.92", receiving_fillet="0.5")
    assert s["setback_mm"] / IN == pytest.approx(7.985 / 2 - 0.315 / 2 - 0.0625)
    assert s["cope_depth_mm"] / IN == pytest.approx(1.125)  # 1.03 up to the next eighth


def test_notches_and_their_fairing():
    # AWS D1.1:2020 7.14.8.4 (seen): to 3/16 in ground out, deeper if no more than 2 % is lost, faired at 1 in 10
    assert structural.fair_length(3 / 16 * IN) == pytest.approx(1.875 * IN)
    assert structural.ground_width(1 / 4 * IN) == pytest.approx(12.5 * IN)
    assert typed(FAIR, nick="3/16", width="8")["fair_mm"] == pytest.approx(1.875 * IN)
    shallow = typed(FAIR, nick="3/16", width="2")
    assert {f.severity for f in shallow.findings} == {Severity.NOTE}
    for width, no_go in (("12-1/2", False), ("12-3/8", True)):
        s = typed(FAIR, nick="1/4", width=width)
        assert any(f.severity is Severity.NO_GO for f in s.findings) is no_go
        assert s["least_width_mm"] == pytest.approx(12.5 * IN)
        assert any("AWS D1.1:2020 7.14.8.4" in f.allowed for f in s.findings)


@pytest.mark.parametrize(
    ("key", "inches", "publication"),
    [
        ("reentrant_radius", 1, "AWS D1.1:2015"),  # seen
        ("cope_radius", 1 / 2, "AISC"),  # seen
        ("cope_drill", 3 / 4, "AISC"),  # seen
        ("access_radius", 3 / 8, "AWS D1.1:2015"),  # seen
        ("heavy_flange", 2, "AWS D1.1:2015"),  # seen
        ("notch_ground", 3 / 16, "AWS D1.1:2020"),  # seen
        ("access_length", 1.5, "AISC 360-16"),  # from memory
        ("access_height", 3 / 4, "AISC 360-16"),  # from memory
    ],
)
def test_rules_carry_figure_edition_and_tag(key, inches, publication):
    r = rule(key)
    assert r.value == pytest.approx(inches * IN)
    assert publication in r.source
    assert r.source.endswith(("(seen)", "(from memory)"))


def test_every_rule_has_a_publication_and_a_tag():
    for row in table("structural_rules").rows:
        assert None not in row.values()
        assert row["tag"] in ("seen", "from memory")
        assert len(row["source"]) > 4


def test_cope_corners():
    # AISC guidance (seen): about 1/2 in
    assert not [f for f in cope(radius="1/2").findings if f.code == "corner-small"]
    (f,) = [f for f in cope(radius="3/8").findings if f.code == "corner-small"]
    assert f.severity is Severity.NO_GO
    assert "AISC" in f.allowed


def hole(**texts: str):
    return typed(HOLE, **(dict(HOLE.example) | texts))


def test_access_hole_least_sizes():
    # AISC 360-16 J1.6 (from memory): length 1.5 t and 1-1/2 in, height t and 3/4 in, need not exceed 2 in
    for t, long, high in ((0.3125, 1.5, 0.75), (1.0, 1.5, 1.0), (1.25, 1.875, 1.25), (3.0, 4.5, 2.0)):
        assert structural.access_length(t * IN) == pytest.approx(long * IN)
        assert structural.access_height(t * IN) == pytest.approx(high * IN)
    s = hole()
    toe = (0.5 - 0.0625) * math.tan(math.radians(30))
    assert s["hole_length_mm"] == pytest.approx((1.5 + toe) * IN)
    assert not [f for f in s.findings if f.severity is Severity.NO_GO]


@pytest.mark.parametrize(
    ("texts", "code", "publication"),
    [
        ({"radius": "1/4"}, "corner-small", "AWS D1.1:2015"),
        ({"hole_length": "1-3/8", "run_out": "60"}, "hole-short", "AISC 360-16"),
        ({"hole_height": "1/2"}, "hole-low", "AISC 360-16"),
        ({"flange_thickness": "2-1/4", "depth": "14", "hole_length": "2"}, "hole-heavy", "AWS D1.1:2015"),
    ],
)
def test_access_holes_under_the_rules_say_which(texts, code, publication):
    found = [f for f in hole(**texts).findings if f.code == code]
    assert found
    assert publication in found[0].allowed


def test_mitre_cutback():
    # NAVEDTRA 14251 (seen): cutback = width x tan of half the turn: square corner, the whole width; 60 deg, 0.577
    assert structural.mitre_cutback(6 * IN, 90) == pytest.approx(6 * IN)
    assert structural.mitre_cutback(6 * IN, 60) == pytest.approx(6 * IN * 0.57735, rel=1e-5)
    assert typed(CHANNEL, **dict(CHANNEL.example))["inside_length_mm"] == pytest.approx((60 - 12) * IN)
    assert typed(ANGLE, **dict(ANGLE.example))["inside_length_mm"] == pytest.approx((36 - 6) * IN)
