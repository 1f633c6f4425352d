"""What a patient is asked to agree to before anything is taken in, in the patient's words.

A template: the operator's own lawyer and ethics board must go through it before real people are asked. Whoever changes
a sentence gives the text a new version; everybody is then asked again.
"""

from dataclasses import dataclass

from imu_rom.wording.language import Speech

__all__ = ["CONSENT_VERSION", "ConsentText", "consent_text"]

CONSENT_VERSION = "2026-11-29"


@dataclass(frozen=True)
class ConsentText:
    """The text.

    Parameters
    ----------
    heading : str
        What it is about.
    parts : tuple of tuple of str and tuple of str
        (heading, sentences) of each part.
    question : str
        What is agreed to by the button.
    agree, decline : str
        Words on the buttons.
    version : str
        Of the text.
    """

    heading: str
    parts: tuple[tuple[str, tuple[str, ...]], ...]
    question: str
    agree: str
    decline: str
    version: str = CONSENT_VERSION

    def as_text(self) -> str:
        """Give all of it as plain text, which a hash is made of.

        Returns
        -------
        str
            A line each.
        """
        lines = [self.heading]
        for heading, sentences in self.parts:
            lines += [heading, *sentences]
        return "\n".join([*lines, self.question, self.agree])


def consent_text(to: Speech) -> ConsentText:
    """Give the text.

    Parameters
    ----------
    to : Speech
        The patient's language.

    Returns
    -------
    ConsentText
        In today's version.
    """
    return ConsentText(
        heading=to.say("Before you start: do you agree?"),
        parts=(
            (
                to.say("What this is for"),
                (
                    to.say("You do your exercises with two small sensors. They measure how far and how long you move."),
                    to.say("Your clinic uses this to look after your plan."),
                    to.say("It does not find out what is wrong with you. It does not take the place of your clinic."),
                ),
            ),
            (
                to.say("What is kept"),
                (
                    to.say("What the sensors measured, and the days and times."),
                    to.say("Your answers about pain, and what you write."),
                    to.say("What your clinic writes to you, and your plan."),
                    to.say("How a person moves can show who it is. So this is private, even without your name."),
                ),
            ),
            (
                to.say("Who sees it"),
                (
                    to.say("The people in your clinic who treat you. Nobody else."),
                    to.say("Those who run the computer for your clinic can reach it, but may not use it."),
                    to.say("Nobody watches while you move. If you need help, call."),
                ),
            ),
            (
                to.say("What you can do"),
                (
                    to.say("You can say no. Then your clinic treats you without the sensors."),
                    to.say("You can say yes now and change your mind on any day. You need not say why."),
                    to.say("You can get a copy of all that is kept. You can ask for it to be deleted."),
                    to.say("Your clinic may have to keep some of it for some time by law."),
                ),
            ),
        ),
        question=to.say("Do you agree that your clinic keeps this and works with it?"),
        agree=to.say("Yes, I agree"),
        decline=to.say("No, not now"),
    )
