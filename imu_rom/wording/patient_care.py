"""When to stop and whom to call, the pain questions, and what the page is, in the words and language of a patient.

The signs and how urgent each is are those of `imu_rom.wording.cautions`, which has their sources.
"""

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from imu_rom.wording.cautions import RED_FLAGS, RedFlag, Urgency, is_about_legs
from imu_rom.wording.language import Speech, said_later

__all__ = ["PainQuestion", "StopRule", "about_the_page", "pain_questions", "signs_asked", "stop_rules"]

# 112: the emergency number in all of the European Union (Directive (EU) 2018/1972, article 109; from memory)
WHAT_TO_DO: dict[Urgency, str] = {
    "emergency": said_later("Call the emergency number now (112 in Europe). Do no exercises. The signs:"),
    "today": said_later("Do no exercises. See a doctor today. The signs:"),
    "before the next session": said_later(
        "Do no exercises until you have asked your clinician or a doctor. The signs:"
    ),
}
# the same as a rule that nobody takes for an order: the pages stand open where no sign was noted
IF_SEEN: dict[Urgency, str] = {
    "emergency": said_later("One of these signs? Call the emergency number now (112 in Europe). Do no exercises."),
    "today": said_later("One of these signs? Do no exercises. See a doctor today."),
    "before the next session": said_later(
        "One of these signs? Do no exercises until you have asked your clinician or a doctor."
    ),
}

# in the words of a patient, by the word of the diary's column
SIGNS = {
    "breathless": said_later("It is hard to breathe, or your chest hurts."),
    "calf swelling": said_later("Your calf is swollen or hurts."),
    "pop": said_later("You felt a pop or a kick, all of a sudden."),
    "push-off lost": said_later("You can't lift the heel of the sore leg any more."),
    "hot swollen tendon": said_later("The sore place is hot and swollen."),
    "fever": said_later("You have a fever."),
    "constant pain": said_later("It hurts all the time, at night or at rest, however you lie or sit."),
    "long stiffness": said_later("Both sides are stiff for more than an hour."),
    "fluoroquinolone": said_later("You take an antibiotic whose name ends in floxacin, or you took one not long ago."),
    "steroid injection": said_later("You had a cortisone shot not long ago."),
}

# what stands beside the first where legs move
CALF = said_later("A swollen calf makes this even more urgent.")

# the pain-monitoring model and common practice, as in the caution that stands below every result
FIRST = said_later(
    "Stop if your pain goes above 5 of 10, and call your clinician. Stop at once after a sudden sharp pain or a pop."
)


@dataclass(frozen=True)
class StopRule:
    """What to do after which signs.

    Parameters
    ----------
    what : str
        What to do.
    signs : tuple of str
        After any of these.
    """

    what: str
    signs: tuple[str, ...]


@dataclass(frozen=True)
class PainQuestion:
    """One of the pain questions.

    Parameters
    ----------
    name : str
        For the ids of the page's elements.
    question : str
        The question.
    """

    name: str
    question: str


def signs_asked(to: Speech, joints: Collection[str]) -> Iterator[tuple[RedFlag, str]]:
    """Give the signs to look for: all of them, or without a leg's where arms alone move.

    Parameters
    ----------
    to : Speech
        The patient's language.
    joints : collection of str
        That the exercises move; none stands for any.

    Yields
    ------
    tuple of (RedFlag, str)
        Each with its words, the most urgent first.
    """
    legs = is_about_legs(joints)
    for each in RED_FLAGS:
        if legs or not each.of_legs:
            with_calf = legs and each.word == "breathless"
            yield each, f"{to.say(SIGNS[each.word])} {to.say(CALF)}" if with_calf else to.say(SIGNS[each.word])


def stop_rules(to: Speech, joints: Collection[str] = ()) -> tuple[str, tuple[StopRule, ...]]:
    """Say when to stop and whom to call.

    Parameters
    ----------
    to : Speech
        The patient's language.
    joints : collection of str
        That the exercises move; none stands for any.

    Returns
    -------
    first : str
        The rule about pain.
    rules : tuple of StopRule
        The most urgent first.
    """
    asked = tuple(signs_asked(to, joints))
    return to.say(FIRST), tuple(
        StopRule(to.say(what), tuple(words for each, words in asked if each.urgency == urgency))
        for urgency, what in IF_SEEN.items()
    )


def pain_questions(to: Speech) -> tuple[PainQuestion, ...]:
    """Ask for the pain that the plan's follow-up is about.

    Parameters
    ----------
    to : Speech
        The patient's language.

    Returns
    -------
    tuple of PainQuestion
        Before, during, after and next morning, which counts as the answer to this day's exercises.
    """
    return (
        PainQuestion("before", to.say("How much did it hurt before the exercises?")),
        PainQuestion("during", to.say("What was the worst pain during the exercises?")),
        PainQuestion("after", to.say("How much does it hurt after the exercises?")),
        PainQuestion("next-morning", to.say("How much does it hurt tomorrow morning, when you get up?")),
    )


def about_the_page(to: Speech) -> tuple[str, ...]:
    """Say what the page is and is not.

    Parameters
    ----------
    to : Speech
        The patient's language.

    Returns
    -------
    tuple of str
        Sentences.
    """
    return (
        to.say("This page helps you and your clinician. It does not take the place of your clinician."),
        to.say("It does not tell what is wrong with you. The sensors measure how far and how long you moved."),
        to.say("They do not measure the load on your tendon."),
    )
