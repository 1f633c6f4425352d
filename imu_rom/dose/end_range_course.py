"""How the end range went over a course: trends by week, and changes between days held against what is detectable.

Only what was prescribed alike is compared: where the window moved, the end range was meant to.
"""

import math
from collections.abc import Iterable, Sequence
from datetime import date

import numpy as np

from imu_rom.dose.detectable_change import detectable_change
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.exposure_answer import Between, EndRangeChange, Trend
from imu_rom.dose.follow_up import Interval, RecordedExercise
from imu_rom.dose.measured_weeks import end_range_deg
from imu_rom.dose.plan import OwnUncertainty
from imu_rom.motion.small_samples import NORMAL_FACTOR
from imu_rom.settings import CourseSettings

__all__ = [
    "SessionEndRange",
    "alike_prescribed",
    "days_of",
    "end_range_change",
    "end_range_changes",
    "end_ranges_by_session",
    "slope_per_week",
    "trend",
]

DAYS_A_WEEK = 7.0
FEWEST_DAYS = 3

SessionEndRange = tuple[date, float, float]
"""Day of a session, its median end range, and the standard uncertainty of its own zero, in degrees."""


def alike_prescribed(recorded: Iterable[RecordedExercise]) -> tuple[tuple[RecordedExercise, ...], ...]:
    """Group what was recorded by what was prescribed.

    Parameters
    ----------
    recorded : iterable of RecordedExercise
        In time order.

    Returns
    -------
    tuple of tuple of RecordedExercise
        One for each exercise, side, stage and way of prescribing its end, in order of their first.
    """
    groups: dict[object, list[RecordedExercise]] = {}
    for each in recorded:
        if each.exercise.angle_is_known:
            groups.setdefault((each.stage, *_prescription(each.exercise)), []).append(each)
    return tuple(tuple(each) for each in groups.values())


def _prescription(exercise: Exercise) -> tuple[object, ...]:
    return (
        exercise.name,
        exercise.side,
        exercise.end_range,
        exercise.end_range_deg,
        exercise.limit_deg,
        exercise.heel_lift_mm,
        exercise.footwear,
        exercise.knee,
        exercise.kind,
    )


def end_ranges_by_session(recorded: Sequence[RecordedExercise]) -> list[SessionEndRange]:
    """Give the median end range of each session.

    Parameters
    ----------
    recorded : sequence of RecordedExercise
        Of one exercise, in time order.

    Returns
    -------
    list of tuple
        Day, median and standard uncertainty; sessions without a complete repetition are left out.
    """
    by_session: dict[tuple[date, str], list[RecordedExercise]] = {}
    for each in recorded:
        by_session.setdefault((each.day, each.session), []).append(each)
    found = []
    for (day, _), several in by_session.items():
        depth = end_range_deg(several)
        if depth is not None:
            sets = max(sum(len(each.sets) for each in several), 1)
            u = max(math.hypot(each.u_shared_deg, each.u_set_deg / math.sqrt(sets)) for each in several)
            found.append((day, depth, u))
    return found


def slope_per_week(sessions: Sequence[SessionEndRange]) -> Interval:
    """Give the median slope of a few sessions.

    Parameters
    ----------
    sessions : sequence of tuple
        As `end_ranges_by_session` gives them, of three or more days.

    Returns
    -------
    Interval
        Degrees a week, after Theil and Sen. The 95 % interval is the wider, on each side, of Sen's, which rests on the
        scatter seen, and of that of a straight line through sessions whose zeros vary by their standard uncertainty:
        a few sessions may scatter less by chance than their zeros do.

    References
    ----------
    P. K. Sen, "Estimates of the regression coefficient based on Kendall's tau", J Am Stat Assoc 63:1379-1389, 1968,
    doi:10.1080/01621459.1968.10480934 (by `scipy.stats.theilslopes`).
    """
    from scipy.stats import theilslopes  # noqa: PLC0415  loads slowly

    weeks = np.array([each[0].toordinal() for each in sessions]) / DAYS_A_WEEK
    # where nearly all sessions end alike, Sen's interval does not exist, and only the zero's is left
    with np.errstate(invalid="ignore"):
        slope, _, *scatter = theilslopes([each[1] for each in sessions], weeks)
    spread = float(np.sum((weeks - weeks.mean()) ** 2))
    u = math.sqrt(float(np.mean([each[2] ** 2 for each in sessions])) / spread)
    half = NORMAL_FACTOR * u
    ends = (slope - half, slope + half, *(each for each in scatter if math.isfinite(each)))
    return Interval(float(slope), float(min(ends)), float(max(ends)))


