"""Reading a TOML table field by field: every problem is kept as a finding, nothing stops at the first.

A reader is ``read(given, where) -> value`` and raises LaglineError; :meth:`Fields.take` catches it, keeps the
finding and goes on with a stand-in, so that one pass over a file finds all that is wrong with it.
:meth:`Fields.done` refuses names that are not known. Whoever began the pass raises at its end when
:func:`refused` finds anything.
"""

from __future__ import annotations

import difflib
import math
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

from lagline.records.errors import LaglineError, refuse
from lagline.records.figure import Spread
from lagline.records.finding import Finding, Severity
from lagline.records.length import read_length
from lagline.trade.gauge import gauge_finding, gauge_thickness_mm

T = TypeVar("T")
LARGEST_FILE = 2_000_000

# to kPa, L/min, L, m, mm/s: 1 psi = 6.894757 kPa, 1 ft = 304.8 mm, 1 US gal = 231 in3 (NIST SP 811, appendix B)
_PSI, _CUBIC_FOOT_L, _GALLON_L, _INCH = 6.894757, 0.3048**3 * 1000, 231 * 0.254**3, 25.4
QUANTITIES: dict[str, dict[str, float]] = {
    "pressure": {"psi": _PSI, "bar": 100.0, "kpa": 1.0, "mpa": 1000.0},
    "air flow": {"cfm": _CUBIC_FOOT_L, "l/min": 1.0, "l/s": 60.0, "m3/min": 1000.0},
    "tank volume": {"gal": _GALLON_L, "l": 1.0, "ft3": _CUBIC_FOOT_L},
    "altitude": {"ft": 0.3048, "m": 1.0},
    "pace": {"in/min": _INCH / 60, "ipm": _INCH / 60, "mm/s": 1.0, "mm/min": 1 / 60, "m/min": 1000 / 60},
}
_QUANTITY = re.compile(r"\s*(-?\d+\.?\d*|\.\d+)\s*([a-z]+[23]?(?:/[a-z]+)?)\s*", re.ASCII)


def read_file(path: Path) -> str:
    """Return a text file's contents; LaglineError for a folder, a missing, huge or non-UTF-8 file."""
    try:
        if path.is_dir():
            raise refuse("file-unreadable", str(path), "is a folder", "name the file in it")
        if path.stat().st_size > LARGEST_FILE:
            raise refuse("file-unreadable", str(path), "is over 2 MB", "a plain text file under 2 MB")
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError:
        raise refuse("file-unreadable", str(path), "is not plain text", "save it as UTF-8 text") from None
    except (OSError, ValueError) as e:  # ValueError: a NUL in the path
        why = e.strerror if isinstance(e, OSError) and e.strerror else "cannot be opened"
        raise refuse("file-unreadable", str(path), f"cannot be read: {why.lower()}", "a file that exists") from None


def read_toml(text: str, name: str) -> dict[str, object]:
    """Return the top table of a TOML text; LaglineError with the line for a fault in the writing."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as e:
        found = re.search(r"\(at line (\d+), column (\d+)\)", str(e))
        place = f"{name}: line {found[1]}" if found else f"{name}: end of file"
        why = re.sub(r" ?\(at .*\)$", "", str(e))
        hint = 'words and shop lengths go in quotes: name = "gusset", thickness = \'3/8"\''
        raise refuse("toml-syntax", place, f"not written as TOML: {why}", hint) from None
    except (RecursionError, ValueError):  # nesting or a number beyond any use
        raise refuse("toml-syntax", name, "is nested too deep or holds a number too long", "plain TOML") from None


def refused(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the findings that mean the input cannot be used."""
    return tuple(f for f in findings if f.severity is Severity.REFUSED)


def nearest(given: str, allowed: Iterable[str]) -> str:
    """Return what to say of a name that is not known: the nearest known one, and the list when it is short."""
    names = sorted(allowed)
    close = difflib.get_close_matches(given.lower(), names, n=1, cutoff=0.6)
    listed = "one of: " + ", ".join(names) if names else "nothing is allowed here"
    return f'did you mean "{close[0]}"? {listed}' if close else listed


def shown(given: object) -> str:
    """Return a given value, short and on one line, for a message."""
    try:
        text = f'"{given}"' if isinstance(given, str) else str(given)
    except ValueError:  # a whole number of thousands of digits
        text = "a huge number"
    text = "".join(c if c.isprintable() else "?" for c in " ".join(text.split()))
    return text if len(text) <= 50 else text[:47] + "..."


