"""Writing a plan's files in a process of its own: long lists of pictures neither hold up the pages nor take them
along when they fail. Reads a kept plan on standard input, writes a zip on standard output."""

from __future__ import annotations

import gzip
import io
import json
import logging
import subprocess
import sys
import threading
import zipfile
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass

from lagline.book.kept import Kept
from lagline.book.record_text import plan_from_text, plan_text
from lagline.desk.planner import failed_findings, plan_outputs
from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Finding
from lagline.records.plan import Plan

log = logging.getLogger(__name__)

PACKED = "outputs.zip"
FAULTS = "faults.json"  # in the zip beside the files: which could not be made, and why
LONGEST_S = 600
MOST_IN_MIND = 4


@dataclass(frozen=True, slots=True)
class Written:
    """A plan's files that could be made, and what is to be said about the others."""

    files: dict[str, bytes]
    findings: tuple[Finding, ...] = ()


def _written(packed: bytes) -> Written:
    files = unpack(packed)
    faults = json.loads(files.pop(FAULTS, b"{}"))
    return Written(files, failed_findings(faults))


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
        self._in_mind: OrderedDict[str, bytes] = OrderedDict()

    def ready(self, fingerprint: str) -> Written | None:
        """Return the files when they are written already."""
        data = self._in_mind.get(fingerprint) or self.kept.get(fingerprint, PACKED)
        if data is None:
            return None
        try:
            return _written(data)
        except (zipfile.BadZipFile, ValueError):
            return None

    def again(self, fingerprint: str) -> None:
        """Forget files that could not all be made, so that the next look tries anew."""
        done = self.ready(fingerprint)
        if done is not None and done.findings:
            with self._lock:
                self._in_mind.pop(fingerprint, None)
        self._faults.pop(fingerprint, None)

    def begin(self, fingerprint: str, plan: Plan) -> None:
        """Begin writing unless it is done or on its way.

        Errors: LaglineError when the last try failed, until :meth:`again`.
        """
        with self._lock:
            if (fault := self._faults.get(fingerprint)) is not None:
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
        except Exception:  # a page waits for this thread: whatever happens it must be told
            log.exception("writing the files of %s failed", plan.job.name)
            self._faults[fingerprint] = _none_written(plan, "the program failed")
        finally:
            self._begun.discard(fingerprint)

    def files(self, fingerprint: str, plan: Plan) -> Written:
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
            made = _written(packed)
            with self._lock:
                self._in_mind[fingerprint] = packed  # the disk may be full: they are shown all the same
                while len(self._in_mind) > MOST_IN_MIND:
                    self._in_mind.popitem(last=False)
            if not made.findings:
                self.kept.put(fingerprint, PACKED, packed)
            return made

    def _write(self, fingerprint: str, plan: Plan) -> bytes:
        command = [sys.executable, "-m", "lagline.desk.write_out"]
        why = "the program that draws them ended early"
        try:
            child = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        except OSError as e:
            raise _none_written(plan, (e.strerror or "no reason given").lower()) from None
        with self._lock:
            self._running[fingerprint] = child
        try:
            packed, _ = child.communicate(gzip.compress(plan_text(plan).encode(), 1), timeout=LONGEST_S)
        except subprocess.TimeoutExpired:
            child.kill()
            child.communicate()
            packed, why = b"", f"not done after {LONGEST_S} s"
        finally:
            with self._lock:
                self._running.pop(fingerprint, None)
        if child.returncode != 0 or not packed:
            raise _none_written(plan, why)
        return packed

    def close(self) -> None:
        """Stop whatever is being written."""
        with self._lock:
            for child in self._running.values():
                child.kill()


def _none_written(plan: Plan, why: str) -> LaglineError:
    say = f"the card and the other files could not be written: {why}"
    return refuse("files-failed", plan.job.name, say, "the plan itself stands; the log on the terminal says more")


def main() -> None:
    """Read a plan, write its files."""
    plan = plan_from_text(gzip.decompress(sys.stdin.buffer.read()).decode())
    made, failed = plan_outputs(plan)
    if failed:
        made[FAULTS] = json.dumps(failed).encode()
    sys.stdout.buffer.write(pack(made))


if __name__ == "__main__":
    main()
