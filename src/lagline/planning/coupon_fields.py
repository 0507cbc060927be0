"""The fields of a coupon, one at a time: numbers or texts, with or without their unit, each refused with its place."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Callable
from dataclasses import replace
from typing import TypeVar

from lagline.planning.fields import Fields, length, read_text, shown
from lagline.records.coupon import Dross
from lagline.records.errors import LaglineError, refuse
from lagline.records.kit import Kit

T = TypeVar("T")
_MAY_BE_ZERO = ("guide_near", "dross_height", "gouge_depth", "crater", "lag")
DROSS_WORDS = {
    "none": Dross.NONE, "no": Dross.NONE, "clean": Dross.NONE,
    "slow": Dross.SLOW, "thick": Dross.SLOW, "heavy": Dross.SLOW, "bubbly": Dross.SLOW,
    "fast": Dross.FAST, "thin": Dross.FAST, "hard": Dross.FAST, "bead": Dross.FAST,
}  # fmt: skip
_YES, _NO = ("yes", "y", "true", "on", "1"), ("no", "n", "false", "off", "0")
_NUMBER = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+))\s*([a-z°]*)\.?", re.ASCII | re.IGNORECASE)
_NUMBER_DEG = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+))\s*(°|deg|degrees|degree)?\.?", re.IGNORECASE)


def scalar(unit: str, words: tuple[str, ...], least: float, most: float) -> Callable[[object, str], float]:
    """Return a reader for a number, plain or as text with its unit, within limits, both allowed."""
    allowed = f"{least:g} to {most:g} {unit}"

    def read(given: object, where: str) -> float:
        if isinstance(given, str):
            m = _NUMBER.fullmatch(given.strip())
            if m is None:
                hint = ", with a point and not a comma" if "," in given else ""
                raise refuse("field-bad", where, f"{shown(given)} is not a number", allowed + hint)
            if m[2] and m[2].lower() not in words:
                raise refuse("unit-wrong", where, f'{shown(given)} has the unit "{m[2]}"', allowed)
            value = float(m[1])
        elif isinstance(given, int | float) and not isinstance(given, bool):
            value = float(given) if abs(given) < 1e300 or isinstance(given, float) else math.inf
        else:
            raise refuse("field-bad", where, f"{shown(given)} is not a number", allowed)
        if not math.isfinite(value) or not least <= value <= most:
            raise refuse("field-bad", where, f"{shown(given)} is out of range", allowed)
        return value

    return read


def read_degrees(given: object, where: str) -> float:
    """Read an angle, -60 to 60 degrees."""
    if isinstance(given, str) and (m := _NUMBER_DEG.fullmatch(given.strip())):
        given = float(m[1])
    return scalar("degrees", (), -60, 60)(given, where)


def read_yes(given: object, where: str) -> bool:
    """Read yes or no."""
    if isinstance(given, bool):
        return given
    word = given.strip().lower() if isinstance(given, str) else ""
    if word not in (*_YES, *_NO):
        raise refuse("field-bad", where, f"{shown(given)} is neither yes nor no", "yes or no")
    return word in _YES


def read_dross(given: object, where: str) -> Dross:
    """Read what hangs below, by the shop's words for it."""
    word = given.strip().lower() if isinstance(given, str) else ""
    if word not in DROSS_WORDS:
        say = "none (clean), slow (thick, bubbly, flicks off) or fast (thin hard bead)"
        raise refuse("dross-word", where, f"{shown(given)} is no word for dross", say)
    return DROSS_WORDS[word]


def read_count(given: object, where: str) -> int:
    """Read a whole number of starts."""
    value = scalar("starts", ("starts", "start"), 0, 1_000_000)(given, where)
    if value != int(value):
        raise refuse("field-bad", where, f"{shown(given)} is not a whole number", "a whole number of starts")
    return int(value)


