"""Everything that is kept of a patient, as one zip file that the patient can take away."""

import json
import shutil
import zipfile
from collections.abc import Iterator
from dataclasses import asdict
from datetime import UTC, datetime
from typing import IO, Any

from sqlalchemy import Connection, Table, select

from imu_rom.clinic.accounts import sign_in_name_of
from imu_rom.clinic.audit import record
from imu_rom.clinic.kept_recordings import files_of, list_recordings
from imu_rom.clinic.patient_folder import diary_text, patient_records
from imu_rom.clinic.patients import Patient
from imu_rom.clinic.results import results_of
from imu_rom.clinic.schema import (
    consents,
    decisions,
    diary_versions,
    exports,
    file_reading_versions,
    mark_versions,
    messages,
    plan_versions,
    recordings,
    reviews,
)
from imu_rom.clinic.service import Service
from imu_rom.clinic.stored_files import StoredFile

__all__ = ["write_everything"]

ABOUT = """\
All that the clinic's service keeps of you.

about.json          the clinic's name for you, the name that stands for you elsewhere, your sign-in name and language
plans/              each version of your plan
diary.csv           your diary, in its newest version; diary_versions.json has all versions
recordings/         what you sent, as you sent it
results/            what was worked out from it, every version
rows/               consents, messages, decisions, marks, looks of the clinic, exports and how files are read, as kept
Times in rows/ are milliseconds since 1970-01-01 UTC.

Passphrases are kept only as a hash, which is left out, as is the trail of who did what: it holds ids and hashes alone.
"""
_BLOCK_BYTES = 1 << 20
_ROWS: tuple[Table, ...] = (consents, messages, decisions, exports, reviews, file_reading_versions)


def write_everything(service: Service, patient: Patient, actor_id: str, target: IO[bytes]) -> None:
    """Write all that is kept of a patient, and keep in the trail that it was asked for.

    Parameters
    ----------
    service : Service
        Where it is.
    patient : Patient
        Whose.
    actor_id : str
        The user who asked.
    target : binary file
        Where to; a zip file is written.

    Raises
    ------
    ClinicError
        A stored file is missing, or can't be opened with this key.
    """
    now_ms = service.clock.now_ms()
    with service.database.reading() as connection, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("ABOUT.txt", ABOUT)
        archive.writestr("about.json", _json(_about(connection, patient)))
        records = patient_records(connection, patient.patient_id)
        archive.writestr("diary.csv", diary_text(records.diary))
        for name, text in _plans(connection, patient.patient_id):
            archive.writestr(name, text)
        archive.writestr("diary_versions.json", _json(_rows(connection, diary_versions, patient.patient_id)))
        for table in _ROWS:
            archive.writestr(f"rows/{table.name}.json", _json(_rows(connection, table, patient.patient_id)))
        archive.writestr("rows/recordings.json", _json(_rows(connection, recordings, patient.patient_id)))
        archive.writestr("rows/marks.json", _json(_marks(connection, patient.patient_id)))
        for name, stored in _files(connection, patient.patient_id):
            with service.files.open(stored.sha256) as source, archive.open(name, "w", force_zip64=True) as copy:
                shutil.copyfileobj(source, copy, _BLOCK_BYTES)
    with service.database.writing() as connection:
        record(
            connection,
            now_ms,
            clinic_id=patient.clinic_id,
            actor_id=actor_id,
            action="take everything away",
            object_kind="patient",
            object_id=patient.patient_id,
        )


def _about(connection: Connection, patient: Patient) -> dict[str, Any]:
    name = None if patient.user_id is None else sign_in_name_of(connection, patient.user_id)
    written = datetime.now(UTC).isoformat(timespec="seconds")
    return {**asdict(patient), "sign_in_name": name, "written_at": written}


def _plans(connection: Connection, patient_id: str) -> Iterator[tuple[str, str]]:
    asked = select(plan_versions).where(plan_versions.c.patient_id == patient_id).order_by(plan_versions.c.version)
    for row in connection.execute(asked):
        yield f"plans/{row.version:04d}_from_{row.applies_from}.toml", row.toml


def _rows(connection: Connection, table: Table, patient_id: str) -> list[dict[str, Any]]:
    rows = connection.execute(select(table).where(table.c.patient_id == patient_id)).mappings()
    return sorted((dict(row) for row in rows), key=lambda row: str(row["id"]))


def _marks(connection: Connection, patient_id: str) -> list[dict[str, Any]]:
    rows = connection.execute(
        select(mark_versions)
        .join(recordings, recordings.c.id == mark_versions.c.recording_id)
        .where(recordings.c.patient_id == patient_id)
    ).mappings()
    return sorted((dict(row) for row in rows), key=lambda row: (row["recording_id"], row["version"]))


def _files(connection: Connection, patient_id: str) -> Iterator[tuple[str, StoredFile]]:
    for each in list_recordings(connection, patient_id):
        place = f"{each.day.isoformat()}_{each.recording_id[:8]}"
        if each.state != "withdrawn":
            for name, stored in files_of(connection, each.recording_id):
                yield f"recordings/{place}/{name}", stored
        for result in results_of(connection, each.recording_id):
            for name, stored in result.files.items():
                yield f"results/{place}/version_{result.version}/{name}", stored


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, indent=1) + "\n"
