"""How well a cohort's figures repeat from one day to the next, by each person's first two days of an exercise."""

from collections.abc import Callable, Mapping, Sequence
from datetime import date

import numpy as np

from imu_rom.cohort.session_exposures import SessionExposure
from imu_rom.dose.cohort_summary import MeasureReliability
from imu_rom.dose.reliability import FEWEST_SUBJECTS, reliability

__all__ = ["DAYS", "reliabilities"]

DAYS = 2
"""Days of each person that are compared."""

Measure = Callable[[SessionExposure, str], float | None]


def reliabilities(sessions: Sequence[SessionExposure], threshold_deg: float | None) -> tuple[MeasureReliability, ...]:
    """Work out the reliability of end range and of time past the compressive angle, by exercise.

    Parameters
    ----------
    sessions : sequence of SessionExposure
        Those that count.
    threshold_deg : float or None
        The angle; None: that of each plan.

    Returns
    -------
    tuple of MeasureReliability
        Two an exercise. Of a person's several recordings of a day the first is taken, of both sides the left.
    """

    def end_range(session: SessionExposure, exercise: str) -> float | None:
        return session.end_range_deg.get(exercise)

    def time_past(session: SessionExposure, exercise: str) -> float | None:
        # a session of several exercises has one time for all
        return session.past(threshold_deg) if session.exercises == (exercise,) else None

    found = []
    for exercise in sorted({name for each in sessions for name in each.exercises}):
        theirs = [each for each in sessions if exercise in each.exercises]
        found.append(_reliability(theirs, exercise, "end_range_deg", end_range))
        found.append(_reliability(theirs, exercise, "past_threshold_s", time_past))
    return tuple(found)


def _reliability(sessions: Sequence[SessionExposure], exercise: str, name: str, measure: Measure) -> MeasureReliability:
    days: dict[str, dict[date, float]] = {}
    for each in sorted(sessions, key=lambda each: each.side):
        value = measure(each, exercise)
        if value is not None and each.day is not None:
            days.setdefault(each.participant, {}).setdefault(each.day, value)
    rows = _first_days(days)
    left_out = len(days) - len(rows)
    if len(rows) < FEWEST_SUBJECTS:
        why = f"{len(rows)} people with {DAYS} days or more, at least {FEWEST_SUBJECTS} are needed"
        return MeasureReliability(exercise, name, None, left_out, why)
    try:
        return MeasureReliability(exercise, name, reliability(np.array(rows)), left_out, "")
    except ValueError as error:
        return MeasureReliability(exercise, name, None, left_out, str(error))


def _first_days(days: Mapping[str, Mapping[date, float]]) -> list[list[float]]:
    return [[own[day] for day in sorted(own)[:DAYS]] for _, own in sorted(days.items()) if len(own) >= DAYS]