@dataclass
class Fields:
    """One TOML table being read. ``where`` names file and table; findings go to the shared list."""

    data: Mapping[str, object]
    where: str
    findings: list[Finding]
    known: set[str] = field(default_factory=set)

    def at(self, key: str) -> str:
        return f"{self.where}: {key}"

    def has(self, key: str) -> bool:
        self.known.add(key)
        return key in self.data

    def note(self, code: str, key: str, message: str, allowed: str = "", severity: Severity = Severity.NOTE) -> None:
        """Keep a finding about a field (about the table itself when ``key`` is empty)."""
        self.findings.append(Finding(code, severity, self.at(key) if key else self.where, message, allowed))

    def refuse(self, code: str, key: str, message: str, allowed: str = "") -> None:
        self.note(code, key, message, allowed, Severity.REFUSED)

    def take(self, key: str, read: Callable[[object, str], T], default: T) -> T:
        """Return the field as read, the default when it is absent or was refused."""
        if not self.has(key):
            return default
        try:
            return read(self.data[key], self.at(key))
        except LaglineError as e:
            self.findings.extend(e.findings)
            return default

    def need(self, key: str, read: Callable[[object, str], T], stand_in: T, allowed: str) -> T:
        """Return a field that must be there; refused, with the stand-in, when it is not."""
        if not self.has(key):
            self.refuse("field-missing", key, "is missing", allowed)
        return self.take(key, read, stand_in)

    def table(self, key: str) -> Fields:
        """Return the table below a key, empty when absent."""
        given = self.data.get(key, {}) if self.has(key) else {}
        if not isinstance(given, dict):
            self.refuse("field-bad", key, f"{shown(given)} is not a table", f"[{key}] and fields below it")
            given = {}
        return Fields(given, self.at(key), self.findings)

    def tables(self, key: str, most: int) -> tuple[Fields, ...]:
        """Return the tables of a list, numbered from 1 and called by their ``name``."""
        given = self.data.get(key, []) if self.has(key) else []
        if not isinstance(given, list) or not all(isinstance(g, dict) for g in given):
            self.refuse("field-bad", key, f"{shown(given)} is not a list of tables", f"[[{key}]] before each")
            return ()
        if len(given) > most:
            self.refuse("field-bad", key, f"{len(given)} of them", f"at most {most}")
            given = given[:most]
        out = []
        for i, g in enumerate(given, 1):
            name = g.get("name")
            called = f' "{name}"' if isinstance(name, str) and 0 < len(name) <= 60 else ""
            out.append(Fields(g, f"{self.where}: {key}[{i}]{called}", self.findings))
        return tuple(out)

    def done(self, also: Iterable[str] = ()) -> None:
        """Refuse every field that nobody asked for."""
        allowed = self.known | set(also)
        for key in self.data:
            if key not in allowed:
                self.refuse("field-unknown", key[:40], "is not a field here", nearest(key, allowed))


def read_text(given: object, where: str) -> str:
    """Read a line of text, up to 200 letters."""
    text = " ".join(given.split()) if isinstance(given, str) else ""
    if not 1 <= len(text) <= 200 or not text.isprintable():
        raise refuse("field-bad", where, f"{shown(given)} is not a name", "text in quotes, 1 to 200 plain letters")
    return text


def read_notes(given: object, where: str) -> str:
    """Read text of any shape, up to 5000 letters."""
    if not isinstance(given, str) or len(given) > 5000 or not all(c.isprintable() or c in "\n\r\t" for c in given):
        raise refuse("field-bad", where, f"{shown(given)} is not text", "text in quotes, up to 5000 plain letters")
    return given.strip()


def read_flag(given: object, where: str) -> bool:
    """Read true or false."""
    if not isinstance(given, bool):
        raise refuse("field-bad", where, f"{shown(given)} is neither true nor false", "true or false, without quotes")
    return given


def choice(*allowed: str) -> Callable[[object, str], str]:
    """Return a reader for one of a few words."""

    def read(given: object, where: str) -> str:
        if not isinstance(given, str) or given.strip().lower() not in allowed:
            raise refuse("field-bad", where, f"{shown(given)} is not a choice", nearest(shown(given), allowed))
        return given.strip().lower()

    return read


def number(least: float, most: float, unit: str = "") -> Callable[[object, str], float]:
    """Return a reader for a plain number within limits, both allowed."""
    allowed = f"{least:g} to {most:g}{' ' + unit if unit else ''}"

    def read(given: object, where: str) -> float:
        if isinstance(given, bool) or not isinstance(given, int | float):
            raise refuse("field-bad", where, f"{shown(given)} is not a number", f"{allowed}, without quotes")
        if not (math.isfinite(given) if isinstance(given, float) else True) or not least <= given <= most:
            raise refuse("field-bad", where, f"{shown(given)} is out of range", allowed)
        return float(given)

    return read


def whole(least: int, most: int) -> Callable[[object, str], int]:
    """Return a reader for a whole number within limits, both allowed."""

    def read(given: object, where: str) -> int:
        if isinstance(given, bool) or not isinstance(given, int) or not least <= given <= most:
            raise refuse("field-bad", where, f"{shown(given)} will not do", f"a whole number, {least} to {most}")
        return given

    return read


def length(unit: str, least_mm: float = 0.0, most_mm: float = 100_000.0) -> Callable[[object, str], float]:
    """Return a reader for a length [mm] within limits; ``least_mm`` below zero lets it be negative."""

    def read(given: object, where: str) -> float:
        mm = read_length(given, unit, where, signed=least_mm < 0)
        if not least_mm <= mm <= most_mm:
            raise refuse("field-bad", where, f"{shown(given)} is out of range", f"{least_mm:g} to {most_mm:g} mm")
        return mm

    return read


