"""Reports of recent sessions within their course: pain of that day, and what changed since the last review.

A session's own report is made once with its result, often before the patient has said how it felt. So each time a
course is worked out, the reports of its newest sessions are made anew where it says something else than before.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, delete, exists, insert, select

from imu_rom.clinic.schema import recordings, result_versions, session_pages
from imu_rom.clinic.stored_files import StoredFile

__all__ = ["RECENT_SESSIONS", "SessionPage", "keep_session_pages", "made_from_of", "recent_sessions", "session_page_of"]

RECENT_SESSIONS = 3
"""How many sessions back a line of the diary still comes into a session's report."""


@dataclass(frozen=True)
class SessionPage:
    """A report within its course.

    Parameters
    ----------
    made_from_sha256 : str
        Fingerprint of the result and of what the course says of it.
    file : StoredFile
        The page without its plotting script (`imu_rom.clinic.kept_pages.whole_page`).
    """

    made_from_sha256: str
    file: StoredFile


def recent_sessions(connection: Connection, patient_id: str) -> tuple[str, ...]:
    """Name a patient's newest sessions, whose reports still take in what the diary says later.

    Parameters
    ----------
    connection : Connection
        Any.
    patient_id : str
        Whose.

    Returns
    -------
    tuple of str
        Recordings that can be used, the newest last; at most `RECENT_SESSIONS`.
    """
    made = connection.execute(
        select(recordings.c.id, recordings.c.made_at).where(
            recordings.c.patient_id == patient_id,
            recordings.c.state == "usable",
            recordings.c.made_at.is_not(None),
            exists().where(result_versions.c.recording_id == recordings.c.id),
        )
    )
    moments = [(datetime.fromisoformat(each.made_at), each.id) for each in made]
    return tuple(each for _, each in sorted(moments)[-RECENT_SESSIONS:])


def made_from_of(connection: Connection, result_ids: list[str]) -> dict[str, str]:
    """Say what the reports that are kept were made from.

    Parameters
    ----------
    connection : Connection
        Any.
    result_ids : list of str
        Which results.

    Returns
    -------
    dict of str to str
        Fingerprints by result; those that have no such report are left out.
    """
    asked = select(session_pages).where(session_pages.c.result_version_id.in_(result_ids))
    return {row.result_version_id: row.made_from_sha256 for row in connection.execute(asked)}


def keep_session_pages(connection: Connection, pages: Mapping[str, SessionPage]) -> None:
    """Keep reports in the place of those before; a result that went meanwhile gets none.

    Parameters
    ----------
    connection : Connection
        In a writing transaction.
    pages : mapping of str to SessionPage
        By result.
    """
    there = set(connection.scalars(select(result_versions.c.id).where(result_versions.c.id.in_(list(pages)))))
    connection.execute(delete(session_pages).where(session_pages.c.result_version_id.in_(list(pages))))
    for result_id, page in pages.items():
        if result_id in there:
            connection.execute(
                insert(session_pages).values(
                    result_version_id=result_id,
                    made_from_sha256=page.made_from_sha256,
                    sha256=page.file.sha256,
                    size=page.file.size,
                )
            )


def session_page_of(connection: Connection, result_id: str) -> str | None:
    """Look up a result's report within its course.

    Parameters
    ----------
    connection : Connection
        Any.
    result_id : str
        Which.

    Returns
    -------
    str or None
        SHA-256 of the stored page; None where there is none yet, so that the result's own report is what there is.
    """
    return connection.scalar(select(session_pages.c.sha256).where(session_pages.c.result_version_id == result_id))
