"""A backup of all that a clinic keeps, taken while the service runs; restored into an empty database of either kind.

::

    backup.json        what it is, and how many rows and files there are
    tables/<name>.jsonl  the rows of each table, a line each
    files/ab/abcd...   the stored files that the rows name, encrypted as they are where there is a key

All rows are read in one transaction, which sees one state of the database; the files are kept before any row names
them, so all of them are there. The secret and the key are not in it: a backup that is lost must not open itself.
"""

import base64
import hashlib
import json
import secrets
import shutil
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, LargeBinary, Table, func, insert, select, text

from imu_rom import __version__
from imu_rom.clinic.audit import record
from imu_rom.clinic.configuration import Configuration
from imu_rom.clinic.database import migrate, open_database
from imu_rom.clinic.folder_files import FolderFiles, sync_folder
from imu_rom.clinic.named_files import is_named, named_files
from imu_rom.clinic.schema import clinics, metadata
from imu_rom.clinic.sealing import read_key
from imu_rom.clinic.service import Service
from imu_rom.clinic.stored_files import open_files
from imu_rom.errors import ClinicError

__all__ = ["BackupFacts", "back_up", "read_backup_facts", "restore"]

FORMAT = "imu-rom clinic backup"
FORMAT_VERSION = 1
_FACTS, _TABLES, _FILES = "backup.json", "tables", "files"
_ROWS_AT_ONCE = 500


@dataclass(frozen=True)
class BackupFacts:
    """What a backup says of itself.

    Parameters
    ----------
    format : str
        What it is.
    format_version : int
        Rises when the layout changes.
    program_version : str
        Which version made it.
    revision : str
        Of the tables.
    taken_at_ms : int
        When.
    rows : dict of str to int
        By table.
    files, file_bytes : int
        How many stored files, and their size together.
    encrypted : bool
        Whether reading the files needs the clinic's key.
    secret_sha256 : str
        Tells whether the secret is the same where it is restored.
    """

    format: str
    format_version: int
    program_version: str
    revision: str
    taken_at_ms: int
    rows: dict[str, int]
    files: int
    file_bytes: int
    encrypted: bool
    secret_sha256: str

    @classmethod
    def secret_mark(cls, configuration: Configuration) -> str:
        """Give what stands for a secret without telling it.

        Parameters
        ----------
        configuration : Configuration
            With the secret.

        Returns
        -------
        str
            SHA-256 of a key that is derived from it.
        """
        return hashlib.sha256(configuration.key("backup")).hexdigest()


def back_up(service: Service, folder: Path) -> BackupFacts:
    """Take a backup; the service may run meanwhile.

    Parameters
    ----------
    service : Service
        What is kept.
    folder : Path
        Made here, whole or not at all; must not exist.

    Returns
    -------
    BackupFacts
        What was taken.

    Raises
    ------
    ClinicError
        The folder can't be written, a stored file is missing, or something was purged meanwhile.
    """
    if folder.exists():
        raise ClinicError("exists already", where=str(folder), do="name another folder for the backup")
    filling = folder.with_name(f".{folder.name}.{secrets.token_hex(4)}.filling")
    try:
        filling.mkdir(mode=0o700)
        (filling / _TABLES).mkdir(mode=0o700)
        with service.database.reading() as connection:
            rows = {table.name: _write_table(connection, table, filling / _TABLES) for table in metadata.sorted_tables}
            revision = str(connection.scalar(text("SELECT version_num FROM alembic_version")))
            names = sorted(named_files(connection))
            taken_at_ms = service.clock.now_ms()
        key = _key(service.configuration)
        kept = FolderFiles(filling / _FILES, key)
        size = sum(_copy(service, kept, each) for each in names)
        facts = BackupFacts(
            format=FORMAT,
            format_version=FORMAT_VERSION,
            program_version=__version__,
            revision=revision,
            taken_at_ms=taken_at_ms,
            rows=rows,
            files=len(names),
            file_bytes=size,
            encrypted=key is not None,
            secret_sha256=BackupFacts.secret_mark(service.configuration),
        )
        (filling / _FACTS).write_text(json.dumps(asdict(facts), indent=2) + "\n", "utf-8")
        for each in (filling / _FACTS, *(filling / _TABLES).iterdir(), filling / _TABLES, filling):
            sync_folder(each)
        filling.rename(folder)
        sync_folder(folder.parent)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise ClinicError(
            f"can't be written: {reason}", where=str(folder), do="check the place and its room"
        ) from error
    finally:
        shutil.rmtree(filling, ignore_errors=True)
    with service.database.writing() as connection:
        clinic_ids = connection.scalars(select(clinics.c.id).order_by(clinics.c.id)).all()
        for clinic_id in clinic_ids:
            record(
                connection,
                service.clock.now_ms(),
                clinic_id=clinic_id,
                actor_id=None,
                action="backup taken",
                object_kind="clinic",
                object_id=clinic_id,
            )
    return facts


def _key(configuration: Configuration) -> Any:  # noqa: ANN401
    path = configuration.encryption_key_file
    return None if path is None else read_key(path)


