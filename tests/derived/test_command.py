"""The command as a person types it: outputs, statuses, and every bad input answered with findings."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from lagline.data.demo_files import demo_files
from lagline.desk.demo import write_demo

SMALL = """
name = "one plate"
units = "mm"
[stock]
metal = "steel"
thickness = "6"
[[parts]]
name = "pad"
shape = "rectangle"
width = "120"
height = "80"
[[plates]]
name = "A"
width = "600"
height = "400"
"""


def lagline(*words: str, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    command = Path(sys.executable).with_name("lagline")
    return subprocess.run([str(command), *words], capture_output=True, text=True, cwd=cwd, timeout=120)


def job_file(folder: Path, text: str = SMALL, name: str = "job.toml") -> Path:
    path = folder / name
    path.write_text(text)
    return path


def test_help_names_every_verb():
    done = lagline("--help")
    assert done.returncode == 0
    for verb in ("plan", "demo", "serve", "start", "read", "shapes", "formula", "length"):
        assert f"  {verb}" in done.stdout


def test_help_loads_nothing_slow():
    slow = ["numba", "shapely", "ezdxf", "fastapi", "numpy"]
    code = f"import sys, lagline.cli.main; print([m for m in {slow} if m in sys.modules])"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True).stdout.strip() == "[]"


def test_plan_writes_its_files_and_ends_with_0(tmp_path: Path):
    done = lagline("plan", str(job_file(tmp_path)), "--out", str(tmp_path / "out"))
    assert done.returncode == 0, done.stdout + done.stderr
    assert "GO" in done.stdout
    assert {p.name for p in (tmp_path / "out").iterdir()} == {"plan.json", "bench-card.pdf", "plate.svg", "plate.dxf"}
    assert (tmp_path / "out" / "bench-card.pdf").read_bytes().startswith(b"%PDF")


def test_plan_json_is_one_object_whose_keys_carry_units(tmp_path: Path):
    done = lagline("plan", str(job_file(tmp_path)), "--json")
    plan = json.loads(done.stdout)
    assert plan["settings"][0]["pace_mm_s"]["value"] > 0
    assert plan["version"]


def test_a_no_go_ends_with_3_and_is_named(tmp_path: Path):
    done = lagline("plan", str(job_file(tmp_path, SMALL.replace('thickness = "6"', 'thickness = "60"'))))
    assert done.returncode == 3
    assert "NO-GO" in done.stdout
    assert "thick" in done.stdout


BAD = {
    "empty": ("", "parts"),
    "not toml": ("name = = 3", "line 1"),
    "zero thickness": (SMALL.replace('thickness = "6"', 'thickness = "0"'), "thickness"),
    "negative width": (SMALL.replace('width = "120"', 'width = "-120"'), "width"),
    "nan": (SMALL.replace('width = "120"', "width = nan"), "width"),
    "wrong unit": (SMALL.replace('width = "120"', 'width = "120 kg"'), "width"),
    "huge quantity": (SMALL.replace('height = "80"', 'height = "80"\nquantity = 1000000'), "quantity"),
    "huge size": (SMALL.replace('width = "120"', 'width = "1e300"'), "width"),
    "crossing": (
        SMALL.replace('shape = "rectangle"\nwidth = "120"\nheight = "80"',
                      'shape = "points"\npoints = [[0,0],[100,100],[100,0],[0,100]]'), "cross"),
    "missing drawing": (SMALL.replace('shape = "rectangle"', 'file = "nowhere.dxf"'), "nowhere.dxf"),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD)
def test_bad_input_ends_with_2_and_says_what_where(case: str, tmp_path: Path):
    text, word = BAD[case]
    done = lagline("plan", str(job_file(tmp_path, text)))
    assert done.returncode == 2, done.stdout + done.stderr
    assert "Traceback" not in done.stderr
    assert word in done.stderr
    again = lagline("plan", str(tmp_path / "job.toml"), "--json")
    assert again.returncode == 2
    assert json.loads(again.stdout)["findings"]


def test_all_faults_are_told_together(tmp_path: Path):
    text = SMALL.replace('width = "120"', 'width = "-1"').replace('thickness = "6"', 'thickness = "zero"')
    job_file(tmp_path, "[power]\nrated_current = -5\n", "kit.toml")
    done = lagline("plan", str(job_file(tmp_path, text)))
    assert done.returncode == 2
    assert "width" in done.stderr
    assert "thickness" in done.stderr
    assert "kit.toml" in done.stderr


def test_part_larger_than_every_plate_is_a_no_go(tmp_path: Path):
    done = lagline("plan", str(job_file(tmp_path, SMALL.replace('width = "120"', 'width = "900"'))))
    assert done.returncode == 3
    assert "pad" in done.stdout


def test_missing_file_folder_and_non_utf8(tmp_path: Path):
    assert lagline("plan", str(tmp_path / "none.toml")).returncode == 2
    assert lagline("plan", str(tmp_path)).returncode == 2
    (tmp_path / "bad.toml").write_bytes(b'name = "\xff\xfe"')
    done = lagline("plan", str(tmp_path / "bad.toml"))
    assert done.returncode == 2
    assert "UTF-8" in done.stderr


def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path):
    (tmp_path / "file").write_text("in the way")
    done = lagline("plan", str(job_file(tmp_path)), "--out", str(tmp_path / "file" / "out"))
    assert done.returncode == 2
    assert "cannot write" in done.stderr


def test_a_read_only_folder_is_said(tmp_path: Path):
    """The kernel's own folder takes no new files, not even from root."""
    done = lagline("plan", str(job_file(tmp_path)), "--out", "/proc/lagline-out")
    assert done.returncode == 2
    assert "cannot write" in done.stderr


