"""Opening the shop book: one SQLite file in the data folder, or the database LAGLINE_BOOK names; made and brought up
to date on opening. Whatever goes wrong is a finding that names the file, and the file is left as it is."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import time
from collections.abc import Iterator
from pathlib import Path

from sqlalchemy import Connection, Engine, create_engine, event, inspect, text
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, IntegrityError, NoSuchModuleError
from sqlalchemy.pool import NullPool, StaticPool

from lagline.book.tables import HEAD
from lagline.records.errors import LaglineError, refuse

FILE = "book.sqlite"
BUSY_S = 20.0
_BEGIN = "lagline_begin"
_URL_ALLOWED = "a database address such as sqlite:////srv/shop/book.sqlite, or leave LAGLINE_BOOK out"


class Book:
    """The book of one data folder. Nothing is made before something is written."""

    def __init__(self, root: Path) -> None:
        self.url = _url_from_environment()
        self.path = _file_of(self.url, root)
        self._ready = False

    @property
    def name(self) -> str:
        """The file, or the address without its password."""
        if self.path is not None:
            return str(self.path)
        assert self.url is not None
        return self.url.render_as_string(hide_password=True)

    @contextlib.contextmanager
    def reading(self) -> Iterator[Connection | None]:
        """Give a connection for looking, None when there is no book yet. Errors: LaglineError."""
        if self.path is not None and not self._is_there(self.path):
            yield None
            return
        with self._faults("read"), self._open(write=False) as connection:
            yield connection

    @contextlib.contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give a connection that holds the book against every other writer; all is written at its end, or nothing.

        Errors: LaglineError for a folder that cannot be written, a full disk, a damaged file, a book long held.
        """
        if self.path is not None:
            try:
                self.path.parent.mkdir(parents=True, exist_ok=True)
            except OSError as e:
                raise _fault("book-read-only", self.name, (e.strerror or "cannot be written").lower()) from None
            self._is_there(self.path)
        with self._faults("write"), self._open(write=True) as connection:
            yield connection

    def _is_there(self, path: Path) -> bool:
        try:
            if path.is_dir():
                raise _fault("book-unreadable", str(path), "is a folder where the book should be")
            there = path.exists()
            self._ready = self._ready and there  # moved away while a server ran: the next is a new book
            return there
        except OSError as e:
            raise _fault("book-unreadable", str(path), (e.strerror or "cannot be read").lower()) from None

    @contextlib.contextmanager
    def _open(self, *, write: bool) -> Iterator[Connection]:
        engine = self._engine(write=write)
        try:
            self._bring_up_to_date(engine, write=write)
            options = {_BEGIN: "BEGIN IMMEDIATE" if write else "BEGIN"}
            with engine.connect().execution_options(**options) as connection, connection.begin():
                yield connection
        finally:
            engine.dispose()

    def _engine(self, *, write: bool) -> Engine:
        if self.path is None:
            assert self.url is not None
            try:
                return create_engine(self.url, poolclass=NullPool)
            except (ImportError, NoSuchModuleError, ArgumentError) as e:
                raise refuse("book-url", "LAGLINE_BOOK", f"{self.name} cannot be used: {e}", _URL_ALLOWED) from None
        path = self.path
        # one connection for all of an opening: what was copied into memory and brought up to date is what is read
        engine = create_engine("sqlite://", creator=lambda: _connect(path, write=write), poolclass=StaticPool)
        # the driver's own transactions would begin too late to hold the book while a number is chosen
        event.listen(engine, "begin", lambda c: c.exec_driver_sql(c.get_execution_options().get(_BEGIN, "BEGIN")))
        return engine

    def _bring_up_to_date(self, engine: Engine, *, write: bool) -> None:
        """Check the file and bring its tables up to date. Nothing is written to one that is damaged or not ours."""
        if self._ready:
            return
        with engine.connect() as connection, connection.begin():
            if self.path is not None:
                found = connection.exec_driver_sql("PRAGMA quick_check(1)").scalar_one()
                if found != "ok":
                    raise _damaged(self.name)
            version = self._version(connection)
        if version != HEAD:
            with (
                engine.connect().execution_options(**{_BEGIN: "BEGIN IMMEDIATE"}) as connection,
                connection.begin(),
            ):
                # another may have done it while this one waited
                if self._version(connection) != HEAD:
                    upgrade(connection)
        if write and self.path is not None:
            _write_ahead(self.path)
        self._ready = write or version == HEAD

    def _version(self, connection: Connection) -> str | None:
        """The step the book is at, None for an empty one. Errors: LaglineError for a stranger's or a newer book."""
        names = set(inspect(connection).get_table_names())
        if {"alembic_version", "coupon"} <= names:
            version = str(connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one())
            if version > HEAD:
                say = f"was written by a newer version of this program (step {version}, this one knows {HEAD})"
                raise _fault("book-newer", self.name, say, "use the newer version; nothing was changed")
            return version
        if names and self.path is not None:  # a database at an address may hold other things as well
            raise _fault("book-foreign", self.name, "is a database of something else", "move it away, or name another")
        return None

    @contextlib.contextmanager
    def _faults(self, what: str) -> Iterator[None]:
        try:
            yield
        except IntegrityError:  # no fault of the disk: whoever wrote knows what clashed
            raise
        except DBAPIError as e:
            raise _told(e, self.name, what) from None
        except sqlite3.Error as e:
            raise _told_sqlite(e, self.name, what) from None


