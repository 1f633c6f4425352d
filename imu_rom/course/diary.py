"""The person's diary, ``diary.csv``: a bad line is named by line and column and left out, the rest is read.

A note is text for people: nothing is concluded from its words. Signs that need help have a column of their own.
"""

import csv
import hashlib
from collections.abc import Container, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from imu_rom.course.diary_columns import COLUMNS, MISSING, CellFault, nearest_of
from imu_rom.course.plans import CoursePlans
from imu_rom.dose.course_reading import Skipped
from imu_rom.dose.days import day_of_note
from imu_rom.dose.follow_up import DiaryEntry
from imu_rom.errors import CourseError
from imu_rom.recording.model import InputFile

if TYPE_CHECKING:
    from datetime import date

__all__ = ["Diary", "read_diary"]

LARGEST_DIARY_MB = 16.0
_SEPARATORS = (",", ";", "\t")
# what belongs to the day, whichever line of the day says it
_OF_THE_MORNING = ("pain_next_morning", "stiffness_min")


@dataclass(frozen=True)
class Diary:
    """What a diary says.

    Parameters
    ----------
    entries : tuple of DiaryEntry
        In order of days and times; what is said of a morning stands once a day.
    skipped : tuple of Skipped
        Lines and values that were not used.
    lines : int
        Lines that say something, the skipped ones included.
    file : InputFile or None
        The file; None where the folder holds none.
    """

    entries: tuple[DiaryEntry, ...] = ()
    skipped: tuple[Skipped, ...] = ()
    lines: int = 0
    file: InputFile | None = None


@dataclass(frozen=True)
class _Line:
    """One line of the file as it stands there."""

    number: int
    text: str
    separator: str

    def cells(self) -> list[str]:
        # each line by itself: a quotation mark without its partner must not swallow those after it
        return [cell.strip() for cell in next(csv.reader([self.text], delimiter=self.separator, strict=True))]

    def place(self, index: int) -> int:
        """Tell at which character a cell begins, counted from 1."""
        quoted, cell = False, 0
        for place, letter in enumerate(self.text, start=1):
            if cell == index:
                return place
            if letter == '"':
                quoted = not quoted
            elif letter == self.separator and not quoted:
                cell += 1
        return len(self.text) + 1


class _LineFault(ValueError):  # noqa: N818  never leaves this module
    def __init__(self, code: str, why: str, column: int = 0) -> None:
        self.code = code
        self.why = why
        self.column = column
        super().__init__(why)


def read_diary(path: Path, plans: CoursePlans) -> Diary:
    """Read a diary.

    Parameters
    ----------
    path : Path
        The file; comma, semicolon or tab between cells, as its heading has it, and any order of columns.
    plans : CoursePlans
        Say which exercises there are, and when a day starts.

    Returns
    -------
    Diary
        Its entries, and what was left out. Lines that repeat an earlier one with the same time count once.

    Raises
    ------
    CourseError
        It can't be read, or its heading has an unknown column, one twice, or no ``date``.
    """
    data = _content(path)
    lines = _lines(data, path)
    names = _heading(lines[0], path)
    read: list[tuple[int, DiaryEntry]] = []
    timed: set[DiaryEntry] = set()
    skipped: list[Skipped] = []
    count = 0
    for line in lines[1:]:
        if not line.text.strip(f"{line.separator} "):
            continue
        try:
            entry = _entry(line, names, plans, timed)
            if entry == DiaryEntry(entry.day, entry.at, entry.exercise, entry.side):
                continue  # still to be filled in
        except _LineFault as fault:
            count += 1
            where = f"{path.name}:{line.number}:{line.place(fault.column)}"
            signs = _red_flags_of(line, names)
            if signs is None:
                skipped.append(Skipped("diary line", where, fault.code, fault.why))
            else:
                # whatever else is wrong with the line, this must not be lost
                why = f"{fault.why}; of this line only its red_flag is used"
                skipped.append(Skipped("diary line", where, fault.code, why))
                read.append((line.number, replace(signs, line=line.number)))
            continue
        count += 1
        read.append((line.number, replace(entry, line=line.number)))
        if entry.at is not None:
            timed.add(entry)
    entries, undecided = _mornings_once(read, path.name)
    return Diary(
        tuple(sorted(entries, key=_in_time)),
        tuple(sorted([*skipped, *undecided])),
        count,
        InputFile(path.name, hashlib.sha256(data).hexdigest(), "diary"),
    )


def _in_time(entry: DiaryEntry) -> tuple[Any, ...]:
    at = "" if entry.at is None else entry.at.isoformat()
    return entry.day, at, entry.exercise or "", entry.side or "", repr(entry)


def _content(path: Path) -> bytes:
    try:
        if path.stat().st_size > LARGEST_DIARY_MB * 1e6:
            raise CourseError(f"must have at most {LARGEST_DIARY_MB:g} MB", where=str(path), do="check that file")
        return path.read_bytes()
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise CourseError(f"can't be read: {reason}", where=str(path), do="check that file") from None


def _lines(data: bytes, path: Path) -> list[_Line]:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")  # as spreadsheets of Western Europe save it
    if "\0" in text:
        raise CourseError("must be comma-separated text, got other bytes", where=str(path), do="save it as CSV")
    given = text.splitlines()
    if not given or not given[0].strip():
        raise CourseError(
            "must begin with a line of column names", where=f"{path}:1", do=f"begin with {','.join(COLUMNS)}"
        )
    separator = max(_SEPARATORS, key=given[0].count)
    return [_Line(number, line, separator) for number, line in enumerate(given, start=1)]


