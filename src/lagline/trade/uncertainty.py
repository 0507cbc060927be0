"""How uncertain a result is, from how uncertain what went into it is: the law of propagation of the GUM.

Glossary
--------
source      : an input quantity: value, standard uncertainty, degrees of freedom
sensitivity : change of the result per unit of a source, by central difference
component   : sensitivity times standard uncertainty, in the result's unit
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from lagline.trade.register import Limit, formula

STEP = 0.1  # of a standard uncertainty: small beside what is uncertain, large beside rounding
THIRD_STEP = 0.5  # third derivatives need a longer one
GUM = "JCGM 100:2008"


@dataclass(frozen=True, slots=True)
class Source:
    """An input quantity: best value, standard uncertainty ``u`` in the same unit, degrees of freedom of ``u``."""

    name: str
    value: float
    u: float
    dof: float = math.inf

    def __post_init__(self) -> None:
        if not (math.isfinite(self.value) and math.isfinite(self.u) and self.u >= 0 and self.dof > 0):
            raise ValueError(f"{self.name}: needs a finite value, u not below zero, dof above zero")


@dataclass(frozen=True, slots=True)
class Component:
    """What one source adds: sensitivity, and its size in the result's unit (sign of the sensitivity kept)."""

    name: str
    sensitivity: float
    u: float


@dataclass(frozen=True, slots=True)
class Propagated:
    """A result: value, combined standard uncertainty, effective degrees of freedom, components as given."""

    value: float
    u: float
    dof: float
    components: tuple[Component, ...]

    def expanded(self, share: float) -> float:
        """Half width of the interval that holds the result with probability ``share``. [unit of the result]"""
        return coverage_factor(share, self.dof) * self.u


def rectangular(half_width: float) -> float:
    """Standard uncertainty of a value anywhere within plus or minus ``half_width``: half_width/sqrt(3)."""
    return half_width / math.sqrt(3)


@formula(
    "uncertainty.propagation",
    text="u^2 = SUM_ij c_i c_j u_i u_j r_ij, c_i = df/dx_i by central difference over 0.1 u_i",
    gives="combined standard uncertainty of a result [unit of the result]",
    source=f"{GUM} 5.1.2, 5.1.3 and 5.2.2 (from memory); its example H.1 is a check (recomputed)",
)
def propagate(
    function: Callable[[Sequence[float]], float],
    sources: Sequence[Source],
    *,
    correlation: Mapping[tuple[str, str], float] | None = None,
    second_order: bool = False,
) -> Propagated:
    """Carry the uncertainty of the sources through a function.

    Parameters: function of the values in the order of the sources; sources; correlation coefficients [-1..1] by
    pairs of names, 0 where not named; ``second_order`` adds the terms of the note to 5.1.2, right for independent
    sources that are nearly normal.
    Returns value, standard uncertainty, effective degrees of freedom and components.
    Validity: the function smooth over the sources' uncertainty; effective degrees of freedom assume independence.
    Errors: ValueError for an unknown name, a coefficient outside -1 to 1, or a result that is not finite.
    """
    at = [s.value for s in sources]
    value = function(at)
    parts = tuple(
        Component(s.name, c, c * s.u) for s, c in zip(sources, _slopes(function, at, sources, STEP), strict=True)
    )
    variance = math.fsum(c.u**2 for c in parts)
    by_name = {c.name: c.u for c in parts}
    for (a, b), r in (correlation or {}).items():
        if a not in by_name or b not in by_name or a == b or not -1 <= r <= 1:
            raise ValueError(f"correlation of {a!r} and {b!r} cannot be {r}")
        variance += 2 * r * by_name[a] * by_name[b]
    dof = effective_dof(parts, sources, variance)
    if second_order:
        more = _second_order(function, at, sources)
        # Welch and Satterthwaite with the larger u: the added terms count as known exactly
        dof = dof * ((variance + more) / variance) ** 2 if variance > 0 else dof
        variance += more
    if not (math.isfinite(value) and math.isfinite(variance)):
        raise ValueError("the result or its uncertainty is not finite")
    return Propagated(value, math.sqrt(max(variance, 0.0)), dof, parts)


