"""Pins, regions to keep out of, factory edges and grain in a job file: read as said, every fault told."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from lagline.planning.job_file import job_from_text
from lagline.records.errors import LaglineError
from lagline.records.job import Job

JOB = """
units = "in"
stock = { metal = "steel", thickness = "3/8" }
parts = [{ name = "Pad", shape = "rectangle", width = "8", height = "4", quantity = 2, grain = 0 }]
pins = [{ part = "pad", plate = "a", left = "20", bottom = "5-1/2", turn = 90 }]

[[plates]]
name = "A"
width = 40
height = 20
factory_edges = ["Bottom", "left"]
grain = 90
keep_out = [{ left = 10, bottom = -1, width = 2, height = 30 }]
"""


def read(text: str) -> Job:
    return job_from_text(text, Path(), "job.toml")[0]


def refusals(text: str) -> list[str]:
    with pytest.raises(LaglineError) as error:
        read(text)
    return [f"{f.where} {f.message}" for f in error.value.findings]


def test_a_pin_lies_where_its_left_and_bottom_are_said_to_lie():
    job = read(JOB)
    (pin,) = job.pins
    assert (pin.part, pin.plate) == ("Pad", "A")
    assert pin.move.outline(job.parts[0].outline).bounds() == pytest.approx(
        (20 * 25.4, 5.5 * 25.4, 24 * 25.4, 13.5 * 25.4)
    )


@pytest.mark.parametrize("turn", [0, 30, 200, -90])
def test_however_it_is_turned_or_turned_over(turn: int):
    text = JOB.replace("turn = 90", f"turn = {turn}, turned_over = true")
    job = read(text)
    assert job.pins[0].move.mirror
    assert job.pins[0].move.turn == pytest.approx(math.radians(turn % 360))
    assert job.pins[0].move.outline(job.parts[0].outline).bounds()[:2] == pytest.approx((20 * 25.4, 5.5 * 25.4))


def test_edges_grain_and_regions_of_a_plate():
    plate = read(JOB).plates[0]
    assert plate.factory_edges == ("bottom", "left")
    assert plate.grain_deg == 90
    assert read(JOB).parts[0].grain_deg == 0
    (region,) = plate.keep_out
    xs = [p[0] for p in region.points()]
    assert (min(xs), max(xs)) == pytest.approx((254, 304.8))


def test_every_fault_is_told_at_once():
    text = JOB.replace('part = "pad"', 'part = "pda"').replace('"5-1/2"', '"much"').replace('"Bottom"', '"under"')
    told = " | ".join(refusals(text))
    assert 'pins[1]: part "pda" is no part of this job' in told
    assert "bottom" in told
    assert "does not name edges of the plate" in told


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("pins = [{", "pins = [{ colour = 1,"),
        ("turn = 90", "turn = nan"),
        ("turn = 90", 'turn = "up"'),
        ("grain = 90", "grain = inf"),
        ('factory_edges = ["Bottom", "left"]', "factory_edges = 3"),
        ("left = 10, bottom = -1, width = 2, height = 30", "points = [[0, 0], [5, 5], [5, 0], [0, 5]]"),
        ('part = "pad", ', ""),
    ],
)
def test_what_cannot_be_used_is_refused(old: str, new: str):
    assert old in JOB
    assert refusals(JOB.replace(old, new))
