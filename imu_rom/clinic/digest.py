"""A clinic's week: what came in of each patient, what was looked at and decided, and what still wants a look."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, select

from imu_rom.clinic.attention import PatientLine, patient_lines
from imu_rom.clinic.schema import clinics, decisions, diary_versions, messages, plan_versions, recordings, reviews

__all__ = ["DigestLine", "WeekDigest", "week_digest", "week_of"]


@dataclass(frozen=True)
class DigestLine:
    """One patient's week.

    Parameters
    ----------
    now : PatientLine
        As the list of patients has it now.
    usable, unusable, waiting : int
        Sessions that came in during the week, by what came of them.
    diary_days : int
        Days of the week of which the diary says something.
    reviews, decisions, plans, messages : int
        Looks, decisions, versions of the plan and messages of the week.
    """

    now: PatientLine
    usable: int
    unusable: int
    waiting: int
    diary_days: int
    reviews: int
    decisions: int
    plans: int
    messages: int

    @property
    def is_quiet(self) -> bool:
        """True where nothing came in and nothing was done."""
        done = self.reviews + self.decisions + self.plans + self.messages
        return self.usable + self.unusable + self.waiting + self.diary_days + done == 0


@dataclass(frozen=True)
class WeekDigest:
    """A clinic's week.

    Parameters
    ----------
    first, last : date
        Monday and Sunday.
    lines : tuple of DigestLine
        Every patient, in the order of the list.
    """

    first: date
    last: date
    lines: tuple[DigestLine, ...]


def week_of(day: date) -> date:
    """Give the first day of a week.

    Parameters
    ----------
    day : date
        Any of its days.

    Returns
    -------
    date
        Its Monday.
    """
    return day - timedelta(days=day.weekday())


def week_digest(connection: Connection, clinic_id: str, now_ms: int, monday: date) -> WeekDigest:
    """Sum up a clinic's week.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    clinic_id : str
        Whose.
    now_ms : int
        The time.
    monday : date
        First day of the week.

    Returns
    -------
    WeekDigest
        Of the patients that are not put aside.
    """
    zone = ZoneInfo(connection.scalar(select(clinics.c.time_zone).where(clinics.c.id == clinic_id)) or "UTC")
    from_ms, to_ms = (
        int(datetime.combine(each, time(), zone).timestamp() * 1000) for each in (monday, monday + timedelta(days=7))
    )
    lines = patient_lines(connection, clinic_id, now_ms)
    ids = [each.patient_id for each in lines]

    def counted(patient: Any, moment: Any) -> Counter[str]:  # noqa: ANN401 - columns of any table
        rows = connection.scalars(select(patient).where(patient.in_(ids), moment >= from_ms, moment < to_ms))
        return Counter(rows)

    sessions = Counter(
        (row.patient_id, row.state)
        for row in connection.execute(
            select(recordings.c.patient_id, recordings.c.state).where(
                recordings.c.patient_id.in_(ids),
                recordings.c.received_at_ms >= from_ms,
                recordings.c.received_at_ms < to_ms,
            )
        )
    )
    diary_days = Counter(
        row.patient_id
        for row in connection.execute(
            select(diary_versions.c.patient_id, diary_versions.c.day)
            .where(
                diary_versions.c.patient_id.in_(ids),
                diary_versions.c.day.in_(list(_days(monday))),
            )
            .distinct()
        )
    )
    looked = counted(reviews.c.patient_id, reviews.c.created_at_ms)
    decided = counted(decisions.c.patient_id, decisions.c.created_at_ms)
    planned = counted(plan_versions.c.patient_id, plan_versions.c.created_at_ms)
    written = counted(messages.c.patient_id, messages.c.created_at_ms)
    return WeekDigest(
        monday,
        monday + timedelta(days=6),
        tuple(
            DigestLine(
                each,
                sessions[each.patient_id, "usable"],
                sessions[each.patient_id, "unusable"],
                sessions[each.patient_id, "waiting"],
                diary_days[each.patient_id],
                looked[each.patient_id],
                decided[each.patient_id],
                planned[each.patient_id],
                written[each.patient_id],
            )
            for each in lines
        ),
    )


def _days(monday: date) -> Iterable[str]:
    return ((monday + timedelta(days=i)).isoformat() for i in range(7))
