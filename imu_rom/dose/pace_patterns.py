"""Patterns of pace: tempo and holds shorter than prescribed, fatigue within a set.

Tempo and holds: the unit is the session. Where a phase is as long as the tolerance allows, its session's median is as
likely below as above; the pattern is seen where more sessions lie below than that gives by chance (sign test,
`scipy.stats.binomtest`, parted over the phases after Bonferroni).

Fatigue: the unit is the set. Of each set the change from its first to its last repetition is taken along a straight
line; the pattern is seen where over the sets the end range falls, the eccentric phase gets shorter or the concentric
phase longer, more than signs and ranks give by chance (signed-rank test, `scipy.stats.wilcoxon`, parted likewise), and
by no less than the settings name. A slow drift of the sensors moves a set too, but not the same way each time.
"""

from collections.abc import Callable, Sequence
from datetime import date
from statistics import median
from typing import Literal

import numpy as np

from imu_rom.dose.case_answer import Pattern, PatternName
from imu_rom.dose.end_range_patterns import by_session
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.follow_up import RecordedExercise, RecordedRepetition
from imu_rom.dose.measured_weeks import complete_repetitions
from imu_rom.settings import CourseSettings

__all__ = ["fatigue_pattern", "hold_pattern", "tempo_pattern"]

FEWEST_IN_SET = 5
FEWEST_SETS = 8

Phase = tuple[str, Callable[[RecordedRepetition], float | None], float | None]


def tempo_pattern(recorded: Sequence[RecordedExercise], settings: CourseSettings) -> Pattern:
    """Look for movements shorter than prescribed.

    Parameters
    ----------
    recorded : sequence of RecordedExercise
        Of one exercise and side under one stage, in time order, at least one.
    settings : CourseSettings
        The tolerance, and how much is enough.

    Returns
    -------
    Pattern
        With, for the eccentric and concentric phase where prescribed, ``..._s`` (median of the sessions' medians),
        ``..._prescribed_s``, ``..._least_s`` (what the tolerance allows), ``..._sessions_shorter``,
        ``..._probability_by_chance``; and ``sessions``.
    """
    tempo = recorded[-1].exercise.tempo
    phases: list[Phase] = [
        ("eccentric", lambda each: each.eccentric_s, tempo.eccentric_s),
        ("concentric", lambda each: each.concentric_s, tempo.concentric_s),
    ]
    return _shorter("tempo shorter", recorded, phases, settings)


def hold_pattern(recorded: Sequence[RecordedExercise], settings: CourseSettings) -> Pattern:
    """Look for holds shorter than prescribed.

    Parameters
    ----------
    recorded : sequence of RecordedExercise
        As for the tempo.
    settings : CourseSettings
        The tolerance, and how much is enough.

    Returns
    -------
    Pattern
        With ``hold_s`` and its fellows, as for the tempo.
    """
    phases: list[Phase] = [("hold", lambda each: each.hold_s, recorded[-1].exercise.tempo.end_range_hold_s)]
    return _shorter("holds shorter", recorded, phases, settings)


def _least_s(exercise: Exercise, prescribed_s: float, settings: CourseSettings) -> float:
    if exercise.is_held:
        return prescribed_s * (1 - settings.hold_tolerance)
    return prescribed_s - max(prescribed_s * settings.tempo_tolerance, settings.tempo_tolerance_s)


def _shorter(
    name: PatternName, recorded: Sequence[RecordedExercise], phases: Sequence[Phase], settings: CourseSettings
) -> Pattern:
    from scipy.stats import binomtest  # noqa: PLC0415  loads slowly

    exercise = recorded[-1].exercise
    sessions = [each for each in by_session(recorded) if complete_repetitions(each)]
    asked = [(phase, of, prescribed) for phase, of, prescribed in phases if prescribed]
    numbers = {"sessions": float(len(sessions))}
    seen, above, days = False, True, set[date]()
    for phase, of, prescribed in asked:
        least = _least_s(exercise, prescribed or 0.0, settings)
        # a way back that was not seen has no time
        times_s = [(each[0].day, [of(rep) for rep in complete_repetitions(each)]) for each in sessions]
        seen_s = [(day, [each for each in times if each is not None]) for day, times in times_s]
        found = [(day, median(times)) for day, times in seen_s if times]
        if not found:
            continue
        medians = [each for _, each in found]
        shorter = [day for day, each in found if each < least]
        chance = float(binomtest(len(shorter), len(found), 0.5, alternative="greater").pvalue)
        seen = seen or chance <= settings.false_alarm / len(asked)
        above = above and median(medians) >= least
        days |= set(shorter)
        numbers |= {
            f"{phase}_s": median(medians),
            f"{phase}_prescribed_s": prescribed or 0.0,
            f"{phase}_least_s": least,
            f"{phase}_sessions_shorter": float(len(shorter)),
            f"{phase}_probability_by_chance": chance,
        }
    few = len(sessions) < settings.fewest_sessions
    return _pattern(name, recorded, numbers, tuple(sorted(days)), asked=bool(asked), few=few, seen=seen, absent=above)


