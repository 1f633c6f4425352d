"""Why a patient wants a look, one sentence each with its figure; what is seen, never its cause."""

from collections.abc import Callable, Mapping
from datetime import date

from imu_rom.dose.attention_reasons import AttentionReason
from imu_rom.wording.cautions import RED_FLAGS
from imu_rom.wording.course_figures import amount, days_in_words, named, span
from imu_rom.wording.figures import counted, one_decimal

__all__ = ["LEVEL_HEADINGS", "RED_FLAG_URGENCIES", "reason_sentence", "routine_sentence"]

_URGENCIES = ("emergency", "today", "before the next session")

RED_FLAG_URGENCIES: Mapping[str, int] = {each.word: _URGENCIES.index(each.urgency) for each in RED_FLAGS}
"""How urgent each red flag is by the diary's word for it, 0 first."""

LEVEL_HEADINGS = {
    "at once": "Look at once",
    "today": "Look today",
    "this week": "Look this week",
    "routine": "Routine, filed unread",
    "nothing": "Nothing new",
}
"""Headings of the list of patients, in its order."""

_TO_DO = {
    "emergency": "the emergency number, no exercises",
    "today": "urgent care today, no exercises",
    "before the next session": "no exercises until somebody has looked",
}


def reason_sentence(reason: AttentionReason) -> str:
    """Say why a patient wants a look.

    Parameters
    ----------
    reason : AttentionReason
        The reason.

    Returns
    -------
    str
        One sentence.
    """
    return _SENTENCES[reason.kind](reason)


def routine_sentence(unread: int, newest: date | None) -> str:
    """Say how many sessions are filed unread.

    Parameters
    ----------
    unread : int
        Sessions that nobody has reviewed, none of which is a reason to look.
    newest : date or None
        Day on which the newest came in.

    Returns
    -------
    str
        One sentence; empty where there are none.
    """
    if unread == 0:
        return ""
    when = "" if newest is None else f", the newest received on {newest}"
    return (
        f"{counted(unread, 'session')} filed unread{when}; nothing in {'it' if unread == 1 else 'them'} wants a look."
    )


def _red_flag(reason: AttentionReason) -> str:
    flags = [each for each in RED_FLAGS if each.word in reason.words]
    signs = "; ".join(each.sign for each in flags) or "; ".join(reason.words)
    what = _TO_DO[min((each.urgency for each in flags), key=_URGENCIES.index, default="before the next session")]
    return f"Red flag on {days_in_words(reason.days)}: {signs}. What the patient was told: {what}."


def _pain(reason: AttentionReason) -> str:
    when, day = reason.words
    numbers = reason.numbers
    days = "" if len(reason.days) == 1 else f"; above it on {counted(len(reason.days), 'day')} nobody has looked at"
    return f"Pain of {numbers['highest']:g} of 10 {when} on {day}, above the band of {numbers['bound']:g}{days}."


def _stiff(reason: AttentionReason) -> str:
    numbers = reason.numbers
    days = "" if len(reason.days) == 1 else f"; above it on {counted(len(reason.days), 'day')} nobody has looked at"
    morning = f"in the morning after {reason.words[0]}"
    return f"Stiff for {numbers['highest']:g} min {morning}, above {numbers['bound']:g} min{days}."


def _left_open(reason: AttentionReason) -> str:
    why = f": {reason.words[0].rstrip('.')}" if reason.words[0] else ""
    many = counted(int(reason.numbers["sessions"]), "session")
    return f"The files of {many} leave open what only the clinic can say, under Account and data{why}."


def _past_limit(reason: AttentionReason) -> str:
    numbers = reason.numbers
    limit = f"the limit of {numbers['limit_deg']:g} deg" if "limit_deg" in numbers else "the limit"
    farthest = f", as far as {one_decimal(numbers['largest_deg'])} deg" if "largest_deg" in numbers else ""
    doubtful = "; the zero is in doubt there" if numbers["zero_doubtful"] else ""
    many = counted(int(numbers["repetitions"]), "repetition")
    return f"{_of(reason)}{many} past {limit}{farthest}, on {days_in_words(reason.days)}{doubtful}."


def _not_settled(reason: AttentionReason) -> str:
    numbers = reason.numbers
    return (
        f"Pain did not settle in time after {days_in_words(reason.days)}: up to {numbers['highest']:g} of 10, where "
        f"{numbers['baseline']:g} was the baseline."
    )


def _stops_short(reason: AttentionReason) -> str:
    numbers = reason.numbers
    where = f" of {numbers['window_low_deg']:g} deg" if "window_low_deg" in numbers else ""
    median = f", a median of {one_decimal(numbers['median_deg'])} deg in the newest" if "median_deg" in numbers else ""
    return (
        f"{_of(reason)}stopped short{where} in {amount(numbers['sessions'])} of {amount(numbers['recorded'])} sessions "
        f"of the last 7 days and reached it in none ({amount(numbers['repetitions'])} of "
        f"{amount(numbers['complete'])} repetitions short{median})."
    )


def _unreadable(reason: AttentionReason) -> str:
    why = f", the newest because: {reason.words[0].rstrip('.')}" if reason.words[0] else ""
    return f"The last {amount(reason.numbers['in_a_row'])} uploads can't be used{why}."


def _fewer(reason: AttentionReason) -> str:
    numbers = reason.numbers
    return (
        f"{_of(reason)}{amount(numbers['recorded'])} of {amount(numbers['asked'])} recordings that the plan asks a "
        f"week came in, {span(reason.days[0], reason.days[-1])}."
    )


def _not_analysed(reason: AttentionReason) -> str:
    why = f": {reason.words[0].rstrip('.')}" if reason.words[0] else ""
    return f"{counted(int(reason.numbers['sessions']), 'upload')} could not be analysed{why}."


def _of(reason: AttentionReason) -> str:
    name = named(reason.exercise, reason.side)
    return f"{name}: " if name else ""


_SENTENCES: dict[str, Callable[[AttentionReason], str]] = {
    "red flag": _red_flag,
    "pain above the band": _pain,
    "stiff for long": _stiff,
    "past the limit": _past_limit,
    "pain not settled": _not_settled,
    "stops short": _stops_short,
    "left open": _left_open,
    "unreadable": _unreadable,
    "fewer recordings": _fewer,
    "not analysed": _not_analysed,
}
