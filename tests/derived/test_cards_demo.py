"""The demo's card: hatching on the waste side of every cut as drawn, nothing too small to read, true tables."""

from __future__ import annotations

import hashlib
import io
import itertools
import re
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pdfplumber
import pytest
import shapely
from shapely.geometry import LineString, Polygon

from lagline.cards import bench_card, draw_step
from lagline.cards.card_tables import bevel_rows, why_rows
from lagline.cards.draw_plate import Picture
from lagline.cards.why import why
from lagline.cards.words import guide_length
from lagline.desk.demo import write_demo
from lagline.desk.planner import plan_files
from lagline.records.plan import Plan
from lagline.setouts.bevel_lean import afterwards


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    folder = tmp_path_factory.mktemp("demo")
    write_demo(folder)
    return plan_files(folder / "job.toml", seconds=1)


@pytest.fixture(scope="module")
def pictures(demo: Plan) -> dict[int, Picture]:
    return {s.number: draw_step.step_picture(demo, s.number, paper=True) for s in demo.steps}


@pytest.fixture(scope="module", params=["letter", "a4"])
def card(demo: Plan, request: pytest.FixtureRequest) -> pdfplumber.PDF:
    return pdfplumber.open(io.BytesIO(bench_card.pdf(demo, request.param)))


def drawn(svg: str, kind: str) -> list[list[tuple[float, float]]]:
    """The chains of a picture's paths of one kind, in plate millimetres, y up."""
    out = []
    for e in ElementTree.fromstring(svg).iter():
        if e.get("class") == f"ll-{kind}":
            for chain in (e.get("d") or "").split("M")[1:]:
                v = [float(x) for x in re.findall(r"-?[\d.]+", chain)]
                out.append([(x, -y) for x, y in zip(v[::2], v[1::2], strict=True)])
    return out


def test_heavy_hatching_is_drawn_on_the_waste_side_of_every_set_up(demo: Plan, pictures: dict[int, Picture]):
    """Seen along the cut: on the other hand than the part, on no part, on the plate, and for a hole inside it."""
    cuts = {c.id: c for c in demo.cuts}
    parts = {
        i: Polygon(o.outer.points(0.01), [h.points(0.01) for h in o.holes])
        for i, o in ((i, p.move.outline(demo.blanks[p.part].cut)) for i, p in enumerate(demo.layout.placed))
    }
    hatched = 0
    for step in demo.steps:
        lines = [LineString(c) for c in drawn(pictures[step.number].svg, "drop")]
        if not step.path:
            assert lines == []
            continue
        if not lines:
            continue  # counted below
        cut, where = cuts[step.cut], f"set-up {step.number}, {step.title}"
        inside = Polygon(cut.loop.points(0.01)).buffer(0.1)
        plate = Polygon(demo.job.plates[step.plate].outline.outer.points(0.01)).buffer(0.1)
        here = [a.buffer(-0.1) for i, a in parts.items() if demo.layout.placed[i].plate == step.plate]
        all_lines = shapely.union_all(lines)
        assert plate.covers(all_lines), where
        assert not any(a.intersects(all_lines) for a in here), where
        loop_inside = cut.role not in ("outline", "edge", "rip")
        assert inside.covers(all_lines) if loop_inside else not inside.buffer(-0.2).intersects(all_lines), where
        chain = LineString(list(itertools.chain.from_iterable(s.points(0.05) for s in step.line)))
        for line in lines:
            hatched += 1
            m = line.interpolate(0.5, normalized=True)
            s = chain.project(m)
            if not 1 < s < chain.length - 1:
                continue
            a, b = chain.interpolate(s - 0.5), chain.interpolate(s + 0.5)
            left = (b.x - a.x) * (m.y - a.y) - (b.y - a.y) * (m.x - a.x) > 0
            assert left == (step.kept_side == "right"), where
    assert hatched > 5 * len(demo.steps)


def test_almost_every_set_up_shows_hatching(demo: Plan, pictures: dict[int, Picture]):
    cutting = [s for s in demo.steps if s.path and not s.across]  # between two parts there is no waste
    bare = [s.number for s in cutting if not drawn(pictures[s.number].svg, "drop")]
    # none at all only where there is no waste wider than the kerf: a neighbour's cut or the plate's edge
    assert len(bare) < 0.05 * len(cutting)


