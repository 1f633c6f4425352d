"""What a patient's plan asks for on a day, and how it is chosen in a form."""

from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection

from imu_rom.clinic.patient_folder import plans_in_effect
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.plan import Plan
from imu_rom.dose.plan_file import plan_from_bytes
from imu_rom.wording.language import Speech
from imu_rom.wording.patient_movements import joint_words

__all__ = ["Asked", "asked_on", "chosen", "names_of", "options"]


@dataclass(frozen=True)
class Asked:
    """What is asked for on a day.

    Parameters
    ----------
    plan : Plan or None
        The version of that day; None before the first.
    exercises : tuple of Exercise
        Of the stage of that day; empty where none applies.
    """

    plan: Plan | None
    exercises: tuple[Exercise, ...]

    @property
    def joints(self) -> frozenset[str]:
        """That the exercises move."""
        return frozenset(each.joint for each in self.exercises)


def asked_on(connection: Connection, patient_id: str, day: date) -> Asked:
    """Look up what is asked for.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    patient_id : str
        Of whom.
    day : date
        The person's day.

    Returns
    -------
    Asked
        Plan and exercises.
    """
    begun = [each for each in plans_in_effect(connection, patient_id) if each.applies_from <= day.isoformat()]
    if not begun:
        return Asked(None, ())
    plan = plan_from_bytes(begun[-1].toml.encode(), begun[-1].file_name)
    stage = plan.stage_on(day)
    return Asked(plan, () if stage is None else stage.exercises)


def options(asked: Asked, to: Speech) -> tuple[tuple[str, str], ...]:
    """Give the exercises for a form.

    Parameters
    ----------
    asked : Asked
        What is asked for.
    to : Speech
        The patient's language.

    Returns
    -------
    tuple of tuple of str
        (value, words).
    """
    return tuple((f"{each.name}:{each.side}", _words(each, to)) for each in asked.exercises)


def names_of(asked: Asked) -> tuple[tuple[str, str], ...]:
    """Give the exercises for a form that asks for the side by itself.

    Parameters
    ----------
    asked : Asked
        What is asked for.

    Returns
    -------
    tuple of tuple of str
        (name, words); each name once.
    """
    words = {}
    for each in asked.exercises:
        words[each.name] = each.name if each.in_words is None else f"{each.name}: {each.in_words}"
    return tuple(words.items())


def chosen(asked: Asked, value: str) -> Exercise | None:
    """Find what was chosen in a form.

    Parameters
    ----------
    asked : Asked
        What is asked for.
    value : str
        As `options` gave it.

    Returns
    -------
    Exercise or None
        None for anything else.
    """
    return next((each for each in asked.exercises if f"{each.name}:{each.side}" == value), None)


def _words(exercise: Exercise, to: Speech) -> str:
    words = f"{exercise.name}, {joint_words(exercise, to)}"
    return words if exercise.in_words is None else f"{words}: {exercise.in_words}"
