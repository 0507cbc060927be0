"""Joint details of published codes and standards, as a table, and how an asked joint stands to them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from lagline.data import table
from lagline.trade.weld_joint import Joint

INCH_MM = 25.4
ISO = "iso"
AWS = "aws"
_SLACK = 1e-6
Range = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Detail:
    """One row: ranges [mm, deg], None where the table has none; tolerances as (minus, plus)."""

    edition: str
    name: str
    kind: str
    place: str
    process: str
    position: str
    thickness_mm: Range
    gap_mm: Range | None
    land_mm: Range | None
    angle_deg: Range | None
    land_plus_mm: float
    detailed_gap: Range | None
    detailed_angle: Range | None
    fit_gap: Range | None
    fit_angle: Range | None
    backing: str
    tag: str

    @property
    def code(self) -> str:
        return AWS if self.edition.startswith("AWS") else ISO

    @property
    def title(self) -> str:
        """Name, edition and tag, as a finding says it."""
        where = "" if self.position == "all" else f", {self.position}"
        return f"{self.name}{where} ({self.edition}, {self.tag})"

    @property
    def drawn_gap_mm(self) -> Range | None:
        """Gap that a drawing may show: the detail with its as-detailed tolerance."""
        return _widened(self.gap_mm, self.detailed_gap)

    @property
    def drawn_land_mm(self) -> Range | None:
        """Land that a drawing may show."""
        return _widened(self.land_mm, (0.0, self.land_plus_mm))

    @property
    def drawn_angle_deg(self) -> Range | None:
        """Groove angle that a drawing may show."""
        return _widened(self.angle_deg, self.detailed_angle)


def _widened(r: Range | None, by: Range | None) -> Range | None:
    return r if r is None or by is None else (max(0.0, r[0] - by[0]), r[1] + by[1])


@cache
def details() -> tuple[Detail, ...]:
    """Every row of table groove_details, lengths in millimetres."""
    out = []
    for row in table("groove_details").rows:
        mm = INCH_MM if row["unit"] == "in" else 1.0

        def pair(low: str, high: str, scale: float, row: dict[str, str] = row) -> Range | None:
            if not row[low] and not row[high]:
                return None
            return float(row[low] or 0) * scale, float(row[high] or "inf") * scale

        out.append(
            Detail(
                row["edition"], row["detail"], row["kind"], row["place"], row["process"], row["position"],
                pair("t_min", "t_max", mm) or (0.0, float("inf")),
                pair("gap_low", "gap_high", mm), pair("land_low", "land_high", mm),
                pair("angle_low", "angle_high", 1.0),
                float(row["detailed_land_plus"] or 0) * mm,
                pair("detailed_gap_minus", "detailed_gap_plus", mm),
                pair("detailed_angle_minus", "detailed_angle_plus", 1.0),
                pair("fit_gap_minus", "fit_gap_plus", mm), pair("fit_angle_minus", "fit_angle_plus", 1.0),
                row["backing"], row["tag"],
            )
        )  # fmt: skip
    return tuple(out)


def for_joint(j: Joint, code: str, place: str, process: str) -> tuple[Detail, ...]:
    """Rows of a code that are of this kind of joint, place and process, whatever their sizes."""
    return tuple(
        d
        for d in details()
        if d.code == code and d.kind == j.kind and d.place in (place, "any") and d.process in (process, "any")
    )


@dataclass(frozen=True, slots=True)
class Miss:
    """What of a joint lies outside a detail: ``gap``, ``land``, ``groove angle``, ``thickness``; value and range."""

    what: str
    value: float
    allowed: Range
    unit: str


def misses(d: Detail, j: Joint) -> tuple[Miss, ...]:
    """Return what a drawn joint has outside a detail, its as-detailed tolerances taken in; nothing when it conforms."""
    angles = [j.angle_deg] + ([j.second_deg] if j.second_mm else [])
    checks = [
        ("thickness", [j.thickness_mm], d.thickness_mm, "mm"),
        ("gap", [j.gap_mm], d.drawn_gap_mm, "mm"),
        ("land", [j.land_mm], d.drawn_land_mm, "mm"),
        ("groove angle", angles, d.drawn_angle_deg, "deg"),
    ]
    return tuple(
        Miss(what, v, allowed, unit)
        for what, values, allowed, unit in checks
        if allowed is not None
        for v in values
        if not allowed[0] - _SLACK <= v <= allowed[1] + _SLACK
    )


def _far(m: Miss) -> float:
    outside = max(m.allowed[0] - m.value, m.value - m.allowed[1])
    return outside / (5.0 if m.unit == "deg" else 1.5)


def nearest(j: Joint, rows: tuple[Detail, ...]) -> tuple[Detail, tuple[Miss, ...]] | None:
    """Return the detail that the joint misses least, and by what; None without any rows."""
    scored = [(d, misses(d, j)) for d in rows]
    return min(scored, key=lambda s: sum(map(_far, s[1])), default=None)


def fit_up(d: Detail, j: Joint) -> tuple[Range, Range] | None:
    """Gap [mm] and groove angle [deg] that the assembled joint may have, as drawn; None where the table has none."""
    if d.fit_gap is None or d.fit_angle is None:
        return None
    gap = max(0.0, j.gap_mm - d.fit_gap[0]), j.gap_mm + d.fit_gap[1]
    return gap, (j.angle_deg - d.fit_angle[0], j.angle_deg + d.fit_angle[1])
