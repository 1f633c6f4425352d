"""Plans: versions by the day from which each applies, never overwritten; each is checked as the command line does.

Of two versions that apply to a day the one that was written later counts. So a version takes the place, from its first
day on, of all that were written before it.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from sqlalchemy import Connection, Row, func, insert, or_, select

from imu_rom.clinic import audit, jobs
from imu_rom.clinic.database import new_id
from imu_rom.clinic.plan_changes import checked_plan, with_first_day
from imu_rom.clinic.schema import plan_versions, recordings
from imu_rom.dose.plan import Plan
from imu_rom.errors import ClinicError, PlanError

__all__ = ["PlanVersion", "add_plan", "in_effect", "newest_plan", "plan_version", "plans_of", "version_on"]

LARGEST_REASON = 2000
EARLIEST, LATEST = date(2000, 1, 1), date(2099, 12, 31)


@dataclass(frozen=True)
class PlanVersion:
    """One version of a patient's plan.

    Parameters
    ----------
    plan_version_id : str
        Its id.
    patient_id : str
        Whose.
    version : int
        From 1, in the order in which they were written.
    toml : str
        The plan file's text.
    sha256 : str
        Of that text.
    applies_from : date
        First day; ``from`` in the text says the same.
    author_id : str
        User who wrote it.
    reason : str
        Why, in words.
    created_at_ms : int
        When.
    """

    plan_version_id: str
    patient_id: str
    version: int
    toml: str
    sha256: str
    applies_from: date
    author_id: str
    reason: str
    created_at_ms: int

    @property
    def plan(self) -> Plan:
        """What the text says."""
        return checked_plan(self.toml)


def _read(row: Row) -> PlanVersion:  # type: ignore[type-arg]
    return PlanVersion(
        plan_version_id=row.id,
        patient_id=row.patient_id,
        version=row.version,
        toml=row.toml,
        sha256=row.sha256,
        applies_from=date.fromisoformat(row.applies_from),
        author_id=row.author_id,
        reason=row.reason,
        created_at_ms=row.created_at_ms,
    )


def add_plan(
    connection: Connection,
    now_ms: int,
    *,
    clinic_id: str,
    patient_id: str,
    author_id: str,
    toml: str,
    applies_from: date,
    reason: str,
    based_on: str | None,
) -> PlanVersion:
    """Keep a new version of a plan, and have what it changes worked out anew.

    Parameters
    ----------
    connection : Connection
        In a writing transaction.
    now_ms : int
        The time.
    clinic_id, patient_id, author_id : str
        Whose it is and who wrote it.
    toml : str
        The plan file's text; ``from`` in it becomes ``applies_from``.
    applies_from : date
        First day.
    reason : str
        Why, in words.
    based_on : str or None
        Id of the version that was changed; None for a first one.

    Returns
    -------
    PlanVersion
        As it is kept.

    Raises
    ------
    PlanError
        It is no plan that can be followed, or it is for another person or tendon than the version before.
    ClinicError
        Somebody else changed the plan meanwhile, or the reason or day can't be kept.
    """
    reason = reason.strip()
    if not reason or len(reason) > LARGEST_REASON:
        raise ClinicError(f"the reason must have 1 to {LARGEST_REASON} letters, got {len(reason)}")
    if not EARLIEST <= applies_from <= LATEST:
        raise ClinicError(f"the first day must be from {EARLIEST} to {LATEST}, got {applies_from}")
    before = newest_plan(connection, patient_id)
    if based_on != (None if before is None else before.plan_version_id):
        raise ClinicError(
            "the plan was changed by somebody else meanwhile",
            do="look at the newest version and make your change again",
        )
    text = with_first_day(toml.replace("\r\n", "\n"), applies_from)
    plan = checked_plan(text)
    if before is not None:
        _check_same_course(before.plan, plan)
    made = PlanVersion(
        plan_version_id=new_id(),
        patient_id=patient_id,
        version=1 if before is None else before.version + 1,
        toml=text,
        sha256=hashlib.sha256(text.encode()).hexdigest(),
        applies_from=applies_from,
        author_id=author_id,
        reason=reason,
        created_at_ms=now_ms,
    )
    connection.execute(
        insert(plan_versions).values(
            id=made.plan_version_id,
            patient_id=patient_id,
            version=made.version,
            toml=made.toml,
            sha256=made.sha256,
            applies_from=applies_from.isoformat(),
            author_id=author_id,
            reason=reason,
            created_at_ms=now_ms,
        )
    )
    audit.record(
        connection,
        now_ms,
        clinic_id=clinic_id,
        actor_id=author_id,
        action="write plan",
        object_kind="plan_version",
        object_id=made.plan_version_id,
        content_sha256=made.sha256,
    )
    _ask_anew(connection, now_ms, patient_id, applies_from)
    return made


def _check_same_course(before: Plan, after: Plan) -> None:
    for what in ("patient", "subject", "tendon_site"):
        one, other = getattr(before, what), getattr(after, what)
        if None not in {one, other} and one != other:
            raise PlanError(
                f"all versions of a plan must be for one person and one tendon: {what} was {one!r}, got {other!r}",
                where="plan.toml",
                do="leave it as it was; another tendon needs a patient of its own",
            )


def _ask_anew(connection: Connection, now_ms: int, patient_id: str, applies_from: date) -> None:
    """Have recordings analysed anew to which the version may apply, and the course after them."""
    earliest_ms = int(datetime.combine(applies_from - timedelta(days=1), time(), UTC).timestamp() * 1000)
    touched = select(recordings.c.id).where(
        recordings.c.patient_id == patient_id,
        recordings.c.state.in_(("usable", "unusable")),
        or_(
            func.coalesce(recordings.c.made_at, recordings.c.recorded_at)
            >= (applies_from - timedelta(days=1)).isoformat(),
            recordings.c.received_at_ms >= earliest_ms,
        ),
    )
    for recording_id in connection.scalars(touched).all():
        jobs.add(connection, now_ms, "analyse", patient_id, recording_id)
    jobs.add(connection, now_ms, "course", patient_id)


def newest_plan(connection: Connection, patient_id: str) -> PlanVersion | None:
    """Give the version that was written last.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    patient_id : str
        Whose.

    Returns
    -------
    PlanVersion or None
        None where there is no plan yet.
    """
    newest = select(func.max(plan_versions.c.version)).where(plan_versions.c.patient_id == patient_id)
    row = connection.execute(
        select(plan_versions).where(
            plan_versions.c.patient_id == patient_id, plan_versions.c.version == newest.scalar_subquery()
        )
    ).one_or_none()
    return None if row is None else _read(row)


def plan_version(connection: Connection, patient_id: str, plan_version_id: str) -> PlanVersion | None:
    """Give one version.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    patient_id : str
        Whose it must be.
    plan_version_id : str
        Its id.

    Returns
    -------
    PlanVersion or None
        None where that patient has no such version.
    """
    row = connection.execute(
        select(plan_versions).where(plan_versions.c.id == plan_version_id, plan_versions.c.patient_id == patient_id)
    ).one_or_none()
    return None if row is None else _read(row)


def plans_of(connection: Connection, patient_id: str) -> tuple[PlanVersion, ...]:
    """Give all versions of a plan.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    patient_id : str
        Whose.

    Returns
    -------
    tuple of PlanVersion
        In the order in which they were written.
    """
    rows = connection.execute(
        select(plan_versions).where(plan_versions.c.patient_id == patient_id).order_by(plan_versions.c.version)
    )
    return tuple(map(_read, rows))


def in_effect(versions: Sequence[PlanVersion]) -> tuple[PlanVersion, ...]:
    """Leave out the versions that no day goes by any more.

    Parameters
    ----------
    versions : sequence of PlanVersion
        Of one patient, in any order.

    Returns
    -------
    tuple of PlanVersion
        Each applies from its first day until the next one's, in order of days; no two from the same.
    """
    kept: list[PlanVersion] = []
    for each in sorted(versions, key=lambda each: each.version, reverse=True):
        if not kept or each.applies_from < kept[-1].applies_from:
            kept.append(each)
    return tuple(reversed(kept))


def version_on(versions: Sequence[PlanVersion], day: date) -> PlanVersion | None:
    """Give the version that applies on a day.

    Parameters
    ----------
    versions : sequence of PlanVersion
        Of one patient, in any order.
    day : date
        The patient's day.

    Returns
    -------
    PlanVersion or None
        None before the first version's day.
    """
    begun = [each for each in versions if each.applies_from <= day]
    return max(begun, key=lambda each: each.version, default=None)
