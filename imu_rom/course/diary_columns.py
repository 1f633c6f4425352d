"""The columns of a diary: names, what a cell may say, and what each means."""

import difflib
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, time
from typing import Any

from imu_rom.wording.cautions import RED_FLAGS

__all__ = ["COLUMNS", "MISSING", "CellFault", "DiaryColumn", "nearest_of"]

MISSING = ("", "n/a")
_NUMBER = re.compile(r"\d{1,4}(?:\.\d{1,3})?")
_NUMBER_WITH_COMMA = re.compile(r"\d{1,4},\d{1,3}")
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::\d{2})?")
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
# a wrong century is a slip of the pen, and would make the course a thousand years long
_FIRST_YEAR, _LAST_YEAR = 2000, 2099
_WORST_PAIN = 10.0
_LONGEST_STIFFNESS_MIN = 1440.0


class CellFault(ValueError):  # noqa: N818  never leaves the diary's reader
    """A cell that can't be what its column asks for.

    Parameters
    ----------
    must : str
        What it must be, and what to do where that is not plain.
    """

    def __init__(self, must: str) -> None:
        self.must = must
        super().__init__(must)


@dataclass(frozen=True)
class DiaryColumn:
    """One column.

    Parameters
    ----------
    name : str
        Its heading.
    field : str
        Field of `imu_rom.dose.follow_up.DiaryEntry`.
    meaning : str
        For people who fill it in.
    read : callable
        A cell's text to its value; raises `CellFault`.
    """

    name: str
    field: str
    meaning: str
    read: Callable[[str], Any]


def nearest_of(word: str, known: Sequence[str]) -> str:
    """Name the known word that is most like an unknown one, or all of them.

    Parameters
    ----------
    word : str
        The unknown word.
    known : sequence of str
        The known ones.

    Returns
    -------
    str
        Half a sentence.
    """
    alike = difflib.get_close_matches(word.lower(), known, n=1)
    return f"perhaps {alike[0]!r} was meant" if alike else f"there are {', '.join(known)}"


def _day(cell: str) -> date:
    must = "must be a day such as 2026-12-01"
    if not _DAY.fullmatch(cell):
        raise CellFault(must)
    try:
        day = date.fromisoformat(cell)
    except ValueError:
        raise CellFault(f"{must} that the calendar has") from None
    if not _FIRST_YEAR <= day.year <= _LAST_YEAR:
        raise CellFault(f"{must}, of the years {_FIRST_YEAR} to {_LAST_YEAR}")
    return day


def _clock(cell: str) -> time:
    match = _CLOCK.fullmatch(cell)
    if match is None or int(match[1]) > 23 or int(match[2]) > 59:
        raise CellFault("must be a time of day such as 18:30")
    return time(int(match[1]), int(match[2]))


def _number(low: float, high: float, unit: str) -> Callable[[str], float]:
    must = f"must be a number from {low:g} to {high:g}{unit}"

    def read(cell: str) -> float:
        if _NUMBER_WITH_COMMA.fullmatch(cell):
            raise CellFault(f"{must} with a decimal point ({cell.replace(',', '.')})")
        if not _NUMBER.fullmatch(cell) or not low <= float(cell) <= high:
            raise CellFault(must)
        return float(cell)

    return read


def _word(words: Mapping[str, Any]) -> Callable[[str], Any]:
    def read(cell: str) -> Any:  # noqa: ANN401
        if cell.lower() not in words:
            raise CellFault(f"must be {' or '.join(words)}")
        return words[cell.lower()]

    return read


def _text(cell: str) -> str:
    return cell


def _red_flags(cell: str) -> tuple[str, ...]:
    known = [each.word for each in RED_FLAGS]
    named = [each.strip().lower() for each in re.split(r"[,;+]", cell) if each.strip()]
    for word in named:
        if word not in known:
            raise CellFault(f"must name signs of the list; {nearest_of(word, known)}")
    return tuple(dict.fromkeys(named))


_PAIN = _number(0.0, _WORST_PAIN, "")
_YES = _word({"yes": True, "no": False})

COLUMNS = {
    each.name: each
    for each in (
        DiaryColumn("date", "day", "day as 2026-12-01; the only column that every line needs", _day),
        DiaryColumn("time", "at", "time of day as 18:30", _clock),
        DiaryColumn("exercise", "exercise", "its name in the plan; empty for a line about the day alone", _text),
        DiaryColumn("side", "side", "left or right", _word({"left": "left", "right": "right"})),
        DiaryColumn("done", "done", "yes, part or no", _word({"yes": "yes", "part": "part", "no": "no"})),
        DiaryColumn("pain_before", "pain_before", "0 to 10, before it", _PAIN),
        DiaryColumn("pain_during", "pain_during", "0 to 10, the worst while doing it", _PAIN),
        DiaryColumn("pain_after", "pain_after", "0 to 10, after it", _PAIN),
        DiaryColumn(
            "pain_next_morning", "pain_next_morning", "0 to 10, at the first steps of the morning after", _PAIN
        ),
        DiaryColumn(
            "stiffness_min",
            "stiffness_min",
            "minutes of stiffness, that next morning",
            _number(0.0, _LONGEST_STIFFNESS_MIN, " minutes"),
        ),
        DiaryColumn("load_test_pain", "load_test_pain", "0 to 10, in the stage's load test", _PAIN),
        DiaryColumn("painkiller", "painkiller", "yes or no, that day", _YES),
        DiaryColumn("other_load", "other_load", "other load of that day, in words", _text),
        DiaryColumn("heel_lift", "heel_lift", "in or out", _word({"in": "in", "out": "out"})),
        DiaryColumn(
            "red_flag", "red_flags", "signs that need help: " + ", ".join(each.word for each in RED_FLAGS), _red_flags
        ),
        DiaryColumn("note", "note", "anything else, in words; only people read it", _text),
    )
}
"""By heading, in the order in which an empty diary has them."""
