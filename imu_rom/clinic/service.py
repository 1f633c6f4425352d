"""What web pages and workers are given: configuration, database, stored files, clock."""

import hashlib
from dataclasses import dataclass

from imu_rom.clinic.clock import Clock
from imu_rom.clinic.configuration import Configuration
from imu_rom.clinic.database import Database, migrate, open_database
from imu_rom.clinic.sealing import MAGIC, read_key
from imu_rom.clinic.stored_files import StoredFiles, open_files
from imu_rom.errors import ClinicError

__all__ = ["Service", "open_service"]


@dataclass(frozen=True)
class Service:
    """All that a request or a job needs from outside.

    Parameters
    ----------
    configuration : Configuration
        Places and limits.
    database : Database
        Opened and up to date.
    files : StoredFiles
        Where recordings and results are kept by their content.
    clock : Clock
        Tells the time.
    """

    configuration: Configuration
    database: Database
    files: StoredFiles
    clock: Clock


def open_service(configuration: Configuration, clock: Clock) -> Service:
    """Open everything, and bring the database up to date.

    Parameters
    ----------
    configuration : Configuration
        Places and limits.
    clock : Clock
        Tells the time.

    Returns
    -------
    Service
        Ready.

    Raises
    ------
    ClinicError
        If the database can't be opened or is a later version's, the key of stored files can't be read, or it is missing
        though they are encrypted.
    """
    database = open_database(configuration.database_url)
    migrate(database)
    key_file = configuration.encryption_key_file
    files = open_files(configuration.files_url, None if key_file is None else read_key(key_file))
    if key_file is None and _are_encrypted(files):
        database.close()
        # else what comes in now would be kept as it is, beside what can't be read
        raise ClinicError(
            "the stored files are encrypted, and no key is given",
            where=configuration.files_url,
            do="set encryption_key_file to the key's file",
        )
    return Service(configuration, database, files, clock)


def _are_encrypted(files: StoredFiles) -> bool:
    """Tell by one of them; a file that only begins like an encrypted one still has its own hash for a name."""
    name = next(iter(files.names()), None)
    if name is None:
        return False
    with files.open(name) as file:
        content = file.read(len(MAGIC))
        return content == MAGIC and hashlib.sha256(content + file.read()).hexdigest() != name
