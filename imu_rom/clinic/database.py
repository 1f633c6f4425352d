"""The clinic's database, SQLite or PostgreSQL, opened, written and brought up to date in the same way.

There is one writer at a time in either: SQLite has it so, PostgreSQL by a lock that ``writing`` takes. So a trail of
audit entries needs no other order than that of the transactions, and two writers never wait for each other crosswise.
"""

import os
import secrets
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sqlalchemy
from sqlalchemy import Connection, Engine, event
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DatabaseError, DBAPIError, NoSuchModuleError, OperationalError

from imu_rom.errors import BusyError, ClinicError, MissingExtraError

__all__ = ["BUSY_TIMEOUT_MS", "Database", "hold_writers_back", "migrate", "new_id", "open_database"]

# how long a writer waits for the one before, and how often it asks again after that
BUSY_TIMEOUT_MS = 5_000
ATTEMPTS = 3
PAUSE_S = 0.05
POOL_SIZE = 10
# any number will do that is nobody else's: the bytes of "clinic"
WRITERS_LOCK = int.from_bytes(b"clinic")
MIGRATIONS = Path(__file__).parent / "migrations"


def new_id() -> str:
    """Make an identifier that tells nothing and can't be guessed.

    Returns
    -------
    str
        128 random bits as 32 hexadecimal digits.
    """
    return secrets.token_hex(16)


@dataclass(frozen=True)
class Database:
    """An opened database.

    Parameters
    ----------
    engine : Engine
        SQLAlchemy's pool of connections.
    """

    engine: Engine

    @property
    def is_sqlite(self) -> bool:
        """Whether the database is a file of SQLite's."""
        return self.engine.dialect.name == "sqlite"

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Read one state of the database; writing fails.

        Yields
        ------
        Connection
            In a transaction that sees no change made after it began.

        Raises
        ------
        BusyError
            If the database does not answer.
        """
        options: dict[str, Any] = {"imu_rom_begin": "BEGIN"}
        if not self.is_sqlite:
            options = {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
        with _said_plainly(), self.engine.connect() as connection:
            connection.execution_options(**options)
            if self.is_sqlite:
                connection.exec_driver_sql("PRAGMA query_only = ON")
            try:
                yield connection
            finally:
                connection.rollback()
                if self.is_sqlite:
                    connection.exec_driver_sql("PRAGMA query_only = OFF")
                    connection.rollback()

    @contextmanager
    def writing(self, *, alone: bool = True) -> Iterator[Connection]:
        """Read and write; all of it is kept when the block ends well, none of it otherwise.

        Parameters
        ----------
        alone : bool
            Let no other writer in meanwhile. False is for short writes without an audit entry, such as claiming a job,
            and makes a difference on PostgreSQL only.

        Yields
        ------
        Connection
            In a transaction that sees what was written before it began.

        Raises
        ------
        BusyError
            If the database does not answer, or another writer keeps it for too long.
        """
        with _said_plainly(), self.engine.connect() as connection:
            connection.execution_options(imu_rom_begin="BEGIN IMMEDIATE")
            with _begun(connection):
                if not self.is_sqlite:
                    connection.exec_driver_sql(f"SET LOCAL lock_timeout = {ATTEMPTS * BUSY_TIMEOUT_MS}")
                    if alone:
                        hold_writers_back(connection)
                yield connection

    def close(self) -> None:
        """Close all connections."""
        self.engine.dispose()


def hold_writers_back(connection: Connection) -> None:
    """Let no other writer in until this transaction ends; doing so again changes nothing.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    """
    if connection.dialect.name == "postgresql":
        connection.execute(sqlalchemy.select(sqlalchemy.func.pg_advisory_xact_lock(WRITERS_LOCK)))


def open_database(url: str) -> Database:
    """Open a database; nothing is made or changed in it yet.

    Parameters
    ----------
    url : str
        ``sqlite:///path`` or ``postgresql://user@host/name``.

    Returns
    -------
    Database
        Opened; ``migrate`` makes its tables.

    Raises
    ------
    ClinicError
        If the address names no database of these two kinds, or a file that can't be made.
    MissingExtraError
        If PostgreSQL's driver is not installed.
    """
    try:
        parsed = make_url(url)
    except ArgumentError:
        # the address itself stays unsaid: it may hold a password
        raise ClinicError("the database's address can't be read", do="write it like sqlite:///path") from None
    if parsed.get_backend_name() == "sqlite":
        return Database(_sqlite(parsed))
    if parsed.get_backend_name() != "postgresql":
        what = f"the database must be of SQLite or PostgreSQL, got '{parsed.get_backend_name()}'"
        raise ClinicError(what, do="write its address like sqlite:///path or postgresql://user@host/name")
    return Database(_postgresql(parsed))


def migrate(database: Database, revision: str = "head") -> None:
    """Make the tables, or bring them up to what this program knows; whole or not at all.

    Parameters
    ----------
    database : Database
        Empty, or made by this or an earlier version.
    revision : str
        Up to which change of the tables; the last one that this program knows by default.

    Raises
    ------
    ClinicError
        If a later version of the program has changed the database, or is asked for.
    """
    from alembic.command import upgrade  # noqa: PLC0415 - takes a third of a second, and is needed once
    from alembic.config import Config  # noqa: PLC0415
    from alembic.runtime.migration import MigrationContext  # noqa: PLC0415
    from alembic.script import ScriptDirectory  # noqa: PLC0415

    settings = Config()
    settings.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    settings.set_main_option("path_separator", "os")
    with database.writing() as connection:
        settings.attributes["connection"] = connection
        now_at = MigrationContext.configure(connection).get_current_revision()
        known = {each.revision for each in ScriptDirectory.from_config(settings).walk_revisions()}
        if now_at is not None and now_at not in known:
            what = f"the database was changed by a later version of imu-rom (to {now_at})"
            raise ClinicError(what, do="run that version, or restore a backup that this one made")
        if revision not in {"head", *known}:
            what = f"tables are asked for that a later version of imu-rom made (to {revision})"
            raise ClinicError(what, do="run that version")
        upgrade(settings, revision)


@contextmanager
def _said_plainly() -> Iterator[None]:
    """Turn what a database can't do just now into an error that the caller can show."""
    try:
        yield
    except OperationalError as error:
        what = f"the database can't be used just now ({_reason(error)})"
        raise BusyError(what, do="try again in a moment") from error
    except DatabaseError as error:
        # the kinds below it, such as a row that is there already, are for who asked
        if type(error) is not DatabaseError:
            raise
        what = f"the database can't be read ({_reason(error)})"
        raise ClinicError(what, do="restore a backup of it") from error
    except sqlalchemy.exc.TimeoutError as error:
        raise BusyError("too much is asked of the database at once", do="try again in a moment") from error


