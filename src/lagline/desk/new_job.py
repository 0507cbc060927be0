"""From the fields of a page to a job text: a new job, or a part more; findings led back to the field they are about."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from lagline.book.shelf import JOB, KIT, MOST_FILES, check_drawing
from lagline.planning.fields import read_toml
from lagline.planning.job_edit import set_value
from lagline.planning.job_file import job_from_text
from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Finding
from lagline.records.job import EdgeUse
from lagline.shapes.named import SHAPES

USES = tuple(u.value for u in EdgeUse)
DRAWING = "drawing"
KIT_TEXT = """# Your bench. What is not said here comes from the generic kit and is shown as a default.
# Measure your own cup radius and kerf on scrap and write them here: they beat every default.

name = "my bench"
"""
_NO_DRAWING = refuse("field-missing", "part.file", "no drawing is given", "one or more .dxf or .svg")
_PLACE = re.compile(r"(?:(stock)|(parts)\[(\d+)\]|(plates)\[(\d+)\])")


@dataclass(frozen=True, slots=True)
class Upload:
    """A file as it came in."""

    name: str
    data: bytes


@dataclass(frozen=True, slots=True)
class Made:
    """A job text with the drawings it names."""

    text: str
    drawings: dict[str, bytes]


def field_of(finding: Finding) -> str:
    """Return the page's field a finding of the job file is about, ``part.leg_up``; empty when it has none."""
    if re.fullmatch(r"(?:part|plate|stock)\.[a-z_0-9]+", finding.where):
        return finding.where
    if re.match(r"[^:]+\.(?:dxf|svg)\b", finding.where, re.IGNORECASE):
        return "part.file"
    places = _PLACE.findall(finding.where)
    head = re.split(r"[:,] ", finding.where)[-1].strip()
    if head in ("units", "name", "current_a", "gap"):
        return head if not places else f"{'part' if places[-1][1] else 'plate'}.{head}"
    word = re.sub(r"\[.*", "", head)
    if not re.fullmatch(r"[a-z_]+", word) or head.startswith(("parts[", "plates[")):
        return ""
    if "stock" in finding.where.split(": ")[:-1]:
        return f"stock.{word}"
    if any(p[1] for p in places):
        return f"part.{word}"
    if any(p[3] for p in places):
        return f"plate.{word}"
    return "stock.thickness" if word == "thickness" else ""


def _clean(given: Mapping[str, str], key: str) -> str:
    return " ".join(given.get(key, "").split())


def _whole(given: Mapping[str, str], key: str, findings: list[Finding], default: int) -> int:
    text = _clean(given, key)
    if not text:
        return default
    if re.fullmatch(r"\d{1,6}", text, re.ASCII):
        return int(text)
    findings.extend(refuse("field-bad", key, f'"{text[:40]}" will not do', "a whole number, 1 or more").findings)
    return default


def part_table(kind: str, given: Mapping[str, str], file: str, findings: list[Finding]) -> dict[str, object]:
    """Return the part's table from the fields ``part.*``; faults that the job file cannot show go to ``findings``."""
    part: dict[str, object] = {}
    if name := _clean(given, "part.name"):
        part["name"] = name
    if kind == DRAWING:
        part["file"] = file
        if unit := _clean(given, "part.drawing_unit"):
            part["drawing_unit"] = unit
        if given.get("part.each"):
            part["each"] = True
    else:
        part["shape"] = kind
        for p in SHAPES[kind].params:
            text = _clean(given, f"part.{p.name}")
            if not text:
                continue
            if p.kind in ("count", "angle"):
                try:
                    part[p.name] = int(text) if text.lstrip("-").isdecimal() else float(text)
                except ValueError:
                    say = f'"{text[:40]}" is not a number'
                    findings.extend(refuse("field-bad", f"part.{p.name}", say, p.meaning).findings)
            elif p.kind == "points":
                part[p.name] = _points(given.get(f"part.{p.name}", ""))
            else:
                part[p.name] = text
    part["quantity"] = _whole(given, "part.quantity", findings, 1)
    if tolerance := _clean(given, "part.tolerance"):
        part["tolerance"] = tolerance
    if (size := _clean(given, "part.size")) and size != "finished":
        part["size"] = size
    uses = {k: u for k in ("outer", "holes") if (u := _clean(given, f"part.edges_{k}")) and u != "free"}
    if uses:
        part["edges"] = uses
    return part


def _points(text: str) -> list[list[str]]:
    """Corner points, one pair a line: ``0 0``, ``12, 6-1/2``."""
    return [re.split(r"[,;\s]+", line.strip()) for line in text.splitlines() if line.strip()]


def _plate_table(given: Mapping[str, str], file: str) -> dict[str, object]:
    if file:
        return {"name": "A", "kind": "offcut", "file": file}
    plate: dict[str, object] = {"name": "A"}
    for key in ("width", "height", "margin", "mark"):
        if text := _clean(given, f"plate.{key}"):
            plate[key] = text
    diagonals = [_clean(given, f"plate.diagonal_{i}") for i in (1, 2)]
    if any(diagonals):
        plate["diagonals"] = diagonals
    return plate


