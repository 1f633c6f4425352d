"""What goes, and when: patients whose time is over, withdrawn recordings, files that nothing names, old jobs.

Nothing goes before the clinic's retention period is over, which its owner sets by what the law asks for; while none is
set, everything is kept. Of a deleted patient a tombstone stays, so that the trail can still be verified.
"""

from dataclasses import dataclass

from sqlalchemy import Connection, Table, delete, func, select

from imu_rom.clinic.audit import record
from imu_rom.clinic.named_files import is_named
from imu_rom.clinic.patients import Patient, read_patient
from imu_rom.clinic.rate_limits import sweep
from imu_rom.clinic.schema import (
    clinics,
    consents,
    course_states,
    decisions,
    diary_versions,
    exports,
    file_reading_versions,
    jobs,
    mark_versions,
    messages,
    patients,
    plan_versions,
    recording_files,
    recordings,
    result_files,
    result_versions,
    reviews,
    session_pages,
)
from imu_rom.clinic.service import Service
from imu_rom.clinic.sign_ins import sweep_sessions
from imu_rom.clinic.tombstones import leave_tombstone

__all__ = ["Purged", "delete_patient", "due_for_deletion", "purge"]

DAY_MS = 86_400_000
WITHDRAWN_DAYS = 30
"""A withdrawn recording can be sent again for so long before its files go (common practice, no source)."""
DONE_JOB_DAYS = 30
_FILES_AT_ONCE = 200


@dataclass(frozen=True)
class Purged:
    """What went.

    Parameters
    ----------
    patients : int
        Deleted, each with all that was theirs.
    recordings : int
        Withdrawn ones whose files and results went.
    files : int
        Stored files that nothing names any more.
    jobs : int
        Done ones.
    waiting : int
        Patients who asked for deletion and whose time is not over, or for whom no retention period is set.
    """

    patients: int
    recordings: int
    files: int
    jobs: int
    waiting: int


def purge(service: Service) -> Purged:
    """Remove what may go; the service may run meanwhile.

    Parameters
    ----------
    service : Service
        What is kept.

    Returns
    -------
    Purged
        How much went.
    """
    now_ms = service.clock.now_ms()
    gone = 0
    with service.database.reading() as connection:
        due = due_for_deletion(connection, now_ms)
    for each in due:
        with service.database.writing() as connection:
            # something may have come in meanwhile
            if each in due_for_deletion(connection, now_ms):
                delete_patient(connection, now_ms, each)
                gone += 1
    with service.database.writing() as connection:
        emptied = _empty_withdrawn(connection, now_ms)
        old = jobs.c.finished_at_ms < now_ms - DONE_JOB_DAYS * DAY_MS
        sweep(connection, now_ms)
        sweep_sessions(connection, now_ms)
        done = connection.execute(delete(jobs).where(jobs.c.state == "done", old)).rowcount
        waiting = connection.scalar(
            select(func.count())
            .select_from(patients)
            .where(patients.c.deletion_asked_at_ms.is_not(None), patients.c.deleted_at_ms.is_(None))
        )
    removed = _remove_unnamed(service, now_ms)
    service.files.clear_left_behind(now_ms)
    return Purged(gone, emptied, removed, done, waiting or 0)


def due_for_deletion(connection: Connection, now_ms: int) -> tuple[Patient, ...]:
    """List the patients who asked for deletion or were retired, and whose last entry is older than the law asks for.

    Parameters
    ----------
    connection : Connection
        Any.
    now_ms : int
        The time.

    Returns
    -------
    tuple of Patient
        None of a clinic without a retention period.
    """
    rows = connection.execute(
        select(patients, clinics.c.retention_days)
        .join(clinics, clinics.c.id == patients.c.clinic_id)
        .where(patients.c.deleted_at_ms.is_(None), clinics.c.retention_days.is_not(None))
        .order_by(patients.c.id)
    ).all()
    due = []
    for row in rows:
        ended = [each for each in (row.deletion_asked_at_ms, row.retired_at_ms) if each is not None]
        if ended and _last_entry_ms(connection, row) + row.retention_days * DAY_MS <= now_ms:
            patient = read_patient(connection, row.clinic_id, row.id)
            if patient is not None:
                due.append(patient)
    return tuple(due)