def test_two_writers_at_once_leave_whole_files(tmp_path: Path):
    path = job_file(tmp_path)
    command = [str(Path(sys.executable).with_name("lagline")), "plan", str(path), "--out", str(tmp_path / "out")]
    both = [subprocess.Popen(command, stdout=subprocess.DEVNULL) for _ in range(2)]
    assert [p.wait(timeout=120) for p in both] == [0, 0]
    assert json.loads((tmp_path / "out" / "plan.json").read_text())
    assert not [p for p in (tmp_path / "out").iterdir() if p.name.startswith(".")]


def test_demo_writes_its_files_and_never_overwrites_a_change(tmp_path: Path):
    assert lagline("demo", str(tmp_path / "d")).returncode == 0
    assert {p.name for p in (tmp_path / "d").iterdir()} == set(demo_files())
    assert lagline("demo", str(tmp_path / "d")).returncode == 0
    (tmp_path / "d" / "job.toml").write_text("mine")
    done = lagline("demo", str(tmp_path / "d"))
    assert done.returncode == 2
    assert (tmp_path / "d" / "job.toml").read_text() == "mine"


def test_small_questions(tmp_path: Path):
    write_demo(tmp_path)
    assert json.loads(lagline("length", "1-1/2", "--json").stdout)["length_mm"] == pytest.approx(38.1)
    assert lagline("length", "1/0").returncode == 2
    assert json.loads(lagline("read", str(tmp_path / "cheek.dxf"), "--json").stdout)["outlines"]
    assert "source" in lagline("formula", "guide.kept-side").stdout
    assert lagline("formula", "guide.kept-sid").returncode == 2
    assert "gusset" in lagline("shapes").stdout


def test_every_verb_answers_json_on_bad_input_too(tmp_path: Path):
    for words in (("length", "1/0"), ("formula", "no.such"), ("read", str(tmp_path / "none.dxf"))):
        done = lagline(*words, "--json")
        assert done.returncode == 2, words
        assert json.loads(done.stdout)["findings"], words


def test_a_drawing_without_a_usable_outline_ends_with_2(tmp_path: Path):
    open_line = '<svg xmlns="http://www.w3.org/2000/svg" width="50mm" height="50mm"><path d="M0 0 L20 0 L20 20"/></svg>'
    (tmp_path / "open.svg").write_text(open_line)
    done = lagline("read", str(tmp_path / "open.svg"))
    assert done.returncode == 2
    assert "open" in done.stderr
