"""Whose an object is: the one question behind every permission."""

from dataclasses import dataclass

from sqlalchemy import Connection, select

from imu_rom.clinic.schema import (
    decisions,
    diary_versions,
    exports,
    mark_versions,
    messages,
    patients,
    plan_versions,
    recordings,
)

__all__ = ["KINDS", "Owner", "owner_of"]

_TABLES = {
    "decision": decisions,
    "export": exports,
    "message": messages,
    "plan_version": plan_versions,
    "recording": recordings,
}
_BY_RECORDING = {"mark_version": mark_versions}
KINDS = ("patient", "entry", *_TABLES, *_BY_RECORDING)
"""Kinds of object that belong to a patient."""


@dataclass(frozen=True)
class Owner:
    """Whose an object is.

    Parameters
    ----------
    patient_id : str
        The patient that it is about.
    clinic_id : str
        That patient's clinic.
    """

    patient_id: str
    clinic_id: str


def owner_of(connection: Connection, kind: str, object_id: str) -> Owner | None:
    """Tell whose an object is.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    kind : str
        One of `KINDS`.
    object_id : str
        Its id.

    Returns
    -------
    Owner or None
        None where there is no such object, or its patient was deleted.
    """
    if "\0" in object_id:
        # PostgreSQL takes no text with it, and no id has it
        return None
    query = select(patients.c.id, patients.c.clinic_id).where(patients.c.deleted_at_ms.is_(None))
    if kind == "patient":
        query = query.where(patients.c.id == object_id)
    elif kind == "entry":
        query = (
            query.join(diary_versions, diary_versions.c.patient_id == patients.c.id)
            .where(diary_versions.c.entry == object_id)
            .distinct()
        )
    elif kind in _TABLES:
        table = _TABLES[kind]
        query = query.join(table, table.c.patient_id == patients.c.id).where(table.c.id == object_id)
    else:
        table = _BY_RECORDING[kind]
        query = (
            query.join(recordings, recordings.c.patient_id == patients.c.id)
            .join(table, table.c.recording_id == recordings.c.id)
            .where(table.c.id == object_id)
        )
    row = connection.execute(query).one_or_none()
    return None if row is None else Owner(row.id, row.clinic_id)
