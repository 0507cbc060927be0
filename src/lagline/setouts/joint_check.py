"""How an asked joint stands to the details of a code or a standard: findings and tables."""

from __future__ import annotations

import math

from lagline.records.finding import Finding, Severity
from lagline.records.setout import Column, Table
from lagline.setouts.ask import Given
from lagline.trade.weld_details import Detail, Miss, Range, fit_up, for_joint, misses, nearest
from lagline.trade.weld_joint import Joint

BACKING = {
    "back": "with a backing bar",
    "gouge": "backgouge to sound metal before the second side (note d)",
    "spacer": "with a spacer bar between the halves, backgouged",
    "open": "open root",
}
SHOP = {"v": "V", "x": "double-V", "single-bevel": "single-bevel", "k": "double-bevel (K)", "square": "square"}
NAMES = {"aws": "AWS D1.1:2020 Fig. 5.1", "iso": "ISO 9692-1:2013"}


def _range(given: Given, r: Range, unit: str) -> str:
    def one(v: float) -> str:
        return f"{v:g} deg" if unit == "deg" else given.show(v)

    if math.isinf(r[1]):
        return f"{one(r[0])} or more"
    return one(r[0]) if r[1] - r[0] < 1e-9 else f"{one(r[0])} to {one(r[1])}"


def _missed(given: Given, m: Miss) -> str:
    value = f"{m.value:g} deg" if m.unit == "deg" else given.show(m.value)
    return f"{m.what} {value}, {_range(given, m.allowed, m.unit)} there"


def _ends(r: Range | None) -> tuple[float | str, float | str]:
    if r is None:
        return "", ""
    return round(r[0], 3), round(r[1], 3) if math.isfinite(r[1]) else ""


def details_table(j: Joint, rows: tuple[Detail, ...]) -> Table:
    """Every detail of this kind of joint, as a drawing may show it, and what of the asked joint lies outside."""
    columns = (
        Column("detail", "detail"), Column("position", "positions"), Column("gap_low_mm", "gap from", "mm"),
        Column("gap_high_mm", "to", "mm"), Column("land_low_mm", "land from", "mm"), Column("land_high_mm", "to", "mm"),
        Column("angle_low_deg", "angle from", "deg"), Column("angle_high_deg", "to", "deg"), Column("root", "root"),
        Column("asked", "this joint"), Column("source", "source"),
    )  # fmt: skip
    out = []
    for d in rows:
        outside = ", ".join(dict.fromkeys(m.what for m in misses(d, j)))
        angle = d.drawn_angle_deg or d.angle_deg
        out.append(
            (d.name, d.position, *_ends(d.drawn_gap_mm or d.gap_mm), *_ends(d.drawn_land_mm), *_ends(angle), d.backing,
             f"outside: {outside}" if outside else "within", f"{d.edition}, {d.tag}")
        )  # fmt: skip
    return Table("details", "Published details of this joint", columns, tuple(out), "Only what this table holds.")


def fit_up_table(j: Joint, rows: tuple[Detail, ...]) -> Table | None:
    """What gap and angle the joint may have once assembled, for every detail it is within; None when there is none."""
    out = []
    for d in rows:
        ranges = fit_up(d, j)
        if ranges is not None and not misses(d, j):
            out.append((d.name, *_ends(ranges[0]), *_ends(ranges[1]), f"{d.edition}, {d.tag}"))
    if not out:
        return None
    columns = (
        Column("detail", "detail"), Column("gap_low_mm", "gap from", "mm"), Column("gap_high_mm", "to", "mm"),
        Column("angle_low_deg", "angle from", "deg"), Column("angle_high_deg", "to", "deg"), Column("source", "source"),
    )  # fmt: skip
    return Table("fit_up", "As assembled, before the first weld", columns, tuple(out), "Measured on the tacked joint.")


def check(j: Joint, given: Given, place: str, where: str) -> tuple[tuple[Table, ...], tuple[Finding, ...]]:
    """Return the tables and the finding of the asked code; nothing for code none."""
    code, process = given.word("code"), given.word("process")
    if code == "none":
        return (), ()
    rows = for_joint(j, code, place, process)
    if not rows:
        message = f"no detail of a {SHOP[j.kind]} {place} joint by {process} is in the table of {NAMES[code]}"
        allowed = "look in the publication itself, or have the procedure qualified by test"
        return (), (Finding("detail-none", Severity.NOTE, where, message, allowed),)
    tables: tuple[Table, ...] = (details_table(j, rows),)
    fits = fit_up_table(j, rows)
    within = [d for d in rows if not misses(d, j)]
    if within:
        best = within[0]
        word = "the prequalified detail" if code == "aws" else "the range of"
        found = Finding(
            "detail-within", Severity.NOTE, where, f"within {word} {best.title}: {BACKING[best.backing]}",
            "prequalified only with the code's other rules too; the drawing and the engineer decide",
        )  # fmt: skip
        return tables + ((fits,) if fits else ()), (found,)
    close = nearest(j, rows)
    assert close is not None
    d, off = close
    word = "every prequalified detail in the table" if code == "aws" else "the ranges in the table"
    found = Finding(
        "detail-outside", Severity.CAUTION, where,
        f"outside {word}; nearest {d.title}: " + "; ".join(dict.fromkeys(_missed(given, m) for m in off)),
        f"change it to that ({BACKING[d.backing]}), or have the procedure qualified by test",
    )  # fmt: skip
    return tables, (found,)
