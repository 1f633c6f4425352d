"""What a patient's course comes to, worked out by a worker after each change: figures, pages, facts for the list.

``is_current`` tells whether anything has changed since; then the worker has a job for it, and what is kept is shown as
it was.
"""

import hashlib
import json
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, delete, insert, select

from imu_rom import __version__
from imu_rom.clinic import jobs
from imu_rom.clinic.patient_folder import PatientRecords, copy_file, patient_records, write_course
from imu_rom.clinic.schema import clinics, course_states, patients
from imu_rom.clinic.service import Service
from imu_rom.clinic.session_pages import SessionPage, keep_session_pages, made_from_of, recent_sessions
from imu_rom.clinic.work_order import MADE, SESSION_PAGES, CourseOrder, Outcome
from imu_rom.errors import BusyError

__all__ = [
    "CourseInputs",
    "CourseState",
    "ask_outdated",
    "course_inputs",
    "course_state",
    "keep_course",
    "lay_out_course",
]

COURSE = "course"
ANGLE = "angle.csv"


@dataclass(frozen=True)
class CourseState:
    """What is kept of a course.

    Parameters
    ----------
    course : dict or None
        ``progress.json``, as its schema has it; None where it can't be told yet.
    why : str or None
        Why not: a sentence.
    attention_json : str
        `imu_rom.dose.attention_facts.AttentionFacts` as JSON; empty without a course.
    clinician_page : bytes or None
        The course's page for clinicians, without its plotting script (`imu_rom.clinic.kept_pages.whole_page`).
    patient_page : bytes or None
        The patient's page of the newest session.
    made_at_ms : int
        When it was made.
    is_current : bool
        False where something has changed since and it is being made anew.
    """

    course: dict[str, Any] | None
    why: str | None
    attention_json: str
    clinician_page: bytes | None
    patient_page: bytes | None
    made_at_ms: int
    is_current: bool


@dataclass(frozen=True)
class CourseInputs:
    """What a course is made from, as it is in one transaction.

    Parameters
    ----------
    records : PatientRecords
        Plans, diary and results.
    language : str
        The patient's.
    today : date
        At the clinic.
    recent : tuple of str
        The recordings that were made last and can be used, the newest last.
    known : dict of str to str
        What their reports within the course were made from, by result.
    """

    records: PatientRecords
    language: str
    today: date
    recent: tuple[str, ...]
    known: dict[str, str]

    @property
    def newest(self) -> str | None:
        """The recording that was made last and can be used."""
        return self.recent[-1] if self.recent else None

    @property
    def made_from_sha256(self) -> str:
        """Fingerprint of all of it, the program included."""
        newest = None if self.newest is None else self.records.results[self.newest].files["result.json"].sha256
        values = [__version__, self.language, self.today.isoformat(), newest, self.records.made_from()]
        return hashlib.sha256(json.dumps(values).encode()).hexdigest()


def course_inputs(connection: Connection, now_ms: int, patient_id: str) -> CourseInputs | None:
    """Read what a course is made from.

    Parameters
    ----------
    connection : Connection
        Any.
    now_ms : int
        The time.
    patient_id : str
        Whose.

    Returns
    -------
    CourseInputs or None
        None where the patient was deleted.
    """
    row = connection.execute(
        select(patients.c.language, clinics.c.time_zone)
        .join(clinics, clinics.c.id == patients.c.clinic_id)
        .where(patients.c.id == patient_id, patients.c.deleted_at_ms.is_(None))
    ).one_or_none()
    if row is None:
        return None
    records = patient_records(connection, patient_id)
    today = datetime.fromtimestamp(now_ms / 1000, UTC).astimezone(ZoneInfo(row.time_zone)).date()
    recent = tuple(each for each in recent_sessions(connection, patient_id) if each in records.results)
    known = made_from_of(connection, [records.results[each].result_id for each in recent])
    return CourseInputs(records, row.language, today, recent, known)


def lay_out_course(service: Service, inputs: CourseInputs, folder: Path) -> None:
    """Write what the child process needs.

    Parameters
    ----------
    service : Service
        Where results are kept.
    inputs : CourseInputs
        What the course is made from.
    folder : Path
        Of the job, empty.

    Raises
    ------
    ClinicError
        A stored file is missing.
    OSError
        There is no room.
    """
    places = write_course(inputs.records, service.files, folder / COURSE)
    last = None if inputs.newest is None else places[inputs.newest]
    sessions = {}
    for each in inputs.recent:
        result = inputs.records.results[each]
        sessions[each] = inputs.known.get(result.result_id, "")
        copy_file(service.files, result.files[ANGLE], (folder / COURSE / places[each]).with_name(ANGLE))
    CourseOrder(inputs.today.isoformat(), inputs.language, last, sessions).write(folder)


