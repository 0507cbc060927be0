"""The pace model against printed handbook rows: for each the efficiency it wants and its error when left out."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from lagline.data import table
from lagline.trade.kerf import BORES, band_by_current
from lagline.trade.pace import INCH_MM, heat_needed, load_voltage, pace_from_heat

# Where a row prints no orifice, its bore is taken from the rows that do, by current (handbook_pace), and below
# 250 A from the middle of the hand torch band. Where it prints no current, 70 A as in the same book's air rows.
_ORIFICE = ((250.0, 3.2), (300.0, 3.2), (400.0, 4.0), (500.0, 4.8), (750.0, 6.4))
ASSUMED_AIR_A = 70.0


@dataclass(frozen=True, slots=True)
class Row:
    """One printed cutting condition, as the model sees it; ``assumed`` names what the print leaves open."""

    label: str
    metal: str
    thickness_mm: float
    pace_mm_s: float
    kerf_mm: float
    power_w: float
    assumed: str = ""


@dataclass(frozen=True, slots=True)
class Check:
    """A row with its errors ln(model/printed) when left out of the fit: heat balance, power over t, 1 over t."""

    row: Row
    wants: float  # efficiency that would fit the row exactly
    balance: float
    power_over_t: float
    one_over_t: float


def mechanised_rows(metal: str) -> tuple[Row, ...]:
    """The handbook's mechanised rows of a metal: bore and power printed, kerf 1.5 bores."""
    return tuple(
        Row(
            f"{r['thickness_mm']} mm, {r['current_a']} A",
            metal,
            float(r["thickness_mm"]),
            float(r["pace_in_min"]) * INCH_MM / 60,
            BORES * float(r["orifice_mm"]),
            float(r["power_kw"]) * 1000,
        )
        for r in table("handbook_pace").rows
        if r["metal"] == metal
    )


def _assumed_kerf(current_a: float) -> float:
    if current_a <= 105:
        return sum(band_by_current(current_a)) / 2
    points = ((105.0, sum(band_by_current(105)) / 2 / BORES), *_ORIFICE)
    for (i0, b0), (i1, b1) in zip(points, points[1:], strict=False):  # noqa: RUF007
        if current_a <= i1:
            return BORES * (b0 + (b1 - b0) * (current_a - i0) / (i1 - i0))
    return BORES * points[-1][1]


def aluminium_rows() -> tuple[Row, ...]:
    """The second book's aluminium rows, manual and mechanised, with what had to be assumed said in each."""
    rows = []
    for r in table("handbook_aluminium").rows:
        amps = float(r["current_a"] or ASSUMED_AIR_A)
        volts = float(r["voltage_v"] or load_voltage(amps))
        kerf = _assumed_kerf(amps)
        assumed = [f"kerf {kerf:.1f} mm"]
        if not r["current_a"]:
            assumed.append(f"{amps:.0f} A")
        if not r["voltage_v"]:
            assumed.append(f"{volts:.0f} V")
        label = f"{r['thickness_mm']} mm, {r['gas']}, {r['current_a'] or '-'} A, {r['method']}"
        if r["flag"]:
            label += f" ({r['flag']})"
        pace = float(r["pace_mm_min"]) / 60
        rows.append(Row(label, "aluminium", float(r["thickness_mm"]), pace, kerf, volts * amps, ", ".join(assumed)))
    return tuple(rows)


def model_pace(row: Row, share: float) -> float:
    """Pace of the heat balance for a row at an efficiency. [mm/s]"""
    return pace_from_heat(row.metal, share * row.power_w / row.thickness_mm, row.kerf_mm)


def wanted_efficiency(row: Row) -> float:
    """Efficiency at which the balance gives exactly the printed pace. [-]"""
    return heat_needed(row.metal, row.pace_mm_s, row.kerf_mm) * row.thickness_mm / row.power_w


def _error(row: Row, share: float) -> float:
    return math.log(model_pace(row, share) / row.pace_mm_s)


def fitted_efficiency(rows: tuple[Row, ...], start: float = 0.0) -> float:
    """One efficiency for all rows, least squares in the logarithm of pace. [-] Not held below 1: it is a fit.

    ``start`` is a first guess, 0 for the mean of what the rows want.
    """
    x = math.log(start) if start else math.fsum(math.log(wanted_efficiency(r)) for r in rows) / len(rows)
    for _ in range(60):
        errors = [_error(r, math.exp(x)) for r in rows]
        slopes = [(_error(r, math.exp(x + 1e-4)) - e) / 1e-4 for r, e in zip(rows, errors, strict=True)]
        step = math.fsum(e * s for e, s in zip(errors, slopes, strict=True)) / math.fsum(s * s for s in slopes)
        x -= max(-0.3, min(0.3, step))
        if abs(step) < 1e-4:
            break
    return math.exp(x)


def _left_out(rows: tuple[Row, ...], invariant: Callable[[Row], float]) -> tuple[float, ...]:
    """Errors of a rule that says ln(invariant) is one constant, each row left out in turn."""
    logs = [math.log(invariant(r)) for r in rows]
    total = math.fsum(logs)
    return tuple((total - x) / (len(logs) - 1) - x for x in logs)


def check(rows: tuple[Row, ...]) -> tuple[Check, ...]:
    """Errors of each row when its efficiency is fitted on all the others, beside two plain rules done the same way."""
    by_power = _left_out(rows, lambda r: r.pace_mm_s * r.thickness_mm / r.power_w)
    by_t = _left_out(rows, lambda r: r.pace_mm_s * r.thickness_mm)
    near = fitted_efficiency(rows)
    return tuple(
        Check(row, wanted_efficiency(row), _error(row, fitted_efficiency(rows[:i] + rows[i + 1 :], near)), p, t)
        for i, (row, p, t) in enumerate(zip(rows, by_power, by_t, strict=True))
    )


def rms(errors: tuple[float, ...]) -> float:
    """Root mean square of logarithmic errors. [-]"""
    return math.sqrt(math.fsum(e * e for e in errors) / len(errors))
