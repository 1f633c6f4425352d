"""A reminder for a phone's calendar, as iCalendar (RFC 5545)."""

import hashlib
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

__all__ = ["MORNING", "reminder"]

MORNING = time(8, 0)
"""When phones remind; common practice, no source."""
_LONGEST_LINE_BYTES = 75


def reminder(patient_id: str, day: date, time_zone: str, *, title: str, address: str, now_ms: int) -> bytes:
    """Write a reminder for a morning.

    Parameters
    ----------
    patient_id : str
        Whose; goes in only as a hash, so that the same reminder asked for twice is one.
    day : date
        On which morning.
    time_zone : str
        IANA name of where the person lives.
    title : str
        What the phone shows; anybody may see it there.
    address : str
        Page where the question is answered.
    now_ms : int
        When it was asked for.

    Returns
    -------
    bytes
        The file's content.
    """
    begins = datetime.combine(day, MORNING, ZoneInfo(time_zone)).astimezone(UTC)
    made = datetime.fromtimestamp(now_ms / 1000, UTC)
    uid = hashlib.sha256(f"{patient_id} {day.isoformat()}".encode()).hexdigest()[:32]
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//imu_rom//clinic//EN",
        "METHOD:PUBLISH",
        "BEGIN:VEVENT",
        f"UID:{uid}@imu-rom",
        f"DTSTAMP:{_utc(made)}",
        f"DTSTART:{_utc(begins)}",
        f"DTEND:{_utc(begins + timedelta(minutes=5))}",
        f"SUMMARY:{_escaped(title)}",
        f"URL:{address}",
        "CLASS:PRIVATE",
        "TRANSP:TRANSPARENT",
        "BEGIN:VALARM",
        "ACTION:DISPLAY",
        f"DESCRIPTION:{_escaped(title)}",
        "TRIGGER:PT0S",
        "END:VALARM",
        "END:VEVENT",
        "END:VCALENDAR",
    ]
    return "".join(f"{_folded(each)}\r\n" for each in lines).encode()


def _utc(at: datetime) -> str:
    return at.strftime("%Y%m%dT%H%M%SZ")


def _escaped(text: str) -> str:
    for letter in "\\;,":
        text = text.replace(letter, f"\\{letter}")
    return text.replace("\n", "\\n")


def _folded(line: str) -> str:
    """Break a line at 75 bytes, never inside of a letter (RFC 5545, 3.1)."""
    pieces, piece = [], ""
    for letter in line:
        if len((piece + letter).encode()) > _LONGEST_LINE_BYTES:
            pieces.append(piece)
            piece = " "
        piece += letter
    return "\r\n".join([*pieces, piece])
