"""Which stored files the database names: what must be there, and what may go."""

from sqlalchemy import Connection, select, union

from imu_rom.clinic.schema import exports, recording_files, result_files, session_pages

__all__ = ["is_named", "named_files"]

_NAMING = (recording_files.c.sha256, result_files.c.sha256, session_pages.c.sha256, exports.c.sha256)


def named_files(connection: Connection) -> set[str]:
    """List the files that any row names.

    Parameters
    ----------
    connection : Connection
        Any.

    Returns
    -------
    set of str
        Their SHA-256.
    """
    return set(connection.scalars(union(*(select(each) for each in _NAMING))))


def is_named(connection: Connection, sha256: str) -> bool:
    """Tell whether any row names a file.

    Parameters
    ----------
    connection : Connection
        Any.
    sha256 : str
        The file.

    Returns
    -------
    bool
        True where one does.
    """
    return any(connection.scalar(select(each).where(each == sha256).limit(1)) is not None for each in _NAMING)
