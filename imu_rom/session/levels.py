"""Where repetitions start and end, one after the other: tells a slipped sensor from a person who stands otherwise."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.repetitions import RepetitionSet

__all__ = ["Levels", "levels_of"]

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Levels:
    """Start and end range of each repetition, in time order.

    Parameters
    ----------
    time_s : ndarray of shape (k,)
        When the end range was reached.
    start_deg, end_deg : ndarray of shape (k,)
        Angles; of several exercises each from the median of its own.
    """

    time_s: Floats
    start_deg: Floats
    end_deg: Floats


def levels_of(exercises: Sequence[Sequence[RepetitionSet]]) -> Levels:
    """Gather the levels of all repetitions.

    Parameters
    ----------
    exercises : sequence of sequence of RepetitionSet
        The sets of each exercise. Another exercise may start and end elsewhere, so of several each is counted from its
        own median; a step between two exercises then can't be seen, and one within an exercise looks smaller than it
        is, which leaves more undecided, never less.

    Returns
    -------
    Levels
        Partial repetitions too: a slip in the middle of a set makes whole repetitions look partial.
    """
    several = [[each for one in sets for each in one.repetitions] for sets in exercises]
    time_s = np.array([each.end_range_s for one in several for each in one])
    columns = []
    for name in ("start_deg", "end_range_deg"):
        values = [np.array([getattr(each, name) for each in one]) for one in several if one]
        if len(several) > 1:
            values = [each - np.median(each) for each in values]
        columns.append(np.concatenate(values) if values else np.array([]))
    order = np.argsort(time_s, kind="stable")
    return Levels(time_s[order], columns[0][order], columns[1][order])
