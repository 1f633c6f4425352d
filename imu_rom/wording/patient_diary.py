"""What a patient is asked about each day: signs that need help first, then pain, then whatever else there is to say."""

from collections.abc import Collection
from dataclasses import dataclass

from imu_rom.wording.cautions import RED_FLAGS, Urgency
from imu_rom.wording.language import Speech, said_later
from imu_rom.wording.patient_care import SIGNS, signs_asked
from imu_rom.wording.patient_plan import morning_question

__all__ = ["Urgent", "diary_words", "sign_questions", "urgent_words"]

ACTIONS: dict[Urgency, tuple[str, tuple[str, ...]]] = {
    "emergency": (
        said_later("Call for help now"),
        (
            said_later("Call the emergency number now. That is 112 in Europe."),
            said_later("Do no exercises. Do not drive yourself."),
        ),
    ),
    "today": (
        said_later("See a doctor today"),
        (
            said_later("Do no exercises."),
            said_later("Call your clinic now. If nobody answers, see another doctor today."),
            said_later("Is it hard to breathe, or does your chest hurt? Call the emergency number, 112 in Europe."),
        ),
    ),
    "before the next session": (
        said_later("Ask your clinic first"),
        (said_later("Do no exercises until you have asked your clinic or a doctor."),),
    ),
}


@dataclass(frozen=True)
class Urgent:
    """What comes before anything else after a sign that needs help.

    Parameters
    ----------
    urgency : {"emergency", "today", "before the next session"}
        How soon.
    heading : str
        What to do, in a few words.
    sentences : tuple of str
        What to do.
    signs : tuple of str
        What was said.
    """

    urgency: Urgency
    heading: str
    sentences: tuple[str, ...]
    signs: tuple[str, ...]


def sign_questions(to: Speech, joints: Collection[str] = ()) -> tuple[tuple[str, str], ...]:
    """Ask for signs that need help.

    Parameters
    ----------
    to : Speech
        The patient's language.
    joints : collection of str
        That the exercises move; none stands for any.

    Returns
    -------
    tuple of tuple of str
        (word of the diary, sign), the most urgent first.
    """
    return tuple((each.word, words) for each, words in signs_asked(to, joints))


def urgent_words(words: tuple[str, ...], to: Speech) -> Urgent | None:
    """Say what to do after signs that need help.

    Parameters
    ----------
    words : tuple of str
        Words of the diary.
    to : Speech
        The patient's language.

    Returns
    -------
    Urgent or None
        By the most urgent of them; None where there are none.
    """
    named = [each for each in RED_FLAGS if each.word in words]
    if not named:
        return None
    heading, sentences = ACTIONS[named[0].urgency]
    return Urgent(
        named[0].urgency,
        to.say(heading),
        tuple(to.say(each) for each in sentences),
        tuple(to.say(SIGNS[each.word]) for each in named),
    )


def diary_words(to: Speech, joints: Collection[str] = ()) -> dict[str, str]:
    """Give the words of the pages of the diary.

    Parameters
    ----------
    to : Speech
        The patient's language.
    joints : collection of str
        That the exercises move; none stands for any.

    Returns
    -------
    dict of str to str
        By what they are for.
    """
    return {
        "heading": to.say("Diary"),
        "new": to.say("Write about today"),
        "new_hint": to.say("Also when you did the exercises without the sensors, or did not do them."),
        "none": to.say("There is nothing here yet."),
        "signs_heading": to.say("First: is any of this true for you now?"),
        "signs_hint": to.say("Tick all that is true."),
        "signs_none": to.say("None of these"),
        "signs_missing": to.say("Please tick what is true, or tick the last line."),
        "signs_both": to.say("You ticked a sign and also the last line. Please look at it again."),
        "go_on": to.say("Go on"),
        "told": to.say("You said:"),
        "told_clinic": to.say("Your clinic sees it next time they open this page. They are not told at once. So call."),
        "call": to.say("Your clinic:"),
        "then": to.say("When you have called, you can go on here."),
        "go_on_anyway": to.say("I know what to do. Go on with the questions"),
        "feel_heading": to.say("How did it feel?"),
        "scale": to.say("0 is no pain. 10 is the worst pain you can think of."),
        "what": to.say("Which exercise?"),
        "whole_day": to.say("The whole day, not one exercise"),
        "done": to.say("Did you do it?"),
        "yes": to.say("Yes"),
        "part": to.say("Part of it"),
        "no": to.say("No"),
        "before": to.say("How much did it hurt before the exercises?"),
        "during": to.say("What was the worst pain during the exercises?"),
        "after": to.say("How much does it hurt after the exercises?"),
        "above_five": to.say("Your pain went above 5. Stop these exercises, and call your clinic before you go on."),
        "painkiller": to.say("Did you take a painkiller that day?"),
        "other_load": to.say("Did you do other hard things that day? A long walk, sports, work in the garden?"),
        "note": to.say("Is there anything else to say?"),
        "note_hint": to.say("Your clinic reads it later. Nobody reads it at once."),
        "day": to.say("Which day?"),
        "save": to.say("Save"),
        "saved": to.say("Saved. Thank you."),
        "change": to.say("Change"),
        "bad_day": to.say("Please write a day that is not in the future."),
        "too_long": to.say("This is too long. Please make it shorter."),
        "bad_number": to.say("Please choose a number from 0 to 10."),
        "nothing": to.say("Please answer at least one question."),
        "morning_heading": to.say("How is it the next morning?"),
        "morning": morning_question(to, joints),
        "morning_of": to.say("Which exercises is it about? Choose the day of the exercises, not the morning."),
        "stiffness": to.say("For how many minutes was it stiff?"),
        "stiffness_hint": to.say("Leave it empty if you do not know."),
        "bad_minutes": to.say("Please write a number of minutes, such as 10."),
        "morning_ask": to.say("Please come back tomorrow morning. One question is left: how does it feel then?"),
        "reminder": to.say("Put a reminder on my phone"),
        "reminder_hint": to.say("Your phone asks you whether to keep it. It does not say what it is about."),
        "reminder_title": to.say("A question from your clinic"),
        "morning_open": to.say("One question is left"),
        "morning_answer": to.say("Answer it"),
        "pain": to.say("Pain (0 to 10)"),
        "pain_before": to.say("Before:"),
        "pain_during": to.say("During:"),
        "pain_after": to.say("After:"),
        "pain_next_morning": to.say("Next morning:"),
        "recorded": to.say("with the sensors"),
    }
