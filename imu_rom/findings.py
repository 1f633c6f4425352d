"""Findings: what the data is, said beside the answer and never silently mended."""

from dataclasses import dataclass
from typing import Literal

__all__ = ["Finding", "Level"]

Level = Literal["note", "caution", "problem"]


@dataclass(frozen=True, order=True)
class Finding:
    """One thing noticed about the data that a reader of the result should know.

    Parameters
    ----------
    code : str
        Stable lower-case words joined by hyphens, for other programs (``"gap"``).
    level : {"note", "caution", "problem"}
        A note is for the record, a caution may change how the result is read, a problem makes a part of the
        result undecided.
    sentence : str
        One plain sentence that ends with a full stop.
    start_s, stop_s : float or None
        Stretch of the recording that it is about, in seconds from its start.
    sensor : str or None
        Tracked point of the sensor that it is about.
    """

    code: str
    level: Level
    sentence: str
    start_s: float | None = None
    stop_s: float | None = None
    sensor: str | None = None
