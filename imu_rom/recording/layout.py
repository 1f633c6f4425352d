"""How a logger laid out its text file: separator, decimal sign, where the numbers start, and what the heading says.

Only what the file shows is taken: the layout chosen is the one under which most lines of the file's head are rows of
numbers. What can't be seen there (units, which column is what) is not guessed here.
"""

import csv
import re
from dataclasses import dataclass
from pathlib import Path

from imu_rom.errors import RecordingError
from imu_rom.recording.headings import is_unit_word

__all__ = ["FileLayout", "layout_of"]

# in the order of preference where the head fits several
_CANDIDATES = (("\t", "."), (";", "."), (",", "."), ("\t", ","), (";", ","))
# three axes each of an accelerometer and a gyroscope
_FEWEST_NUMBERS = 6
_MISSING = ("", "n/a", "NA", "N/A", "NaN", "nan", "NAN", "null", "NULL", "None", "-")
_COMMENT = re.compile(r"^\s*(?:#|%|//)\s*")


@dataclass(frozen=True)
class FileLayout:
    """How one file is laid out.

    Parameters
    ----------
    separator, decimal : str
        One character each.
    encoding : str
        Text encoding.
    skipped_lines : int
        Lines before the first row of numbers.
    heading : tuple of str or None
        Cells of the heading; None where there is none.
    heading_line : int or None
        Its line in the file.
    unit_row : tuple of str or None
        Cells of a row of units under the heading.
    first_row : tuple of str
        Cells of the first row of numbers.
    width : int
        Columns of the rows.
    quoted : bool
        Cells stand in double quotes.
    missing : tuple of str
        Words that stand for a missing number.
    """

    separator: str
    decimal: str
    encoding: str
    skipped_lines: int
    heading: tuple[str, ...] | None
    heading_line: int | None
    unit_row: tuple[str, ...] | None
    first_row: tuple[str, ...]
    width: int
    quoted: bool
    missing: tuple[str, ...] = _MISSING


def _cells(line: str, separator: str) -> list[str]:
    if '"' in line:
        try:
            return [cell.strip() for cell in next(csv.reader([line], delimiter=separator, strict=True))]
        except csv.Error:
            pass
    return [cell.strip() for cell in line.split(separator)]


def _number_pattern(decimal: str) -> re.Pattern[str]:
    return re.compile(rf"[+-]?(?:\d+(?:{re.escape(decimal)}\d*)?|{re.escape(decimal)}\d+)(?:[eE][+-]?\d+)?")


def _numbers(cells: list[str], pattern: re.Pattern[str]) -> int:
    """Count the numbers in a line; 0 where it is no row of numbers."""
    numbers = sum(pattern.fullmatch(cell) is not None for cell in cells)
    missing = sum(cell in _MISSING for cell in cells)
    return numbers if numbers and numbers + missing >= _FEWEST_NUMBERS else 0


def _lines(head: bytes, path: Path) -> tuple[list[str], str]:
    """Decode the head of a file, without the line that the head cuts off."""
    cut = len(head) >= 65536
    if cut:
        head = head[: head.rfind(b"\n") + 1] or head
    try:
        text, encoding = head.decode("utf-8-sig"), "utf-8"
    except UnicodeDecodeError:
        text, encoding = head.decode("cp1252", errors="replace"), "cp1252"
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if not any(line.strip() for line in lines):
        raise RecordingError("the file is empty", where=path.name)
    return lines, encoding


def layout_of(path: Path, head: bytes, *, separator: str | None = None, decimal: str | None = None) -> FileLayout:
    """Find how a file is laid out from its head.

    Parameters
    ----------
    path : Path
        The file, for errors.
    head : bytes
        Its first 64 KiB.
    separator, decimal : str or None
        Given by the user; None: to be found.

    Returns
    -------
    FileLayout
        Separator, decimal sign, heading and the first row.

    Raises
    ------
    RecordingError
        No line is a row of numbers, or the rows differ in length.
    """
    lines, encoding = _lines(head, path)
    best: tuple[int, int, str, str] | None = None
    for its_separator, its_decimal in _CANDIDATES:
        if separator not in {None, its_separator} or decimal not in {None, its_decimal}:
            continue
        pattern = _number_pattern(its_decimal)
        counts = [_numbers(_cells(line, its_separator), pattern) for line in lines if line.strip()]
        score = (sum(count > 0 for count in counts), sum(counts))
        if score[0] and (best is None or score > best[:2]):
            best = (*score, its_separator, its_decimal)
    if best is None:
        tried = f"with the separator {separator!r}" if separator else "separated by tab, semicolon or comma"
        raise RecordingError(
            f"no line has {_FEWEST_NUMBERS} or more numbers {tried}", where=path.name, do="check that it is a recording"
        )
    _, _, separator, decimal = best
    pattern = _number_pattern(decimal)
    rows = [
        (number, _cells(line, separator))
        for number, line in enumerate(lines)
        if line.strip() and _numbers(_cells(line, separator), pattern)
    ]
    first, cells = rows[0]
    heading_line, heading, unit_row = _heading(lines[:first], separator, len(cells))
    return FileLayout(
        separator=separator,
        decimal=decimal,
        encoding=encoding,
        skipped_lines=first,
        heading=heading,
        heading_line=heading_line,
        unit_row=unit_row,
        first_row=tuple(cells),
        width=len(cells),
        quoted='"' in lines[first],
    )


def _heading(
    before: list[str], separator: str, width: int
) -> tuple[int | None, tuple[str, ...] | None, tuple[str, ...] | None]:
    """Find the heading, and a row of units under it, among the lines before the numbers."""
    fitting: list[tuple[int, tuple[str, ...]]] = []
    for number in range(len(before) - 1, -1, -1):
        line = _COMMENT.sub("", before[number])
        if not line.strip():
            continue
        cells = _cells(line, separator)
        while len(cells) > width and not cells[-1]:
            cells.pop()
        # rows that end in a separator have one empty cell more than their heading
        cells += [""] * (width - len(cells) if width - len(cells) == 1 and len(cells) >= _FEWEST_NUMBERS else 0)
        if len(cells) != width or len(fitting) == 2:
            break
        fitting.append((number + 1, tuple(cells)))
    if not fitting:
        return None, None, None
    if len(fitting) == 2 and _is_unit_row(fitting[0][1]):
        return fitting[1][0], fitting[1][1], fitting[0][1]
    return fitting[0][0], fitting[0][1], None


def _is_unit_row(cells: tuple[str, ...]) -> bool:
    words = [cell.strip("[](){} ") for cell in cells]
    units = [word for word in words if word and word not in _MISSING]
    return bool(units) and all(is_unit_word(word) for word in units)
