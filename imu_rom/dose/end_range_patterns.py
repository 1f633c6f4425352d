"""Patterns of the end range: stops short, shrinking, complete but shallow, past the limit, a side difference.

The unit is the session, because its repetitions share the zero. A session is short where more complete repetitions fell
short, each by its probability, than the plan forgives (``decide.share_of_repetitions``). Where all repetitions end just
on the window's edge, how likely a session comes out short follows from its uncertainties
(`imu_rom.dose.session_by_chance`); the pattern is seen where more are than that gives by chance
(`scipy.stats.binomtest`). The same holds of the limit, which one repetition is enough to pass. Sessions whose zero is
in doubt are counted apart and not judged.

The zeros of sessions are taken as independent. Who always stands in the same wrong way in the neutral pose ends short
in all sessions, by his sensors, and nothing in them tells; tests/benchmarks/results/course_patterns.md says how often.
"""

from collections.abc import Sequence
from datetime import date
from statistics import median
from typing import Literal

from imu_rom.dose.case_answer import Pattern, PatternName
from imu_rom.dose.end_range_course import trend
from imu_rom.dose.exposure_answer import Trend
from imu_rom.dose.follow_up import RecordedExercise, RecordedRepetition
from imu_rom.dose.measured_weeks import complete_repetitions, end_range_deg, side_differences
from imu_rom.dose.session_by_chance import session_by_chance
from imu_rom.settings import CourseSettings

__all__ = ["by_session", "limit_pattern", "session_reached", "session_within", "short_patterns", "side_patterns"]

Outcome = Literal["yes", "no", "undecided"]
HALF = 0.5
ROUNDING = 1e-9


def by_session(recorded: Sequence[RecordedExercise]) -> list[list[RecordedExercise]]:
    """Group what was recorded by session.

    Parameters
    ----------
    recorded : sequence of RecordedExercise
        Of one exercise, in time order.

    Returns
    -------
    list of list of RecordedExercise
        In time order.
    """
    sessions: dict[tuple[date, str], list[RecordedExercise]] = {}
    for each in recorded:
        sessions.setdefault((each.day, each.session), []).append(each)
    return list(sessions.values())


def short_patterns(recorded: Sequence[RecordedExercise], settings: CourseSettings) -> tuple[Pattern, ...]:
    """Look for an end range short of its window, and for the two forms that it takes.

    Parameters
    ----------
    recorded : sequence of RecordedExercise
        Of one exercise and side under one stage, in time order, at least one.
    settings : CourseSettings
        How much is enough.

    Returns
    -------
    tuple of Pattern
        "stops short" with ``sessions``, ``sessions_short``, ``sessions_reached``, ``sessions_zero_doubtful``,
        ``session_by_chance`` (of one session to come out short), ``probability_by_chance`` (of as many as did),
        ``end_range_median_deg``, ``window_low_deg``; "stops short and shrinking" with ``slope_deg_per_week`` and its
        ``slope_low_...`` and ``slope_high_...`` beside; "complete but shallow" with ``share_of_repetitions``, the
        median over the short sessions of complete over prescribed repetitions.
    """
    sure, doubtful = _parted(recorded)
    exercise = recorded[-1].exercise
    outcomes = [session_reached(each) for each in sure]
    short = [each for each, outcome in zip(sure, outcomes, strict=True) if outcome == "no"]
    numbers = {
        "sessions": float(len(sure)),
        "sessions_short": float(len(short)),
        "sessions_reached": float(outcomes.count("yes")),
        "sessions_zero_doubtful": float(doubtful),
    }
    found = end_range_deg([one for each in sure for one in each])
    if found is not None:
        numbers["end_range_median_deg"] = found
    if exercise.end_range_deg is not None:
        numbers["window_low_deg"] = exercise.end_range_deg[0]
    days = tuple(sorted({each[0].day for each in short}))
    asked = exercise.asks_end_range and exercise.angle_is_known
    stops = _counted(
        "stops short",
        recorded,
        len(short),
        outcomes.count("yes"),
        len(sure),
        doubtful,
        by_chance=_chance(sure, exercise.decide.reached, 1 - exercise.decide.share_of_repetitions),
        settings=settings,
        numbers=numbers,
        days=days,
        asked=asked,
    )
    # the two forms need to know which way the end range goes, and whether the number was done
    course = trend(recorded, settings)
    slope = course.slope_deg_per_week
    shrinking = numbers if slope is None else numbers | _slope_numbers(course)
    share = _share_of_repetitions(short)
    shallow = numbers if share is None else numbers | {"share_of_repetitions": share}
    complete = share is not None and share >= 1 - settings.excess_share
    return (
        stops,
        _form("stops short and shrinking", stops, shrinking, holds=_falls(course)),
        _form(
            "complete but shallow",
            stops,
            shallow,
            holds=False if course.answer == "falling" or not complete else None if slope is None else True,
        ),
    )


