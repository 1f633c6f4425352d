"""What patients send: recordings, each of one or more files, kept once however often it comes, and never lost.

The files are kept first, then, in one transaction, the recording, its job and its entry in the trail. Whoever is
answered before that has been told of nothing that isn't kept.
"""

import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from os import SEEK_END
from pathlib import PurePosixPath
from typing import BinaryIO

from sqlalchemy import Connection, delete, insert, select, update

from imu_rom.clinic import jobs
from imu_rom.clinic.audit import record
from imu_rom.clinic.database import new_id
from imu_rom.clinic.kept_recordings import given_up_on
from imu_rom.clinic.schema import patients, recording_files, recordings
from imu_rom.clinic.service import Service
from imu_rom.clinic.storage_room import content_sha256_of, has_room, refuse_without_room
from imu_rom.clinic.stored_files import StoredFile, blocks_of
from imu_rom.errors import BusyError, ClinicError

__all__ = ["WHOLE_SESSION", "Received", "SentFile", "receive", "withdraw"]

WHOLE_SESSION = "session"
"""In the place of an exercise: all that the plan has on that day."""
LONGEST_NAME = 150
_LONGEST_EXERCISE = 200
_EARLIEST = date(2000, 1, 1)


@dataclass(frozen=True)
class SentFile:
    """One file as a browser sends it.

    Parameters
    ----------
    name : str
        As it is called on the phone.
    content : bytes or BinaryIO
        Read to its end.
    """

    name: str
    content: bytes | BinaryIO


@dataclass(frozen=True)
class Received:
    """What was taken in.

    Parameters
    ----------
    recording_id : str
        Which recording it is.
    new : bool
        False where the same files were sent before.
    """

    recording_id: str
    new: bool


def receive(
    service: Service,
    patient_id: str,
    actor_id: str,
    files: Sequence[SentFile],
    *,
    side: str,
    exercise: str,
    recorded_at: str | None = None,
) -> Received:
    """Take in a recording.

    Parameters
    ----------
    service : Service
        Database, files and clock.
    patient_id : str
        Whose it is; permission was asked before.
    actor_id : str
        User who sends it.
    files : sequence of SentFile
        Delimited files, a BIDS triplet, or one zip file.
    side : {"left", "right"}
        Which leg, as the patient says.
    exercise : str
        Which exercise: a name of the plan, or ``session``.
    recorded_at : str, optional
        When it was made, where the files don't say: an ISO 8601 day or time; without offset it is the clinic's.

    Returns
    -------
    Received
        After all of it is safe. The same content of the same patient is the same recording, whatever the files are
        called; what is said of it anew counts and has it analysed again.

    Raises
    ------
    ClinicError
        It is too much, or what is said of it can't be.
    NoRoomError
        The patient's recordings have taken the room that one patient has; nothing is kept.
    BusyError
        The database did not answer; nothing is kept and the same may be sent again.
    """
    limits = service.configuration.limits
    if not 1 <= len(files) <= limits.upload_files:
        raise ClinicError(
            f"an upload must have 1 to {limits.upload_files} files, got {len(files)}", do="send one session at a time"
        )
    if side not in {"left", "right"}:
        raise ClinicError(f"the leg must be left or right, got {side!r:.20}")
    exercise = " ".join(exercise.split())
    if not 1 <= len(exercise) <= _LONGEST_EXERCISE:
        raise ClinicError("an exercise must be chosen")
    now_ms = service.clock.now_ms()
    _check_time(recorded_at, now_ms)
    names = _plain_names([each.name for each in files])
    room_bytes = limits.patient_mib << 20
    _refuse_at_once(service, patient_id, files, room_bytes)
    kept: list[tuple[str, StoredFile]] = []
    left_bytes = limits.upload_mib << 20
    for name, each in zip(names, files, strict=True):
        stored = service.files.put(each.content, largest_bytes=left_bytes)
        left_bytes -= stored.size
        kept.append((name, stored))
    if not any(each.size for _, each in kept):
        raise ClinicError("the files are empty", do="look whether the sensors' program has saved the session")
    kept.sort(key=lambda each: each[0])
    with service.database.writing() as connection:
        clinic_id = _clinic_of(connection, patient_id)
        # a file that nothing named may have been cleared away since it was put
        if not all(service.files.has(each.sha256) for _, each in kept):
            raise BusyError("the files can't be kept just now", do="send them again")
        # another of theirs may have come meanwhile
        size, content = sum(each.size for _, each in kept), content_sha256_of([each.sha256 for _, each in kept])
        refuse_without_room(connection, patient_id, room_bytes, size, content)
        return _keep(connection, now_ms, (clinic_id, patient_id, actor_id), kept, (side, exercise, recorded_at))


