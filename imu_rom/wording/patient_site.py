"""What stands around every page that a patient opens: names of the main pages, whom to call, what went wrong."""

from dataclasses import dataclass

from imu_rom.wording.language import Speech

__all__ = ["Trouble", "site_words", "trouble"]


@dataclass(frozen=True)
class Trouble:
    """What is said where a page can't be shown.

    Parameters
    ----------
    heading : str
        What happened.
    sentences : tuple of str
        What that means and what to do.
    """

    heading: str
    sentences: tuple[str, ...]


def site_words(to: Speech) -> dict[str, str]:
    """Give the words around every page.

    Parameters
    ----------
    to : Speech
        The reader's language.

    Returns
    -------
    dict of str to str
        By what they are for.
    """
    return {
        "skip": to.say("Skip to the page"),
        "main": to.say("Main pages"),
        "today": to.say("Today"),
        "send": to.say("Send"),
        "diary": to.say("Diary"),
        "history": to.say("History"),
        "messages": to.say("Messages"),
        "account": to.say("My data"),
        "sign_in": to.say("Sign in"),
        "sign_out": to.say("Sign out"),
        "not_watched": to.say("Nobody watches this page while you use it. Your clinic looks at it later."),
        "call": to.say("If you are worried, call your clinic:"),
        "call_plain": to.say("If you are worried, call your clinic."),
        "emergency": to.say("In an emergency call 112 in Europe, or your own emergency number."),
        "back": to.say("Back"),
        "start": to.say("To the first page"),
    }


def trouble(to: Speech, kind: str) -> Trouble:
    """Say what went wrong.

    Parameters
    ----------
    to : Speech
        The reader's language.
    kind : {"missing", "broken", "busy", "too large", "full", "refused"}
        What it is.

    Returns
    -------
    Trouble
        What happened and what to do.
    """
    if kind == "missing":
        return Trouble(
            to.say("There is no such page"),
            (to.say("The page is gone, or it is not yours. Go to the first page from here."),),
        )
    if kind == "busy":
        return Trouble(
            to.say("Please try again soon"),
            (to.say("Too much is going on just now. Wait a minute. Then try again."),),
        )
    if kind == "too large":
        return Trouble(
            to.say("That was too much at once"),
            (
                to.say("Nothing of it was kept. Send fewer files, or smaller ones."),
                to.say("If it does not work, call your clinic."),
            ),
        )
    if kind == "full":
        return Trouble(
            to.say("There is no room for it just now"),
            (
                to.say("Nothing of it was kept, and nothing else is lost. Please try again tomorrow."),
                to.say("If it does not work, call your clinic."),
            ),
        )
    if kind == "refused":
        return Trouble(to.say("That did not work"), ())
    return Trouble(
        to.say("Something went wrong here"),
        (
            to.say("It is not your fault. Wait a minute, and try again."),
            to.say("What you sent before is still there."),
        ),
    )
