"""Tables of numbers in text files: read in bulk, and a bad cell named by line and column.

Reading is one call of pandas' C parser to float64 with its test for missing words off, which is the fastest way through
a clean file; only when that fails is the file read again, slower, to tell missing values from faults.
"""

import csv
import hashlib
import threading
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from imu_rom.errors import RecordingError
from imu_rom.recording.model import Floats

__all__ = ["Table", "TableLayout", "check_is_text", "read_table", "sha256_of", "side_by_side"]

_LONGEST_QUOTE = 40
_HEAD_BYTES = 65536
# what no text holds; ten more bytes that are rare in text would only slow the test down
_NOT_TEXT = bytes([*range(9), *range(14, 32), 127])


@dataclass(frozen=True)
class TableLayout:
    """How a table stands in its file.

    Parameters
    ----------
    separator : str
        One character between cells.
    columns : tuple of str
        Names of all columns, for the errors.
    numbers : tuple of int or None
        Columns to read as numbers, in rising order; None: all.
    texts : tuple of int
        Columns to read as text.
    decimal : str
        Decimal point or comma.
    skipped_lines : int
        Lines before the first row.
    missing : tuple of str
        Words that stand for a missing number; the empty word, where an empty cell is one.
    quoted : bool
        Cells may stand in double quotes.
    encoding : str
        Text encoding.
    width_source : str
        What sets the number of columns, for the errors.
    """

    separator: str
    columns: tuple[str, ...]
    numbers: tuple[int, ...] | None = None
    texts: tuple[int, ...] = ()
    decimal: str = "."
    skipped_lines: int = 0
    missing: tuple[str, ...] = ("n/a",)
    quoted: bool = False
    encoding: str = "utf-8"
    width_source: str = ""


@dataclass(frozen=True)
class Table:
    """What a table holds.

    Parameters
    ----------
    numbers : mapping of int to ndarray of float64 of shape (rows,)
        Number columns by their place in the file; NaN where a value is missing.
    texts : mapping of int to ndarray of str of shape (rows,)
        Text columns by their place in the file.
    sha256 : str
        Digest of the file's bytes, taken beside the reading.
    """

    numbers: Mapping[int, Floats]
    texts: Mapping[int, NDArray[np.object_]]
    sha256: str


