"""Patients of a clinic: the clinic's own name for them, their language, and what becomes of them."""

import secrets
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import Connection, Row, Select, insert, select, update

from imu_rom.clinic.audit import record
from imu_rom.clinic.database import new_id
from imu_rom.clinic.schema import patients
from imu_rom.errors import ClinicError
from imu_rom.wording.language import languages

__all__ = [
    "Patient",
    "add_patient",
    "ask_deletion",
    "change_patient",
    "find_patient",
    "list_patients",
    "read_patient",
    "reinstate_patient",
    "retire_patient",
    "take_back_deletion",
]

LONGEST_LABEL = 80
# letters and digits that are not taken for each other: no 0 and O, no 1, I and L
UNMISTAKABLE = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
PSEUDONYM_LENGTH = 10


@dataclass(frozen=True)
class Patient:
    """A patient.

    Parameters
    ----------
    patient_id : str
        Its id.
    clinic_id : str
        Whose patient it is.
    user_id : str or None
        How the patient signs in; None before the first invitation.
    label : str
        The clinic's own name for the person; shown to its clinicians, and in no log and no export.
    pseudonym : str
        Stands for the person in exports.
    language : str
        In which the person reads.
    created_at_ms : int
        When the patient was added.
    retired_at_ms : int or None
        When the patient was put aside: nothing more is taken in, and what is there can still be read.
    deletion_asked_at_ms : int or None
        When the patient asked that everything be deleted.
    """

    patient_id: str
    clinic_id: str
    user_id: str | None
    label: str
    pseudonym: str
    language: str
    created_at_ms: int
    retired_at_ms: int | None
    deletion_asked_at_ms: int | None


def add_patient(
    connection: Connection, now_ms: int, *, clinic_id: str, actor_id: str | None, label: str, language: str
) -> Patient:
    """Add a patient.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    clinic_id : str
        Whose patient.
    actor_id : str or None
        Who adds the patient; None for the owner.
    label : str
        The clinic's own name for the person.
    language : str
        In which the person reads.

    Returns
    -------
    Patient
        The new one, who can't sign in before being invited.

    Raises
    ------
    ClinicError
        If the label or the language can't be used.
    """
    pseudonym = "".join(secrets.choice(UNMISTAKABLE) for _ in range(PSEUDONYM_LENGTH))
    patient = Patient(
        new_id(), clinic_id, None, _label(label), f"P{pseudonym}", _language(language), now_ms, None, None
    )
    connection.execute(
        insert(patients).values(
            id=patient.patient_id,
            clinic_id=clinic_id,
            label=patient.label,
            pseudonym=patient.pseudonym,
            language=patient.language,
            created_at_ms=now_ms,
        )
    )
    _record(connection, now_ms, patient, actor_id, "add patient")
    return patient


def read_patient(connection: Connection, clinic_id: str, patient_id: str) -> Patient | None:
    """Read a patient of a clinic.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    clinic_id : str
        Who asks.
    patient_id : str
        Who is asked for.

    Returns
    -------
    Patient or None
        None where this clinic has no such patient, whether or not another has; None for one that was deleted.
    """
    row = connection.execute(_those_of(clinic_id).where(patients.c.id == patient_id)).one_or_none()
    return None if row is None else _patient(row)


def list_patients(connection: Connection, clinic_id: str, *, with_retired: bool = False) -> tuple[Patient, ...]:
    """List the patients of a clinic.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    clinic_id : str
        Whose.
    with_retired : bool
        Also those that were put aside.

    Returns
    -------
    tuple of Patient
        In the order of their labels.
    """
    query = _those_of(clinic_id).order_by(patients.c.label, patients.c.id)
    if not with_retired:
        query = query.where(patients.c.retired_at_ms.is_(None))
    return tuple(_patient(row) for row in connection.execute(query))


def find_patient(connection: Connection, clinic_id: str, label: str) -> Patient | None:
    """Find a patient by the clinic's own name for the person.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    clinic_id : str
        Whose patient.
    label : str
        As typed.

    Returns
    -------
    Patient or None
        None where nobody has it.

    Raises
    ------
    ClinicError
        If several have it.
    """
    label = " ".join(label.split())
    found = [each for each in list_patients(connection, clinic_id, with_retired=True) if each.label == label]
    if len(found) > 1:
        raise ClinicError("several patients have this name in the list", do="invite the right one on the pages")
    return found[0] if found else None


