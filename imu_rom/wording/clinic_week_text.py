"""A clinic's week in words: sums of what came in and what was done."""

from collections.abc import Iterable
from typing import Protocol

from imu_rom.wording.figures import counted

__all__ = ["PatientWeek", "done_words", "sessions_words", "week_sentences"]


class PatientWeek(Protocol):
    """What is said of one patient's week."""

    @property
    def usable(self) -> int:
        """Sessions that could be used."""
        ...

    @property
    def unusable(self) -> int:
        """Sessions that could not."""
        ...

    @property
    def waiting(self) -> int:
        """Sessions that are not analysed yet."""
        ...

    @property
    def decisions(self) -> int:
        """Decisions about the stage."""
        ...

    @property
    def is_quiet(self) -> bool:
        """True where nothing came in and nothing was done."""
        ...


def sessions_words(usable: int, unusable: int, waiting: int) -> str:
    """Say what came in.

    Parameters
    ----------
    usable, unusable, waiting : int
        Sessions, by what came of them.

    Returns
    -------
    str
        Half a sentence.
    """
    total = usable + unusable + waiting
    if total == 0:
        return "none"
    beside = [f"{unusable} can't be used"] if unusable else []
    beside += [f"{waiting} being analysed"] if waiting else []
    return f"{total}" + (f" ({', '.join(beside)})" if beside else "")


def done_words(reviews: int, decisions: int, plans: int, messages: int) -> str:
    """Say what clinicians did.

    Parameters
    ----------
    reviews, decisions, plans, messages : int
        How many of each.

    Returns
    -------
    str
        Half a sentence.
    """
    said = [
        counted(number, name)
        for number, name in (
            (reviews, "review"),
            (decisions, "decision"),
            (plans, "plan version"),
            (messages, "message"),
        )
        if number
    ]
    return ", ".join(said) or "nothing"


def week_sentences(weeks: Iterable[PatientWeek]) -> tuple[str, ...]:
    """Sum up a clinic's week.

    Parameters
    ----------
    weeks : iterable of PatientWeek
        Of all patients.

    Returns
    -------
    tuple of str
        One or two sentences.
    """
    every = list(weeks)
    usable, unusable, waiting = (
        sum(getattr(each, name) for each in every) for name in ("usable", "unusable", "waiting")
    )
    active = sum(each.usable + each.unusable + each.waiting > 0 for each in every)
    decided = sum(each.decisions for each in every)
    quiet = sum(each.is_quiet for each in every)
    sent = f"{counted(usable + unusable + waiting, 'session')} of {counted(active, 'patient')} came in"
    sent += f", {unusable} of them can't be used" if unusable else ""
    sent += f", {waiting} of them not analysed yet" if waiting else ""
    return (
        f"{sent}; {counted(decided, 'decision') if decided else 'no decision'} about a stage.",
        f"Of {quiet} of {counted(len(every), 'patient')} nothing came in and nothing was done.",
    )
