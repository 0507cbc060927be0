"""What is printed and written, measured on the files themselves."""

from __future__ import annotations

import importlib.util
import io
import itertools
import json
import math
import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import ezdxf
import pdfplumber
import pytest
from pypdf import PdfReader
from shapely.geometry import Point, Polygon

from lagline.cards import bench_card, dxf_out, plan_json, templates, typeset, words
from lagline.cards.card_verdict import failed, headline, margin_words
from lagline.cards.why import runs, why
from lagline.records.geometry import Line, Loop, Outline
from lagline.records.plan import Method, Plan, TemplateGuide

PT_MM = 25.4 / 72


def _sample_module():
    spec = importlib.util.spec_from_file_location(
        "lagline_sample_plan_print", Path(__file__).parents[1] / "sample_plan.py"
    )
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


PLAN: Plan = _sample_module().sample_plan()


@pytest.fixture(scope="module")
def card() -> bytes:
    return bench_card.pdf(PLAN, "letter")


def pages(pdf: bytes) -> list[str]:
    return [p.extract_text() for p in PdfReader(io.BytesIO(pdf)).pages]


def test_card_has_its_pages_at_paper_size(card):
    read = PdfReader(io.BytesIO(card))
    # front, plate (lying down, it is wider than high), its parts, nineteen set-ups by four (two are drilled), why
    assert len(read.pages) == 1 + 2 + math.ceil(19 / 4) + 1
    for n, p in enumerate(read.pages):
        width, height = (279.4, 215.9) if n == 1 else (215.9, 279.4)
        assert float(p.mediabox.width) * PT_MM == pytest.approx(width, abs=0.01)
        assert float(p.mediabox.height) * PT_MM == pytest.approx(height, abs=0.01)
    a4 = PdfReader(io.BytesIO(bench_card.pdf(PLAN, "a4"))).pages[0].mediabox
    assert float(a4.width) * PT_MM == pytest.approx(210, abs=0.01)
    assert float(a4.height) * PT_MM == pytest.approx(297, abs=0.01)


def test_cut_sizes_keep_their_thirty_seconds_and_a_sheared_plate_its_taped_edges():
    data = bench_card.card_data(PLAN, "letter")
    told = {r[1]: r[4] for p in data["plates"] for r in p["rows"]}
    for p in PLAN.layout.placed:
        x0, y0, x1, y1 = p.move.outline(PLAN.blanks[p.part].cut).bounds()
        sizes = [Fraction(round((b - a) / 25.4 * 32), 32) for a, b in ((x0, x1), (y0, y1))]
        shown = [sum(Fraction(v) for v in t.strip('"').split("-")) for t in told[p.name(PLAN.blanks)].split(" x ")]
        assert shown == sizes
    shear = tuple(Line(a, b) for a, b in itertools.pairwise(((0, 0), (600, 0), (640, 300), (40, 300), (0, 0))))
    outline = Outline(Loop(shear, ("bottom", "right", "top", "left")), ())
    plate = replace(PLAN.job.plates[0], outline=outline)
    assert words.taped(plate) == pytest.approx((600, math.hypot(40, 300)))  # not 640 by 300


def test_the_tightest_link_is_told_in_words_and_a_no_go_never_without_a_reason():
    go = replace(PLAN.verdicts[0], go=True, weakest="pierce", margin=0.17, why=("pierce 9.5 mm",))
    assert margin_words(go) == "piercing, 17 % in hand"
    assert "beyond" not in margin_words(replace(go, margin=-0.5))  # doubtful, yet it goes
    assert margin_words(replace(go, go=False, margin=-0.5)) == "piercing, 50 % beyond its limit"
    bare = replace(go, go=False, margin=-0.5, weakest="", why=())
    assert failed(bare) == ("beyond a limit",)
    assert failed(go) == ()
    stopped = headline(PLAN)
    assert stopped["go"] is False
    assert stopped["link"]


def test_unknown_paper_is_refused():
    with pytest.raises(ValueError, match="letter or a4"):
        bench_card.pdf(PLAN, "foolscap")