def quantity(kind: str, least: float, most: float) -> Callable[[object, str], float]:
    """Return a reader for a number with its unit, in the program's own unit (see ``QUANTITIES``), within limits."""
    units = QUANTITIES[kind]
    allowed = f"a number and one of {', '.join(units)}, in quotes"

    def read(given: object, where: str) -> float:
        m = _QUANTITY.fullmatch(given.lower().replace("³", "3")) if isinstance(given, str) and len(given) < 40 else None
        if m is None or m[2] not in units:
            article = "an" if kind[0] in "aeiou" else "a"
            raise refuse("field-bad", where, f"{shown(given)} is not {article} {kind} with its unit", allowed)
        value = float(m[1]) * units[m[2]]
        if value < 0:
            low, high = least / units[m[2]], most / units[m[2]]
            raise refuse("field-bad", where, f"{shown(given)} is negative", f"{low:.4g} to {high:.4g} {m[2]}")
        if not least <= value <= most:
            low, high = least / units[m[2]], most / units[m[2]]
            raise refuse("field-bad", where, f"{shown(given)} is out of range", f"{low:.4g} to {high:.4g} {m[2]}")
        return value

    return read


_TEMPERATURE = re.compile(r"\s*(-?\d+\.?\d*)\s*(?:deg|°)?\s*([cf])\s*", re.ASCII | re.IGNORECASE)


def temperature(least_c: float, most_c: float) -> Callable[[object, str], float]:
    """Return a reader for a temperature [C] written ``"95 F"`` or ``"35 C"``, within limits, both allowed."""

    def shop(c: float) -> str:
        return f"{c:g} C ({c * 1.8 + 32:g} F)"

    def read(given: object, where: str) -> float:
        m = _TEMPERATURE.fullmatch(given) if isinstance(given, str) and len(given) < 40 else None
        if m is None:
            say = f"{shown(given)} is not a temperature with its unit"
            raise refuse("field-bad", where, say, 'a number and F or C, in quotes: "95 F"')
        c = float(m[1]) if m[2].lower() == "c" else (float(m[1]) - 32) / 1.8
        if not least_c <= c <= most_c:
            raise refuse("field-bad", where, f"{shown(given)} is out of range", f"{shop(least_c)} to {shop(most_c)}")
        return c

    return read


def read_share(given: object, where: str) -> float:
    """Read a share as 0.35 or "35 %"; a bare 35 is refused rather than guessed."""
    if isinstance(given, str) and (m := re.fullmatch(r"\s*(\d{1,3}(?:\.\d{1,6})?)\s*%\s*", given, re.ASCII)):
        value = float(m[1]) / 100
    elif isinstance(given, int | float) and not isinstance(given, bool) and math.isfinite(given):
        value = given
    else:
        raise refuse("field-bad", where, f"{shown(given)} is not a share", '0.35 or "35 %"')
    if not 0 < value <= 1:
        raise refuse("field-bad", where, f"{shown(given)} is not a share above 0 up to 1", '0.35 or "35 %"')
    return float(value)


def spread(
    one: Callable[[object, str], float], *, default: bool = False, plus_minus: float = 0.0
) -> Callable[[object, str], Spread]:
    """Return a reader for a value, or a table of value, low and high.

    A plain value gets the error of measuring it, ``plus_minus`` in its own unit, its low end never below a tenth of
    it; without one it has no spread.
    """

    def read(given: object, where: str) -> Spread:
        if not isinstance(given, dict):
            value = one(given, where)
            return Spread(value, max(value - plus_minus, min(value, value / 10)), value + plus_minus, default)
        findings: list[Finding] = []
        table = Fields(given, where, findings)
        value = table.need("value", one, 0.0, "value = the best figure, with low and high beside it")
        low, high = table.take("low", one, value), table.take("high", one, value)
        table.done()
        if not findings and not low <= value <= high:
            table.refuse("field-bad", "", f"{shown(given)} is not in order", "low, then value, then high")
        if findings:
            raise LaglineError(*findings)
        return Spread(value, low, high, default)

    return read


_GAUGE = re.compile(r"\s*(\d{1,2})\s*(?:ga|ga\.|gauge|gage)\s*", re.ASCII | re.IGNORECASE)


def read_thickness(
    given: object, metal: str, coating: str, default_unit: str, where: str
) -> tuple[float, tuple[Finding, ...]]:
    """Read a thickness as a length, or as a sheet gauge of that metal and coating; 0.3 to 150 mm.

    Returns the thickness [mm], and for a gauge what it was taken to mean.
    """
    m = _GAUGE.fullmatch(given) if isinstance(given, str) else None
    if m is None:
        return length(default_unit, 0.3, 150)(given, where), ()
    figure = gauge_thickness_mm(int(m[1]), metal, coating, where)
    say = f"{m[1]} ga taken as {figure.value / 25.4:.4f} in ({figure.value:.2f} mm), {figure.source}"
    note = Finding("gauge-read", Severity.NOTE, where, say, "measure it")
    return figure.value, (note, *gauge_finding(int(m[1]), metal, coating, where))
