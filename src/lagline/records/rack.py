"""What lies on the rack: plates and offcuts with their true outline, and what became of them. Lengths mm, mass kg."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

from lagline.records.geometry import Outline
from lagline.records.job import Stock

_MARK = re.compile(r"[rR][- ]?0*([1-9]\d{0,7})", re.ASCII)


def rack_mark(text: str) -> str:
    """Return a mark as the book writes it, ``R-7`` for ``r7``; any other text as it is."""
    found = _MARK.fullmatch(text.strip())
    return f"R-{int(found[1])}" if found else text.strip()


class RackState(StrEnum):
    """Where an item is now."""

    ON = "on the rack"
    USED = "used"
    SCRAPPED = "scrapped"


@dataclass(frozen=True, slots=True)
class Offcut:
    """A piece of plate worth keeping after a job, where it lies on its plate.

    ``outline`` lies inside the metal truly left. ``rectangle_mm`` is the largest clear rectangle in it: left, bottom,
    width, height. ``came_from`` is "left" for what stays of the plate, "drop" for what falls out of a part.
    """

    outline: Outline
    rectangle_mm: tuple[float, float, float, float]
    area_mm2: float
    mass_kg: float
    came_from: str = "left"


@dataclass(frozen=True, slots=True)
class RackItem:
    """A plate or offcut of the shop, its lower left at (0, 0); ``outline.holes`` are openings and bad areas.

    ``mark`` is what is chalked on it, such as R-7; "" until the book gives one. ``worth`` is in shop money, None when
    not known. ``from_job``, ``from_plan`` and ``from_plate`` say where an offcut came from, ``by_job`` and ``by_plan``
    which plan used it.
    """

    mark: str
    kind: str  # "plate" or "offcut"
    outline: Outline
    stock: Stock
    name: str = ""
    heat: str = ""
    place: str = ""
    date: str = ""
    worth: float | None = None
    note: str = ""
    from_job: str = ""
    from_plan: str = ""
    from_plate: str = ""
    state: RackState = RackState.ON
    by_job: str = ""
    by_plan: str = ""

    @property
    def spent(self) -> str:
        """What used the item up, in words: ``used by cradle, plan ABC-DEF``; "" when nothing did."""
        return f"used by {self.by_job}, plan {self.by_plan}" if self.state is RackState.USED else ""

    @property
    def called(self) -> str:
        """What is written on the plate beside its mark: name and heat number."""
        return ", ".join(x for x in (self.name, f"heat {self.heat}" if self.heat else "") if x)


@dataclass(frozen=True, slots=True)
class RackPast:
    """A plan that was cut, and what lay on the rack just before: to read that very plan again.

    All that it ``used`` is still used by it.
    """

    job: str
    plan: str
    at: str  # ISO 8601, UTC
    used: tuple[str, ...]
    items: tuple[RackItem, ...]
