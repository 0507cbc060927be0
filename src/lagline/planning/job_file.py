"""Job files: stock, parts and plates as TOML, read into a :class:`Job`; every fault of the file told at once."""

from __future__ import annotations

from pathlib import Path

from lagline.planning.fields import (
    Fields,
    choice,
    length,
    number,
    read_file,
    read_flag,
    read_notes,
    read_text,
    read_toml,
    refused,
    shown,
    whole,
)
from lagline.planning.job_parts import MOST_COPIES, MOST_PARTS, Source, check_names, read_part
from lagline.planning.job_pins import MOST_PINS, read_pins
from lagline.planning.job_plates import MARGIN_MM, MOST_PLATES, read_plate
from lagline.planning.rack_use import Rack, check_metal, no_rack, offered_to, rack_plate, with_own
from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Finding, Severity
from lagline.records.job import Job, Part
from lagline.records.rack import rack_mark


def read_job(path: Path, rack: Rack = no_rack, *, choose: bool = False) -> tuple[Job, tuple[Finding, ...]]:
    """Read a job file; drawings are looked for from the file's own folder, plates by mark on the ``rack``.

    Returns the job and notes on it. Raises LaglineError carrying everything that is wrong with the file at once:
    where (file, table, field), what was given, what is allowed.
    """
    return job_from_text(read_file(path), path.parent, path.name, anywhere=True, rack=rack, choose=choose)


def job_name(text: str, name: str) -> str:
    """Return what a job's text calls it. Errors: LaglineError for a text that is no TOML."""
    return Fields(read_toml(text, name), name, []).take("name", read_text, _called_after(name))


def takes_from_rack(text: str) -> bool:
    """Return whether a job's text names the rack. Errors: LaglineError for a text that is no TOML."""
    job = read_toml(text, "job")
    return "rack" in job or bool(rack_marks(text))


def rack_marks(text: str) -> frozenset[str]:
    """Return the marks a job's text names as plates. Errors: LaglineError for a text that is no TOML."""
    plates = read_toml(text, "job").get("plates")
    tables = [p for p in plates if isinstance(p, dict)] if isinstance(plates, list) else []
    return frozenset(rack_mark(str(p["rack"])) for p in tables if "rack" in p)


def _called_after(name: str) -> str:
    return Path(name).stem or "job"


def job_from_text(
    text: str,
    folder: Path,
    name: str,
    *,
    anywhere: bool = False,
    rack: Rack = no_rack,
    choose: bool = False,
    own: bool = False,
) -> tuple[Job, tuple[Finding, ...]]:
    """Read a job from TOML text.

    ``folder`` holds its drawings, ``name`` is what findings call the file. Unless ``anywhere``, a drawing outside
    the folder is refused. ``rack`` is asked what lies there when the job names it; with ``choose`` the job chooses
    from it whether it says so or not; with ``own`` what this job itself used counts as lying there, which is for
    looking a text over and never for a plan. Returns and raises as :func:`read_job`.
    """
    findings: list[Finding] = []
    f = Fields(read_toml(text, name), name, findings)
    unit = f.take("units", choice("in", "mm"), "in")
    if not f.has("units"):
        f.note("units-taken", "units", "not said: inches", 'units = "in" or "mm"')
    called = f.take("name", read_text, _called_after(name))
    source = Source(folder, unit, anywhere, (lambda: with_own(rack(), called)) if own else rack)
    stock = f.table("stock")
    parts = _parts(f, stock, source)
    plates = [read_plate(p, i, stock, source) for i, p in enumerate(f.tables("plates", MOST_PLATES), 1)]
    _check_plate_names(f)
    check_metal(f, plates, parts)
    chooses = f.take("rack", read_flag, False) or choose
    offered = offered_to(f, source.rack, called, parts, plates) if chooses else ()
    plates += [rack_plate(i, MARGIN_MM) for i in offered]
    job = Job(
        name=called,
        units=unit,
        parts=parts,
        plates=tuple(p for p in plates if p is not None),
        seed=f.take("seed", whole(0, 2**31 - 1), 1),
        gap_mm=f.take("gap", length(unit, 0, 500), None),
        paper=f.take("paper", choice("letter", "a4"), "letter"),
        layout=f.take("layout", choice("best", "guided", "quick", "dense"), "best"),
        current_a=f.take("current_a", number(5, 400, "A"), None),
        closed_vessel=f.take("closed_vessel", read_flag, False),
        notes=f.take("notes", read_notes, ""),
        vessel_made_safe=f.take("vessel_made_safe", _read_made_safe, ""),
        bridges=f.take("bridges", _read_bridges, None),
        rack=tuple((i.mark, i.worth) for i in offered),
        pins=read_pins(f.tables("pins", MOST_PINS), parts, tuple(p for p in plates if p is not None), unit),
    )
    if job.vessel_made_safe and not job.closed_vessel:
        say = "only counts for a closed vessel, and the job does not say it is one"
        f.note("vessel-unsaid", "vessel_made_safe", say, "closed_vessel = true", Severity.CAUTION)
    stock.done(("metal", "grade", "thickness", "coating"))
    f.done()
    if not plates and not chooses:
        f.refuse("field-missing", "plates", "no plate to cut from", "at least one [[plates]] with width and height")
    findings = list(dict.fromkeys(findings))
    if bad := refused(findings):
        raise LaglineError(*bad)
    return job, tuple(findings)


def _read_bridges(given: object, where: str) -> bool | None:
    """Whether strips get bridges: true, false, or "auto" where they would bow too far."""
    if isinstance(given, bool):
        return given
    if isinstance(given, str) and given.strip().lower() == "auto":
        return None
    raise refuse("field-bad", where, f"{shown(given)} does not say whether strips get bridges", 'true, false or "auto"')


def _read_made_safe(given: object, where: str) -> str:
    """How a closed vessel was made safe, in words: a bare yes says nothing that can be checked."""
    allowed = "in words what was cleaned out, where it is vented, who tested it for gas and when"
    if not isinstance(given, str) or len(given.split()) < 3:
        raise refuse("field-bad", where, f"{shown(given)} does not say how the vessel was made safe", allowed)
    return read_text(given, where)


def _parts(f: Fields, stock: Fields, source: Source) -> tuple[Part, ...]:
    tables = f.tables("parts", MOST_PARTS)
    if not tables:
        f.refuse("field-missing", "parts", "no parts", 'at least one [[parts]] with shape = "..." or file = "..."')
    parts = check_names([(part, t) for t in tables for part in read_part(t, stock, source)])
    copies = sum(p.quantity for p in parts)
    if copies > MOST_COPIES:
        f.refuse("too-many", "parts", f"{copies} copies in all", f"at most {MOST_COPIES}; split the job")
    return parts


def _check_plate_names(f: Fields) -> None:
    seen: set[str] = set()
    for t in f.tables("plates", MOST_PLATES):
        name = t.data.get("name")
        if isinstance(name, str):
            if name.strip().lower() in seen:
                t.refuse("name-twice", "name", f'two plates are called "{name}"', "a name of its own for each plate")
            seen.add(name.strip().lower())
