"""What is asked for: stock, parts, plates, and the job that holds them. All lengths mm."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from lagline.records.geometry import Loop, Move, Outline, Point


class EdgeUse(StrEnum):
    """What an edge will be used for; it sets the grinding allowance."""

    FREE = "free"
    WELD = "weld"
    FIT = "fit"
    MACHINED = "machined"


class Size(StrEnum):
    """Whether a drawing gives the part after grinding, or as it comes off the torch."""

    FINISHED = "finished"
    CUT = "cut"


@dataclass(frozen=True, slots=True)
class Stock:
    """Metal of one kind and thickness; parts only go on plates of equal stock.

    ``metal`` is ``steel``, ``stainless`` or ``aluminium``; ``thickness_text`` is as the user wrote it.
    """

    metal: str
    grade: str
    thickness_mm: float
    thickness_text: str
    coating: str = "bare"

    def __post_init__(self) -> None:
        if not (math.isfinite(self.thickness_mm) and self.thickness_mm > 0):
            raise ValueError(f"thickness must be above zero, got {self.thickness_mm}")

    @property
    def key(self) -> tuple[str, float]:
        """What must agree between part and plate."""
        return (self.metal, round(self.thickness_mm, 3))


@dataclass(frozen=True, slots=True)
class Edge:
    """What the job says of one edge: its use, and a bevel to be prepared on it afterwards [deg, 0 for square]."""

    name: str
    use: EdgeUse
    bevel_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class Part:
    """One kind of part, as drawn.

    ``edges`` has one entry for every segment name of the outline. ``turns_deg`` empty means any angle.
    ``tolerance_mm`` is the plus-or-minus wanted on size; 0 when not stated.
    """

    name: str
    outline: Outline
    quantity: int
    stock: Stock
    edges: tuple[Edge, ...]
    size: Size = Size.FINISHED
    tolerance_mm: float = 0.0
    turns_deg: tuple[float, ...] = (0.0, 90.0, 180.0, 270.0)
    may_mirror: bool = False
    origin: str = ""  # file or shape it came from, for findings and the card
    grain_deg: float | None = None  # direction on the part that must lie along the plate's; None when any will do
    bridge_mm: float | None = None  # bridges left along a strip and cut last; 0 none, None as the job says

    def edge(self, name: str) -> Edge:
        """Return the edge of that name."""
        return next(e for e in self.edges if e.name == name)


@dataclass(frozen=True, slots=True)
class Plate:
    """A plate or offcut lying on the bench, datum corner at (0, 0), x along the datum edge.

    ``outline.holes`` are openings and bad areas. ``diagonals_mm`` as taped, (0, 0) when not measured.
    ``margin_mm`` is kept clear of cuts along the plate's edge.
    """

    name: str
    kind: str  # "plate" or "offcut"
    outline: Outline
    stock: Stock
    margin_mm: float
    diagonals_mm: tuple[float, float] = (0.0, 0.0)
    mark: str = ""  # heat number or place, to be moved onto part and offcut
    factory_edges: tuple[str, ...] = ()  # sides ("bottom", "left", "top", "right") good enough to be a part's edge
    grain_deg: float | None = None  # direction of rolling on the plate, from x; None when it does not matter
    keep_out: tuple[Loop, ...] = ()  # regions the user forbids to parts; metal all the same
    trim: tuple[str, ...] = ()  # rough sides ("bottom", "left") cut true first: the datum is where they are cut
    trim_mm: float = 0.0  # what that takes off
    rack: str = ""  # its mark on the rack, such as R-7; "" for metal that never lay there
    spare: bool = False  # left alone: what the job takes from the rack is enough


@dataclass(frozen=True, slots=True)
class Pin:
    """A copy of a part that stays where the user put it: ``move`` takes part coordinates to plate coordinates."""

    part: str  # name
    plate: str  # name
    move: Move


@dataclass(frozen=True, slots=True)
class Job:
    """A whole job."""

    name: str
    units: str  # "in" or "mm": how lengths are shown
    parts: tuple[Part, ...]
    plates: tuple[Plate, ...]
    seed: int = 1
    gap_mm: float | None = None  # clear gap between parts, None for the default from kerf and hand
    paper: str = "letter"  # "letter" or "a4"
    layout: str = "best"  # "best", "guided", "quick" or "dense"
    current_a: float | None = None  # asked for by the user; None lets the settings stage choose
    closed_vessel: bool = False
    notes: str = ""
    vessel_made_safe: str = ""  # how a closed vessel was cleaned, vented and tested, in the user's own words
    pins: tuple[Pin, ...] = ()
    bridges: bool | None = None  # leave bridges along strips; None where a strip would bow too far
    rack: tuple[tuple[str, float | None], ...] = ()  # plates to choose from: mark, worth; () when none is asked for


@dataclass(frozen=True, slots=True)
class Feature:
    """Something about a part's shape that matters to the hand: kind, place, size."""

    kind: str  # "straight", "arc", "free", "hole", "slot", "window", "inside corner"
    where: str  # segment name(s)
    at: Point
    size_mm: float  # length, radius for arcs, diameter for holes, width for slots, turn in deg for corners