def test_card_says_what_the_bench_needs(card):
    text = pages(card)
    assert "slipway cradle" in text[0]
    assert "NO-GO" in text[0]
    assert "beyond half the rated" in text[0]
    assert "29 CFR 1910.133" in text[0]
    assert "29 CFR 1910.252" in text[0]
    assert "58 (41 to 76) min" in text[0]
    for name in ("cheek #1", "cheek #2", "flange ring", "gusset"):
        assert name in text[2]
    # on the plate itself, or by its key where the name has no room
    for name, key in (("cheek #1", "A1"), ("cheek #2", "A2"), ("flange ring", "B"), ("gusset", "C")):
        assert name in text[1] or key in text[1].split()
    assert "Drill together" in text[2]
    everything = "\n".join(text)
    for s in PLAN.steps:
        if s.method is not Method.DRILL:
            assert s.title in everything
    assert '15/32"' in everything
    assert "2.4 s/in" in everything  # 25.4 / 10.5
    assert "kerf.from-bore" in text[-1]
    assert "Everything noticed" in text[-1]


def test_card_text_stays_on_the_page_and_set_ups_do_not_run_into_each_other(card):
    with pdfplumber.open(io.BytesIO(card)) as pdf:
        for n, p in enumerate(pdf.pages):
            for w in p.extract_words():
                assert w["x0"] > 10 * 72 / 25.4 or n in range(1, 8), w  # pictures clip at their own edge
                assert w["bottom"] < p.height
        middle = 15 / PT_MM + (279.4 - 28 - 5) / 2 / PT_MM
        # the text of the upper set-ups ends before the lower ones begin
        for p in pdf.pages[3:7]:
            between = [w for w in p.extract_words() if middle < (w["top"] + w["bottom"]) / 2 < middle + 5 / PT_MM]
            assert between == []


def test_key_numbers_are_large(card):
    with pdfplumber.open(io.BytesIO(card)) as pdf:
        sizes = [c["size"] for c in pdf.pages[3].chars if c["text"] in "0123456789"]
        keys = [c for c in pdf.pages[3].chars if c["size"] >= 16 and c["text"].isdigit()]
    assert len(keys) >= 4 * 5
    assert min(sizes) >= 6


def test_same_plan_same_bytes(card):
    again = _sample_module().sample_plan()
    assert bench_card.pdf(again, "letter") == card
    assert templates.pdf(again, "letter") == templates.pdf(PLAN, "letter")
    assert dxf_out.dxf(again, None) == dxf_out.dxf(PLAN, None)
    assert plan_json.to_json(again) == plan_json.to_json(PLAN)


def test_a_missing_letter_stops_the_card(tmp_path, monkeypatch):
    bad = tmp_path / "bad.typ"
    bad.write_text('#set text(font: "No Such Face")\nword')
    monkeypatch.setattr(typeset, "HERE", tmp_path)
    with pytest.raises(RuntimeError, match=r"bad\.typ"):
        typeset.to_pdf("bad.typ", {})


def test_every_figure_is_asked_why_once():
    rows = why(PLAN)
    assert len({(w.name, w.figure) for w in rows}) == len(rows)
    used = {f for s in PLAN.settings for f in (s.kerf_mm, s.pace_mm_s, s.cup_radius_mm)}
    assert used <= {w.figure for w in rows}
    offsets = [w for w in rows if w.figure.formula == "guide.offset"]
    assert [w.steps for w in offsets] == [tuple(range(3, 11)), tuple(range(12, 20))]
    assert runs((3, 4, 5, 9, 11, 12)) == "3-5, 9, 11-12"


# templates


def big_template(width: float, height: float) -> Plan:
    """The sample with its gusset's template swapped for a rectangle of that size."""
    edge = ((50.0, 60.0), (50 + width, 60.0), (50 + width, 60 + height), (50.0, 60 + height))
    steps = []
    for s in PLAN.steps:
        if isinstance(s.guide, TemplateGuide):
            s = replace(s, guide=replace(s.guide, edge=edge))
        steps.append(s)
    return replace(PLAN, steps=tuple(steps))


