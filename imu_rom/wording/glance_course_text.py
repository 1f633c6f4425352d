"""Lines of a session's first screen that its course knows: pain of that day, the change since the last review."""

from imu_rom.dose.criteria import Criteria
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.weeks_answer import CourseAnswer
from imu_rom.wording.figures import one_decimal
from imu_rom.wording.glance_text import GlanceLine
from imu_rom.wording.review_text import NO_REVIEW, change_told, review_words, signed

__all__ = ["change_line", "pain_line", "unknown_line"]


def unknown_line() -> GlanceLine:
    """Say that nothing is known of the course that a session belongs to.

    Returns
    -------
    GlanceLine
        One line for pain and change together.
    """
    sentence = (
        "Pain of that day and the change since the last review stand in the course, which this page was not given "
        "(imu-rom report --course)."
    )
    return GlanceLine("Pain, change", "not known", sentence, "none")


def pain_line(answer: CourseAnswer) -> GlanceLine:
    """Say what the diary notes of a day: pain during the exercises and next morning.

    Parameters
    ----------
    answer : CourseAnswer
        The course up to that day.

    Returns
    -------
    GlanceLine
        Against what the stage asks, where it asks; a red flag and pain at which to stop come first.
    """
    pain, day = answer.days[-1].pain, answer.until
    asked = Criteria() if answer.stage is None else answer.stage.criteria
    noted = [
        (what, value, bound)
        for what, value, bound in (
            ("during", pain.during, asked.pain_during_at_most),
            ("after", pain.after, asked.pain_after_at_most),
            ("next morning", pain.next_morning, asked.pain_next_morning_at_most),
        )
        if value is not None
    ]
    if not noted:
        return GlanceLine("Pain", "not noted", f"The diary notes no pain of {day}.", "open")
    parts = [
        f"{what} {value:g}{'' if bound is None else f' (asked at most {bound:g})'}" for what, value, bound in noted
    ]
    sentence = f"Highest of {day}, of 10: {', '.join(parts)}"
    if pain.next_morning is None:
        sentence += "; next morning is not noted"
    elif answer.baseline_next_morning is not None:
        sentence += f"; baseline of mornings {one_decimal(answer.baseline_next_morning)}"
    if pain.stiffness_min is not None:
        sentence += f"; stiff for {pain.stiffness_min:g} min"
    beyond = any(bound is not None and value > bound for _, value, bound in noted)
    urgent = day in {
        *(each.day for each in answer.stops),
        *(each.day for each in answer.flares),
        *(each.day for each in answer.red_flags),
    }
    known = {what for what, *_ in noted}
    judged = all(bound is not None for _, _, bound in noted)
    both = {"during", "next morning"} <= known
    sign = "look" if beyond or urgent else "open" if not both else "well" if judged else "none"
    during, morning = ("?" if each is None else f"{each:g}" for each in (pain.during, pain.next_morning))
    return GlanceLine("Pain", f"{during}, morning {morning}", f"{sentence}.", sign)  # type: ignore[arg-type]


def change_line(exercise: Exercise, answer: CourseAnswer) -> GlanceLine:
    """Say how the end range changed since the last review.

    Parameters
    ----------
    exercise : Exercise
        Which.
    answer : CourseAnswer
        The course up to that day, this session included.

    Returns
    -------
    GlanceLine
        Beyond the detectable change, or not.
    """
    name, since = "Since review", answer.since_review
    if since is None:
        return GlanceLine(name, "not known", NO_REVIEW, "none")
    key, day = (exercise.name, exercise.side), answer.until
    for each in since.changes:
        if (each.exercise, each.side) == key and each.to_day == day:
            told = change_told(each, since.review)
            sign = {"real": "look", "not shown": "none", "undecided": "open"}[each.answer]
            return GlanceLine(name, f"{signed(each.change_deg)} deg", f"{told[:1].upper()}{told[1:]}.", sign)  # type: ignore[arg-type]
    if any((each.exercise, each.side) == key and each.day == day for each in since.first):
        sentence = f"The first recorded since {review_words(since.review)}: nothing to compare yet."
        return GlanceLine(name, "first since", sentence, "none")
    sentence = f"This session has no end range to compare with what was recorded since {review_words(since.review)}."
    return GlanceLine(name, "not known", sentence, "none")
