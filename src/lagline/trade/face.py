"""A cut face read off a coupon: its lean, the u of ISO 9013 that follows with its uncertainty, and the ranges it may
be in. The ranges are written for machines: they say how good the face is, not what a hand has to reach."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.records.coupon import Coupon
from lagline.trade.quality import profile_reduction, range_of_u
from lagline.trade.register import Limit, formula
from lagline.trade.uncertainty import Source, propagate

GAP_U_MM = 0.12  # reading a gap under a square with feelers or a rule; common practice, no source
THICKNESS_SHARE = 0.02  # plate against its nominal; common practice, no source


@dataclass(frozen=True, slots=True)
class FaceGrade:
    """One face: lean [deg], u and its plus or minus for 95 % [mm], best and worst range it may be in (None: beyond
    the fifth)."""

    lean_deg: float
    u_mm: float
    u_plus_minus_mm: float
    best: int | None
    worst: int | None


@formula(
    "face.grade",
    text="u = gap (t - 2 da)/t, spread by the law of propagation from gap 0.12 mm and t 2 %",
    gives="u of a plane face with its plus or minus for 95 %, and the ranges it may be in [mm]",
    source="ISO 9013:2017 ranges (seen), da from memory; reading errors: common practice, no source",
    limits=(Limit("thickness_mm", 0.5, 150, "mm", "plasma in ISO 9013"),),
)
def grade_face(gap_mm: float, thickness_mm: float) -> FaceGrade:
    """Grade a face by the gap under a square over the whole thickness [mm], either way, and the thickness [mm].

    Validity: a plane face; a curved one has more u than its gap says, so the range is the best it can be.
    """
    da = profile_reduction(thickness_mm)
    got = propagate(
        lambda x: x[0] * (x[1] - 2 * da) / x[1],
        (Source("gap", abs(gap_mm), GAP_U_MM), Source("thickness", thickness_mm, THICKNESS_SHARE * thickness_mm)),
    )
    spread = got.expanded(0.95)
    return FaceGrade(
        math.degrees(math.atan2(gap_mm, thickness_mm)),
        got.value,
        spread,
        range_of_u(thickness_mm, max(0.0, got.value - spread)),
        range_of_u(thickness_mm, got.value + spread),
    )


def faces_of(coupon: Coupon) -> tuple[tuple[int, str, FaceGrade], ...]:
    """Return the graded faces of a coupon: number of the cut from 1, ``right`` or ``left`` of travel, grade.

    Measurements set aside are left out, and so is a plate outside the standard's range.
    """
    if not 0.5 <= coupon.thickness_mm <= 150:
        return ()
    return tuple(
        (n, side, grade_face(gap, coupon.thickness_mm))
        for n, cut in enumerate(coupon.cuts, 1)
        for side, gap in (("right", cut.gap_right_mm), ("left", cut.gap_left_mm))
        if gap is not None and f"cuts[{n - 1}].gap_{side}_mm" not in coupon.set_aside
    )


def said(g: FaceGrade) -> str:
    """Return a grade in words."""
    best, worst = (f"range {r}" if r is not None else "beyond range 5" for r in (g.best, g.worst))
    graded = best if best == worst else f"{best} to {worst.removeprefix('range ')}"
    return f"leans {g.lean_deg:.1f} deg, u {g.u_mm:.2f} mm (plus or minus {g.u_plus_minus_mm:.2f}): ISO 9013 {graded}"
