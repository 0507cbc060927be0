"""GUM example H.1, calibration of an end gauge (JCGM 100:2008, annex H), to its printed values."""

from __future__ import annotations

import math

import pytest

from lagline.trade.uncertainty import Source, coverage_factor, propagate, rectangular

# nm and 1/degC; table H.1. The thermometer's cyclic variation is an arcsine of amplitude 0.5 degC: u = 0.5/sqrt(2).
SOURCES = (
    Source("standard", 50_000_623, 25, 18),
    Source("difference, repeated readings", 215, 5.8, 24),
    Source("comparator, random", 0, 3.9, 5),
    Source("comparator, systematic", 0, 6.7, 8),
    Source("expansion of the standard", 11.5e-6, rectangular(2e-6)),
    Source("difference in expansion", 0, rectangular(1e-6), 50),
    Source("difference in temperature", 0, rectangular(0.05), 2),
    Source("temperature of the bed", -0.1, math.hypot(0.2, 0.5 / math.sqrt(2))),
)


def length_nm(x):
    standard, read, random, systematic, alpha, d_alpha, d_theta, theta = x
    return standard + read + random + systematic - standard * (d_alpha * theta + alpha * d_theta)


def test_value_and_components_as_printed():
    got = propagate(length_nm, SOURCES)
    assert got.value == pytest.approx(50_000_838, abs=0.5)
    assert round(got.u) == 32
    printed = {
        "standard": 25,
        "difference, repeated readings": 5.8,
        "comparator, random": 3.9,
        "comparator, systematic": 6.7,
        "expansion of the standard": 0,
        "difference in expansion": 2.9,
        "difference in temperature": 16.6,
        "temperature of the bed": 0,
    }
    for part in got.components:
        assert abs(part.u) == pytest.approx(printed[part.name], abs=0.05)


def test_degrees_of_freedom_and_expanded_as_printed():
    got = propagate(length_nm, SOURCES)
    assert math.floor(got.dof) == 16  # printed 16.7, truncated to 16
    assert got.dof == pytest.approx(16.75, abs=0.1)
    assert coverage_factor(0.99, got.dof) == pytest.approx(2.92, abs=0.005)
    # printed 93 nm is 2.92 times the rounded 32 nm; unrounded it is 92.5
    assert coverage_factor(0.99, got.dof) * round(got.u) == pytest.approx(93, abs=0.5)
    assert got.expanded(0.99) == pytest.approx(93, abs=0.6)


def test_second_order_as_printed():
    got = propagate(length_nm, SOURCES, second_order=True)
    assert round(got.u) == 34
    # the two added terms are printed as 11.7 and 1.7 nm (H.1.7)
    first = propagate(length_nm, SOURCES).u
    assert math.sqrt(got.u**2 - first**2) == pytest.approx(math.hypot(11.7, 1.7), abs=0.1)


@pytest.mark.parametrize(
    ("share", "dof", "k"),
    # JCGM 100:2008 table G.2, t-distribution (from memory)
    [(0.95, 1, 12.71), (0.95, 10, 2.23), (0.99, 16, 2.92), (0.6827, 5, 1.11), (0.9545, math.inf, 2.00)],
)
def test_coverage_factors_of_table_g2(share, dof, k):
    assert coverage_factor(share, dof) == pytest.approx(k, abs=0.006)
