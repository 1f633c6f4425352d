"""A course laid out by days: which plan and stage applied, what was recorded, what the diary says; each thing once."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property
from itertools import pairwise
from typing import Literal, TypeVar

from imu_rom.dose.exercise import Exercise
from imu_rom.dose.follow_up import DiaryEntry, RecordedExercise
from imu_rom.dose.plan import Plan, Stage
from imu_rom.errors import CourseError

__all__ = ["CourseDays", "Key", "StageDays", "key_of", "lay_out"]

DAYS_A_WEEK = 7
LONGEST_DAYS = 3660

Key = tuple[str, Literal["left", "right"]]
"""Name of an exercise and its side."""


def key_of(exercise: Exercise) -> Key:
    """Tell what an exercise is counted under.

    Parameters
    ----------
    exercise : Exercise
        Of a plan or a recording.

    Returns
    -------
    tuple of str
        Its name and side.
    """
    return exercise.name, exercise.side


@dataclass(frozen=True)
class StageDays:
    """Days in a row under one stage.

    Parameters
    ----------
    stage : Stage or None
        As the plan had it on the last of these days; None: no stage applied.
    days : tuple of date
        In order.
    """

    stage: Stage | None
    days: tuple[date, ...]


@dataclass(frozen=True)
class CourseDays:
    """A course by days.

    Parameters
    ----------
    plans : tuple of Plan
        In order of the days from which they apply.
    days : tuple of date
        From the first to the last, none left out.
    recorded : tuple of RecordedExercise
        Within these days, in time order, each once.
    diary : tuple of DiaryEntry
        Within these days, in order, each once.
    days_outside : tuple of date
        Days of what lies before or after.
    repeated_recordings, repeated_lines : int
        Left out because they came twice.
    """

    plans: tuple[Plan, ...]
    days: tuple[date, ...]
    recorded: tuple[RecordedExercise, ...]
    diary: tuple[DiaryEntry, ...]
    days_outside: tuple[date, ...]
    repeated_recordings: int
    repeated_lines: int

    @property
    def until(self) -> date:
        """Last day."""
        return self.days[-1]

    @cached_property
    def recorded_on(self) -> Mapping[date, tuple[RecordedExercise, ...]]:
        """What was recorded on each day that has a recording."""
        return _by_day(self.recorded)

    @cached_property
    def diary_on(self) -> Mapping[date, tuple[DiaryEntry, ...]]:
        """Lines of each day that has one."""
        return _by_day(self.diary)

    @cached_property
    def plan_number_on(self) -> Mapping[date, int]:
        """Which of the plans applied on each day."""
        return {
            day: max((i for i, plan in enumerate(self.plans) if (plan.from_date or day) <= day), default=0)
            for day in self.days
        }

    @cached_property
    def stage_on(self) -> Mapping[date, Stage | None]:
        """Which stage applied on each day."""
        return {day: self.plan_on(day).stage_on(day) for day in self.days}

    def plan_on(self, day: date) -> Plan:
        """Give the version of the plan that applied on a day.

        Parameters
        ----------
        day : date
            Of the course.

        Returns
        -------
        Plan
            The last one that applies from this day or an earlier one.
        """
        return self.plans[self.plan_number_on[day]]

    def weeks(self) -> tuple[tuple[date, ...], ...]:
        """Part the days into weeks, counted from the first day.

        Returns
        -------
        tuple of tuple of date
            Seven days each, fewer in the last.
        """
        return tuple(self.days[i : i + DAYS_A_WEEK] for i in range(0, len(self.days), DAYS_A_WEEK))

    def runs(self) -> tuple[StageDays, ...]:
        """Part the days into runs under one stage.

        Returns
        -------
        tuple of StageDays
            In order; a stage that comes back is a run of its own.
        """
        names = [None if (stage := self.stage_on[day]) is None else stage.name for day in self.days]
        cuts = [0, *(i + 1 for i, (one, other) in enumerate(pairwise(names)) if one != other), len(names)]
        return tuple(
            StageDays(self.stage_on[self.days[stop - 1]], self.days[start:stop]) for start, stop in pairwise(cuts)
        )


def lay_out(
    plans: Sequence[Plan], recorded: Iterable[RecordedExercise], diary: Iterable[DiaryEntry], until: date
) -> CourseDays:
    """Lay a course out by days.

    Parameters
    ----------
    plans : sequence of Plan
        Versions of one plan, in any order.
    recorded : iterable of RecordedExercise
        In any order.
    diary : iterable of DiaryEntry
        In any order.
    until : date
        Last day.

    Returns
    -------
    CourseDays
        From the first day of the earliest plan. Where no plan names a day, from the first recording or diary line.

    Raises
    ------
    CourseError
        There is no plan; two apply from the same day; or the last day lies before the first, or ten years after it.
    """
    if not plans:
        raise CourseError("a course needs a plan", do="add one")
    # a plan without a first day holds before all others
    ordered = sorted(plans, key=lambda plan: plan.from_date or date.min)
    for one, other in pairwise(ordered):
        if one.from_date == other.from_date:
            since = "from the beginning" if one.from_date is None else f"from {one.from_date}"
            raise CourseError(
                f"two plans apply {since}: {one.title!r} and {other.title!r}",
                do="give the later version a later first day (from), or leave one of them out",
            )
    recordings, repeated_recordings = _each_recording_once(recorded)
    lines, repeated_lines = _each_line_once(diary)
    known_days = {each.day for each in recordings} | {each.day for each in lines}
    # the first version may well apply from before its first stage; it says nothing of earlier days
    first = ordered[0].from_date or _first_dated(ordered[0])
    if first is None:
        known = [day for day in known_days if day <= until]
        first = min(known, default=until)
    if not timedelta(0) <= until - first <= timedelta(days=LONGEST_DAYS):
        raise CourseError(
            f"the last day must lie from 0 to {LONGEST_DAYS} days after the first, {first}, got {until}",
            do="mend the first day of the plan, or ask for another last day",
        )
    days = tuple(first + timedelta(days=i) for i in range((until - first).days + 1))
    outside = {day for day in known_days if not first <= day <= until}
    return CourseDays(
        plans=tuple(ordered),
        days=days,
        recorded=tuple(each for each in recordings if each.day not in outside),
        diary=tuple(each for each in lines if each.day not in outside),
        days_outside=tuple(sorted(outside)),
        repeated_recordings=repeated_recordings,
        repeated_lines=repeated_lines,
    )


def _first_dated(plan: Plan) -> date | None:
    if plan.calendar:
        return min(each.from_date for each in plan.calendar)
    return min((each.from_date for each in plan.stages if each.from_date is not None), default=None)


def _each_recording_once(recorded: Iterable[RecordedExercise]) -> tuple[list[RecordedExercise], int]:
    """Two results of the same exercise of the same session at the same time are one recording that came twice."""
    every = sorted(
        recorded, key=lambda each: (each.day, each.started_at, each.session, *key_of(each.exercise), each.source)
    )
    seen: dict[object, RecordedExercise] = {}
    for each in every:
        seen.setdefault((each.day, each.session, each.started_at, key_of(each.exercise)), each)
    return list(seen.values()), len(every) - len(seen)


# yes, part and no about the same moment contradict each other: the least is taken, so that nothing is overstated
LEAST_FIRST = {"no": 0, "part": 1, "yes": 2, None: 3}


def _each_line_once(diary: Iterable[DiaryEntry]) -> tuple[list[DiaryEntry], int]:
    """Equal lines are one line; lines of one moment keep all they say, but their tick counts once."""
    every = list(diary)
    once = sorted(
        set(every), key=lambda each: (each.day, str(each.at), LEAST_FIRST[each.done], each.line or 0, str(each))
    )
    kept, ticked = [], set()
    for each in once:
        moment = (each.day, each.at, each.exercise, each.side)
        if each.at is not None and each.done is not None and moment in ticked:
            kept.append(replace(each, done=None))
        else:
            kept.append(each)
            ticked.add(moment)
    return kept, len(every) - len(once)


Dated = TypeVar("Dated", RecordedExercise, DiaryEntry)


def _by_day(items: Iterable[Dated]) -> dict[date, tuple[Dated, ...]]:
    found: dict[date, list[Dated]] = {}
    for each in items:
        found.setdefault(each.day, []).append(each)
    return {day: tuple(each) for day, each in found.items()}
