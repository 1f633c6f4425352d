"""What a plan file says in words instead of numbers: windows of the end range, and how often sensors are worn."""

import math
import re
from collections.abc import Callable

from pydantic_core import PydanticCustomError

__all__ = ["RECORD_WORDS", "WINDOW_WORDS", "SharesOfOwnRange", "sessions_per_week", "window"]

WINDOW_WORDS = "[low, high], 'at least 5', '80 % of own range' or '80 to 100 % of own range'"
"""How an end range can be written."""

RECORD_WORDS = "'2 sessions a week' or 'every session'"
"""How it can be written how many sessions are recorded."""

_NUMBER = r"[+-]?\d+(?:\.\d+)?"
_AT_LEAST = re.compile(rf"at least ({_NUMBER})(?: deg)?")
_SHARE = re.compile(rf"(?:at least )?({_NUMBER}) ?% of own range")
_SHARES = re.compile(rf"({_NUMBER})(?: ?%)? to ({_NUMBER}) ?% of own range")
_SESSIONS = re.compile(r"(\d+(?:\.\d+)?) sessions? a week")


class SharesOfOwnRange(list[float]):
    """Edges of a window as shares of the person's own range, where other windows are degrees."""


def window(value: object, read_list: Callable[[object], list[float]]) -> list[float]:
    """Read an end range that is written in numbers or in words.

    Parameters
    ----------
    value : object
        As ``tomllib`` gives it.
    read_list : callable
        What reads numbers in brackets.

    Returns
    -------
    list of float
        Both edges in degrees, or `SharesOfOwnRange`; the upper one may be infinite.

    Raises
    ------
    pydantic_core.PydanticCustomError
        These words are no window.
    """
    if not isinstance(value, str):
        return read_list(value)
    text = " ".join(value.split())
    if match := _AT_LEAST.fullmatch(text):
        return [float(match[1]), math.inf]
    if match := _SHARE.fullmatch(text):
        return SharesOfOwnRange([float(match[1]) / 100, math.inf])
    if match := _SHARES.fullmatch(text):
        return SharesOfOwnRange([float(match[1]) / 100, float(match[2]) / 100])
    raise PydanticCustomError("words", "{must}", {"must": f"must be {WINDOW_WORDS}"})


def sessions_per_week(words: object) -> float | None:
    """Read how many sessions a week are recorded.

    Parameters
    ----------
    words : object
        As ``tomllib`` gives it.

    Returns
    -------
    float or None
        None: every session.

    Raises
    ------
    pydantic_core.PydanticCustomError
        These words say no such number.
    """
    if isinstance(words, str):
        text = " ".join(words.split())
        match = _SESSIONS.fullmatch(text)
        if match and 0 < float(match[1]) <= 99:
            return float(match[1])
        if text == "every session":
            return None
    raise PydanticCustomError("words", "{must}", {"must": f"must be {RECORD_WORDS}"})
