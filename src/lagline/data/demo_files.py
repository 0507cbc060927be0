"""The demo's files: a slipway cradle repair, our own scenario; job, kit and drawings."""

from __future__ import annotations

from importlib.resources import files

KEPT = (".toml", ".dxf", ".svg")


def demo_files() -> dict[str, bytes]:
    """Return the demo's files by name, ``job.toml`` and ``kit.toml`` first."""
    folder = files("lagline.data") / "demo"
    found = {f.name: f.read_bytes() for f in folder.iterdir() if f.name.endswith(KEPT)}
    first = ("job.toml", "kit.toml")
    return {n: found[n] for n in (*first, *sorted(set(found) - set(first)))}
