"""Recordings as they are kept: what was said of each, what became of it, and its files."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Literal
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, Row, select

from imu_rom.clinic.schema import clinics, patients, recording_files, recordings
from imu_rom.clinic.schema import jobs as job_rows
from imu_rom.clinic.stored_files import StoredFile

__all__ = ["KeptRecording", "files_of", "given_up_on", "list_recordings", "read_recording"]

State = Literal["waiting", "usable", "unusable", "withdrawn", "not analysed"]


@dataclass(frozen=True)
class KeptRecording:
    """A recording as it is kept.

    Parameters
    ----------
    recording_id, patient_id : str
        Which and whose.
    side, exercise : str
        As the patient said; the exercise is a name of the plan or ``session``.
    recorded_at : str or None
        As the patient said.
    made_at : str or None
        As the analysis found it: RFC 3339 with offset.
    state : {"waiting", "usable", "unusable", "withdrawn", "not analysed"}
        Not analysed: the program gave up on it, through no fault of the files that is known.
    reason_code : str or None
        Why it can't be used: ``unreadable``, ``left-open``, ``no-answer``, ``no-plan``, ``no-stage``,
        ``not-of-the-plan``, ``other-side``, ``marks``, ``not-usable``; ``gave-up`` where it is not analysed. Of a
        usable one: why its last analysis gave nothing new.
    reason : str or None
        The same as an English sentence, for the clinician.
    received_at_ms : int
        When it came in first.
    withdrawn_at_ms : int or None
        When it was withdrawn.
    day : date
        The day that it is of: as the analysis found it, as the patient said, or on which it came in.
    """

    recording_id: str
    patient_id: str
    side: str
    exercise: str
    recorded_at: str | None
    made_at: str | None
    state: State
    reason_code: str | None
    reason: str | None
    received_at_ms: int
    withdrawn_at_ms: int | None
    day: date


def read_recording(connection: Connection, recording_id: str) -> KeptRecording | None:
    """Give one recording.

    Parameters
    ----------
    connection : Connection
        Any.
    recording_id : str
        Which; permission was asked before.

    Returns
    -------
    KeptRecording or None
        None where there is none.
    """
    found = _recordings(connection, recordings.c.id == recording_id)
    return found[0] if found else None


def list_recordings(connection: Connection, patient_id: str) -> tuple[KeptRecording, ...]:
    """List a patient's recordings.

    Parameters
    ----------
    connection : Connection
        Any.
    patient_id : str
        Whose.

    Returns
    -------
    tuple of KeptRecording
        The newest first, withdrawn ones included.
    """
    found = _recordings(connection, recordings.c.patient_id == patient_id)
    return tuple(sorted(found, key=lambda each: (each.day, each.received_at_ms, each.recording_id), reverse=True))


def files_of(connection: Connection, recording_id: str) -> tuple[tuple[str, StoredFile], ...]:
    """List the files of a recording.

    Parameters
    ----------
    connection : Connection
        Any.
    recording_id : str
        Which.

    Returns
    -------
    tuple of (str, StoredFile)
        Names and where they are kept, as they were sent.
    """
    asked = select(recording_files).where(recording_files.c.recording_id == recording_id)
    rows = connection.execute(asked.order_by(recording_files.c.position))
    return tuple((row.name, StoredFile(row.sha256, row.size)) for row in rows)


def _recordings(connection: Connection, which: object) -> list[KeptRecording]:
    rows = connection.execute(
        select(recordings, clinics.c.time_zone)
        .join(patients, patients.c.id == recordings.c.patient_id)
        .join(clinics, clinics.c.id == patients.c.clinic_id)
        .where(which)  # type: ignore[arg-type]
    ).all()
    given_up = given_up_on(connection, [row.id for row in rows if row.state == "waiting"])
    return [_kept(row, given_up.get(row.id)) for row in rows]


def given_up_on(connection: Connection, recording_ids: Sequence[str]) -> dict[str, str]:
    """Tell on which recordings the program gave up.

    Parameters
    ----------
    connection : Connection
        Any.
    recording_ids : sequence of str
        Of recordings that wait.

    Returns
    -------
    dict of str to str
        Why, by recording; those with a job that goes on are left out.
    """
    if not recording_ids:
        return {}
    found: dict[str, str] = {}
    going_on: set[str] = set()
    for row in connection.execute(
        select(job_rows.c.recording_id, job_rows.c.state, job_rows.c.why)
        .where(job_rows.c.recording_id.in_(recording_ids), job_rows.c.state != "done")
        .order_by(job_rows.c.finished_at_ms)
    ):
        if row.state == "given_up":
            found[row.recording_id] = row.why or ""
        else:
            going_on.add(row.recording_id)
    return {recording_id: why for recording_id, why in found.items() if recording_id not in going_on}


def _kept(row: Row[tuple[object, ...]], given_up: str | None) -> KeptRecording:
    said = row.made_at or row.recorded_at
    came_in = datetime.fromtimestamp(row.received_at_ms / 1000, UTC).astimezone(ZoneInfo(row.time_zone))
    return KeptRecording(
        recording_id=row.id,
        patient_id=row.patient_id,
        side=row.side,
        exercise=row.exercise,
        recorded_at=row.recorded_at,
        made_at=row.made_at,
        state=row.state if given_up is None else "not analysed",
        reason_code=row.reason_code if given_up is None else "gave-up",
        reason=row.reason if given_up is None else given_up,
        received_at_ms=row.received_at_ms,
        withdrawn_at_ms=row.withdrawn_at_ms,
        day=came_in.date() if said is None else date.fromisoformat(said[:10]),
    )
