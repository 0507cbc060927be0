"""The coupon model's pace and kerf against printed tables: fitted on part, the rest predicted."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from lagline.data import table
from lagline.trade import coupon_model as m
from lagline.trade.coupon_model import Array
from lagline.trade.heat import cylinder_loss, half_loss
from lagline.trade.metals import hot_diffusivity, property_of
from lagline.trade.pace import AMBIENT_C
from lagline.trade.pace_check import Row

ROW_LN = 0.2  # how unlike one another printed rows of one metal are, in ln pace
EFFICIENCY_LN = (math.log(0.45), 0.3)  # 0.3 to 0.6: common practice, no source
LOSSES = ("whole", "half")


@lru_cache(maxsize=16)
def _curve(metal: str, loss: str) -> tuple[Array, Array]:
    """ln of heat wanted against ln of v k, since the heat a cut takes depends on nothing else."""
    g = {q: property_of(metal, q).value for q in ("density", "melt_heat", "hot_conductivity", "melt")}
    lost: Callable[[float], float] = cylinder_loss if loss == "whole" else half_loss
    ln_vk = np.linspace(math.log(1e-3), math.log(5e3), 260)
    heat = [
        vk * g["density"] * g["melt_heat"] * 1e-6
        + lost(vk / 2 / (hot_diffusivity(metal) * 1e6)) * g["hot_conductivity"] * 1e-3 * (g["melt"] - AMBIENT_C)
        for vk in np.exp(ln_vk).tolist()
    ]
    return np.log(np.array(heat)), ln_vk


def _ln_pace(rows: Sequence[Row], loss: str, ln_eff: float, falloff: float, ln_middle: float) -> Array:
    heat, vk = _curve(rows[0].metal, loss)
    ln_t = np.log([r.thickness_mm for r in rows])
    wanted = ln_eff - falloff * (ln_t - ln_middle) + np.log([r.power_w for r in rows]) - ln_t
    return np.asarray(np.interp(wanted, heat, vk) - np.log([r.kerf_mm for r in rows]))


def _fitted(rows: Sequence[Row], loss: str, ln_middle: float, learn_falloff: bool) -> tuple[float, float]:
    """Most likely ln efficiency and falloff under their priors."""
    seen = np.log([r.pace_mm_s for r in rows])
    (e0, es), (f0, fs) = EFFICIENCY_LN, m.FALLOFF_PRIOR
    x = np.array([e0, f0])
    free = 2 if learn_falloff else 1

    def residuals(x: Array) -> Array:
        out = (_ln_pace(rows, loss, x[0], x[1], ln_middle) - seen) / ROW_LN
        return np.concatenate([out, [(x[0] - e0) / es, (x[1] - f0) / fs]])

    for _ in range(40):
        e = residuals(x)
        slope = np.stack([(residuals(x + 1e-3 * np.eye(2)[i]) - e) / 1e-3 for i in range(free)], axis=1)
        step = np.linalg.lstsq(slope, -e, rcond=None)[0]
        x[:free] += np.clip(step, -0.4, 0.4)
        if float(np.abs(step).max()) < 1e-6:
            break
    return float(x[0]), float(x[1])


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A row predicted from all the others: ln(predicted/printed) by the balance, whole cylinder or leading half
    conducting, each without and with a falloff learned under its prior, and by three plain rules."""

    row: Row
    whole: float
    whole_bent: float
    half: float
    half_bent: float
    one_over_t: float
    power_over_t: float
    regression: float


def _predict(others: Sequence[Row], row: Row, loss: str, learn_falloff: bool) -> float:
    ln_middle = float(np.mean(np.log([r.thickness_mm for r in others])))
    e, f = _fitted(others, loss, ln_middle, learn_falloff)
    return float(_ln_pace([row], loss, e, f, ln_middle)[0])


