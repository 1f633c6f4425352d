"""A clinic's database on SQLite and on PostgreSQL, a clock that is set by hand, and a service around them."""

import getpass
import os
import pwd
import re
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest
import sqlalchemy
from argon2 import PasswordHasher
from sqlalchemy import event

from imu_rom.clinic import passphrases
from imu_rom.clinic.configuration import read_configuration
from imu_rom.clinic.database import migrate, new_id, open_database
from imu_rom.clinic.schema import metadata
from imu_rom.clinic.service import Service
from imu_rom.clinic.stored_files import open_files

# 2026-11-30 08:00 UTC, a Monday
MONDAY_MORNING_MS = 1_796_025_600_000


@dataclass
class SetClock:
    """Tells the time that the test says."""

    at_ms: int = MONDAY_MORNING_MS

    def now_ms(self):
        return self.at_ms

    def advance(self, **duration):
        """Go on by some seconds, minutes, hours or days; back, if they are negative."""
        unit_ms = {"ms": 1, "seconds": 1_000, "minutes": 60_000, "hours": 3_600_000, "days": 86_400_000}
        self.at_ms += sum(amount * unit_ms[unit] for unit, amount in duration.items())


@pytest.fixture(autouse=True, scope="session")
def real_hasher():
    """Hash passphrases with little memory, since hundreds of tests sign in; gives what the program hashes with."""
    real = passphrases._hasher
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(passphrases, "_hasher", cache(lambda: PasswordHasher(1, 256, 1)))
        yield real


@pytest.fixture
def clock():
    return SetClock()


def _newest_programs():
    """Where PostgreSQL's server is; Debian keeps it off the path."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda each: int(each.parts[4]))
    if found:
        return found[-1].parent
    on_path = shutil.which("initdb")
    return Path(on_path).parent if on_path else None


@pytest.fixture(scope="session")
def postgresql_server():
    """A server of our own on a socket in a folder of its own; it listens to no network."""
    programs = _newest_programs()
    if programs is None:
        message = "PostgreSQL's server is not installed (Debian: apt-get install postgresql)"
        assert os.environ.get("CI") != "true", message
        pytest.skip(message)
    # initdb refuses root, and pytest's folders are closed to everybody else
    root = os.getuid() == 0
    user = "postgres" if root else getpass.getuser()
    folder = Path(tempfile.mkdtemp(prefix="imu-rom-pg-", dir="/tmp"))
    if root:
        owner = pwd.getpwnam(user)
        os.chown(folder, owner.pw_uid, owner.pw_gid)

    as_owner = ["runuser", "-u", user, "--"] if root else []
    nothing = subprocess.DEVNULL
    data = folder / "data"
    made = [str(programs / "initdb"), "-D", str(data), "-A", "trust", "-U", "postgres", "--no-sync"]
    made += ["-E", "UTF8", "--locale=C"]
    subprocess.run([*as_owner, *made], check=True, cwd=folder, stdin=nothing, stdout=nothing, timeout=120)
    # a test's database need not outlive a power cut
    options = [f"unix_socket_directories={folder}", "listen_addresses=", "fsync=off", "full_page_writes=off"]
    options += ["max_connections=120"]
    words = [str(programs / "postgres"), "-D", str(data), *(word for each in options for word in ("-c", each))]
    # however the tests end, their end of the pipe closes, and the server goes with its folder
    guarded = f'"$@" & server=$!; cat >/dev/null; kill -QUIT $server; wait $server; rm -rf {folder}'
    with (folder / "log").open("wb") as log:
        server = subprocess.Popen(
            [*as_owner, "sh", "-c", guarded, "sh", *words],
            cwd=folder,
            stdin=subprocess.PIPE,
            stdout=log,
            stderr=subprocess.STDOUT,
            start_new_session=True,
        )
    url = f"postgresql+psycopg://postgres@/{{}}?host={folder}"
    _wait_until_it_answers(url, folder / "log")
    yield url
    server.stdin.close()
    server.wait(60)


def _wait_until_it_answers(url, log):
    until = time.monotonic() + 60
    while True:
        try:
            return _ask(url)
        except sqlalchemy.exc.OperationalError:
            assert time.monotonic() < until, log.read_text()
            time.sleep(0.05)


def _ask(server, *statements):
    database = open_database(server.format("postgres"))
    with database.engine.execution_options(isolation_level="AUTOCOMMIT").connect() as connection:
        for each in statements:
            connection.exec_driver_sql(each)
    database.close()


@pytest.fixture(scope="session")
def migrated_file(tmp_path_factory):
    path = tmp_path_factory.mktemp("migrated") / "clinic.sqlite"
    database = open_database(f"sqlite:///{path}")
    migrate(database)
    database.close()
    return path


class SharedDatabase:
    """A database for one test after the other: emptied takes milliseconds, made anew half a second.

    Parameters
    ----------
    server : str
        Address of the server, with the database's name left out.
    """

    EVERYTHING = "SELECT (SELECT count(*) FROM pg_class), (SELECT count(*) FROM pg_trigger)"

    def __init__(self, server):
        self.server = server
        _ask(server, "CREATE DATABASE migrated")
        database = open_database(server.format("migrated"))
        migrate(database)
        with database.reading() as connection:
            self.as_made = connection.exec_driver_sql(self.EVERYTHING).one()
            self.version = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
        database.close()
        self.name = None

    def url(self):
        """Address of it, with all tables and nothing in them."""
        if self.name is None or not self._emptied():
            self.name = f"test_{new_id()}"
            _ask(self.server, f"CREATE DATABASE {self.name} TEMPLATE migrated")
        return self.server.format(self.name)

    def _emptied(self):
        database = open_database(self.server.format(self.name))
        with database.engine.begin() as connection:
            connection.exec_driver_sql(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
                " WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )
            # without triggers, which refuse to delete; a test that changed the tables themselves leaves them to nobody
            connection.exec_driver_sql("SET LOCAL session_replication_role = replica")
            for table in metadata.tables.values():
                connection.execute(table.delete())
            version = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
            same = connection.exec_driver_sql(self.EVERYTHING).one() == self.as_made and version == self.version
        database.close()
        return same


@pytest.fixture(scope="session")
def shared_database(postgresql_server):
    return SharedDatabase(postgresql_server)


@pytest.fixture(params=["sqlite", "postgresql"])
def empty_database_url(request, tmp_path):
    """Address of a database without tables."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'clinic.sqlite'}"
        return
    server = request.getfixturevalue("postgresql_server")
    name = f"test_{new_id()}"
    _ask(server, f"CREATE DATABASE {name}")
    yield server.format(name)
    _ask(server, f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request, tmp_path):
    """Address of a database with all tables and nothing in them, this test's own."""
    if request.param == "sqlite":
        path = tmp_path / "clinic.sqlite"
        shutil.copy(request.getfixturevalue("migrated_file"), path)
        return f"sqlite:///{path}"
    return request.getfixturevalue("shared_database").url()


