"""What a set-out asks for: one table of fields feeds command, page and docs; all faults are told at once."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Finding, Severity
from lagline.records.length import read_length, show_length
from lagline.records.setout import SetOut
from lagline.setouts.bench import Bench
from lagline.shapes.named_values import nearest

LONGEST_MM = 100_000.0
_NUMBER = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+))\s*(.*)", re.ASCII)
_UNITS = {
    "angle": ("", "deg", "°", "degrees"),
    "count": ("",),
    "number": ("",),
}


def shop_length(mm: float, units: str) -> str:
    """Return a length as this shop reads it: inches to 1/64 or millimetres to a tenth; what is too small for a rule's
    marks in hundredths of a millimetre."""
    shown = show_length(mm, "in", 64) if units == "in" else show_length(mm, "mm")
    small = 0 < abs(mm) < 0.8 and (shown.startswith("~") or abs(mm - round(mm, 1)) > 1e-9)
    return show_length(mm, "mm", decimals=2) if small else shown


@dataclass(frozen=True, slots=True)
class Field:
    """One thing a set-out asks for.

    ``kind`` is ``length`` (shop text, kept in mm), ``angle`` [deg], ``count``, ``number`` (in ``unit``), ``choice``,
    ``text`` (kept as typed) or ``file`` (a path, kept as text). ``default`` is in mm, deg, ``unit`` or the chosen word;
    None with ``required`` False means that it may be missing. ``least`` and ``most`` bound numbers, both allowed.
    """

    name: str  # header_diameter
    words: str  # outside diameter of the header
    kind: str = "length"
    required: bool = False
    default: float | str | None = None
    choices: tuple[str, ...] = ()
    least: float = 0.0
    most: float = LONGEST_MM
    unit: str = ""

    def shown_default(self, units: str) -> str:
        """What is taken when it is left out, as this shop writes it; "" where that is nothing, or the first choice."""
        if self.default is None or isinstance(self.default, str):
            return ""
        return _shown(self, self.default, units)

    @property
    def option(self) -> str:
        """Name on the command line."""
        return "--" + self.name.replace("_", "-")


def length(name: str, words: str, *, least: float = 0.1, most: float = LONGEST_MM) -> Field:
    """Return a length that has to be given [mm]."""
    return Field(name, words, "length", True, None, (), least, most)


def maybe_length(
    name: str, words: str, default: float | None = None, *, least: float = 0.0, most: float = LONGEST_MM
) -> Field:
    """Return a length that may be left out [mm]."""
    return Field(name, words, "length", False, default, (), least, most)


def angle(name: str, words: str, default: float | None = None, *, least: float = 0.0, most: float = 180.0) -> Field:
    """Return an angle [deg]; it has to be given when it has no default."""
    return Field(name, words, "angle", default is None, default, (), least, most, "deg")


def count(name: str, words: str, default: int | None = None, *, least: int = 1, most: int = 1000) -> Field:
    """Return a whole number; it has to be given when it has no default."""
    return Field(name, words, "count", default is None, default, (), least, most)


def number(
    name: str, words: str, unit: str, default: float | None = None, *, required: bool = False,
    least: float = 0.0, most: float = 1e9,
) -> Field:  # fmt: skip
    """Return a plain number in a unit."""
    return Field(name, words, "number", required, default, (), least, most, unit)


def choice(name: str, words: str, *choices: str) -> Field:
    """Return a choice of words, the first of them when left out."""
    return Field(name, words, "choice", False, choices[0], choices)


def maybe_text(name: str, words: str) -> Field:
    """Return a text that may be left out, kept as typed."""
    return Field(name, words, "text")


@dataclass(frozen=True, slots=True)
class Given:
    """Checked answers by field name; numbers in mm, deg or the field's unit. ``units`` is how lengths are shown."""

    numbers: Mapping[str, float]
    words: Mapping[str, str]
    units: str = "in"
    bench: Bench | None = None
    paper: str = "letter"
    typed: Mapping[str, str] = field(default_factory=dict)

    def __getitem__(self, name: str) -> float:
        return self.numbers[name]

    def get(self, name: str) -> float | None:
        """The number, None when it was left out."""
        return self.numbers.get(name)

    def count(self, name: str) -> int:
        """A whole number."""
        return int(self.numbers[name])

    def word(self, name: str) -> str:
        """A chosen word or a text; KeyError when it was left out."""
        return self.words[name]

    def show(self, mm: float) -> str:
        """Return a length as this shop reads it: inches to 1/64 or millimetres to a tenth."""
        return shop_length(mm, self.units)


