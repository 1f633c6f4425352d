"""Tables of numbers in text files: read in bulk, written in bulk, and a bad cell named by line and column.

Reading is one call of pandas' C parser to float64 with its test for missing words off, which is the fastest way through
a clean file; only when that fails is the file read again, slower, to tell missing values from faults.
"""

import hashlib
import threading
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from imu_rom.errors import RecordingError
from imu_rom.recording.model import Floats

__all__ = ["TableLayout", "check_is_text", "format_numbers", "read_numbers", "sha256_of"]

_ROWS_AT_ONCE = 20_000
_LONGEST_QUOTE = 40


@dataclass(frozen=True)
class TableLayout:
    """How the numbers stand in a file.

    Parameters
    ----------
    separator : str
        One character between cells.
    decimal : str
        Decimal point or comma.
    skipped_lines : int
        Lines before the first row of numbers.
    columns : tuple of str
        Names of all columns, for the errors.
    missing : tuple of str
        Words that stand for a missing value.
    encoding : str
        Text encoding.
    """

    separator: str
    columns: tuple[str, ...]
    decimal: str = "."
    skipped_lines: int = 0
    missing: tuple[str, ...] = ("n/a",)
    encoding: str = "utf-8"


def sha256_of(path: Path) -> str:
    """SHA-256 of a file's bytes.

    Parameters
    ----------
    path : Path
        File to read.

    Returns
    -------
    str
        Hexadecimal digest.
    """
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def check_is_text(path: Path) -> None:
    """Refuse a file that is empty or holds something else than text.

    Parameters
    ----------
    path : Path
        File to look at; only its first 64 KiB are read.

    Raises
    ------
    RecordingError
        It is missing, empty, binary or in an encoding that is not read here.
    """
    try:
        with path.open("rb") as file:
            head = file.read(65536)
    except IsADirectoryError:
        raise RecordingError("is a folder where a file was expected", where=str(path)) from None
    except FileNotFoundError:
        raise RecordingError("there is no such file", where=str(path)) from None
    except OSError as error:
        raise RecordingError(f"can't be read: {error.strerror}", where=str(path)) from None
    if not head.strip():
        raise RecordingError("the file is empty", where=path.name)
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise RecordingError("the file is text in UTF-16", where=path.name, do="save it as UTF-8")
    odd = sum(head.count(bytes([code])) for code in (*range(9), *range(14, 32), 127))
    if odd:
        raise RecordingError("the file is not text but binary", where=path.name, do="export the recording as text")


def read_numbers(path: Path, layout: TableLayout) -> tuple[Floats, str]:
    """Read a table in which every cell is a number or missing.

    Parameters
    ----------
    path : Path
        Text file.
    layout : TableLayout
        How it is laid out.

    Returns
    -------
    values : ndarray of float64 of shape (rows, columns)
        Column-major; NaN where a value is missing.
    sha256 : str
        Digest of the file's bytes, taken beside the reading.

    Raises
    ------
    RecordingError
        A cell is no number, a row has too many or too few cells, or there are no rows.
    """
    digest: list[str] = []
    hashing = threading.Thread(target=lambda: digest.append(sha256_of(path)))
    hashing.start()
    try:
        values = _parsed(path, layout)
    finally:
        hashing.join()
    return values, digest[0]


def _parsed(path: Path, layout: TableLayout) -> Floats:
    from pandas import read_csv
    from pandas.errors import EmptyDataError, ParserError

    def parse(missing: Sequence[str]) -> Floats:
        frame = read_csv(
            path,
            sep=layout.separator,
            decimal=layout.decimal,
            header=None,
            skiprows=layout.skipped_lines,
            dtype=np.float64,
            na_values=list(missing),
            keep_default_na=False,
            na_filter=bool(missing),
            quoting=3,
            encoding=layout.encoding,
        )
        return frame.to_numpy()

    try:
        try:
            values = parse(())
        except ValueError:
            values = parse(layout.missing)
    except EmptyDataError:
        raise RecordingError("the file holds no rows of numbers", where=path.name) from None
    except (ValueError, ParserError) as error:
        raise _bad_cell(path, layout, str(error)) from None
    if values.shape[1] != len(layout.columns):
        raise _bad_cell(path, layout, "")
    # a sum is one pass without a temporary; it is finite only if all values are
    if not np.isfinite(values.sum()) and np.isinf(values).any():
        raise _bad_cell(path, layout, "")
    return values


