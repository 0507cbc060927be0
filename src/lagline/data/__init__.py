"""Tables, each a CSV file with its source in its header; read once, never retyped in Python."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files


@dataclass(frozen=True, slots=True)
class Table:
    """A table: its name, the source and notes from its header lines, and rows by column name (text)."""

    name: str
    source: str
    notes: tuple[str, ...]
    rows: tuple[dict[str, str], ...]


@cache
def table(name: str) -> Table:
    """Read ``data/NAME.csv``.

    The file opens with ``# source: ...`` and any number of ``# note: ...`` lines, then a CSV header and rows.
    Raises FileNotFoundError for a name that is not there and ValueError when the source line is missing.
    """
    text = (files(__package__) / f"{name}.csv").read_text(encoding="utf-8")
    head = [line[1:].strip() for line in text.splitlines() if line.startswith("#")]
    body = [line for line in text.splitlines() if line and not line.startswith("#")]
    source = next((h.removeprefix("source:").strip() for h in head if h.startswith("source:")), "")
    if not source:
        raise ValueError(f"table {name} has no source line")
    notes = tuple(h.removeprefix("note:").strip() for h in head if h.startswith("note:"))
    return Table(name, source, notes, tuple(csv.DictReader(body)))
