"""Exports that clinicians made: each is kept as it went out, by its content, with who made it."""

import io
import tempfile
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, insert, select

from imu_rom.clinic import audit
from imu_rom.clinic.database import new_id
from imu_rom.clinic.patient_folder import PatientRecords, write_course
from imu_rom.clinic.patients import Patient
from imu_rom.clinic.schema import exports
from imu_rom.clinic.service import Service
from imu_rom.clinic.stored_files import StoredFile
from imu_rom.course.exporting import read_exported
from imu_rom.exchange.deidentify import deidentified, what_remains
from imu_rom.exchange.exported import Exported
from imu_rom.exchange.fhir import write_fhir
from imu_rom.exchange.tidy_files import write_text_tables

__all__ = ["FORMS", "Export", "export_of", "exports_of", "keep_export", "made_export"]

# a zip's own first day, so that the same content gives the same bytes
_NO_TIME = (1980, 1, 1, 0, 0, 0)
_REMAINS = "what_remains.txt"


@dataclass(frozen=True)
class Export:
    """One export.

    Parameters
    ----------
    export_id, patient_id : str
        Its id, and whose it is.
    form : str
        One of `FORMS`.
    content : StoredFile
        The zip.
    author_id : str
        User who made it.
    created_at_ms : int
        When.
    """

    export_id: str
    patient_id: str
    form: str
    content: StoredFile
    author_id: str
    created_at_ms: int


def _tables(exported: Exported, folder: Path) -> None:
    write_text_tables(exported, folder)


def _fhir(exported: Exported, folder: Path) -> None:
    folder.mkdir()
    (folder / "bundle.json").write_bytes(write_fhir(exported))


FORMS: dict[str, tuple[Callable[[Exported, Path], None] | None, bool]] = {
    "tables, de-identified": (_tables, True),
    "tables": (_tables, False),
    "FHIR, de-identified": (_fhir, True),
    "FHIR": (_fhir, False),
    "course": (None, False),
}
"""How each is written, and whether it is de-identified; the course goes out as the folder that the commands read."""


def made_export(service: Service, patient: Patient, records: PatientRecords, form: str) -> bytes:
    """Make an export; nothing is kept yet.

    Parameters
    ----------
    service : Service
        Where results are kept, and what keys come from.
    patient : Patient
        Whose.
    records : PatientRecords
        What goes out, of one state of the database.
    form : str
        One of `FORMS`.

    Returns
    -------
    bytes
        A zip; the same records give the same bytes.

    Raises
    ------
    CourseError
        There is nothing to export yet.
    ClinicError
        A stored file is missing.
    """
    write, without_identity = FORMS[form]
    with tempfile.TemporaryDirectory(prefix="imu-rom-export-") as name:
        course, out = Path(name) / "course", Path(name) / "out"
        course.mkdir()
        write_course(records, service.files, course)
        if write is None:
            return _zipped(course)
        exported = read_exported(course)
        if not without_identity:
            write(exported, out)
            return _zipped(out)
        # one for each clinic, so that the shift of dates can't be worked out from the pseudonym
        secret = service.configuration.key(f"shifted dates of {patient.clinic_id}")
        exported = deidentified(exported, secret)
        write(exported, out)
        (out / _REMAINS).write_text("\n".join(what_remains(exported, secret)) + "\n", "utf-8")
        return _zipped(out)


def _zipped(folder: Path) -> bytes:
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in sorted(each for each in folder.rglob("*") if each.is_file()):
            entry = zipfile.ZipInfo(path.relative_to(folder).as_posix(), _NO_TIME)
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, path.read_bytes())
    return content.getvalue()


def keep_export(
    connection: Connection, now_ms: int, *, patient: Patient, author_id: str, form: str, content: StoredFile
) -> Export:
    """Keep that an export was made.

    Parameters
    ----------
    connection : Connection
        In a writing transaction.
    now_ms : int
        The time.
    patient : Patient
        Whose.
    author_id : str
        Who made it.
    form : str
        One of `FORMS`.
    content : StoredFile
        The zip, stored already.

    Returns
    -------
    Export
        As it is kept.
    """
    made = Export(new_id(), patient.patient_id, form, content, author_id, now_ms)
    connection.execute(
        insert(exports).values(
            id=made.export_id,
            patient_id=made.patient_id,
            form=form,
            sha256=content.sha256,
            size=content.size,
            author_id=author_id,
            created_at_ms=now_ms,
        )
    )
    audit.record(
        connection,
        now_ms,
        clinic_id=patient.clinic_id,
        actor_id=author_id,
        action="export",
        object_kind="export",
        object_id=made.export_id,
        content_sha256=content.sha256,
    )
    return made


def exports_of(connection: Connection, patient_id: str) -> tuple[Export, ...]:
    """Give all exports of a patient.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    patient_id : str
        Whose.

    Returns
    -------
    tuple of Export
        The newest first.
    """
    rows = connection.execute(
        select(exports).where(exports.c.patient_id == patient_id).order_by(exports.c.created_at_ms.desc(), exports.c.id)
    )
    return tuple(
        Export(row.id, row.patient_id, row.form, StoredFile(row.sha256, row.size), row.author_id, row.created_at_ms)
        for row in rows
    )


def export_of(connection: Connection, patient_id: str, export_id: str) -> Export | None:
    """Give one export.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    patient_id : str
        Whose it must be.
    export_id : str
        Its id.

    Returns
    -------
    Export or None
        None where that patient has no such export.
    """
    return next((each for each in exports_of(connection, patient_id) if each.export_id == export_id), None)
