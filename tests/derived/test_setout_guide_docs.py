"""Every command on the pages of guides and holes runs, and what the pages say of it is so."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path

import pytest
from typer.testing import CliRunner

from lagline.cli.main import app

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "src" / "lagline" / "data" / "demo"
PAGES = ("guide", "hole")
LINES = [
    line.removeprefix("lagline ")
    for page in PAGES
    for block in re.findall(r"```sh\n(.*?)```", (ROOT / "docs" / "setouts" / f"{page}.md").read_text("utf-8"), re.S)
    for line in block.strip().splitlines()
]


@pytest.mark.parametrize("line", LINES)
def test_commands_of_the_pages_run(line: str, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(DEMO)  # where cheek.dxf lies, beside a kit of the yard's own
    result = CliRunner().invoke(app, [*shlex.split(line), "--json"])
    assert result.exit_code in (0, 3), result.output
    said = json.loads(result.output)
    assert said["steps"]
    assert said["set_out"] == " ".join(line.split()[:2])


def test_there_is_a_command_for_every_set_out_of_the_pages():
    told = {" ".join(line.split()[:2]) for line in LINES}
    assert told == {"guide straight", "guide blocks", "guide arm", "guide template", "guide beat",
                    "hole verdict", "hole circle"}  # fmt: skip
