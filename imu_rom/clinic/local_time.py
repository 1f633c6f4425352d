"""Which day and time it is where a clinic's people live."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

__all__ = ["local_day", "local_time"]


def local_time(at_ms: int, time_zone: str) -> datetime:
    """Give a moment as people's clocks show it.

    Parameters
    ----------
    at_ms : int
        Milliseconds since 1970 UTC.
    time_zone : str
        IANA name.

    Returns
    -------
    datetime
        With its offset.
    """
    return datetime.fromtimestamp(at_ms / 1000, UTC).astimezone(ZoneInfo(time_zone))


def local_day(at_ms: int, time_zone: str) -> date:
    """Give the day of a moment where people live.

    Parameters
    ----------
    at_ms : int
        Milliseconds since 1970 UTC.
    time_zone : str
        IANA name.

    Returns
    -------
    date
        The day.
    """
    return local_time(at_ms, time_zone).date()
