"""Writing a plan's files in a process of its own: long lists of pictures neither hold up the pages nor take them
along when they fail. Reads a kept plan on standard input, writes a zip on standard output."""

from __future__ import annotations

import gzip
import io
import subprocess
import sys
import threading
import zipfile
from collections.abc import Mapping

from lagline.book.kept import Kept
from lagline.book.record_text import plan_from_text, plan_text
from lagline.records.errors import LaglineError, refuse
from lagline.records.plan import Plan

PACKED = "outputs.zip"
LONGEST_S = 600


def pack(files: Mapping[str, bytes]) -> bytes:
    """Return files as one zip, the same bytes for the same files."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as z:
        for name, data in files.items():
            info = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
            info.compress_type = zipfile.ZIP_DEFLATED
            info.external_attr = 0o644 << 16
            z.writestr(info, data)
    return out.getvalue()


def unpack(data: bytes) -> dict[str, bytes]:
    """Return the files of a zip."""
    with zipfile.ZipFile(io.BytesIO(data)) as z:
        return {n: z.read(n) for n in z.namelist()}


class Writer:
    """Writes out plans, each once."""

    def __init__(self, kept: Kept) -> None:
        self.kept = kept
        self._lock = threading.Lock()
        self._running: dict[str, subprocess.Popen[bytes]] = {}
        self._one: dict[str, threading.Lock] = {}
        self._begun: set[str] = set()
        self._faults: dict[str, LaglineError] = {}

    def ready(self, fingerprint: str) -> dict[str, bytes] | None:
        """Return the files when they are written already."""
        data = self.kept.get(fingerprint, PACKED)
        if data is None:
            return None
        try:
            return unpack(data)
        except zipfile.BadZipFile:
            return None

    def begin(self, fingerprint: str, plan: Plan) -> None:
        """Begin writing unless it is done or on its way.

        Errors: LaglineError when the last try failed; the next call tries again.
        """
        with self._lock:
            if (fault := self._faults.pop(fingerprint, None)) is not None:
                raise fault
            if fingerprint in self._begun:
                return
            self._begun.add(fingerprint)
        threading.Thread(target=self._quietly, args=(fingerprint, plan), daemon=True).start()

    def _quietly(self, fingerprint: str, plan: Plan) -> None:
        try:
            self.files(fingerprint, plan)
        except LaglineError as e:
            self._faults[fingerprint] = e
        finally:
            self._begun.discard(fingerprint)

    def files(self, fingerprint: str, plan: Plan) -> dict[str, bytes]:
        """Return the plan's files, waiting for them to be written.

        Errors: LaglineError when they could not be written.
        """
        with self._lock:
            mine = self._one.setdefault(fingerprint, threading.Lock())
        with mine:
            done = self.ready(fingerprint)
            if done is not None:
                return done
            packed = self._write(fingerprint, plan)
            self.kept.put(fingerprint, PACKED, packed)
            return unpack(packed)

    def _write(self, fingerprint: str, plan: Plan) -> bytes:
        command = [sys.executable, "-m", "lagline.desk.write_out"]
        child = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        with self._lock:
            self._running[fingerprint] = child
        try:
            packed, _ = child.communicate(gzip.compress(plan_text(plan).encode(), 1), timeout=LONGEST_S)
        except subprocess.TimeoutExpired:
            child.kill()
            child.communicate()
            packed = b""
        finally:
            with self._lock:
                self._running.pop(fingerprint, None)
        if child.returncode != 0 or not packed:
            raise refuse(
                "files-failed",
                plan.job.name,
                "the card and the other files could not be written",
                "the log on the terminal says more; the plan itself stands",
            )
        return packed

    def close(self) -> None:
        """Stop whatever is being written."""
        with self._lock:
            for child in self._running.values():
                child.kill()


def main() -> None:
    """Read a plan, write its files."""
    from lagline.desk.planner import plan_outputs

    plan = plan_from_text(gzip.decompress(sys.stdin.buffer.read()).decode())
    sys.stdout.buffer.write(pack(plan_outputs(plan)))


if __name__ == "__main__":
    main()