def upgrade(connection: Connection) -> None:
    """Bring a book to the tables of today, on a connection within a transaction."""
    from alembic import command
    from alembic.config import Config

    import lagline.book.migrations as steps

    config = Config()
    config.set_main_option("script_location", str(Path(steps.__path__[0])).replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, "head")


def _url_from_environment() -> URL | None:
    given = os.environ.get("LAGLINE_BOOK", "").strip()
    if not given:
        return None
    try:
        return make_url(given)
    except ArgumentError:
        raise refuse("book-url", "LAGLINE_BOOK", "is not a database address", _URL_ALLOWED) from None


def _file_of(url: URL | None, root: Path) -> Path | None:
    if url is None:
        return root / FILE
    if url.get_backend_name() != "sqlite":
        return None
    if not url.database or url.database == ":memory:" or url.query:
        raise refuse("book-url", "LAGLINE_BOOK", "a book in memory would be lost at once", _URL_ALLOWED)
    return Path(url.database)


def _connect(path: Path, *, write: bool) -> sqlite3.Connection:
    """Open the file: rows kept on the disk before a write is called done, links between tables held."""
    address = path.absolute().as_uri()
    connection = sqlite3.connect(f"{address}?mode={'rwc' if write else 'rw'}", BUSY_S, isolation_level=None, uri=True)
    try:
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA synchronous = FULL")
        if not write:
            connection.execute("SELECT count(*) FROM sqlite_master")
    except sqlite3.OperationalError as e:
        connection.close()
        wal = path.with_name(path.name + "-wal")
        if write or not _no_way_to_write(e) or (wal.exists() and wal.stat().st_size):
            raise
        # on a folder that cannot be written the file alone can still be read, as nobody changes it: from a copy in
        # memory, which can be brought up to date when the book is of an older step
        connection = sqlite3.connect(":memory:", isolation_level=None)
        try:
            with contextlib.closing(sqlite3.connect(f"{address}?mode=ro&immutable=1", BUSY_S, uri=True)) as there:
                there.backup(connection)
        except BaseException:
            connection.close()
            raise
    except BaseException:
        connection.close()
        raise
    return connection


def _write_ahead(path: Path) -> None:
    """Turn write-ahead on, so that looking never waits for writing; the change itself does not wait for others."""
    until = time.monotonic() + BUSY_S
    with contextlib.closing(_connect(path, write=True)) as connection:
        while connection.execute("PRAGMA journal_mode").fetchone() != ("wal",):
            try:
                connection.execute("PRAGMA journal_mode = WAL")
            except sqlite3.OperationalError as e:
                if e.sqlite_errorname not in ("SQLITE_BUSY", "SQLITE_LOCKED") or time.monotonic() > until:
                    raise
                time.sleep(0.05)


def _no_way_to_write(e: sqlite3.Error) -> bool:
    return getattr(e, "sqlite_errorname", "").startswith(("SQLITE_READONLY", "SQLITE_CANTOPEN"))


def _told(e: DBAPIError, name: str, what: str) -> LaglineError:
    if isinstance(e.orig, sqlite3.Error):
        return _told_sqlite(e.orig, name, what)
    return _fault("book-failed", name, f"the database says: {str(e.orig).splitlines()[0][:200]}", "ask who keeps it")


def _told_sqlite(e: sqlite3.Error, name: str, what: str) -> LaglineError:
    code = getattr(e, "sqlite_errorname", "") or ""
    if code.startswith(("SQLITE_NOTADB", "SQLITE_CORRUPT")):
        return _damaged(name)
    if code.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        say = f"is held by another program for over {BUSY_S:.0f} s; nothing was written"
        return _fault("book-busy", name, say, "try again; close what holds it")
    if code.startswith("SQLITE_FULL"):
        return _fault("book-full", name, "the disk is full; nothing was written", "make room and try again")
    if code.startswith("SQLITE_IOERR"):
        say = f"the disk gave an error on this {what}; nothing was written ({code.lower()})"
        return _fault("book-disk", name, say, "check the disk, copy the file to a sound one")
    if _no_way_to_write(e):
        kind = "book-read-only" if what == "write" else "book-unreadable"
        return _fault(kind, name, f"cannot be {'written' if what == 'write' else 'read'} here")
    return _fault("book-failed", name, f"{e}; nothing was written", "keep the file and report this")


def _damaged(name: str) -> LaglineError:
    say = "is damaged or no book of coupons; it was left as it is"
    return _fault("book-damaged", name, say, "put back a copy, or move it away (keep it): a new book is begun then")


def _fault(code: str, name: str, message: str, allowed: str = "") -> LaglineError:
    return refuse(code, name, message, allowed or "a folder you may write to: set LAGLINE_HOME, or change its owner")
