"""The demo's files: a slipway cradle repair."""

from __future__ import annotations

from pathlib import Path

from lagline.data.demo_files import demo_files
from lagline.desk.planner import write_files
from lagline.records.errors import refuse


def write_demo(folder: Path) -> tuple[Path, ...]:
    """Write the demo's files into a folder and return their paths.

    Errors: LaglineError when a file of the same name with other content is there (nothing is overwritten).
    """
    demo = demo_files()
    changed = [n for n, data in demo.items() if (folder / n).exists() and (folder / n).read_bytes() != data]
    if changed:
        raise refuse(
            "would-overwrite",
            str(folder),
            f"{', '.join(changed)} already there, with changes that would be lost",
            "name another folder, or move the files away",
        )
    return write_files(demo, folder)