def sha256_of(path: Path) -> str:
    """Take the SHA-256 of a file's bytes.

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


def check_is_text(path: Path, largest_mb: float) -> bytes:
    """Refuse a file that is too large, empty, or something else than text, before it is read.

    Parameters
    ----------
    path : Path
        File to look at; only its first 64 KiB are read.
    largest_mb : float
        Largest size in megabytes (10^6 bytes).

    Returns
    -------
    bytes
        The first 64 KiB.

    Raises
    ------
    RecordingError
        It is missing, too large, empty, binary or in an encoding that is not read here.
    """
    try:
        size_mb = path.stat().st_size / 1e6
        if size_mb > largest_mb:
            raise RecordingError(
                f"the file has {size_mb:.0f} MB, more than the {largest_mb:g} MB that are read at most",
                where=path.name,
                do="cut it to the session, or raise the setting reading.largest_file_mb",
            )
        if not path.is_file():
            raise RecordingError("is no file", where=str(path))
        with path.open("rb") as file:
            head = file.read(_HEAD_BYTES)
    except FileNotFoundError:
        raise RecordingError("there is no such file", where=str(path)) from None
    except OSError as error:
        raise RecordingError(f"the file can't be read ({error.strerror})", where=str(path)) from None
    if not head.strip():
        raise RecordingError("the file is empty", where=path.name)
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise RecordingError("the file is text in UTF-16", where=path.name, do="save it as UTF-8")
    if len(head.translate(None, _NOT_TEXT)) < len(head):
        raise RecordingError("the file is not text but binary", where=path.name, do="export the recording as text")
    return head


def read_table(path: Path, layout: TableLayout) -> Table:
    """Read a table in which every cell of the number columns is a number or missing.

    Parameters
    ----------
    path : Path
        Text file.
    layout : TableLayout
        How it is laid out.

    Returns
    -------
    Table
        Its columns.

    Raises
    ------
    RecordingError
        A cell is no number, a row has too many or too few cells, or there are no rows.
    """
    digest: list[str] = []
    hashing = threading.Thread(target=lambda: digest.append(sha256_of(path)), daemon=True)
    hashing.start()
    try:
        _check_last_line(path, layout)
        numbers, texts = _parsed(path, layout)
    finally:
        hashing.join()
    return Table(numbers, texts, digest[0])


def side_by_side(columns: Sequence[Floats], factors: Sequence[float]) -> Floats:
    """Put columns side by side, each times its factor, in one pass.

    Parameters
    ----------
    columns : sequence of ndarray of shape (n,)
        Columns of a table.
    factors : sequence of float
        SI units in one unit of each column.

    Returns
    -------
    ndarray of shape (n, columns)
        Row by row in memory.
    """
    together = np.empty((len(columns[0]), len(columns)))
    for index, (column, factor) in enumerate(zip(columns, factors, strict=True)):
        np.multiply(column, factor, out=together[:, index])
    return together


def _parsed(path: Path, layout: TableLayout) -> tuple[dict[int, Floats], dict[int, NDArray[np.object_]]]:
    from pandas import read_csv  # noqa: PLC0415  # heavy
    from pandas.errors import EmptyDataError, ParserError  # noqa: PLC0415  # heavy

    width = len(layout.columns)
    numbers = tuple(range(width)) if layout.numbers is None else layout.numbers
    used = sorted({*numbers, *layout.texts})
    options: dict[str, Any] = {
        "sep": layout.separator,
        "decimal": layout.decimal,
        "header": None,
        "skiprows": layout.skipped_lines,
        "usecols": used if len(used) < width else None,
        "dtype": {**dict.fromkeys(layout.texts, str), **dict.fromkeys(numbers, np.float64)},
        "keep_default_na": False,
        "quoting": csv.QUOTE_MINIMAL if layout.quoted else csv.QUOTE_NONE,
        "encoding": layout.encoding,
    }

    def parse(missing: Sequence[str]) -> Any:  # noqa: ANN401  # a DataFrame
        words: Any = {column: list(missing) for column in numbers} if missing else None
        return read_csv(path, na_values=words, na_filter=bool(missing), **options)

    try:
        try:
            frame = parse(())
        except ValueError:
            frame = parse(layout.missing)
    except EmptyDataError:
        raise RecordingError("the file holds no rows of numbers", where=path.name) from None
    except (ValueError, ParserError) as error:
        if isinstance(error, ParserError) and str(error).endswith("C error: out of memory"):
            # nothing is wrong with the file
            raise MemoryError from None
        raise _bad_cell(path, layout, numbers, str(error)) from None
    if options["usecols"] is None and frame.shape[1] != width:
        raise _bad_cell(path, layout, numbers, "")
    texts = {column: frame[column].to_numpy(dtype=object) for column in layout.texts}
    # views of the frame's columns, no copies
    values: dict[int, Floats] = {column: frame[column].to_numpy() for column in numbers}
    # a sum is one pass without a temporary; it is finite only if all values are
    unfinished = [column for column in numbers if not np.isfinite(values[column].sum())]
    short = "" in layout.missing and numbers[-1] in unfinished
    if short or any(np.isinf(values[column]).any() for column in unfinished):
        fault = _bad_cell(path, layout, numbers, "")
        if fault.what:
            raise fault
    return values, texts


def _check_last_line(path: Path, layout: TableLayout) -> None:
    """Refuse a file that stops within a row, as one that was cut off does."""
    with path.open("rb") as file:
        file.seek(max(path.stat().st_size - _HEAD_BYTES, 0))
        tail = file.read()
    lines = tail.rstrip(b"\r\n").splitlines()
    reason = ""
    if tail.endswith(b"\0"):
        reason = "the file ends in zero bytes"
    elif len(lines) > 1:
        width = lines[-1].count(layout.separator.encode())
        if width < min(lines[-2].count(layout.separator.encode()), len(layout.columns) - 1):
            reason = f"the last line has {width + 1} of {len(layout.columns)} columns"
    if reason:
        raise RecordingError(f"{reason}, so it was cut off", where=path.name, do="copy the whole file again")


def _rows(path: Path, layout: TableLayout) -> Iterator[tuple[int, list[str]]]:
    with path.open(encoding=layout.encoding, errors="replace", newline=None) as file:
        for number, line in enumerate(file, start=1):
            if number > layout.skipped_lines and line.strip():
                cells = line.rstrip("\r\n").split(layout.separator)
                if layout.quoted and '"' in line:
                    (cells,) = csv.reader([line.rstrip("\r\n")], delimiter=layout.separator)
                yield number, cells


def _bad_cell(path: Path, layout: TableLayout, numbers: Sequence[int], reason: str) -> RecordingError:
    """Find the first row that can't be read, for the error; one without a sentence where there is none."""
    width = len(layout.columns)
    number = 0
    for number, cells in _rows(path, layout):
        if len(cells) != width:
            return RecordingError(
                f"the line has {len(cells)} columns where there must be {width}{layout.width_source}",
                where=f"{path.name}:{number}",
            )
        for column in numbers:
            text = cells[column].strip()
            if text in layout.missing or _is_number(text, layout.decimal):
                continue
            shown = text if len(text) <= _LONGEST_QUOTE else text[:_LONGEST_QUOTE] + "..."
            like_missing = text.casefold() in {"", "na", "nan", "null", "none"}
            missing = f" (missing is written {layout.missing[0]})" if like_missing else ""
            return RecordingError(
                f"column {column + 1} ({layout.columns[column]}) must be a number, got {shown!r}{missing}",
                where=f"{path.name}:{number}:{column + 1}",
            )
    if not number:
        return RecordingError("the file holds no rows of numbers", where=path.name)
    return RecordingError(f"the table can't be read ({reason})" if reason else "", where=path.name)


def _is_number(text: str, decimal: str) -> bool:
    try:
        return bool(np.isfinite(float(text.replace(decimal, "."))))
    except ValueError:
        return False
