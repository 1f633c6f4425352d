"""Numbers as tab-separated text, many rows at a time."""

from collections.abc import Iterator

import numpy as np

from imu_rom.recording.model import Floats

__all__ = ["format_numbers"]

_ROWS_AT_ONCE = 20_000


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
        rest = rest.astype(np.int32)  # halves the time of the divisions
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
    return bytes(text[text != 0].tobytes())
