"""The generated pages hold every formula and printed row; the committed pace page shows the measured errors."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

from lagline.trade.metals import METALS
from lagline.trade.pace_check import check, mechanised_rows

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def pages():
    spec = importlib.util.spec_from_file_location("formula_pages", ROOT / "tools" / "formula_pages.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_every_formula_is_on_the_page(pages):
    text = pages.formulas_page()
    for f in pages.load_all():
        assert f"\n### {f.key}\n" in text
        assert f.source in text
    assert text == pages.formulas_page()


def test_the_committed_pace_page_shows_every_row_as_measured(pages):
    committed = (ROOT / "docs" / "pace.md").read_text(encoding="utf-8")
    for metal in METALS:
        for line in pages.error_table(check(mechanised_rows(metal))):
            assert line in committed
    assert committed.count(" manual") >= 10
    assert "0.647" in committed
