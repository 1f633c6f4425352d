"""The patient's page about one session: what was done, what to keep, what to change, when to stop, how it felt.

One self-contained page without script; it asks the network for nothing and keeps nothing. All its words come from the
catalogue of the patient's language, but for the names that the plan gives.
"""

import re
from dataclasses import dataclass, fields
from datetime import date

from imu_rom.exchange.document import ExerciseAnswer, ResultDocument
from imu_rom.report.movement_picture import MovementPicture, movement_picture
from imu_rom.report.rendering import own_text, rendered
from imu_rom.wording.exercise_text import is_undecided
from imu_rom.wording.language import ENGLISH, Speech, speech
from imu_rom.wording.patient_angles import furthest, planned_part
from imu_rom.wording.patient_care import PainQuestion, StopRule, about_the_page, pain_questions, stop_rules
from imu_rom.wording.patient_movements import PictureWords, joint_words, picture_words
from imu_rom.wording.patient_text import ExerciseWords, exercise_words

__all__ = [
    "PatientExercise",
    "PatientPage",
    "drawing_style",
    "patient_labels",
    "patient_page",
    "patient_page_bytes",
]


@dataclass(frozen=True)
class PatientExercise:
    """What the page says about one exercise.

    Parameters
    ----------
    number : int
        From 1, for the ids of the page's elements.
    heading : str
        Its name and joint.
    instruction : str
        What the plan says is done; empty where it says nothing.
    words : ExerciseWords
        What was done, what to keep, what to change.
    picture : MovementPicture
        The movement.
    picture_words : PictureWords
        The same in words.
    """

    number: int
    heading: str
    instruction: str
    words: ExerciseWords
    picture: MovementPicture
    picture_words: PictureWords


@dataclass(frozen=True)
class PatientPage:
    """All that the page shows.

    Parameters
    ----------
    language : str
        Its code.
    title : str
        Whose exercises, on which day.
    facts : tuple of tuple of str
        (what, value) of person and plan.
    exercises : tuple of PatientExercise
        One part an exercise.
    stop_first : str
        The rule about pain.
    stop_rules : tuple of StopRule
        The most urgent first.
    pain_questions : tuple of PainQuestion
        To write down.
    about : tuple of str
        What the page is and is not.
    labels : dict of str to str
        Headings and short words.
    """

    language: str
    title: str
    facts: tuple[tuple[str, str], ...]
    exercises: tuple[PatientExercise, ...]
    stop_first: str
    stop_rules: tuple[StopRule, ...]
    pain_questions: tuple[PainQuestion, ...]
    about: tuple[str, ...]
    labels: dict[str, str]


def patient_page(document: ResultDocument, language: str = ENGLISH) -> PatientPage:
    """Gather what the page shows.

    Parameters
    ----------
    document : ResultDocument
        The session's result.
    language : str
        The patient's language, one of `imu_rom.wording.language.languages`.

    Returns
    -------
    PatientPage
        Words and pictures.

    Raises
    ------
    SettingError
        There is no such language.
    """
    to = speech(language)
    recorded_at = document.recording.recorded_at
    day = None if recorded_at is None else date.fromisoformat(recorded_at[:10])
    first, rules = stop_rules(to, {each.exercise.joint for each in document.exercises})
    facts = [(to.say("Your plan"), document.plan_title)]
    if document.patient:
        facts.insert(0, (to.say("For"), document.patient))
    return PatientPage(
        language=language,
        title=to.say("Your exercises") if day is None else to.say("Your exercises on {day}", day=to.day(day)),
        facts=tuple(facts),
        exercises=tuple(
            _exercise(number, answer, len(document.exercises), day, to)
            for number, answer in enumerate(document.exercises, start=1)
        ),
        stop_first=first,
        stop_rules=rules,
        pain_questions=pain_questions(to),
        about=about_the_page(to),
        labels=patient_labels(to),
    )


def _exercise(number: int, answer: ExerciseAnswer, of: int, day: date | None, to: Speech) -> PatientExercise:
    exercise, pose_deg = answer.exercise, answer.zero.pose_deg
    part, far = planned_part(exercise), furthest(exercise, answer.comparison, answer.allotment)
    picture = movement_picture(exercise, pose_deg, part, far)
    name = to.say("Not sure which exercise") if is_undecided(answer.allotment) else exercise.name
    joint = joint_words(exercise, to)
    return PatientExercise(
        number=number,
        heading=to.say("{name}, {joint}", name=name, joint=joint)
        if of == 1
        else to.say("Exercise {number}: {name}, {joint}", number=number, name=name, joint=joint),
        instruction=exercise.in_words or "",
        words=exercise_words(exercise, answer.comparison, answer.allotment, to),
        picture=picture,
        picture_words=picture_words(exercise, picture.view, pose_deg, part, far, to, day),
    )


def patient_labels(to: Speech) -> dict[str, str]:
    """Give headings and short words of a patient's page.

    Parameters
    ----------
    to : Speech
        The patient's language.

    Returns
    -------
    dict of str to str
        By what they are for.
    """
    return {
        "done": to.say("What you did"),
        "keep": to.say("What to keep"),
        "change": to.say("What to change"),
        "instruction": to.say("Your plan says:"),
        "stop": to.say("When to stop and whom to call"),
        "clinician": to.say("My clinician:"),
        "phone": to.say("Phone:"),
        "pain": to.say("How did it feel?"),
        "pain_how": to.say("0 is no pain. 10 is the worst pain you can think of. Mark a number, or write it down."),
        "pain_kept": to.say("Nothing is saved or sent. Print the page to take it with you."),
        "about": to.say("About this page"),
    }


def patient_page_bytes(content: PatientPage) -> bytes:
    """Write the page.

    Parameters
    ----------
    content : PatientPage
        What it shows.

    Returns
    -------
    bytes
        UTF-8 text; the same content gives the same bytes.
    """
    values = {each.name: getattr(content, each.name) for each in fields(content)}
    return rendered("patient.html", values, {"style": own_text("patient.css")}).encode()


def drawing_style() -> str:
    """Give the part of the page's style that is of drawings, in black and white, for where they stand alone.

    Returns
    -------
    str
        Rules without custom properties.
    """
    style = own_text("patient.css")
    colours = dict(re.findall(r"--(\w+): (#\w+);", style))
    rules = re.findall(r"^ *(\.movement .*)$", style, re.MULTILINE)
    return re.sub(r"var\(--(\w+)\)", lambda found: colours[found[1]], "\n".join(rules))