def fatigue_pattern(recorded: Sequence[RecordedExercise], settings: CourseSettings) -> Pattern:
    """Look for change from the first to the last repetition of a set.

    Parameters
    ----------
    recorded : sequence of RecordedExercise
        Of one exercise and side under one stage, in time order, at least one.
    settings : CourseSettings
        The smallest changes, and how sure is sure.

    Returns
    -------
    Pattern
        With ``sets``; the medians over sets ``end_range_change_deg``, ``eccentric_change_share``,
        ``concentric_change_share``; and ``..._probability_by_chance`` of each.
    """
    exercise = recorded[-1].exercise
    complete = [[rep for rep in part.repetitions if rep.complete] for each in recorded for part in each.sets]
    sets = [each for each in complete if len(each) >= FEWEST_IN_SET]
    numbers = {"sets": float(len(sets))}
    seen = False
    held = exercise.is_held
    if len(sets) >= FEWEST_SETS:
        ecc, con = (lambda each: each.eccentric_s), (lambda each: each.concentric_s)
        tests: list[tuple[str, Sequence[float], float, Literal["less", "greater"]]] = []
        if exercise.angle_is_known:
            falls = [_change([rep.end_range_deg for rep in each]) for each in sets]
            tests.append(("end_range_change_deg", falls, settings.fatigue_deg, "less"))
        if not held:
            tests.append(
                ("eccentric_change_share", [_share(each, ecc) for each in sets], settings.fatigue_share, "less")
            )
            tests.append(
                ("concentric_change_share", [_share(each, con) for each in sets], settings.fatigue_share, "greater")
            )
        for name, changes, least, direction in tests:
            chance = _by_signed_ranks(changes, direction)
            typical = median(changes)
            large = (-typical if direction == "less" else typical) >= least
            seen = seen or (large and chance <= settings.false_alarm / len(tests))
            numbers |= {
                name: typical,
                name.replace("_deg", "").replace("_share", "") + "_probability_by_chance": chance,
            }
    few = len(sets) < FEWEST_SETS
    return _pattern("fatigue within a set", recorded, numbers, (), asked=True, few=few, seen=seen, absent=True)


def _change(values: Sequence[float]) -> float:
    """Change from the first to the last along a straight line by least squares."""
    order = np.arange(len(values)) - (len(values) - 1) / 2
    return float(order @ np.asarray(values) / (order @ order)) * (len(values) - 1)


def _share(repetitions: Sequence[RecordedRepetition], of: Callable[[RecordedRepetition], float | None]) -> float:
    values = [time_s for each in repetitions if (time_s := of(each)) is not None]
    usual = median(values) if values else 0.0
    return _change(values) / usual if usual > 0 else 0.0


def _by_signed_ranks(changes: Sequence[float], direction: Literal["less", "greater"]) -> float:
    # rounding leaves changes where there are none, and a test of nothing but zeros has no answer
    rounded = np.round(changes, 9)
    if not rounded.any():
        return 1.0
    from scipy.stats import wilcoxon  # noqa: PLC0415  loads slowly

    return float(wilcoxon(rounded, alternative=direction, zero_method="zsplit").pvalue)


def _pattern(
    name: PatternName,
    recorded: Sequence[RecordedExercise],
    numbers: dict[str, float],
    days: tuple[date, ...],
    *,
    asked: bool,
    few: bool,
    seen: bool,
    absent: bool,
) -> Pattern:
    exercise = recorded[-1].exercise
    answer: Literal["seen", "not seen", "undecided"] = "undecided"
    why: Literal["", "too few", "between", "not prescribed"] = ""
    if not asked:
        why = "not prescribed"
    elif few:
        why = "too few"
    elif seen:
        answer = "seen"
    elif absent:
        answer = "not seen"
    else:
        why = "between"
    return Pattern(name, exercise.name, exercise.side, answer, recorded[0].day, recorded[-1].day, numbers, why, days)