def limit_pattern(recorded: Sequence[RecordedExercise], settings: CourseSettings) -> Pattern:
    """Look for sessions that went past the limit.

    Parameters
    ----------
    recorded : sequence of RecordedExercise
        Of one exercise and side under one stage, in time order, at least one.
    settings : CourseSettings
        How much is enough.

    Returns
    -------
    Pattern
        With ``sessions``, ``sessions_past``, ``sessions_within``, ``sessions_zero_doubtful``, ``repetitions_past``,
        ``session_by_chance``, ``probability_by_chance``, ``limit_deg``.
    """
    sure, doubtful = _parted(recorded)
    exercise = recorded[-1].exercise
    outcomes = [session_within(each) for each in sure]
    past = [each for each, outcome in zip(sure, outcomes, strict=True) if outcome == "no"]
    numbers = {
        "sessions": float(len(sure)),
        "sessions_past": float(len(past)),
        "sessions_within": float(outcomes.count("yes")),
        "sessions_zero_doubtful": float(doubtful),
        "repetitions_past": float(sum(rep.within_limit == "no" for each in past for rep in _repetitions(each))),
    }
    if exercise.limit_deg is not None:
        numbers["limit_deg"] = exercise.limit_deg
    return _counted(
        "past the limit",
        recorded,
        len(past),
        outcomes.count("yes"),
        len(sure),
        doubtful,
        by_chance=_chance(sure, exercise.decide.limit, 0.0),
        settings=settings,
        numbers=numbers,
        days=tuple(sorted({each[0].day for each in past})),
        asked=exercise.limit_deg is not None,
    )


def side_patterns(recorded: Sequence[RecordedExercise], settings: CourseSettings) -> tuple[Pattern, ...]:
    """Look for a difference of the end range between the sides.

    Parameters
    ----------
    recorded : sequence of RecordedExercise
        Under one stage, in time order.
    settings : CourseSettings
        From which difference on.

    Returns
    -------
    tuple of Pattern
        One for each pair that was recorded, with ``difference_deg`` (left less right), ``low_deg``, ``high_deg``,
        ``left_sessions``, ``right_sessions``.
    """
    found = []
    for each in side_differences([one for one in recorded if not one.zero_doubtful]):
        difference = each.end_range_deg
        if difference is None:
            continue
        holds_zero = difference.low <= 0 <= difference.high
        large = abs(difference.value) >= settings.side_difference_deg
        enough = min(each.left_sessions, each.right_sessions) >= settings.fewest_sessions
        found.append(
            Pattern(
                "side difference",
                f"{each.left_exercise}, {each.right_exercise}",
                None,
                "undecided" if not enough or large == holds_zero else "seen" if large else "not seen",
                each.from_day,
                each.to_day,
                {
                    "difference_deg": difference.value,
                    "low_deg": difference.low,
                    "high_deg": difference.high,
                    "left_sessions": float(each.left_sessions),
                    "right_sessions": float(each.right_sessions),
                },
                "too few" if not enough else "between" if large == holds_zero else "",
            )
        )
    return tuple(found)


def _parted(recorded: Sequence[RecordedExercise]) -> tuple[list[list[RecordedExercise]], int]:
    sessions = [each for each in by_session(recorded) if any(rep.complete for rep in _repetitions(each))]
    sure = [each for each in sessions if not any(one.zero_doubtful for one in each)]
    return sure, len(sessions) - len(sure)


def _repetitions(session: Sequence[RecordedExercise]) -> list[RecordedRepetition]:
    return [each for one in session for part in one.sets for each in part.repetitions]


