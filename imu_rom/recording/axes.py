"""How a sensor sits on the body: the plan file's words, and the letters of BIDS.

BIDS writes a frame as three letters for x, y and z: A anterior, P posterior, L left, R right, S superior, I inferior,
``_`` unknown (``"ALS"``: x forward, y left, z up). The plan file writes words (``"x forward, z up"``).

References
----------
Brain Imaging Data Structure 1.9 and later, Motion, "Reference frame description", field ``SpatialAxes``.
"""

from typing import Literal

import numpy as np

__all__ = ["Side", "letters_from_mounting", "mounting_from_letters"]

Side = Literal["left", "right"]

_WORDS = {"A": "forward", "P": "backward", "L": "left", "R": "right", "S": "up", "I": "down"}
_LETTERS = {word: letter for letter, word in _WORDS.items()}
# components forward, left, up: a right-handed frame
_VECTORS = {"A": (1, 0, 0), "P": (-1, 0, 0), "L": (0, 1, 0), "R": (0, -1, 0), "S": (0, 0, 1), "I": (0, 0, -1)}
_OPPOSITE = {"left": "right", "right": "left"}


def _letter_of(vector: tuple[int, ...]) -> str | None:
    return next((letter for letter, each in _VECTORS.items() if each == vector), None)


def _completed(letters: list[str | None]) -> str | None:
    """Fill in one unknown axis; None where the three are no right-handed frame."""
    known = [index for index, letter in enumerate(letters) if letter is not None]
    if len(known) < 2:
        return None
    full = list(letters)
    for index in range(3):
        if full[index] is None:
            before, after = letters[(index + 1) % 3], letters[(index + 2) % 3]
            cross = np.cross(_VECTORS[str(before)], _VECTORS[str(after)])
            full[index] = _letter_of(tuple(int(each) for each in cross))
    if any(letter is None for letter in full):
        return None
    determinant = round(float(np.linalg.det(np.array([_VECTORS[str(letter)] for letter in full], dtype=float))))
    return "".join(str(letter) for letter in full) if determinant == 1 else None


def mounting_from_letters(letters: str) -> str | None:
    """Put a frame's three letters in words.

    Parameters
    ----------
    letters : str
        ``SpatialAxes`` of a BIDS reference frame, in the order x, y, z.

    Returns
    -------
    str or None
        ``"x forward, y left, z up"``, or None where the letters are no right-handed frame with at least two known
        axes.
    """
    letters = letters.strip().upper()
    if len(letters) != 3 or any(letter not in {*_VECTORS, "_"} for letter in letters):
        return None
    full = _completed([None if letter == "_" else letter for letter in letters])
    if full is None:
        return None
    return ", ".join(f"{axis} {_WORDS[letter]}" for axis, letter in zip("xyz", full, strict=True))


def letters_from_mounting(mounting: str, side: Side | None = None) -> str | None:
    """Three letters for a mounting in words.

    Parameters
    ----------
    mounting : str
        Two or three axes with their directions (``"z outward, x up"``).
    side : {"left", "right"} or None
        Side of the body, needed for outward and inward.

    Returns
    -------
    str or None
        ``SpatialAxes``, or None where the words are no right-handed frame or need a side that isn't given.
    """
    letters: list[str | None] = [None, None, None]
    for part in mounting.lower().split(","):
        words = part.split()
        if len(words) != 2 or words[0] not in {"x", "y", "z"}:
            return None
        axis, direction = words
        if side is not None and direction in {"outward", "inward"}:
            direction = side if direction == "outward" else _OPPOSITE[side]
        if direction not in _LETTERS:
            return None
        letters["xyz".index(axis)] = _LETTERS[direction]
    return _completed(letters)
