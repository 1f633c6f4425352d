"""Which stage of a plan held when a recording was made: by its day, or as the user says."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime

from imu_rom.dose.days import day_of
from imu_rom.dose.own_range import with_own_range
from imu_rom.dose.plan import Plan
from imu_rom.dose.plan_fault import nearest
from imu_rom.errors import PlanError

__all__ = ["first_days", "plan_as_applied"]


def first_days(plan: Plan) -> tuple[tuple[date, str], ...]:
    """List from which days stages apply.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    tuple of (date, str)
        First day and stage in order of days: of the calendar, else of the stages' own dates; empty where neither is
        given.
    """
    if plan.calendar:
        return tuple((each.from_date, each.stage) for each in plan.calendar)
    return tuple((each.from_date, each.name) for each in plan.stages if each.from_date is not None)


def plan_as_applied(plan: Plan, recorded_at: str | None, stage: str | None = None) -> Plan:
    """Give a plan as it held when a recording was made.

    Parameters
    ----------
    plan : Plan
        As written.
    recorded_at : str or None
        RFC 3339 time with offset; None: nothing says when it was, and the plan's current stage holds.
    stage : str, optional
        Stage that the user names; it goes before the day.

    Returns
    -------
    Plan
        Its current stage is the one that held, and shares of the own range are angles by what was measured by then.

    Raises
    ------
    PlanError
        The plan has no stage of that name, or none of its stages held on that day.
    """
    day = None if recorded_at is None else day_of(datetime.fromisoformat(recorded_at), plan)
    if day is not None:
        plan = with_own_range(plan, day)
    names = [each.name for each in plan.stages]
    if stage is not None:
        if stage not in names:
            raise PlanError(
                f"stage must be one of {', '.join(map(repr, names))}, got {stage!r}",
                do=nearest(stage, names) or "name one of these",
            )
        return replace(plan, current_stage=stage)
    if day is None:
        return plan
    held = plan.stage_on(day)
    if held is None:
        raise PlanError(
            f"the recording is of {day}, {' and '.join(_around(plan, day))}",
            do="take the plan that held then, or say by --stage which stage it was",
        )
    return replace(plan, current_stage=held.name)


def _around(plan: Plan, day: date) -> Iterator[str]:
    # a day that no stage holds lies before one, after one that ended, or between two
    ended = [each for each in plan.stages if each.until_date is not None and each.until_date < day]
    if ended:
        yield f"after the plan's stage {ended[-1].name!r} ended ({ended[-1].until_date})"
    later = [(first, name) for first, name in first_days(plan) if first > day]
    if later:
        what = "its" if ended else "the plan's first"
        yield f"before {what} stage {later[0][1]!r} began ({later[0][0]})"