def test_template_is_full_scale_on_the_pdf():
    pdf = templates.pdf(big_template(150, 200), "letter")
    assert pdf is not None
    with pdfplumber.open(io.BytesIO(pdf)) as read:
        assert len(read.pages) == 1
        p = read.pages[0]
        marks = [(o["x0"], o["top"], o["x1"], o["bottom"]) for o in (*p.lines, *p.curves, *p.rects)]
    sizes = [((x1 - x0) * PT_MM, (y1 - y0) * PT_MM) for x0, y0, x1, y1 in marks]
    assert any(w == pytest.approx(150, abs=0.03) and h == pytest.approx(200, abs=0.04) for w, h in sizes)
    for bar in (100.0, 101.6):
        assert sum(w == pytest.approx(bar, abs=0.02) and h < 0.1 for w, h in sizes) == 1
        assert sum(h == pytest.approx(bar, abs=0.02) and w < 0.1 for w, h in sizes) == 1


def test_scale_holds_over_250_mm():
    pdf = templates.pdf(big_template(20, 220), "a4")
    assert pdf is not None
    with pdfplumber.open(io.BytesIO(pdf)) as read:
        p = read.pages[0]
        heights = [(o["bottom"] - o["top"]) * PT_MM for o in (*p.lines, *p.curves, *p.rects)]
    # 0.05 mm over 250 mm is the promise
    assert min(abs(h - 220) for h in heights) < 0.05 * 220 / 250


@pytest.mark.parametrize(("w", "h", "paper"), [(600, 400, "a4"), (430, 260, "letter"), (150, 900, "letter")])
def test_tiles_cover_the_template_once_and_hold_only_their_own_lines(w, h, paper):
    plan = big_template(w, h)
    data = templates.template_data(plan, paper)
    fw, fh = data["frame"]
    whole = templates.laid_out(templates.templates(plan)[0], (fw, fh))
    w, h = whole.size
    places = templates.tiles(whole.size, (fw, fh))
    assert len(places) == len(data["sheets"])
    lines = 0.0
    for (_, _, at), sheet in zip(places, data["sheets"], strict=True):
        for chain in sheet["lines"]:
            for x, y in chain:
                assert -1e-3 <= x <= fw + 1e-3
                assert -1e-3 <= y <= fh + 1e-3
                # back on the template's own edge
                px, py = x + at[0], fh - y + at[1]
                assert min(abs(px), abs(px - w), abs(py), abs(py - h)) < 1e-3
            lines += sum(math.dist(a, b) for a, b in itertools.pairwise(chain))
    # every millimetre of the edge is there, some twice in the overlaps
    assert lines >= 2 * (w + h) - 0.1
    covered = [Polygon([(x, y), (x + fw, y), (x + fw, y + fh), (x, y + fh)]) for _, _, (x, y) in places]
    from shapely import union_all

    assert union_all(covered).covers(Polygon([(0, 0), (w, 0), (w, h), (0, h)]))
    pdf = templates.pdf(plan, paper)
    assert len(PdfReader(io.BytesIO(pdf)).pages) == len(places)
    assert len(places) <= len(templates.tiles((h, w), (fw, fh)))  # the other way round takes no fewer


def test_template_is_labelled_and_the_printer_told_not_to_scale():
    read = PdfReader(io.BytesIO(templates.pdf(PLAN, "letter")))
    assert read.viewer_preferences.print_scaling == "/None"
    text = read.pages[0].extract_text()
    assert "Template T1: gusset" in text
    assert "cup radius" in text
    assert "half kerf 0.8 mm" in text
    assert "OUTSIDE" in text
    assert "100 mm" in text
    assert "4 in" in text


