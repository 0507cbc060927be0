"""The pages on job and kit files: their examples read clean, and they name every field and shape there is."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from lagline.planning.intake import intake
from lagline.planning.job_file import job_from_text
from lagline.planning.kit_file import generic_kit, kit_from_text
from lagline.records.errors import LaglineError
from lagline.records.job import EdgeUse
from lagline.shapes.named import SHAPES
from lagline.trade.allowance import grinding_allowance

DOCS = Path(__file__).parents[2] / "docs"
JOB, KIT = (DOCS / "job-file.md").read_text(), (DOCS / "kit-file.md").read_text()


def example(page: str) -> str:
    (text,) = re.findall(r"```toml\n(.*?)```", page, re.DOTALL)
    return text


def allowed(read, text: str) -> set[str]:
    """The fields a table has, from what is said to an unknown one."""
    with pytest.raises(LaglineError) as e:
        read(text)
    listed = [f.allowed.split("one of: ")[1] for f in e.value.findings if f.where.endswith("qqq")]
    return {w for line in listed for w in line.split(", ")}


def test_examples_read_without_a_word():
    job, notes = job_from_text(example(JOB), DOCS, "job.toml")
    assert [p.quantity for p in job.parts] == [6, 1, 1]
    assert notes == ()
    assert len(intake(job)[0]) == 3
    kit, notes = kit_from_text(example(KIT), "kit.toml")
    assert kit.power.rated_current_a == 85
    assert notes == ()


def test_every_job_field_is_on_the_page():
    def read(text):
        job_from_text(text, DOCS, "job.toml")

    stock = '[stock]\nmetal = "steel"\nthickness = 10\n'
    part = '[[parts]]\nshape = "disc"\ndiameter = 9\n'
    plate = "[[plates]]\nwidth = 90\nheight = 90\n"
    fields = allowed(read, "qqq = 1\n")
    fields |= allowed(read, stock + "qqq = 1\n")
    fields |= allowed(read, stock + part + "qqq = 1\n" + plate + "qqq = 1\n")
    fields |= allowed(
        read, stock + part + plate + "holes = [{ left = 1, bottom = 1, width = 2, height = 2, qqq = 1 }]\n"
    )
    fields |= {p.name for s in SHAPES.values() for p in s.params} | set(SHAPES)
    fields |= {"file", "drawing_unit", "outline", "each", "mirror", "turns", "diagonals"}
    assert len(fields) > 60
    assert {f for f in fields if not re.search(rf"`[^`]*\b{f}\b[^`]*`", JOB)} == set()
    for use in EdgeUse:
        g = grinding_allowance(use)
        assert f'| `"{use}"` | {g.value:g} mm | {g.low:g} to {g.high:g} mm |' in JOB


def test_every_kit_field_is_on_the_page():
    def read(text):
        kit_from_text(text, "kit.toml")

    tables = ("power", "torch", "guides", "air", "operator", "bench", "bench.metal_per_kg")
    fields = allowed(read, "qqq = 1\n" + "".join(f"[{t}]\nqqq = 1\n" for t in tables))
    fields |= allowed(read, '[[tips]]\nname = "a"\nbore = 1\nmax_current_a = 30\nqqq = 1\n')
    assert len(fields) > 55
    assert {f for f in fields if not re.search(rf"`[^`]*\b{f}\b[^`]*`", KIT)} == set()


def test_the_page_gives_the_generic_values():
    k = generic_kit()
    for field, shown in (
        ("rated_current_a", f"{k.power.rated_current_a:g}"),
        ("supply_v", f"{k.power.supply_v:g}"),
        ("standoff", "3/32 in, 1/16 to 1/8"),
        ("lead_angle_deg", f"{k.torch.lead_angle_deg.value:g}, {k.torch.lead_angle_deg.low:g} to 15"),
        ("pierce_s", f"{k.bench.pierce_s.value:g}, {k.bench.pierce_s.low:g} to {k.bench.pierce_s.high:g}"),
        ("currency", k.bench.currency),
        ("labour_per_h", f"{k.bench.labour_per_h.value:g}, {k.bench.labour_per_h.low:g} to 110"),
    ):
        (row,) = re.findall(rf"^\| `{field}` .*$", KIT, re.MULTILINE)
        assert row.rstrip(" |").endswith(shown), row
    assert k.torch.standoff_mm.value == pytest.approx(25.4 * 3 / 32)
