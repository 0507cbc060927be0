"""Pinned copies: laid first, just where the user put them; those that cannot lie there are named and stay off."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon

from lagline.planning.layout_lines import shared_pairs
from lagline.planning.layout_open import along_grain, open_metal, rims
from lagline.planning.layout_units import BadSide
from lagline.records.finding import Finding, Severity
from lagline.records.job import Pin, Plate
from lagline.records.plan import Blank, Placed
from lagline.shapes.region import loop_polygon, polygon

TOUCH_MM = 1e-3


@dataclass(frozen=True, slots=True)
class Pinned:
    """A pinned copy that may lie where it is."""

    placed: Placed
    area: Polygon


@dataclass(frozen=True, slots=True)
class Pins:
    """Copies that stay, how many of each part cannot lie where they are pinned, and what was noticed."""

    stay: tuple[Pinned, ...]
    off: Counter[int]
    findings: tuple[Finding, ...]

    def on(self, plate: int) -> list[Pinned]:
        """Return those on a plate."""
        return [p for p in self.stay if p.placed.plate == plate]

    def left(self, part: int, quantity: int) -> int:
        """Return how many copies of a part are still to be laid."""
        return max(0, quantity - self.off[part] - sum(p.placed.part == part for p in self.stay))


def take_pins(
    pins: tuple[Pin, ...],
    blanks: tuple[Blank, ...],
    plates: tuple[Plate, ...],
    gap_mm: float,
    kerf_mm: float,
    bad_side: BadSide,
) -> Pins:
    """Return the pins sorted into those that hold and those that do not.

    A pin does not hold when its part or plate is not in the job, the metal differs, there are more pins than copies,
    the copy is mirrored and must not be, leaves the plate, lies over a keep-out region or comes nearer than a kerf to
    a copy pinned before it. One that is merely nearer than margin or gap, or across the grain, holds with a caution.
    The turns a part allows are for the search, not for the user's hand.
    """
    parts = {b.part.name: k for k, b in enumerate(blanks)}
    names = {p.name: i for i, p in enumerate(plates)}
    stay: list[Pinned] = []
    off: Counter[int] = Counter()
    findings: list[Finding] = []
    for pin in pins:
        k, i = parts.get(pin.part), names.get(pin.plate)
        if k is None:
            findings.append(_no(pin, f"a copy of {pin.part} is pinned on {pin.plate}, and the job has no such part"))
            continue
        count = sum(p.placed.part == k for p in stay) + off[k]
        if count >= blanks[k].part.quantity:
            say = f"more copies are pinned than the {blanks[k].part.quantity} wanted"
            findings.append(_no(pin, say))
            continue
        if i is None:
            off[k] += 1
            findings.append(_no(pin, f"a copy is pinned on {pin.plate}, and the job has no such plate"))
            continue
        mine = Pinned(Placed(k, count + 1, i, pin.move), polygon(pin.move.outline(blanks[k].cut)))
        why = _cannot(mine, blanks, plates[i], stay, kerf_mm)
        if why:
            off[k] += 1
            findings.append(_no(pin, f"a copy pinned on {pin.plate} {why}; it is not laid"))
            continue
        stay.append(mine)
    for mine in stay:
        findings += _cautions(mine, blanks, plates[mine.placed.plate])
    findings += _near(stay, blanks, plates, (gap_mm, kerf_mm), bad_side)
    return Pins(tuple(stay), off, tuple(findings))


def _no(pin: Pin, message: str) -> Finding:
    return Finding("pin-cannot", Severity.NO_GO, pin.part, message, "pin it elsewhere, or take the pin off")


def _cannot(mine: Pinned, blanks: tuple[Blank, ...], plate: Plate, stay: list[Pinned], kerf_mm: float) -> str:
    part = blanks[mine.placed.part].part
    if part.stock.key != plate.stock.key:
        return "lies on metal it is not made of"
    if mine.placed.move.mirror and not part.may_mirror:
        return "is mirrored and must not be"
    thin = mine.area.buffer(-TOUCH_MM, join_style="mitre")
    if not polygon(plate.outline).covers(thin):
        return "reaches over the plate's edge or an opening"
    if any(loop_polygon(k).intersects(thin) for k in plate.keep_out):
        return "lies over a region that is kept out"
    for other in stay:
        if other.placed.plate == mine.placed.plate:
            name = blanks[other.placed.part].part.name
            if thin.intersects(other.area):
                return f"overlaps a pinned copy of {name}"
            if mine.area.distance(other.area) < kerf_mm - TOUCH_MM:
                return f"is less than a kerf from a pinned copy of {name}"
    return ""


def _cautions(mine: Pinned, blanks: tuple[Blank, ...], plate: Plate) -> list[Finding]:
    out, name = [], blanks[mine.placed.part].part.name
    inner = open_metal(plate, shapely.Point(), frozenset(rims(plate)))
    if not inner.buffer(TOUCH_MM, join_style="mitre").covers(mine.area):
        out.append(_stays(name, f"a copy pinned on {plate.name} comes nearer than the margin to an edge"))
    move = mine.placed.move
    if not along_grain(blanks[mine.placed.part], plate, move.turn, move.mirror):
        say = f"a copy pinned on {plate.name} lies across the grain"
        out.append(Finding("pin-grain", Severity.CAUTION, name, say, "turn it along the plate's grain"))
    return out


def _near(
    stay: list[Pinned],
    blanks: tuple[Blank, ...],
    plates: tuple[Plate, ...],
    gap_and_kerf_mm: tuple[float, float],
    bad_side: BadSide,
) -> list[Finding]:
    """Return a caution for each pinned copy nearer than the gap to one before it, but where they share kerfs."""
    gap_mm, kerf_mm = gap_and_kerf_mm
    linked: dict[int, set[int]] = {n: {n} for n in range(len(stay))}
    for a, b in shared_pairs(tuple(p.placed for p in stay), blanks, kerf_mm, bad_side):
        linked[a].add(b)
        linked[b].add(a)
    out = []
    for b, mine in enumerate(stay):
        beyond = {n for k in linked[b] for n in linked[k]}  # across a corner where kerfs meet
        for a, other in enumerate(stay[:b]):
            same = other.placed.plate == mine.placed.plate and a not in beyond
            if same and mine.area.distance(other.area) < gap_mm - TOUCH_MM:
                say = (
                    f"a copy pinned on {plates[mine.placed.plate].name} comes nearer than the gap to another pinned one"
                )
                out.append(_stays(blanks[mine.placed.part].part.name, say))
                break
    return out


def _stays(name: str, message: str) -> Finding:
    return Finding("pin-near", Severity.CAUTION, name, message, "it stays where it is pinned")
