"""The register of formulas: name, what it gives, validity range, source; filled by a decorator, read by the
docs, the out-of-range findings and the "why" links."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import ParamSpec, TypeVar

from lagline.records.finding import Finding, Severity

P = ParamSpec("P")
R = TypeVar("R")


@dataclass(frozen=True, slots=True)
class Limit:
    """Validity of one input: low and high [unit], and why."""

    name: str
    low: float
    high: float
    unit: str
    why: str = ""


@dataclass(frozen=True, slots=True)
class Formula:
    """One registered formula."""

    key: str  # "topic.name"
    text: str  # the formula in plain letters
    gives: str  # what comes out, with unit
    source: str
    limits: tuple[Limit, ...]
    doc: str


_REGISTER: dict[str, Formula] = {}


def formula(
    key: str, *, text: str, gives: str, source: str, limits: tuple[Limit, ...] = ()
) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Register the decorated function. The key is unique; the docstring goes to the docs page."""

    def keep(function: Callable[P, R]) -> Callable[P, R]:
        if key in _REGISTER:
            raise ValueError(f"formula {key} is registered twice")
        _REGISTER[key] = Formula(key, text, gives, source, limits, (function.__doc__ or "").strip())
        return function

    return keep


def get(key: str) -> Formula:
    """Return the formula of that key; KeyError when there is none."""
    return _REGISTER[key]


def all_formulas() -> tuple[Formula, ...]:
    """Return every registered formula, by key."""
    return tuple(_REGISTER[k] for k in sorted(_REGISTER))


def out_of_range(key: str, where: str, **given: float) -> tuple[Finding, ...]:
    """Return a caution for each given input that lies outside the formula's validity range."""
    f = get(key)
    return tuple(
        Finding(
            "out-of-range",
            Severity.CAUTION,
            where,
            f"{limit.name} {given[limit.name]:g} {limit.unit} is outside the range of {key}",
            f"{limit.low:g} to {limit.high:g} {limit.unit}{': ' + limit.why if limit.why else ''}",
        )
        for limit in f.limits
        if limit.name in given and not limit.low <= given[limit.name] <= limit.high
    )
