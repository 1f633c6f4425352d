"""Whether everything that is kept is whole: the trail, the rows, the files with their hashes, nothing forgotten."""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass

from sqlalchemy import Connection, exists, func, or_, select, text

from imu_rom.clinic.audit import Link, verify
from imu_rom.clinic.named_files import named_files
from imu_rom.clinic.schema import (
    file_reading_versions,
    jobs,
    mark_versions,
    patients,
    plan_versions,
    recording_files,
    recordings,
    result_files,
    result_versions,
)
from imu_rom.clinic.service import Service
from imu_rom.clinic.storage_room import room_taken
from imu_rom.errors import ClinicError

__all__ = ["CheckReport", "check"]

_BLOCK_BYTES = 1 << 20
_NEARLY_FULL = 0.9


@dataclass(frozen=True)
class CheckReport:
    """What a check found.

    Parameters
    ----------
    problems : tuple of str
        What is not as it must be; empty where all is well.
    notes : tuple of str
        What may be as it is, and the owner may want to know.
    last : Link
        The trail's last entry; noted elsewhere, it shows later whether the trail was written anew.
    files, file_bytes : int
        How many stored files were read whole, and their size.
    """

    problems: tuple[str, ...]
    notes: tuple[str, ...]
    last: Link
    files: int
    file_bytes: int


def check(service: Service, noted: Link | None = None) -> CheckReport:
    """Check everything; the service may run meanwhile.

    Parameters
    ----------
    service : Service
        What is kept.
    noted : Link, optional
        The trail's last entry of an earlier check, kept elsewhere.

    Returns
    -------
    CheckReport
        What was found; nothing is changed.
    """
    with service.database.reading() as connection:
        trail = verify(connection, noted)
        problems = [] if trail.broken is None else [f"the trail: {trail.broken}"]
        if service.database.is_sqlite:
            problems += _sqlite_faults(connection)
        problems += [*_plan_faults(connection), *_recording_faults(connection), *_result_faults(connection)]
        names = sorted(named_files(connection))
        notes = [*_notes(connection), *_room_notes(connection, service.configuration.limits.patient_mib << 20)]
    count, size = 0, 0
    for each in names:
        found, length = _file_fault(service, each)
        if found:
            problems.append(found)
        else:
            count, size = count + 1, size + length
    with service.database.reading() as connection:
        # after the rows of what came meanwhile
        unnamed = set(service.files.names()) - named_files(connection)
    if unnamed:
        notes.append(f"{len(unnamed)} stored files are named by nothing, and go with the next purge")
    return CheckReport(tuple(problems), tuple(notes), trail.last, count, size)


def _sqlite_faults(connection: Connection) -> Iterator[str]:
    for row in connection.execute(text("PRAGMA integrity_check(20)")):
        if row[0] != "ok":
            yield f"the database's file: {row[0]}"
    for row in connection.execute(text("PRAGMA foreign_key_check")):
        yield f"a row of {row[0]} belongs to one of {row[2]} that is not there"


def _plan_faults(connection: Connection) -> Iterator[str]:
    for row in connection.execute(select(plan_versions.c.id, plan_versions.c.toml, plan_versions.c.sha256)):
        if hashlib.sha256(row.toml.encode()).hexdigest() != row.sha256:
            yield f"the plan version {row.id} is not as it was written"
    of_patient = (each.c.patient_id == patients.c.id for each in (recordings, plan_versions, file_reading_versions))
    left = exists().where(or_(*of_patient))
    for patient_id in connection.scalars(select(patients.c.id).where(patients.c.deleted_at_ms.is_not(None), left)):
        yield f"the patient {patient_id} was deleted, and something is still there"


def _recording_faults(connection: Connection) -> Iterator[str]:
    has_files = exists().where(recording_files.c.recording_id == recordings.c.id)
    living = recordings.c.state != "withdrawn"
    for recording_id in connection.scalars(select(recordings.c.id).where(living, ~has_files)):
        yield f"the recording {recording_id} has no files"
    for row in connection.execute(select(recordings.c.id, recordings.c.content_sha256).where(has_files)):
        asked = select(recording_files.c.sha256).where(recording_files.c.recording_id == row.id)
        content = "\n".join(sorted(connection.scalars(asked)))
        if hashlib.sha256(content.encode()).hexdigest() != row.content_sha256:
            yield f"the recording {row.id} has other files than were sent"
    job = exists().where(jobs.c.recording_id == recordings.c.id, jobs.c.state.in_(("waiting", "running", "given_up")))
    for recording_id in connection.scalars(select(recordings.c.id).where(recordings.c.state == "waiting", ~job)):
        yield f"the recording {recording_id} waits, and nothing works on it"
    result = exists().where(result_versions.c.recording_id == recordings.c.id)
    for recording_id in connection.scalars(select(recordings.c.id).where(recordings.c.state == "usable", ~result)):
        yield f"the recording {recording_id} is said to be usable and has no result"


def _result_faults(connection: Connection) -> Iterator[str]:
    whole = exists().where(
        result_files.c.result_version_id == result_versions.c.id, result_files.c.name == "result.json"
    )
    for result_id in connection.scalars(select(result_versions.c.id).where(~whole)):
        yield f"the result {result_id} has no file"
    marked = exists().where(mark_versions.c.id == result_versions.c.mark_version_id)
    asked_marks = select(result_versions.c.id).where(result_versions.c.mark_version_id.is_not(None), ~marked)
    for result_id in connection.scalars(asked_marks):
        yield f"the result {result_id} was made by marks that are not there"


def _notes(connection: Connection) -> Iterator[str]:
    for state, words in (("given_up", "were given up"), ("waiting", "wait"), ("running", "are being worked on")):
        count = connection.scalar(select(func.count()).select_from(jobs).where(jobs.c.state == state))
        if count:
            yield f"{count} jobs {words}"
    asked = connection.scalar(
        select(func.count())
        .select_from(patients)
        .where(patients.c.deletion_asked_at_ms.is_not(None), patients.c.deleted_at_ms.is_(None))
    )
    if asked:
        yield f"{asked} patients asked for deletion"


def _room_notes(connection: Connection, room_bytes: int) -> Iterator[str]:
    count = sum(each.size_bytes > _NEARLY_FULL * room_bytes for each in room_taken(connection))
    if count:
        who = "1 patient has" if count == 1 else f"{count} patients have"
        yield f"{who} less than a tenth of the room left that patient_mib gives, and can soon send nothing more"


def _file_fault(service: Service, sha256: str) -> tuple[str, int]:
    digest, size = hashlib.sha256(), 0
    try:
        with service.files.open(sha256) as content:
            while block := content.read(_BLOCK_BYTES):
                digest.update(block)
                size += len(block)
    except (ClinicError, OSError) as error:
        with service.database.reading() as connection:
            if sha256 not in named_files(connection):
                return "", 0  # purged meanwhile
        what = error.what if isinstance(error, ClinicError) else (error.strerror or str(error)).lower()
        return f"the stored file {sha256[:12]}: {what}", 0
    if digest.hexdigest() != sha256:
        return f"the stored file {sha256[:12]} is damaged", 0
    return "", size
