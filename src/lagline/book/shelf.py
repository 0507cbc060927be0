"""The shelf: every job a folder with its job file, kit file and drawings. Written whole or not at all, and never
over somebody else's change.

Glossary
--------
slug    : the folder's name, made from the job's name: ``slipway-cradle-repair``
mark    : hash of a file's bytes; a save says which mark it was based on
bin     : where a job goes when it is taken off the shelf, so that it can be put back
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import shutil
import tempfile
import threading
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from lagline.records.errors import LaglineError, refuse

try:
    import fcntl
except ImportError:  # not on every system: then only this program's own writers wait for each other
    fcntl = None  # type: ignore[assignment]

JOB, KIT = "job.toml", "kit.toml"
DRAWINGS = (".dxf", ".svg")
LARGEST_TEXT = 2_000_000
LARGEST_DRAWING = 10_000_000
MOST_FILES = 100
MOST_JOBS = 2000
BIN = ".bin"
_SLUG = re.compile(r"[a-z0-9](?:[a-z0-9-]{0,58}[a-z0-9])?", re.ASCII)
_FILE = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._-]{0,90}", re.ASCII)
_BINNED = re.compile(r"\d{8}T\d{12}-[a-z0-9-]{1,70}", re.ASCII)


@dataclass(frozen=True, slots=True)
class Held:
    """A file as it lies on the shelf."""

    text: str
    mark: str


@dataclass(frozen=True, slots=True)
class Clash:
    """A save that was refused: the file had changed since. Both versions are here, nothing is lost."""

    theirs: Held
    yours: str


def default_folder() -> Path:
    """Return the folder of the shelf: LAGLINE_HOME, else ``lagline`` in the user's data folder."""
    if given := os.environ.get("LAGLINE_HOME"):
        return Path(given).expanduser()
    data = os.environ.get("XDG_DATA_HOME", "")
    base = Path(data) if data.startswith("/") else Path.home() / ".local" / "share"
    return base / "lagline"


def mark_of(data: bytes) -> str:
    """Return the mark of a file's bytes."""
    return hashlib.sha256(data).hexdigest()[:32]


