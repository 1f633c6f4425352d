"""Have everything analysed anew by this version of the program; earlier results stay as versions."""

from sqlalchemy import Connection, and_, func, or_, select

from imu_rom import __version__
from imu_rom.clinic import jobs
from imu_rom.clinic.schema import patients, recordings, result_versions

__all__ = ["ask_reanalysis"]


def ask_reanalysis(connection: Connection, now_ms: int, *, everything: bool = False) -> int:
    """Ask for the recordings whose newest result is of another version, and for those that can't be used.

    Parameters
    ----------
    connection : Connection
        In a writing transaction.
    now_ms : int
        The time.
    everything : bool
        Those of this version too.

    Returns
    -------
    int
        How many jobs were added; all others go first.
    """
    newest = (
        select(result_versions.c.recording_id, func.max(result_versions.c.version).label("version"))
        .group_by(result_versions.c.recording_id)
        .subquery()
    )
    same = and_(result_versions.c.recording_id == newest.c.recording_id, result_versions.c.version == newest.c.version)
    outdated = or_(result_versions.c.program_version.is_(None), result_versions.c.program_version != __version__)
    asked = (
        select(recordings.c.id, recordings.c.patient_id)
        .join(patients, patients.c.id == recordings.c.patient_id)
        .outerjoin(newest, newest.c.recording_id == recordings.c.id)
        .outerjoin(result_versions, same)
        .where(recordings.c.state != "withdrawn", patients.c.deleted_at_ms.is_(None))
        .order_by(recordings.c.received_at_ms.desc(), recordings.c.id)
    )
    rows = connection.execute(asked if everything else asked.where(outdated)).all()
    return sum(jobs.add(connection, now_ms, "reanalyse", row.patient_id, row.id) is not None for row in rows)
