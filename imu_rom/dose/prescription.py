"""Prescribed time past the compressive angle in each set: as the plan gives it, or derived from hold and tempo."""

import math

from imu_rom.dose.exercise import Exercise

__all__ = ["minimum_jerk_time_past_s", "prescribed_time_per_set", "ramp_time_past_s", "window_ends_deg"]


def ramp_time_past_s(duration_s: float, start_deg: float, end_range_deg: float, threshold_deg: float) -> float:
    """Time that a movement at constant speed spends past an angle.

    Parameters
    ----------
    duration_s : float
        Time from the start angle to the end range, in seconds; the way back takes the same formula.
    start_deg, end_range_deg : float
        Where the movement starts and ends, start below end, in degrees.
    threshold_deg : float
        The angle, in degrees.

    Returns
    -------
    float
        Seconds strictly past the angle.
    """
    return duration_s * (1 - _share_of_way(start_deg, end_range_deg, threshold_deg))


def minimum_jerk_time_past_s(duration_s: float, start_deg: float, end_range_deg: float, threshold_deg: float) -> float:
    """Time that a minimum-jerk movement spends past an angle.

    Parameters
    ----------
    duration_s : float
        Time from the start angle to the end range, in seconds; the way back takes the same formula.
    start_deg, end_range_deg : float
        Where the movement starts and ends, start below end, in degrees.
    threshold_deg : float
        The angle, in degrees.

    Returns
    -------
    float
        Seconds strictly past the angle.

    Notes
    -----
    The share s of the way after the share t of the time is 10 t^3 - 15 t^4 + 6 t^5. It rises throughout, so t is found
    by halving the interval down to rounding.

    References
    ----------
    T. Flash, N. Hogan, "The coordination of arm movements", J Neurosci 5:1688-1703, 1985,
    doi:10.1523/JNEUROSCI.05-07-01688.1985 (the polynomial of a point-to-point movement).
    """
    share = _share_of_way(start_deg, end_range_deg, threshold_deg)
    if share <= 0.5:
        return duration_s * (1 - _minimum_jerk_time_share(share))
    # the movement is symmetric, and the polynomial is exact only near its start
    return duration_s * _minimum_jerk_time_share(1 - share)


def _minimum_jerk_time_share(share: float) -> float:
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        if middle**3 * (10 - 15 * middle + 6 * middle**2) < share:
            low = middle
        else:
            high = middle
    return low


def _share_of_way(start_deg: float, end_range_deg: float, threshold_deg: float) -> float:
    return min(max((threshold_deg - start_deg) / (end_range_deg - start_deg), 0.0), 1.0)


def window_ends_deg(exercise: Exercise) -> tuple[float, float] | None:
    """Shallowest and deepest end range that the plan asks for.

    Parameters
    ----------
    exercise : Exercise
        An exercise of a plan.

    Returns
    -------
    tuple of float or None
        The window's edges in degrees. An open upper edge is replaced by the limit, or else by the lower edge. None
        where no window is prescribed.
    """
    if exercise.end_range_deg is None:
        return None
    low, high = exercise.end_range_deg
    if math.isinf(high):
        high = low if exercise.limit_deg is None else exercise.limit_deg
    return low, high


def prescribed_time_per_set(exercise: Exercise) -> tuple[float, float, bool] | None:
    """Prescribed time past the compressive angle in each set.

    Parameters
    ----------
    exercise : Exercise
        An exercise of a plan.

    Returns
    -------
    tuple of (float, float, bool) or None
        Lowest and highest prescribed seconds, and True where they were derived. None where neither is possible.

    Notes
    -----
    Where the plan gives no seconds, they are derived: repetitions times (hold + time of both ramps past the angle),
    over both ends of the window, from ``start_deg``. Linear ramps spend the least, minimum-jerk ramps the most time
    past an angle that lies beyond the middle of the way; below the middle it is the other way round, so the lowest and
    the highest of all four are taken. A hold at the angle itself is not past it.

    A window that lies mostly at or below the angle asks for stopping there: that is judged by the limit, not by
    seconds, and nothing is derived. Common practice, no source.
    """
    if exercise.past_threshold_s_per_set is not None:
        return (*exercise.past_threshold_s_per_set, False)
    ends_deg = window_ends_deg(exercise)
    tempo = exercise.tempo
    if (
        exercise.compression_threshold is None
        or ends_deg is None
        or exercise.start_deg is None
        or tempo.eccentric_s is None
        or tempo.end_range_hold_s is None
        or tempo.concentric_s is None
    ):
        return None
    threshold_deg = exercise.compression_threshold.deg
    if sum(ends_deg) / 2 <= threshold_deg:
        return None
    each_s = []
    for end_deg in ends_deg:
        hold_s = tempo.end_range_hold_s if end_deg > threshold_deg else 0.0
        each_s += [
            hold_s + time_past_s(tempo.eccentric_s + tempo.concentric_s, exercise.start_deg, end_deg, threshold_deg)
            for time_past_s in (ramp_time_past_s, minimum_jerk_time_past_s)
        ]
    return exercise.repetitions * min(each_s), exercise.repetitions * max(each_s), True
