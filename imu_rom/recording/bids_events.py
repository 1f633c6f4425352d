"""``_events.tsv``: which exercise was done when, read beside a recording and written with one.

``trial_type`` is the name of an exercise of the plan, ``neutral pose`` or ``second pose``; the column ``side`` may say
left or right; other columns are left alone. A duration of ``n/a``, or 0, says when it began but not for how long.

References
----------
Brain Imaging Data Structure specification 1.9 and later, "Events": ``onset`` and ``duration`` in seconds are required,
``n/a`` marks what is not known.
"""

import math
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Literal

from imu_rom.errors import RecordingError
from imu_rom.findings import Finding
from imu_rom.recording.bids_dataset import as_json, as_rows
from imu_rom.recording.bids_sidecars import read_numbered_rows
from imu_rom.recording.model import Event

__all__ = ["event_findings", "events_file_of", "read_events", "write_events"]

_REQUIRED = ("onset", "duration")
_NOTHING = {"", "n/a"}
_SIDES: Mapping[str, Literal["left", "right"]] = {"left": "left", "right": "right"}


def events_file_of(motion: Path, stem: str) -> Path | None:
    """Find the ``_events.tsv`` of a recording.

    Parameters
    ----------
    motion : Path
        The ``_motion.tsv``.
    stem : str
        Its name without ``_motion.tsv``.

    Returns
    -------
    Path or None
        The file, where there is one.
    """
    without = re.sub(r"_tracksys-[0-9A-Za-z]+", "", stem)
    candidates = [motion.with_name(f"{each}_events.tsv") for each in (stem, without)]
    return next((each for each in candidates if each.exists()), None)


def _number_of_seconds(row: Mapping[str, str], name: str, place: str) -> float:
    text = row[name].strip()
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        allowed = "a number of seconds" if name == "onset" else "a number of seconds or n/a"
        raise RecordingError(f"{name} must be {allowed}, got {text!r}", where=place)
    return value


def read_events(file: Path) -> tuple[Event, ...]:
    """Read ``_events.tsv``.

    Parameters
    ----------
    file : Path
        Tab-separated text with a header.

    Returns
    -------
    tuple of Event
        In order of time; rows without a ``trial_type`` name nothing and are left out.

    Raises
    ------
    RecordingError
        A required column is missing, a time is no number, a duration is negative, or a side is neither left nor
        right; with line and column.
    """
    rows = read_numbered_rows(file)
    names = list(rows[0][1]) if rows else []
    absent = [name for name in _REQUIRED if rows and name not in names]
    if absent:
        raise RecordingError(
            f"the columns {' and '.join(_REQUIRED)} are required, {' and '.join(absent)} missing",
            where=f"{file.name}:1",
        )
    events = []
    for line, row in rows:

        def place(name: str, line: int = line) -> str:
            return f"{file.name}:{line}:{names.index(name) + 1}"

        onset_s = _number_of_seconds(row, "onset", place("onset"))
        duration_s = None
        if row["duration"].strip() not in _NOTHING:
            duration_s = _number_of_seconds(row, "duration", place("duration"))
            if duration_s < 0:
                raise RecordingError(f"duration must not be negative, got {row['duration']!r}", where=place("duration"))
        side_text = row.get("side", "").strip()
        if side_text not in _NOTHING and side_text not in _SIDES:
            raise RecordingError(f"side must be left, right or n/a, got {side_text!r}", where=place("side"))
        name = row.get("trial_type", "").strip()
        if name not in _NOTHING:
            events.append(Event(onset_s, duration_s or None, name, _SIDES.get(side_text), line))
    return tuple(sorted(events, key=lambda each: (each.onset_s, each.line or 0)))


def event_findings(events: Sequence[Event], duration_s: float, file_name: str) -> list[Finding]:
    """Say which events lie outside the recording.

    Parameters
    ----------
    events : sequence of Event
        As read.
    duration_s : float
        Length of the recording.
    file_name : str
        Name of their file.

    Returns
    -------
    list of Finding
        One for each that begins before the recording, begins after its end, or lasts beyond it.
    """
    found = []
    for each in events:
        stop_s = each.onset_s + (each.duration_s or 0.0)
        if 0.0 <= each.onset_s <= stop_s <= duration_s:
            continue
        until = f"from {each.onset_s:.1f} to {stop_s:.1f} s" if each.duration_s else f"at {each.onset_s:.1f} s"
        found.append(
            Finding(
                "event-outside",
                "caution",
                f"The event {each.trial_type!r} (line {each.line} of {file_name}) lies {until}, outside the recording, "
                f"which lasts from 0 to {duration_s:.1f} s.",
                each.onset_s,
                stop_s,
            )
        )
    return found


def write_events(file: Path, events: Sequence[Event]) -> None:
    """Write ``_events.tsv`` and, where a side is named, what that column means.

    Parameters
    ----------
    file : Path
        The ``_events.tsv``.
    events : sequence of Event
        In order of time.
    """
    sided = any(each.side for each in events)
    rows: list[tuple[str, ...]] = [("onset", "duration", "trial_type", *(("side",) if sided else ()))]
    for each in events:
        duration = "n/a" if each.duration_s is None else f"{each.duration_s:.10g}"
        row = (f"{each.onset_s:.10g}", duration, each.trial_type)
        rows.append((*row, each.side or "n/a") if sided else row)
    file.write_text(as_rows(rows), "utf-8")
    meanings: dict[str, object] = {
        "trial_type": {"Description": "Name of the exercise in the plan that the recording is compared with"}
    }
    if sided:
        meanings["side"] = {
            "Description": "Side of the body that exercised",
            "Levels": {"left": "Left side", "right": "Right side"},
        }
    file.with_suffix(".json").write_text(as_json(meanings), "utf-8")
