"""Sessions of a patient as clinicians see them: what was sent, what came of it, whether somebody looked."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, func, select

from imu_rom.clinic.schema import recordings, result_files, result_versions, reviews
from imu_rom.errors import ClinicError

__all__ = ["MadeResult", "Session", "results_of", "session", "sessions_of"]


@dataclass(frozen=True)
class Session:
    """One session that was sent.

    Parameters
    ----------
    recording_id, patient_id : str
        Its id, and whose it is.
    side : str
        Leg, as the patient said.
    exercise : str
        As the patient said.
    recorded_at : str or None
        When it was made (RFC 3339), where that is known.
    received_at_ms : int
        When it came in.
    state : {"waiting", "usable", "unusable", "withdrawn"}
        What came of it.
    reason : str or None
        Why it can't be used.
    results : int
        How many results are kept.
    reviewed : bool
        Whether a clinician looked at it.
    """

    recording_id: str
    patient_id: str
    side: str
    exercise: str
    recorded_at: str | None
    received_at_ms: int
    state: str
    reason: str | None
    results: int
    reviewed: bool


@dataclass(frozen=True)
class MadeResult:
    """One result of a session; earlier ones stay.

    Parameters
    ----------
    result_version_id : str
        Its id.
    version : int
        From 1; the highest counts.
    program_version : str
        Of the program that made it.
    plan_version_id : str
        By which version of the plan.
    mark_version_id : str or None
        With which marks.
    created_at_ms : int
        When.
    files : dict of str to str
        SHA-256 of each of its files, by name.
    """

    result_version_id: str
    version: int
    program_version: str
    plan_version_id: str
    mark_version_id: str | None
    created_at_ms: int
    files: dict[str, str]


_RESULTS = (
    select(func.count())
    .select_from(result_versions)
    .where(result_versions.c.recording_id == recordings.c.id)
    .scalar_subquery()
)
_REVIEWED = select(reviews.c.id).where(reviews.c.recording_id == recordings.c.id).exists()
_SESSION = select(
    recordings.c.id,
    recordings.c.patient_id,
    recordings.c.side,
    recordings.c.exercise,
    recordings.c.recorded_at,
    recordings.c.received_at_ms,
    recordings.c.state,
    recordings.c.reason,
    _RESULTS.label("results"),
    _REVIEWED.label("reviewed"),
)


def sessions_of(connection: Connection, patient_id: str, *, most: int | None = None) -> tuple[Session, ...]:
    """List what a patient sent.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    patient_id : str
        Whose.
    most : int, optional
        How many at most; None: all.

    Returns
    -------
    tuple of Session
        What came in last first, withdrawn ones included.
    """
    asked = _SESSION.where(recordings.c.patient_id == patient_id).order_by(
        recordings.c.received_at_ms.desc(), recordings.c.id
    )
    return tuple(Session(*row) for row in connection.execute(asked if most is None else asked.limit(most)))


def session(connection: Connection, recording_id: str) -> Session:
    """Give one session.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    recording_id : str
        Its id.

    Returns
    -------
    Session
        As it stands.

    Raises
    ------
    ClinicError
        There is none.
    """
    row = connection.execute(_SESSION.where(recordings.c.id == recording_id)).one_or_none()
    if row is None:
        raise ClinicError("there is no such session", do="look at the patient's page")
    return Session(*row)


def results_of(connection: Connection, recording_id: str) -> tuple[MadeResult, ...]:
    """Give all results of a session.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    recording_id : str
        Of which.

    Returns
    -------
    tuple of MadeResult
        The newest first.
    """
    rows = connection.execute(
        select(result_versions)
        .where(result_versions.c.recording_id == recording_id)
        .order_by(result_versions.c.version.desc())
    ).all()
    files = _files(connection, [row.id for row in rows])
    return tuple(
        MadeResult(
            row.id,
            row.version,
            row.program_version,
            row.plan_version_id,
            row.mark_version_id,
            row.created_at_ms,
            files.get(row.id, {}),
        )
        for row in rows
    )


def _files(connection: Connection, ids: Iterable[str]) -> dict[str, dict[str, str]]:
    columns: Any = (result_files.c.result_version_id, result_files.c.name, result_files.c.sha256)
    found: dict[str, dict[str, str]] = {}
    for made_id, name, sha256 in connection.execute(
        select(*columns).where(result_files.c.result_version_id.in_(list(ids)))
    ):
        found.setdefault(made_id, {})[name] = sha256
    return found
