"""How the answers of a set-out read: in the shop's units, with the other beside, and the spread where there is one."""

from __future__ import annotations

from dataclasses import dataclass

from lagline.records.figure import Figure
from lagline.records.length import show_length, show_pace
from lagline.records.setout import Column, Number, Table
from lagline.setouts.ask import shop_length

LB_KG, PSI_KPA, GALLON_L, CFM_L_MIN = 0.45359237, 6.894757293, 3.785411784, 28.316846592


@dataclass(frozen=True, slots=True)
class _Pair:
    """A unit of ours, the inch shop's for it, and how large that is in ours; decimals shown of either."""

    metric: str
    inch: str
    size: float
    decimals: int
    inch_decimals: int
    from_zero: float = 0.0  # what the inch shop's scale shows where ours shows nought


_PAIRS = {
    "kg": _Pair("kg", "lb", LB_KG, 3, 2),
    "kg/m": _Pair("kg/m", "lb/ft", LB_KG / 0.3048, 2, 2),
    "mm2": _Pair("mm²", "in²", 645.16, 1, 3),
    "cm3": _Pair("cm³", "in³", 16.387064, 1, 2),
    "kPa": _Pair("kPa", "psi", PSI_KPA, 0, 1),
    "L": _Pair("L", "gal", GALLON_L, 2, 2),
    "L/min": _Pair("L/min", "cfm", CFM_L_MIN, 0, 1),
    "C": _Pair("°C", "°F", 5 / 9, 0, 0, 32.0),
}


def _trim(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def shown(value: float, unit: str, units: str) -> str:
    """Return a value as the shop reads it; lengths to 1/64 in or 0.1 mm."""
    if (pair := _PAIRS.get(unit)) is not None:
        if units == "in":
            return f"{_trim(value / pair.size + pair.from_zero, pair.inch_decimals)} {pair.inch}"
        return f"{_trim(value, pair.decimals)} {pair.metric}"
    match unit:
        case "mm":
            return shop_length(value, units)
        case "deg":
            return f"{_trim(value, 1)}°"
        case "mm/s":
            return show_pace(value, units) if value > 0 else "0"
        case "s":
            return f"{_trim(value, 1)} s" if value < 120 else f"{_trim(value / 60, 1)} min"
        case "":
            return f"{value:.6g}" if value == round(value) else f"{value:.3g}"
    return f"{value:.6g} {unit}" if value == round(value) else f"{value:.3g} {unit}"


def also(value: float, unit: str, units: str) -> str:
    """Return the value in the other units, "" where it has none."""
    if unit == "mm":
        if units == "in" and shown(value, unit, units).endswith("mm"):
            return ""  # too small for a rule's marks: said in millimetres already
        return f"{value:.{1 if abs(value) >= 5 else 2}f} mm" if units == "in" else show_length(value, "in", 64)
    return shown(value, unit, "mm" if units == "in" else "in") if unit in _PAIRS else ""


def spread(figure: Figure, units: str) -> str:
    """Return ``11/32" to 17/32"`` where a figure has a spread, else ""."""
    low, high = (shown(v, figure.unit, units) for v in (figure.low, figure.high))
    return "" if low == high else f"{low} to {high}"


def head(column: Column, units: str) -> str:
    """Return a column's head with the unit its numbers are shown in."""
    if column.unit != "mm/s":
        return column.head
    return f"{column.head}, {'s per in' if units == 'in' else 'mm/s'}"


def cell(value: float | str, column: Column, units: str) -> str:
    """Return one cell of a table."""
    if isinstance(value, str):
        return value
    if column.unit == "mm/s":
        return _trim(25.4 / value, 1) if units == "in" and value > 0 else _trim(value, 1)
    return shown(value, column.unit, units)


def rows(table: Table, units: str) -> tuple[tuple[str, ...], ...]:
    """Return the table's cells as text."""
    return tuple(tuple(cell(v, c, units) for v, c in zip(r, table.columns, strict=True)) for r in table.rows)


def line(n: Number, units: str) -> str:
    """Return a number in one line: what it is, the value, the other unit and the spread in brackets."""
    f = n.figure
    more = [x for x in (also(f.value, f.unit, units), spread(f, units)) if x]
    return f"{n.words}: {shown(f.value, f.unit, units)}" + (f" ({'; '.join(more)})" if more else "")
