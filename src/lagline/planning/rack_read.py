"""An item for the rack, from named values, options or a form: by size, points, named shape or drawing."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path

from lagline.planning.fields import Fields, choice, read_notes, read_text, refused, shown
from lagline.planning.job_parts import Source
from lagline.planning.job_plates import read_plate
from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Finding
from lagline.records.geometry import Move
from lagline.records.rack import RackItem

MOST_WORTH = 1e6
_STOCK = ("metal", "grade", "thickness", "coating")
_OWN = ("units", "name", "heat", "place", "date", "worth", "note", "kind")
_NOT_HERE = (
    "margin", "mark", "stock", "factory_edges", "grain", "keep_out", "rack", "edges", "trim", "trim_width",
)  # fmt: skip
_DIAGONALS = 'diagonals "30, 30-1/16", from the lower left corner first'
_PAIR = re.compile(r"\s*([a-z_]{1,20})\s*=\s*(.{1,60}?)\s*", re.S)


def item_from_fields(
    data: Mapping[str, object], where: str, folder: Path, today: datetime.date, *, anywhere: bool = False
) -> tuple[RackItem, tuple[Finding, ...]]:
    """Return an item and notes on it; its lower left is put at (0, 0). Holes and bad areas may reach over its edge.

    Fields are those of a plate in a job file (``width`` and ``height``, with ``diagonals``, ``points``, ``shape`` or
    ``file``, ``holes``), with ``metal``, ``thickness``, ``grade``, ``coating``, ``units``, and what is the rack's own:
    ``kind`` (offcut unless told), ``name``, ``heat``, ``place``, ``date``, ``worth``, ``note``. Errors: LaglineError
    with every fault.
    """
    findings: list[Finding] = []
    f = Fields(data, where, findings)
    unit = f.take("units", choice("in", "mm"), "in")
    kind = f.take("kind", choice("plate", "offcut"), "offcut")
    name, heat, place = (f.take(k, read_text, "") for k in ("name", "heat", "place"))
    date = f.take("date", _date, today.isoformat())
    worth = f.take("worth", read_worth, None)
    note = f.take("note", read_notes, "")
    for key in _NOT_HERE:
        if key in data:
            f.refuse("field-unknown", key, "is not a field of the rack", "it belongs in the job file")
    stock = Fields({k: v for k, v in data.items() if k in _STOCK}, where, findings)
    rest = {k: v for k, v in data.items() if k not in (*_STOCK, *_OWN, *_NOT_HERE)}
    if isinstance(rest.get("diagonals"), str):
        rest["diagonals"] = _two(str(rest["diagonals"]))
    plate = read_plate(Fields(rest, where, findings), 1, stock, Source(folder, unit, anywhere), notched=True)
    findings = list(dict.fromkeys(_in_rack_words(n) for n in findings))
    if bad := refused(findings):
        raise LaglineError(*bad)
    assert plate is not None
    left, bottom, _, _ = plate.outline.bounds()
    outline = plate.outline if math.hypot(left, bottom) < 0.01 else Move(-left, -bottom).outline(plate.outline)
    item = RackItem("", kind, outline, plate.stock, name, heat, place, date, worth, note)
    return item, tuple(findings)


def _two(text: str) -> list[str]:
    return [t.strip() for t in re.split(r"[,;]", text)]


def _in_rack_words(found: Finding) -> Finding:
    """A finding of the reader of plates, in the words of the rack's options and form."""
    where = re.sub(r"holes\[(\d+)\]", r"hole \1", found.where)
    allowed = found.allowed
    if found.code == "square-unmeasured":
        allowed = f"tape both: {_DIAGONALS}"
    elif found.code == "plate-skew":
        allowed = "check the tape"
    elif found.code == "field-bad" and found.where.endswith(": diagonals"):
        allowed = _DIAGONALS
    return replace(found, where=where, allowed=allowed)


def holes_of(lines: Iterable[str], where: str) -> list[dict[str, object]]:
    """Return holes and bad areas written as ``x=4, y=5, diameter=2`` or ``left=0, bottom=3, width=2, height=1``."""
    out = []
    for n, line in enumerate((text for text in lines if text.strip()), 1):
        hole: dict[str, object] = {}
        for pair in re.split(r"[,;]", line):
            found = _PAIR.fullmatch(pair.lower())
            if found is None:
                allowed = "x=4, y=5, diameter=2; or left=0, bottom=3, width=2, height=1"
                raise refuse("field-bad", f"{where} {n}", f"{shown(line)} does not say where and how large", allowed)
            hole[found[1]] = found[2]
        out.append(hole)
    return out


def read_worth(given: object, where: str) -> float:
    """Read an amount of shop money, as a number or typed."""
    allowed = f"an amount from 0 to {MOST_WORTH:,.0f}, such as 12.50"
    if isinstance(given, str) and re.fullmatch(r"\s*\d{1,9}(?:\.\d{1,4})?\s*", given, re.ASCII):
        given = float(given)
    if isinstance(given, bool) or not isinstance(given, int | float) or not 0 <= given <= MOST_WORTH:
        raise refuse("field-bad", where, f"{shown(given)} is not an amount of money", allowed)
    assert math.isfinite(given)
    return float(given)


def _date(given: object, where: str) -> str:
    if isinstance(given, datetime.date) and not isinstance(given, datetime.datetime):
        return given.isoformat()
    try:
        return datetime.date.fromisoformat(given.strip() if isinstance(given, str) else "").isoformat()
    except ValueError:
        raise refuse("field-bad", where, f"{shown(given)} is not a date", "year-month-day, 2026-03-02") from None
