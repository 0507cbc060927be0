"""Meshes against what is printed of them."""

from __future__ import annotations

import pytest

from lagline.desk.setout_desk import answer
from lagline.trade import grating
from tests.kits import generic_kit

IN = 25.4
LB_FT2 = 40.8  # steel plate 1 in thick, lb/ft2: 489.6 lb/ft3 (AISC, from memory)


def test_marking_19w4() -> None:
    """19W4: bearing bars at 19/16 in, cross rods at 4 in (NAAMM standard marking, seen); a yard across meets 31."""
    texts = {"kind": "bar", "thickness": "1", "length": "36", "pitch": "1-3/16", "bar": "3/16"}
    made = answer("grating", "line", texts, kit=(generic_kit(), ()))
    assert made["starts"] == 31  # bars at 0, 19/16, ... 30 x 19/16 = 35.6 in


def test_bars_in_a_foot() -> None:
    """Bars 7/16 in apart: 27.429 bars per foot of width (a printed width table of close-mesh grating, seen)."""
    mesh = grating.bar_grating(7 / 16 * IN, 3 / 16 * IN, 4 * IN, IN / 4)
    feet = 100
    met = grating.line_at(mesh, 90, 2 * IN, feet * 12 * IN)
    assert (met.starts - 1) / feet == pytest.approx(27.429, abs=0.01)


@pytest.mark.parametrize(
    ("bar_in", "deep_in", "lb_ft2"), [(3 / 16, 1.0, 7.3), (1 / 8, 1.0, 5.1), (3 / 16, 1.5, 10.6), (3 / 16, 2.0, 13.9)]
)
def test_weight_of_bar_grating(bar_in: float, deep_in: float, lb_ft2: float) -> None:
    """19-W-4 weights lb/ft2 (a steel merchant's table, seen). Bars by the mesh, rods 1/4 in square (from memory)."""
    bars = grating.bar_grating(19 / 16 * IN, bar_in * IN, 1e5, 1e-3)
    rods = grating.bar_grating(4 * IN, IN / 4, 1e5, 1e-3)
    weight = LB_FT2 * (grating.metal_share(bars) * deep_in + grating.metal_share(rods) / 4)
    assert weight == pytest.approx(lb_ft2, rel=0.08)


def test_weight_of_expanded_metal() -> None:
    """3/4 in No. 9 raised: SWD 0.923, LWD 2.00, strand 0.150 by 0.134 in, 1.80 lb/ft2 (EMMA 557, from memory)."""
    mesh = grating.expanded(0.923 * IN, 2 * IN, 0.150 * IN)
    assert LB_FT2 * 0.134 * grating.metal_share(mesh) == pytest.approx(1.80, rel=0.03)


def test_slit_and_drawn_sheet_keeps_its_metal() -> None:
    """A diamond of the short way takes two strands of sheet: share 2 w/SWD (how it is made; strands taken straight)."""
    for swd, lwd, strand in ((0.923, 2.0, 0.150), (1.33, 5.33, 0.312), (0.462, 1.0, 0.087)):
        assert grating.metal_share(grating.expanded(swd, lwd, strand)) == pytest.approx(2 * strand / swd, rel=0.12)
