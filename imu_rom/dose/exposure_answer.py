"""What was measured over a stretch of days: time past the compressive angle, end range, tempo, sides, changes."""

from dataclasses import dataclass
from datetime import date
from typing import Literal

from imu_rom.dose.follow_up import Interval

__all__ = [
    "AskedAngles",
    "Between",
    "DetectableChange",
    "EndRangeChange",
    "ExposureSum",
    "MeasuredWeek",
    "PhaseTime",
    "PrescribedTime",
    "SideDifference",
    "Trend",
]

Side = Literal["left", "right"]
Between = Literal["first and latest", "last two", "since the review"]


@dataclass(frozen=True)
class ExposureSum:
    """Time past the compressive angle, over the recorded sessions of a stretch of days.

    Parameters
    ----------
    measured_s : float
        Sum of the sessions' values.
    sum_s : Interval
        Median and 95 % interval of the sum, the zero's error taken as shared within a session and independent between
        sessions. Near the compressive angle a session's time can only grow, so the median lies above ``measured_s``.
    alike_s : Interval
        The widest it can be: had the zero been off alike in all sessions.
    """

    measured_s: float
    sum_s: Interval
    alike_s: Interval


@dataclass(frozen=True)
class PhaseTime:
    """Time of one phase of the recorded complete repetitions.

    Parameters
    ----------
    phase : {"eccentric", "hold", "concentric"}
        Which.
    median_s, lower_quartile_s, upper_quartile_s : float
        Over the repetitions.
    prescribed_s : float or None
        As prescribed; None: not.
    """

    phase: Literal["eccentric", "hold", "concentric"]
    median_s: float
    lower_quartile_s: float
    upper_quartile_s: float
    prescribed_s: float | None


@dataclass(frozen=True)
class PrescribedTime:
    """Time past the compressive angle that the plan asks of the recorded sessions, and how theirs compares.

    Parameters
    ----------
    low_s, high_s : float
        Least and most, over all sets of these sessions.
    derived : bool
        True where it was derived from count, hold and tempo of any of them, as the plan gives no seconds.
    answer : {"as prescribed", "less", "more", "undecided"}
        By the 95 % interval of the sum: within these bounds, below, above; undecided where it holds one of them.
    """

    low_s: float
    high_s: float
    derived: bool
    answer: Literal["as prescribed", "less", "more", "undecided"]


@dataclass(frozen=True)
class AskedAngles:
    """Angles that were prescribed of the recorded sessions; those that are not the same in all of them are None.

    Parameters
    ----------
    window_low_deg, window_high_deg : float or None
        Prescribed end range; the upper edge is None where it is open, both where none is prescribed in degrees.
    limit_deg, threshold_deg : float or None
        Limit and compressive angle; None where none is prescribed.
    """

    window_low_deg: float | None
    window_high_deg: float | None
    limit_deg: float | None
    threshold_deg: float | None


@dataclass(frozen=True)
class MeasuredWeek:
    """One exercise, on its side, as recorded over a stretch of days.

    Parameters
    ----------
    exercise : str or None
        Its name; None: all exercises of that side, joint and motion together.
    side : {"left", "right"}
        Side of the body.
    days : tuple of date
        Days with a recording.
    sessions : int
        Recorded sessions.
    sessions_zero_doubtful : int
        Of them, those whose zero is in doubt.
    past_threshold, loaded, unloaded, outside_sets : ExposureSum or None
        None where no session has it. Of the recorded sessions only, nothing is added for others.
    past_threshold_prescribed : PrescribedTime or None
        What the plan asks of these sessions; None where it says nothing of any of them, or for several exercises.
    sessions_without_exposure : int
        Recorded sessions for which no compressive angle was prescribed.
    end_range_median_deg, end_range_95th_deg : Interval or None
        Median and 95th percentile of the end ranges of complete repetitions, with the uncertainty of the zero; None
        where no angle is known.
    phases : tuple of PhaseTime
        Tempo and holds; empty for several exercises together.
    asked : AskedAngles
        Angles that the plan asks of these sessions.
    """

    exercise: str | None
    side: Side
    days: tuple[date, ...]
    sessions: int
    sessions_zero_doubtful: int
    past_threshold: ExposureSum | None
    loaded: ExposureSum | None
    unloaded: ExposureSum | None
    outside_sets: ExposureSum | None
    past_threshold_prescribed: PrescribedTime | None
    sessions_without_exposure: int
    end_range_median_deg: Interval | None
    end_range_95th_deg: Interval | None
    phases: tuple[PhaseTime, ...]
    asked: AskedAngles


