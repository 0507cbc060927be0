"""Drawings that nobody here drew, from the file to a plan: placed, cut on paper, and right or refused by name."""

from __future__ import annotations

from pathlib import Path

import pytest

from lagline.planning.chain import plan
from lagline.planning.job_file import job_from_text
from lagline.planning.kit_file import generic_kit
from lagline.planning.proof import what_is_left
from lagline.records.finding import Severity
from lagline.records.plan import Plan

DRAWINGS = Path(__file__).parent.parent / "drawings"
FILES = sorted(p.name for p in DRAWINGS.iterdir() if p.suffix in (".dxf", ".svg"))
INCHES = {"AC1003_LINE_Example.dxf"}


def planned(name: str) -> Plan:
    unit = 'drawing_unit = "in"\n' if name in INCHES else ""
    text = (
        f'name = "drawing"\nunits = "mm"\n[stock]\nmetal = "steel"\nthickness = "3"\n'
        f'[[parts]]\nname = "part"\nfile = "{name}"\n{unit}[[plates]]\nname = "A"\nwidth = "800"\nheight = "600"\n'
    )
    job, found = job_from_text(text, DRAWINGS, "job.toml")
    return plan(job, generic_kit(), found)


def test_there_are_enough_of_each_kind():
    assert sum(f.endswith(".dxf") for f in FILES) >= 5
    assert sum(f.endswith(".svg") for f in FILES) >= 5


@pytest.mark.parametrize("name", FILES)
def test_a_real_drawing_is_laid_out_and_planned(name: str):
    made = planned(name)
    assert len(made.layout.placed) == 1
    assert made.steps
    stops = [f for f in made.findings if f.severity is Severity.NO_GO]
    left = what_is_left(made.job.plates, made.blanks, made.layout, made.steps, made.settings)
    # what cannot be cut is named by a finding of its own, not only by the proof
    assert left[0].right or any(f.code != "part-not-as-drawn" for f in stops), (left, stops)
    assert made.go == (not stops)