class AuditWatch:
    """Sees that whatever the program writes has its entry in the trail, in the same transaction.

    What a test writes by itself is the test's own business.
    """

    # the program's own state, which says nothing of a person that isn't said elsewhere
    WITHOUT_ENTRY = frozenset(
        {"alembic_version", "course_states", "jobs", "rate_counts", "session_pages", "web_sessions"}
    )
    WRITES = re.compile(r"\s*(?:INSERT INTO|UPDATE|DELETE FROM) (\w+)")

    def __init__(self, database):
        self.written = {}
        self.unsaid = []
        event.listen(database.engine, "before_cursor_execute", self._statement)
        event.listen(database.engine, "commit", self._commit)
        event.listen(database.engine, "rollback", lambda connection: self.written.pop(connection, None))

    def _statement(self, connection, *what):
        found = self.WRITES.match(what[1])
        if found is None or found[1] in self.WITHOUT_ENTRY:
            return
        frame = sys._getframe()
        while frame is not None:
            file = frame.f_code.co_filename
            if "/imu_rom/clinic/" in file:
                self.written.setdefault(connection, {})[found[1]] = f"{Path(file).name}:{frame.f_lineno}"
                return
            if "/tests/" in file and frame.f_code.co_filename != __file__:
                return
            frame = frame.f_back

    def _commit(self, connection):
        written = self.written.pop(connection, {})
        if written and "audit_entries" not in written:
            self.unsaid.append(written)


@pytest.fixture
def database(database_url):
    """A database with all tables and nothing in them, this test's own."""
    opened = open_database(database_url)
    watch = AuditWatch(opened)
    yield opened
    opened.close()
    assert watch.unsaid == [], "written without an entry in the audit trail"


@pytest.fixture
def configuration(database_url, tmp_path):
    return read_configuration(tmp_path / "home", {"IMU_ROM_DATABASE_URL": database_url})


@pytest.fixture
def service(configuration, database, clock):
    """All that a request or a job is given."""
    return Service(configuration, database, open_files(configuration.files_url), clock)
