"""Which day of the person's calendar a moment belongs to: time zones, daylight saving, sessions after midnight."""

from datetime import date, datetime, time, timedelta, timezone
from zoneinfo import ZoneInfo

from imu_rom.dose.plan import Plan

__all__ = ["LONGEST_BREAK_S", "day_of", "day_of_note", "local_time"]

LONGEST_BREAK_S = 3600.0
"""Recordings of one day are one session where each begins within this time of the end of the one before (common
practice, no source)."""


def local_time(moment: datetime, plan: Plan) -> datetime:
    """Give a moment in the person's own time.

    Parameters
    ----------
    moment : datetime
        With its offset from UTC.
    plan : Plan
        The plan, which may name the zone in which the person lives.

    Returns
    -------
    datetime
        In that zone, by its rules of that day; else with the offset that it came with. Its offset is fixed, so that
        differences and order are those of instants also in the night when clocks change.
    """
    if plan.time_zone is None:
        return moment
    local = moment.astimezone(ZoneInfo(plan.time_zone))
    return moment.astimezone(timezone(local.utcoffset() or timedelta(0)))


def day_of(moment: datetime, plan: Plan) -> date:
    """Tell which day a moment belongs to.

    Parameters
    ----------
    moment : datetime
        With its offset from UTC.
    plan : Plan
        Says in which zone the person lives and when the day starts.

    Returns
    -------
    date
        The evening before, where the moment lies after midnight and before the day starts.
    """
    local = local_time(moment, plan)
    return day_of_note(local.date(), local.time(), plan)


def day_of_note(day: date, at: time | None, plan: Plan) -> date:
    """Tell which day a note of date and time belongs to, as a person writes them by the clock on the wall.

    Parameters
    ----------
    day : date
        Date as noted.
    at : time or None
        Time as noted; None: the date is the day.
    plan : Plan
        Says when the day starts.

    Returns
    -------
    date
        The evening before, where the time lies before the day starts.
    """
    early = at is not None and plan.day_starts_at is not None and at < plan.day_starts_at
    return day - timedelta(days=1) if early else day
