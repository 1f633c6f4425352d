"""``patient.html`` of a course: what was done over the weeks in plain words, what the plan asks now, when to stop.

Like the page of one session it has no script, asks the network for nothing, keeps nothing, and takes all its words from
the catalogue of the patient's language, but for the names that the plan gives.
"""

from dataclasses import dataclass, fields

from imu_rom.dose.exercise import Exercise
from imu_rom.dose.weeks_answer import CourseAnswer
from imu_rom.report.movement_picture import MovementPicture, movement_picture
from imu_rom.report.patient_page import patient_labels
from imu_rom.report.rendering import own_text, rendered
from imu_rom.wording.language import ENGLISH, Speech, speech
from imu_rom.wording.patient_angles import planned_part
from imu_rom.wording.patient_care import PainQuestion, StopRule, about_the_page, pain_questions, stop_rules
from imu_rom.wording.patient_course_text import CourseWords, course_words, plan_words
from imu_rom.wording.patient_movements import PictureWords, joint_words, picture_words

__all__ = ["PatientCoursePage", "PlannedExercise", "patient_course_page", "patient_course_page_bytes"]


@dataclass(frozen=True)
class PlannedExercise:
    """What the page says about one exercise of the stage that applies.

    Parameters
    ----------
    number : int
        From 1, for the ids of the page's elements.
    heading : str
        Its name and joint.
    instruction : str
        What the plan says is done; empty where it says nothing.
    planned : tuple of str
        How often, and how far.
    picture : MovementPicture
        The movement.
    picture_words : PictureWords
        The same in words.
    """

    number: int
    heading: str
    instruction: str
    planned: tuple[str, ...]
    picture: MovementPicture
    picture_words: PictureWords


@dataclass(frozen=True)
class PatientCoursePage:
    """All that the page shows.

    Parameters
    ----------
    language : str
        Its code.
    title : str
        Whose exercises, from which day to which.
    facts : tuple of tuple of str
        (what, value) of person and plan.
    words : CourseWords
        What was done, what to keep, what to change.
    exercises : tuple of PlannedExercise
        Of the stage that applies.
    stop_first : str
        The rule about pain.
    stop_rules : tuple of StopRule
        The most urgent first.
    pain_questions : tuple of PainQuestion
        To write down the next time.
    about : tuple of str
        What the page is and is not.
    labels : dict of str to str
        Headings and short words.
    """

    language: str
    title: str
    facts: tuple[tuple[str, str], ...]
    words: CourseWords
    exercises: tuple[PlannedExercise, ...]
    stop_first: str
    stop_rules: tuple[StopRule, ...]
    pain_questions: tuple[PainQuestion, ...]
    about: tuple[str, ...]
    labels: dict[str, str]


def patient_course_page(answer: CourseAnswer, language: str = ENGLISH) -> PatientCoursePage:
    """Gather what the page shows.

    Parameters
    ----------
    answer : CourseAnswer
        The course.
    language : str
        The patient's language, one of `imu_rom.wording.language.languages`.

    Returns
    -------
    PatientCoursePage
        Words and pictures.

    Raises
    ------
    SettingError
        There is no such language.
    """
    to = speech(language)
    first, rules = stop_rules(to, {one.joint for each in answer.plan.stages for one in each.exercises})
    facts = [(to.say("Your plan"), answer.plan.title)]
    if answer.plan.patient:
        facts.insert(0, (to.say("For"), answer.plan.patient))
    return PatientCoursePage(
        language=language,
        title=to.say("Your exercises from {first} to {last}", first=to.day(answer.from_day), last=to.day(answer.until)),
        facts=tuple(facts),
        words=course_words(answer, to),
        exercises=tuple(
            _exercise(number, each, to)
            for number, each in enumerate(() if answer.stage is None else answer.stage.exercises, start=1)
        ),
        stop_first=first,
        stop_rules=rules,
        pain_questions=pain_questions(to),
        about=about_the_page(to),
        labels=patient_labels(to)
        | {
            "first": to.say("First of all"),
            "course": to.say("Your weeks"),
            "weeks": to.say("Week by week"),
            "pain_before": to.say("What you wrote about pain"),
            "planned": to.say("Your plan now"),
            "pain": to.say("How does it feel the next time?"),
        },
    )


def _exercise(number: int, exercise: Exercise, to: Speech) -> PlannedExercise:
    part = planned_part(exercise)
    picture = movement_picture(exercise, 0.0, part, None)
    return PlannedExercise(
        number=number,
        heading=to.say("{name}, {joint}", name=exercise.name, joint=joint_words(exercise, to)),
        instruction=exercise.in_words or "",
        planned=plan_words(exercise, to),
        picture=picture,
        picture_words=picture_words(exercise, picture.view, 0.0, part, None, to),
    )


def patient_course_page_bytes(content: PatientCoursePage) -> bytes:
    """Write the page.

    Parameters
    ----------
    content : PatientCoursePage
        What it shows.

    Returns
    -------
    bytes
        UTF-8 text; the same content gives the same bytes.
    """
    values = {each.name: getattr(content, each.name) for each in fields(content)}
    return rendered("patient_course.html", values, {"style": own_text("patient.css")}).encode()