def _reason(error: DBAPIError) -> str:
    lines = str(error.orig).strip().splitlines()
    return lines[0] if lines else type(error.orig).__name__


@contextmanager
def _begun(connection: Connection) -> Iterator[None]:
    """Begin a transaction, again and again for a while where another writer keeps the database busy."""
    for attempt in range(ATTEMPTS):
        try:
            transaction = connection.begin()
            break
        except OperationalError as error:
            connection.rollback()
            if attempt + 1 == ATTEMPTS or "locked" not in str(error.orig):
                raise
            time.sleep(PAUSE_S * (attempt + 1))
    with transaction:
        yield


def _sqlite(url: URL) -> Engine:
    if not url.database or url.database == ":memory:":
        raise ClinicError("the database must be a file", do="write its address like sqlite:///path")
    path = Path(url.database).absolute()
    try:
        # SQLite gives its files beside the database the same mode
        with suppress(FileExistsError):
            os.close(os.open(path, os.O_CREAT | os.O_EXCL, 0o600))
    except OSError as error:
        raise ClinicError(f"the database can't be made ({error.strerror})", where=str(path)) from error
    engine = sqlalchemy.create_engine(
        url.set(database=str(path)),
        hide_parameters=True,
        pool_size=POOL_SIZE,
        connect_args={"timeout": BUSY_TIMEOUT_MS / 1000},
    )

    @event.listens_for(engine, "connect")
    def prepare(connection: Any, record: object) -> None:  # noqa: ANN401 - the driver's own connection
        del record
        # transactions begin where we say so, not where the driver guesses
        connection.isolation_level = None
        connection.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")
        connection.execute("PRAGMA journal_mode = WAL")
        # an accepted upload outlives a power cut
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")
        # what is deleted is overwritten, not only forgotten
        connection.execute("PRAGMA secure_delete = ON")
        connection.execute("PRAGMA trusted_schema = OFF")

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        connection.exec_driver_sql(connection.get_execution_options().get("imu_rom_begin", "BEGIN"))

    return engine


def _postgresql(url: URL) -> Engine:
    if url.drivername == "postgresql":
        url = url.set(drivername="postgresql+psycopg")
    try:
        return sqlalchemy.create_engine(url, hide_parameters=True, pool_size=POOL_SIZE, pool_pre_ping=True)
    except (ImportError, NoSuchModuleError) as error:
        raise MissingExtraError("PostgreSQL needs its driver", do="pip install 'imu-rom[postgres]'") from error
