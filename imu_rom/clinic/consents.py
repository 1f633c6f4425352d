"""What a patient agreed to: the text's version and hash, when it was given and when it was taken back."""

import hashlib
from dataclasses import dataclass

from sqlalchemy import Connection, insert, select, update

from imu_rom.clinic.audit import record
from imu_rom.clinic.database import new_id
from imu_rom.clinic.patients import Patient
from imu_rom.clinic.schema import consents
from imu_rom.wording.language import speech
from imu_rom.wording.patient_consent import CONSENT_VERSION, consent_text

__all__ = ["Consent", "give_consent", "list_consents", "standing_consent", "withdraw_consent"]


@dataclass(frozen=True)
class Consent:
    """One consent.

    Parameters
    ----------
    consent_id : str
        Its id.
    text_version, text_sha256, language : str
        What was read.
    given_at_ms : int
        When it was given.
    withdrawn_at_ms : int or None
        When it was taken back; None while it stands.
    """

    consent_id: str
    text_version: str
    text_sha256: str
    language: str
    given_at_ms: int
    withdrawn_at_ms: int | None


def list_consents(connection: Connection, patient_id: str) -> tuple[Consent, ...]:
    """List a patient's consents.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    patient_id : str
        Whose.

    Returns
    -------
    tuple of Consent
        The newest first.
    """
    rows = connection.execute(
        select(consents)
        .where(consents.c.patient_id == patient_id)
        .order_by(consents.c.given_at_ms.desc(), consents.c.id)
    )
    return tuple(
        Consent(each.id, each.text_version, each.text_sha256, each.language, each.given_at_ms, each.withdrawn_at_ms)
        for each in rows
    )


def standing_consent(connection: Connection, patient_id: str) -> Consent | None:
    """Give the consent that stands.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    patient_id : str
        Whose.

    Returns
    -------
    Consent or None
        None where none was given to today's version of the text, or it was taken back.
    """
    return next(
        (
            each
            for each in list_consents(connection, patient_id)
            if each.withdrawn_at_ms is None and each.text_version == CONSENT_VERSION
        ),
        None,
    )


def give_consent(connection: Connection, now_ms: int, patient: Patient, actor_id: str) -> Consent:
    """Keep that a patient agreed; where a consent to the same text stands already, it is that one.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    patient : Patient
        Who agreed, and in which language they read it.
    actor_id : str
        The user who is there.

    Returns
    -------
    Consent
        That stands from now on.
    """
    standing = standing_consent(connection, patient.patient_id)
    if standing is not None:
        return standing
    text = consent_text(speech(patient.language)).as_text()
    given = Consent(
        new_id(), CONSENT_VERSION, hashlib.sha256(text.encode()).hexdigest(), patient.language, now_ms, None
    )
    connection.execute(
        insert(consents).values(
            id=given.consent_id,
            patient_id=patient.patient_id,
            text_version=given.text_version,
            text_sha256=given.text_sha256,
            language=given.language,
            given_at_ms=now_ms,
        )
    )
    record(
        connection,
        now_ms,
        clinic_id=patient.clinic_id,
        actor_id=actor_id,
        action="give consent",
        object_kind="consent",
        object_id=given.consent_id,
        content_sha256=given.text_sha256,
    )
    return given


def withdraw_consent(connection: Connection, now_ms: int, patient: Patient, actor_id: str) -> None:
    """Keep that a patient took the consent back; nothing more is taken in from then on.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    patient : Patient
        Who took it back.
    actor_id : str
        The user who is there.
    """
    for each in list_consents(connection, patient.patient_id):
        if each.withdrawn_at_ms is not None:
            continue
        connection.execute(update(consents).where(consents.c.id == each.consent_id).values(withdrawn_at_ms=now_ms))
        record(
            connection,
            now_ms,
            clinic_id=patient.clinic_id,
            actor_id=actor_id,
            action="withdraw consent",
            object_kind="consent",
            object_id=each.consent_id,
        )
