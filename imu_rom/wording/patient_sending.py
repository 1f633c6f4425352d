"""What is said about sending a recording: what to choose, that it arrived, whether it can be used and what to do."""

from imu_rom.wording.language import Speech, said_later

__all__ = ["sending_words", "state_told"]


def retired_words(to: Speech) -> str:
    """Say why nothing is taken in.

    Parameters
    ----------
    to : Speech
        The patient's language.

    Returns
    -------
    str
        To whoever was put aside.
    """
    return to.say("Your clinic takes in nothing more from you. To ask why, call your clinic.")


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
        "side": to.say("Which side?"),
        "left": to.say("Left"),
        "right": to.say("Right"),
        "exercise": to.say("Which exercise?"),
        "all": to.say("All of my exercises, one after the other"),
        "when": to.say("When did you do it?"),
        "when_hint": to.say("The day you did the exercises. Leave it as it is if that was today."),
        "day": to.say("Day"),
        "time": to.say("Time (if you know it)"),
        "send": to.say("Send"),
        "without": to.say("I did it without the sensors"),
        "sending": to.say("It is on its way. Please keep this page open."),
        "sent_all": to.say("All of it is sent. One moment, please."),
        "cut": to.say("The line was cut. Nothing is lost. Please send it again."),
        "no_plan": to.say("Your clinic has not made your plan yet. You can send recordings after that."),
        "no_files": to.say("Please choose a file first."),
        "no_side": to.say("Please say which side it was."),
        "no_exercise": to.say("Please say which exercise it was."),
        "bad_day": to.say("Please write a day that is not in the future."),
        "too_often": to.say("You sent a lot within an hour. Please wait a bit, then send the rest."),
        "no_room": to.say(
            "There is no more room for your recordings, so we kept nothing of this one. Please call your clinic."
        ),
        "refused": to.say("We could not take these files. Send all files of one session, and no others."),
        "retired": retired_words(to),
        "again": to.say("You sent this before. It counts once."),
        "look": to.say("Look again"),
        "next": to.say("Now tell us how you feel"),
        "next_hint": to.say("It takes about a minute. Your clinic needs it as much as the recording."),
        "answer": to.say("Answer the questions"),
        "answered": to.say("You have answered the questions about it."),
        "see": to.say("See what you did"),
        "not_now": to.say("Not now"),
    }


# by the reason codes of `imu_rom.clinic.uploads`; what is not here is said by the sentence for all
WHY = {
    "unreadable": (
        said_later("We can't read these files."),
        said_later("Did you choose all files of the session? If not, send all of them once more."),
    ),
    "left-open": (
        said_later("We can't read these files yet. Your clinic must first tell us how your sensors write them."),
        said_later("Please call your clinic and say so. You need not send them again."),
    ),
    "no-answer": (
        said_later("We could not work out how you moved."),
        said_later("Next time: stand still for a count of ten. Then do the three slow moves."),
        said_later("Check that no sensor wobbles."),
    ),
    "no-plan": (said_later("You have no plan yet for that day. Call your clinic."),),
    "no-stage": (
        said_later("Your plan has no exercises for that day."),
        said_later("Is the day right? If not, send the same files again, with the right day."),
    ),
    "not-of-the-plan": (
        said_later("Your plan of that day does not have that exercise."),
        said_later("Send the same files again, and choose the right exercise."),
    ),
    "other-side": (
        said_later("Your plan is for the other side."),
        said_later("Was it a slip? Then send the same files again, and choose the other side."),
    ),
}


def state_told(state: str, reason_code: str | None, to: Speech) -> tuple[str, tuple[str, ...]]:
    """Say what became of a recording, and what to do.

    Parameters
    ----------
    state : {"waiting", "usable", "unusable", "withdrawn", "not analysed"}
        As it is kept.
    reason_code : str or None
        Why it can't be used.
    to : Speech
        The patient's language.

    Returns
    -------
    heading : str
        In a few words.
    sentences : tuple of str
        What that means and what to do.
    """
    if state == "waiting":
        return to.say("It has arrived"), (
            to.say("It is safe with us. We now check if it can be used. That takes about a minute."),
        )
    if state == "usable":
        return to.say("It can be used"), (to.say("Thank you. There is nothing more to do with the sensors."),)
    if state == "withdrawn":
        return to.say("You took it back"), (to.say("It is not used any more."),)
    if state == "not analysed":
        return to.say("We could not look at it"), (
            to.say("That is about our computer, not about you. It is kept, and your clinic sees it."),
        )
    return to.say("This recording can't be used"), (
        to.say("That is about the recording, not about you. What you did still counts."),
        *(to.say(each) for each in WHY.get(reason_code or "", (said_later("We can't tell you more about it."),))),
        to.say("Do not do the exercises again because of it. If it happens twice, call your clinic."),
    )
