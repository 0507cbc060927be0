"""Changing one value of a job or kit: which ones a page offers, how they stand, and the text with one changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from lagline.book.shelf import JOB, KIT
from lagline.planning.fields import read_toml
from lagline.planning.job_edit import Path, remove_value, set_value
from lagline.planning.job_stock import COATINGS, METALS
from lagline.planning.kit_file import generic_kit
from lagline.records.errors import LaglineError, refuse
from lagline.records.figure import Spread
from lagline.records.length import show_length


@dataclass(frozen=True, slots=True)
class OneValue:
    """One value that a page offers to change.

    ``kind`` is ``text`` (a length as the shop writes it), ``whole``, ``number``, ``choice`` or ``spread``. ``value``
    is as written in the file, empty when the file leaves it out; ``hint`` then says what is taken.
    """

    id: str
    file: str
    path: Path
    label: str
    kind: str
    value: str
    hint: str = ""
    choices: tuple[str, ...] = ()
    low: str = ""
    high: str = ""
    group: str = "job"
    may_be_empty: bool = True


def _text(value: object) -> str:
    if isinstance(value, Mapping):
        return _text(value.get("value"))
    return "" if value is None else str(value)


def _at(data: Any, *path: str | int) -> object:
    for key in path:
        try:
            data = data[key]
        except (KeyError, IndexError, TypeError):
            return None
    return data


def parts_asked(job_text: str) -> tuple[tuple[str, str], ...]:
    """Return each part's name and how many are asked for, as the job's text says it; none of one that is unreadable."""
    try:
        return tuple(
            (v.label.removeprefix("how many: "), v.value or "1") for v in values(job_text, "") if v.group == "parts"
        )
    except LaglineError:
        return ()


def values(job_text: str, kit_text: str) -> tuple[OneValue, ...]:
    """Return the values a page offers; none of a text that cannot be read."""
    try:
        job, kit = read_toml(job_text, JOB), read_toml(kit_text, KIT)
    except LaglineError:
        return ()
    return (*_of_job(job), *_of_kit(kit))


def _of_job(job: dict[str, object]) -> list[OneValue]:
    def one(key: str, path: Path, label: str, kind: str, hint: str = "", **more: Any) -> OneValue:
        return OneValue(key, JOB, path, label, kind, _text(_at(job, *path)), hint, **more)

    unit = "inches" if _at(job, "units") != "mm" else "mm"
    length = f"such as 3/8, 10 mm; {unit} when no unit is written"
    out = [
        one("current", ("current_a",), "current, A", "number", "empty: chosen for you"),
        one("thickness", ("stock", "thickness"), "thickness", "text", "3/8, 10 ga, 12 mm", may_be_empty=False),
        one("metal", ("stock", "metal"), "metal", "choice", choices=METALS, may_be_empty=False),
        one("coating", ("stock", "coating"), "coating", "choice", "bare when not said", choices=COATINGS),
        one("gap", ("gap",), "gap between parts", "text", "empty: two kerfs and room for the hand"),
        one(
            "layout",
            ("layout",),
            "layout",
            "choice",
            "best when not said",
            choices=("best", "guided", "quick", "dense"),
        ),
        one("seed", ("seed",), "another layout: seed", "whole", "1 when not said"),
        one("units", ("units",), "inches or mm", "choice", "in when not said", choices=("in", "mm")),
        one("paper", ("paper",), "paper", "choice", "letter when not said", choices=("letter", "a4")),
    ]
    parts = _at(job, "parts")
    for i, part in enumerate(parts if isinstance(parts, list) else []):
        name = _text(_at(part, "name")) or _text(_at(part, "shape")) or _text(_at(part, "file")) or f"part {i + 1}"
        out.append(
            one(
                f"quantity-{i}",
                ("parts", i, "quantity"),
                f"how many: {name}",
                "whole",
                "1 when not said",
                group="parts",
            )
        )
    plates = _at(job, "plates")
    for i, plate in enumerate(plates if isinstance(plates, list) else []):
        if _at(plate, "width") is None:
            continue
        name = _text(_at(plate, "name")) or chr(65 + i)
        for key, word in (("width", "along the datum edge"), ("height", "up from it")):
            path: Path = ("plates", i, key)
            label = f"plate {name}, {word}"
            hint = length if _at(plate, "diagonals") is None else f"{length}; drops the taped diagonals"
            out.append(one(f"plate-{i}-{key}", path, label, "text", hint, group="plates", may_be_empty=False))
    return out


def _of_kit(kit: dict[str, object]) -> list[OneValue]:
    generic = generic_kit()
    own_tips = _at(kit, "tips")
    torch = _at(kit, "torch") or {}
    cup = _at(torch, "cup_radius")
    out = [
        OneValue(
            "square-side", KIT, ("torch", "square_side"), "square side of travel", "choice",
            _text(_at(torch, "square_side")), f"{generic.torch.square_side} when not said", ("right", "left"),
            group="kit",
        ),
        OneValue(
            "cup", KIT, ("torch", "cup_radius"), "cup radius at guide height", "spread", _text(cup),
            _default(generic.torch.cup_radius_mm), (), _text(_at(cup, "low")), _text(_at(cup, "high")), "kit",
        ),
    ]  # fmt: skip
    names = (
        [_text(_at(t, "name")) or f"tip {i + 1}" for i, t in enumerate(own_tips)]
        if isinstance(own_tips, list) and own_tips
        else [t.name for t in generic.torch.tips]
    )
    for i, name in enumerate(names):
        kerf = _at(own_tips, i, "kerf")
        out.append(
            OneValue(
                f"kerf-{i}", KIT, ("tips", i, "kerf"), f"kerf measured with tip {name}", "spread", _text(kerf),
                "empty: from the bore", (), _text(_at(kerf, "low")), _text(_at(kerf, "high")), "kit",
            )
        )  # fmt: skip
    return out


def _default(s: Spread) -> str:
    low, value, high = (show_length(v, "mm") for v in (s.low, s.value, s.high))
    return f"empty: {value}, default from {low} to {high}"


def _typed(one: OneValue, given: str) -> object:
    """The text of a form as the file holds it: numbers as numbers, lengths as written."""
    text = " ".join(given.split())
    if one.kind == "choice":
        if text not in one.choices:
            raise refuse("field-bad", one.label, f'"{text[:40]}" is not a choice', ", ".join(one.choices))
        return text
    if one.kind in ("whole", "number"):
        try:
            return int(text) if one.kind == "whole" or text.lstrip("-").isdecimal() else float(text)
        except ValueError:
            allowed = "a whole number such as 4" if one.kind == "whole" else "a number such as 60"
            raise refuse("field-bad", one.label, f'"{text[:40]}" is not a number', allowed) from None
    if len(text) > 200:
        raise refuse("field-bad", one.label, "is too long", "up to 200 letters")
    return text


def changed(job_text: str, kit_text: str, key: str, given: Mapping[str, str]) -> tuple[OneValue, str]:
    """Return the value that was meant and its file's text with it changed.

    ``given`` holds ``value`` and for a spread ``low`` and ``high``; all empty takes the field out of the file.
    Errors: LaglineError for a value that is not offered or not of its kind; whether it is *allowed* the reader of the
    file says.
    """
    one = next((v for v in values(job_text, kit_text) if v.id == key), None)
    if one is None:
        raise refuse("value-unknown", key[:40], "is not a value that is changed here", "one of the forms on the page")
    text = job_text if one.file == JOB else kit_text
    value = given.get("value", "").strip()
    low, high = given.get("low", "").strip(), given.get("high", "").strip()
    if one.path[0] == "tips" and value and not isinstance(read_toml(kit_text, KIT).get("tips"), list):
        text = _with_tips(text)
    if not value:
        if low or high:
            raise refuse("field-missing", one.label, "low or high is given without the value", "all three, or none")
        if not one.may_be_empty:
            raise refuse("field-missing", one.label, "is empty", one.hint or "a value")
        return one, remove_value(text, one.path) if one.value else text
    if one.kind == "spread" and (low or high):
        spread = {"value": _typed(one, value), "low": _typed(one, low or value), "high": _typed(one, high or value)}
        return one, set_value(text, one.path, spread)
    text = set_value(text, one.path, _typed(one, value))
    if one.path[0] == "plates" and value != one.value and _at(read_toml(text, JOB), *one.path[:2], "diagonals"):
        text = remove_value(text, (*one.path[:2], "diagonals"))  # they were taped on the other size
    return one, text


def _with_tips(text: str) -> str:
    """A kit text without tips of its own, with the generic ones written out so that one can be changed."""
    for i, tip in enumerate(generic_kit().torch.tips):
        written = {"name": tip.name, "bore": f"{tip.bore_mm:g} mm", "max_current_a": tip.max_current_a}
        text = set_value(text, ("tips", i), written)
    return text
