"""What the pages on bevels and beams tell people to type is answered, and the figures they name are the program's."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from lagline.setouts.families import ask_of
from lagline.trade import bevel_guide, structural, weld_joint
from tests.setout_bench import typed

DOCS = Path(__file__).parents[2] / "docs" / "setouts"
TEXT = {name: (DOCS / f"{name}.md").read_text(encoding="utf-8") for name in ("bevel", "beam")}
COMMANDS = [c for text in TEXT.values() for c in re.findall(r"`lagline ([^`]*)`", text)]


@pytest.mark.parametrize("command", COMMANDS)
def test_what_is_shown_can_be_typed(command):
    family, name, *rest = shlex.split(command)
    texts = {rest[i][2:].replace("-", "_"): rest[i + 1] for i in range(0, len(rest), 2)}
    s = typed(ask_of(family, name), **texts)
    assert s.kind == f"{family} {name}"


def test_there_are_commands_for_every_set_out():
    said = {" ".join(c.split()[:2]) for c in COMMANDS}
    assert said == {
        "bevel cut", "bevel joint", "beam cope", "beam block", "beam access-hole", "beam notch", "beam channel-mitre",
        "beam angle-mitre", "beam fair",
    }  # fmt: skip


def test_figures_on_the_pages():
    assert "1/4 in at 30 deg and\n   7/16 in at 45 deg for a cup of 7/16 in radius" in TEXT["bevel"]
    assert bevel_guide.least_arc(7 / 16, 30) == pytest.approx(1 / 4, abs=1 / 250)
    assert bevel_guide.least_arc(7 / 16, 45) == pytest.approx(7 / 16)
    one = weld_joint.deposit("smaw")
    assert f"(stick {one.value:g} mm2, {one.low:g} to {one.high:g})" in TEXT["bevel"]
    assert "1-7/8 in each side" in TEXT["beam"]
    assert structural.fair_length(3 / 16) == pytest.approx(1.875)
    assert structural.ground_width(1 / 4) == pytest.approx(12.5)
