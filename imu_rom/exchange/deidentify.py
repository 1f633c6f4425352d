"""Take out of an export what names a person, and say what remains.

Kept are pseudonym, numbers, and words of a fixed vocabulary; every other text is blanked, a field that is new and not
listed here as well. Dates move by whole weeks, by as many for all of one person: weekdays and distances between days
stay. They land before 1925, as BIDS asks of dates that are not true.

References
----------
Brain Imaging Data Structure specification 1.10, "Common principles": dates may be shifted, to 1925 or earlier.
The shift, and names of sessions and stages, are HMAC-SHA256 (RFC 2104) of the pseudonym, under a secret of the user's.
"""

import dataclasses
import hashlib
import hmac
import re
import types
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

from imu_rom.dose.exercise import ABSENT
from imu_rom.dose.sites import SITES
from imu_rom.errors import SettingError
from imu_rom.exchange.document import ResultDocument
from imu_rom.exchange.exported import Exported, ExportedResult
from imu_rom.recording.model import InputFile

__all__ = ["date_shift_days", "deidentified", "read_secret", "what_remains"]

Value = TypeVar("Value")

# the shifted year is 1925 at the latest for all dates up to 2097
FEWEST_WEEKS, WEEKS = 9000, 1040
LARGEST_SECRET_BYTES = 4096

# text of a fixed vocabulary, whoever wrote the plan: codes, motions, methods, names of exercises (letters and digits)
KEPT = {
    "action",
    "bids_subject",
    "calibration_movement",
    "candidates",
    "code",
    "evidence",
    "exercise",
    "heel_lift",
    "joint",
    "left_exercise",
    "meaning",
    "method",
    "motion",
    "patient",
    "program_version",
    "recorded_at_source",
    "red_flags",
    "right_exercise",
    "said_by",
    "sign_source",
    "still_segment",
    "subject",
    "task",
    "touched_by",
    "use",
    "versions",
    "words",
    "zero",
}
# where a name means one thing here and another there
KEPT_OF = {
    ("DetectableChange", "source"),
    ("Exercise", "name"),
    ("SensorSummary", "mounting"),
    ("StillStretch", "why_not"),
    ("Term", "name"),
    ("Term", "source"),
    ("ZeroPose", "source"),
}
STAGES = {
    ("CalendarEntry", "stage"),
    ("DayAnswer", "stage"),
    ("Plan", "current_stage"),
    ("ResultDocument", "stage"),
    ("Stage", "name"),
    ("StageRun", "stage"),
    ("Trend", "stage"),
    ("WeekAnswer", "stages"),
}
POINTS = {"tracked_point", "proximal", "distal", "sensor", "filled_samples", "mounting", "placement"}
POINTS_OF = {("SensorSummary", "tracked_point"), ("ClockSummary", "reference"), ("ClockSummary", "other")}
# mappings of numbers by words of this program
WORDS_BY_KEY = {"settings", "numbers", "parts"}
MOMENTS = {"recorded_at", "at"}

_SEGMENTS = "shank|foot|thigh|thorax|trunk|pelvis|hand|forearm|upper ?arm|proximal|distal"
_PLAIN_POINT = re.compile(rf"(?:(?:left|right|l|r)[ _-]?)?(?:{_SEGMENTS})(?:[ _-]?(?:left|right|l|r))?", re.IGNORECASE)
CLINICS_OWN = "the clinic's own"


@dataclass(frozen=True)
class _Rules:
    """What is put in place of what, for one person."""

    shift: timedelta
    stage: Callable[[str], str]
    point: Callable[[str], str]
    own_sources: frozenset[str] = frozenset()


