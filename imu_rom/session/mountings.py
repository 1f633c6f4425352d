"""How the sensors sit on the body, as the plan or the recording declares it."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.exercise import Exercise
from imu_rom.motion.mounting import mounting_rotation
from imu_rom.recording.model import Recording

__all__ = ["declared_mountings", "mounting_rotations"]

Floats = NDArray[np.float64]


def declared_mountings(exercise: Exercise, recording: Recording) -> tuple[dict[str, str], str]:
    """Give mountings by tracked point: the plan's, else the recording's.

    Parameters
    ----------
    exercise : Exercise
        With its mounting, keyed by tracked point.
    recording : Recording
        With each sensor's declared axes.

    Returns
    -------
    mountings : dict of str to str
        Empty where neither declares any.
    source : str
        "plan mounting" or "recording mounting".
    """
    points = exercise.tracked_points
    planned = {point: exercise.mounting[point] for point in points if point in exercise.mounting}
    if planned:
        return planned, "plan mounting"
    recorded = {point: recording.sensor(point).mounting for point in points}
    return {point: words for point, words in recorded.items() if words}, "recording mounting"


def mounting_rotations(mountings: Mapping[str, str], exercise: Exercise) -> tuple[Floats | None, Floats | None]:
    """Give the declared mountings of both sensors as rotations.

    Parameters
    ----------
    mountings : mapping of str to str
        By tracked point, from `declared_mountings`.
    exercise : Exercise
        With both tracked points and the side.

    Returns
    -------
    proximal, distal : ndarray of shape (3, 3), or None
        From sensor to segment; None for one that is not declared.
    """
    proximal, distal = (
        mounting_rotation(mountings[point], exercise.side) if point in mountings else None
        for point in (exercise.proximal, exercise.distal)
    )
    return proximal, distal