def test_nothing_needed_is_left_out_of_a_set_up(pictures: dict[int, Picture]):
    for number, picture in pictures.items():
        assert picture.left_out == (), number


def test_text_is_large_enough_to_read(demo: Plan, card: pdfplumber.PDF):
    """8 points on a set-up, 7 on a plate, picture texts and upright ones as printed."""
    assert "bevel30" not in card.pages[0].extract_text()  # a setting no set-up uses
    seen = 0
    for p in (card.pages[1], *card.pages[4:46:20]):
        least = 8.0 if p.height > p.width else 7.0
        # a letter's box is as high as its type, or as wide where the line runs upwards
        sizes = [c["x1"] - c["x0"] if abs(c["matrix"][0]) < 1e-6 else c["size"] for c in p.chars if c["text"].strip()]
        assert min(sizes) > least - 0.05, (p.page_number, min(sizes))
        seen += len(sizes)
    assert seen > 2000


def test_set_ups_stand_four_to_a_page_and_none_runs_into_another(demo: Plan, card: pdfplumber.PDF):
    assert sum(s.path != () for s in demo.steps) > 4 * 24
    full = [p for p in card.pages if p.extract_text().count("wait before") >= 3]
    assert len(full) > 20
    for p in full[::10]:
        top, gutter = 15 * 72 / 25.4, 5 * 72 / 25.4
        middle = top + (float(p.height) - 28 * 72 / 25.4 - gutter) / 2
        between = [c for c in p.chars if middle < (c["top"] + c["bottom"]) / 2 < middle + gutter]
        assert between == [], p.page_number
        foot = [c for c in p.chars if c["bottom"] > float(p.height) - 12 * 72 / 25.4]
        assert len({round(c["bottom"], 1) for c in foot}) == 1, p.page_number  # the page's own foot line alone


def test_bevels_are_told_with_their_triangle(demo: Plan):
    """3/8 in at 30 degrees: 9.525 / cos 30 = 11.0 mm, 14/32 in; 9.525 tan 30 = 5.5 mm, 7/32 in."""
    (row,) = bevel_rows(demo)
    assert row[:5] == ["bilge stiffener, 3 off", "bottom", "30°", '7/16"', '7/32"']
    setting = next(s for s in demo.settings if s.bevel_deg == 30)
    height, off = afterwards(setting, 30.0, "in")
    assert row[5] == f"{guide_length(off.value, 'in')[0]}, {guide_length(height, 'in')[0]} high"
    assert row[6] == f"{25.4 / setting.pace_mm_s.value:.1f} s/in"
    assert row[8] == "go"


def test_why_table_keeps_every_figure_s_range_and_set_ups(demo: Plan):
    rows, figures = why_rows(demo), why(demo)
    assert len(rows) < len(figures)
    for name in {w.name for w in figures}:
        told = [r for r in rows if r[0] == name]
        steps = {n for w in figures if w.name == name for n in w.steps}
        said = set()
        for run in ", ".join(r[5] for r in told if r[5]).split(", "):
            first, _, last = run.partition("-")
            said |= set(range(int(first), int(last or first) + 1)) if first else set()
        assert said == steps, name
    assert all(" ".join(r).count("common practice, no source") <= 1 for r in rows)


def test_drawing_file_is_the_same_whatever_the_hash_seed():
    """Two runs with other hash seeds: sets come out in another order, bytes do not."""
    code = (
        "import sys; sys.path.insert(0, sys.argv[1]); from sample_plan import sample_plan; import hashlib; "
        "from lagline.cards import dxf_out, draw_step; p = sample_plan(); "
        "d = dxf_out.dxf(p) + draw_step.step_svg(p, 3, paper=True).encode(); print(hashlib.sha256(d).hexdigest())"
    )
    tests = str(Path(__file__).parents[1])
    runs = [
        subprocess.run(
            [sys.executable, "-c", code, tests],
            env={"PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout.strip()
        for seed in ("1", "4")
    ]
    assert runs[0] == runs[1]
    assert len(runs[0]) == hashlib.sha256().digest_size * 2
