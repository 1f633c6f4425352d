"""What is to be worked on outside of requests, in the database, so that any number of workers on any machine share it.

A worker claims a job for a short time, its lease, and renews it while it works. One that is killed leaves a lease that
runs out, and the job is claimed again. What a worker made counts only with the lease in its hands: `finish` and `fail`
refuse one that lost it. Leases go by each machine's clock; where it was set back, a lease that ends later than anybody
can have meant is taken as ended.
"""

import secrets
from dataclasses import dataclass
from typing import Literal

from sqlalchemy import Connection, and_, case, func, insert, not_, or_, select, update

from imu_rom.clinic.database import new_id
from imu_rom.clinic.schema import consents, jobs
from imu_rom.errors import ClinicError

__all__ = [
    "LEASE_MS",
    "Job",
    "JobKind",
    "LostLeaseError",
    "add",
    "claim",
    "fail",
    "finish",
    "jobs_of",
    "put_back",
    "renew",
    "waiting",
]

LEASE_MS = 30_000
"""Longer than a worker goes without renewing, short enough that a killed one's job waits little (common practice)."""
FIRST_PAUSE_MS, LONGEST_PAUSE_MS = 5_000, 600_000
MOST_LOST = 10
"""So often may workers vanish in the middle of a job before it is taken as the reason."""

JobKind = Literal["analyse", "course", "reanalyse"]


class LostLeaseError(ClinicError):
    """Another worker has the job by now, so what this one made is dropped."""


@dataclass(frozen=True)
class Job:
    """A job in a worker's hands, or one to be looked at.

    Parameters
    ----------
    job_id : str
        Its id.
    kind : {"analyse", "course", "reanalyse"}
        What is to be done; ``reanalyse`` is the same as ``analyse`` and lets all others go first.
    patient_id : str
        Whose.
    recording_id : str or None
        What is to be analysed.
    state : {"waiting", "running", "done", "given_up"}
        Where it stands.
    attempts : int
        How often it was claimed.
    lease_owner : str or None
        What only the worker knows that has it.
    why : str or None
        Why the last attempt failed.
    """

    job_id: str
    kind: JobKind
    patient_id: str
    recording_id: str | None
    state: str
    attempts: int
    lease_owner: str | None
    why: str | None


_COLUMNS = (
    jobs.c.id,
    jobs.c.kind,
    jobs.c.patient_id,
    jobs.c.recording_id,
    jobs.c.state,
    jobs.c.attempts,
    jobs.c.lease_owner,
    jobs.c.why,
)


def add(
    connection: Connection, now_ms: int, kind: JobKind, patient_id: str, recording_id: str | None = None
) -> str | None:
    """Add a job, unless one of the same kind about the same thing is waiting.

    Parameters
    ----------
    connection : Connection
        In a writing transaction.
    now_ms : int
        The time.
    kind : {"analyse", "course", "reanalyse"}
        What is to be done.
    patient_id : str
        Whose.
    recording_id : str, optional
        What is to be analysed.

    Returns
    -------
    str or None
        The job's id; None where one is waiting already, which will see all that this one would have seen.
    """
    same = (
        jobs.c.kind == kind,
        jobs.c.patient_id == patient_id,
        jobs.c.recording_id.is_not_distinct_from(recording_id),
    )
    if connection.scalar(select(jobs.c.id).where(jobs.c.state == "waiting", *same).limit(1)) is not None:
        return None
    job_id = new_id()
    connection.execute(
        insert(jobs).values(
            id=job_id,
            kind=kind,
            patient_id=patient_id,
            recording_id=recording_id,
            state="waiting",
            attempts=0,
            run_after_ms=now_ms,
            created_at_ms=now_ms,
        )
    )
    return job_id


def claim(connection: Connection, now_ms: int) -> Job | None:
    """Claim the job that is next: one that waits, or one whose worker vanished.

    After a patient took the consent back, no recording is analysed, for the first time or anew: such jobs wait until
    there is a consent again, or go with the patient's data. A course is still summed up, so that what is taken back
    counts no more.

    Parameters
    ----------
    connection : Connection
        In a writing transaction; it needs not be alone.
    now_ms : int
        The time.

    Returns
    -------
    Job or None
        Running, with its lease; None where there is nothing to do.
    """
    due = or_(jobs.c.run_after_ms <= now_ms, jobs.c.run_after_ms > now_ms + LONGEST_PAUSE_MS)
    ended = or_(jobs.c.lease_until_ms <= now_ms, jobs.c.lease_until_ms > now_ms + 2 * LEASE_MS)
    given = select(consents.c.id).where(consents.c.patient_id == jobs.c.patient_id)
    taken_back = and_(given.exists(), ~given.where(consents.c.withdrawn_at_ms.is_(None)).exists())
    allowed = or_(jobs.c.kind == "course", not_(taken_back))
    following = (
        select(jobs.c.id)
        .where(or_(and_(jobs.c.state == "waiting", due), and_(jobs.c.state == "running", ended)), allowed)
        .order_by(case((jobs.c.kind == "reanalyse", 1), else_=0), jobs.c.run_after_ms, jobs.c.created_at_ms, jobs.c.id)
        .limit(1)
        # SQLite drops this without a word; there one writer at a time is let in
        .with_for_update(skip_locked=True)
        .scalar_subquery()
    )
    row = connection.execute(
        update(jobs)
        .where(jobs.c.id == following)
        .values(
            state="running",
            attempts=jobs.c.attempts + 1,
            lease_owner=secrets.token_hex(16),
            lease_until_ms=now_ms + LEASE_MS,
            # a job that ends its workers must not keep all others waiting
            run_after_ms=now_ms,
        )
        .returning(*_COLUMNS)
    ).first()
    return None if row is None else Job(*row)