def session_reached(session: Sequence[RecordedExercise]) -> Outcome:
    """Tell whether a session came to its end range, all its repetitions together.

    Parameters
    ----------
    session : sequence of RecordedExercise
        Of one exercise of one session, with at least one complete repetition.

    Returns
    -------
    {"yes", "no", "undecided"}
        By the share of repetitions that the plan asks.
    """
    answers = [each.reached for each in complete_repetitions(session)]
    needed = session[-1].exercise.decide.share_of_repetitions * len(answers)
    if len(answers) - answers.count("no") < needed:
        return "no"
    return "yes" if answers.count("yes") >= needed else "undecided"


def session_within(session: Sequence[RecordedExercise]) -> Outcome:
    """Tell whether a session kept within its limit.

    Parameters
    ----------
    session : sequence of RecordedExercise
        Of one exercise of one session, with at least one repetition.

    Returns
    -------
    {"yes", "no", "undecided"}
        One repetition past it is enough for "no"; for "yes" more than half must be within it.
    """
    answers = [each.within_limit for each in _repetitions(session)]
    if "no" in answers:
        return "no"
    return "yes" if answers.count("yes") > HALF * len(answers) else "undecided"


def _chance(sessions: Sequence[Sequence[RecordedExercise]], decide: float, forgiven: float) -> float:
    """Give the chance that a usual session of these is answered "no", all its repetitions ending on the edge."""
    recorded = [one for each in sessions for one in each]
    if not recorded or recorded[-1].exercise.ends_on_floor:
        # how the foot lies on the floor shares no zero
        return 1 - decide
    sets = max(round(median(sum(len(one.sets) for one in each) for each in sessions)), 1)
    repetitions = max(round(median(len(_repetitions(each)) for each in sessions) / sets), 1)
    u_deg = (
        median(each.u_shared_deg for each in recorded),
        median(each.u_set_deg for each in recorded),
        median(each.u_own_deg for each in recorded),
    )
    allowed = int(forgiven * sets * repetitions + ROUNDING)
    return max(session_by_chance(u_deg, sets, repetitions, decide=decide, allowed=allowed), 1 - decide)


def _counted(
    name: PatternName,
    recorded: Sequence[RecordedExercise],
    against: int,
    good: int,
    total: int,
    doubtful: int,
    *,
    by_chance: float,
    settings: CourseSettings,
    numbers: dict[str, float],
    days: tuple[date, ...],
    asked: bool,
) -> Pattern:
    """Judge a count of sessions against what chance gives; not seen needs half of the sessions to be good."""
    answer: Literal["seen", "not seen", "undecided"] = "undecided"
    why: Literal["", "too few", "zero in doubt", "between", "not prescribed"] = "between"
    if not asked:
        why = "not prescribed"
    elif total < settings.fewest_sessions:
        why = "zero in doubt" if doubtful > total else "too few"
    else:
        from scipy.stats import binomtest  # noqa: PLC0415  loads slowly

        chance = float(binomtest(against, total, by_chance, alternative="greater").pvalue)
        numbers = numbers | {"session_by_chance": by_chance, "probability_by_chance": chance}
        if chance <= settings.false_alarm:
            answer, why = "seen", ""
        elif against <= by_chance * total and good >= HALF * total:
            answer, why = "not seen", ""
    exercise = recorded[-1].exercise
    return Pattern(name, exercise.name, exercise.side, answer, recorded[0].day, recorded[-1].day, numbers, why, days)


def _falls(course: Trend) -> bool | None:
    if course.answer == "undecided":
        return None
    return course.answer == "falling"


def _form(name: PatternName, stops: Pattern, numbers: dict[str, float], *, holds: bool | None) -> Pattern:
    """Answer for a form of stopping short: only where that is seen at all."""
    answer = stops.answer
    why = stops.why_undecided
    if answer == "seen":
        answer = "undecided" if holds is None else "seen" if holds else "not seen"
        why = "between" if holds is None else ""
    return Pattern(name, stops.exercise, stops.side, answer, stops.from_day, stops.to_day, numbers, why, stops.days)


def _slope_numbers(course: Trend) -> dict[str, float]:
    slope = course.slope_deg_per_week
    if slope is None:
        return {}
    return {
        "slope_deg_per_week": slope.value,
        "slope_low_deg_per_week": slope.low,
        "slope_high_deg_per_week": slope.high,
    }


def _share_of_repetitions(short: Sequence[Sequence[RecordedExercise]]) -> float | None:
    shares = [
        len(complete_repetitions(each)) / (each[-1].exercise.sets * each[-1].exercise.repetitions) for each in short
    ]
    return median(shares) if shares else None