def _take(uploads: tuple[Upload, ...], field: str, findings: list[Finding]) -> dict[str, bytes]:
    """The uploads that may be kept, by name."""
    out: dict[str, bytes] = {}
    for u in uploads[: MOST_FILES - 2]:
        try:
            name = check_drawing(re.sub(r"[^A-Za-z0-9 ._/\\-]", "_", u.name), u.data, field)
            if name in out:
                raise refuse("file-twice", field, f'"{name}" is given twice', "each drawing once")
            out[name] = u.data
        except LaglineError as e:
            findings.extend(e.findings)
    return out


def make_job(kind: str, given: Mapping[str, str], drawings: tuple[Upload, ...], offcut: tuple[Upload, ...]) -> Made:
    """Return a job text from a page's fields.

    Errors: LaglineError with everything that is wrong at once; ``where`` of a fault this page found itself is the
    field, of one the job file's reader found a place in the file (see :func:`field_of`).
    """
    findings: list[Finding] = []
    files = _take(drawings, "part.file", findings)
    plate_file = _take(offcut, "plate.file", findings)
    if kind == DRAWING and not drawings:
        findings.extend(_NO_DRAWING.findings)
    name = _clean(given, "name")
    text = "# Every field is described in docs/job-file.md.\n\n"
    text = set_value(text, ("name",), name or _own_name(kind, files))
    text = set_value(text, ("units",), _clean(given, "units") or "in")
    if paper := _clean(given, "paper"):
        text = set_value(text, ("paper",), paper)
    for key in ("metal", "grade", "thickness", "coating"):
        if value := _clean(given, f"stock.{key}"):
            text = set_value(text, ("stock", key), value)
    names = list(files) if kind == DRAWING else [""]
    for i, file in enumerate(names):
        own = dict(given) if len(names) == 1 else {k: v for k, v in given.items() if k != "part.name"}
        text = set_value(text, ("parts", i), part_table(kind, own, file, findings if i == 0 else []))
    text = set_value(text, ("plates", 0), _plate_table(given, next(iter(plate_file), "")))
    both = plate_file | files
    _try(text, both, findings, ignore_parts=kind == DRAWING and not files)
    return Made(text, both)


def _own_name(kind: str, files: Mapping[str, bytes]) -> str:
    if kind == DRAWING:
        return Path(next(iter(files), "new job")).stem.replace("_", " ")
    return kind.replace("_", " ")


def add_parts(
    text: str, folder: Path, kind: str, given: Mapping[str, str], drawings: tuple[Upload, ...]
) -> tuple[Made, int]:
    """Return a job's text with a part more (one for each drawing), the drawings to keep, and the first new place.

    Errors: as :func:`make_job`; a text that cannot be read is told first.
    """
    findings: list[Finding] = []
    files = _take(drawings, "part.file", findings)
    if kind == DRAWING and not drawings:
        findings.extend(_NO_DRAWING.findings)
    old = read_toml(text, JOB).get("parts")
    first = len(old) if isinstance(old, list) else 0
    renamed: dict[str, bytes] = {}
    names = list(files) if kind == DRAWING else [""]
    for i, file in enumerate(names):
        kept = _free_name(folder, file, files[file]) if file else ""
        if kept:
            renamed[kept] = files[file]
        own = dict(given) if len(names) == 1 else {k: v for k, v in given.items() if k != "part.name"}
        text = set_value(text, ("parts", first + i), part_table(kind, own, kept, findings if i == 0 else []))
    here = {p.name: p.read_bytes() for p in folder.iterdir() if p.suffix.lower() in (".dxf", ".svg") and p.is_file()}
    _try(text, here | renamed, findings, ignore_parts=kind == DRAWING and not files)
    return Made(text, renamed), first


def _free_name(folder: Path, name: str, data: bytes) -> str:
    """A file name that is free in the folder, or already holds the same drawing."""
    stem, suffix, n = Path(name).stem, Path(name).suffix, 1
    here = {p.name.lower(): p for p in folder.iterdir()}
    while name.lower() in here and here[name.lower()].read_bytes() != data:
        n += 1
        name = f"{stem}-{n}{suffix}"
    return here[name.lower()].name if name.lower() in here else name


def _try(text: str, files: Mapping[str, bytes], findings: list[Finding], *, ignore_parts: bool) -> None:
    """Read the job as it would be, in a folder of its own; raise everything found, the page's own faults first."""
    with tempfile.TemporaryDirectory(prefix="lagline-") as folder:
        for name, data in files.items():
            (Path(folder) / name).write_bytes(data)
        try:
            job_from_text(text, Path(folder), JOB)
        except LaglineError as e:
            findings.extend(f for f in e.findings if not (ignore_parts and ": parts" in f.where))
    if findings:
        raise LaglineError(*dict.fromkeys(findings))


def job_files(made: Made, kit: str = KIT_TEXT) -> dict[str, bytes]:
    """Return the files of a new job."""
    return {JOB: made.text.encode(), KIT: kit.encode(), **made.drawings}