def _keep(
    connection: Connection,
    now_ms: int,
    who: tuple[str, str, str],
    kept: Sequence[tuple[str, StoredFile]],
    said: tuple[str, str, str | None],
) -> Received:
    clinic_id, patient_id, actor_id = who
    content = content_sha256_of([each.sha256 for _, each in kept])
    before = connection.execute(
        select(recordings).where(recordings.c.patient_id == patient_id, recordings.c.content_sha256 == content)
    ).one_or_none()
    values = dict(zip(("side", "exercise", "recorded_at"), said, strict=True))
    recording_id = new_id() if before is None else str(before.id)
    names = [name for name, _ in kept]
    if before is None:
        action = "recording sent"
        connection.execute(
            insert(recordings).values(
                id=recording_id,
                patient_id=patient_id,
                content_sha256=content,
                state="waiting",
                received_at_ms=now_ms,
                **values,
            )
        )
    else:
        asked = select(recording_files.c.name).where(recording_files.c.recording_id == recording_id)
        before_names = list(connection.scalars(asked.order_by(recording_files.c.position)))
        same = all(getattr(before, name) == value for name, value in values.items()) and before_names == names
        given_up = before.state == "waiting" and recording_id in given_up_on(connection, [recording_id])
        if same and before.state in {"waiting", "usable"} and not given_up:
            return Received(recording_id, new=False)
        action = "recording sent again"
        # the result that it had, if any, stays until there is another
        state = "usable" if before.state == "usable" else "waiting"
        connection.execute(
            update(recordings)
            .where(recordings.c.id == recording_id)
            .values(state=state, withdrawn_at_ms=None, reason=None, reason_code=None, **values)
        )
        connection.execute(delete(recording_files).where(recording_files.c.recording_id == recording_id))
    rows = [
        {"recording_id": recording_id, "position": at, "name": name, "sha256": each.sha256, "size": each.size}
        for at, (name, each) in enumerate(kept)
    ]
    connection.execute(insert(recording_files), rows)
    jobs.add(connection, now_ms, "analyse", patient_id, recording_id)
    record(
        connection,
        now_ms,
        clinic_id=clinic_id,
        actor_id=actor_id,
        action=action,
        object_kind="recording",
        object_id=recording_id,
        content_sha256=content,
    )
    return Received(recording_id, new=before is None)


def _refuse_at_once(service: Service, patient_id: str, files: Sequence[SentFile], room_bytes: int) -> None:
    """Refuse before anything is written, so that what there is no room for leaves nothing behind."""
    size = sum(_size_of(each.content) for each in files)
    with service.database.reading() as connection:
        if not has_room(connection, patient_id, room_bytes, size):
            # sent again it may still be; only now is it worth reading all of it
            content = content_sha256_of([_sha256_of(each.content) for each in files])
            refuse_without_room(connection, patient_id, room_bytes, size, content)


def _size_of(content: bytes | BinaryIO) -> int:
    if isinstance(content, bytes):
        return len(content)
    size = content.seek(0, SEEK_END)
    content.seek(0)
    return size


def _sha256_of(content: bytes | BinaryIO) -> str:
    digest = hashlib.sha256()
    for block in blocks_of(content):
        digest.update(block)
    if not isinstance(content, bytes):
        content.seek(0)
    return digest.hexdigest()


def _clinic_of(connection: Connection, patient_id: str) -> str:
    asked = select(patients.c.clinic_id).where(patients.c.id == patient_id)
    there = patients.c.deleted_at_ms.is_(None), patients.c.retired_at_ms.is_(None)
    # of two uploads of one patient the second waits, so that it counts the first; SQLite has one writer anyway
    clinic_id = connection.scalar(asked.where(*there).with_for_update(key_share=True))
    if clinic_id is None:
        raise ClinicError("nothing more is taken in for this patient", do="ask the clinic")
    return str(clinic_id)


def _plain_names(names: Sequence[str]) -> list[str]:
    """Make names that are safe in any folder, and still say what they said; no two alike."""
    plain: list[str] = []
    for given in names:
        name = re.sub(r"[^\w.\-+() ]", "_", PurePosixPath(given.replace("\\", "/")).name).strip(" .")
        stem, dot, ending = name.rpartition(".")
        if len(name) > LONGEST_NAME:
            name = f"{stem[: LONGEST_NAME - 20]}{dot}{ending[:15]}"
        name = name or "recording"
        number = 2
        unique = name
        while unique.casefold() in {each.casefold() for each in plain}:
            unique, number = f"{number}-{name}", number + 1
        plain.append(unique)
    return plain


def _check_time(recorded_at: str | None, now_ms: int) -> None:
    if recorded_at is None:
        return
    try:
        moment = datetime.fromisoformat(recorded_at)
    except ValueError:
        raise ClinicError(f"the day must be like 2026-12-01 or 2026-12-01T18:30, got {recorded_at!r:.40}") from None
    latest = datetime.fromtimestamp(now_ms / 1000, UTC).date() + timedelta(days=1)
    if not _EARLIEST <= moment.date() <= latest or len(recorded_at) > 40:
        raise ClinicError(f"the day must not lie in the future, got {recorded_at[:40]}")


def withdraw(connection: Connection, now_ms: int, *, recording_id: str, actor_id: str) -> None:
    """Withdraw a recording: it counts for nothing from now on, and its files go when the owner clears up.

    Parameters
    ----------
    connection : Connection
        In a writing transaction.
    now_ms : int
        The time.
    recording_id : str
        Which; permission was asked before. One that is withdrawn stays so.
    actor_id : str
        User who does it.

    Raises
    ------
    ClinicError
        There is no such recording.
    """
    row = connection.execute(
        select(recordings.c.patient_id, recordings.c.state, recordings.c.content_sha256, patients.c.clinic_id)
        .join(patients, patients.c.id == recordings.c.patient_id)
        .where(recordings.c.id == recording_id)
    ).one_or_none()
    if row is None:
        raise ClinicError("there is no such recording")
    if row.state == "withdrawn":
        return
    connection.execute(
        update(recordings).where(recordings.c.id == recording_id).values(state="withdrawn", withdrawn_at_ms=now_ms)
    )
    jobs.add(connection, now_ms, "course", row.patient_id)
    record(
        connection,
        now_ms,
        clinic_id=row.clinic_id,
        actor_id=actor_id,
        action="recording withdrawn",
        object_kind="recording",
        object_id=recording_id,
        content_sha256=row.content_sha256,
    )
