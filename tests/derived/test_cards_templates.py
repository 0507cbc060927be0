"""Each set-up's template is its own shape, and an edge that cannot be drawn loses one sheet, not the card."""

from __future__ import annotations

import io
import itertools
import math
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader
from shapely.errors import GEOSException

from lagline.cards import bench_card, templates
from lagline.cards.card_setup import setup_data
from lagline.desk.planner import plan_files
from lagline.records.plan import Plan, TemplateGuide

JOB = """
name = "pads and oval"
units = "in"
[stock]
metal = "steel"
thickness = "1/4"
[[parts]]
name = "pad eye"
shape = "flange"
outside = "9"
inside = "2-1/2"
bolt_circle = "6"
bolts = 4
bolt_hole = "1-1/8"
[[parts]]
name = "oval"
file = "oval.svg"
quantity = 2
[[plates]]
name = "A"
width = "40"
height = "20"
"""
OVAL = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="120mm" viewBox="0 0 200 120">'
    '<ellipse cx="100" cy="60" rx="90" ry="50"/><ellipse cx="100" cy="60" rx="40" ry="25"/></svg>'
)


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    folder: Path = tmp_path_factory.mktemp("pads")
    (folder / "job.toml").write_text(JOB)
    (folder / "oval.svg").write_text(OVAL)
    return plan_files(folder / "job.toml", seconds=1)


def length(points: tuple[tuple[float, float], ...], closed: bool) -> float:
    ring = (*points, points[0]) if closed else points
    return sum(math.dist(a, b) for a, b in itertools.pairwise(ring))


def with_ids(plan: Plan, ident: str) -> Plan:
    """Every template under one id: the printing alone must tell the shapes apart."""
    return replace(
        plan,
        steps=tuple(
            replace(s, guide=replace(s.guide, id=ident)) if isinstance(s.guide, TemplateGuide) else s
            for s in plan.steps
        ),
    )


@pytest.mark.parametrize("ident", ["", "one name"])
def test_a_set_up_names_the_sheet_of_its_own_shape(plan: Plan, ident: str):
    plan = with_ids(plan, ident) if ident else plan
    led = [s for s in plan.steps if isinstance(s.guide, TemplateGuide)]
    sheets = {t.name: t for t in templates.templates(plan)}
    assert len(sheets) >= 3  # the oval, its opening, and the flange's holes
    assert len(sheets) == len(templates.templates(plan))
    printed = {
        str(s["name"]).split(", row ")[0].removesuffix(", one sheet") for s in templates.drawn(plan, "a4").sheets
    }
    assert printed == set(sheets)
    for s in led:
        text = " ".join(setup_data(plan, s, "a4")["lines"])
        (name,) = [n for n in sheets if f"Template {n} o" in text]
        sheet = sheets[name]
        assert length(sheet.edge, s.guide.closed) == pytest.approx(length(s.guide.edge, s.guide.closed), abs=0.02)
        assert sheet.guide.rub == s.guide.rub


def test_turned_and_mirrored_edges_share_a_sheet_a_larger_one_does_not(plan: Plan):
    step = next(s for s in plan.steps if isinstance(s.guide, TemplateGuide))
    c, s = math.cos(1.0), math.sin(1.0)

    def made(k: float, flip: float) -> object:
        edge = tuple((k * flip * (c * x - s * y), k * (s * x + c * y)) for x, y in step.guide.edge)
        return replace(step, guide=replace(step.guide, edge=edge))

    same = replace(plan, steps=(step, made(1.0, 1.0), made(1.0, -1.0)))
    assert len(templates.templates(same)) == 1
    other = replace(plan, steps=(step, made(1.001, 1.0)))
    assert [t.name[-3:] for t in templates.templates(other)] == [", A", ", B"]


def nasty(guide: TemplateGuide) -> TemplateGuide:
    """An edge that runs back over itself a hair off and crosses itself: what offsetting leaves on a bad day."""
    n = 240
    ring = [(500 + 260 * math.cos(2 * math.pi * i / n), 300 + 170 * math.sin(2 * math.pi * i / n)) for i in range(n)]
    out = []
    for i, (x, y) in enumerate(ring):
        out.append((x, y))
        if i % 7 == 0:
            u, v = ring[i - 3]
            out += [(u + 1e-13, v - 3e-14), (x + 1e-9, y), (700.0, 310.0 + 1e-11 * i)]
    return replace(guide, edge=(*out, out[0]), closed=True)


def with_edges(plan: Plan, make) -> Plan:
    return replace(
        plan,
        steps=tuple(replace(s, guide=make(s.guide)) if isinstance(s.guide, TemplateGuide) else s for s in plan.steps),
    )


def test_an_edge_that_crosses_itself_is_still_printed(plan: Plan):
    bad = with_edges(plan, nasty)
    assert templates.drawn(bad, "letter").lost == ()
    assert templates.pdf(bad, "letter")
    assert bench_card.pdf(bad, "letter")


def test_a_template_that_fails_loses_its_sheet_and_is_told(plan: Plan, monkeypatch: pytest.MonkeyPatch):
    victim = templates.templates(plan)[0]
    real = templates._sheets

    def fails(plan, t, frame):
        if t.name == victim.name:
            raise GEOSException("found non-noded intersection")
        return real(plan, t, frame)

    monkeypatch.setattr(templates, "_sheets", fails)
    again = replace(plan)
    data = templates.template_data(again, "letter")
    assert data is not None
    assert not any(str(s["name"]).startswith(victim.name) for s in data["sheets"])
    text = "\n".join(p.extract_text() for p in PdfReader(io.BytesIO(bench_card.pdf(again, "letter"))).pages)
    assert f"template {victim.name} could not be drawn" in " ".join(text.split())
    lines = setup_data(again, victim.steps[0], "letter")["lines"]
    assert "The template could not be drawn: follow the line freehand" in lines
