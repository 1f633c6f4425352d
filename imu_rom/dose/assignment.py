"""Whose recording of which exercise a plan can speak about."""

from imu_rom.dose.plan import Exercise, Plan
from imu_rom.errors import PlanError

__all__ = ["check_subject", "choose_exercise", "subject_label"]


def subject_label(plan: Plan) -> str | None:
    """BIDS subject label of the plan's person: as declared, else the pseudonym without punctuation.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    str or None
        Letters and digits; None where the plan names nobody.
    """
    if plan.bids_subject is not None:
        return plan.bids_subject
    if plan.patient is None:
        return None
    return "".join(each for each in plan.patient if each.isalnum()) or None


def check_subject(plan: Plan, subject: str | None) -> None:
    """Refuse a plan for another person than the recording's.

    Parameters
    ----------
    plan : Plan
        The plan.
    subject : str or None
        BIDS subject label of the recording; None where it has none.

    Raises
    ------
    PlanError
        Both are named and differ.
    """
    label = subject_label(plan)
    if label is not None and subject is not None and label != subject:
        raise PlanError(
            f"the plan is for {plan.patient or label!r} (BIDS subject {label!r}), "
            f"but the recording is of subject {subject!r}",
            do="use that person's plan, or set bids_subject in the plan if they are the same person",
        )


def choose_exercise(plan: Plan, task: str | None, name: str | None = None) -> Exercise:
    """Choose the exercise of the current stage that a recording shows.

    Parameters
    ----------
    plan : Plan
        The plan.
    task : str or None
        BIDS task label of the recording; None where it has none.
    name : str, optional
        Exercise asked for; it goes before the task label.

    Returns
    -------
    Exercise
        The one exercise.

    Raises
    ------
    PlanError
        The stage has no such exercise, or nothing says which of several it is.
    """
    exercises = plan.stage.exercises
    known = ", ".join(repr(each.name) for each in exercises)
    stage = f"stage {plan.current_stage!r}"
    if name is not None:
        for each in exercises:
            if each.name == name:
                return each
        raise PlanError(f"{stage} has no exercise {name!r}; it has {known}", do="name one of these by --exercise")
    if task is not None:
        for each in exercises:
            if each.name == task:
                return each
        raise PlanError(
            f"the recording is of the task {task!r}, but {stage} of the plan has {known}",
            do="use the plan of that exercise, or name the plan's exercise by --exercise",
        )
    if len(exercises) == 1:
        return exercises[0]
    raise PlanError(
        f"nothing says which exercise of {stage} the recording shows; it has {known}",
        do="name one of these by --exercise",
    )
