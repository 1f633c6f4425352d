"""How much room patients' recordings take, and how much each patient has.

Counted are the files as they were sent, those of a withdrawn recording until they are cleared away. Files that two
recordings share are counted for both: what a patient has must not depend on what another sent.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import ColumnElement, Connection, func, select

from imu_rom.clinic.schema import patients, recording_files, recordings
from imu_rom.errors import ClinicError

__all__ = ["NoRoomError", "RoomTaken", "content_sha256_of", "has_room", "refuse_without_room", "room_taken"]


class NoRoomError(ClinicError):
    """A patient's recordings have taken all the room that one patient has."""


@dataclass(frozen=True)
class RoomTaken:
    """How much is taken by one patient.

    Parameters
    ----------
    patient_id : str
        Who.
    size_bytes : int
        Of the files of all their recordings.
    """

    patient_id: str
    size_bytes: int


def content_sha256_of(sha256s: Sequence[str]) -> str:
    """Give the mark of a recording's content, whatever its files are called and in whichever order they come.

    Parameters
    ----------
    sha256s : sequence of str
        Of its files.

    Returns
    -------
    str
        SHA-256 of them.
    """
    return hashlib.sha256("\n".join(sorted(sha256s)).encode()).hexdigest()


def refuse_without_room(
    connection: Connection, patient_id: str, room_bytes: int, size_bytes: int, content_sha256: str
) -> None:
    """Refuse a recording for which a patient has no room left.

    Parameters
    ----------
    connection : Connection
        Any.
    patient_id : str
        Whose it would be.
    room_bytes : int
        What one patient has.
    size_bytes : int
        Of the recording's files.
    content_sha256 : str
        Mark of its content: sent again, it takes the place of itself.

    Raises
    ------
    NoRoomError
        There is less room left than it takes.
    """
    before = _taken(connection, patient_id, recordings.c.content_sha256 != content_sha256)
    if before + size_bytes > room_bytes:
        raise NoRoomError(
            f"this patient's recordings take {before / 1e6:.1f} MB of {room_bytes / 1e6:.1f} MB, and this one has "
            f"{size_bytes / 1e6:.1f} MB",
            do="raise patient_mib, or purge what was withdrawn long enough ago",
        )


def has_room(connection: Connection, patient_id: str, room_bytes: int, size_bytes: int) -> bool:
    """Tell whether there is room for a recording, whatever it holds.

    Parameters
    ----------
    connection : Connection
        Any.
    patient_id : str
        Whose it would be.
    room_bytes : int
        What one patient has.
    size_bytes : int
        Of the recording's files.

    Returns
    -------
    bool
        False also for one that is there already, where it would have no room beside itself.
    """
    return _taken(connection, patient_id) + size_bytes <= room_bytes


def _taken(connection: Connection, patient_id: str, *which: ColumnElement[bool]) -> int:
    return int(
        connection.scalar(
            select(func.coalesce(func.sum(recording_files.c.size), 0))
            .join(recordings, recordings.c.id == recording_files.c.recording_id)
            .where(recordings.c.patient_id == patient_id, *which)
        )
        or 0
    )


def room_taken(connection: Connection, clinic_id: str | None = None) -> tuple[RoomTaken, ...]:
    """Tell how much room patients have taken.

    Parameters
    ----------
    connection : Connection
        Any.
    clinic_id : str, optional
        Of which clinic; of all where it is left out.

    Returns
    -------
    tuple of RoomTaken
        Who has most first; patients without recordings are left out.
    """
    size = func.sum(recording_files.c.size)
    asked = (
        select(recordings.c.patient_id, size)
        .join(recording_files, recording_files.c.recording_id == recordings.c.id)
        .join(patients, patients.c.id == recordings.c.patient_id)
        .group_by(recordings.c.patient_id)
        .order_by(size.desc(), recordings.c.patient_id)
    )
    if clinic_id is not None:
        asked = asked.where(patients.c.clinic_id == clinic_id)
    return tuple(RoomTaken(patient_id, int(taken)) for patient_id, taken in connection.execute(asked))
