"""One thing wrong with a plan, named by its field."""

import difflib
from collections.abc import Iterable
from dataclasses import dataclass

__all__ = ["FieldPath", "PlanFault", "nearest"]

FieldPath = tuple[str | int, ...]


@dataclass(frozen=True)
class PlanFault:
    """One thing wrong with one field of a plan.

    Parameters
    ----------
    path : tuple of str and int
        Keys and list indices that lead to the field, in the words of the plan file.
    must : str
        What it must be.
    got : str
        What it was.
    do : str
        What to do about it; may be empty.
    at_name : bool
        True where the field's name is wrong, not its value.
    """

    path: FieldPath
    must: str
    got: str
    do: str = ""
    at_name: bool = False


def nearest(word: str, known: Iterable[str]) -> str:
    """Advice that names the known word most like an unknown one.

    Parameters
    ----------
    word : str
        The unknown word.
    known : iterable of str
        The known ones.

    Returns
    -------
    str
        A half sentence; empty where nothing is alike.
    """
    matches = difflib.get_close_matches(word.lower(), list(known), n=1)
    return f"perhaps {matches[0]!r} was meant" if matches else ""