def renew(connection: Connection, now_ms: int, job: Job) -> None:
    """Keep a job for another while.

    Parameters
    ----------
    connection : Connection
        In a writing transaction; it needs not be alone.
    now_ms : int
        The time.
    job : Job
        As it was claimed.

    Raises
    ------
    LostLeaseError
        Another worker has it.
    """
    _change(connection, job, lease_until_ms=now_ms + LEASE_MS)


def finish(connection: Connection, now_ms: int, job: Job) -> None:
    """Say that a job is done, in the transaction that keeps what came of it.

    Parameters
    ----------
    connection : Connection
        In a writing transaction, rolled back where this raises.
    now_ms : int
        The time.
    job : Job
        As it was claimed.

    Raises
    ------
    LostLeaseError
        Another worker has it.
    """
    _change(connection, job, state="done", finished_at_ms=now_ms, why=None, **_NO_LEASE)


def fail(connection: Connection, now_ms: int, job: Job, why: str, *, most_attempts: int) -> bool:
    """Say that a job failed: it is tried again after a while, or given up.

    Parameters
    ----------
    connection : Connection
        In a writing transaction.
    now_ms : int
        The time.
    job : Job
        As it was claimed.
    why : str
        A sentence, without anything that people wrote.
    most_attempts : int
        So many are made.

    Returns
    -------
    bool
        True where it was given up.

    Raises
    ------
    LostLeaseError
        Another worker has it.
    """
    if job.attempts >= most_attempts:
        _change(connection, job, state="given_up", finished_at_ms=now_ms, why=why, **_NO_LEASE)
        return True
    pause_ms = min(LONGEST_PAUSE_MS, FIRST_PAUSE_MS * 4 ** (job.attempts - 1))
    _change(connection, job, state="waiting", run_after_ms=now_ms + pause_ms, why=why, **_NO_LEASE)
    return False


def put_back(connection: Connection, now_ms: int, job: Job, *, pause_ms: int = 0) -> None:
    """Give a job back that could not be worked on through no fault of its own; the attempt doesn't count.

    Parameters
    ----------
    connection : Connection
        In a writing transaction.
    now_ms : int
        The time.
    job : Job
        As it was claimed.
    pause_ms : int
        It is left alone for so long.

    Raises
    ------
    LostLeaseError
        Another worker has it.
    """
    before = max(0, job.attempts - 1)
    _change(connection, job, state="waiting", attempts=before, run_after_ms=now_ms + pause_ms, **_NO_LEASE)


_NO_LEASE: dict[str, None] = {"lease_owner": None, "lease_until_ms": None}


def _change(connection: Connection, job: Job, **values: object) -> None:
    mine = and_(jobs.c.id == job.job_id, jobs.c.state == "running", jobs.c.lease_owner == job.lease_owner)
    if connection.execute(update(jobs).where(mine).values(**values)).rowcount != 1:
        raise LostLeaseError("another worker has taken this job over", where=job.job_id)


def waiting(connection: Connection) -> int:
    """Count the jobs that are not done yet.

    Parameters
    ----------
    connection : Connection
        Any.

    Returns
    -------
    int
        Those that run included.
    """
    count = select(func.count()).select_from(jobs).where(jobs.c.state.in_(("waiting", "running")))
    return connection.scalar(count) or 0


def jobs_of(connection: Connection, patient_id: str, recording_id: str | None = None) -> tuple[Job, ...]:
    """List a patient's jobs, or those of one recording.

    Parameters
    ----------
    connection : Connection
        Any.
    patient_id : str
        Whose.
    recording_id : str, optional
        Only those about it.

    Returns
    -------
    tuple of Job
        The newest last.
    """
    asked = select(*_COLUMNS).where(jobs.c.patient_id == patient_id).order_by(jobs.c.created_at_ms, jobs.c.id)
    if recording_id is not None:
        asked = asked.where(jobs.c.recording_id == recording_id)
    return tuple(Job(*row) for row in connection.execute(asked))
