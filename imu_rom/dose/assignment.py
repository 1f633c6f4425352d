"""Whether a plan can speak about a recording, and which of its exercises the recording shows."""

from dataclasses import replace

from imu_rom.dose.exercise import ABSENT, Exercise
from imu_rom.dose.plan import Plan
from imu_rom.dose.stage_applied import first_days, plan_as_applied
from imu_rom.errors import PlanError

__all__ = ["exercise_shown", "sensors_meant"]


def sensors_meant(plan: Plan, stage: str | None, name: str | None) -> tuple[str | None, str | None]:
    """Tell which two sensors a recording has, before it is read and its day known.

    Parameters
    ----------
    plan : Plan
        The plan.
    stage : str or None
        Stage that the user names.
    name : str or None
        Exercise that the user names.

    Returns
    -------
    tuple of str or None
        Proximal and distal tracked point; None for both where exercises that may be meant differ, and for a sensor
        that is not worn.

    Raises
    ------
    PlanError
        The plan has no such stage, or no exercise of that name in any stage that may be meant.
    """
    stages = plan.stages if stage is None and first_days(plan) else (plan_as_applied(plan, None, stage).stage,)
    meant = {
        (each.proximal, each.distal) for one in stages for each in one.exercises if name is None or each.name == name
    }
    if not meant:
        # says which there are
        replace(plan, current_stage=stage or plan.current_stage).exercise(name)
    if len(meant) != 1:
        return None, None
    proximal, distal = meant.pop()
    return None if proximal == ABSENT else proximal, None if distal == ABSENT else distal


def exercise_shown(plan: Plan, *, subject: str | None, task: str | None, name: str | None = None) -> Exercise:
    """Choose the exercise of the current stage that a recording shows.

    Parameters
    ----------
    plan : Plan
        The plan.
    subject, task : str or None
        BIDS labels of the recording; None where it has none.
    name : str, optional
        Exercise that the user names; it goes before the task label.

    Returns
    -------
    Exercise
        The one exercise.

    Raises
    ------
    PlanError
        The plan is for another person or another exercise, has no exercise of that name, or nothing says which of
        several it is.
    """
    if not plan.is_for(subject):
        raise PlanError(
            f"the plan is for {plan.patient or plan.subject!r} (BIDS subject {plan.subject!r}), "
            f"but the recording is of subject {subject!r}",
            do="take that person's plan, or set bids_subject in the plan if they are the same person",
        )
    names = [each.name for each in plan.stage.exercises]
    if name is None and task is not None:
        if task not in names:
            raise PlanError(
                f"the recording is of the task {task!r}, but the plan's stage {plan.current_stage!r} has "
                f"{', '.join(repr(each) for each in names)}",
                do="take the plan of that exercise, or say by --exercise which it was or by --stage which held",
            )
        name = task
    return plan.exercise(name)