def read_secret(path: Path) -> bytes:
    """Read the secret that shifts and names are made with.

    Parameters
    ----------
    path : Path
        A file of anything; line ends at its end don't count.

    Returns
    -------
    bytes
        At least one.

    Raises
    ------
    SettingError
        It can't be read, is empty, or is larger than a secret would be.
    """
    try:
        with path.open("rb") as file:
            secret = file.read(LARGEST_SECRET_BYTES + 1).rstrip(b"\r\n")
    except OSError as error:
        raise SettingError(f"can't be read: {(error.strerror or str(error)).lower()}", where=str(path)) from None
    if not 0 < len(secret) <= LARGEST_SECRET_BYTES:
        what = "is empty" if not secret else f"has more than {LARGEST_SECRET_BYTES} bytes"
        raise SettingError(f"must hold a secret, but {what}", where=str(path), do="write some random words into it")
    return secret


def _digest(secret: bytes, what: str, text: str) -> str:
    return hmac.new(secret, f"imu-rom {what}: {text}".encode("utf-8", "replace"), hashlib.sha256).hexdigest()


def date_shift_days(person: str, secret: bytes = b"") -> int:
    """Tell by how many days a person's dates move.

    Parameters
    ----------
    person : str
        Pseudonym.
    secret : bytes
        Without one, everybody who knows the pseudonym can work the shift out.

    Returns
    -------
    int
        Below 0, a multiple of 7; always the same for the same person and secret.
    """
    return -7 * (FEWEST_WEEKS + int(_digest(secret, "dates", person), 16) % WEEKS)


def deidentified(exported: Exported, secret: bytes = b"") -> Exported:
    """Take out what names a person.

    Parameters
    ----------
    exported : Exported
        What goes out.
    secret : bytes
        Shift and names are made with it.

    Returns
    -------
    Exported
        The same numbers; sessions and stages have names that say nothing, and are the same in each export.
    """
    person = exported.patient or ""
    shift = timedelta(days=date_shift_days(person, secret))

    def stage(name: str) -> str:
        return f"stage-{_digest(secret, 'stage', f'{person}/{name}')[:6]}"

    def result(each: ExportedResult) -> ExportedResult:
        document = each.document
        samples = " ".join(sorted(one.sha256 for one in document.inputs if one.role == "recording"))
        session = f"session-{_digest(secret, 'session', f'{person}/{samples}/{each.session}')[:8]}"
        rules = _Rules(shift, stage, _points(document), frozenset(document.own_uncertainty.values()))
        cleaned = _cleaned(document, rules)
        return ExportedResult(
            session, replace(cleaned, recording=replace(cleaned.recording, label=session)), each.angle_file
        )

    course = exported.course
    if course is not None:
        rules = _Rules(shift, stage, lambda name: name if _PLAIN_POINT.fullmatch(name) else "sensor")
        # the pseudonym is kept with all the rest of it
        course = _cleaned(course, rules)
    return replace(exported, results=tuple(result(each) for each in exported.results), course=course)


def what_remains(exported: Exported, secret: bytes = b"") -> tuple[str, ...]:
    """Say what is left in a de-identified export by which a person might be told.

    Parameters
    ----------
    exported : Exported
        What `deidentified` returned.
    secret : bytes
        As there.

    Returns
    -------
    tuple of str
        Sentences.
    """
    names = [exported.patient, *(each.document.bids_subject for each in exported.results)]
    names += [each.document.recording.subject for each in exported.results]
    known = sorted({repr(name) for name in names if name})
    exercises = sorted({one.exercise.name for each in exported.results for one in each.document.exercises})
    said = [
        f"the pseudonym {' and '.join(known)}, as the plan and the recordings write it: check that it is no name"
        if known
        else "",
        "weekdays, times of day with their offset from UTC, and the days between sessions (dates moved by whole weeks)",
        f"names and prescriptions of the exercises ({', '.join(exercises)}), side, tendon site"
        if exercises
        else "names and prescriptions of the exercises, side, tendon site",
        "the angle over time, which someone who has another recording of the person may recognise",
    ]
    if exported.course is not None and exported.course.diary:
        said.append("pain, stiffness, painkillers and red flags of the diary; its words are gone")
    if not secret:
        said.append(
            "the shift of the dates and the names of stages follow from the pseudonym, so that whoever has it and this "
            "program can undo them; give --secret FILE to prevent that"
        )
    return tuple(f"{each[:1].upper()}{each[1:]}." for each in said if each)


