"""What the list of patients says of each besides the reasons to look: where the course stands and what is missing."""

from datetime import date

from imu_rom.wording.figures import counted

__all__ = ["DECISION_WORDS", "MISSING_WORDS", "criteria_words", "days_ago", "stage_words", "told_words"]

MISSING_WORDS = {
    "not joined": "has not opened the invitation yet",
    "no consent": "has not consented, or took the consent back: nothing more is taken in, and no recording is analysed",
    "no plan": "has no plan yet",
}
"""What keeps a patient from going on."""

DECISION_WORDS = {"progress": "Progress", "stay": "Stay", "step_back": "Step back"}
"""The three decisions."""

_TOLD = {
    "changed": "Changed.",
    "sent": "Sent.",
    "reviewed": "Filed as reviewed.",
    "reviewed-but": "Filed as reviewed, but for those to which something came in meanwhile: they are still below.",
    "came-in": "Something came in while the page was open, so nothing was filed: look again.",
    "none-chosen": "Nobody was chosen.",
    "decided": "Decided and kept.",
    "plan": "A new version of the plan is kept.",
    "files": "How the files are read is kept. All sessions are being analysed with it; what was there before stays.",
    "marked": "The marks are kept, and the session is being analysed with them. What was there before stays.",
    "retired": "Put aside. Nothing more is taken in from this patient; what is there can still be read.",
    "reinstated": "Taken back.",
    "deletion": "The wish for deletion is kept.",
    "exported": "The export is kept.",
    "second-factor": "From now on a code is asked for when you sign in.",
    "no-second-factor": "No code is asked for any more.",
    "new-passphrase": "The new passphrase counts from now on. Everywhere else you are signed out.",
}


def told_words(word: str) -> str:
    """Say what was just done.

    Parameters
    ----------
    word : str
        Of a closed list.

    Returns
    -------
    str
        One sentence; empty for a word that is none.
    """
    return _TOLD.get(word, "")


def days_ago(day: date, today: date) -> str:
    """Say how long ago a day was.

    Parameters
    ----------
    day, today : date
        In the same calendar.

    Returns
    -------
    str
        Such as ``"2026-12-01, 3 days ago"``.
    """
    days = (today - day).days
    if days < 0:
        return str(day)
    return f"{day}, {('today', 'yesterday')[days] if days < 2 else f'{days} days ago'}"


def stage_words(stage: str | None, since: date | None, today: date) -> str:
    """Say which stage applies, and for how long.

    Parameters
    ----------
    stage : str or None
        Its name; None where none applies.
    since : date or None
        Its first day.
    today : date
        In the same calendar.

    Returns
    -------
    str
        Half a sentence.
    """
    if stage is None:
        return "no stage applies"
    if since is None or since > today:
        return stage
    return f"{stage}, {counted((today - since).days + 1, 'day')}"


def criteria_words(met: int, not_met: int, still_open: int) -> str:
    """Say how the stage's criteria stand.

    Parameters
    ----------
    met, not_met, still_open : int
        How many.

    Returns
    -------
    str
        Half a sentence.
    """
    if met + not_met + still_open == 0:
        return "none set"
    return f"{met} met, {not_met} not met, {still_open} open"
