"""Pictures for docs/bridges.md: two straps on a plate with a rough datum edge, one set-up that leaves a bridge."""

from __future__ import annotations

import tempfile
from pathlib import Path

from lagline.cards import draw
from lagline.planning.chain import plan
from lagline.planning.job_file import job_from_text
from lagline.planning.kit_file import generic_kit

JOB = """name = "straps"
units = "in"
layout = "quick"
[stock]
metal = "steel"
thickness = "1/4"
[[parts]]
name = "strap"
shape = "strip"
length = "48"
width = "1-1/2"
quantity = 2
[[plates]]
name = "A"
width = "54"
height = "16"
edges = "rough"
"""


def pictures() -> dict[str, str]:
    """Return the pictures as on the screen, by name."""
    made = plan(job_from_text(JOB, Path(), "job.toml")[0], generic_kit())
    leaves = next(s for s in made.steps if s.leaves_mm and s.held)
    return {
        "bridges-plate": draw.plate_svg(made, 0, paper=False),
        "bridges-setup": draw.step_svg(made, leaves.number, paper=False),
    }


def write() -> None:
    """Write the pictures for the docs."""
    from make_docs import shot

    with tempfile.TemporaryDirectory() as name:
        for title, svg in pictures().items():
            shot(svg, title, Path(name), 1000)


if __name__ == "__main__":
    write()
