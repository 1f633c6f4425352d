"""What analyses answered: versions of each recording's result, each whole, never overwritten; the newest counts."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import Connection, func, insert, select

from imu_rom.clinic.database import new_id
from imu_rom.clinic.schema import recordings, result_files, result_versions
from imu_rom.clinic.stored_files import StoredFile

__all__ = ["KeptResult", "add_result", "newest_result", "newest_results", "results_of"]


@dataclass(frozen=True)
class KeptResult:
    """One version of a recording's result.

    Parameters
    ----------
    result_id : str
        Its id.
    recording_id : str
        Of which recording.
    version : int
        From 1.
    program_version : str
        Of imu-rom.
    plan_version_id : str
        By which plan.
    mark_version_id : str or None
        With which marks.
    created_at_ms : int
        When it was kept.
    files : dict of str to StoredFile
        By name: ``result.json``, ``angle.csv``, ``repetitions.csv``, ``sets.csv``, and ``report.html`` without its
        plotting script (`imu_rom.clinic.kept_pages.whole_page`).
    """

    result_id: str
    recording_id: str
    version: int
    program_version: str
    plan_version_id: str
    mark_version_id: str | None
    created_at_ms: int
    files: dict[str, StoredFile]


def add_result(
    connection: Connection,
    now_ms: int,
    recording_id: str,
    *,
    program_version: str,
    plan_version_id: str,
    mark_version_id: str | None,
    files: Mapping[str, StoredFile],
) -> KeptResult:
    """Keep a new version.

    Parameters
    ----------
    connection : Connection
        In a writing transaction.
    now_ms : int
        The time.
    recording_id : str
        Of which recording.
    program_version : str
        Of imu-rom.
    plan_version_id : str
        By which plan.
    mark_version_id : str or None
        With which marks.
    files : mapping of str to StoredFile
        By name; kept already.

    Returns
    -------
    KeptResult
        As it is kept.
    """
    newest = select(func.max(result_versions.c.version)).where(result_versions.c.recording_id == recording_id)
    version = (connection.scalar(newest) or 0) + 1
    result_id = new_id()
    connection.execute(
        insert(result_versions).values(
            id=result_id,
            recording_id=recording_id,
            version=version,
            program_version=program_version,
            plan_version_id=plan_version_id,
            mark_version_id=mark_version_id,
            created_at_ms=now_ms,
        )
    )
    rows = [
        {"result_version_id": result_id, "name": name, "sha256": each.sha256, "size": each.size}
        for name, each in files.items()
    ]
    connection.execute(insert(result_files), rows)
    return KeptResult(
        result_id, recording_id, version, program_version, plan_version_id, mark_version_id, now_ms, dict(files)
    )


def newest_result(connection: Connection, recording_id: str) -> KeptResult | None:
    """Give the result that counts.

    Parameters
    ----------
    connection : Connection
        Any.
    recording_id : str
        Of which recording.

    Returns
    -------
    KeptResult or None
        None where there is none yet.
    """
    found = results_of(connection, recording_id)
    return found[-1] if found else None


def results_of(connection: Connection, recording_id: str) -> tuple[KeptResult, ...]:
    """Give all versions of a recording's result.

    Parameters
    ----------
    connection : Connection
        Any.
    recording_id : str
        Of which recording.

    Returns
    -------
    tuple of KeptResult
        The newest last.
    """
    return _results(connection, [recording_id])


def newest_results(connection: Connection, patient_id: str) -> dict[str, KeptResult]:
    """Give the results that count of a patient's recordings.

    Parameters
    ----------
    connection : Connection
        Any.
    patient_id : str
        Whose.

    Returns
    -------
    dict of str to KeptResult
        By recording; withdrawn ones are left out.
    """
    asked = select(recordings.c.id).where(recordings.c.patient_id == patient_id, recordings.c.state != "withdrawn")
    ids = list(connection.scalars(asked))
    return {each.recording_id: each for each in _results(connection, ids)}


def _results(connection: Connection, recording_ids: Sequence[str]) -> tuple[KeptResult, ...]:
    of_these = result_versions.c.recording_id.in_(recording_ids)
    files: dict[str, dict[str, StoredFile]] = {}
    for row in connection.execute(
        select(result_files)
        .join(result_versions, result_versions.c.id == result_files.c.result_version_id)
        .where(of_these)
    ):
        files.setdefault(row.result_version_id, {})[row.name] = StoredFile(row.sha256, row.size)
    rows = connection.execute(
        select(result_versions).where(of_these).order_by(result_versions.c.recording_id, result_versions.c.version)
    )
    return tuple(
        KeptResult(
            row.id,
            row.recording_id,
            row.version,
            row.program_version,
            row.plan_version_id,
            row.mark_version_id,
            row.created_at_ms,
            files.get(row.id, {}),
        )
        for row in rows
    )