@dataclass(frozen=True)
class SideDifference:
    """Left less right, where both were recorded in the same stretch of days with the same prescription.

    Parameters
    ----------
    left_exercise, right_exercise : str
        Names of the two.
    from_day, to_day : date
        First and last day that it rests on.
    left_sessions, right_sessions : int
        Recorded sessions.
    end_range_deg : Interval or None
        Difference of the medians of the end ranges. Its uncertainty does not shrink with sessions: how a person
        stands in the neutral pose may be a habit.
    past_threshold_s : Interval or None
        Difference of the mean time past the compressive angle in a session.
    eccentric_s, hold_s : float or None
        Difference of the medians.
    """

    left_exercise: str
    right_exercise: str
    from_day: date
    to_day: date
    left_sessions: int
    right_sessions: int
    end_range_deg: Interval | None
    past_threshold_s: Interval | None
    eccentric_s: float | None
    hold_s: float | None


@dataclass(frozen=True)
class Trend:
    """How the end range went, week by week, while the prescription stayed the same.

    Parameters
    ----------
    exercise, side : str
        Of what.
    stage : str
        Name of the stage.
    from_day, to_day : date
        First and last recorded day.
    sessions, days : int
        That it rests on.
    slope_deg_per_week : Interval or None
        Theil and Sen's median slope of the session medians, with a 95 % interval: the wider of that of the scatter
        seen and that of the zero's uncertainty. None where there are too few sessions.
    answer : {"rising", "falling", "undecided"}
        Undecided where the interval holds zero.
    """

    exercise: str
    side: Side
    stage: str
    from_day: date
    to_day: date
    sessions: int
    days: int
    slope_deg_per_week: Interval | None
    answer: Literal["rising", "falling", "undecided"]


@dataclass(frozen=True)
class DetectableChange:
    """From where on a difference between two days is more than measuring again and again gives.

    Parameters
    ----------
    sem_deg : float
        Standard error of measurement between days, sensors taped anew.
    mdc95_deg : float
        1.96 times the square root of 2 times that.
    basis : {"own check", "published", "lower bound"}
        The clinic's own re-taping check; a published study; or this tool's own standard uncertainty, which holds
        nothing of how a person varies from day to day, so that the true value is larger.
    source : str
        Which check or study, in words; empty for the lower bound.
    """

    sem_deg: float
    mdc95_deg: float
    basis: Literal["own check", "published", "lower bound"]
    source: str


@dataclass(frozen=True)
class EndRangeChange:
    """Change of the median end range between two recorded days of the same prescription.

    Parameters
    ----------
    exercise, side : str
        Of what.
    from_day, to_day : date
        The two days.
    between : {"first and latest", "last two", "since the review"}
        Which two they are.
    from_deg, to_deg, change_deg : float
        Medians of the days, and the later less the earlier.
    detectable : DetectableChange
        What it is held against.
    answer : {"real", "not shown", "undecided"}
        Real only past the detectable change; undecided where it is past what is only a lower bound of it, or where the
        zero of one of the days is in doubt.
    """

    exercise: str
    side: Side
    from_day: date
    to_day: date
    between: Between
    from_deg: float
    to_deg: float
    change_deg: float
    detectable: DetectableChange
    answer: Literal["real", "not shown", "undecided"]
