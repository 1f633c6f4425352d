"""An analysis from the worker's side: what the child process is given, and what is kept of what it made."""

import hashlib
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, func, select, update

from imu_rom import __version__
from imu_rom.clinic import jobs
from imu_rom.clinic.audit import record
from imu_rom.clinic.file_readings import FileReading, newest_file_reading
from imu_rom.clinic.kept_recordings import files_of
from imu_rom.clinic.log_lines import log_line
from imu_rom.clinic.patient_folder import PlanText, copy_file, plans_in_effect, write_plans
from imu_rom.clinic.results import add_result, newest_result
from imu_rom.clinic.schema import clinics, mark_versions, patients, recordings
from imu_rom.clinic.service import Service
from imu_rom.clinic.stored_files import StoredFile
from imu_rom.clinic.work_order import MADE, MARKS, SENT, AnalysisOrder, Outcome
from imu_rom.errors import BusyError

__all__ = ["NO_PLAN", "AnalysisInputs", "analysis_inputs", "keep_analysis", "lay_out_analysis"]

NO_PLAN = Outcome("no-plan", "There is no plan yet that the session could be compared with.")


@dataclass(frozen=True)
class AnalysisInputs:
    """What a recording is analysed by, as it is in one transaction.

    Parameters
    ----------
    clinic_id, time_zone : str
        The clinic, and where it is.
    content_sha256, side, exercise : str
        Of the recording, as the patient said.
    recorded_at : str or None
        As the patient said.
    received_at_ms : int
        When it came in.
    files : tuple of (str, StoredFile)
        What was sent.
    plans : tuple of PlanText
        Versions that a day goes by.
    mark_version_id, marks_json : str or None
        The newest marks.
    reading : FileReading
        How the logger's files are read.
    """

    clinic_id: str
    time_zone: str
    content_sha256: str
    side: str
    exercise: str
    recorded_at: str | None
    received_at_ms: int
    files: tuple[tuple[str, StoredFile], ...]
    plans: tuple[PlanText, ...]
    mark_version_id: str | None
    marks_json: str | None
    reading: FileReading


def analysis_inputs(connection: Connection, recording_id: str) -> AnalysisInputs | None:
    """Read what a recording is analysed by.

    Parameters
    ----------
    connection : Connection
        Any.
    recording_id : str
        Which.

    Returns
    -------
    AnalysisInputs or None
        None where it is withdrawn or deleted, so that there is nothing to analyse.
    """
    row = connection.execute(
        select(recordings, clinics.c.id.label("clinic_id"), clinics.c.time_zone)
        .join(patients, patients.c.id == recordings.c.patient_id)
        .join(clinics, clinics.c.id == patients.c.clinic_id)
        .where(recordings.c.id == recording_id, recordings.c.state != "withdrawn", patients.c.deleted_at_ms.is_(None))
    ).one_or_none()
    files = files_of(connection, recording_id)
    if row is None or not files:
        return None
    newest = select(func.max(mark_versions.c.version)).where(mark_versions.c.recording_id == recording_id)
    marks = connection.execute(
        select(mark_versions).where(
            mark_versions.c.recording_id == recording_id, mark_versions.c.version == newest.scalar_subquery()
        )
    ).one_or_none()
    return AnalysisInputs(
        clinic_id=row.clinic_id,
        time_zone=row.time_zone,
        content_sha256=row.content_sha256,
        side=row.side,
        exercise=row.exercise,
        recorded_at=row.recorded_at,
        received_at_ms=row.received_at_ms,
        files=files,
        plans=plans_in_effect(connection, row.patient_id),
        mark_version_id=None if marks is None else marks.id,
        marks_json=None if marks is None else marks.marks_json,
        reading=newest_file_reading(connection, row.patient_id),
    )


def lay_out_analysis(service: Service, inputs: AnalysisInputs, folder: Path) -> None:
    """Write what the child process needs.

    Parameters
    ----------
    service : Service
        Files and limits.
    inputs : AnalysisInputs
        What the recording is analysed by.
    folder : Path
        Of the job, empty.

    Raises
    ------
    ClinicError
        A stored file is missing.
    OSError
        There is no room.
    """
    write_plans(inputs.plans, folder)
    (folder / SENT).mkdir()
    for name, stored in inputs.files:
        copy_file(service.files, stored, folder / SENT / name)
    if inputs.marks_json is not None:
        (folder / MARKS).write_text(inputs.marks_json, "utf-8")
    limits = service.configuration.limits
    order = AnalysisOrder(
        exercise=inputs.exercise,
        side=inputs.side,
        recorded_at=_moment(inputs),
        time_zone=inputs.time_zone,
        archive_files=limits.archive_files,
        archive_mb=limits.archive_mib * 1.048576,
        archive_ratio=limits.archive_ratio,
        reading=asdict(inputs.reading),
    )
    order.write(folder)


