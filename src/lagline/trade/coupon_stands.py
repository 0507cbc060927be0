"""What a reading that does not fit does to the figures, once its user says that it stands."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from lagline.records.coupon import Coupon
from lagline.records.finding import Finding, Severity
from lagline.trade import coupon_model as m
from lagline.trade.coupon_model import Array, Condition, Gauss
from lagline.trade.coupon_outliers import Standing

TOLD = 0.2  # a figure is named when it moves by more than this share of its standard deviation
MOST = 3

Figure = tuple[str, str, Callable[[Array, Condition], Array]]
FIGURES: tuple[Figure, ...] = (
    ("pace", "{:.1f} in/min", lambda q, c: np.exp(m.ln_mid(q, c)) * 60 / 25.4),
    ("kerf", "{:.2f} mm", m.kerf_at),
    ("cup radius", "{:.2f} mm", lambda q, _: q[:, m.CUP]),
    ("bevel right", "{:.1f} degrees", lambda q, _: q[:, m.RIGHT]),
    ("bevel left", "{:.1f} degrees", lambda q, _: q[:, m.LEFT]),
    ("lag", "{:.1f} degrees", lambda q, _: np.degrees(np.exp(q[:, m.LAG]))),
    ("crater radius", "{:.1f} mm", lambda q, c: m.CRATER_RADII * c.thickness_mm * np.exp(q[:, m.CRATER])),
)


def shifts(condition: Condition, without: Gauss, given: Gauss) -> tuple[str, ...]:
    """Return the figures that a reading moved, most moved first, each as it is and as it was without the reading.

    How far is measured by the standard deviation of the figure without it: the figure's slope, times the covariance
    of the quantities.
    """
    h, was = 0.02 * without.sd(), without.mean
    around = np.concatenate([was[None], given.mean[None], was + np.diag(h), was - np.diag(h)])
    found = []
    for name, form, f in FIGURES:
        values = f(around, condition)
        before, now = float(values[0]), float(values[1])
        up, down = np.split(values[2:], 2)
        slope = (up - down) / (2 * h)
        moved = abs(now - before) / math.sqrt(max(float(slope @ without.cov @ slope), 1e-12))
        if moved > TOLD and form.format(now) != form.format(before):
            found.append((moved, f"{name} {form.format(now)}, without it {form.format(before)}"))
    return tuple(text for _, text in sorted(found, key=lambda x: -x[0])[:MOST])


def stands_note(coupon: Coupon, known: Standing, condition: Condition, without: Gauss, given: Gauss) -> Finding:
    """Return the note on readings that do not fit and count, because their user says so, with what they shifted."""
    moved = "; ".join(shifts(condition, without, given)) or "no figure moves by much"
    return Finding(
        "coupon-stands",
        Severity.NOTE,
        f"coupon {coupon.id}, {', '.join(known.labels)}",
        f"{known.misfit}; counted, as you said that it stands: {moved}",
        "take that back, or set it aside, if it is not right",
    )