def slug_of(name: str) -> str:
    """Return a job's name as a folder name: small letters, digits and dashes, ``job`` when nothing is left."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:50].strip("-") or "job"


def check_drawing(name: str, data: bytes, where: str) -> str:
    """Return the name under which a drawing is kept.

    Errors: LaglineError for a name with a path in it or another suffix, an empty or an over-long file.
    """
    bare = name.strip()
    if not _FILE.fullmatch(bare) or ".." in bare:
        raise refuse(
            "file-name",
            where,
            f'"{bare[:60]}" will not do as a file name',
            "letters, digits, space, dot, dash and underscore, up to 90, no folders",
        )
    if Path(bare).suffix.lower() not in DRAWINGS:
        raise refuse("file-kind", where, f'"{bare[:60]}" is not a drawing', "a file ending in .dxf or .svg")
    if not data:
        raise refuse("file-empty", where, f'"{bare}" is empty', "a drawing with at least one closed outline")
    if len(data) > LARGEST_DRAWING:
        megabytes = len(data) / 1e6
        raise refuse("file-large", where, f'"{bare}" is {megabytes:.1f} MB', f"up to {LARGEST_DRAWING // 10**6} MB")
    return bare


_WRITING = threading.Lock()


class Shelf:
    """Jobs in one data folder."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.jobs_root = root / "jobs"
        self.bin_root = root / BIN

    # ---- looking ----

    def slugs(self) -> tuple[str, ...]:
        """Return the jobs on the shelf, last changed first; nothing when there is no shelf yet.

        Errors: LaglineError when the folder is there and cannot be read.
        """
        try:
            found = [(_changed(p), p.name) for p in self.jobs_root.iterdir() if self._is_job(p)]
        except FileNotFoundError:
            return ()
        except OSError as e:
            raise _cannot("read", self.jobs_root, e) from None
        return tuple(name for _, name in sorted(found, key=lambda f: (-f[0], f[1])))

    def _is_job(self, path: Path) -> bool:
        return bool(_SLUG.fullmatch(path.name)) and not path.is_symlink() and (path / JOB).is_file()

    def folder(self, slug: str) -> Path:
        """Return a job's folder. Errors: LaglineError for a name that is no job on this shelf."""
        path = self.jobs_root / slug
        if not _SLUG.fullmatch(slug) or not self._is_job(path):
            raise refuse("job-unknown", "shelf", f'there is no job "{slug[:60]}" here', "a job of the start page")
        return path

    def has(self, slug: str) -> bool:
        """Return whether the job is on the shelf."""
        return bool(_SLUG.fullmatch(slug)) and self._is_job(self.jobs_root / slug)

    def names(self, slug: str) -> tuple[str, ...]:
        """Return the job's files: job file, kit file, then its drawings by name."""
        folder = self.folder(slug)
        drawings = sorted(
            p.name
            for p in folder.iterdir()
            if p.suffix.lower() in DRAWINGS and _FILE.fullmatch(p.name) and p.is_file() and not p.is_symlink()
        )
        return (JOB, *((KIT,) if (folder / KIT).is_file() else ()), *drawings)

    def path(self, slug: str, name: str) -> Path:
        """Return the path of one of the job's own files; LaglineError for any other name."""
        if name not in self.names(slug):
            raise refuse("file-unknown", slug, f'there is no file "{name[:60]}"', ", ".join(self.names(slug)))
        return self.folder(slug) / name

    def read(self, slug: str, name: str) -> Held:
        """Return a job's or kit's text with its mark; an absent kit file reads as empty.

        Errors: LaglineError for a file that is not UTF-8, too large or not to be opened.
        """
        path = self.folder(slug) / _text_name(name)
        try:
            data = path.read_bytes() if path.exists() else b""
        except OSError as e:
            raise _cannot("read", path, e) from None
        if len(data) > LARGEST_TEXT:
            raise refuse("file-unreadable", name, "is over 2 MB", "a plain text file under 2 MB")
        try:
            return Held(data.decode("utf-8-sig"), mark_of(data))
        except UnicodeDecodeError:
            raise refuse("file-unreadable", name, "is not plain text", "save it as UTF-8 text") from None

    def fingerprint(self, slug: str, salt: str = "") -> str:
        """Return one hash over everything a plan is made from: job, kit and drawings, and ``salt``."""
        folder = self.folder(slug)
        total = hashlib.sha256(salt.encode())
        try:
            # drawings in folders below count too: a job file put here by hand may name them
            below = sorted(p for p in folder.rglob("*") if p.suffix.lower() in DRAWINGS and p.is_file())
            texts = [folder / n for n in (JOB, KIT) if (folder / n).is_file()]
            for path in (*texts, *below[: 2 * MOST_FILES]):
                data = path.read_bytes()
                total.update(f"\0{path.relative_to(folder)}\0{len(data)}\0".encode() + data)
        except OSError as e:
            raise _cannot("read", folder, e) from None
        return total.hexdigest()[:40]

    # ---- changing ----

    def add(self, name: str, files: Mapping[str, bytes]) -> str:
        """Put a new job on the shelf, whole or not at all, and return its slug.

        Errors: LaglineError for a file that may not be kept, a full or read-only shelf.
        """
        for file, data in files.items():
            if file in (JOB, KIT):
                _check_text(file, data)
            else:
                check_drawing(file, data, file)
        if JOB not in files or len(files) > MOST_FILES:
            raise refuse("job-files", name, "a job is a job file and its drawings", f"up to {MOST_FILES} files")
        with self._alone():
            if len(self.slugs()) >= MOST_JOBS:
                raise refuse("shelf-full", "shelf", f"there are {MOST_JOBS} jobs on it", "take some off first")
            slug = self._free(slug_of(name))
            made = Path(tempfile.mkdtemp(dir=self.jobs_root, prefix=".new-"))
            try:
                for file, data in files.items():
                    (made / file).write_bytes(data)
                made.chmod(0o755)
                os.replace(made, self.jobs_root / slug)
            except OSError as e:
                shutil.rmtree(made, ignore_errors=True)
                raise _cannot("write", self.jobs_root, e) from None
        return slug

    def save(self, slug: str, name: str, text: str, based_on: str) -> Held | Clash:
        """Save a job or kit text that was made from the version marked ``based_on``.

        When the file has changed since, nothing is written and both versions come back.
        Errors: LaglineError for a text too large, a job that is gone, a folder that cannot be written.
        """
        data = text.replace("\r\n", "\n").encode()
        _check_text(name, data)
        with self._alone():
            now = self.read(slug, name)
            if now.mark != based_on and now.mark != mark_of(data):
                return Clash(now, text)
            self._write(self.folder(slug) / _text_name(name), data)
        return Held(data.decode(), mark_of(data))

    def keep_drawing(self, slug: str, name: str, data: bytes) -> str:
        """Keep a drawing in the job's folder and return its name there: numbered when another has that name."""
        name = check_drawing(name, data, "drawing")
        with self._alone():
            folder = self.folder(slug)
            if len(self.names(slug)) >= MOST_FILES:
                raise refuse("file-many", slug, f"the job has {MOST_FILES} files", "split the job")
            stem, suffix = Path(name).stem, Path(name).suffix
            here = {p.name.lower(): p for p in folder.iterdir()}
            n = 1
            while name.lower() in here and here[name.lower()].read_bytes() != data:
                n += 1
                name = f"{stem}-{n}{suffix}"
            if name.lower() not in here:
                self._write(folder / name, data)
            return here[name.lower()].name if name.lower() in here else name

    def bin(self, slug: str) -> str:
        """Take a job off the shelf into the bin and return what it is called there."""
        with self._alone():
            folder = self.folder(slug)
            called = f"{datetime.now(UTC):%Y%m%dT%H%M%S%f}-{slug}"
            try:
                self.bin_root.mkdir(exist_ok=True)
                os.replace(folder, self.bin_root / called)
            except OSError as e:
                raise _cannot("write", self.bin_root, e) from None
        return called

    def binned(self) -> tuple[str, ...]:
        """Return what lies in the bin, last thrown first."""
        try:
            return tuple(sorted((p.name for p in self.bin_root.iterdir() if _BINNED.fullmatch(p.name)), reverse=True))
        except OSError:
            return ()

    def put_back(self, called: str) -> str:
        """Put a job from the bin back on the shelf and return its slug: numbered when the name is taken."""
        with self._alone():
            if not _BINNED.fullmatch(called) or not (self.bin_root / called / JOB).is_file():
                raise refuse("bin-unknown", "bin", "that job is not in the bin", "a job the bin shows")
            slug = self._free(called.split("-", 1)[1])
            try:
                os.replace(self.bin_root / called, self.jobs_root / slug)
            except OSError as e:
                raise _cannot("write", self.jobs_root, e) from None
        return slug

    # ---- inside ----

    def _free(self, wanted: str) -> str:
        slug, n = wanted, 1
        while (self.jobs_root / slug).exists():
            n += 1
            slug = f"{wanted}-{n}"
        return slug

    @contextlib.contextmanager
    def _alone(self) -> Iterator[None]:
        """Hold the shelf against every other writer, in this program or another."""
        try:
            self.jobs_root.mkdir(parents=True, exist_ok=True)
            handle = os.open(self.root / ".lock", os.O_CREAT | os.O_RDWR, 0o644)
        except OSError as e:
            raise _cannot("write", self.root, e) from None
        try:
            with _WRITING:
                if fcntl is not None:
                    fcntl.flock(handle, fcntl.LOCK_EX)
                yield
        finally:
            os.close(handle)

    def _write(self, path: Path, data: bytes) -> None:
        """Write beside, then put in place."""
        beside = ""
        try:
            handle, beside = tempfile.mkstemp(dir=path.parent, prefix=".part-")
            with os.fdopen(handle, "wb") as f:
                f.write(data)
                f.flush()
                os.fsync(f.fileno())
            os.chmod(beside, 0o644)
            os.replace(beside, path)
            os.utime(path.parent)
        except OSError as e:
            if beside:
                Path(beside).unlink(missing_ok=True)
            raise _cannot("write", path.parent, e) from None


def _changed(folder: Path) -> float:
    """When a job was last changed [s]; nought for one that is being taken away."""
    try:
        return max((folder / n).stat().st_mtime for n in (JOB, KIT) if (folder / n).exists())
    except (OSError, ValueError):
        return 0.0


def _text_name(name: str) -> str:
    if name not in (JOB, KIT):
        raise refuse("file-unknown", name[:60], "is not a text that is edited here", f"{JOB} or {KIT}")
    return name


def _check_text(name: str, data: bytes) -> None:
    if len(data) > LARGEST_TEXT:
        raise refuse("file-large", name, f"is {len(data) / 1e6:.1f} MB", "up to 2 MB of text")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise refuse("file-unreadable", name, "is not plain text", "save it as UTF-8 text") from None
    if "\0" in text:
        raise refuse("file-unreadable", name, "holds a zero byte", "plain text")


def _cannot(what: str, path: Path, error: OSError) -> LaglineError:
    return refuse(
        "shelf-read-only" if what == "write" else "shelf-unreadable",
        str(path),
        f"cannot {what} here: {(error.strerror or 'no reason given').lower()}",
        f"a folder you may {what}: set LAGLINE_HOME to one, or change its owner",
    )
