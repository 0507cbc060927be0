"""The demo: a slipway cradle repair, our own scenario; job, kit and drawings."""

from __future__ import annotations

from importlib.resources import files

KEPT = (".toml", ".dxf", ".svg")


def demo_files() -> dict[str, bytes]:
    """Return the demo's files by name, ``job.toml`` and ``kit.toml`` first."""
    found = {f.name: f.read_bytes() for f in files(__package__).iterdir() if f.name.endswith(KEPT)}
    first = ("job.toml", "kit.toml")
    return {n: found[n] for n in (*first, *sorted(set(found) - set(first)))}
