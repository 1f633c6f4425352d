"""The pain and the morning stiffness that a diary tells, as FHIR R4B Observations; its notes stay where they are."""

from collections.abc import Sequence
from datetime import timedelta

from imu_rom.dose.weeks_answer import CourseAnswer, DayAnswer
from imu_rom.exchange.fhir_codes import LOINC, PAIN_SCORE, PAIN_SCORE_NAME
from imu_rom.exchange.fhir_parts import Resource, digests, identified, observation, own_code, quantity, subject
from imu_rom.recording.model import InputFile

__all__ = ["diary_observations"]

PAINS = {
    "before": "pain-before",
    "during": "pain-during",
    "after": "pain-after",
    "next_morning": "pain-next-morning",
    "load_test": "pain-load-test",
}
OF_THE_MORNING = ("pain-next-morning", "morning-stiffness")


def diary_observations(answer: CourseAnswer, inputs: Sequence[InputFile]) -> list[Resource]:
    """Give what a diary tells of pain and stiffness.

    Parameters
    ----------
    answer : CourseAnswer
        The weeks.
    inputs : sequence of InputFile
        What they were read from.

    Returns
    -------
    list of dict
        Observations with their ids, in order of days.
    """
    who = subject(answer.plan.patient or answer.plan.subject)
    # by the person the same answer keeps its id while the diary grows; without one the files must tell people apart
    origin = "" if who else digests(inputs)
    return [each for day in answer.days for each in _of_day(day, who, origin)]


def _of_day(day: DayAnswer, who: Resource, origin: str) -> list[Resource]:
    loinc = {"system": LOINC, "code": PAIN_SCORE, "display": PAIN_SCORE_NAME}
    said = [(code, getattr(day.pain, name), "{score}") for name, code in PAINS.items()]
    stiffness_min = day.pain.stiffness_min
    said.append(("morning-stiffness", None if stiffness_min is None else 60.0 * stiffness_min, "s"))
    found = []
    for code, value, unit in said:
        if value is None:
            continue
        named = own_code(code)
        if unit == "{score}":
            named = {**named, "coding": [loinc, *named["coding"]]}
        # the next morning's answer stands with the day of the exercises, but was felt a day later
        felt = day.day + timedelta(days=1) if code in OF_THE_MORNING else day.day
        elements = {**who, "effectiveDateTime": felt.isoformat(), "valueQuantity": quantity(value, unit)}
        found.append(identified(observation(named, "survey", "final", elements), origin))
    return found
