"""Plan a job from its files, and write what the bench needs."""

from __future__ import annotations

import logging
import os
import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path

from lagline.desk.rack_again import Learn, Pasts, no_pasts, planned
from lagline.planning.chain import Progress, plan
from lagline.planning.fields import read_file
from lagline.planning.job_file import job_name, read_job, takes_from_rack
from lagline.planning.kit_file import generic_kit, read_kit
from lagline.planning.rack_use import Rack, no_rack
from lagline.records.coupon import Learned
from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Finding, Severity
from lagline.records.job import Job
from lagline.records.kit import Kit
from lagline.records.plan import Plan
from lagline.records.rack import RackPast

log = logging.getLogger(__name__)

KIT_NAME = "kit.toml"


def find_kit(job_path: Path, kit_path: Path | None) -> tuple[Kit, tuple[Finding, ...]]:
    """Return the kit: the file given, else ``kit.toml`` beside the job, else the built-in generic one (said so)."""
    beside = job_path.parent / KIT_NAME
    if kit_path is not None:
        return read_kit(kit_path)
    if beside.is_file():
        return read_kit(beside)
    note = Finding(
        "generic-kit",
        Severity.NOTE,
        job_path.name,
        "no kit file: the built-in generic kit is used, every figure a default with its spread",
        f"describe your own in {KIT_NAME} beside the job; `lagline demo` writes one to start from",
    )
    return generic_kit(), (note,)


def no_coupons(_kit: Kit) -> tuple[Learned, tuple[Finding, ...]]:
    """Return what a bench without coupons has learned: nothing."""
    return Learned(), ()


def read_files(
    job_path: Path, kit_path: Path | None = None, rack: Rack = no_rack, *, choose: bool = False
) -> tuple[Job, Kit, tuple[Finding, ...]]:
    """Read a job and a kit file, and what was noticed in them. ``rack`` says what lies on the rack.

    Errors: LaglineError with the findings of both files together when either cannot be used.
    """
    refused: list[Finding] = []
    noticed: list[Finding] = []
    job = kit = None
    try:
        job, found = read_job(job_path, rack, choose=choose)
        noticed.extend(found)
    except LaglineError as error:
        refused.extend(error.findings)
    try:
        kit, found = find_kit(job_path, kit_path)
        noticed.extend(found)
    except LaglineError as error:
        refused.extend(error.findings)
    if job is None or kit is None or refused:
        raise LaglineError(*refused)
    return job, kit, tuple(noticed)


def plan_files(
    job_path: Path,
    kit_path: Path | None = None,
    *,
    learn: Learn = no_coupons,
    rack: Rack = no_rack,
    pasts: Pasts = no_pasts,
    tell: Callable[[Progress], None] = lambda _: None,
    stop: Callable[[], bool] = lambda: False,
    seconds: int = 5,
) -> Plan:
    """Read a job and a kit file and return the plan. ``learn`` says what the coupons of a kit's bench teach,
    ``rack`` what lies on the rack, ``pasts`` which plans of the job were cut from it.

    Errors: LaglineError with the findings of both files together when either cannot be used.
    """

    def read(rack: Rack) -> tuple[Job, Kit, tuple[Finding, ...]]:
        return read_files(job_path, kit_path, rack)

    def make(job: Job, kit: Kit, noticed: tuple[Finding, ...], learned: Learned) -> Plan:
        return plan(job, kit, noticed, learned=learned, tell=tell, stop=stop, seconds=seconds)

    return planned(read, make, learn, rack, pasts_of(job_path, pasts))


def pasts_of(job_path: Path, pasts: Pasts) -> tuple[RackPast, ...]:
    """Return which plans of a job file were cut; none where file or book cannot be read: the planning says why."""
    if pasts is no_pasts:
        return ()
    try:
        text = read_file(job_path)
        return pasts(job_name(text, job_path.name)) if takes_from_rack(text) else ()
    except LaglineError:
        return ()


def makers(plan_: Plan) -> dict[str, Callable[[], bytes | None]]:
    """Return what makes each file of a plan, by name: ``plan.json``, ``bench-card.pdf``, ``plate.dxf``,
    ``templates.pdf`` (makes None when no template is used), ``plate-A.svg`` for each plate used."""
    from lagline.cards import bench_card, draw, dxf_out, plan_json, templates

    paper = plan_.job.paper
    used = sorted({p.plate for p in plan_.layout.placed})
    out: dict[str, Callable[[], bytes | None]] = {
        "plan.json": lambda: plan_json.to_json(plan_).encode(),
        "bench-card.pdf": lambda: bench_card.pdf(plan_, paper),
        "plate.dxf": lambda: dxf_out.dxf(plan_, None),
        "templates.pdf": lambda: templates.pdf(plan_, paper),
    }
    for i in used:
        name = "plate.svg" if len(used) == 1 else f"plate-{plan_.job.plates[i].name}.svg"
        out[name] = partial(lambda i: draw.plate_svg(plan_, i, paper=True).encode(), i)
    return out


def plan_outputs(plan_: Plan) -> tuple[dict[str, bytes], dict[str, str]]:
    """Return the files of a plan that can be made, and for each of the others why not: one picture that fails does
    not lose the card."""
    made: dict[str, bytes] = {}
    failed: dict[str, str] = {}
    for name, make in makers(plan_).items():
        try:
            data = make()
        except BaseException as e:
            if isinstance(e, KeyboardInterrupt):
                raise
            log.exception("making %s failed", name)
            failed[name] = f"{type(e).__name__}: {e}"[:300]
        else:
            if data is not None:
                made[name] = data
    return made, failed


def failed_findings(failed: dict[str, str]) -> tuple[Finding, ...]:
    """Return a caution for every file that could not be made."""
    say = "the other files and the plan itself stand; the log on the terminal says more"
    return tuple(
        Finding("file-failed", Severity.CAUTION, name, f"could not be made: {why}", say)
        for name, why in sorted(failed.items())
    )


def write_files(files: dict[str, bytes], folder: Path) -> tuple[Path, ...]:
    """Write files into a folder, each whole or not at all, and return their paths.

    Errors: LaglineError when the folder cannot be made or written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        return tuple(_write_whole(folder / name, data) for name, data in files.items())
    except OSError as error:
        raise refuse(
            "cannot-write",
            str(folder),
            f"cannot write here: {error.strerror or error}",
            "give a folder you may write to",
        ) from error


def _write_whole(path: Path, data: bytes) -> Path:
    """Write beside, then put in place: two writers at once leave one whole file or the other."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as f:
            f.write(data)
        os.chmod(name, 0o644)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return path
