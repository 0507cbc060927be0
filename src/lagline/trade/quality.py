"""Cut faces and sizes by ISO 9013: a ceiling on what a hand may promise, since it is written for machines."""

from __future__ import annotations

import math

from lagline.data import table
from lagline.trade.register import Limit, formula

_A = Limit("thickness_mm", 0.5, 150, "mm", "plasma in ISO 9013")
CLASS_TABLES = {
    "1": "iso9013_class1",
    "2": "iso9013_class2",
    "2 of 2002": "iso9013_class2_2002",
}


def _range_row(quality_range: int) -> dict[str, str]:
    for row in table("iso9013_ranges").rows:
        if int(row["range"]) == quality_range:
            return row
    raise ValueError(f"range must be 1 to 5, got {quality_range}")


@formula(
    "quality.perpendicularity",
    text="u = 0.05 + 0.003a | 0.15 + 0.007a | 0.4 + 0.01a | 0.8 + 0.02a | 1.2 + 0.035a",
    gives="perpendicularity or angularity limit of a range [mm]",
    source="ISO 9013:2017 (seen)",
    limits=(_A,),
)
def perpendicularity(thickness_mm: float, quality_range: int) -> float:
    """Limit of u for a range 1 to 5 at a thickness [mm]. [mm] Check: range 4 at 10 mm is 1.00 mm."""
    row = _range_row(quality_range)
    return float(row["u0_mm"]) + float(row["u1"]) * thickness_mm


@formula(
    "quality.roughness",
    text="Rz5 = 10 + 0.6a | 40 + 0.8a | 70 + 1.2a | 110 + 1.8a",
    gives="mean height of the profile of a range [um]",
    source="ISO 9013:2017 (seen)",
    limits=(_A,),
)
def roughness(thickness_mm: float, quality_range: int) -> float | None:
    """Limit of Rz5 for a range at a thickness [mm]. [um] None for range 5, which has none."""
    row = _range_row(quality_range)
    return float(row["r0_um"]) + float(row["r1_um_per_mm"]) * thickness_mm if row["r0_um"] else None


@formula(
    "quality.profile-reduction",
    text="da = 0.1a to 3 mm, then by table",
    gives="strip left out of the measurement at each edge [mm]",
    source="ISO 9013 (from memory)",
    limits=(Limit("thickness_mm", 0, 300, "mm"),),
)
def profile_reduction(thickness_mm: float) -> float:
    """Strip at top and bottom edge that u is not measured in, at a thickness [mm]. [mm]"""
    for row in table("iso9013_profile").rows:
        if float(row["above_mm"]) < thickness_mm <= float(row["to_mm"]):
            return float(row["reduction_mm"]) if row["reduction_mm"] else 0.1 * thickness_mm
    raise ValueError(f"thickness must be above 0 to 300 mm, got {thickness_mm}")


@formula(
    "quality.face-angle",
    text="angle = atan(u/(a - 2 da))",
    gives="face angle that uses up a u limit [deg]",
    source="ISO 9013 (da from memory), both edges removed (derived)",
    limits=(_A,),
)
def face_angle_deg(thickness_mm: float, quality_range: int) -> float:
    """Face angle that just uses up a range at a thickness [mm]. [deg]"""
    rest = thickness_mm - 2 * profile_reduction(thickness_mm)
    return math.degrees(math.atan(perpendicularity(thickness_mm, quality_range) / rest))


def range_of_angle(thickness_mm: float, angle_deg: float) -> int | None:
    """The best range a face at an angle [deg] still keeps at a thickness [mm]; None when not even the fifth."""
    return next((r for r in range(1, 6) if face_angle_deg(thickness_mm, r) >= angle_deg), None)


@formula(
    "quality.angularity",
    text="u = (a - 2 da) tan(angle)",
    gives="perpendicularity or angularity of a plane face [mm]",
    source="ISO 9013 (da from memory), both edges removed (derived); a curved or ridged face has more",
    limits=(_A, Limit("angle_deg", 0, 45, "deg", "beyond, it is a bevel and not a square cut")),
)
def angularity(thickness_mm: float, angle_deg: float) -> float:
    """u of a face that leans by an angle [deg] over a thickness [mm], without the strips at both edges. [mm]"""
    return (thickness_mm - 2 * profile_reduction(thickness_mm)) * math.tan(math.radians(abs(angle_deg)))


@formula(
    "quality.range-of-u",
    text="the first range of 1 to 5 whose limit u does not pass",
    gives="range of a face by its perpendicularity or angularity [1]",
    source="ISO 9013:2017 (seen)",
    limits=(_A,),
)
def range_of_u(thickness_mm: float, u_mm: float) -> int | None:
    """Range that a measured u [mm] keeps at a thickness [mm]; None when not even the fifth."""
    return next((r for r in range(1, 6) if u_mm <= perpendicularity(thickness_mm, r) + 1e-12), None)


@formula(
    "quality.range-of-roughness",
    text="the first range of 1 to 4 whose limit Rz5 does not pass",
    gives="range of a face by the mean height of its profile [1]",
    source="ISO 9013:2017 (seen)",
    limits=(_A,),
)
def range_of_roughness(thickness_mm: float, rz5_um: float) -> int | None:
    """Range that a measured Rz5 [um] keeps at a thickness [mm]; None when not even the fourth."""
    return next((r for r in range(1, 5) if rz5_um <= (roughness(thickness_mm, r) or 0.0) + 1e-9), None)


@formula(
    "quality.size-tolerance",
    text="limit deviation by thickness row and size column",
    gives="limit deviation, plus or minus [mm]",
    source="ISO 9013:2017 classes 1 and 2 (seen); ISO 9013:2002 class 2 (from memory) only when asked by name",
    limits=(_A, Limit("size_mm", 0, 8000, "mm")),
)
def size_tolerance(thickness_mm: float, size_mm: float, tolerance_class: str = "2") -> float | None:
    """Limit deviation for a thickness [mm] and nominal size [mm].

    Class ``1``, ``2`` (2017) or ``2 of 2002``. Returns plus or minus [mm], None where the table is blank or the
    edition's figures are not known. ValueError for a class that is not one of these.
    """
    if tolerance_class not in CLASS_TABLES:
        raise ValueError(f"class must be one of {', '.join(CLASS_TABLES)}, got {tolerance_class!r}")
    rows = table(CLASS_TABLES[tolerance_class]).rows
    row = next((r for r in rows if float(r["above_mm"]) < thickness_mm <= float(r["to_mm"])), None)
    if row is None or not 0 < size_mm < 8000:
        return None
    columns = [c for c in row if c not in ("above_mm", "to_mm")]
    column = max((c for c in columns if size_mm >= float(c)), key=float)
    return float(row[column]) if row[column] else None