def _heading(line: _Line, path: Path) -> list[str]:
    try:
        names = [cell.lower() for cell in line.cells()]
    except csv.Error as error:
        raise CourseError(f"can't be read as column names ({error})", where=f"{path}:{line.number}") from None
    while names and not names[-1]:
        names.pop()
    for index, name in enumerate(names):
        where = f"{path}:{line.number}:{line.place(index)}"
        if name not in COLUMNS:
            raise CourseError(
                f"column {name!r} is unknown; {nearest_of(name, list(COLUMNS))}",
                where=where,
                do="rename it, or say it in the column note",
            )
        if name in names[:index]:
            raise CourseError(f"column {name!r} stands there twice", where=where, do="keep one of the two")
    if "date" not in names:
        raise CourseError("needs a column date", where=f"{path}:{line.number}", do="add it, with days as 2026-12-01")
    return names


def _entry(line: _Line, names: Sequence[str], plans: CoursePlans, timed: Container[DiaryEntry]) -> DiaryEntry:
    try:
        cells = line.cells()
    except csv.Error:
        raise _LineFault(
            "quotation-mark", "has a quotation mark without its partner; a line's cells must all stand on that line"
        ) from None
    while len(cells) > len(names) and not cells[-1]:
        cells.pop()
    if len(cells) > len(names):
        raise _LineFault(
            "too-many-cells",
            f"has {len(cells)} cells where the heading has {len(names)}; write numbers with a decimal point, and text "
            f"that holds a {line.separator!r} in quotation marks",
            len(names),
        )
    values: dict[str, Any] = {}
    for index, (name, cell) in enumerate(zip(names, cells, strict=False)):
        if cell in MISSING:
            continue
        try:
            values[COLUMNS[name].field] = COLUMNS[name].read(cell)
        except CellFault as fault:
            shown = cell if len(cell) <= 40 else cell[:37] + "..."
            raise _LineFault("bad-cell", f"{name} {fault.must}, got {shown!r}", index) from None
    if "day" not in values:
        raise _LineFault("no-day", "has no date; write the day as 2026-12-01", names.index("date"))
    entry = DiaryEntry(**values)
    plan = plans.plan_on(entry.day) or plans.versions[0].plan
    entry = replace(_of_the_plan(entry, names, plans), day=day_of_note(entry.day, entry.at, plan))
    if entry in timed:
        raise _LineFault("repeated-line", "repeats an earlier line, so it counts once")
    return entry


def _red_flags_of(line: _Line, names: Sequence[str]) -> DiaryEntry | None:
    """Give the signs that a faulty line names; None where it names none, or not on which day."""
    try:
        cells = dict(zip(names, line.cells(), strict=False))
        values = {
            COLUMNS[name].field: COLUMNS[name].read(cells[name])
            for name in ("date", "red_flag")
            if cells.get(name, "") not in MISSING
        }
    except (csv.Error, CellFault):
        return None
    return DiaryEntry(**values) if len(values) == 2 else None


def _of_the_plan(entry: DiaryEntry, names: Sequence[str], plans: CoursePlans) -> DiaryEntry:
    """Check the exercise's name and side by the plans; a side that was left out is the plan's, where it has one."""
    if entry.exercise is None:
        return entry
    known = {each.name.lower(): each.name for each in plans.exercises}
    name = known.get(entry.exercise.lower())
    if name is None:
        why = (
            f"exercise must be one of the plan, got {entry.exercise!r}; {nearest_of(entry.exercise, [*known.values()])}"
        )
        raise _LineFault("unknown-exercise", why, names.index("exercise"))
    sides = {each.side for each in plans.exercises if each.name == name}
    if entry.side is not None and entry.side not in sides:
        why = f"side of {name} must be {' or '.join(sorted(sides))} by the plan, got {entry.side!r}"
        raise _LineFault("other-side", why, names.index("side"))
    only = next(iter(sides)) if len(sides) == 1 else None
    return replace(entry, exercise=name, side=entry.side or only)


def _mornings_once(read: Sequence[tuple[int, DiaryEntry]], name: str) -> tuple[list[DiaryEntry], list[Skipped]]:
    """Keep what is said of a morning once a day; where a day's lines differ, nothing of it is used."""
    entries = [entry for _, entry in read]
    skipped = []
    for field in _OF_THE_MORNING:
        of_day: dict[date, list[int]] = {}
        for index, (_, entry) in enumerate(read):
            if getattr(entry, field) is not None:
                of_day.setdefault(entry.day, []).append(index)
        for day, places in of_day.items():
            said = {getattr(entries[index], field): read[index][0] for index in reversed(places)}
            kept = places[1:] if len(said) == 1 else places
            for index in kept:
                entries[index] = replace(entries[index], **{field: None})  # type: ignore[arg-type]  # both may be None
            if len(said) > 1:
                listed = " and ".join(f"{value:g} (line {line})" for value, line in sorted(said.items()))
                why = f"{field} of {day} is said to be {listed}, so neither is used; keep one, once a day"
                skipped.append(Skipped("diary value", f"{name}:{min(said.values())}", "two-values", why))
    return entries, skipped
