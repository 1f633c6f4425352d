r"""Cells of text tables: numbers that lose no digit, and text that no spreadsheet takes for a formula.

A text that begins with one of ``= + - @``, a tab or a line end is run as a formula by spreadsheets ("CSV injection",
OWASP). It gets an apostrophe in front, and so does one that begins with an apostrophe; reading takes one away again.
Numbers are written as numbers, a minus in front or not.
"""

import math
from collections.abc import Iterable
from datetime import date, datetime, time

from imu_rom.exchange.plain_values import fixed

__all__ = ["TRUE", "cell_of", "defused", "line_of", "number_text", "quoted", "value_of", "without_apostrophe"]

# the wide forms are taken for the narrow ones by spreadsheets in East Asia
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
APOSTROPHE = "'"
DECIMALS = {"s": 3, "deg": 3, "deg.s": 3}
TRUE, FALSE = "yes", "no"


def defused(text: str) -> str:
    """Write text so that a spreadsheet shows it and runs nothing.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        With an apostrophe in front where it begins as a formula does, or with an apostrophe.
    """
    return APOSTROPHE + text if text.startswith((*FORMULA_STARTS, APOSTROPHE)) else text


def without_apostrophe(cell: str) -> str:
    """Read text that `defused` wrote.

    Parameters
    ----------
    cell : str
        The cell.

    Returns
    -------
    str
        The text as it was.
    """
    return cell[1:] if cell.startswith(APOSTROPHE) and defused(cell[1:]) == cell else cell


def number_text(value: float, unit: str = "") -> str:
    """Write a number with the decimals of its unit, or with as many as it has.

    Parameters
    ----------
    value : float
        Finite.
    unit : str
        Seconds and degrees have 3 decimals, unless that would lose a digit.

    Returns
    -------
    str
        Reads back as the same number.
    """
    decimals = DECIMALS.get(unit)
    if decimals is not None and (whole := fixed(value, decimals)) == value:
        return f"{whole:.{decimals}f}"
    return repr(float(value) + 0.0)


def cell_of(value: object, unit: str = "") -> str:
    """Write a value as a cell.

    Parameters
    ----------
    value : str, bool, int, float, date, time or None
        None, and a number without bound, are an empty cell.
    unit : str
        Of a number.

    Returns
    -------
    str
        The cell; text that begins as a formula is defused.
    """
    if value is None or (isinstance(value, float) and not math.isfinite(value)):
        return ""
    if isinstance(value, bool):
        return TRUE if value else FALSE
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return number_text(value, unit)
    if isinstance(value, date | datetime | time):
        return value.isoformat()
    return defused(str(value))


def quoted(cell: str) -> str:
    """Quote a cell where it needs it (RFC 4180).

    Parameters
    ----------
    cell : str
        The cell; half a character of two, which JSON can hold and UTF-8 can't, becomes a question mark.

    Returns
    -------
    str
        In quotes where it holds a comma, a quote or any line end.
    """
    whole = cell.encode("utf-8", errors="replace").decode()
    # csv.writer leaves a carriage return by itself unquoted, which its reader takes for a line's end
    return '"' + whole.replace('"', '""') + '"' if set(whole) & set(',"\r\n') else whole


def line_of(cells: Iterable[str]) -> str:
    """Write a line of comma-separated text.

    Parameters
    ----------
    cells : iterable of str
        What `cell_of` returned.

    Returns
    -------
    str
        Ends in a line feed.
    """
    return ",".join(quoted(each) for each in cells) + "\n"


def value_of(cell: str, kind: str) -> str | float | int | bool | None:
    """Read a cell.

    Parameters
    ----------
    cell : str
        As `cell_of` wrote it.
    kind : {"text", "number", "whole number", "yes or no"}
        What its column holds.

    Returns
    -------
    str, float, int, bool or None
        None for an empty cell.

    Raises
    ------
    ValueError
        It is nothing of that kind; the message says what it must be.
    """
    if cell == "":
        return None
    if kind == "yes or no":
        if cell not in {TRUE, FALSE}:
            raise ValueError(f"{TRUE} or {FALSE}")
        return cell == TRUE
    if kind in {"number", "whole number"}:
        try:
            value = int(cell) if kind == "whole number" else float(cell)
        except ValueError:
            raise ValueError(f"a {kind}") from None
        if not math.isfinite(value):
            raise ValueError(f"a finite {kind}")
        return value
    return without_apostrophe(cell)