@formula(
    "uncertainty.effective-dof",
    text="nu_eff = u^4/SUM_i(u_i^4/nu_i)",
    gives="effective degrees of freedom of a combined standard uncertainty [1]",
    source=f"Welch and Satterthwaite, {GUM} G.4.1 (from memory)",
)
def effective_dof(components: Sequence[Component], sources: Sequence[Source], variance: float) -> float:
    """Effective degrees of freedom of a variance [result squared] from its components [unit of the result].

    Infinite when every source is known exactly or its spread is.
    """
    total = math.fsum(c.u**4 / s.dof for c, s in zip(components, sources, strict=True))
    return variance**2 / total if total > 0 else math.inf


@formula(
    "uncertainty.coverage-factor",
    text="k = t_(1+p)/2 (nu truncated to a whole number)",
    gives="coverage factor of an expanded uncertainty [1]",
    source=f"{GUM} G.4.1 and table G.2 (from memory)",
    limits=(Limit("share", 0.5, 0.999, "1", "beyond, the tails of the inputs decide and not the t distribution"),),
)
def coverage_factor(share: float, dof: float) -> float:
    """Factor on u that holds the result with probability ``share`` [0..1], for degrees of freedom 1 or more.

    Check: 99 % at 16 degrees of freedom is 2.92.
    """
    if not 0 < share < 1 or dof < 1:
        raise ValueError(f"share must be between 0 and 1 and dof 1 or more, got {share} and {dof}")
    from scipy.special import ndtri, stdtrit

    p = (1 + share) / 2
    return float(ndtri(p) if math.isinf(dof) else stdtrit(math.floor(dof), p))


def _slopes(
    function: Callable[[Sequence[float]], float], at: Sequence[float], sources: Sequence[Source], step: float
) -> list[float]:
    out = []
    for i, s in enumerate(sources):
        h = step * s.u or 1e-6 * max(1.0, abs(s.value))
        out.append((function(_moved(at, (i, h))) - function(_moved(at, (i, -h)))) / (2 * h))
    return out


def _moved(at: Sequence[float], *steps: tuple[int, float]) -> list[float]:
    out = list(at)
    for i, h in steps:
        out[i] += h
    return out


def _second_order(
    function: Callable[[Sequence[float]], float], at: Sequence[float], sources: Sequence[Source]
) -> float:
    """SUM_ij [ (d2f/dxi dxj)^2/2 + df/dxi d3f/(dxi dxj^2) ] ui^2 uj^2, differences in units of u."""
    live = [replace(s, dof=math.inf) for s in sources]
    step = [THIRD_STEP * s.u for s in live]
    first = _slopes(function, at, live, STEP)
    total = 0.0
    for i, j in itertools.product(range(len(live)), repeat=2):
        if not step[i] or not step[j]:
            continue
        a, b = step[i], step[j]
        if i == j:
            f = [function(_moved(at, (i, n * a))) for n in (-2, -1, 0, 1, 2)]
            second = (f[3] - 2 * f[2] + f[1]) / a**2
            third = (f[4] - 2 * f[3] + 2 * f[1] - f[0]) / (2 * a**3)
        else:
            f = [function(_moved(at, (i, n * a), (j, m * b))) for n in (-1, 1) for m in (-1, 0, 1)]
            second = (f[5] - f[3] - f[2] + f[0]) / (4 * a * b)
            third = ((f[5] - 2 * f[4] + f[3]) - (f[2] - 2 * f[1] + f[0])) / (2 * a * b**2)
        total += (second**2 / 2 + first[i] * third) * (live[i].u * live[j].u) ** 2
    return total