def trend(recorded: Sequence[RecordedExercise], settings: CourseSettings) -> Trend:
    """Tell how the end range went while the prescription stayed the same.

    Parameters
    ----------
    recorded : sequence of RecordedExercise
        Prescribed alike, in time order; sessions whose zero is in doubt are left out.
    settings : CourseSettings
        How many sessions a trend needs.

    Returns
    -------
    Trend
        Undecided where there are too few sessions or days, or the interval holds zero.
    """
    sessions = end_ranges_by_session([each for each in recorded if not each.zero_doubtful])
    days = {each[0] for each in sessions}
    enough = len(sessions) >= settings.fewest_sessions and len(days) >= FEWEST_DAYS
    slope = slope_per_week(sessions) if enough else None
    first = recorded[0]
    return Trend(
        exercise=first.exercise.name,
        side=first.exercise.side,
        stage=first.stage,
        from_day=first.day,
        to_day=recorded[-1].day,
        sessions=len(sessions),
        days=len(days),
        slope_deg_per_week=slope,
        answer="undecided"
        if slope is None
        else "rising"
        if slope.low > 0
        else "falling"
        if slope.high < 0
        else "undecided",
    )


def end_range_changes(
    recorded: Sequence[RecordedExercise], own: OwnUncertainty | None, settings: CourseSettings
) -> tuple[EndRangeChange, ...]:
    """Hold changes between recorded days against what is detectable.

    Parameters
    ----------
    recorded : sequence of RecordedExercise
        Prescribed alike, in time order.
    own : OwnUncertainty or None
        What the plan takes from the clinic's checks.
    settings : CourseSettings
        Which published error to take.

    Returns
    -------
    tuple of EndRangeChange
        First and latest day, and the last two where these are others; none of fewer than two days.
    """
    days = days_of(recorded)
    if len(days) < 2:
        return ()
    pairs: list[tuple[Between, date, date]] = [("first and latest", days[0], days[-1])]
    if len(days) > 2:
        pairs.append(("last two", days[-2], days[-1]))
    return tuple(end_range_change(recorded, (start, stop), between, own, settings) for between, start, stop in pairs)


def _by_day(recorded: Sequence[RecordedExercise]) -> dict[date, list[RecordedExercise]]:
    by_day: dict[date, list[RecordedExercise]] = {}
    for each in recorded:
        by_day.setdefault(each.day, []).append(each)
    return by_day


def days_of(recorded: Sequence[RecordedExercise]) -> list[date]:
    """List the days that have an end range.

    Parameters
    ----------
    recorded : sequence of RecordedExercise
        Prescribed alike.

    Returns
    -------
    list of date
        In order; days without a complete repetition are left out.
    """
    return sorted(day for day, each in _by_day(recorded).items() if end_range_deg(each) is not None)


def end_range_change(
    recorded: Sequence[RecordedExercise],
    days: tuple[date, date],
    between: Between,
    own: OwnUncertainty | None,
    settings: CourseSettings,
) -> EndRangeChange:
    """Hold the change between two recorded days against what is detectable.

    Parameters
    ----------
    recorded : sequence of RecordedExercise
        Prescribed alike.
    days : tuple of date
        Two of `days_of` them, the earlier one first.
    between : str
        Which two days they are.
    own : OwnUncertainty or None
        What the plan takes from the clinic's checks.
    settings : CourseSettings
        Which published error to take.

    Returns
    -------
    EndRangeChange
        By the medians of the days.

    Raises
    ------
    SettingError
        A published error of measurement is named that is not known.
    """
    on = _by_day(recorded)
    start, stop = days
    from_deg, to_deg = (median_deg for day in days if (median_deg := end_range_deg(on[day])) is not None)
    detectable = detectable_change(recorded, own, settings.published_sem)
    change = to_deg - from_deg
    doubtful = any(each.zero_doubtful for day in days for each in on[day])
    past = abs(change) > detectable.mdc95_deg
    open_still = doubtful or (past and detectable.basis == "lower bound")
    return EndRangeChange(
        exercise=recorded[0].exercise.name,
        side=recorded[0].exercise.side,
        from_day=start,
        to_day=stop,
        between=between,
        from_deg=from_deg,
        to_deg=to_deg,
        change_deg=change,
        detectable=detectable,
        answer="undecided" if open_still else "real" if past else "not shown",
    )
