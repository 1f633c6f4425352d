"""What is said about sending a recording: what to choose, that it arrived, whether it can be used and what to do."""

from imu_rom.wording.language import Speech

__all__ = ["sending_words", "unusable_sentences"]


def sending_words(to: Speech) -> dict[str, str]:
    """Give the words of the pages about sending.

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
        "heading": to.say("Send a recording"),
        "files": to.say("Which files?"),
        "files_hint": to.say("Choose all files of one session. Or drag them here. A zip file is fine too."),
        "side": to.say("Which leg?"),
        "left": to.say("Left"),
        "right": to.say("Right"),
        "exercise": to.say("Which exercise?"),
        "all": to.say("All of my exercises, one after the other"),
        "when": to.say("When did you do it?"),
        "when_hint": to.say("The day you did the exercises. Leave it as it is if that was today."),
        "day": to.say("Day"),
        "time": to.say("Time (if you know it)"),
        "send": to.say("Send"),
        "sending": to.say("It is on its way. Please keep this page open."),
        "sent_all": to.say("All of it is sent. One moment, please."),
        "cut": to.say("The line was cut. Nothing is lost. Please send it again."),
        "no_plan": to.say("Your clinic has not made your plan yet. You can send recordings after that."),
        "no_files": to.say("Please choose a file first."),
        "no_side": to.say("Please say which leg it was."),
        "no_exercise": to.say("Please say which exercise it was."),
        "bad_day": to.say("Please write a day that is not in the future."),
        "too_often": to.say("You sent a lot within an hour. Please wait a bit, then send the rest."),
        "arrived": to.say("It has arrived"),
        "again": to.say("You sent this before. It counts once."),
        "waiting": to.say("It is safe with us. We look now whether it can be used. That takes about a minute."),
        "look": to.say("Look again"),
        "usable_heading": to.say("It can be used"),
        "usable": to.say("Thank you. There is nothing more to do with the sensors."),
        "unusable_heading": to.say("This recording can't be used"),
        "given_up_heading": to.say("We could not look at it"),
        "given_up": to.say("That is about our computer, not about you. It is kept, and your clinic sees it."),
        "why": to.say("What the program says:"),
        "withdrawn_heading": to.say("You took it back"),
        "withdrawn": to.say("It is not used any more."),
        "next": to.say("Now tell us how you feel"),
        "next_hint": to.say("It takes about a minute. Your clinic needs it as much as the recording."),
        "answer": to.say("Answer the questions"),
        "answered": to.say("You have answered the questions about it."),
        "see": to.say("See what you did"),
        "not_now": to.say("Not now"),
    }


def unusable_sentences(to: Speech) -> tuple[str, ...]:
    """Say what to do after a recording that can't be used.

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
        to.say("That is about the recording, not about you. What you did still counts."),
        to.say("Do not do the exercises again because of it."),
        to.say("Did you choose all files of the session? If one is missing, send all of them once more."),
        to.say("Next time: stand still for a count of ten. Then do the three slow moves."),
        to.say("Check that no sensor wobbles. If it happens twice, call your clinic."),
    )
