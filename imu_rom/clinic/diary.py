"""A patient's diary: each line as the course reads it, every change a new version, the newest counts."""

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection, insert, select

from imu_rom.clinic import jobs
from imu_rom.clinic.audit import record
from imu_rom.clinic.database import new_id
from imu_rom.clinic.patients import Patient
from imu_rom.clinic.schema import diary_versions
from imu_rom.course.diary_columns import COLUMNS, MISSING, CellFault
from imu_rom.errors import ClinicError

__all__ = ["LONGEST_TEXT", "DiaryLine", "add_line", "change_line", "checked", "list_lines", "set_morning"]

LONGEST_TEXT = 2000
"""Most letters of what is written in one field; common practice, no source."""
_MORNING = ("pain_next_morning", "stiffness_min")


@dataclass(frozen=True)
class DiaryLine:
    """One line in its newest version.

    Parameters
    ----------
    entry : str
        Its id, which stays while it is changed.
    version : int
        From 1.
    day : date
        The person's day.
    fields : mapping of str to str
        Cells by the columns of `imu_rom.course.diary_columns`, but for the day.
    recording_id : str or None
        The recording that it is about.
    created_at_ms : int
        When this version was written.
    """

    entry: str
    version: int
    day: date
    fields: Mapping[str, str]
    recording_id: str | None
    created_at_ms: int

    @property
    def signs(self) -> tuple[str, ...]:
        """Signs that need help, by the words of the diary."""
        return tuple(each for each in self.fields.get("red_flag", "").split(";") if each)


def checked(fields: Mapping[str, str]) -> dict[str, str]:
    """Check what was written, cell by cell, as the course's reader would.

    Parameters
    ----------
    fields : mapping of str to str
        Cells by columns, but for the day; empty ones are left out.

    Returns
    -------
    dict of str to str
        What is to be kept: one line each, without characters that no text has.

    Raises
    ------
    ClinicError
        A cell can't be what its column asks for; ``where`` is the column.
    """
    kept = {}
    for name, given in fields.items():
        cell = " ".join(re.sub(r"[\x00-\x1f\x7f]", " ", given).split())
        if cell in MISSING:
            continue
        if len(cell) > LONGEST_TEXT:
            raise ClinicError(f"must have at most {LONGEST_TEXT} letters", where=name)
        try:
            COLUMNS[name].read(cell)
        except CellFault as fault:
            raise ClinicError(fault.must, where=name) from None
        kept[name] = cell
    return kept


def list_lines(connection: Connection, patient_id: str) -> tuple[DiaryLine, ...]:
    """List a patient's lines.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    patient_id : str
        Whose.

    Returns
    -------
    tuple of DiaryLine
        Each in its newest version; the latest days first, and on a day what was begun last.
    """
    rows = connection.execute(
        select(diary_versions)
        .where(diary_versions.c.patient_id == patient_id)
        .order_by(diary_versions.c.created_at_ms, diary_versions.c.version)
    )
    newest: dict[str, DiaryLine] = {}
    for row in rows:
        # a line keeps the place at which it was begun
        newest[row.entry] = DiaryLine(
            row.entry,
            row.version,
            date.fromisoformat(row.day),
            json.loads(row.fields_json),
            row.recording_id,
            row.created_at_ms,
        )
    latest_first = list(reversed(newest.values()))
    return tuple(sorted(latest_first, key=lambda each: each.day, reverse=True))


def add_line(
    connection: Connection,
    now_ms: int,
    patient: Patient,
    actor_id: str,
    *,
    day: date,
    fields: Mapping[str, str],
    recording_id: str | None = None,
) -> DiaryLine:
    """Write a new line.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    patient : Patient
        Whose.
    actor_id : str
        The user who writes.
    day : date
        The person's day.
    fields : mapping of str to str
        Cells by columns.
    recording_id : str, optional
        The recording that it is about; the patient's own.

    Returns
    -------
    DiaryLine
        As it is kept.

    Raises
    ------
    ClinicError
        A cell can't be what its column asks for.
    """
    return _write(connection, now_ms, patient, actor_id, DiaryLine(new_id(), 1, day, fields, recording_id, now_ms))


def change_line(
    connection: Connection, now_ms: int, patient: Patient, actor_id: str, line: DiaryLine, fields: Mapping[str, str]
) -> DiaryLine:
    """Write a line anew; what it said before is kept as an earlier version.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    patient : Patient
        Whose.
    actor_id : str
        The user who writes.
    line : DiaryLine
        In its newest version.
    fields : mapping of str to str
        All cells by columns, as they are from now on.

    Returns
    -------
    DiaryLine
        As it is kept.

    Raises
    ------
    ClinicError
        A cell can't be what its column asks for.
    """
    changed = DiaryLine(line.entry, line.version + 1, line.day, fields, line.recording_id, now_ms)
    return _write(connection, now_ms, patient, actor_id, changed)


def set_morning(
    connection: Connection,
    now_ms: int,
    patient: Patient,
    actor_id: str,
    *,
    day: date,
    pain: str,
    stiffness_min: str = "",
) -> DiaryLine:
    """Write how it was the morning after a day: once a day, since two that differ would both be left out.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    patient : Patient
        Whose.
    actor_id : str
        The user who writes.
    day : date
        The day of the exercises, not the morning.
    pain : str
        0 to 10.
    stiffness_min : str
        Minutes; empty where not known.

    Returns
    -------
    DiaryLine
        The line that says it now.

    Raises
    ------
    ClinicError
        A number can't be what its column asks for.
    """
    said = {"pain_next_morning": pain, "stiffness_min": stiffness_min}
    of_day = [each for each in list_lines(connection, patient.patient_id) if each.day == day]
    line = next((each for each in of_day if any(name in each.fields for name in _MORNING)), None)
    if line is None:
        return add_line(connection, now_ms, patient, actor_id, day=day, fields=said)
    return change_line(connection, now_ms, patient, actor_id, line, {**line.fields, **said})


def _write(connection: Connection, now_ms: int, patient: Patient, actor_id: str, line: DiaryLine) -> DiaryLine:
    fields = checked(line.fields)
    if patient.retired_at_ms is not None:
        # whoever was put aside is on no list: nobody would see it
        raise ClinicError("nothing more is taken in for this patient", do="ask the clinic")
    text = json.dumps(fields, ensure_ascii=False, sort_keys=True)
    version_id = new_id()
    connection.execute(
        insert(diary_versions).values(
            id=version_id,
            patient_id=patient.patient_id,
            entry=line.entry,
            version=line.version,
            day=line.day.isoformat(),
            fields_json=text,
            red_flag="red_flag" in fields,
            recording_id=line.recording_id,
            created_at_ms=now_ms,
        )
    )
    record(
        connection,
        now_ms,
        clinic_id=patient.clinic_id,
        actor_id=actor_id,
        action="write diary",
        object_kind="diary entry",
        object_id=line.entry,
        # with the version's own random id, so that nobody can try out answers once both are deleted
        content_sha256=hashlib.sha256(f"{version_id}:{text}".encode()).hexdigest(),
    )
    jobs.add(connection, now_ms, "course", patient.patient_id)
    return DiaryLine(line.entry, line.version, line.day, fields, line.recording_id, now_ms)
