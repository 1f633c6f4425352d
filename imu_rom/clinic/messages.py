"""What clinicians write to a patient; kept as it was sent, with when it was first read."""

import hashlib
from dataclasses import dataclass

from sqlalchemy import Connection, insert, select, update

from imu_rom.clinic import audit
from imu_rom.clinic.database import new_id
from imu_rom.clinic.schema import messages
from imu_rom.errors import ClinicError

__all__ = ["LARGEST_MESSAGE", "Message", "mark_read", "messages_of", "send_message"]

LARGEST_MESSAGE = 4000


@dataclass(frozen=True)
class Message:
    """One message.

    Parameters
    ----------
    message_id : str
        Its id.
    author_id : str
        User who wrote it.
    text : str
        What it says.
    created_at_ms : int
        When it was sent.
    read_at_ms : int or None
        When the patient first had it on a page; None: not yet.
    """

    message_id: str
    author_id: str
    text: str
    created_at_ms: int
    read_at_ms: int | None


def send_message(
    connection: Connection, now_ms: int, *, clinic_id: str, patient_id: str, author_id: str, text: str
) -> Message:
    """Write to a patient.

    Parameters
    ----------
    connection : Connection
        In a writing transaction.
    now_ms : int
        The time.
    clinic_id, patient_id, author_id : str
        To whom and from whom.
    text : str
        What.

    Returns
    -------
    Message
        As it is kept.

    Raises
    ------
    ClinicError
        It is empty or too long.
    """
    text = text.strip().replace("\r\n", "\n")
    if not text or len(text) > LARGEST_MESSAGE:
        raise ClinicError(f"a message must have 1 to {LARGEST_MESSAGE} letters, got {len(text)}")
    made = Message(new_id(), author_id, text, now_ms, None)
    connection.execute(
        insert(messages).values(
            id=made.message_id, patient_id=patient_id, author_id=author_id, text=text, created_at_ms=now_ms
        )
    )
    audit.record(
        connection,
        now_ms,
        clinic_id=clinic_id,
        actor_id=author_id,
        action="send message",
        object_kind="message",
        object_id=made.message_id,
        content_sha256=hashlib.sha256(text.encode()).hexdigest(),
    )
    return made


def messages_of(connection: Connection, patient_id: str) -> tuple[Message, ...]:
    """Give all messages to a patient.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    patient_id : str
        To whom.

    Returns
    -------
    tuple of Message
        The newest first.
    """
    rows = connection.execute(
        select(messages)
        .where(messages.c.patient_id == patient_id)
        .order_by(messages.c.created_at_ms.desc(), messages.c.id)
    )
    return tuple(Message(row.id, row.author_id, row.text, row.created_at_ms, row.read_at_ms) for row in rows)


def mark_read(connection: Connection, now_ms: int, *, clinic_id: str, patient_id: str, reader_id: str) -> int:
    """Note that a patient has had all messages on a page.

    Parameters
    ----------
    connection : Connection
        In a writing transaction.
    now_ms : int
        The time.
    clinic_id, patient_id, reader_id : str
        Who read them.

    Returns
    -------
    int
        How many were new.
    """
    new = connection.scalars(
        update(messages)
        .where(messages.c.patient_id == patient_id, messages.c.read_at_ms.is_(None))
        .values(read_at_ms=now_ms)
        .returning(messages.c.id)
    ).all()
    for message_id in sorted(new):
        audit.record(
            connection,
            now_ms,
            clinic_id=clinic_id,
            actor_id=reader_id,
            action="read message",
            object_kind="message",
            object_id=message_id,
        )
    return len(new)
