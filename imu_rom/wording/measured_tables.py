"""What sensors measured over a course in tables: time past the compressive angle, end range, tempo and holds."""

from collections.abc import Sequence

from imu_rom.dose.exposure_answer import MeasuredWeek, PhaseTime, PrescribedTime
from imu_rom.dose.weeks_answer import CourseAnswer
from imu_rom.wording.course_figures import NONE, named, sum_in_words, week_number, with_interval
from imu_rom.wording.course_tables import Table
from imu_rom.wording.figures import one_decimal

__all__ = ["end_range_table", "exposure_table"]


def exposure_table(answer: CourseAnswer) -> Table:
    """Show the time past the compressive angle that sensors measured, week by week.

    Parameters
    ----------
    answer : CourseAnswer
        The course.

    Returns
    -------
    Table
        A row for each week and recorded exercise.
    """
    weeks = [(week_number(week), each) for week in answer.weeks for each in week.measured]
    return Table(
        "Time past the compressive angle in the recorded sessions alone, nothing added for others; 95 % in brackets",
        (
            "week",
            "exercise",
            "sessions",
            "past the angle, s",
            "asked of these, s",
            "of it loaded, s",
            "unloaded, s",
            "outside sets, s",
        ),
        tuple(
            (
                week,
                named(each.exercise or "all", each.side),
                _sessions(each),
                sum_in_words(each.past_threshold),
                _asked(each.past_threshold_prescribed),
                *(sum_in_words(one) for one in (each.loaded, each.unloaded, each.outside_sets)),
            )
            for week, each in weeks
        ),
        words=(1,),
    )


def end_range_table(answer: CourseAnswer) -> Table:
    """Show the end range and the times of the phases that sensors measured, week by week.

    Parameters
    ----------
    answer : CourseAnswer
        The course.

    Returns
    -------
    Table
        A row for each week and recorded exercise.
    """
    weeks = [(week_number(week), each) for week in answer.weeks for each in week.measured if each.exercise]
    return Table(
        "End range and tempo of the complete repetitions in the recorded sessions; 95 % in brackets",
        ("week", "exercise", "end range, deg", "95th percentile, deg", "out / hold / back, s"),
        tuple(
            (
                week,
                named(each.exercise, each.side),
                with_interval(each.end_range_median_deg),
                with_interval(each.end_range_95th_deg),
                _phases(each.phases),
            )
            for week, each in weeks
        ),
        words=(1,),
    )


def _sessions(measured: MeasuredWeek) -> str:
    doubtful = measured.sessions_zero_doubtful
    return f"{measured.sessions}{f' ({doubtful} with a doubtful zero)' if doubtful else ''}"


def _asked(prescribed: PrescribedTime | None) -> str:
    if prescribed is None:
        return NONE
    return f"{prescribed.low_s:.0f} to {prescribed.high_s:.0f}: {prescribed.answer}"


def _phases(phases: Sequence[PhaseTime]) -> str:
    """Medians of the three phases, and what was prescribed of them behind."""
    known = {each.phase: each for each in phases}
    found = [known.get("eccentric"), known.get("hold"), known.get("concentric")]
    if not any(found):
        return NONE
    done = " / ".join(NONE if each is None else one_decimal(each.median_s) for each in found)
    asked = [NONE if each is None or each.prescribed_s is None else f"{each.prescribed_s:g}" for each in found]
    return done if set(asked) == {NONE} else f"{done} of {' / '.join(asked)}"
