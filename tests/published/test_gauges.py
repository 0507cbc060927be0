"""Sheet gauges against the lists' own cross-checks."""

from __future__ import annotations

import pytest

from lagline.data import table
from lagline.records.errors import LaglineError
from lagline.trade.gauge import (
    LEGAL_LB_FT2_IN,
    MSG_LB_FT2_IN,
    gauge_finding,
    gauge_thickness_mm,
    wire_gauge_in,
)

ROWS = table("sheet_gauges").rows


@pytest.mark.parametrize("row", ROWS, ids=lambda r: r["gauge"])
def test_msg_weight_is_thickness_at_41_82(row):
    # Manufacturers' Standard Gauge: 41.82 lb/ft2 per inch (seen); both columns are printed, each to its last digit
    assert float(row["msg_in"]) * MSG_LB_FT2_IN == pytest.approx(float(row["msg_lb_ft2"]), abs=0.0005 + 0.00005 * 41.82)


@pytest.mark.parametrize("row", ROWS, ids=lambda r: r["gauge"])
def test_legal_weight_is_thickness_at_40(row):
    # 15 USC 206 (1893): plate at 40 lb/ft2 per inch (seen to gauge 21, beyond from memory)
    assert float(row["legal_in"]) * LEGAL_LB_FT2_IN == pytest.approx(float(row["legal_lb_ft2"]), abs=1e-9)


@pytest.mark.parametrize("row", [r for r in ROWS if r["aluminium_in"]], ids=lambda r: r["gauge"])
def test_aluminium_is_the_american_wire_gauge(row):
    # AWG = .005 x 92^((36 - n)/39): definition; the list prints three or four decimals
    decimals = len(row["aluminium_in"].split(".")[1])
    printed = float(row["aluminium_in"])
    assert wire_gauge_in(int(row["gauge"])) == pytest.approx(printed, abs=0.51 * 10**-decimals)


def test_wire_gauge_oracles():
    # 16 -> .05082, 10 -> .10190 (derived)
    assert wire_gauge_in(16) == pytest.approx(0.05082, abs=5e-6)
    assert wire_gauge_in(10) == pytest.approx(0.10190, abs=5e-6)


@pytest.mark.parametrize("row", [r for r in ROWS if r["galvanised_in"]], ids=lambda r: r["gauge"])
def test_galvanised_is_msg_plus_zinc(row):
    # galvanised = MSG + .0037 to .0038 (derived from the two printed lists)
    assert 0.00365 <= float(row["galvanised_in"]) - float(row["msg_in"]) <= 0.00385


@pytest.mark.parametrize(
    ("number", "metal", "coating", "inches"),
    [
        (10, "steel", "bare", 0.1345),
        (10, "steel", "paint", 0.1345),
        (10, "steel", "galvanised", 0.1382),
        (10, "stainless", "bare", 0.1406),
        (10, "aluminium", "bare", 0.1019),
        (16, "steel", "bare", 0.0598),
        (7, "steel", "bare", 0.1793),
        (26, "steel", "bare", 0.0179),
    ],
)
def test_the_metal_picks_the_list(number, metal, coating, inches):
    # printed lists, as in table sheet_gauges
    figure = gauge_thickness_mm(number, metal, coating)
    assert figure.value == pytest.approx(inches * 25.4)
    assert figure.unit == "mm"


def test_rolling_tolerance_is_the_spread():
    # MSG 10 ga: +/- .008 hot rolled, .006 cold rolled (seen): the wider is shown
    figure = gauge_thickness_mm(10, "steel")
    assert (figure.low, figure.high) == pytest.approx((0.1265 * 25.4, 0.1425 * 25.4))
    assert gauge_thickness_mm(20, "steel").half_spread == pytest.approx(0.003 * 25.4)


def test_one_number_two_meanings():
    # 16 ga is .0598 in by MSG but .0625 by the legal gauge (derived from both lists)
    (finding,) = gauge_finding(16, "steel")
    assert "0.0598" in finding.message
    assert "0.0625" in finding.message
    assert gauge_finding(16, "stainless") == ()


@pytest.mark.parametrize(("number", "metal"), [(15, "steel"), (0, "steel"), (7, "stainless"), (99, "aluminium")])
def test_a_number_not_listed_is_refused_with_the_list(number, metal):
    with pytest.raises(LaglineError) as e:
        gauge_thickness_mm(number, metal, where="job, thickness")
    finding = e.value.findings[0]
    assert finding.where == "job, thickness"
    assert "10" in finding.allowed


def test_a_metal_without_a_list_is_refused():
    with pytest.raises(LaglineError, match="copper"):
        gauge_thickness_mm(10, "copper")
