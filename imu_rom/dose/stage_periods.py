"""The plan's calendar as spans of days: from when until when each stage applies, and whether that goes on or back."""

from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from typing import Literal

from imu_rom.dose.plan import Plan, Stage
from imu_rom.dose.stage_applied import first_days
from imu_rom.dose.totals import DAYS_A_WEEK

__all__ = ["StagePeriod", "days_of_stage", "stage_periods", "weeks_in_calendar"]


@dataclass(frozen=True)
class StagePeriod:
    """Days in a row in which one stage applies.

    Parameters
    ----------
    stage : str
        Its name.
    first_day : date
        First day.
    last_day : date or None
        Last day; None: nothing says when it ends.
    move : {"first", "on", "back", "same"}
        Against the period before it, by the order of the plan's stages.
    why : str or None
        The clinician's reason, in words.
    """

    stage: str
    first_day: date
    last_day: date | None
    move: Literal["first", "on", "back", "same"]
    why: str | None = None

    @property
    def days(self) -> int | None:
        """How many days; None where the end is open."""
        return None if self.last_day is None else (self.last_day - self.first_day).days + 1

    def holds_on(self, day: date) -> bool:
        """Tell whether a day lies in it.

        Parameters
        ----------
        day : date
            Any.

        Returns
        -------
        bool
            True from the first to the last day, both included.
        """
        return self.first_day <= day and (self.last_day is None or day <= self.last_day)


def stage_periods(plan: Plan) -> tuple[StagePeriod, ...]:
    """Lay out a plan's calendar.

    Parameters
    ----------
    plan : Plan
        A plan without contradictions.

    Returns
    -------
    tuple of StagePeriod
        In order of days; empty where the plan has no dates. A stage that comes back has several.
    """
    begun = first_days(plan)
    order = [each.name for each in plan.stages]
    until = {} if plan.calendar else {each.name: each.until_date for each in plan.stages}
    reasons = {each.from_date: each.why for each in plan.calendar}
    periods: list[StagePeriod] = []
    for index, (first_day, stage) in enumerate(begun):
        last_day = until.get(stage)
        if last_day is None and index + 1 < len(begun):
            last_day = begun[index + 1][0] - timedelta(days=1)
        steps = order.index(stage) - order.index(periods[-1].stage) if periods else 0
        move: Literal["first", "on", "back", "same"] = "on" if steps > 0 else "back" if steps < 0 else "same"
        periods.append(
            StagePeriod(stage, first_day, last_day, move if periods else "first", why=reasons.get(first_day))
        )
    return tuple(periods)


def days_of_stage(plan: Plan, stage: Stage) -> int | None:
    """Count the days that the calendar gives a stage.

    Parameters
    ----------
    plan : Plan
        A plan without contradictions.
    stage : Stage
        One of its stages.

    Returns
    -------
    int or None
        Over all its periods; None where it has none, or one of them has an open end.
    """
    days = [each.days for each in stage_periods(plan) if each.stage == stage.name]
    known = [each for each in days if each is not None]
    return sum(known) if known and len(known) == len(days) else None


def weeks_in_calendar(plan: Plan, stage: Stage) -> Fraction | None:
    """Give how many weeks the calendar gives a stage.

    Parameters
    ----------
    plan : Plan
        A plan without contradictions.
    stage : Stage
        One of its stages.

    Returns
    -------
    Fraction or None
        Its days over seven; None where they are not known.
    """
    days = days_of_stage(plan, stage)
    return None if days is None else Fraction(days, DAYS_A_WEEK)