def change_patient(
    connection: Connection,
    now_ms: int,
    patient: Patient,
    *,
    actor_id: str | None,
    label: str | None = None,
    language: str | None = None,
) -> Patient:
    """Change what the clinic calls a patient, or in which language the patient reads.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    patient : Patient
        Who.
    actor_id : str or None
        Who changes it; None for the owner.
    label, language : str, optional
        The new ones; None leaves it as it is.

    Returns
    -------
    Patient
        As it is now.

    Raises
    ------
    ClinicError
        If the label or the language can't be used.
    """
    changed = replace(
        patient,
        label=patient.label if label is None else _label(label),
        language=patient.language if language is None else _language(language),
    )
    _update(connection, patient, label=changed.label, language=changed.language)
    _record(connection, now_ms, patient, actor_id, "change patient")
    return changed


def retire_patient(connection: Connection, now_ms: int, patient: Patient, *, actor_id: str | None) -> Patient:
    """Put a patient aside: nothing more is taken in, and what is there can still be read by both sides.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    patient : Patient
        Who.
    actor_id : str or None
        Who does it; None for the owner.

    Returns
    -------
    Patient
        As it is now; as it was where that was done already.
    """
    if patient.retired_at_ms is not None:
        return patient
    _update(connection, patient, retired_at_ms=now_ms)
    _record(connection, now_ms, patient, actor_id, "retire patient")
    return replace(patient, retired_at_ms=now_ms)


def reinstate_patient(connection: Connection, now_ms: int, patient: Patient, *, actor_id: str | None) -> Patient:
    """Take a patient back who was put aside.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    patient : Patient
        Who.
    actor_id : str or None
        Who does it; None for the owner.

    Returns
    -------
    Patient
        As it is now.
    """
    if patient.retired_at_ms is None:
        return patient
    _update(connection, patient, retired_at_ms=None)
    _record(connection, now_ms, patient, actor_id, "reinstate patient")
    return replace(patient, retired_at_ms=None)


def ask_deletion(connection: Connection, now_ms: int, patient: Patient, *, actor_id: str | None) -> Patient:
    """Keep that a patient asked for everything to be deleted; the first time counts.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    patient : Patient
        Who.
    actor_id : str or None
        Who asked on the page: the patient, or a clinician who was asked; None for the owner.

    Returns
    -------
    Patient
        As it is now.
    """
    if patient.deletion_asked_at_ms is not None:
        return patient
    _update(connection, patient, deletion_asked_at_ms=now_ms)
    _record(connection, now_ms, patient, actor_id, "ask deletion")
    return replace(patient, deletion_asked_at_ms=now_ms)


def take_back_deletion(connection: Connection, now_ms: int, patient: Patient, *, actor_id: str | None) -> Patient:
    """Keep that a patient who asked for deletion wants to stay.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    patient : Patient
        Who.
    actor_id : str or None
        Who says so; None for the owner.

    Returns
    -------
    Patient
        As it is now.
    """
    if patient.deletion_asked_at_ms is None:
        return patient
    _update(connection, patient, deletion_asked_at_ms=None)
    _record(connection, now_ms, patient, actor_id, "take back deletion")
    return replace(patient, deletion_asked_at_ms=None)


def _those_of(clinic_id: str) -> Select[Any]:
    return select(patients).where(patients.c.clinic_id == clinic_id, patients.c.deleted_at_ms.is_(None))


def _patient(row: Row[tuple[object, ...]]) -> Patient:
    return Patient(
        row.id,
        row.clinic_id,
        row.user_id,
        row.label,
        row.pseudonym,
        row.language,
        row.created_at_ms,
        row.retired_at_ms,
        row.deletion_asked_at_ms,
    )


def _update(connection: Connection, patient: Patient, **values: str | int | None) -> None:
    done = connection.execute(
        update(patients)
        .where(
            patients.c.id == patient.patient_id,
            patients.c.clinic_id == patient.clinic_id,
            patients.c.deleted_at_ms.is_(None),
        )
        .values(**values)
    )
    if done.rowcount != 1:
        raise ClinicError("there is no such patient", do="look at the list of patients")


def _record(connection: Connection, now_ms: int, patient: Patient, actor_id: str | None, action: str) -> None:
    record(
        connection,
        now_ms,
        clinic_id=patient.clinic_id,
        actor_id=actor_id,
        action=action,
        object_kind="patient",
        object_id=patient.patient_id,
    )


def _label(label: str) -> str:
    label = " ".join(label.split())
    if not 1 <= len(label) <= LONGEST_LABEL or not label.isprintable():
        raise ClinicError(f"a patient's name in the list must have 1 to {LONGEST_LABEL} characters, got {len(label)}")
    return label


def _language(language: str) -> str:
    if language not in languages():
        raise ClinicError(f"the language must be one of {', '.join(languages())}, got '{language}'")
    return language