@pytest.mark.parametrize("rub", ["outside", "inside"])
@pytest.mark.parametrize("way", [1, -1])
def test_the_word_cup_is_on_the_side_the_cup_rubs(rub, way):
    plan = big_template(100, 80)
    steps = tuple(
        replace(s, guide=replace(s.guide, rub=rub, edge=s.guide.edge[::way]))
        if isinstance(s.guide, TemplateGuide)
        else s
        for s in plan.steps
    )
    data = templates.template_data(replace(plan, steps=steps), "letter")
    ((line,), cup) = data["sheets"][0]["lines"], data["sheets"][0]["cup"]
    assert Polygon(line).contains(Point(cup)) == (rub == "inside")
    # the middle of this edge is a corner, where the word comes nearer
    assert 2 < Polygon(line).exterior.distance(Point(cup)) <= templates.CUP_OFF_MM


def test_no_template_no_file():
    steps = tuple(s for s in PLAN.steps if not isinstance(s.guide, TemplateGuide))
    assert templates.pdf(replace(PLAN, steps=steps), "letter") is None


# drawing exchange


def test_dxf_opens_clean_with_everything_on_its_layer():
    doc = ezdxf.read(io.StringIO(dxf_out.dxf(PLAN, 0).decode()))
    audit = doc.audit()
    assert not audit.errors
    assert not audit.fixes
    assert doc.units == 4  # millimetres, INSUNITS of the DXF reference
    space = doc.modelspace()
    count = {name: len(space.query(f'*[layer=="{name}"]')) for name in dxf_out.LAYERS}
    assert count["PLATE"] == 1
    assert count["PART"] == 3 + 3 + 2 + 1
    assert count["KERF_CENTRE"] == sum(bool(s.path) for s in PLAN.steps)
    assert count["DRILL"] == 2 * 3
    assert count["TEMPLATE"] == 1
    assert count["GUIDE"] == 16 + 2 * 2
    assert len(space) == sum(count.values())
    assert sorted(round(c.dxf.radius, 6) for c in space.query('CIRCLE[layer=="PART"]')) == [6, 6, 30, 60]


def test_dxf_arcs_stay_arcs():
    doc = ezdxf.read(io.StringIO(dxf_out.dxf(PLAN, 0).decode()))
    parts = doc.modelspace().query('LWPOLYLINE[layer=="PART"]')
    bulges = [b for p in parts for *_, b in p.get_points("xyb") if b]
    # the gusset's throat: a quarter turn clockwise, tan(90/4 deg) (definition of the bulge)
    assert bulges == [pytest.approx(-math.tan(math.radians(22.5)))]


def test_plates_lie_side_by_side():
    two = replace(PLAN, job=replace(PLAN.job, plates=(PLAN.job.plates[0], PLAN.job.plates[0])))
    doc = ezdxf.read(io.StringIO(dxf_out.dxf(two, None).decode()))
    lefts = sorted(min(p[0] for p in e.get_points("xy")) for e in doc.modelspace().query('*[layer=="PLATE"]'))
    assert lefts == [0, 700]


# JSON


def test_json_loads_without_nan_and_keeps_the_numbers():
    text = plan_json.to_json(PLAN)
    assert text.endswith("}\n")

    def refuse(word: str) -> None:
        raise AssertionError(word)

    data = json.loads(text, parse_constant=refuse)
    assert data["go"] is False
    assert len(data["steps"]) == len(PLAN.steps)
    step = data["steps"][2]
    assert step["guide"]["kind"] == "straightedge"
    assert step["guide"]["offset_mm"]["value"] == pytest.approx(10.2)
    assert step["guide"]["offset_mm"]["unit"] == "mm"
    assert step["path_mm"][0][0] == "line"
    assert data["settings"][0]["kerf_mm"]["value"] == 1.6
    assert data["cuts"][0]["loop"]["segments_mm"][0][0] == "arc"


def test_json_refuses_a_number_that_is_not_finite():
    bad = replace(PLAN, totals=replace(PLAN.totals, arc_min=math.nan))
    with pytest.raises(ValueError, match="not finite"):
        plan_json.to_json(bad)
