"""Gouging against what is published or held by the trade; no figures for gouging with plasma are published."""

from __future__ import annotations

import math

import pytest

from lagline.desk.setout_desk import answer
from lagline.shapes.groove import Profile
from lagline.trade import gouge
from tests.kits import generic_kit

IN = 25.4
POWER = generic_kit().power


def test_energy_bound_of_the_groove() -> None:
    """A <= eta U I/(v rho h): energy balance, h 1.3 MJ/kg of iron (from memory), U of IEC 60974-1 (from memory)."""
    arc = (100 + 0.4 * 65) * 65
    assert gouge.arc_power(POWER, 65) == pytest.approx(arc)
    v = 30 * IN / 60
    bound = 0.7 * arc / (v * 7850e-9 * 1.3e6)
    assert gouge.one_pass("steel", 0.7 * arc, v, 20).area_mm2 < bound


@pytest.mark.parametrize("amps", [45, 65, 85])
def test_the_trades_passes_come_out(amps: float) -> None:
    """1/16 to 3/16 deep, 1/4 to 3/8 wide at 20 to 50 in/min: common practice, no source. Spreads must meet."""
    share = gouge.share_figure("steel", POWER)
    arc = gouge.arc_power(POWER, amps)
    passes = [
        gouge.one_pass("steel", eta * arc, ipm * gouge.IPM, angle)
        for eta in (share.low, share.value, share.high) for ipm in (20, 30, 40, 50) for angle in (15, 20, 25)
    ]  # fmt: skip
    inside = [p for p in passes if IN / 16 <= p.depth_mm <= IN * 3 / 16 and IN / 4 <= p.width_mm <= IN * 3 / 8]
    assert len(inside) >= len(passes) / 4
    middle = gouge.one_pass("steel", share.value * arc, 30 * gouge.IPM, 20)
    assert IN / 16 < middle.depth_mm < IN * 3 / 16


def test_what_the_trades_middle_pass_wants_of_the_arc() -> None:
    """1/8 deep, 5/16 wide at 30 in/min lies within the spread of the share at 65 A (common practice, no source)."""
    need = gouge.heat_needed("steel", 30 * gouge.IPM, IN * 5 / 16, IN / 8)
    assert gouge.SHARE.low < need / gouge.arc_power(POWER, 65) < gouge.SHARE.high
    assert need / gouge.arc_power(POWER, 65) == pytest.approx(0.52, abs=0.01)


def test_groove_of_a_u() -> None:
    """U of R 1/4, 20 deg a side, 1 deep: by hand, 2 (R cos a + (D - R (1 - sin a)) tan a) wide (geometry)."""
    a = math.radians(20)
    wide = 2 * (6.35 * math.cos(a) + (25.4 - 6.35 * (1 - math.sin(a))) * math.tan(a))
    assert Profile(6.35, 20).width(25.4) == pytest.approx(wide)


def test_past_the_ends_of_a_crack() -> None:
    """AWS D1.1:2015 5.25.1.4 (seen): the crack and sound metal 2 in [50 mm] beyond each end are removed."""
    texts = {"kind": "crack", "thickness": "1", "depth": "1/4", "length": "4"}
    made = answer("gouge", "groove", texts, kit=(generic_kit(), ()))
    assert made["whole_length_mm"] == pytest.approx(8 * IN)


def test_angles_and_ramps() -> None:
    """Strike 45 (35 to 45), wash 15 to 25, within 1/16 in, ends 1:2 to 1:4: common practice, no source."""
    made = answer("gouge", "groove", {"thickness": "1", "depth": "1/2", "length": "4"}, kit=(generic_kit(), ()))
    spread = {n.key: n.figure for n in made.numbers}
    assert (spread["start_angle_deg"].low, spread["start_angle_deg"].high) == (35, 45)
    assert (spread["working_angle_deg"].low, spread["working_angle_deg"].high) == (15, 25)
    assert spread["standoff_mm"].high == pytest.approx(IN / 16)
    assert spread["ramp_length_mm"].low == pytest.approx(IN)
    assert spread["ramp_length_mm"].high == pytest.approx(2 * IN)
    assert 20 <= made["pace_mm_s"] / gouge.IPM <= 50


def test_a_bead_of_weld_metal() -> None:
    """Steel 7850 kg/m3 (EN 1993-1-2, from memory): a fillet of leg z takes z^2/2 (AWS D1.1, geometry)."""
    texts = {"kind": "fillet", "thickness": "3/8", "leg": "3/8", "length": "10", "ends": "none"}
    made = answer("gouge", "groove", texts, kit=(generic_kit(), ()))
    z = 3 / 8 * IN
    whole = z * z / 2 * 254 * 7850e-9
    corner = made["corner_left_mm2"] * 254 * 7850e-9
    assert made["fill_kg"] == pytest.approx(whole - corner)
