"""Pins, regions to keep out of, and factory edges, written into a job's text as the plate's page gives them.

A pin or region is known by its ``key``, made from what the file says of it: so it is found again although others were
added or taken out meanwhile, and never another taken for it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from lagline.book.shelf import JOB, mark_of
from lagline.planning.fields import read_toml, shown
from lagline.planning.job_edit import Path, remove_value, set_value
from lagline.planning.job_plates import SIDES
from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Finding
from lagline.records.job import Job
from lagline.records.length import read_length, show_length
from lagline.records.rack import rack_mark
from lagline.shapes.region import loop_polygon, polygon

PINS = "pins"
SAME_MM = 1e-6
_IN_TEXT = 'a plate of the job; one chosen from the rack is named there first: [[plates]] rack = "R-7"'
TURNS = "degrees, -360 to 360, anticlockwise from as drawn"
_NUMBER = re.compile(r"-?\d{1,7}(?:\.\d{1,20})?", re.ASCII)


def shown_length(mm: float, units: str) -> str:
    """Return a length for a field of the page: inches to 1/32, or millimetres to a tenth."""
    return show_length(mm, units, 32, mark_over_mm=math.inf)


def shown_turn(turn_rad: float) -> str:
    """Return a turn for a field of the page [deg]."""
    return f"{round(math.degrees(turn_rad) % 360, 4) % 360:g}"


def exact(mm: float, units: str) -> str:
    """Return a length as the file holds it: as the shop writes it where that is it, else exactly enough that a shared
    edge stays one."""
    near = show_length(mm, units, 32, mark_over_mm=math.inf).removeprefix("~")
    if abs(read_length(near, units, "length", signed=True) - mm) < SAME_MM:
        return near.removesuffix('"')
    text = f"{mm:.6f}".rstrip("0").rstrip(".")
    return f"{'0' if text == '-0' else text} mm"


def keys_of(tables: object) -> tuple[str, ...]:
    """Return the keys of a list of tables as read from the file, in their order."""
    return tuple(_key(t) for t in tables) if isinstance(tables, list) else ()


def _key(table: object) -> str:
    return mark_of(repr(table).encode())[:12]


def plate_name(job_text: str, plate: int) -> str:
    """Return what a plate is called, as the reader of the file names one without a name."""
    plates = _plates(read_toml(job_text, JOB))
    of = plates[plate] if 0 <= plate < len(plates) else {}
    named = of.get("name") or rack_mark(str(of.get("rack", "")))
    return str(named or (chr(65 + plate) if 0 <= plate < 26 else f"plate {plate + 1}"))[:80]


def pin_keys(job_text: str) -> tuple[str, ...]:
    """Return the keys of a job's pins, in their order."""
    return keys_of(read_toml(job_text, JOB).get(PINS))


def region_keys(job_text: str, plate: int) -> tuple[str, ...]:
    """Return the keys of the regions of a plate, in their order."""
    plates = _plates(read_toml(job_text, JOB))
    return keys_of(plates[plate].get("keep_out")) if 0 <= plate < len(plates) else ()


def pin(job_text: str, given: Mapping[str, str]) -> str:
    """Return the text with a copy pinned, or with the pin ``key`` moved.

    ``given`` holds ``part``, ``plate``, ``left``, ``bottom``, ``turn``, ``turned_over`` as typed, and in
    ``left_mm``, ``bottom_mm``, ``turn_deg`` the exact values that were shown: a field left as it was means those.
    Errors: LaglineError with every field that will not do.
    """
    job = read_toml(job_text, JOB)
    units = "mm" if job.get("units") == "mm" else "in"
    faults: list[Finding] = []
    values: dict[str, object] = {}
    for name in ("left", "bottom"):
        try:
            values[name] = _place(given.get(name, ""), given.get(f"{name}_mm", ""), units, name)
        except LaglineError as e:
            faults.extend(e.findings)
    try:
        values["turn"] = _turn(given.get("turn", ""), given.get("turn_deg", ""))
    except LaglineError as e:
        faults.extend(e.findings)
    if faults:
        raise LaglineError(*faults)
    if given.get("turned_over"):
        values["turned_over"] = True
    key = given.get("key", "")
    if not key:
        whole = {"part": given.get("part", ""), "plate": given.get("plate", ""), **values}
        return _added(job_text, (PINS,), job.get(PINS), whole)
    n = _find(pin_keys(job_text), key, "pin")
    for name, value in values.items():
        job_text = set_value(job_text, (PINS, n, name), value)
    old = job[PINS]
    if isinstance(old, list) and old[n].get("turned_over") and "turned_over" not in values:
        job_text = remove_value(job_text, (PINS, n, "turned_over"))
    return job_text


def let_go(job_text: str, key: str) -> str:
    """Return the text without a pin. Errors: LaglineError when it is not there."""
    return _taken_out(job_text, (PINS,), pin_keys(job_text), key, "pin")


