"""Cut quality against ISO 9013 and a printed worksheet on its 2002 edition."""

from __future__ import annotations

import math

import pytest

from lagline.data import table
from lagline.trade.quality import (
    face_angle_deg,
    perpendicularity,
    profile_reduction,
    range_of_angle,
    roughness,
    size_tolerance,
)

# printed worksheet on ISO 9013:2002: deviations in inches for ranges 1 to 5 at eight thicknesses (seen, recomputed)
WORKSHEET = {
    1.5: (0.0021, 0.0063, 0.0163, 0.0327, 0.0493),
    3.4: (0.0024, 0.0068, 0.0171, 0.0342, 0.0519),
    6.4: (0.0027, 0.0077, 0.0183, 0.0365, 0.0560),
    9.5: (0.0031, 0.0085, 0.0195, 0.0390, 0.0604),
    12.7: (0.0035, 0.0094, 0.0207, 0.0415, 0.0647),
    19.05: (0.0042, 0.0112, 0.0232, 0.0465, 0.0735),
    25.4: (0.0050, 0.0129, 0.0257, 0.0515, 0.0822),
    50.8: (0.0080, 0.0199, 0.0357, 0.0715, 0.1172),
}


@pytest.mark.parametrize("a", WORKSHEET)
@pytest.mark.parametrize("r", [1, 2, 3, 4, 5])
def test_forty_printed_deviations(a, r):
    # within 7e-5 in: the last printed digit and the worksheet's own rounding
    assert perpendicularity(a, r) / 25.4 == pytest.approx(WORKSHEET[a][r - 1], abs=7e-5)


def test_values_at_ten_millimetres():
    # at 10 mm: u 0.08 0.22 0.50 1.00 1.55 mm, Rz5 16 48 82 128 um (derived from the standard's formulas)
    assert [perpendicularity(10, r) for r in range(1, 6)] == pytest.approx([0.08, 0.22, 0.50, 1.00, 1.55])
    assert [roughness(10, r) for r in range(1, 5)] == pytest.approx([16, 48, 82, 128])
    assert roughness(10, 5) is None  # the standard has no range 5 for Rz5


@pytest.mark.parametrize(
    ("a", "da"),
    [(3, 0.3), (1.5, 0.15), (3.1, 0.3), (6, 0.3), (6.1, 0.6), (10, 0.6), (20, 1), (40, 1.5), (100, 2), (150, 3)],
)
def test_profile_reduction(a, da):
    # ISO 9013 table of profile reduction (from memory)
    assert profile_reduction(a) == pytest.approx(da)


@pytest.mark.parametrize(
    ("a", "angles"), [(25.4, (0.32, 0.84, 1.67, 3.34, 5.33)), (50.8, (0.25, 0.62, 1.11, 2.22, 3.64))]
)
def test_face_angles_with_both_edges_removed(a, angles):
    # derived: atan(u/(a - 2 da)), da 1.5 and 2
    assert [face_angle_deg(a, r) for r in range(1, 6)] == pytest.approx(angles, abs=0.005)


def test_class_1_values():
    # ISO 9013:2017 class 1 (seen), three corners and the middle of the table
    assert size_tolerance(0.8, 2, "1") == 0.075
    assert size_tolerance(8, 200, "1") == 0.35
    assert size_tolerance(120, 7000, "1") == 6.3
    assert size_tolerance(8, 2, "1") is None


def test_class_2_ceiling_rows():
    # +/- mm at 35-125 / 125-315 / 315-1000 / 1-2 m (seen)
    for t, row in {
        5: (0.9, 1.1, 1.2, 1.3),
        8: (1.3, 1.4, 1.5, 1.6),
        12: (1.8, 1.9, 2.3, 3.0),
    }.items():
        assert [size_tolerance(t, s) for s in (100, 200, 500, 1500)] == list(row)


def test_what_is_not_known_stays_blank_and_editions_do_not_mix():
    assert size_tolerance(25, 500) is None  # class 2 of 2017 over 20 mm is not known
    assert size_tolerance(60, 500) is None
    assert size_tolerance(60, 500, "2 of 2002") == 3.0  # 2002 edition (from memory)
    assert size_tolerance(25, 500, "2 of 2002") is None
    assert size_tolerance(2, 20) == 0.7
    assert size_tolerance(2, 20, "2 of 2002") == 0.5
    with pytest.raises(ValueError, match="class"):
        size_tolerance(10, 100, "3")


def test_boundaries_belong_to_the_row_below_and_the_column_above():
    # rows are "over .. up to", columns "from .. under"
    assert size_tolerance(6.3, 125) == 1.1
    assert size_tolerance(6.31, 124.9) == 1.3
    assert size_tolerance(10, 8000) is None


@pytest.mark.parametrize("name", ["iso9013_class1", "iso9013_class2", "iso9013_class2_2002"])
def test_tables_grow_with_size_and_thickness(name):
    rows = [[float(v) if v else math.nan for k, v in r.items() if "mm" not in k] for r in table(name).rows]
    for row in rows:
        known = [v for v in row if not math.isnan(v)]
        assert known == sorted(known)
    for column in zip(*rows, strict=True):
        known = [v for v in column if not math.isnan(v)]
        assert known == sorted(known)


def test_range_of_a_natural_bevel():
    # 3 deg on 12.7 mm: u limit of range 4 with both edges off is 1.054/10.7 mm, 5.6 deg; range 3 is 2.8 deg
    assert range_of_angle(12.7, 3.0) == 4
    assert range_of_angle(12.7, 2.5) == 3
    assert range_of_angle(12.7, 15.0) is None
