"""An archive opened: made new, found to be one, brought to today's tables.

A file is an archive by the number in its head (``application_id``, SQLite's own place for
such a number), so that no other database is written into. A new one is made beside its place
and moved in whole. An archive of an older kdkit is brought up to date when it is opened, in
one transaction; one of a newer kdkit is left alone.
"""

from __future__ import annotations

import contextlib
import os
import pathlib
import re
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy import event
from sqlalchemy.exc import DatabaseError, OperationalError, SQLAlchemyError

from kdkit.archive.tables import NEWEST
from kdkit.delivery import refuse_file, write_new_file
from kdkit.diagnostics import Problem, advice, error

__all__ = ["Archive", "ArchiveFailed", "is_address", "new_archive", "open_archive"]

_MARK = 0x4B444152
"""In the head of every archive file: "KDAR" in ASCII."""
_WAIT = 30.0  # seconds for another who writes
_NUMBERED = re.compile("000[1-9]")
"""What kdkit calls a state of its tables."""

Found = tuple[Problem, ...]


class ArchiveFailed(Exception):  # noqa: N818 - it carries the problem
    """The database refused; ``problem`` says what."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.message)
        self.problem = problem


@dataclass(frozen=True)
class Archive:
    """An open archive.

    Args:
        name: as it is told: the file, or the address without its password.
        file: None for a database that several desks share.
    """

    name: str
    engine: sa.Engine
    file: pathlib.Path | None = None

    @contextlib.contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """Give a connection that sees one state of the archive.

        Raises:
            ArchiveFailed: the database could not be read.
        """
        with _told(self.name), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextlib.contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """Give a connection whose work is kept whole or not at all.

        Raises:
            ArchiveFailed: it could not be written, or another was writing for too long.
        """
        with _told(self.name), self.engine.connect() as plain:
            connection = plain.execution_options(writing=True)
            with connection.begin():
                yield connection

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()


def is_address(text: str) -> bool:
    """Tell whether a text is a database's address and no file's name."""
    return "://" in text


def new_archive(text: str) -> Found:
    """Make an empty archive.

    Args:
        text: a file that is not there yet, or the address of an empty database.

    Returns:
        Why it was not made, or what was noticed.
    """
    if is_address(text):
        archive, problems = _connect_address(text)
        if archive is None:
            return problems
        try:
            with archive.writing() as connection:
                if sa.inspect(connection).has_table("revision"):
                    return (_there(archive.name),)
                _migrate(connection)
        except ArchiveFailed as failed:
            return (failed.problem,)
        finally:
            archive.close()
        return ()
    file = pathlib.Path(text)
    refused = refuse_file(file)
    if refused:
        return refused
    with tempfile.TemporaryDirectory() as folder:
        made = pathlib.Path(folder) / "new.sqlite"
        archive = Archive(str(made), _sqlite_engine(made), made)
        with archive.writing() as connection:
            connection.exec_driver_sql(f"PRAGMA application_id = {_MARK}")
            _migrate(connection)
        archive.close()
        with made.open("rb") as stream:
            return write_new_file(file, lambda out: shutil.copyfileobj(stream, out))


def open_archive(text: str) -> tuple[Archive | None, Found]:
    """Open an archive and bring its tables up to date.

    Args:
        text: its file, or its address.

    Returns:
        The archive, to be closed by who asked for it, and what was noticed; or None, and why.
    """
    archive, problems = _connect_address(text) if is_address(text) else _connect_file(text)
    if archive is None:
        return None, problems
    try:
        refused = _bring_up_to_date(archive)
    except ArchiveFailed as failed:
        refused = (failed.problem,)
    if any(p.severity == "error" for p in refused):
        archive.close()
        return None, refused
    return archive, refused


def _connect_file(text: str) -> tuple[Archive | None, Found]:
    file = pathlib.Path(text)
    if not file.is_file():
        what = "is a folder" if file.is_dir() else "is not there"
        return None, (
            error(
                "archive-missing",
                f"the archive {file} {what}",
                help="name the archive's file; `kdkit archive new FILE` makes an empty one",
            ),
        )
    try:
        with file.open("rb") as stream:
            head = stream.read(100)
    except OSError as fault:
        said = f"the archive {file} cannot be read: {fault.strerror or fault}"
        return None, (error("archive-not-read", said, help="look at its rights"),)
    if head[:16] != b"SQLite format 3\0" or int.from_bytes(head[68:72], "big") != _MARK:
        return None, (
            error(
                "archive-not-ours",
                f"{file} is no archive of kdkit's",
                help="name the archive's file; `kdkit archive new FILE` makes an empty one",
            ),
        )
    return Archive(str(file), _sqlite_engine(file), file), ()


def _sqlite_engine(file: pathlib.Path) -> sa.Engine:
    """Return what opens one file; transactions begin where this program says so.

    Source: SQLAlchemy's documentation, "Serializable isolation, savepoints and transactional
    DDL" of its SQLite dialect (from memory).
    """
    place = file.absolute()
    readable = place.as_uri().replace("?", "%3f")
    mode = "rw" if os.access(place, os.W_OK) else "ro"
    if not place.exists():
        mode = "rwc"

    def connect() -> sqlite3.Connection:
        return sqlite3.connect(
            f"{readable}?mode={mode}",
            uri=True,
            timeout=_WAIT,
            isolation_level=None,
            check_same_thread=False,
        )

    engine = sa.create_engine("sqlite://", creator=connect, poolclass=sa.pool.QueuePool)

    @event.listens_for(engine, "connect")
    def prepare(connection: sqlite3.Connection, _: object) -> None:
        for line in ("foreign_keys = ON", "synchronous = FULL", "trusted_schema = OFF"):
            try:
                connection.execute(f"PRAGMA {line}")
            except UnicodeDecodeError as fault:  # SQLite quotes broken words of the schema
                raise sqlite3.DatabaseError("database schema is malformed") from fault

    @event.listens_for(engine, "begin")
    def begin(connection: sa.Connection) -> None:
        writing = connection.get_execution_options().get("writing")
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")

    return engine


def _connect_address(text: str) -> tuple[Archive | None, Found]:
    try:
        url = sa.make_url(text)
        shown = url.render_as_string(hide_password=True)
        if url.get_backend_name() == "sqlite":
            return None, (
                error(
                    "archive-address",
                    "an archive in a file is named by the file alone",
                    help=f"write {url.database or 'its name'}",
                ),
            )
        if url.get_backend_name() != "postgresql":
            return None, (
                error(
                    "archive-address",
                    f"kdkit keeps archives in SQLite files and PostgreSQL, not in {shown[:80]}",
                    help="write postgresql+psycopg://USER@HOST/DATABASE, or a file's name",
                ),
            )
        engine = sa.create_engine(
            url, isolation_level="REPEATABLE READ", connect_args={"connect_timeout": 10}
        )
        return Archive(shown, engine), ()
    except (SQLAlchemyError, ValueError) as fault:
        said = f"the archive's address cannot be used: {_first_line(fault)}"
    except ModuleNotFoundError as fault:
        said = f"the archive's address needs the Python package {fault.name}"
    return None, (
        error(
            "archive-address",
            said,
            help="write postgresql+psycopg://USER@HOST/DATABASE (pip install psycopg), "
            "or a file's name",
        ),
    )


def _bring_up_to_date(archive: Archive) -> Found:
    with archive.reading() as connection:
        if not sa.inspect(connection).has_table("alembic_version"):
            return (
                error(
                    "archive-not-ours",
                    f"{archive.name} holds no archive",
                    help="`kdkit archive new` makes an empty one",
                ),
            )
        has = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
    if has == NEWEST:
        return ()
    if not _NUMBERED.fullmatch(str(has)) or str(has) > NEWEST:
        return (
            error(
                "archive-newer",
                f"the archive {archive.name} is of a newer kdkit (its tables: {has})",
                help="use that version of kdkit",
            ),
        )
    with archive.writing() as connection:
        _migrate(connection)
    return (
        advice(
            "archive-updated",
            f"the archive {archive.name} of an older kdkit was brought up to date; "
            "what is issued in it is unchanged",
        ),
    )


def _migrate(connection: sa.Connection) -> None:
    """Bring the tables to the newest state, in the connection's transaction."""
    # Here: most commands find the tables as they should be.
    import alembic.command
    import alembic.config

    config = alembic.config.Config()
    config.set_main_option("script_location", "kdkit.archive:migrations")
    config.attributes["connection"] = connection
    alembic.command.upgrade(config, "head")


