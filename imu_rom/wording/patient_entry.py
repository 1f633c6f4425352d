"""What is said at the door: signing in, opening an invitation, choosing a passphrase."""

from imu_rom.wording.language import Speech

__all__ = ["entry_words", "passphrase_problem"]


def entry_words(to: Speech, clinic: str = "") -> dict[str, str]:
    """Give the words of the pages at the door.

    Parameters
    ----------
    to : Speech
        The reader's language.
    clinic : str
        The clinic's name, where it is known.

    Returns
    -------
    dict of str to str
        By what they are for.
    """
    return {
        "sign_in": to.say("Sign in"),
        "name": to.say("Your sign-in name"),
        "name_hint": to.say("You wrote it down when you first came here. Your clinic knows it, too."),
        "passphrase": to.say("Your password"),
        "forgotten": to.say("Did you forget it? Call your clinic. They send you a new link."),
        "wrong": to.say("The name or the password is not right. Please try again."),
        "too often": to.say("There were too many tries. Wait 15 minutes, then try again. Or call your clinic."),
        "signed_out": to.say("You are signed out now."),
        "code": to.say("Code from your app"),
        "code_hint": to.say("Six digits."),
        "code_wrong": to.say("The code is not right, or it was used before. Wait for the next one."),
        "second": to.say("One more step"),
        "go_on": to.say("Go on"),
        "welcome": to.say("Welcome"),
        "from": to.say("{clinic} has made this page for you.", clinic=clinic),
        "choose": to.say("Choose a password"),
        "choose_why": to.say("With it you sign in from now on."),
        "choose_how": to.say("Take four words that have nothing to do with each other, or more."),
        "choose_seen": to.say("You see what you type. Make sure that nobody looks over your shoulder."),
        "choose_keep": to.say("You may write it down. Keep the paper in a safe place at home."),
        "your_name": to.say("Your sign-in name is:"),
        "your_name_keep": to.say("Write it down. You need it each time."),
        "save": to.say("Save and go on"),
        "gone_heading": to.say("This link does not work any more"),
        "gone": to.say("It was used before, or it is too old. That is no problem."),
        "gone_do": to.say("If you have a password, sign in with it. If not, call your clinic for a new link."),
        "declined_heading": to.say("That is fine"),
        "declined": to.say("Nothing is kept. Your link still works, if you change your mind."),
        "declined_do": to.say("Call your clinic. They go on without the sensors."),
        "language": to.say("Language"),
    }


def passphrase_problem(to: Speech, shortest: int) -> str:
    """Say what a passphrase must be.

    Parameters
    ----------
    to : Speech
        The reader's language.
    shortest : int
        Fewest letters.

    Returns
    -------
    str
        A sentence.
    """
    return to.say("It must have {number} letters or more, and must not be easy to guess.", number=shortest)
