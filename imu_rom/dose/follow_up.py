"""What is known of a course over weeks, a line an exercise or a day: what the arithmetic of weeks works on.

Days are the person's own days: whoever fills these in has settled time zones and sessions after midnight.
"""

from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Literal

from imu_rom.dose.compared import Answer
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.verdict import SetVerdict

__all__ = ["ZERO_ERRORS", "DiaryEntry", "Interval", "RecordedExercise", "RecordedRepetition", "RecordedSet"]

ZERO_ERRORS = (-3.0, -2.5, -2.0, -1.5, -1.0, -0.5, 0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0)
"""Errors of a session's angles, in standard uncertainties, for which its time past the compressive angle is kept."""


@dataclass(frozen=True)
class Interval:
    """A value with its 95 % interval.

    Parameters
    ----------
    value, low, high : float
        In the unit that the field's name ends with.
    """

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class RecordedRepetition:
    """One repetition, or one hold, that sensors recorded.

    Parameters
    ----------
    complete : bool
        False for a partial one.
    end_range_deg : float
        Its end range in degrees, positive in the exercise's motion.
    eccentric_s, hold_s : float
        Times of its phases.
    concentric_s : float or None
        Time of its way back; None where that was not seen.
    reached, within_limit : {"yes", "no", "undecided", "not prescribed"}
        Answers of the session's analysis.
    """

    complete: bool
    end_range_deg: float
    eccentric_s: float
    hold_s: float
    concentric_s: float | None
    reached: Answer
    within_limit: Answer


@dataclass(frozen=True)
class RecordedSet:
    """One set that sensors recorded.

    Parameters
    ----------
    repetitions : tuple of RecordedRepetition
        In time order.
    verdict : {"met", "short", "over", "undecided", "not prescribed"}
        Of the session's analysis.
    """

    repetitions: tuple[RecordedRepetition, ...]
    verdict: SetVerdict


@dataclass(frozen=True)
class RecordedExercise:
    """One exercise of one session that sensors recorded.

    Parameters
    ----------
    day : date
        The person's day that it belongs to.
    started_at : datetime
        With its offset; what comes first on a day.
    session : str
        What tells sessions of one day apart; exercises of one session share it.
    exercise : Exercise
        As the plan of that day prescribed it.
    stage : str
        Name of the stage that it was analysed under.
    sets : tuple of RecordedSet
        In time order.
    past_threshold_s, loaded_s, unloaded_s : Interval or None
        Time past the compressive angle over all sets, in seconds, joint over the shared zero; and how much of it was
        under load and without. None where no angle is prescribed, or no load declared.
    outside_sets_s : Interval or None
        Time past it outside the sets.
    u_shared_deg, u_set_deg : float
        Standard uncertainty of all angles of the session together, and of each set by itself.
    zero_doubtful : bool
        True where a later pose differed from the zero, or a sensor slipped.
    footwear : str or None
        As the recording's plan declared it.
    source : str
        Name of the result, for people.
    past_threshold_by_error_s : tuple of float or None
        Time past the compressive angle over all sets had the angle been off by each of ``ZERO_ERRORS`` times its
        standard uncertainty (shared and slow together): of `imu_rom.dose.exposure.ExposureCurve` the time past the
        angle less that. It makes sums over sessions right near the angle; without it they rest on the interval alone.
    u_own_deg : float
        Standard uncertainty of a usual repetition's end range besides both others.
    """

    day: date
    started_at: datetime
    session: str
    exercise: Exercise
    stage: str
    sets: tuple[RecordedSet, ...]
    past_threshold_s: Interval | None
    loaded_s: Interval | None
    unloaded_s: Interval | None
    outside_sets_s: Interval | None
    u_shared_deg: float
    u_set_deg: float
    zero_doubtful: bool
    footwear: str | None
    source: str
    past_threshold_by_error_s: tuple[float, ...] | None = None
    u_own_deg: float = 0.0

    @property
    def complete(self) -> int:
        """Complete repetitions over all sets."""
        return sum(each.complete for one in self.sets for each in one.repetitions)

    @property
    def under_tension_s(self) -> float:
        """Time of the repetitions in seconds.

        Left out are pauses at the start, ways back that were not seen, and phases in which the leg carries nothing.
        """
        unweighted = self.exercise.load.unweighted_phases
        down, up = "eccentric" not in unweighted, "concentric" not in unweighted
        return sum(
            down * (each.eccentric_s + each.hold_s) + up * (each.concentric_s or 0.0)
            for one in self.sets
            for each in one.repetitions
        )


@dataclass(frozen=True)
class DiaryEntry:
    """One line of the person's diary.

    Parameters
    ----------
    day : date
        The day that it belongs to; a morning after belongs to the day before it.
    at : time or None
        When it was done.
    exercise, side : str or None
        What was done; None for a line about the day alone.
    done : {"yes", "part", "no"} or None
        None: nothing was said.
    pain_before, pain_during, pain_after : float or None
        0 to 10.
    pain_next_morning : float or None
        0 to 10, at the first steps of the next morning; once a day.
    stiffness_min : float or None
        How long stiffness lasted then, in minutes.
    load_test_pain : float or None
        0 to 10, in the stage's load test.
    painkiller : bool or None
        Whether one was taken that day.
    other_load : str or None
        Other load of that day, in words.
    heel_lift : {"in", "out"} or None
        Whether a heel lift was worn.
    note : str or None
        Anything else.
    line : int or None
        Which line of the diary it is. Lines that are equal in all, this included, are one line that came twice; two
        ticks without a time on one day are two sessions.
    red_flags : tuple of str
        Signs that need somebody to look at the person, in the diary's words.
    """

    day: date
    at: time | None = None
    exercise: str | None = None
    side: Literal["left", "right"] | None = None
    done: Literal["yes", "part", "no"] | None = None
    pain_before: float | None = None
    pain_during: float | None = None
    pain_after: float | None = None
    pain_next_morning: float | None = None
    stiffness_min: float | None = None
    load_test_pain: float | None = None
    painkiller: bool | None = None
    other_load: str | None = None
    heel_lift: Literal["in", "out"] | None = None
    note: str | None = None
    line: int | None = None
    red_flags: tuple[str, ...] = ()