@contextlib.contextmanager
def _told(name: str) -> Iterator[None]:
    """Make a problem of what the database refuses."""
    try:
        yield
    except SQLAlchemyError as fault:
        raise ArchiveFailed(_problem_of(fault, name)) from fault
    except (TypeError, ValueError, IndexError, KeyError, AttributeError) as fault:
        # What is read was written by kdkit, unless somebody changed it past kdkit.
        told = f"rows of the archive {name} do not go together: {_first_line(fault)}"
        help = "`kdkit archive verify` says what is damaged; if nothing is, please report this"
        raise ArchiveFailed(error("archive-damaged", told, help=help)) from fault


def _problem_of(fault: SQLAlchemyError, name: str) -> Problem:
    said = _first_line(fault)
    if isinstance(fault, OperationalError) and "locked" in said:
        return error(
            "archive-busy",
            f"another is writing to the archive {name}",
            help="try again when that is done",
        )
    if isinstance(fault, DatabaseError) and ("malformed" in said or "not a database" in said):
        return error(
            "archive-damaged",
            f"the archive {name} is damaged: {said}",
            help="`kdkit archive verify` says what is; take the newest back-up",
        )
    return error(
        "archive-failed",
        f"the archive {name} could not be used: {said}",
        help="nothing of it was changed; look at the place, the rights and the free space",
    )


def _first_line(fault: Exception) -> str:
    told: Any = getattr(fault, "orig", None) or fault
    return " ".join(str(told).split())[:200]


def _there(name: str) -> Problem:
    return error("output-there", f"{name} holds an archive already", help="name another database")