def keep_course(service: Service, job: jobs.Job, inputs: CourseInputs, folder: Path, outcome: Outcome) -> None:
    """Keep a course in the place of the one before, and finish the job in the same transaction.

    Parameters
    ----------
    service : Service
        Database and clock.
    job : Job
        As it was claimed.
    inputs : CourseInputs
        What it was made from; where that has changed meanwhile, it is made again.
    folder : Path
        Of the job.
    outcome : Outcome
        What the child process says.

    Raises
    ------
    LostLeaseError
        Another worker has the job; nothing is kept.
    BusyError
        The database refuses; nothing is kept.
    """
    made = folder / MADE

    def read(name: str) -> bytes | None:
        return (made / name).read_bytes() if (made / name).is_file() else None

    course = read("course.json") if not outcome.code else None
    attention = read("attention.json") if not outcome.code else None
    values = {
        "made_from_sha256": inputs.made_from_sha256,
        "program_version": __version__,
        "course_json": json.dumps({"why": outcome.why}) if course is None else course.decode(),
        "attention_json": "" if attention is None else attention.decode(),
        "clinician_page": read("clinician.html") if not outcome.code else None,
        "patient_page": read("patient.html"),
    }
    pages = _session_pages(service, inputs, made)
    with service.database.writing() as connection:
        now_ms = service.clock.now_ms()
        # a file that nothing named may have been cleared away since it was put
        if not all(service.files.has(each.file.sha256) for each in pages.values()):
            raise BusyError("a report can't be kept just now", do="keep it again")
        jobs.finish(connection, now_ms, job)
        now = course_inputs(connection, now_ms, job.patient_id)
        if now is None:
            return
        if now.made_from_sha256 != inputs.made_from_sha256:
            jobs.add(connection, now_ms, "course", job.patient_id)
        connection.execute(delete(course_states).where(course_states.c.patient_id == job.patient_id))
        connection.execute(insert(course_states).values(patient_id=job.patient_id, made_at_ms=now_ms, **values))
        keep_session_pages(connection, pages)


def _session_pages(service: Service, inputs: CourseInputs, made: Path) -> dict[str, SessionPage]:
    listed = made / SESSION_PAGES
    fingerprints: dict[str, str] = json.loads(listed.read_text("utf-8")) if listed.is_file() else {}
    pages = {}
    for recording_id in inputs.recent:
        if recording_id in fingerprints:
            with (made / f"{recording_id}.html").open("rb") as content:
                page = SessionPage(str(fingerprints[recording_id]), service.files.put(content))
            pages[inputs.records.results[recording_id].result_id] = page
    return pages


def course_state(connection: Connection, now_ms: int, patient_id: str) -> CourseState | None:
    """Give what is kept of a course.

    Parameters
    ----------
    connection : Connection
        Any.
    now_ms : int
        The time.
    patient_id : str
        Whose; permission was asked before.

    Returns
    -------
    CourseState or None
        None where it was never made, or the patient was deleted.
    """
    row = connection.execute(select(course_states).where(course_states.c.patient_id == patient_id)).one_or_none()
    inputs = course_inputs(connection, now_ms, patient_id)
    if row is None or inputs is None:
        return None
    course = json.loads(row.course_json)
    return CourseState(
        course=course if "format" in course else None,
        why=course.get("why"),
        attention_json=row.attention_json,
        clinician_page=row.clinician_page,
        patient_page=row.patient_page,
        made_at_ms=row.made_at_ms,
        is_current=row.made_from_sha256 == inputs.made_from_sha256,
    )


def ask_outdated(connection: Connection, now_ms: int) -> int:
    """Ask for the courses that were made on an earlier day, or by another program, since days go by without changes.

    Parameters
    ----------
    connection : Connection
        In a writing transaction.
    now_ms : int
        The time.

    Returns
    -------
    int
        How many jobs were added.
    """
    rows = connection.execute(
        select(patients.c.id, clinics.c.time_zone, course_states.c.made_at_ms, course_states.c.program_version)
        .join(clinics, clinics.c.id == patients.c.clinic_id)
        .join(course_states, course_states.c.patient_id == patients.c.id)
        .where(patients.c.deleted_at_ms.is_(None), patients.c.retired_at_ms.is_(None))
    ).all()
    count = 0
    for row in rows:
        zone = ZoneInfo(row.time_zone)
        made_on, today = (datetime.fromtimestamp(each / 1000, zone).date() for each in (row.made_at_ms, now_ms))
        if (made_on < today or row.program_version != __version__) and jobs.add(connection, now_ms, "course", row.id):
            count += 1
    return count