def _rows(path: Path, layout: TableLayout) -> Iterator[tuple[int, list[str]]]:
    with path.open(encoding=layout.encoding, errors="replace", newline=None) as file:
        for number, line in enumerate(file, start=1):
            if number > layout.skipped_lines and line.strip():
                yield number, line.rstrip("\r\n").split(layout.separator)


def _bad_cell(path: Path, layout: TableLayout, reason: str) -> RecordingError:
    """Find the first row that can't be read, for the error."""
    width = len(layout.columns)
    number = 0
    for number, cells in _rows(path, layout):
        if len(cells) != width:
            last = not any(later > number for later, _ in _rows(path, layout))
            if last and len(cells) < width and number > layout.skipped_lines + 1:
                return RecordingError(
                    f"the last line has {len(cells)} of {width} columns, so the file was cut off",
                    where=f"{path.name}:{number}",
                    do="copy the whole file again",
                )
            return RecordingError(
                f"the line has {len(cells)} columns where there must be {width}", where=f"{path.name}:{number}"
            )
        for column, cell in enumerate(cells):
            text = cell.strip()
            if text in layout.missing:
                continue
            try:
                fine = bool(np.isfinite(float(text.replace(layout.decimal, "."))))
            except ValueError:
                fine = False
            if not fine:
                shown = text if len(text) <= _LONGEST_QUOTE else text[:_LONGEST_QUOTE] + "..."
                missing = f" (missing is written {layout.missing[0]})" if not text and "" not in layout.missing else ""
                return RecordingError(
                    f"column {column + 1} ({layout.columns[column]}) must be a number, got {shown!r}{missing}",
                    where=f"{path.name}:{number}:{column + 1}",
                )
    if not number:
        return RecordingError("the file holds no rows of numbers", where=path.name)
    return RecordingError(f"the table can't be read ({reason})", where=path.name)


def format_numbers(values: Floats, decimals: int, missing: str = "n/a") -> Iterator[bytes]:
    """Write numbers as tab-separated text with fixed decimals, many rows at a time.

    Every digit of a block is computed at once on whole arrays, which is several times faster than formatting number
    by number.

    Parameters
    ----------
    values : ndarray of shape (rows, columns)
        Numbers; NaN is written as the missing word.
    decimals : int
        Digits after the decimal point, 0 to 9.
    missing : str, optional
        Word for a missing value.

    Yields
    ------
    bytes
        Some rows, each ended by a line feed.

    Raises
    ------
    ValueError
        A value is infinite or too large for the digits.
    """
    for start in range(0, len(values), _ROWS_AT_ONCE):
        yield _formatted(np.asarray(values[start : start + _ROWS_AT_ONCE], dtype=np.float64), decimals, missing)


def _formatted(values: Floats, decimals: int, missing: str) -> bytes:
    rows, columns = values.shape
    absent = np.isnan(values)
    scaled = np.rint(np.where(absent, 0.0, values) * 10.0**decimals)
    if scaled.size and not np.abs(scaled).max() < 2.0**53:
        raise ValueError(f"numbers must be finite and below 2**53 / 10**{decimals} to be written")
    negative = scaled < 0
    rest = np.abs(scaled).astype(np.int64)
    largest = int(rest.max(initial=0))
    if largest < 2**31:
        rest = rest.astype(np.int32)  # type: ignore[assignment]  # halves the time of the divisions
    whole = max(len(str(largest)) - decimals, 1)
    point = 1 if decimals else 0
    width = max(1 + whole + point + decimals, len(missing)) + 1
    text = np.zeros((rows, columns, width), dtype=np.uint8)
    text[:, :, -1] = ord("\t")
    text[:, -1, -1] = ord("\n")
    place = width - 2
    for digit in range(decimals + whole):
        if digit == decimals and decimals:
            text[:, :, place] = ord(".")
            place -= 1
        quotient = rest // 10
        character = (rest - quotient * 10 + ord("0")).astype(np.uint8)
        if digit > decimals:
            character[rest == 0] = 0
        text[:, :, place] = character
        rest = quotient
        place -= 1
    text[:, :, 0][negative] = ord("-")
    if absent.any():
        word = np.zeros(width - 1, dtype=np.uint8)
        word[: len(missing)] = np.frombuffer(missing.encode(), dtype=np.uint8)
        text[absent, :-1] = word
    return text[text != 0].tobytes()
