"""The mark-out table gives back the outline it was made from."""

from __future__ import annotations

import re

import pytest

from lagline.cards.mark_out import letter, loop_lines, mark_out
from lagline.records.geometry import Arc, Line
from lagline.records.length import read_length
from tests.sample_plan import sample_plan


def test_letters_go_on_after_z():
    assert [letter(n) for n in (0, 25, 26, 27, 51, 52)] == ["A", "Z", "AA", "AB", "AZ", "BA"]


def test_corners_read_back_to_the_outline_within_a_thirty_second():
    plan = sample_plan()
    for p in plan.layout.placed:
        for loop in p.move.outline(plan.blanks[p.part].cut).loops:
            lines, _ = loop_lines(loop, "in", 0)
            if len(lines) == 1 and lines[0].startswith("circle"):
                (arc,) = loop.segments
                assert isinstance(arc, Arc)
                radius = lines[0].removeprefix("circle ").split(" about ")[0]
                assert read_length(radius, "in", "t") == pytest.approx(arc.radius, abs=0.4)
                continue
            assert len(lines) == len(loop.segments)
            for text, s in zip(lines, loop.segments, strict=True):
                x, y = re.match(r"[A-Z]+ ([^,]+), ([^,]+)", text).groups()  # type: ignore[union-attr]
                at = [read_length(v.strip(), "in", "t", signed=True) for v in (x, y)]
                assert at == pytest.approx(list(s.start), abs=0.4)
                assert isinstance(s, Line) or "then" in text


def test_every_part_on_the_plate_is_there_once():
    plan = sample_plan()
    names = [m[0] for m in mark_out(plan, 0)]
    assert names == [p.name(plan.blanks) for p in plan.layout.placed if p.plate == 0]
