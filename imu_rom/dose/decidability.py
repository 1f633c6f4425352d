"""Which answers a plan asks for that an uncertain angle can't give, and what would settle them.

The probabilities are those of a normally distributed error around the measured angle.

References
----------
JCGM 106:2012, "Evaluation of measurement data: the role of measurement uncertainty in conformity assessment", sections
7 and 8 (conformance probability, guard bands).
"""

import math
from dataclasses import dataclass
from statistics import NormalDist

from imu_rom.dose.exercise import Exercise
from imu_rom.dose.prescription import ramp_time_past_s, window_ends_deg

__all__ = ["Decidability", "SetTime", "decidability"]

_NORMAL = NormalDist()
# both tails of a 95 % interval
_Z_95 = _NORMAL.inv_cdf(0.975)


@dataclass(frozen=True)
class SetTime:
    """Time past the compressive angle of a set done exactly by hold, tempo and count, and its 95 % interval.

    Parameters
    ----------
    end_range_deg : float
        End range of every repetition.
    time_s, low_s, high_s : float
        Seconds past the angle with linear ramps, and with the angle moved by the 95 % interval of the error.
    """

    end_range_deg: float
    time_s: float
    low_s: float
    high_s: float


@dataclass(frozen=True)
class Decidability:
    """What the uncertainty leaves undecided in one exercise.

    Parameters
    ----------
    u_deg : float
        Combined standard uncertainty of the joint angle.
    reached_band_deg, limit_band_deg : tuple of float or None
        Measured end ranges between which "reached" and "within the limit" stay undecided; None where not prescribed.
    largest_u_for_window_deg : float or None
        Largest standard uncertainty with which a repetition at the window's upper edge is shown to have reached it;
        None where the window is open or not prescribed.
    largest_u_for_upper_edge_deg : float or None
        Largest standard uncertainty with which a repetition at the window's upper edge is shown to keep the limit; 0
        where the two are the same angle; None where either is missing or the window is open.
    smallest_limit_for_upper_edge_deg : float or None
        Smallest limit that such a repetition is shown to keep with the present uncertainty.
    largest_u_for_both_deg : float or None
        Largest standard uncertainty with which some end range is shown both to have reached the window and to keep the
        limit.
    neutral_within_limit : float or None
        Probability that a repetition measured to stop at 0 deg kept the limit.
    largest_u_for_neutral_deg, smallest_limit_for_neutral_deg : float or None
        What would show it to be kept: that standard uncertainty (0 where none does), or that limit.
    threshold_margin_deg : float or None
        How far the window's lower edge lies past the compressive angle.
    interval_half_width_deg : float
        Half the width of the 95 % interval of an angle.
    at_lower_edge, at_middle : SetTime or None
        Sets done exactly as asked, to the window's lower edge and to its middle; None without start angle, tempo, hold,
        window or compressive angle.
    """

    u_deg: float
    reached_band_deg: tuple[float, float] | None
    limit_band_deg: tuple[float, float] | None
    largest_u_for_window_deg: float | None
    largest_u_for_upper_edge_deg: float | None
    smallest_limit_for_upper_edge_deg: float | None
    largest_u_for_both_deg: float | None
    neutral_within_limit: float | None
    largest_u_for_neutral_deg: float | None
    smallest_limit_for_neutral_deg: float | None
    threshold_margin_deg: float | None
    interval_half_width_deg: float
    at_lower_edge: SetTime | None
    at_middle: SetTime | None


def decidability(exercise: Exercise, u_deg: float) -> Decidability:
    """Work out what the uncertainty leaves undecided in one exercise.

    Parameters
    ----------
    exercise : Exercise
        An exercise of a plan without contradictions.
    u_deg : float
        Combined standard uncertainty of the joint angle in degrees.

    Returns
    -------
    Decidability
        Bands and what would settle them.
    """
    # a budget of nothing is still a division
    u_deg = max(u_deg, 1e-9)
    z_reached = _NORMAL.inv_cdf(exercise.decide.reached)
    z_limit = _NORMAL.inv_cdf(exercise.decide.limit)
    low, high = exercise.end_range_deg or (None, None)
    if high is not None and math.isinf(high):
        high = None
    limit_deg, threshold = exercise.limit_deg, exercise.compression_threshold
    limited = None if limit_deg is None else z_limit * u_deg
    return Decidability(
        u_deg=u_deg,
        reached_band_deg=None if low is None else (low - z_reached * u_deg, low + z_reached * u_deg),
        limit_band_deg=None if limit_deg is None else (limit_deg - z_limit * u_deg, limit_deg + z_limit * u_deg),
        largest_u_for_window_deg=None if low is None or high is None else (high - low) / z_reached,
        largest_u_for_upper_edge_deg=None if limit_deg is None or high is None else (limit_deg - high) / z_limit,
        smallest_limit_for_upper_edge_deg=None if limited is None or high is None else high + limited,
        largest_u_for_both_deg=None if limit_deg is None or low is None else (limit_deg - low) / (z_reached + z_limit),
        neutral_within_limit=None if limit_deg is None else _NORMAL.cdf(limit_deg / u_deg),
        largest_u_for_neutral_deg=None if limit_deg is None else max(limit_deg / z_limit, 0.0),
        smallest_limit_for_neutral_deg=limited,
        threshold_margin_deg=None if low is None or threshold is None else low - threshold.deg,
        interval_half_width_deg=_Z_95 * u_deg,
        at_lower_edge=_set_time(exercise, 0.0, u_deg),
        at_middle=_set_time(exercise, 0.5, u_deg),
    )


def _set_time(exercise: Exercise, share_of_window: float, u_deg: float) -> SetTime | None:
    ends_deg, tempo, start_deg = window_ends_deg(exercise), exercise.tempo, exercise.start_deg
    threshold, hold_s = exercise.compression_threshold, tempo.end_range_hold_s
    if (
        ends_deg is None
        or threshold is None
        or start_deg is None
        or hold_s is None
        or tempo.eccentric_s is None
        or tempo.concentric_s is None
    ):
        return None
    ramps_s = tempo.eccentric_s + tempo.concentric_s
    end_deg = ends_deg[0] + share_of_window * (ends_deg[1] - ends_deg[0])

    def time_past_s(deg: float) -> float:
        held_s = hold_s if end_deg > deg else 0.0
        return exercise.repetitions * (held_s + ramp_time_past_s(ramps_s, start_deg, end_deg, deg))

    shift_deg = _Z_95 * u_deg
    return SetTime(
        end_range_deg=end_deg,
        time_s=time_past_s(threshold.deg),
        low_s=time_past_s(threshold.deg + shift_deg),
        high_s=time_past_s(threshold.deg - shift_deg),
    )