def _moment(inputs: AnalysisInputs) -> str:
    """Say when a recording was made whose files don't say: at noon of the day, or when it came in."""
    zone = ZoneInfo(inputs.time_zone)
    if inputs.recorded_at is None:
        return datetime.fromtimestamp(inputs.received_at_ms // 1000, UTC).astimezone(zone).isoformat()
    moment = datetime.fromisoformat(inputs.recorded_at)
    if len(inputs.recorded_at) == len("2026-12-01"):
        moment = moment.replace(hour=12)
    return (moment if moment.tzinfo is not None else moment.replace(tzinfo=zone)).isoformat()


def keep_analysis(service: Service, job: jobs.Job, inputs: AnalysisInputs, folder: Path, outcome: Outcome) -> None:
    """Keep what came of an analysis, whole, and finish the job in the same transaction.

    Parameters
    ----------
    service : Service
        Database, files and clock.
    job : Job
        As it was claimed.
    inputs : AnalysisInputs
        What it was analysed by; where that has changed meanwhile, nothing is kept and it is analysed again.
    folder : Path
        Of the job.
    outcome : Outcome
        What the child process says.

    Raises
    ------
    LostLeaseError
        Another worker has the job; nothing is kept.
    BusyError, ClinicError
        Database or disk refuse; nothing is kept.
    """
    files: dict[str, StoredFile] = {}
    if not outcome.code:
        for path in sorted((folder / MADE).iterdir()):
            with path.open("rb") as content:
                files[path.name] = service.files.put(content)
    recording_id = str(job.recording_id)
    with service.database.writing() as connection:
        now_ms = service.clock.now_ms()
        # a file that nothing named may have been cleared away since it was put
        if not all(service.files.has(each.sha256) for each in files.values()):
            raise BusyError("the result can't be kept just now", do="keep it again")
        jobs.finish(connection, now_ms, job)
        now = analysis_inputs(connection, recording_id)
        if now is None:
            return
        if now != inputs:
            jobs.add(connection, now_ms, "analyse", job.patient_id, recording_id)
        elif outcome.code:
            _keep_reason(connection, now_ms, inputs, recording_id, outcome)
        else:
            _keep_result(connection, now_ms, job, inputs, outcome, files)
        jobs.add(connection, now_ms, "course", job.patient_id)


def _keep_reason(
    connection: Connection, now_ms: int, inputs: AnalysisInputs, recording_id: str, outcome: Outcome
) -> None:
    before = newest_result(connection, recording_id)
    connection.execute(
        update(recordings)
        .where(recordings.c.id == recording_id)
        .values(
            state="unusable" if before is None else "usable", reason_code=outcome.code[:32], reason=outcome.why[:2000]
        )
    )
    why_sha256 = hashlib.sha256(outcome.why.encode()).hexdigest()
    _record(connection, now_ms, inputs, "no result", "recording", recording_id, why_sha256)


def _keep_result(
    connection: Connection,
    now_ms: int,
    job: jobs.Job,
    inputs: AnalysisInputs,
    outcome: Outcome,
    files: dict[str, StoredFile],
) -> None:
    recording_id = str(job.recording_id)
    plan = next(each for each in inputs.plans if each.file_name == outcome.plan_file)
    made_by = (__version__, plan.plan_version_id, inputs.mark_version_id)
    before = newest_result(connection, recording_id)
    connection.execute(
        update(recordings)
        .where(recordings.c.id == recording_id)
        .values(state="usable", reason=None, reason_code=None, made_at=outcome.recorded_at)
    )
    if (
        before is not None
        and made_by == (before.program_version, before.plan_version_id, before.mark_version_id)
        and files["result.json"] == before.files.get("result.json")
    ):
        # analysed again, and the same came of it
        _record(connection, now_ms, inputs, "same result", "recording", recording_id, files["result.json"].sha256)
        return
    program_version, plan_version_id, mark_version_id = made_by
    kept = add_result(
        connection,
        now_ms,
        recording_id,
        program_version=program_version,
        plan_version_id=plan_version_id,
        mark_version_id=mark_version_id,
        files=files,
    )
    _record(connection, now_ms, inputs, "result kept", "result", kept.result_id, files["result.json"].sha256)
    log_line("result kept", recording=recording_id, version=kept.version)


def _record(
    connection: Connection,
    now_ms: int,
    inputs: AnalysisInputs,
    action: str,
    object_kind: str,
    object_id: str,
    content_sha256: str,
) -> None:
    record(
        connection,
        now_ms,
        clinic_id=inputs.clinic_id,
        actor_id=None,
        action=action,
        object_kind=object_kind,
        object_id=object_id,
        content_sha256=content_sha256,
    )
