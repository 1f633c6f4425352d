"""Whether a plan can speak about a recording, and which of its exercises the recording shows."""

from imu_rom.dose.exercise import Exercise
from imu_rom.dose.plan import Plan
from imu_rom.errors import PlanError

__all__ = ["exercise_shown"]


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
                do="take the plan of that exercise, or say by --exercise which of these it was",
            )
        name = task
    return plan.exercise(name)
