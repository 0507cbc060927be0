"""What a named shape asks for, and what was given: checked once, all faults together."""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from lagline.records.errors import LaglineError
from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Outline, Point

LONGEST_MM = 100_000.0
SMALLEST_MM = 0.1
MOST = 1_000
CORNERS = ("bottom-left", "bottom-right", "top-right", "top-left")

Given = float | int | str | Sequence[Sequence[float]] | None


@dataclass(frozen=True, slots=True)
class Param:
    """One thing a named shape asks for.

    ``kind`` is ``length`` [mm], ``count``, ``angle`` [deg], ``choice``, ``corners`` or ``points``. ``least`` and
    ``most`` bound counts and angles; a length that may be left out may be 0, for none.
    """

    name: str
    meaning: str
    kind: str = "length"
    default: float | int | str | None = None
    required: bool = False
    choices: tuple[str, ...] = ()
    least: float = 0.0
    most: float = LONGEST_MM


def need(name: str, meaning: str) -> Param:
    """Return a length that has to be given, above zero."""
    return Param(name, meaning, required=True)


def may(name: str, meaning: str, default: float | None = 0.0) -> Param:
    """Return a length that may be left out."""
    return Param(name, meaning, default=default)


@dataclass(slots=True)
class Faults:
    """Everything wrong with one shape, kept until all of it is known."""

    where: str
    found: list[Finding] = field(default_factory=list)

    def add(self, param: str, message: str, allowed: str, code: str = "shape-value") -> None:
        place = f"{self.where}, {param}" if param else self.where
        self.found.append(Finding(code, Severity.REFUSED, place, message, allowed))

    def unless(self, ok: bool, param: str, message: str, allowed: str) -> None:
        if not ok:
            self.add(param, message, allowed)

    def raise_if_any(self) -> None:
        if self.found:
            raise LaglineError(*self.found)


@dataclass(frozen=True, slots=True)
class Values:
    """Checked values of one shape, by kind."""

    numbers: Mapping[str, float]
    texts: Mapping[str, str]
    lists: Mapping[str, tuple[Point, ...]]
    corners: Mapping[str, tuple[str, ...]]

    def __getitem__(self, name: str) -> float:
        return self.numbers[name]

    def count(self, name: str) -> int:
        return int(self.numbers[name])


@dataclass(frozen=True, slots=True)
class Shape:
    """A named shape: what it is, what it asks for, its own rules, and how it is drawn."""

    name: str
    meaning: str
    params: tuple[Param, ...]
    check: Callable[[Values, Faults], None]
    build: Callable[[Values], Outline]


def show(value: float) -> str:
    """Return a number as a person writes it."""
    return f"{value:.6g}"


def nearest(word: str, allowed: Iterable[str]) -> str:
    """Return ``did you mean ...?`` for the closest allowed word, else the whole list."""
    options = list(allowed)
    close = difflib.get_close_matches(word, options, 1, 0.6)
    return (f"did you mean {close[0]}? " if close else "") + "allowed: " + ", ".join(options)


def _number(p: Param, value: Given, faults: Faults) -> float | None:
    kind = {"length": "a length", "count": "a whole number", "angle": "an angle in degrees"}[p.kind]
    unit = {"length": " mm", "count": "", "angle": " deg"}[p.kind]
    if isinstance(value, bool) or not isinstance(value, int | float):
        faults.add(p.name, f"{value!r} is not {kind}", p.meaning)
        return None
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        faults.add(p.name, f"{number} is not {kind}", p.meaning)
        return None
    if p.kind == "count" and number != math.floor(number):
        faults.add(p.name, f"{show(number)} is not a whole number", p.meaning)
        return None
    least, none = (SMALLEST_MM, not p.required) if p.kind == "length" else (p.least, False)
    if not (least <= number <= p.most or (none and number == 0)):
        low = "0 for none, or " * none + f"at least {show(least)}"
        faults.add(p.name, f"{show(number)}{unit} is out of range", f"{low}, at most {show(p.most)}{unit}")
        return None
    return number


def _points(p: Param, value: Given, faults: Faults) -> tuple[Point, ...] | None:
    allowed = f"three to {MOST} pairs of x and y, such as [[0, 0], [100, 0], [0, 50]]"
    if isinstance(value, str) or not isinstance(value, Sequence):
        faults.add(p.name, f"{value!r} is not a list of points", allowed)
        return None
    out: list[Point] = []
    for i, pair in enumerate(value, 1):
        point = _point(pair)
        if point is None:
            faults.add(p.name, f"point {i} is {pair!r}", allowed)
            return None
        out.append(point)
    if not 3 <= len(out) <= MOST:
        faults.add(p.name, f"{len(out)} points given", allowed)
        return None
    return tuple(out)


def _corners(p: Param, value: Given, faults: Faults) -> tuple[str, ...] | None:
    allowed = "all, none, or some of " + ", ".join(CORNERS)
    if not isinstance(value, str):
        faults.add(p.name, f"{value!r} does not name corners", allowed)
        return None
    words = value.replace(",", " ").lower().split()
    if words in (["all"], ["none"]):
        return CORNERS if words == ["all"] else ()
    wrong = [w for w in words if w not in CORNERS]
    if wrong or not words:
        faults.add(p.name, f"{value!r} does not name corners", allowed)
        return None
    return tuple(c for c in CORNERS if c in words)


def read_values(shape: Shape, given: Mapping[str, Given], faults: Faults) -> Values | None:
    """Return the shape's values with defaults filled in, None when a fault was added."""
    before = len(faults.found)
    names = [p.name for p in shape.params]
    for word in given:
        if word not in names:
            message = f"a {shape.name} has no {word}"
            faults.add(str(word), message, nearest(str(word), names), code="shape-unknown-value")
    numbers: dict[str, float] = {}
    texts: dict[str, str] = {}
    lists: dict[str, tuple[Point, ...]] = {}
    corners: dict[str, tuple[str, ...]] = {}
    for p in shape.params:
        value: Given = given.get(p.name)
        if value is None:
            if p.required:
                faults.add(p.name, f"a {shape.name} needs its {p.name}", p.meaning, code="shape-value-missing")
                continue
            value = p.default
        if value is None:
            continue
        if p.kind == "choice":
            word = str(value).lower()
            if word in p.choices:
                texts[p.name] = word
            else:
                faults.add(p.name, f"{value!r} is not a choice", nearest(word, p.choices))
        elif p.kind == "corners":
            named = _corners(p, value, faults)
            corners |= {} if named is None else {p.name: named}
        elif p.kind == "points":
            pts = _points(p, value, faults)
            lists |= {} if pts is None else {p.name: pts}
        else:
            number = _number(p, value, faults)
            numbers |= {} if number is None else {p.name: number}
    return None if len(faults.found) > before else Values(numbers, texts, lists, corners)


def _point(pair: object) -> Point | None:
    """Two plain numbers as a point, None for anything else."""
    if not isinstance(pair, Sequence) or isinstance(pair, str) or len(pair) != 2:
        return None
    x, y = pair
    if any(isinstance(c, bool) or not isinstance(c, int | float) or not abs(c) <= LONGEST_MM for c in (x, y)):
        return None
    return (float(x), float(y))
