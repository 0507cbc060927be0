"""Plan a job from its files, and write what the bench needs."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from pathlib import Path

from lagline.planning.chain import Progress, plan
from lagline.planning.job_file import read_job
from lagline.planning.kit_file import generic_kit, read_kit
from lagline.records.coupon import Learned
from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Finding, Severity
from lagline.records.kit import Kit
from lagline.records.plan import Plan

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


Learn = Callable[[Kit], tuple[Learned, tuple[Finding, ...]]]


def no_coupons(_kit: Kit) -> tuple[Learned, tuple[Finding, ...]]:
    """Return what a bench without coupons has learned: nothing."""
    return Learned(), ()


def plan_files(
    job_path: Path,
    kit_path: Path | None = None,
    *,
    learn: Learn = no_coupons,
    tell: Callable[[Progress], None] = lambda _: None,
    stop: Callable[[], bool] = lambda: False,
    seconds: int = 5,
) -> Plan:
    """Read a job and a kit file and return the plan. ``learn`` says what the coupons of a kit's bench teach.

    Errors: LaglineError with the findings of both files together when either cannot be used.
    """
    refused: list[Finding] = []
    noticed: list[Finding] = []
    job = kit = None
    try:
        job, found = read_job(job_path)
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
    learned, found = learn(kit)
    return plan(job, kit, (*noticed, *found), learned=learned, tell=tell, stop=stop, seconds=seconds)


def plan_outputs(plan_: Plan) -> dict[str, bytes]:
    """Return every file of a plan by name: ``plan.json``, ``bench-card.pdf``, ``templates.pdf`` when a template is
    used, ``plate-A.svg`` for each plate used, ``plate.dxf``."""
    from lagline.cards import bench_card, draw, dxf_out, plan_json, templates

    out = {
        "plan.json": plan_json.to_json(plan_).encode(),
        "bench-card.pdf": bench_card.pdf(plan_, plan_.job.paper),
        "plate.dxf": dxf_out.dxf(plan_, None),
    }
    sheet = templates.pdf(plan_, plan_.job.paper)
    if sheet is not None:
        out["templates.pdf"] = sheet
    used = sorted({p.plate for p in plan_.layout.placed})
    for i in used:
        name = "plate.svg" if len(used) == 1 else f"plate-{plan_.job.plates[i].name}.svg"
        out[name] = draw.plate_svg(plan_, i, paper=True).encode()
    return out


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