def _copy(service: Service, kept: FolderFiles, sha256: str) -> int:
    try:
        with service.files.open(sha256) as content:
            stored = kept.put(content)
    except ClinicError:
        with service.database.reading() as connection:
            if not is_named(connection, sha256):
                raise ClinicError("something was purged while the backup was taken", do="take it again") from None
        raise
    if stored.sha256 != sha256:
        raise ClinicError(
            f"the stored file {sha256[:12]} is damaged", do="run imu-rom clinic check, and restore it from a backup"
        )
    return stored.size


def _write_table(connection: Connection, table: Table, folder: Path) -> int:
    count = 0
    ordered = select(table).order_by(*table.primary_key.columns)
    with (folder / f"{table.name}.jsonl").open("w", encoding="utf-8") as file:
        for row in connection.execution_options(yield_per=_ROWS_AT_ONCE).execute(ordered):
            values = {
                name: {"base64": base64.b64encode(value).decode("ascii")} if isinstance(value, bytes) else value
                for name, value in row._mapping.items()  # noqa: SLF001  the documented name
            }
            file.write(json.dumps(values, ensure_ascii=False) + "\n")
            count += 1
    return count


def read_backup_facts(folder: Path) -> BackupFacts:
    """Read what a backup says of itself.

    Parameters
    ----------
    folder : Path
        The backup.

    Returns
    -------
    BackupFacts
        As it was taken.

    Raises
    ------
    ClinicError
        It is no backup, or that of a later version.
    """
    try:
        facts = BackupFacts(**json.loads((folder / _FACTS).read_bytes()))
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise ClinicError(
            f"can't be read: {reason}", where=str(folder / _FACTS), do="name the folder of a backup"
        ) from None
    except (ValueError, TypeError):
        raise ClinicError("is no backup of a clinic", where=str(folder), do="name the folder of a backup") from None
    if facts.format != FORMAT or facts.format_version > FORMAT_VERSION:
        raise ClinicError(
            f"is no backup that this version ({__version__}) can read",
            where=str(folder),
            do="restore it by a later one",
        )
    return facts


def restore(configuration: Configuration, folder: Path) -> BackupFacts:
    """Restore a backup into an empty database, of whatever kind, and bring it up to date.

    Parameters
    ----------
    configuration : Configuration
        Where to.
    folder : Path
        The backup; it is not changed.

    Returns
    -------
    BackupFacts
        What was restored.

    Raises
    ------
    ClinicError
        It is damaged, or something is kept there already. Nothing is restored then but stored files that nothing names.
    """
    facts = read_backup_facts(folder)
    key = _key(configuration)
    if facts.encrypted and key is None:
        raise ClinicError(
            "the backup is encrypted, and no key is given",
            where=str(folder),
            do="set encryption_key_file to the key's file",
        )
    database = open_database(configuration.database_url)
    try:
        migrate(database, facts.revision)
        with database.reading() as connection:
            if connection.scalar(select(func.count()).select_from(clinics)):
                raise ClinicError("something is kept here already", do="restore into a new home or an empty database")
        files = open_files(configuration.files_url, key)
        kept = FolderFiles(folder / _FILES, key if facts.encrypted else None)
        count = 0
        for name in kept.names():
            with kept.open(name) as content:
                if files.put(content).sha256 != name:
                    raise ClinicError(f"the file {name[:12]} in the backup is damaged", where=str(folder))
            count += 1
        if count != facts.files:
            raise ClinicError(
                f"must hold {facts.files} files, got {count}", where=str(folder), do="take another backup"
            )
        with database.writing() as connection:
            for table in metadata.sorted_tables:
                found = _read_table(connection, table, folder / _TABLES)
                if found != facts.rows.get(table.name, 0):
                    what = f"must hold {facts.rows.get(table.name, 0)} rows of {table.name}, got {found}"
                    raise ClinicError(what, where=str(folder), do="take another backup")
        migrate(database)
    finally:
        database.close()
    return facts


def _read_table(connection: Connection, table: Table, folder: Path) -> int:
    count, block = 0, []
    for values in _lines(folder / f"{table.name}.jsonl", table):
        block.append(values)
        count += 1
        if len(block) == _ROWS_AT_ONCE:
            connection.execute(insert(table), block)
            block = []
    if block:
        connection.execute(insert(table), block)
    return count


def _lines(path: Path, table: Table) -> Iterator[dict[str, Any]]:
    if not path.exists():
        return  # a table that came later
    binary = {each.name for each in table.columns if isinstance(each.type, LargeBinary)}
    with path.open(encoding="utf-8") as file:
        for number, line in enumerate(file, start=1):
            try:
                values: dict[str, Any] = json.loads(line)
                for name in binary & values.keys():
                    if values[name] is not None:
                        values[name] = base64.b64decode(values[name]["base64"])
            except (ValueError, TypeError, KeyError):
                raise ClinicError("is damaged", where=f"{path}:{number}", do="restore another backup") from None
            yield values
