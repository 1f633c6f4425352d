"""What a plan adds up to: repetitions and time under tension a session, a day, a week and over a stage's weeks.

Sums are exact: each number counts as the decimal that the plan writes, so that 2.3 days a week are 23/10.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from imu_rom.dose.exercise import Exercise
from imu_rom.dose.plan import Stage

__all__ = [
    "DAYS_A_WEEK",
    "Amounts",
    "DoseTotal",
    "exercise_total",
    "repetition_under_tension_s",
    "sessions_a_week",
    "stage_totals",
    "weeks_of",
]

DAYS_A_WEEK = 7


@dataclass(frozen=True)
class Amounts:
    """The same thing in a session, on a day, in a week and over all weeks; one that the plan does not settle is None.

    Parameters
    ----------
    a_session : Fraction or None
        In one session of all the exercises; None too where they are not done equally often, and so not together.
    a_day : Fraction or None
        On a day with sessions; None as above.
    a_week, in_all : Fraction or None
        In a week, and over all weeks.
    """

    a_session: Fraction | None
    a_day: Fraction | None
    a_week: Fraction | None
    in_all: Fraction | None


@dataclass(frozen=True)
class DoseTotal:
    """What exercises of one side and one kind add up to.

    Parameters
    ----------
    side : {"left", "right"}
        Side of the body.
    kind : {"repetitions", "hold", "stretch"}
        What is counted.
    exercises : tuple of str
        Their names.
    weeks : Fraction or None
        Weeks that ``in_all`` is over; None: not known.
    repetitions : Amounts
        Repetitions, holds or stretches.
    under_tension_s : Amounts
        Time under tension in seconds as `repetition_under_tension_s` counts it.
    """

    side: Literal["left", "right"]
    kind: Literal["repetitions", "hold", "stretch"]
    exercises: tuple[str, ...]
    weeks: Fraction | None
    repetitions: Amounts
    under_tension_s: Amounts


def _as_written(number: float) -> Fraction:
    return Fraction(repr(number))


def repetition_under_tension_s(exercise: Exercise) -> Fraction | None:
    """Give the prescribed time under tension of one repetition.

    Parameters
    ----------
    exercise : Exercise
        Of a plan.

    Returns
    -------
    Fraction or None
        Seconds: eccentric, hold and concentric phase together, the pause at the start left out, and phases in which
        the leg is declared to carry nothing; of a hold or stretch its time alone. None where such a phase of a
        movement, or the time of a hold, is not prescribed.
    """
    tempo = exercise.tempo
    if exercise.is_held:
        return None if tempo.end_range_hold_s is None else _as_written(tempo.end_range_hold_s)
    unweighted = exercise.load.unweighted_phases
    phases: list[float | None] = []
    if "eccentric" not in unweighted:
        phases += [tempo.eccentric_s, tempo.end_range_hold_s or 0.0]
    if "concentric" not in unweighted:
        phases.append(tempo.concentric_s)
    if None in phases:
        return None
    return sum((_as_written(each) for each in phases if each is not None), Fraction(0))


def sessions_a_week(exercise: Exercise) -> Fraction | None:
    """Give how often an exercise is to be done.

    Parameters
    ----------
    exercise : Exercise
        Of a plan.

    Returns
    -------
    Fraction or None
        Sessions a week; None where sessions a day, or days a week, are not prescribed.
    """
    if exercise.per_day is None or exercise.days_per_week is None:
        return None
    return _as_written(exercise.per_day) * _as_written(exercise.days_per_week)


def weeks_of(stage: Stage) -> int | None:
    """Give how many weeks of its programme a stage takes.

    Parameters
    ----------
    stage : Stage
        Of a plan.

    Returns
    -------
    int or None
        The first and the last week counted; None where it does not go by weeks.
    """
    return None if stage.weeks is None else stage.weeks[1] - stage.weeks[0] + 1


def exercise_total(exercise: Exercise, weeks: Fraction | int | None = None) -> DoseTotal:
    """Add up one exercise.

    Parameters
    ----------
    exercise : Exercise
        Of a plan.
    weeks : Fraction or int, optional
        How long it is done; None: not known.

    Returns
    -------
    DoseTotal
        Of this exercise alone.
    """
    each_s = repetition_under_tension_s(exercise)
    repetitions = Fraction(exercise.sets * exercise.repetitions)
    return DoseTotal(
        side=exercise.side,
        kind=exercise.kind,
        exercises=(exercise.name,),
        weeks=None if weeks is None else Fraction(weeks),
        repetitions=_amounts(exercise, repetitions, weeks),
        under_tension_s=_amounts(exercise, None if each_s is None else repetitions * each_s, weeks),
    )


def _amounts(exercise: Exercise, a_session: Fraction | None, weeks: Fraction | int | None) -> Amounts:
    per_day, often = exercise.per_day, sessions_a_week(exercise)
    a_week = None if a_session is None or often is None else a_session * often
    return Amounts(
        a_session=a_session,
        a_day=None if a_session is None or per_day is None else a_session * _as_written(per_day),
        a_week=a_week,
        in_all=None if a_week is None or weeks is None else a_week * weeks,
    )


def stage_totals(stage: Stage, weeks: Fraction | int | None = None) -> tuple[DoseTotal, ...]:
    """Add up the exercises of a stage.

    Parameters
    ----------
    stage : Stage
        Of a plan.
    weeks : Fraction or int, optional
        How long the stage lasts; None: as many weeks as it takes in its programme.

    Returns
    -------
    tuple of DoseTotal
        One for each side and kind, in the order in which they first come: a hold is no repetition, and the other leg
        does not load this one.
    """
    weeks = weeks_of(stage) if weeks is None else weeks
    groups: dict[tuple[str, str], list[Exercise]] = {}
    for each in stage.exercises:
        groups.setdefault((each.side, each.kind), []).append(each)
    return tuple(_total(group, weeks) for group in groups.values())


def _total(group: Sequence[Exercise], weeks: Fraction | int | None) -> DoseTotal:
    totals = [exercise_total(each, weeks) for each in group]
    together = len({(each.per_day, each.days_per_week) for each in group}) == 1
    return DoseTotal(
        side=group[0].side,
        kind=group[0].kind,
        exercises=tuple(each.name for each in group),
        weeks=totals[0].weeks,
        repetitions=_summed([each.repetitions for each in totals], together=together),
        under_tension_s=_summed([each.under_tension_s for each in totals], together=together),
    )


def _summed(amounts: Sequence[Amounts], *, together: bool) -> Amounts:
    return Amounts(
        a_session=_sum(each.a_session for each in amounts) if together else None,
        a_day=_sum(each.a_day for each in amounts) if together else None,
        a_week=_sum(each.a_week for each in amounts),
        in_all=_sum(each.in_all for each in amounts),
    )


def _sum(values: Iterable[Fraction | None]) -> Fraction | None:
    total = Fraction(0)
    for each in values:
        if each is None:
            return None
        total += each
    return total
