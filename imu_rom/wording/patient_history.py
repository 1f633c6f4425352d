"""What is said about what a patient sent before, and about what is kept of the patient."""

from datetime import date

from imu_rom.wording.language import Speech, said_later

__all__ = ["agreed_words", "arrived_words", "asked_words", "data_words", "history_words", "state_words"]

STATES = {
    "waiting": said_later("We are looking at it."),
    "usable": said_later("It can be used."),
    "unusable": said_later("It can't be used. That is about the recording, not about you."),
    "withdrawn": said_later("You took it back."),
    "not analysed": said_later("We could not look at it. That is about our computer, not about you."),
}


def state_words(state: str, to: Speech) -> str:
    """Say what became of a recording.

    Parameters
    ----------
    state : {"waiting", "usable", "unusable", "withdrawn", "not analysed"}
        As it is kept.
    to : Speech
        The patient's language.

    Returns
    -------
    str
        A sentence.
    """
    return to.say(STATES[state])


def history_words(to: Speech) -> dict[str, str]:
    """Give the words of the pages about earlier sessions.

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
        "heading": to.say("What you sent"),
        "none": to.say("You have sent nothing yet."),
        "see": to.say("See what you did"),
        "withdraw": to.say("Take it back"),
        "held_back": to.say(
            "You wrote of a sign that needs help, or of pain above 5. Your clinic tells you how to go on."
        ),
        "print": to.say("The last one as a page to print"),
        "sent": to.say("What we said when it came"),
        "withdraw_heading": to.say("Take this recording back?"),
        "withdraw_what": to.say("It is then not used any more. You can send it again later."),
        "withdraw_yes": to.say("Yes, take it back"),
        "keep": to.say("No, keep it"),
        "messages": to.say("From your clinic"),
        "message_read": to.say("I have read it"),
        "no_messages": to.say("There are no messages."),
        "older": to.say("Older messages"),
        "call_instead": to.say("To answer, call your clinic."),
    }


def data_words(to: Speech) -> dict[str, str]:
    """Give the words of the pages about what is kept of the patient.

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
        "heading": to.say("My data"),
        "name": to.say("Your sign-in name"),
        "language": to.say("Language"),
        "language_save": to.say("Use this language"),
        "not_agreed": to.say("You have not agreed."),
        "agreed_heading": to.say("What you agreed to"),
        "read_and_agree": to.say("Read it and agree"),
        "read_again": to.say("Read what you agreed to"),
        "take_back": to.say("I do not agree any more"),
        "take_back_heading": to.say("You do not agree any more?"),
        "take_back_what": to.say("You can't send recordings or write in the diary then."),
        "take_back_work": to.say("We work out nothing more from your recordings."),
        "take_back_kept": to.say("What is there is kept until you ask for it to be deleted."),
        "take_back_care": to.say("Your clinic goes on looking after you."),
        "take_back_yes": to.say("Yes, I do not agree any more"),
        "take_back_no": to.say("No, leave it"),
        "taken_back": to.say("You do not agree any more. Nothing new is taken in."),
        "copy_all": to.say("Get a copy of all that is kept"),
        "copy_what": to.say("It is one zip file. Keep it safe: it is about your health."),
        "copy_get": to.say("Download"),
        "delete": to.say("Ask for all of it to be deleted"),
        "delete_start": to.say("Ask for it"),
        "delete_what": to.say("Your clinic gets your wish. It deletes what the law lets it delete."),
        "delete_get": to.say("Get a copy first, if you want one. It can't be brought back."),
        "delete_ask": to.say("Yes, delete all of it"),
        "delete_heading": to.say("Delete all that is kept of you?"),
        "delete_keep": to.say("No, do not delete it after all"),
        "passphrase": to.say("To get a new password, call your clinic. They send you a link."),
        "everywhere": to.say("Sign out on all my phones and computers"),
        "no_copy": to.say("There is nothing to copy yet."),
    }


def arrived_words(day: date, to: Speech) -> str:
    """Say when a recording arrived.

    Parameters
    ----------
    day : date
        When.
    to : Speech
        The patient's language.

    Returns
    -------
    str
        A sentence.
    """
    return to.say("Arrived on {day}.", day=to.day(day))


def agreed_words(day: date, to: Speech) -> str:
    """Say when the consent was given.

    Parameters
    ----------
    day : date
        When.
    to : Speech
        The patient's language.

    Returns
    -------
    str
        A sentence.
    """
    return to.say("You agreed on {day}.", day=to.day(day))


def asked_words(day: date, to: Speech) -> str:
    """Say when deletion was asked for.

    Parameters
    ----------
    day : date
        When.
    to : Speech
        The patient's language.

    Returns
    -------
    str
        A sentence.
    """
    return to.say("You asked on {day} for all of it to be deleted. Your clinic takes care of it.", day=to.day(day))
