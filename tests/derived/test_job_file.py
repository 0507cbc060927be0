"""Job files: the demo, what each field gives, and everything that can be wrong with one."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from lagline.data.demo_files import demo_files
from lagline.planning.intake import intake
from lagline.planning.job_file import job_from_text, read_job
from lagline.planning.layout import lay_out
from lagline.records.errors import LaglineError
from lagline.records.finding import Severity
from lagline.records.job import EdgeUse, Size
from lagline.shapes.region import polygon

HEAD = 'units = "in"\n[stock]\nmetal = "steel"\nthickness = "3/8"\n'
DISC = '[[parts]]\nshape = "disc"\ndiameter = "6"\n'
PLATE = '[[plates]]\nwidth = "48"\nheight = "24"\n'


@pytest.fixture
def demo(tmp_path):
    for name, data in demo_files().items():
        (tmp_path / name).write_bytes(data)
    return tmp_path


def read(text: str, folder: Path = Path()):
    return job_from_text(text, folder, "job.toml")


def refusals(text: str, folder: Path = Path()) -> dict[str, str]:
    with pytest.raises(LaglineError) as e:
        read(text, folder)
    assert all(f.severity is Severity.REFUSED for f in e.value.findings)
    return {f.where: f"{f.message} ({f.allowed})" for f in e.value.findings}


def test_demo_reads_whole(demo):
    job, notes = read_job(demo / "job.toml")
    assert len(job.parts) == 12
    assert sum(p.quantity for p in job.parts) == 32
    assert [p.kind for p in job.plates] == ["plate", "offcut"]
    assert {n.severity for n in notes} <= {Severity.NOTE, Severity.MENDED}
    assert {p.stock.key for p in (*job.parts, *job.plates)} == {("steel", 9.525)}
    # every edge of every loop has its entry
    for part in job.parts:
        assert [e.name for e in part.edges] == [n for loop in part.outline.loops for n in loop.names]
    cheek = job.parts[0]
    # 16 x 12 less half a 7 in radius circle, less holes 3-1/8 and two of 9/16
    inches = 16 * 12 - math.pi * (7**2 / 2 + 3.125**2 / 4 + 2 * 0.5625**2 / 4)
    assert polygon(cheek.outline, 0.001).area / 25.4**2 == pytest.approx(inches, rel=1e-5)
    assert cheek.edge("e1").use is EdgeUse.WELD
    stiffener = job.parts[-1]
    assert stiffener.edge("bottom").bevel_deg == 30
    assert cheek.tolerance_mm == 25.4 / 8


def test_fields_of_the_job():
    text = (
        'name = "trial"\nseed = 7\ngap = "1/2"\npaper = "A4"\nlayout = "dense"\ncurrent_a = 60\nclosed_vessel = true\n'
        'notes = "two\\nlines"\n' + HEAD + DISC + PLATE
    )
    job, _ = read(text)
    assert (job.name, job.seed, job.gap_mm, job.paper, job.layout) == ("trial", 7, 12.7, "a4", "dense")
    assert (job.current_a, job.closed_vessel, job.notes) == (60, True, "two\nlines")
    plain, notes = read(HEAD + DISC + PLATE)
    assert (plain.name, plain.gap_mm, plain.current_a, plain.closed_vessel) == ("job", None, None, False)
    assert "square-unmeasured" in {n.code for n in notes}


def test_units_decide_bare_lengths_and_are_noted_when_not_said():
    job, notes = read(HEAD.replace('units = "in"', 'units = "mm"').replace("3/8", "10") + DISC + PLATE)
    assert job.parts[0].outline.bounds()[2] == pytest.approx(3)
    assert job.parts[0].stock.thickness_text == "10 mm"
    assert "units-taken" not in {n.code for n in notes}
    job, notes = read(HEAD.replace('units = "in"\n', "") + DISC + PLATE)
    assert job.units == "in"
    assert job.parts[0].stock.thickness_text == '3/8"'
    assert "units-taken" in {n.code for n in notes}


def test_part_fields():
    text = (
        HEAD
        + '[[parts]]\nname = "bar"\nshape = "rectangle"\nwidth = "10 mm"\nheight = "2"\nquantity = 3\nsize = "cut"\n'
        'tolerance = "1 mm"\nturns = [0, -90]\nmirror = true\nstock = { thickness = "1/4", coating = "Primer" }\n'
        + PLATE
    )
    job, _ = read(text)
    (part,) = job.parts
    assert (part.quantity, part.size, part.tolerance_mm, part.may_mirror) == (3, Size.CUT, 1.0, True)
    assert part.turns_deg == (0.0, 270.0)
    assert (part.stock.thickness_mm, part.stock.coating, part.stock.metal) == (6.35, "primer", "steel")
    assert part.outline.bounds()[2:] == pytest.approx((10, 50.8))
    assert read(HEAD + DISC + 'turns = "any"\n' + PLATE)[0].parts[0].turns_deg == ()
    assert read(HEAD + DISC + 'turns = "fixed"\n' + PLATE)[0].parts[0].turns_deg == (0.0,)


def test_narrower_edge_name_wins_whatever_the_order():
    flange = (
        '[[parts]]\nshape = "flange"\noutside = "12"\ninside = "6"\nbolt_circle = "9"\nbolts = 4\nbolt_hole = "3/4"\n'
    )
    for edges in (
        'bolt-2 = "fit", bolt = "free", holes = "weld", all = "machined"',
        'all = "machined", holes = "weld", bolt = "free", bolt-2 = "fit"',
    ):
        job, _ = read(HEAD + flange + f"edges = {{ {edges} }}\n" + PLATE)
        use = {e.name: str(e.use) for e in job.parts[0].edges}
        assert use == {
            "outside": "machined",
            "inside": "weld",
            "bolt-1": "free",
            "bolt-2": "fit",
            "bolt-3": "free",
            "bolt-4": "free",
        }


def test_gauge_is_read_for_the_metal_and_said():
    # Manufacturers' Standard Gauge and the stainless list, published tables: 10 ga is .1345 and .1406 in
    for metal, inches in (("steel", 0.1345), ("stainless", 0.1406)):
        text = HEAD.replace("steel", metal).replace("3/8", "10 ga") + DISC + PLATE
        job, notes = read(text)
        assert job.parts[0].stock.thickness_mm == pytest.approx(inches * 25.4)
        assert job.parts[0].stock.thickness_text == "10 ga"
        assert any(n.code == "gauge-read" and f"{inches:.4f}" in n.message for n in notes)


def test_names_left_out_are_numbered_and_names_given_twice_are_refused():
    job, _ = read(HEAD + DISC * 3 + '[[parts]]\nname = "disc 2"\nshape = "disc"\ndiameter = "2"\n' + PLATE)
    assert [p.name for p in job.parts] == ["disc", "disc 3", "disc 4", "disc 2"]
    twice = '[[parts]]\nname = "lug"\nshape = "disc"\ndiameter = "2"\n'
    assert 'job.toml: parts[2] "lug": name' in refusals(HEAD + twice * 2 + PLATE)
    plate = PLATE + 'name = "A"\n'
    assert 'job.toml: plates[2] "A": name' in refusals(HEAD + DISC + plate * 2)


def test_outline_of_a_drawing_is_chosen_and_said(demo):
    import ezdxf

    doc = ezdxf.new(units=4)
    for x, size in ((0, 50), (200, 90), (400, 70)):
        doc.modelspace().add_lwpolyline([(x, 0), (x + size, 0), (x + size, size), (x, size)], close=True)
    doc.saveas(demo / "three.dxf")
    part = '[[parts]]\nfile = "three.dxf"\n'
    job, notes = read(HEAD + part + PLATE, demo)
    assert job.parts[0].outline.area == pytest.approx(8100)
    assert "outline-chosen" in {n.code for n in notes}
    second, notes = read(HEAD + part + "outline = 2\n" + PLATE, demo)
    assert "outline-chosen" not in {n.code for n in notes}
    every, _ = read(HEAD + part + "each = true\nquantity = 2\n" + PLATE, demo)
    assert [p.name for p in every.parts] == ["three 1", "three 2", "three 3"]
    assert sorted(p.outline.area for p in every.parts) == pytest.approx([2500, 4900, 8100])
    assert second.parts[0].outline == every.parts[1].outline
    assert any("outline" in k for k in refusals(HEAD + part + "outline = 4\n" + PLATE, demo))
    assert any("each" in k for k in refusals(HEAD + part + "outline = 1\neach = true\n" + PLATE, demo))


def test_drawing_outside_the_folder_is_refused_from_a_page_only(demo):
    (demo / "sub").mkdir()
    text = HEAD + '[[parts]]\nfile = "../cheek.dxf"\n' + PLATE
    assert any("outside" in m for m in refusals(text, demo / "sub").values())
    (demo / "sub" / "job.toml").write_text(text)
    assert read_job(demo / "sub" / "job.toml")[0].parts[0].name == "cheek"


def test_an_offcut_by_points_with_a_bad_area(demo):
    job, _ = read_job(demo / "job.toml")
    offcut = job.plates[1]
    assert polygon(offcut.outline, 0.001).area / 25.4**2 == pytest.approx(36 * 14 + 18 * 16 - math.pi, rel=1e-6)
    assert offcut.margin_mm == 9.525


def test_plate_by_shape_and_by_drawing(demo):
    text = HEAD + DISC + '[[plates]]\nshape = "disc"\ndiameter = "30"\n[[plates]]\nfile = "cheek.dxf"\n'
    job, notes = read(text, demo)
    assert [p.outline.bounds()[:2] for p in job.plates] == [pytest.approx((0, 0))] * 2
    assert "datum-moved" in {n.code for n in notes}


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("", "parts"),
        ("", "plates"),
        (HEAD + PLATE, "parts"),
        (HEAD + DISC, "plates"),
        ("units = 3\n", "units"),
        (HEAD + "[[parts]]\n" + PLATE, "parts[1]"),
        (HEAD + DISC + 'file = "x.dxf"\n' + PLATE, "parts[1]"),
        (HEAD + '[[parts]]\nfile = "nowhere.dxf"\n' + PLATE, "parts[1]: file"),
        (HEAD + '[[parts]]\nshape = "gussett"\n' + PLATE, "parts[1]: shape"),
        (HEAD + '[[parts]]\nshape = "disc"\ndiameter = "0"\n' + PLATE, "parts[1], diameter"),
        (HEAD + '[[parts]]\nshape = "disc"\ndiameter = "-6"\n' + PLATE, "parts[1]: diameter"),
        (HEAD + '[[parts]]\nshape = "disc"\ndiameter = nan\n' + PLATE, "parts[1]: diameter"),
        (HEAD + '[[parts]]\nshape = "disc"\ndiameter = inf\n' + PLATE, "parts[1]: diameter"),
        (HEAD + '[[parts]]\nshape = "disc"\ndiameter = "6 parsecs"\n' + PLATE, "parts[1]: diameter"),
        (HEAD + '[[parts]]\nshape = "disc"\ndiamter = "6"\n' + PLATE, "parts[1], diameter"),
        (HEAD + DISC + "quantity = 0\n" + PLATE, "parts[1]: quantity"),
        (HEAD + DISC + "quantity = -3\n" + PLATE, "parts[1]: quantity"),
        (HEAD + DISC + "quantity = 2.5\n" + PLATE, "parts[1]: quantity"),
        (HEAD + DISC + "quantity = true\n" + PLATE, "parts[1]: quantity"),
        (HEAD + DISC + "quantity = 1000000000\n" + PLATE, "parts[1]: quantity"),
        (HEAD + (DISC + "quantity = 3000\n") * 2 + PLATE, "parts"),
        (HEAD + DISC + 'size = "big"\n' + PLATE, "parts[1]: size"),
        (HEAD + DISC + 'tolerance = "tight"\n' + PLATE, "parts[1]: tolerance"),
        (HEAD + DISC + "turns = []\n" + PLATE, "parts[1]: turns"),
        (HEAD + DISC + 'edges = { bottm = "weld" }\n' + PLATE, "parts[1]: edges: bottm"),
        (HEAD + DISC + 'edges = { all = "welded" }\n' + PLATE, "parts[1]: edges: all"),
        (HEAD + DISC + 'edges = "weld"\n' + PLATE, "parts[1]: edges"),
        (HEAD + DISC + "bevels = { outside = 80 }\n" + PLATE, "parts[1]: bevels: outside"),
        (HEAD + DISC + 'stock = { thickness = "0" }\n' + PLATE, "parts[1]: stock: thickness"),
        (HEAD + DISC + 'stock = { thikness = "1/4" }\n' + PLATE, "parts[1]: stock: thikness"),
        (HEAD + DISC + 'stock = { metal = "mithril" }\n' + PLATE, "parts[1]: stock: metal"),
        (HEAD.replace("3/8", "99 ga") + DISC + PLATE, "stock: thickness"),
        (HEAD.replace("3/8", "1/0") + DISC + PLATE, "stock: thickness"),
        (HEAD.replace('thickness = "3/8"', "") + DISC + PLATE, "stock: thickness"),
        (HEAD.replace('metal = "steel"', "") + DISC + PLATE, "stock: metal"),
        (HEAD + DISC + '[[plates]]\nwidth = "48"\n', "plates[1]: height"),
        (HEAD + DISC + '[[plates]]\nwidth = "48"\nheight = "0"\n', "plates[1]: height"),
        (HEAD + DISC + PLATE + "points = [[0, 0], [1, 0], [0, 1]]\n", "plates[1]"),
        (HEAD + DISC + "[[plates]]\npoints = [[0, 0], [9, 9], [9, 0], [0, 9]]\n", "plates[1]"),
        (HEAD + DISC + "[[plates]]\npoints = [[0, 0], [9, 9]]\n", "plates[1]: points"),
        (HEAD + DISC + PLATE + "holes = [{ x = 47, y = 5, diameter = 4 }]\n", "plates[1]: holes[1]"),
        (HEAD + DISC + PLATE + "holes = [{ x = 9, y = 9 }]\n", "plates[1]: holes[1]: left"),
        (HEAD + DISC + PLATE + 'diagonals = ["10", "20"]\n', "plates[1]: diagonals"),
        (HEAD + DISC + PLATE + 'diagonals = ["53"]\n', "plates[1]: diagonals"),
        (HEAD + DISC + PLATE + 'kind = "sheet"\n', "plates[1]: kind"),
        ("kerf = 2\n" + HEAD + DISC + PLATE, "kerf"),
        ("seed = -1\n" + HEAD + DISC + PLATE, "seed"),
        ('paper = "parchment"\n' + HEAD + DISC + PLATE, "paper"),
        ("parts = 3\n" + HEAD + PLATE, "parts"),
    ],
)
def test_faults_are_refused_where_they_are(text, where):
    found = refusals(text)
    assert any(k == f"job.toml: {where}" for k in found), found


def test_all_faults_of_a_file_come_together():
    text = HEAD + DISC + "quantity = 0\ntolerence = 1\n" + DISC + 'size = "x"\n' + PLATE + 'margin = "-1"\n'
    found = refusals(text)
    assert len(found) == 4
    assert 'did you mean "tolerance"' in found["job.toml: parts[1]: tolerence"]


def test_a_slip_in_the_writing_names_the_line():
    found = refusals(HEAD + "[[parts]\n")
    assert list(found) == ["job.toml: line 5"]
    assert "job.toml: line 2" in refusals('name = "x"\nthickness = 3/8\n')


def test_files_that_cannot_be_read(tmp_path):
    (tmp_path / "latin.toml").write_bytes('name = "Bj\xf6rn"'.encode("latin-1"))
    (tmp_path / "empty.toml").write_bytes(b"")
    (tmp_path / "zeros.toml").write_bytes(bytes(100))
    (tmp_path / "huge.toml").write_bytes(b"#" * 2_000_001)
    (tmp_path / "deep.toml").write_text("a = " + "[" * 5000 + "]" * 5000)
    (tmp_path / "digits.toml").write_text("seed = " + "9" * 5000)
    (tmp_path / "hex.toml").write_text("seed = 0x" + "f" * 9000)
    names = ["latin.toml", "empty.toml", "zeros.toml", "huge.toml", "deep.toml", "digits.toml", "hex.toml", "gone.toml"]
    for name in (*names, "", "a\x00b"):
        with pytest.raises(LaglineError) as e:
            read_job(tmp_path / name)
        assert all(f.message for f in e.value.findings)


def test_a_byte_order_mark_is_no_fault(tmp_path):
    (tmp_path / "j.toml").write_bytes(b"\xef\xbb\xbf" + (HEAD + DISC + PLATE).encode())
    assert read_job(tmp_path / "j.toml")[0].parts[0].name == "disc"


@pytest.mark.parametrize("said", ["true", '"yes"', '""', '"made safe"'])
def test_a_vessel_made_safe_must_say_how(said, tmp_path):
    text = f"closed_vessel = true\nvessel_made_safe = {said}\n" + VESSEL
    with pytest.raises(LaglineError) as e:
        job_from_text(text, tmp_path, "job.toml")
    assert any("how the vessel was made safe" in f.message for f in e.value.findings)


def test_a_vessel_made_safe_is_kept_and_only_counts_for_a_vessel(tmp_path):
    said = 'vessel_made_safe = "steamed out, vented, tested for gas by the chemist"\n'
    job, found = job_from_text("closed_vessel = true\n" + said + VESSEL, tmp_path, "job.toml")
    assert job.vessel_made_safe.startswith("steamed out")
    assert "vessel-unsaid" not in {f.code for f in found}
    assert "vessel-unsaid" in {f.code for f in job_from_text(said + VESSEL, tmp_path, "job.toml")[1]}


VESSEL = """units = "in"
stock = { metal = "steel", thickness = "3/8" }
parts = [{ shape = "rectangle", width = "4", height = "4" }]
plates = [{ width = "12", height = "12" }]
"""


def test_a_folder_is_called_a_folder(tmp_path):
    (tmp_path / "dir.dxf").mkdir()
    said = refusals(HEAD + '[[parts]]\nfile = "dir.dxf"\n' + PLATE, tmp_path)
    assert any('"dir.dxf" is a folder' in m for m in said.values())


def test_a_crossed_outline_is_not_silently_replaced_by_what_is_left(tmp_path):
    """A hole over the part's edge takes both away; the circle beside them is not the part."""
    circles = '<circle cx="100" cy="50" r="10"/><circle cx="200" cy="50" r="8"/>'
    head = '<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="100mm" viewBox="0 0 300 100">'
    (tmp_path / "p.svg").write_text(f'{head}<rect x="0" y="0" width="100" height="100"/>{circles}</svg>')
    part = '[[parts]]\nfile = "p.svg"\n'
    _, found = read(HEAD + part + PLATE, tmp_path)
    said = next(x for x in found if x.code == "outline-left-out")
    assert said.severity is Severity.NO_GO
    assert "cross or share an edge at (100" in said.message
    assert "may not be the part that was drawn" in said.message
    job, found = read(HEAD + part + "outline = 1\n" + PLATE, tmp_path)
    assert job.parts[0].outline.area == pytest.approx(math.pi * 64, rel=1e-2)
    assert "outline-left-out" not in {f.code for f in found}
    assert Severity.NO_GO in {f.severity for f in found}  # the crossing itself still stops the plan


def test_a_margin_that_leaves_nothing_is_named(tmp_path):
    plate = '[[plates]]\nwidth = "30"\nheight = "20"\nmargin = "15"\n'
    job, _ = read(HEAD + DISC + plate, tmp_path)
    blanks, found = intake(job)
    assert any("the margin leaves nothing" in f.message for f in found if f.code == "plate-all-margin")
    assert "larger than every plate" not in " ".join(f.message for f in found)
    laid = lay_out(blanks, job.plates, 5.0, seed=1, method="quick")
    assert any("the margin leaves nothing of A" in f.message for f in laid.findings)
