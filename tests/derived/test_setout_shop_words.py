"""An inch shop reads inches: what set-outs say in sentences, labels and pictures is in the shop's own unit."""

from __future__ import annotations

import re

import pytest

from lagline.cards.setout_picture import overlaps
from lagline.records.setout import SetOut
from tests.ask import ask

LONE_MM = re.compile(r"\d mm\b")


def _cells(s: SetOut) -> list[str]:
    """Words of the tables; what rounding costs is told in both units on purpose."""
    return [t for table in s.tables if table.key != "rounding" for row in table.rows for t in row if isinstance(t, str)]


def said(s: SetOut) -> list[str]:
    """Sentences, table words and what is written on pictures and sheets."""
    words = [s.title, *s.steps, *_cells(s)]
    words += [n.words for n in s.numbers]
    for d in (*s.sheets, *((s.picture,) if s.picture else ())):
        words += [t.text for t in d.texts] + [x.text for x in d.dims] + list(d.label)
    return words


ASKED = [
    ("guide", "arm", {"thickness": "3/8", "cut": "ring", "diameter": "14", "inside_diameter": "9"}),
    ("guide", "blocks", {"thickness": "3/8"}),
    ("guide", "template", {"thickness": "3/8", "shape": "gusset", "sizes": 'leg_across=8" leg_up=10"'}),
    ("hole", "verdict", {"thickness": "3/8", "diameter": "1-1/4", "use": "bolt"}),
    ("hole", "verdict", {"thickness": "3/8", "diameter": "3/8", "tolerance": "1/64"}),
    ("pipe", "header-hole", {"header_diameter": "6.625", "branch_diameter": "3.5"}),
    ("pipe", "saddle", {"header_diameter": "6.625", "branch_diameter": "3.5"}),
    ("pipe", "mitre", {"diameter": "4.5", "angle": "90"}),
    ("pipe", "turn", {"diameter": "4.5", "angle": "90", "pieces": "4", "radius": "9"}),
]


@pytest.mark.parametrize(("family", "name", "texts"), ASKED, ids=lambda a: a if isinstance(a, str) else "")
def test_no_millimetres_stand_alone_in_an_inch_shop(family, name, texts):
    s = ask(family, name, texts)
    for text in said(s):
        if LONE_MM.search(text):
            assert '"' in text, text  # millimetres beside the shop's own, for what is filed or printed
    assert all(overlaps(x, full_scale=True) == () for x in s.sheets)


@pytest.mark.parametrize(("family", "name", "texts"), ASKED, ids=lambda a: a if isinstance(a, str) else "")
def test_no_inches_in_a_metric_shop(family, name, texts):
    texts = {
        k: f"{v} in" if k.endswith(("diameter", "thickness", "tolerance", "radius")) else v for k, v in texts.items()
    }
    for text in said(ask(family, name, texts, units="mm")):
        assert not re.search(r'\d"', text), text


def test_a_gauge_block_has_its_cup_and_kerf_with_their_unit():
    (sheet,) = ask("guide", "blocks", {"thickness": "3/8", "cup_radius": "11.1 mm", "kerf": "2 mm"}).sheets
    keep = next(t.text for t in sheet.texts if t.text.startswith("KEEP"))
    assert 'R 7/16" (11.1 mm)' in keep.replace("~", "")
    assert "(2.0 mm)" in keep
    (metric,) = ask("guide", "blocks", {"thickness": "9.5", "cup_radius": "11.1", "kerf": "2"}, units="mm").sheets
    assert any("R 11.1 mm  kerf 2 mm" in t.text for t in metric.texts)


@pytest.mark.parametrize(("thickness", "word"), [("0.5", '"'), ("1/2", '"'), ("12.7 mm", "mm")])
def test_a_thickness_worked_out_is_told_in_the_unit_it_was_typed_in(thickness, word):
    s = ask("bevel", "cut", {"thickness": thickness, "angle": "45", "land": "1/8", "land_at": "both"})
    told = [f.where + f.message for f in s.findings if "steel" in f.where + f.message]
    t = ask("grating", "line", {"kind": "expanded", "thickness": thickness, "swd": "2", "lwd": "4", "strand": ".3",
                                "length": "24"})  # fmt: skip
    told += [f.where + f.message for f in t.findings if "steel" in f.where and "pierce" in f.message]
    assert told
    for text in told:
        place = text.split("steel", 1)[0] + text.split("steel", 1)[1][:12]
        assert word in place, text


def test_the_blocks_and_the_sides_are_named_in_their_pictures():
    for name, more in (("straight", ()), ("blocks", ("keep block", "drop block"))):
        picture = ask("guide", name, {"thickness": "3/8"}).picture
        assert picture is not None
        words = [t.text for t in picture.texts]
        for word in ("part", "drop", "guide"):
            assert words.count(word) == 2, (name, word)
        for word in more:
            assert word in words
        # a name of a side lies on that side's own metal, clear of the guide
        for t in picture.texts:
            for a in picture.areas:
                xs = [p[0] for p in a.points]
                ys = [p[1] for p in a.points]
                if min(xs) < t.at[0] < max(xs) and min(ys) < t.at[1] < max(ys) and a.kind != "paper":
                    assert (t.text, a.kind) in {("part", "metal"), ("drop", "waste"), ("guide", "guide"),
                                                ("guide", "metal"), ("guide", "waste")}  # fmt: skip
