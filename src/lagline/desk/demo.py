"""The demo's files: a slipway cradle repair."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from lagline.desk.planner import write_files
from lagline.records.errors import refuse


def demo_files() -> dict[str, bytes]:
    """Return the demo's job, kit and drawings by name."""
    folder = files("lagline.data") / "demo"
    return {f.name: f.read_bytes() for f in sorted(folder.iterdir(), key=lambda f: f.name) if f.name != "__init__.py"}


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
