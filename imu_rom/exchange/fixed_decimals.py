"""Long tables of numbers as text with a fixed number of decimals, whole columns at a time.

A recording of an hour has hundreds of thousands of samples; formatting them one by one in Python would take longer than
the analysis. Here the digits of a whole block of rows are computed as arrays of bytes.

Rounding: each number is scaled by the power of ten and rounded to the nearest integer, halves to even. That equals
Python's ``format(x, ".3f")`` except where ``x`` lies within a rounding error (relative 2e-16) of the middle between two
neighbouring decimals, where the neighbour on the other side may be written. Minus zero is written as zero.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

__all__ = ["NumberColumn", "WordColumn", "table_blocks", "write_table"]

# rows formatted at once: the block's bytes stay within a processor's cache, and memory does not grow with the table
ROWS_AT_ONCE = 16_384
# int64 holds every scaled number below this, and float64 every integer
LARGEST_SCALED = 2.0**53

Bytes = NDArray[np.uint8]
_NOTHING = np.uint8(0)
_MINUS, _POINT, _ZERO, _COMMA, _NEWLINE = (np.uint8(ord(each)) for each in "-.0,\n")


@dataclass(frozen=True)
class NumberColumn:
    """One column of numbers.

    Parameters
    ----------
    name : str
        Heading.
    values : ndarray of shape (n,)
        Finite numbers; NaN is written as an empty cell.
    decimals : int
        Digits behind the point, 0 to 9.
    """

    name: str
    values: NDArray[np.float64]
    decimals: int


@dataclass(frozen=True)
class WordColumn:
    """One column of words out of a short list.

    Parameters
    ----------
    name : str
        Heading.
    index : ndarray of int of shape (n,)
        Which word stands in each row.
    words : sequence of str
        The words; they hold no comma, quote or line end.
    quoted : bool
        True: whoever made the column has quoted them where they need it.
    """

    name: str
    index: NDArray[np.integer]
    words: Sequence[str]
    quoted: bool = False


def _number_cells(values: NDArray[np.float64], decimals: int) -> Bytes:
    """Right-aligned digits of each number, shape (rows, width); unused places are 0."""
    scaled = np.rint(values * 10.0**decimals)
    empty = np.isnan(scaled)
    if empty.any():
        scaled[empty] = 0.0
    largest = float(np.abs(scaled).max(initial=0.0))
    if not largest < LARGEST_SCALED:
        raise ValueError(f"a number is too large to be written with {decimals} decimals, or infinite")
    negative = scaled < 0
    # division of 32-bit integers by a constant is several times as fast as that of 64-bit ones
    kind = np.uint32 if largest < 2**32 else np.uint64
    rest: NDArray[np.unsignedinteger] = np.abs(scaled).astype(kind)
    ten = kind(10)
    digits = max(len(str(int(largest))), decimals + 1)
    sign, point = int(negative.any()), int(decimals > 0)
    cells = np.zeros((len(values), sign + digits + point), dtype=np.uint8)
    place = cells.shape[1] - 1
    wrote_minus = ~negative
    for digit in range(digits):
        if digit == decimals and point:
            cells[:, place] = _POINT
            place -= 1
        tenth = rest // ten
        text = (rest - tenth * ten).astype(np.uint8) + _ZERO
        if digit > decimals:
            # a leading zero is not written; the first free place takes the minus
            used = rest > 0
            text *= used
            if sign:
                due = ~(used | wrote_minus)
                text[due] = _MINUS
                wrote_minus |= due
        cells[:, place] = text
        rest = tenth
        place -= 1
    if sign:
        cells[:, 0] = np.where(wrote_minus, _NOTHING, _MINUS)
    if empty.any():
        cells[empty] = _NOTHING
    return cells


def _word_table(column: WordColumn) -> Bytes:
    words = column.words
    if not column.quoted and any(set(word) & set(',"\r\n') for word in words):
        raise ValueError(f"words of a table must hold no comma, quote or line end, got {list(words)!r}")
    coded = [word.encode() for word in words]
    table = np.zeros((len(coded), max((len(each) for each in coded), default=0)), dtype=np.uint8)
    for row, text in zip(table, coded, strict=True):
        row[: len(text)] = np.frombuffer(text, dtype=np.uint8)
    return table


def table_blocks(columns: Sequence[NumberColumn | WordColumn]) -> Iterator[bytes]:
    r"""Format a table as comma-separated text, a block of rows at a time.

    Parameters
    ----------
    columns : sequence of NumberColumn or WordColumn
        At least one column, all of the same length.

    Yields
    ------
    bytes
        First the heading line, then blocks of whole lines; UTF-8, lines end in ``\n``.

    Raises
    ------
    ValueError
        Columns differ in length, a number is infinite or too large, or a word needs quoting.
    """
    lengths = {len(each.values if isinstance(each, NumberColumn) else each.index) for each in columns}
    if len(lengths) != 1:
        raise ValueError(f"all columns of a table must have the same length, got {sorted(lengths)}")
    (rows,) = lengths
    tables = {each.name: _word_table(each) for each in columns if isinstance(each, WordColumn)}
    yield (",".join(each.name for each in columns) + "\n").encode()
    for first in range(0, rows, ROWS_AT_ONCE):
        block = slice(first, first + ROWS_AT_ONCE)
        cells = [
            _number_cells(each.values[block], each.decimals)
            if isinstance(each, NumberColumn)
            else tables[each.name][each.index[block]]
            for each in columns
        ]
        line = np.empty((len(cells[0]), sum(each.shape[1] + 1 for each in cells)), dtype=np.uint8)
        place = 0
        for each in cells:
            line[:, place : place + each.shape[1]] = each
            place += each.shape[1] + 1
            line[:, place - 1] = _COMMA
        line[:, -1] = _NEWLINE
        text = line.reshape(-1)
        yield text[text != _NOTHING].tobytes()


def write_table(file: BinaryIO, columns: Sequence[NumberColumn | WordColumn]) -> None:
    """Write a table to an open file, a block of rows at a time.

    Parameters
    ----------
    file : binary file
        Where the text goes.
    columns : sequence of NumberColumn or WordColumn
        As for `table_blocks`.

    Raises
    ------
    ValueError
        As for `table_blocks`.
    """
    file.writelines(table_blocks(columns))
