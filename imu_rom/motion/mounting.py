"""How a sensor sits on a body segment, said in words: ``"z outward, x up"``."""

import re

import numpy as np
from numpy.typing import NDArray

from imu_rom.errors import PlanError
from imu_rom.motion.joints import Side

__all__ = ["DIRECTIONS", "mounting_rotation"]

# columns of the body frame: X forward, Y up, Z right
_BODY_DIRECTIONS = {
    "forward": (1, 0, 0),
    "backward": (-1, 0, 0),
    "up": (0, 1, 0),
    "down": (0, -1, 0),
    "right": (0, 0, 1),
    "left": (0, 0, -1),
}
_OPPOSITE = {"left": "right", "right": "left"}

DIRECTIONS = (*_BODY_DIRECTIONS, "outward", "inward")

_PART = re.compile(r"([xyz])\s+([a-z]+)", re.ASCII)


def _declared(text: str, side: Side) -> dict[int, NDArray[np.float64]]:
    declared: dict[int, NDArray[np.float64]] = {}
    for part in text.split(","):
        match = _PART.fullmatch(part.strip().lower())
        if match is None or match[2] not in DIRECTIONS:
            raise PlanError(
                f"mounting must be two axes with a direction each, such as 'z outward, x up' (directions: "
                f"{', '.join(DIRECTIONS)}), got {text!r}"
            )
        index = "xyz".index(match[1])
        if index in declared:
            raise PlanError(f"mounting must name each axis once, got axis {match[1]} twice in {text!r}")
        word = {"outward": side, "inward": _OPPOSITE[side]}.get(match[2], match[2])
        declared[index] = np.array(_BODY_DIRECTIONS[word], dtype=np.float64)
    return declared


def mounting_rotation(text: str, side: Side) -> NDArray[np.float64]:
    """Rotation from a sensor's axes to the body's, from a declared mounting.

    Each part of the text says in which body direction one sensor axis points while the joint is in its zero pose, as
    `imu_rom.motion.joints` has it. Two axes fix the third, because sensor axes are right-handed.

    Parameters
    ----------
    text : str
        Two or three parts joined by commas, each an axis (x, y, z) and one of `DIRECTIONS`.
    side : {"left", "right"}
        Side of the body on which the sensor is worn; decides what outward and inward are.

    Returns
    -------
    ndarray of float64, shape (3, 3)
        Matrix that takes a column of sensor components to body components (X forward, Y up, Z right).

    Raises
    ------
    PlanError
        The text can't be read, names an axis twice, or its directions are not at right angles and right-handed.

    Examples
    --------
    >>> mounting_rotation("z outward, x up", "right") @ [0, 0, 1]
    array([0., 0., 1.])
    """
    declared = _declared(text, side)
    if len(declared) < 2:
        raise PlanError(f"mounting must name two axes, so that the third follows, got only one in {text!r}")
    columns = np.zeros((3, 3))
    for index, direction in declared.items():
        columns[:, index] = direction
    if len(declared) == 2:
        (missing,) = set(range(3)) - set(declared)
        columns[:, missing] = np.cross(columns[:, (missing + 1) % 3], columns[:, (missing + 2) % 3])
    # whole numbers, so the determinant is exact enough to tell 1 from 0 and -1
    determinant = round(float(np.linalg.det(columns)))
    if determinant == 0:
        raise PlanError(f"mounting must name directions at right angles to each other, got {text!r}")
    if determinant < 0:
        raise PlanError(f"mounting must be right-handed (x to y to z), got a left-handed one in {text!r}")
    return columns
