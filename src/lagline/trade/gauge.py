"""Sheet gauges: which thickness a number means depends on the metal, and for one number on whom you ask."""

from __future__ import annotations

from lagline.data import table
from lagline.records.errors import refuse
from lagline.records.figure import Basis, Figure
from lagline.records.finding import Finding, Severity
from lagline.trade.metals import METALS
from lagline.trade.register import Limit, formula

INCH_MM = 25.4
MSG_LB_FT2_IN = 41.82
LEGAL_LB_FT2_IN = 40.0
_SYSTEMS = {
    "msg": "Manufacturers' Standard Gauge",
    "galvanised": "galvanised sheet gauge",
    "stainless": "stainless sheet gauge",
    "aluminium": "American wire gauge",
    "legal": "15 USC 206",
}


def system_of(metal: str, coating: str = "bare") -> str:
    """The gauge system a number is read in: ``msg``, ``galvanised``, ``stainless`` or ``aluminium``."""
    if metal not in METALS:
        raise refuse("metal-unknown", "metal", f"'{metal}' is not a metal in the gauge table", ", ".join(METALS))
    if metal == "steel":
        return "galvanised" if coating == "galvanised" else "msg"
    return metal


def _inches(number: int, system: str, where: str) -> float:
    rows = {int(r["gauge"]): r[f"{system}_in"] for r in table("sheet_gauges").rows}
    listed = tuple(str(n) for n, text in rows.items() if text)
    if not rows.get(number):
        raise refuse("gauge-unknown", where, f"{number} ga is not in the list of {_SYSTEMS[system]}", ", ".join(listed))
    return float(rows[number])


@formula(
    "gauge.thickness",
    text="inches from the metal's gauge list, times 25.4",
    gives="sheet thickness of a gauge number [mm]",
    source="table sheet_gauges",
    limits=(Limit("number", 7, 26, "ga"),),
)
def gauge_thickness_mm(number: int, metal: str, coating: str = "bare", where: str = "thickness") -> Figure:
    """Thickness of a gauge number for a metal, in the system that metal is sold by. [mm]

    Steel by the Manufacturers' Standard Gauge, galvanised by its own list, stainless by its own, aluminium by
    the American wire gauge. Spread is the rolling tolerance of the steel list (the wider of hot and cold
    rolled); the other lists carry none, so they show the steel's. Refuses a number that is not listed.
    """
    system = system_of(metal, coating)
    inches = _inches(number, system, where)
    row = next(r for r in table("sheet_gauges").rows if int(r["gauge"]) == number)
    tolerance = max(float(row[c]) for c in ("hot_tol_in", "cold_tol_in") if row[c])
    note = "" if system == "msg" else ", rolling tolerance as for steel"
    return Figure(
        inches * INCH_MM,
        (inches - tolerance) * INCH_MM,
        (inches + tolerance) * INCH_MM,
        "mm",
        "gauge.thickness",
        Basis.STANDARD,
        f"{_SYSTEMS[system]}{note}",
        (("gauge", str(number)), ("metal", metal), ("coating", coating)),
    )


def gauge_finding(number: int, metal: str, coating: str = "bare", where: str = "thickness") -> tuple[Finding, ...]:
    """Say when a gauge number also means another thickness by the legal gauge of 15 USC 206."""
    system = system_of(metal, coating)
    own, legal = _inches(number, system, where), _inches(number, "legal", where)
    if abs(own - legal) < 0.0005:
        return ()
    return (
        Finding(
            "gauge-two-meanings",
            Severity.CAUTION,
            where,
            f"{number} ga is {own:.4f} in by {_SYSTEMS[system]} and {legal:.4f} in by {_SYSTEMS['legal']}; "
            f"{own:.4f} in is used",
            "ask which one the plate was sold by, and measure it",
        ),
    )


@formula(
    "gauge.wire",
    text="d = .005 x 92^((36 - n)/39)",
    gives="American wire gauge thickness [in]",
    source="definition of the American wire gauge (derived)",
    limits=(Limit("number", 0, 40, "ga"),),
)
def wire_gauge_in(number: int) -> float:
    """Thickness of an American wire gauge number. [in] Check: 16 gives .05082, 10 gives .10190."""
    return float(0.005 * 92 ** ((36 - number) / 39))
