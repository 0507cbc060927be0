"""The page's example of pins, regions, edges and grain reads clean, and is laid out as the page says."""

from __future__ import annotations

import textwrap
from pathlib import Path

import pytest

from lagline.planning.choose_layout import laid_out
from lagline.planning.intake import intake
from lagline.planning.job_file import job_from_text
from lagline.planning.kit_file import generic_kit
from lagline.planning.pins_held import held, left_bottom
from lagline.planning.settings import choose_settings

PAGE = (Path(__file__).parents[2] / "docs" / "job-file.md").read_text()


def example() -> str:
    """The indented job of the section."""
    section = PAGE.split("## Where parts lie\n")[1].split("\n## ")[0]
    lines = [line for line in section.splitlines() if line.startswith("    ") or not line.strip()]
    text = textwrap.dedent("\n".join(lines))
    return text[text.index('name = "Winch bed"') :]


def test_the_example_reads_without_a_word() -> None:
    job, notes = job_from_text(example(), Path(), "job.toml")
    assert notes == ()
    assert (job.layout, job.seed) == ("guided", 2)
    (plate,), (part,), (pin,) = job.plates, job.parts, job.pins
    assert plate.factory_edges == ("bottom", "left")
    assert len(plate.keep_out) == 2
    assert (plate.grain_deg, part.grain_deg) == (0, 0)
    assert left_bottom(part, pin.move) == pytest.approx((20 * 25.4, 6.5 * 25.4))


def test_it_is_laid_out_as_the_page_says() -> None:
    job, _ = job_from_text(example(), Path(), "job.toml")
    kit, (blanks, _) = generic_kit(), intake(job)
    settings, _ = choose_settings(blanks, kit, None)
    made = laid_out(job, kit, blanks, settings, job.layout)
    assert not made.layout.unplaced
    assert list(held(job, blanks, made.layout).values()) == [0]
    boxes = [p.move.outline(blanks[0].cut).bounds() for p in made.layout.placed]
    for left, bottom, right, top in boxes:
        assert right - left == pytest.approx(12 * 25.4)  # along the grain
        assert right <= 50 * 25.4 + 1e-3 or bottom >= 6 * 25.4 - 1e-3 or left >= 60 * 25.4
        assert top > bottom