def keep_out(job_text: str, plate: int, given: Mapping[str, str]) -> str:
    """Return the text with a region of a plate that parts keep out of: ``left``, ``bottom``, ``width``, ``height`` as
    typed. Errors: LaglineError with every field that will not do."""
    job = read_toml(job_text, JOB)
    units = "mm" if job.get("units") == "mm" else "in"
    faults: list[Finding] = []
    for name in ("left", "bottom", "width", "height"):
        try:
            read_length(
                given.get(name, ""), units, name, signed=name in ("left", "bottom"), zero=name in ("left", "bottom")
            )
        except LaglineError as e:
            faults.extend(e.findings)
    if faults:
        raise LaglineError(*faults)
    whole = {name: _as_typed(given[name], units) for name in ("left", "bottom", "width", "height")}
    return _added(job_text, (*_plate(job, plate), "keep_out"), _plates(job)[plate].get("keep_out"), whole)


def check_region(job: Job, plate: int) -> None:
    """Refuse the region of a plate that was added last when no part of it lies on the plate: it would keep out nothing.

    Errors: LaglineError.
    """
    region, metal = loop_polygon(job.plates[plate].keep_out[-1]), polygon(job.plates[plate].outline)
    if region.intersection(metal).area < 1:  # mm2: less is rounding along an edge
        x0, y0, x1, y1 = metal.bounds
        across, up = ((shown_length(a, job.units), shown_length(b, job.units)) for a, b in ((x0, x1), (y0, y1)))
        size = f"left to right {across[0]} to {across[1]}, bottom to top {up[0]} to {up[1]}"
        raise refuse("region-off", "region", "no part of it lies on the plate", size)


def open_up(job_text: str, plate: int, key: str) -> str:
    """Return the text without a region. Errors: LaglineError when it is not there."""
    path = (*_plate(read_toml(job_text, JOB), plate), "keep_out")
    return _taken_out(job_text, path, region_keys(job_text, plate), key, "region")


def factory_edges(job_text: str, plate: int, sides: tuple[str, ...]) -> str:
    """Return the text with the sides of a plate that may be a part's edge. Errors: LaglineError for no side."""
    if unknown := [s for s in sides if s not in SIDES]:
        raise refuse("field-bad", "factory edges", f"{shown(unknown[0])} is no side of a plate", ", ".join(SIDES))
    job = read_toml(job_text, JOB)
    path = (*_plate(job, plate), "factory_edges")
    if not sides:
        return remove_value(job_text, path) if "factory_edges" in _plates(job)[plate] else job_text
    return set_value(job_text, path, [s for s in SIDES if s in sides])


def _plates(job: dict[str, object]) -> list[dict[str, object]]:
    plates = job.get("plates")
    return plates if isinstance(plates, list) else []


def _plate(job: dict[str, object], plate: int) -> Path:
    if not 0 <= plate < len(_plates(job)):
        raise refuse("plate-unknown", "plates", f"the job's text has no plate number {plate + 1}", _IN_TEXT)
    return ("plates", plate)


def _place(typed: str, as_was: str, units: str, where: str) -> str:
    """A length as the file holds it: as typed, or the exact one where the field still shows it."""
    was = float(as_was) if _NUMBER.fullmatch(as_was) else math.nan
    if math.isfinite(was) and " ".join(typed.split()) == shown_length(was, units):
        return exact(was, units)
    read_length(typed, units, where, signed=True)
    return _as_typed(typed, units)


def _as_typed(typed: str, units: str) -> str:
    """A length on one line; a last inch mark needs no place in a file of inches."""
    text = " ".join(typed.split())
    return text.removesuffix('"') if units == "in" and "'" not in text else text


def _turn(typed: str, as_was: str) -> float | int:
    text = typed.strip().removesuffix("°").strip()
    if not _NUMBER.fullmatch(text):
        raise refuse("field-bad", "turn", f"{shown(typed)} is not a number of degrees", TURNS)
    turn = float(text)
    if _NUMBER.fullmatch(as_was) and text == shown_turn(math.radians(float(as_was))):
        turn = round(float(as_was) % 360, 9)
    if not -360 <= turn <= 360:
        raise refuse("field-bad", "turn", f"{shown(typed)} is out of range", TURNS)
    return int(turn) if turn == int(turn) else turn


def _added(job_text: str, path: Path, old: object, table: Mapping[str, object]) -> str:
    if isinstance(old, list):
        return set_value(job_text, (*path, len(old)), table)
    if path == (PINS,):
        return set_value(job_text.rstrip("\n") + "\n\n", (PINS, 0), table)
    return set_value(job_text, path, [table])


def _find(keys: tuple[str, ...], key: str, what: str) -> int:
    if key not in keys:
        say = f"that {what} is not there any more"
        raise refuse(f"{what}-gone", what, say, f"one of the {what}s on the page as it is now")
    return keys.index(key)


def _taken_out(job_text: str, path: Path, keys: tuple[str, ...], key: str, what: str) -> str:
    n = _find(keys, key, what)
    return remove_value(job_text, path if len(keys) == 1 else (*path, n))
