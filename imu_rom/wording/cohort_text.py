"""What became of a cohort's recordings, in sentences."""

from imu_rom.dose.cohort_reading import CohortReading
from imu_rom.wording.figures import counted

__all__ = ["cohort_sentences", "failure_words"]

_WORDS = {
    "no-plan": "no plan is for the person",
    "several-plans": "several plans are for the person and the day",
    "no-stage": "made on a day when no stage of the plan applied",
    "no-time": "the recording does not say when it was made",
    "bad-time": "its time can't be read",
    "not-of-the-plan": "of another person, exercise or day than the plan",
    "unreadable-recording": "its files can't be read, or hold no usable measurement",
    "no-answer": "it does not carry what the question needs",
    "not-usable": "it can't be used",
    "repeated-recording": "the same samples as another recording",
    "killed-its-worker": "it ended the process that analysed it",
    "not-enough-memory": "too large for the memory of a worker",
    "not-reachable": "a file could not be reached",
    "unexpected-error": "a fault of imu-rom",
}


def failure_words(code: str) -> str:
    """Say in words why recordings failed.

    Parameters
    ----------
    code : str
        As the table of failures has it.

    Returns
    -------
    str
        A part of a sentence.
    """
    return _WORDS.get(code, code)


def cohort_sentences(reading: CohortReading) -> tuple[str, ...]:
    """Say how many recordings there were, what is new, and what could not be used.

    Parameters
    ----------
    reading : CohortReading
        Counts.

    Returns
    -------
    tuple of str
        Sentences; the first says all in short.
    """
    people = counted(reading.participants, "participant")
    whole = f"{counted(reading.recordings, 'recording')} of {people}"
    sentences = [
        f"{whole}: {reading.used} in the tables, {reading.failed} failed.",
        f"Worked on now: {reading.now}; unchanged since an earlier run: {reading.kept}.",
    ]
    if reading.failures:
        each = "; ".join(f"{number} {code} ({failure_words(code)})" for code, number in reading.failures.items())
        sentences.append(f"Failed: {each}. The table of failures says why for each.")
    if reading.plan_faults:
        sentences.append(
            f"{counted(reading.plan_faults, 'file')} of the folder of plans can't be used; they are among the failures."
        )
    if not reading.has_participants:
        sentences.append("The dataset has no participants.tsv; the participants are those of the recordings' names.")
    if reading.without_recording:
        sentences.append(f"Of participants.tsv {reading.without_recording} have no recording.")
    return tuple(sentences)