def _last_entry_ms(connection: Connection, patient: object) -> int:
    moments: list[int] = [getattr(patient, "created_at_ms")]  # noqa: B009  a row's columns are not known to the type checker
    for table, column in (
        (recordings, recordings.c.received_at_ms),
        (diary_versions, diary_versions.c.created_at_ms),
        (plan_versions, plan_versions.c.created_at_ms),
        (file_reading_versions, file_reading_versions.c.created_at_ms),
        (messages, messages.c.created_at_ms),
        (decisions, decisions.c.created_at_ms),
        (reviews, reviews.c.created_at_ms),
        (exports, exports.c.created_at_ms),
        (consents, consents.c.given_at_ms),
    ):
        asked = select(func.max(column)).where(table.c.patient_id == getattr(patient, "id"))  # noqa: B009
        moments.append(connection.scalar(asked) or 0)
    return max(moments)


def delete_patient(connection: Connection, now_ms: int, patient: Patient, *, actor_id: str | None = None) -> None:
    """Delete all that is kept of a patient but a tombstone; the files go with the next purge.

    Parameters
    ----------
    connection : Connection
        In a writing transaction.
    now_ms : int
        The time.
    patient : Patient
        Whose.
    actor_id : str, optional
        Who does it; None for the owner.

    Raises
    ------
    ClinicError
        There is no such patient.
    """
    own = select(recordings.c.id).where(recordings.c.patient_id == patient.patient_id)
    _delete_results(connection, own.scalar_subquery())
    for table in (reviews, decisions, diary_versions, jobs, course_states, messages, exports):
        connection.execute(delete(table).where(table.c.patient_id == patient.patient_id))
    for table in (mark_versions, recording_files):
        connection.execute(delete(table).where(table.c.recording_id.in_(own.scalar_subquery())))
    for table in (recordings, plan_versions, file_reading_versions, consents):
        connection.execute(delete(table).where(table.c.patient_id == patient.patient_id))
    leave_tombstone(connection, now_ms, patient, actor_id=actor_id)


def _delete_results(connection: Connection, recording_ids: object) -> None:
    of_these = result_versions.c.recording_id.in_(recording_ids)  # type: ignore[arg-type]
    versions = select(result_versions.c.id).where(of_these)
    for table in (result_files, session_pages):
        connection.execute(delete(table).where(table.c.result_version_id.in_(versions.scalar_subquery())))
    connection.execute(delete(result_versions).where(of_these))


def _empty_withdrawn(connection: Connection, now_ms: int) -> int:
    """Remove files, results and marks of recordings that were withdrawn long ago; the row stays, and says so."""
    has_files = select(recording_files.c.recording_id)
    rows = connection.execute(
        select(recordings.c.id, recordings.c.content_sha256, patients.c.clinic_id)
        .join(patients, patients.c.id == recordings.c.patient_id)
        .where(
            recordings.c.state == "withdrawn",
            recordings.c.withdrawn_at_ms < now_ms - WITHDRAWN_DAYS * DAY_MS,
            recordings.c.id.in_(has_files),
        )
    ).all()
    for row in rows:
        _delete_results(connection, [row.id])
        tables: tuple[Table, ...] = (mark_versions, recording_files)
        for table in tables:
            connection.execute(delete(table).where(table.c.recording_id == row.id))
        record(
            connection,
            now_ms,
            clinic_id=row.clinic_id,
            actor_id=None,
            action="withdrawn recording emptied",
            object_kind="recording",
            object_id=row.id,
            content_sha256=row.content_sha256,
        )
    return len(rows)


def _remove_unnamed(service: Service, now_ms: int) -> int:
    """Remove stored files that nothing names.

    What was put in the last day is left alone: it may be about to be named. And whoever keeps a recording or a result
    looks whether its files are there in the transaction that names them, while this looks whether they are named in one
    of its own; since there is one writer at a time, no file goes that is being named, whatever the clocks say.
    """
    with service.database.reading() as connection:
        candidates = [each for each in service.files.names() if not is_named(connection, each)]
    removed = 0
    for at in range(0, len(candidates), _FILES_AT_ONCE):
        with service.database.writing() as connection:
            for each in candidates[at : at + _FILES_AT_ONCE]:
                put_at_ms = service.files.put_at_ms(each)
                if put_at_ms is not None and put_at_ms < now_ms - DAY_MS and not is_named(connection, each):
                    service.files.remove(each)
                    removed += 1
    return removed