def _points(document: ResultDocument) -> Callable[[str], str]:
    """Give a number to sensors whose name is more than a part of the body: it may be a serial number."""
    names = [each.tracked_point for each in document.recording.sensors]
    numbers = {name: f"sensor {number}" for number, name in enumerate(names, start=1)}

    def named(name: str) -> str:
        plain = name == ABSENT or _PLAIN_POINT.fullmatch(name)
        return name if plain else numbers.get(name, "sensor")

    return named


@cache
def _fields(kind: type) -> tuple[tuple[str, bool, bool], ...]:
    """Name of each field, whether it holds free text (text of a closed list is none), and whether it may be None."""
    hints = get_type_hints(kind)
    return tuple(
        (each.name, _has_text(hints[each.name]), type(None) in get_args(hints[each.name]))
        for each in dataclasses.fields(kind)
    )


def _has_text(hint: Any) -> bool:  # noqa: ANN401
    if get_origin(hint) is Literal:
        return False
    if get_origin(hint) in (Union, types.UnionType, tuple):
        return any(_has_text(each) for each in get_args(hint))
    return hint is str or get_origin(hint) in (dict, Mapping)


def _cleaned(value: Value, rules: _Rules) -> Value:
    """Go through dataclasses and tuples; text is taken out, dates are moved."""
    if isinstance(value, tuple):
        return tuple(_cleaned(each, rules) for each in value)  # type: ignore[return-value]
    if isinstance(value, date):
        return value + rules.shift
    if isinstance(value, InputFile):
        return replace(value, name=value.role, sha256="")
    if not dataclasses.is_dataclass(value) or isinstance(value, type):
        return value
    kind = type(value).__name__
    parts = {
        name: _text(kind, name, getattr(value, name), rules, optional=optional)
        if has_text
        else _cleaned(getattr(value, name), rules)
        for name, has_text, optional in _fields(type(value))
    }
    return replace(value, **parts)


def _text(kind: str, name: str, value: Any, rules: _Rules, *, optional: bool) -> Any:  # noqa: ANN401, PLR0911
    """Keep, map or blank what stands in a field of text."""
    if value is None or isinstance(value, bool | int | float):
        return value
    if (kind, name) in STAGES:
        return _each(value, rules.stage)
    if (kind != "SensorSummary" and name in POINTS) or (kind, name) in POINTS_OF:
        return _each(value, rules.point)
    if name in MOMENTS:
        return _moved(value, rules.shift) or (None if optional else "")
    if isinstance(value, str) and value in rules.own_sources:
        return CLINICS_OWN
    if name in KEPT or (kind, name) in KEPT_OF or name in WORDS_BY_KEY or (name == "tendon_site" and value in SITES):
        return value
    return _blank(value, optional=optional)


def _blank(value: Any, *, optional: bool) -> Any:  # noqa: ANN401
    if isinstance(value, Mapping):
        # names of settings, and where the clinic has its values from
        return {key: CLINICS_OWN if isinstance(each, str) else each for key, each in value.items()}
    if isinstance(value, tuple):
        return ()
    return None if optional else ""


def _each(value: Any, named: Callable[[str], str]) -> Any:  # noqa: ANN401
    if isinstance(value, str):
        return named(value)
    if isinstance(value, Mapping):
        return {named(key): each for key, each in value.items()}
    return tuple(named(each) for each in value)


def _moved(text: str, shift: timedelta) -> str | None:
    try:
        return (datetime.fromisoformat(text) + shift).isoformat()
    except (ValueError, OverflowError):
        return None