def read_day(today: datetime.date) -> Callable[[object, str], datetime.date]:
    """Return a reader for a day from 1990 up to today."""

    def read(given: object, where: str) -> datetime.date:
        if isinstance(given, datetime.datetime):
            given = given.date()
        if isinstance(given, str):
            try:
                given = datetime.date.fromisoformat(given.strip())
            except ValueError:
                raise refuse("field-bad", where, f"{shown(given)} is not a day", "year-month-day, 2026-11-25") from None
        if not isinstance(given, datetime.date):
            raise refuse("field-bad", where, f"{shown(given)} is not a day", "year-month-day, 2026-11-25")
        if given > today:
            raise refuse("date-future", where, f"{given} has not come yet", f"up to today, {today}")
        if given.year < 1990:
            raise refuse("date-old", where, f"{given} is too long ago", "1990 or later")
        return given

    return read


def read_tip(kit: Kit | None) -> Callable[[object, str], str]:
    """A tip's name; one that differs from the kit's only in case or space is taken as the kit writes it."""

    def read(given: object, where: str) -> str:
        text = read_text(str(given) if isinstance(given, int) and not isinstance(given, bool) else given, where)
        known = {re.sub(r"\s+", "", t.name.lower()): t.name for t in kit.torch.tips} if kit is not None else {}
        return known.get(re.sub(r"\s+", "", text.lower()), text)

    return read


def length_of(f: Fields, key: str, unit: str, *, signed: bool = False) -> float | None:
    """A length under its plain name in shop units, or under the record's in millimetres; None when absent."""
    plain, exact = key, f"{key}_mm"
    zero = signed or key in _MAY_BE_ZERO
    least = -1000.0 if signed else 0.0
    here = f.take(plain, length(unit, least, 20_000.0) if zero else above_zero(unit), None)
    there = f.take(exact, length("mm", least, 20_000.0) if zero else above_zero("mm"), None)
    if f.has(plain) and f.has(exact):
        f.refuse("field-twice", exact, f"is given beside {plain}", "one of the two")
        return None
    return here if there is None else there


def above_zero(unit: str) -> Callable[[object, str], float]:
    """Return a reader for a length [mm] that cannot be nothing."""

    def read(given: object, where: str) -> float:
        mm = length(unit, 0.0, 20_000.0)(given, where)
        if mm == 0:
            raise refuse("length-zero", where, f"{shown(given)} is zero", "above zero; leave out what was not read")
        return mm

    return read


def either(f: Fields, keys: tuple[str, ...], read: Callable[[object, str], T]) -> T | None:
    """A field that goes by either of two names; refused when both are given."""
    given = [k for k in keys if f.has(k)]
    values = [f.take(k, read, None) for k in given]
    if len(given) > 1:
        f.refuse("field-twice", given[1], f"is given beside {given[0]}", "one of the two")
        return None
    return values[0] if values else None


def needed(f: Fields, keys: tuple[str, ...], read: Callable[[object, str], float], stand_in: float) -> float:
    """A current by either name, refused when it is missing."""
    if not any(f.has(k) for k in keys):
        f.refuse("field-missing", keys[0], "is missing", "what the set was at, in amps")
        return stand_in
    value = either(f, keys, read)
    return stand_in if value is None else value


def seconds_of(c: Fields, key: str = "seconds") -> float | None:
    """A time, above nought up to an hour; None when absent. [s]"""
    allowed = "above 0 up to 3600 s"

    def read(given: object, where: str) -> float:
        try:
            value = scalar("s", ("s", "sec", "secs", "second", "seconds"), -1e9, 1e9)(given, where)
        except LaglineError as e:
            raise LaglineError(*(replace(f, allowed=allowed) for f in e.findings)) from None
        if not 0 < value <= 3600:
            say = "is no time" if value == 0 else "is below zero" if value < 0 else "is over an hour"
            raise refuse("seconds-not-above-zero", where, f"{shown(given)} {say}", allowed)
        return value

    return c.take(key, read, None)
