"""The verdict on one set: questions asked in order, each answered jointly over the error that its repetitions share.

An error of the zero moves all repetitions of a set together, and so does slow error within it, so whether one reached
its window says much about whether the next did. Given that common error the repetitions are independent; the
probabilities below are averages over it. Repetitions that could not be judged may have gone either way: each
probability then has a lowest and a highest value, and the answer stands only if both give the same.
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.conformance import (
    Answer,
    answer,
    at_least_probability,
    conformance_probability,
    shared_error_nodes,
)
from imu_rom.dose.exercise import Decide
from imu_rom.dose.exposure import ExposureCurve

__all__ = ["JointProbability", "SetVerdict", "joint_reached", "joint_time", "joint_within_limit", "set_verdict"]

Floats = NDArray[np.float64]
SetVerdict = Literal["met", "short", "over", "undecided", "not prescribed"]


@dataclass(frozen=True)
class JointProbability:
    """A probability, and the range in which it lies whatever happened where nothing could be judged.

    Parameters
    ----------
    measured : float
        From what was measured, taken at its word.
    low, high : float
        With everything that could not be judged against, and for, the event.
    """

    measured: float
    low: float
    high: float

    def answer(self, decide: float) -> Answer:
        """Answer that holds whatever happened where nothing could be judged.

        Parameters
        ----------
        decide : float
            How sure is sure.

        Returns
        -------
        {"yes", "no", "undecided"}
            The answer.
        """
        low, high = answer(self.low, decide), answer(self.high, decide)
        return low if low == high else "undecided"


def joint_reached(
    reached_deg: Floats,
    own_uncertainty_deg: Floats,
    lower_deg: float,
    needed: int,
    common_uncertainty_deg: float,
    *,
    judged: NDArray[np.bool_],
    could_count: int,
) -> JointProbability:
    """Probability that at least so many repetitions of a set reached an angle.

    Parameters
    ----------
    reached_deg, own_uncertainty_deg : ndarray of shape (n,)
        End range of each complete repetition and the standard uncertainty that is its own, in degrees.
    lower_deg : float
        Angle to be reached; minus infinity where being done is enough.
    needed : int
        How many must reach it.
    common_uncertainty_deg : float
        Standard uncertainty of the error common to the set.
    judged : ndarray of bool of shape (n,)
        False where a repetition could not be judged.
    could_count : int
        Repetitions that may have reached it unseen, those not judged included.

    Returns
    -------
    JointProbability
        Joint over the common error.
    """
    nodes = shared_error_nodes(common_uncertainty_deg)
    each = conformance_probability(reached_deg + nodes[:, None], own_uncertainty_deg, lower=lower_deg)
    measured = at_least_probability(each, needed)
    if could_count == 0:
        return JointProbability(measured, measured, measured)
    known = each[:, judged]
    return JointProbability(
        measured=measured,
        low=at_least_probability(known, needed),
        high=at_least_probability(known, needed - could_count),
    )


def joint_within_limit(
    level_deg: Floats,
    own_uncertainty_deg: Floats,
    limit_deg: float,
    common_uncertainty_deg: float,
    *,
    judged: NDArray[np.bool_],
    more_unseen: bool,
) -> JointProbability:
    """Probability that no repetition of a set passed the limit.

    Parameters
    ----------
    level_deg, own_uncertainty_deg : ndarray of shape (n,)
        Angle that each repetition, partial ones included, kept for the time that counts, and the standard uncertainty
        that is its own, in degrees.
    limit_deg : float
        Angle not to be passed.
    common_uncertainty_deg : float
        Standard uncertainty of the error common to the set.
    judged : ndarray of bool of shape (n,)
        False where a repetition could not be judged.
    more_unseen : bool
        Whether whole repetitions may have gone unseen.

    Returns
    -------
    JointProbability
        Joint over the common error.
    """
    nodes = shared_error_nodes(common_uncertainty_deg)
    each = conformance_probability(level_deg + nodes[:, None], own_uncertainty_deg, upper=limit_deg)
    measured = float(each.prod(axis=1).mean())
    if judged.all() and not more_unseen:
        return JointProbability(measured, measured, measured)
    return JointProbability(measured, low=0.0, high=float(each[:, judged].prod(axis=1).mean()))


def joint_time(
    curve: ExposureCurve, threshold_deg: float, window_s: tuple[float, float], common_uncertainty_deg: float
) -> tuple[JointProbability, JointProbability]:
    """Give the probabilities that the time past a threshold lies above, and below, a window.

    Parameters
    ----------
    curve : ExposureCurve
        Time past each angle in the set; its time without data may be past the threshold or not.
    threshold_deg : float
        Compressive angle in degrees.
    window_s : tuple of float
        Lowest and highest prescribed time in seconds.
    common_uncertainty_deg : float
        Standard uncertainty of the error common to the set.

    Returns
    -------
    above, below : JointProbability
        Exact but for the curve's steps: the time past the threshold exceeds the window for all errors beyond one value.
    """
    low_s, high_s = window_s

    def above(time_s: float) -> float:
        level = curve.level_above(time_s)
        return 1.0 - float(conformance_probability(threshold_deg, common_uncertainty_deg, lower=level))

    def below(time_s: float) -> float:
        level = curve.level_below(time_s)
        return 1.0 - float(conformance_probability(threshold_deg, common_uncertainty_deg, upper=level))

    seen_above, seen_below = above(high_s), below(low_s)
    if curve.unseen_s == 0:
        return (
            JointProbability(seen_above, seen_above, seen_above),
            JointProbability(seen_below, seen_below, seen_below),
        )
    return (
        JointProbability(seen_above, seen_above, above(high_s - curve.unseen_s)),
        JointProbability(seen_below, below(low_s - curve.unseen_s), seen_below),
    )


def set_verdict(
    within_limit: JointProbability | None,
    reached: JointProbability | None,
    above: JointProbability | None,
    below: JointProbability | None,
    decide: Decide,
) -> SetVerdict:
    """Ask the questions of one set in order; the first that is not answered well decides.

    Parameters
    ----------
    within_limit : JointProbability or None
        That the limit was kept; None where none is prescribed.
    reached : JointProbability or None
        That the asked share of repetitions was done and reached the window.
    above, below : JointProbability or None
        That the time past the threshold lies above, and below, its window; None where none is prescribed.
    decide : Decide
        How sure is sure.

    Returns
    -------
    {"met", "short", "over", "undecided", "not prescribed"}
        Over where the limit was passed; else short where too few repetitions reached; else over or short by the time;
        undecided where a question that comes first can't be answered; met where all are answered well.
    """
    questions: list[tuple[Answer, Answer, SetVerdict]] = []
    if within_limit is not None:
        questions.append((within_limit.answer(decide.limit), "no", "over"))
    if reached is not None:
        questions.append((reached.answer(decide.reached), "no", "short"))
    if above is not None:
        questions.append((above.answer(decide.reached), "yes", "over"))
    if below is not None:
        questions.append((below.answer(decide.reached), "yes", "short"))
    for given, bad, verdict in questions:
        if given == bad:
            return verdict
        if given == "undecided":
            return "undecided"
    return "met" if questions else "not prescribed"


def needed_repetitions(share: float, prescribed: int, complete: int) -> int:
    """Count the repetitions that must reach the end range.

    Parameters
    ----------
    share : float
        Asked share of the repetitions.
    prescribed, complete : int
        Prescribed repetitions, and complete ones that were done: the larger is what the share is of, so repetitions
        that were left out count as not reached.

    Returns
    -------
    int
        Repetitions, rounded up.
    """
    return math.ceil(share * max(prescribed, complete) - 1e-9)