def _rule(others: Sequence[Row], row: Row, columns: Callable[[Row], tuple[float, ...]], fixed: bool) -> float:
    """ln pace by a rule fitted on the others: a constant beside ``columns`` summed, or with a slope each."""
    a = np.array([columns(r) for r in others])
    y = np.log([r.pace_mm_s for r in others])
    if fixed:
        return float((y - a.sum(axis=1)).mean() + sum(columns(row)))
    full = np.column_stack([np.ones(len(a)), a])
    c = np.linalg.lstsq(full, y, rcond=None)[0]
    return float(c @ np.array([1.0, *columns(row)]))


def left_out(rows: Sequence[Row]) -> tuple[LeftOut, ...]:
    """Predict every row from the others of its metal. Linear regression is of ln pace on ln thickness and ln power."""

    def ln_t(r: Row) -> tuple[float, ...]:
        return (-math.log(r.thickness_mm),)

    def ln_pt(r: Row) -> tuple[float, ...]:
        return -math.log(r.thickness_mm), math.log(r.power_w)

    out = []
    for i, row in enumerate(rows):
        others = [*rows[:i], *rows[i + 1 :]]
        told = (
            *(_predict(others, row, loss, bent) for loss in LOSSES for bent in (False, True)),
            _rule(others, row, ln_t, True),
            _rule(others, row, ln_pt, True),
            _rule(others, row, ln_pt, False),
        )
        out.append(LeftOut(row, *(v - math.log(row.pace_mm_s) for v in told)))
    return tuple(out)


@dataclass(frozen=True, slots=True)
class KerfRow:
    """One run of the S235 plan: air [bar], current [A], pace [mm/min], kerf [mm]."""

    bar: float
    current_a: float
    pace_mm_min: float
    kerf_mm: float


def kerf_rows() -> tuple[KerfRow, ...]:
    """The 27 printed runs."""
    return tuple(
        KerfRow(*(float(r[c]) for c in ("pressure_bar", "current_a", "pace_mm_min", "kerf_mm")))
        for r in table("handbook_kerf").rows
    )


def kerf_model(others: Sequence[KerfRow], row: KerfRow) -> float:
    """Kerf [mm] of a run from the others by the coupon model's power laws under their priors; exact, as it is linear.

    ln k = ln k0 + kerf + kerf_current ln I + kerf_air ln p - kerf_pace ln v, about the middle of the others; k0
    has no prior here (bore and thickness are not printed).
    """

    def columns(r: KerfRow) -> list[float]:
        return [1.0, -math.log(r.pace_mm_min), math.log(r.current_a), math.log(r.bar)]

    a, y = np.array([columns(r) for r in others]), np.log([r.kerf_mm for r in others])
    middle = a.mean(axis=0) * [0, 1, 1, 1]
    prior = np.array([(0.0, 3.0), m.KERF_PACE_PRIOR, m.KERF_CURRENT_PRIOR, m.KERF_AIR_PRIOR])
    noise = 0.05  # how unlike the runs are beside smooth laws, in ln kerf
    full = np.concatenate([(a - middle) / noise, np.diag(1 / prior[:, 1])])
    seen = np.concatenate([y / noise, prior[:, 0] / prior[:, 1]])
    x = np.linalg.lstsq(full, seen, rcond=None)[0]
    return math.exp(float((np.array(columns(row)) - middle) @ x))


def kerf_regression(others: Sequence[KerfRow], row: KerfRow) -> float:
    """Kerf [mm] of a run from the others by plain linear regression on air, current and pace."""

    def columns(r: KerfRow) -> list[float]:
        return [1.0, r.bar, r.current_a, r.pace_mm_min]

    c = np.linalg.lstsq(np.array([columns(r) for r in others]), np.array([r.kerf_mm for r in others]), rcond=None)[0]
    return float(c @ np.array(columns(row)))


def kerf_mean(others: Sequence[KerfRow], row: KerfRow) -> float:
    """Kerf [mm] as the plain mean of the others: what a bench does that never changes its number."""
    del row
    return math.fsum(r.kerf_mm for r in others) / len(others)
