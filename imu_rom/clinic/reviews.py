"""What clinicians have looked at: sessions, and the reasons that were shown of a course, by their keys."""

import json
from collections.abc import Iterable
from dataclasses import dataclass

from sqlalchemy import Connection, insert, select

from imu_rom.clinic import audit
from imu_rom.clinic.database import new_id
from imu_rom.clinic.schema import recordings, reviews

__all__ = ["Review", "review", "reviewed_recordings", "reviews_of", "seen_reasons", "unread_recordings"]


@dataclass(frozen=True)
class Review:
    """One look.

    Parameters
    ----------
    review_id : str
        Its id.
    recording_id : str or None
        The session that was looked at; None: the course.
    author_id : str
        Who looked.
    seen : tuple of str
        Keys of the reasons that were shown.
    created_at_ms : int
        When.
    """

    review_id: str
    recording_id: str | None
    author_id: str
    seen: tuple[str, ...]
    created_at_ms: int


def review(
    connection: Connection,
    now_ms: int,
    *,
    clinic_id: str,
    patient_id: str,
    author_id: str,
    seen: Iterable[str] = (),
    recording_ids: Iterable[str] = (),
) -> tuple[Review, ...]:
    """Keep that somebody looked: at the course with its reasons, and at sessions.

    Parameters
    ----------
    connection : Connection
        In a writing transaction.
    now_ms : int
        The time.
    clinic_id, patient_id, author_id : str
        At whom, and who looked.
    seen : iterable of str
        Keys of the reasons that were shown; without any the course itself was not looked at.
    recording_ids : iterable of str
        Sessions; those that are not the patient's, or are withdrawn, are left out.

    Returns
    -------
    tuple of Review
        As they are kept.
    """
    asked = sorted(set(recording_ids))
    own = connection.scalars(
        select(recordings.c.id).where(
            recordings.c.patient_id == patient_id, recordings.c.id.in_(asked), recordings.c.withdrawn_at_ms.is_(None)
        )
    ).all()
    keys = tuple(sorted(set(seen)))
    made = [Review(new_id(), None, author_id, keys, now_ms)] if keys else []
    made += [Review(new_id(), each, author_id, (), now_ms) for each in sorted(own)]
    for each in made:
        connection.execute(
            insert(reviews).values(
                id=each.review_id,
                patient_id=patient_id,
                recording_id=each.recording_id,
                seen_json=json.dumps(each.seen, ensure_ascii=False),
                author_id=author_id,
                created_at_ms=now_ms,
            )
        )
        audit.record(
            connection,
            now_ms,
            clinic_id=clinic_id,
            actor_id=author_id,
            action="review",
            object_kind="patient" if each.recording_id is None else "recording",
            object_id=each.recording_id or patient_id,
        )
    return tuple(made)


def reviews_of(connection: Connection, patient_ids: Iterable[str]) -> dict[str, tuple[Review, ...]]:
    """Give all looks at some patients.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    patient_ids : iterable of str
        Whose.

    Returns
    -------
    dict of str to tuple of Review
        By patient, the oldest first; no key for one that nobody looked at.
    """
    rows = connection.execute(
        select(reviews)
        .where(reviews.c.patient_id.in_(sorted(set(patient_ids))))
        .order_by(reviews.c.created_at_ms, reviews.c.id)
    )
    found: dict[str, list[Review]] = {}
    for row in rows:
        one = Review(row.id, row.recording_id, row.author_id, tuple(json.loads(row.seen_json)), row.created_at_ms)
        found.setdefault(row.patient_id, []).append(one)
    return {patient_id: tuple(each) for patient_id, each in found.items()}


def seen_reasons(connection: Connection, patient_ids: Iterable[str]) -> dict[str, frozenset[str]]:
    """Give the reasons of some patients that somebody has looked at.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    patient_ids : iterable of str
        Whose.

    Returns
    -------
    dict of str to frozenset of str
        Keys of reasons by patient; no key for one whose reasons nobody looked at.
    """
    rows = connection.execute(
        select(reviews.c.patient_id, reviews.c.seen_json).where(
            reviews.c.patient_id.in_(sorted(set(patient_ids))), reviews.c.recording_id.is_(None)
        )
    )
    found: dict[str, set[str]] = {}
    for row in rows:
        found.setdefault(row.patient_id, set()).update(json.loads(row.seen_json))
    return {patient_id: frozenset(each) for patient_id, each in found.items()}


def unread_recordings(connection: Connection, patient_ids: Iterable[str]) -> dict[str, tuple[tuple[str, int], ...]]:
    """Give the sessions that came to an answer and that nobody has looked at.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    patient_ids : iterable of str
        Whose.

    Returns
    -------
    dict of str to tuple of (str, int)
        By patient (recording's id, when it came in), the oldest first; no key where there are none.
    """
    looked_at = select(reviews.c.id).where(reviews.c.recording_id == recordings.c.id).exists()
    rows = connection.execute(
        select(recordings.c.patient_id, recordings.c.id, recordings.c.received_at_ms)
        .where(
            recordings.c.patient_id.in_(sorted(set(patient_ids))),
            recordings.c.state.in_(("usable", "unusable")),
            ~looked_at,
        )
        .order_by(recordings.c.received_at_ms, recordings.c.id)
    )
    found: dict[str, list[tuple[str, int]]] = {}
    for row in rows:
        found.setdefault(row.patient_id, []).append((row.id, row.received_at_ms))
    return {patient_id: tuple(each) for patient_id, each in found.items()}


def reviewed_recordings(connection: Connection, patient_id: str) -> frozenset[str]:
    """Give the sessions of a patient that somebody has looked at.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    patient_id : str
        Whose.

    Returns
    -------
    frozenset of str
        Ids of recordings.
    """
    found = select(reviews.c.recording_id).where(
        reviews.c.patient_id == patient_id, reviews.c.recording_id.is_not(None)
    )
    return frozenset(str(each) for each in connection.scalars(found))
