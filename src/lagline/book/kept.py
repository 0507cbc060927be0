"""What was worked out, kept by the fingerprint of what it came from: a plan is made once and then read.

A dense layout is bounded by time and does not come out twice the same; keeping its answer is what makes the card on
the bench and the page agree after a restart. Keeping is a convenience: where it cannot be written, nothing fails.
"""

from __future__ import annotations

import contextlib
import gzip
import os
import re
import shutil
import tempfile
from pathlib import Path

from lagline.book.record_text import plan_from_text, plan_text
from lagline.records.plan import Plan

MOST = 300
_PRINT = re.compile(r"[0-9a-f]{40}", re.ASCII)
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._-]{0,99}", re.ASCII)
PLAN = "plan.gz"


class Kept:
    """Answers in one folder, the oldest thrown away beyond ``most``."""

    def __init__(self, root: Path, most: int = MOST) -> None:
        self.root, self.most = root, most

    def _path(self, fingerprint: str, name: str) -> Path:
        if not _PRINT.fullmatch(fingerprint) or not _NAME.fullmatch(name) or ".." in name:
            raise ValueError(f"not a name to keep under: {fingerprint} {name}")
        return self.root / fingerprint / name

    def get(self, fingerprint: str, name: str) -> bytes | None:
        """Return what is kept under that name, None when nothing is."""
        try:
            return self._path(fingerprint, name).read_bytes()
        except OSError:
            return None

    def put(self, fingerprint: str, name: str, data: bytes) -> None:
        """Keep bytes, whole or not at all; on a folder that cannot be written nothing happens."""
        path = self._path(fingerprint, name)
        with contextlib.suppress(OSError):
            fresh = not path.parent.exists()
            path.parent.mkdir(parents=True, exist_ok=True)
            handle, beside = tempfile.mkstemp(dir=path.parent, prefix=".part-")
            with os.fdopen(handle, "wb") as f:
                f.write(data)
            os.replace(beside, path)
            if fresh:
                self._thin()

    def get_plan(self, fingerprint: str) -> Plan | None:
        """Return the plan kept for that fingerprint, None when there is none or it cannot be read any more."""
        data = self.get(fingerprint, PLAN)
        if data is None:
            return None
        try:
            return plan_from_text(gzip.decompress(data).decode())
        except (ValueError, OSError, EOFError):
            return None

    def put_plan(self, fingerprint: str, plan: Plan) -> None:
        """Keep a plan."""
        self.put(fingerprint, PLAN, gzip.compress(plan_text(plan).encode(), 5, mtime=0))

    def _thin(self) -> None:
        held = [p for p in self.root.iterdir() if _PRINT.fullmatch(p.name)]
        for old in sorted(held, key=lambda p: p.stat().st_mtime)[: max(0, len(held) - self.most)]:
            shutil.rmtree(old, ignore_errors=True)
