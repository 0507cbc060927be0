"""A set-out: what a hand measures, marks and sets for one kind of work, with its picture and its full-scale sheets.

Lengths mm. Drawings have x to the right and y up. What a ``Stroke`` or an ``Area`` shows is its kind; how a kind looks
on screen and on paper is decided once, where they are drawn.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from lagline.records.figure import Basis, Figure
from lagline.records.finding import Finding
from lagline.records.geometry import Point

StrokeKind = Literal[
    "cut",  # the line the torch must leave: heavy
    "edge",  # edge of metal
    "mark",  # a line to scribe or a tick: fine
    "guide",  # where a guide's edge lies
    "hidden",  # behind something: dashed
    "centre",  # an axis: chain line
    "fold",  # overlap or join of paper: dashed, light
]
AreaKind = Literal["metal", "waste", "guide", "weld", "paper"]


@dataclass(frozen=True, slots=True)
class Number:
    """One number of a set-out: ``key`` is its name with its unit, ``words`` says it as the shop does.

    ``main`` numbers are what the hands set: they are shown large.
    """

    key: str  # offset_kept_mm
    words: str
    figure: Figure
    main: bool = False


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table: key with its unit, head, and ``mm``, ``deg``, ``s``, ``mm/s``, ``kg/m``... or ""."""

    key: str
    head: str
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of numbers (in the columns' units) and words."""

    key: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[float | str, ...], ...]
    note: str = ""

    def __post_init__(self) -> None:
        if any(len(r) != len(self.columns) for r in self.rows):
            raise ValueError(f"table {self.key}: a row has not one value for each column")


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line through points, closed back to its first when ``closed``."""

    kind: StrokeKind
    points: tuple[Point, ...]
    closed: bool = False


@dataclass(frozen=True, slots=True)
class Area:
    """A filled outline; ``holes`` are left open."""

    kind: AreaKind
    points: tuple[Point, ...]
    holes: tuple[tuple[Point, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class Text:
    """Words centred at a point, turned anticlockwise [deg]; ``size_mm`` is the height of a capital on a full-scale
    sheet, and relative to the others' on a picture."""

    at: Point
    text: str
    turn_deg: float = 0.0
    size_mm: float = 3.0


@dataclass(frozen=True, slots=True)
class Dim:
    """A dimension from ``a`` to ``b``, its line ``off_mm`` to the left of the way from a to b."""

    a: Point
    b: Point
    text: str
    off_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Drawing:
    """A picture (to no scale, fitted to its place) or, where it is one of ``SetOut.sheets``, a full-scale sheet.

    ``label`` is printed at the foot of every tile of a sheet.
    """

    name: str
    areas: tuple[Area, ...] = ()
    strokes: tuple[Stroke, ...] = ()
    texts: tuple[Text, ...] = ()
    dims: tuple[Dim, ...] = ()
    label: tuple[str, ...] = ()

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Left, bottom, right, top of everything but the words [mm]."""
        points = [p for s in self.strokes for p in s.points] + [p for a in self.areas for p in a.points]
        points += [p for d in self.dims for p in (d.a, d.b)]
        if not points:
            raise ValueError(f"drawing {self.name} is empty")
        xs, ys = zip(*points, strict=True)
        return min(xs), min(ys), max(xs), max(ys)


@dataclass(frozen=True, slots=True)
class SetOut:
    """Everything one kind of work needs at the bench.

    Parameters
    ----------
    kind : family and name, ``pipe saddle``
    title : one line for the head of page and sheet, with the sizes that tell it from another
    given : what was asked: key, words, the value as shown
    numbers, tables : the answers
    steps : what to do, in order, one sentence each
    picture : drawing that explains; sheets : drawings at full scale
    findings : cautions, no-gos, notes
    """

    kind: str
    title: str
    given: tuple[tuple[str, str, str], ...]
    numbers: tuple[Number, ...]
    tables: tuple[Table, ...] = ()
    steps: tuple[str, ...] = ()
    picture: Drawing | None = None
    sheets: tuple[Drawing, ...] = ()
    findings: tuple[Finding, ...] = ()

    def __getitem__(self, key: str) -> float:
        """Value of the number of that key; KeyError when there is none."""
        for n in self.numbers:
            if n.key == key:
                return n.figure.value
        raise KeyError(key)

    def table(self, key: str) -> Table:
        """The table of that key; KeyError when there is none."""
        for t in self.tables:
            if t.key == key:
                return t
        raise KeyError(key)


def exact(
    value: float, unit: str, formula: str, source: str, inputs: tuple[tuple[str, str], ...] = (),
    basis: Basis = Basis.DRAWING,
) -> Figure:  # fmt: skip
    """Return a figure without spread: geometry of what was asked."""
    return Figure(value, value, value, unit, formula, basis, source, inputs)
