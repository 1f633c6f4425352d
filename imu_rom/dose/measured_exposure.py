"""Exposure of repetitions, sets and sessions in a measured angle, each with the interval that its error allows."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.angle_path import AnglePath, angle_path, remaining_stretches
from imu_rom.dose.conformance import standard_nodes
from imu_rom.dose.exercise import UNWEIGHTED, Exercise
from imu_rom.dose.exposure import (
    Exposure,
    ExposureCurve,
    excess,
    longest_past,
    time_past,
    time_past_interval,
)
from imu_rom.motion.repetitions import Repetition, RepetitionSet

__all__ = ["MeasuredAngle", "repetition_exposure", "session_exposure", "summed_exposure", "unseen_between"]

Floats = NDArray[np.float64]
Stretch = tuple[float, float]

DRAWS = 10_000
SEED = 2012


@dataclass(frozen=True)
class MeasuredAngle:
    """A joint angle over a whole recording, with what is known about its error.

    Parameters
    ----------
    rate_hz : float
        Sampling rate.
    angle_deg : ndarray of shape (n,)
        Joint angle in degrees, positive towards end range; sample k is at k / rate_hz seconds.
    u_shared_deg : float
        Standard uncertainty shared by the whole session (the zero).
    u_set_deg : float
        Standard uncertainty of the slow part, shared by the repetitions of one set.
    gaps : sequence of tuple of float
        (start_s, stop_s) without data.
    disturbed : sequence of tuple
        (code, start_s, stop_s) of other findings that make a repetition undecided.
    growth : tuple of float
        Growth of the shared part and of the slow part with the distance of the angle from its zero, degrees a degree:
        what follows the angle, such as skin.
    doubts : sequence of tuple of float
        (start_s, stop_s, u_deg): further standard uncertainty of the zero within a stretch.
    """

    rate_hz: float
    angle_deg: Floats
    u_shared_deg: float
    u_set_deg: float
    gaps: Sequence[Stretch] = ()
    disturbed: Sequence[tuple[str, float, float]] = ()
    growth: tuple[float, float] = (0.0, 0.0)
    doubts: Sequence[tuple[float, float, float]] = ()

    def u_shared_at(self, angle_deg: float) -> float:
        """Give what the whole session shares at an angle.

        Parameters
        ----------
        angle_deg : float
            Joint angle; an infinite one is taken for the zero.

        Returns
        -------
        float
            Standard uncertainty in degrees.
        """
        return math.hypot(self.u_shared_deg, self.growth[0] * angle_deg if math.isfinite(angle_deg) else 0.0)

    def u_set_at(self, angle_deg: float, stretch: Stretch) -> float:
        """Give what the repetitions of one set share besides at an angle, doubts about its zero included.

        Parameters
        ----------
        angle_deg : float
            Joint angle; an infinite one is taken for the zero.
        stretch : tuple of float
            (start_s, stop_s) of the set or repetition.

        Returns
        -------
        float
            Standard uncertainty in degrees.
        """
        doubt = max(
            (u_deg for start_s, stop_s, u_deg in self.doubts if start_s < stretch[1] and stop_s > stretch[0]),
            default=0.0,
        )
        return math.hypot(self.u_set_deg, self.growth[1] * angle_deg if math.isfinite(angle_deg) else 0.0, doubt)

    def u_common_at(self, angle_deg: float, stretch: Stretch) -> float:
        """Give what the repetitions of one set have in common at an angle, both parts together.

        Parameters
        ----------
        angle_deg : float
            Joint angle; an infinite one is taken for the zero.
        stretch : tuple of float
            (start_s, stop_s) of the set or repetition.

        Returns
        -------
        float
            Standard uncertainty in degrees.
        """
        return math.hypot(self.u_shared_at(angle_deg), self.u_set_at(angle_deg, stretch))

    def codes_in(self, start_s: float, stop_s: float) -> tuple[str, ...]:
        """Name the gaps and findings that touch a stretch of time.

        Parameters
        ----------
        start_s, stop_s : float
            The stretch.

        Returns
        -------
        tuple of str
            Each code once, in alphabetical order.
        """
        all_stretches = [("gap", *gap) for gap in self.gaps] + list(self.disturbed)
        return tuple(sorted({code for code, begin_s, end_s in all_stretches if begin_s < stop_s and end_s > start_s}))


def repetition_exposure(
    exercise: Exercise, repetition: Repetition, measured: MeasuredAngle, path: AnglePath
) -> Exposure | None:
    """Exposure of one repetition.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed: the threshold and the declared loads.
    repetition : Repetition
        What was done.
    measured : MeasuredAngle
        Joint angle of the whole recording.
    path : AnglePath
        The angle within the repetition.

    Returns
    -------
    Exposure or None
        None where the plan names no threshold, or where one sensor can't tell the angle.

    Notes
    -----
    The hold belongs to the eccentric phase. "Single leg" and "both legs" are loaded; "other leg" and "unweighted" are
    not, for this leg. Time in a phase without declaration is in neither part.
    """
    if exercise.compression_threshold is None or not exercise.angle_is_known:
        return None
    threshold_deg = exercise.compression_threshold.deg
    past_s, low_s, high_s = time_past_interval(
        path, threshold_deg, measured.u_common_at(threshold_deg, (repetition.start_s, repetition.stop_s))
    )
    loaded_s, unloaded_s = _by_load(exercise, repetition, measured)
    return Exposure(
        past_threshold_s=past_s,
        past_threshold_low_s=low_s,
        past_threshold_high_s=high_s,
        excess_deg_s=excess(path, threshold_deg),
        longest_s=longest_past(path, threshold_deg),
        loaded_s=loaded_s,
        unloaded_s=unloaded_s,
    )


def _by_load(exercise: Exercise, repetition: Repetition, measured: MeasuredAngle) -> tuple[float | None, float | None]:
    phases = (
        (exercise.load.eccentric, repetition.start_s, repetition.hold_stop_s),
        (exercise.load.concentric, repetition.hold_stop_s, repetition.stop_s),
    )
    if exercise.compression_threshold is None or all(declared is None for declared, *_ in phases):
        return None, None
    parts_s = [0.0, 0.0]
    for declared, start_s, stop_s in phases:
        if declared is not None:
            path = angle_path(measured.rate_hz, measured.angle_deg, start_s, stop_s, without_data=measured.gaps)
            parts_s[declared in UNWEIGHTED] += time_past(path, exercise.compression_threshold.deg)
    return parts_s[0], parts_s[1]


def unseen_between(done: RepetitionSet, gaps: Sequence[Stretch]) -> list[Stretch]:
    """Find the time without data between the repetitions of a set.

    Parameters
    ----------
    done : RepetitionSet
        The set.
    gaps : sequence of tuple of float
        (start_s, stop_s) without data.

    Returns
    -------
    list of tuple of float
        (start_s, stop_s) in order of time.
    """
    between = remaining_stretches(done.start_s, done.stop_s, [(each.start_s, each.stop_s) for each in done.repetitions])
    pieces = []
    for start_s, stop_s in between:
        seen = remaining_stretches(start_s, stop_s, gaps)
        pieces += remaining_stretches(start_s, stop_s, seen)
    return pieces


def summed_exposure(exposures: Sequence[Exposure | None], unseen: Sequence[Stretch] = ()) -> Exposure:
    """Add exposures of stretches whose error is common, so that their intervals add up.

    Parameters
    ----------
    exposures : sequence of Exposure or None
        Exposures; None counts as nothing.
    unseen : sequence of tuple of float, optional
        (start_s, stop_s) without data besides those already in the exposures; added to the high end.

    Returns
    -------
    Exposure
        The sum; its longest stretch is the longest of any.
    """
    parts = [each for each in exposures if each is not None]
    loaded_s = [each.loaded_s for each in parts if each.loaded_s is not None]
    unloaded_s = [each.unloaded_s for each in parts if each.unloaded_s is not None]
    return Exposure(
        past_threshold_s=sum(each.past_threshold_s for each in parts),
        past_threshold_low_s=sum(each.past_threshold_low_s for each in parts),
        past_threshold_high_s=sum(each.past_threshold_high_s for each in parts)
        + sum(stop_s - start_s for start_s, stop_s in unseen),
        excess_deg_s=sum(each.excess_deg_s for each in parts),
        longest_s=max((each.longest_s for each in parts), default=0.0),
        loaded_s=sum(loaded_s) if loaded_s else None,
        unloaded_s=sum(unloaded_s) if unloaded_s else None,
    )


def session_exposure(
    total: Exposure,
    curves: Sequence[ExposureCurve],
    stretches: Sequence[Stretch],
    threshold_deg: float,
    measured: MeasuredAngle,
) -> Exposure:
    """Replace the interval of a session's summed exposure by one that is joint over the sets' shared zero.

    Parameters
    ----------
    total : Exposure
        Sum of the exposures of the sets.
    curves : sequence of ExposureCurve
        Time past each angle in each set.
    stretches : sequence of tuple of float
        (start_s, stop_s) of each set.
    threshold_deg : float
        Compressive angle in degrees.
    measured : MeasuredAngle
        What is known about the angle's error.

    Returns
    -------
    Exposure
        The same with its interval.

    Notes
    -----
    One set, or no slow error: the intervals of the sets add up. Else the quantiles of the summed time are taken over
    draws, each coordinate of which falls once into each of as many layers of equal probability (Latin hypercube:
    McKay, Beckman, Conover, Technometrics 21:239-245, 1979, doi:10.1080/00401706.1979.10489755; propagation of
    distributions: JCGM 101:2008). The seed is fixed, so the same input gives the same interval.
    """
    slow = [measured.u_set_at(threshold_deg, each) for each in stretches]
    if len(curves) < 2 or not any(slow):
        return total
    shared, *of_sets = _layered_draws(1 + len(curves))
    shared_deg = shared * measured.u_shared_at(threshold_deg)
    time_s = np.zeros(DRAWS)
    for curve, u_deg, of_set in zip(curves, slow, of_sets, strict=True):
        time_s += curve.time_past(threshold_deg - shared_deg - of_set * u_deg)
    low_s, high_s = np.quantile(time_s, [0.025, 0.975])
    return replace(
        total,
        past_threshold_low_s=min(float(low_s), total.past_threshold_s),
        past_threshold_high_s=max(float(high_s), total.past_threshold_s) + sum(each.unseen_s for each in curves),
    )


@lru_cache(maxsize=8)
def _layered_draws(coordinates: int) -> tuple[Floats, ...]:
    """Draw each coordinate from a standard normal, one in each layer; the same each time."""
    generator = np.random.default_rng(SEED)
    layers = standard_nodes(DRAWS)
    return tuple(generator.permutation(layers) for _ in range(coordinates))
