"""The clock on the wall: a start time as it is typed, and what time it is so long after."""

from __future__ import annotations

import re

from lagline.records.errors import refuse

DAY_MIN = 24 * 60
_TIME = re.compile(r"(\d{1,2})[:.](\d{2})\s*(am|pm)?|(\d{1,2})\s*(am|pm)", re.ASCII | re.IGNORECASE)
ALLOWED = "13:30, 1:30 pm or 7 am"


def read_start(text: str, where: str = "start") -> int:
    """Read a time of day as minutes after midnight. Errors: LaglineError for anything else."""
    bad = refuse("time-bad", where, f'"{text.strip()[:20]}" is no time of day', ALLOWED)
    m = _TIME.fullmatch(text.strip())
    if m is None:
        raise bad
    hour, minute = int(m[1] or m[4]), int(m[2] or 0)
    half = (m[3] or m[5] or "").lower()
    if half:
        if not 1 <= hour <= 12:
            raise bad
        hour = hour % 12 + (12 if half == "pm" else 0)
    if hour > 23 or minute > 59:
        raise bad
    return 60 * hour + minute


def show_time(start_min: int, after_s: float) -> str:
    """Return the time so long after a start, rounded up to the minute: ``14:05``, ``00:20 next day``."""
    at = start_min + int(-(-after_s // 60))
    days, at = divmod(at, DAY_MIN)
    text = f"{at // 60:02d}:{at % 60:02d}"
    if days == 0:
        return text
    return f"{text} next day" if days == 1 else f"{text} {days} days later"


def show_after(after_s: float) -> str:
    """Return a time when no start is known: ``start + 3 h 20``."""
    m = int(-(-after_s // 60))
    return "start + " + (f"{m // 60} h {m % 60:02d}" if m >= 60 else f"{m} min")
