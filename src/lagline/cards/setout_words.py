"""How the answers of a set-out read: in the shop's units, with the other beside, and the spread where there is one."""

from __future__ import annotations

from lagline.records.figure import Figure
from lagline.records.length import show_length, show_pace
from lagline.records.setout import Column, Number, Table
from lagline.setouts.ask import shop_length

PSI_KPA, GALLON_L, CFM_L_MIN = 6.894757293, 3.785411784, 28.316846592
LB_KG, IN2_MM2, FT_MM, CM3_IN3 = 0.45359237, 645.16, 304.8, 16.387064


def _trim(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def shown(value: float, unit: str, units: str) -> str:
    """Return a value as the shop reads it; lengths to 1/64 in or 0.1 mm."""
    inches = units == "in"
    match unit:
        case "mm":
            return shop_length(value, units)
        case "deg":
            return f"{_trim(value, 1)}°"
        case "mm/s":
            return show_pace(value, units) if value > 0 else "0"
        case "s":
            return f"{_trim(value, 1)} s" if value < 120 else f"{_trim(value / 60, 1)} min"
        case "kg":
            return f"{_trim(value / LB_KG, 2)} lb" if inches else f"{_trim(value, 3)} kg"
        case "kg/m":
            return f"{_trim(value / LB_KG * FT_MM / 1000, 3)} lb/ft" if inches else f"{_trim(value, 3)} kg/m"
        case "mm2":
            return f"{_trim(value / IN2_MM2, 3)} in²" if inches else f"{_trim(value, 1)} mm²"
        case "cm3":
            return f"{_trim(value / CM3_IN3, 2)} in³" if inches else f"{_trim(value, 1)} cm³"
        case "kPa":
            return f"{_trim(value / PSI_KPA, 1)} psi" if inches else f"{_trim(value, 0)} kPa"
        case "L":
            return f"{value / GALLON_L:.3g} gal" if inches else f"{value:.3g} L"
        case "L/min":
            return f"{_trim(value / CFM_L_MIN, 1)} cfm" if inches else f"{_trim(value, 0)} L/min"
        case "C":
            return f"{_trim(value * 1.8 + 32, 0)} °F" if inches else f"{_trim(value, 0)} °C"
        case "":
            return f"{value:.6g}"
    return f"{value:.4g} {unit}"


def also(value: float, unit: str, units: str) -> str:
    """Return the value in the other units, "" where it has none."""
    if unit == "mm":
        return f"{value:.{1 if abs(value) >= 5 else 2}f} mm" if units == "in" else show_length(value, "in", 64)
    if unit in ("kg", "kg/m", "mm2", "cm3", "kPa", "L", "L/min", "C"):
        return shown(value, unit, "mm" if units == "in" else "in")
    return ""


def spread(figure: Figure, units: str) -> str:
    """Return ``11/32" to 17/32"`` where a figure has a spread, else ""."""
    if figure.high - figure.low <= 1e-9 * max(1.0, abs(figure.value)):
        return ""
    return f"{shown(figure.low, figure.unit, units)} to {shown(figure.high, figure.unit, units)}"


def head(column: Column, units: str) -> str:
    """Return a column's head with the unit its numbers are shown in."""
    unit = {"deg": "", "mm": "", "": "", "mm/s": "s per in" if units == "in" else "mm/s"}.get(column.unit)
    if unit is None:
        unit = ""
    return f"{column.head}, {unit}" if unit else column.head


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