@dataclass(frozen=True, slots=True)
class Ask:
    """One set-out: its family and name, what it is for, its fields, and what makes it.

    ``thickness`` is the name of the length field that says how thick the metal is: with it, a kit, a metal and a
    current may be given, and ``Given.bench`` is set whenever that field is. "" for set-outs of pure geometry.
    ``make`` returns the set-out or raises ``LaglineError`` with what would work instead.
    """

    family: str
    name: str
    meaning: str
    fields: tuple[Field, ...]
    make: Callable[[Given], SetOut]
    thickness: str = ""
    sound: Callable[[SetOut], bytes] | None = None  # the beat as a WAV file; ValueError when it would be too long
    example: tuple[tuple[str, str], ...] = ()  # a case from the slipway repair, as a person would type it

    @property
    def kind(self) -> str:
        return f"{self.family} {self.name}"


@dataclass(slots=True)
class Faults:
    """Everything wrong with what was asked, kept until all of it is known."""

    where: str
    found: list[Finding] = field(default_factory=list)

    def add(self, name: str, message: str, allowed: str, code: str = "setout-value") -> None:
        """Note a fault of a field ("" for the whole)."""
        place = f"{self.where}, {name.replace('_', ' ')}" if name else self.where
        self.found.append(Finding(code, Severity.REFUSED, place, message, allowed))

    def unless(self, ok: bool, name: str, message: str, allowed: str, code: str = "setout-value") -> None:
        """Note a fault unless all is well."""
        if not ok:
            self.add(name, message, allowed, code)

    def raise_if_any(self) -> None:
        """Raise what was found, all of it."""
        if self.found:
            raise LaglineError(*self.found)


def _shown(f: Field, value: float, units: str) -> str:
    if f.kind == "length":
        return shop_length(value, units)
    return f"{value:g}" + (f" {f.unit}" if f.unit else "")


def _number_of(f: Field, text: str, units: str, faults: Faults) -> float | None:
    if f.kind == "length":
        try:
            value = read_length(text, units, f"{faults.where}, {f.name.replace('_', ' ')}", signed=True)
        except LaglineError as error:
            faults.found.extend(error.findings)
            return None
    else:
        what = {"angle": "an angle in degrees", "count": "a whole number"}.get(f.kind, f"a number [{f.unit}]")
        m = _NUMBER.fullmatch(text.strip())
        if m is None or m[2].strip().lower() not in (*_UNITS[f.kind], f.unit.lower()):
            faults.add(f.name, f'"{text[:40]}" is not {what}', f.words)
            return None
        value = float(m[1])
        if f.kind == "count" and value != math.floor(value):
            faults.add(f.name, f"{value:g} is not a whole number", f.words)
            return None
    if not f.least <= value <= f.most:
        bounds = f"{_shown(f, f.least, units)} to {_shown(f, f.most, units)}"
        faults.add(f.name, f"{_shown(f, value, units)} is out of range", bounds)
        return None
    return value


def read_given(ask: Ask, texts: Mapping[str, str], units: str = "in", paper: str = "letter") -> Given:
    """Return the checked answers of a set-out from what was typed, without a bench.

    Parameters
    ----------
    texts : field name to text; "" or a missing name means left out
    units : ``in`` or ``mm``, for bare lengths and for showing

    Errors: ``LaglineError`` carrying every fault at once.
    """
    faults = Faults(ask.kind)
    names = [f.name for f in ask.fields]
    for name in texts:
        if name not in names:
            raise refuse("setout-field", ask.kind, f"there is nothing called {name}", nearest(name, names))
    numbers: dict[str, float] = {}
    words: dict[str, str] = {}
    for f in ask.fields:
        text = texts.get(f.name, "").strip()
        if not text:
            if f.required:
                faults.add(f.name, f"the {f.name.replace('_', ' ')} is needed", f.words, "setout-missing")
            elif isinstance(f.default, str):
                words[f.name] = f.default
            elif f.default is not None:
                numbers[f.name] = float(f.default)
        elif f.kind == "choice":
            if text.lower() in f.choices:
                words[f.name] = text.lower()
            else:
                faults.add(f.name, f'"{text[:40]}" is not a choice', nearest(text.lower(), f.choices))
        elif f.kind in ("file", "text"):
            words[f.name] = text
        elif (value := _number_of(f, text, units, faults)) is not None:
            numbers[f.name] = value
    faults.raise_if_any()
    return Given(numbers, words, units, None, paper, dict(texts))


def _echo(f: Field, given: Given) -> str:
    """Return a number as it was typed, its unit added where none was: rounded to a rule's marks it would be another."""
    text = given.typed.get(f.name, "").strip()
    if not text:
        return _shown(f, given.numbers[f.name], given.units)
    if f.kind == "length" and text[-1].isdigit():
        return text + ('"' if given.units == "in" else " mm")
    return text if f.kind == "length" or not text[-1].isdigit() or not f.unit else f"{text} {f.unit}"


def shown_given(ask: Ask, given: Given) -> tuple[tuple[str, str, str], ...]:
    """Return what was asked as ``SetOut.given`` wants it: key, words, value as shown; what was left out is left out."""
    out = []
    for f in ask.fields:
        if f.name in given.words:
            out.append((f.name, f.words, given.words[f.name]))
        elif f.name in given.numbers:
            out.append((f.name, f.words, _echo(f, given)))
    return tuple(out)
