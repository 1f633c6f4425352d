"""What a clinician's page about one patient says: how sessions stand, and the lines of the diary."""

from collections.abc import Mapping
from datetime import date

from imu_rom.wording.cautions import RED_FLAGS

__all__ = ["SESSION_STATES", "diary_cells", "diary_headings", "exercise_words", "made_words", "reason_words"]

SESSION_STATES = {
    "waiting": "being analysed",
    "usable": "analysed",
    "unusable": "can't be used",
    "withdrawn": "withdrawn by the patient",
    "not analysed": "could not be analysed",
}
"""What came of a session."""

_SIGNS = {each.word: each.sign for each in RED_FLAGS}
_CELLS = ("pain_before", "pain_during", "pain_after", "pain_next_morning", "stiffness_min")


def diary_headings() -> tuple[str, ...]:
    """Give the headings of the diary's table.

    Returns
    -------
    tuple of str
        In order; what else was said has a line of its own.
    """
    return "Day", "Exercise", "Done", "Pain before", "during", "after", "next morning", "Stiff, min"


def diary_cells(day: date, fields: Mapping[str, str]) -> tuple[str, ...]:
    """Give the cells of one line of the diary.

    Parameters
    ----------
    day : date
        Its day.
    fields : mapping of str to str
        Its cells by the columns of a diary.

    Returns
    -------
    tuple of str
        In the order of the headings, and what else was said; what was not said is empty.
    """
    exercise = ", ".join(each for each in (fields.get("exercise", ""), fields.get("side", "")) if each)
    flags = [each.strip() for each in fields.get("red_flag", "").split(";") if each.strip()]
    said = [f"Red flag: {_SIGNS.get(each, each)}." for each in flags]
    if "load_test_pain" in fields:
        said.append(f"Load test: pain {fields['load_test_pain']} of 10.")
    if fields.get("painkiller") == "yes":
        said.append("Took a painkiller.")
    said += [fields[each] for each in ("other_load", "note") if fields.get(each)]
    return (
        str(day),
        exercise,
        fields.get("done", ""),
        *(fields.get(each, "") for each in _CELLS),
        " ".join(said),
    )


def exercise_words(exercise: str, side: str) -> str:
    """Say what a session is of, as the patient said.

    Parameters
    ----------
    exercise : str
        Name of an exercise of the plan, or ``session`` for all of the day.
    side : str
        Leg; may be empty.

    Returns
    -------
    str
        A few words.
    """
    what = "all of the day" if exercise == "session" else exercise
    return ", ".join(each for each in (what, side) if each)


def made_words(made_at: str | None, recorded_at: str | None) -> str:
    """Say when a session was made, with its time only where files or patient told one.

    Parameters
    ----------
    made_at : str or None
        As its result has it: where nobody told a time, noon stands for the day.
    recorded_at : str or None
        As the patient said: a day, or a day and a time.

    Returns
    -------
    str
        Empty where nothing is known.
    """
    if made_at and recorded_at and made_at.startswith(f"{recorded_at}T12:00:00"):
        return recorded_at
    return (made_at or recorded_at or "")[:16].replace("T", " ")


def reason_words(reason: str | None) -> str:
    """Say why a session can't be used, without advice that is for the command line.

    Parameters
    ----------
    reason : str or None
        The sentence that is kept.

    Returns
    -------
    str
        Empty where there is none.
    """
    said, _, advice = (reason or "").partition("; ")
    if "--" in advice:
        return f"{said}."
    return reason or ""
