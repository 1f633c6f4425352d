"""A course of weeks in sentences: what must be said first, where it stands, what was read and what was left out."""

from collections import Counter
from collections.abc import Iterator
from datetime import timedelta

from imu_rom.dose.case_answer import StopDay, ZeroMoved
from imu_rom.dose.course_reading import CourseReading
from imu_rom.dose.weeks_answer import CourseAnswer
from imu_rom.wording.cautions import STOP_TO_THE_PERSON, red_flag_text
from imu_rom.wording.course_figures import days_in_words, named, span
from imu_rom.wording.figures import counted, one_decimal
from imu_rom.wording.review_text import review_sentences

__all__ = ["course_sentences", "first_of_all", "pain_sentences", "reading_sentences"]

RECENT_DAYS = 14
MOST_MOVED = 5


def first_of_all(answer: CourseAnswer) -> tuple[str, ...]:
    """Say what must be said before anything else: red flags, and pain at which to stop.

    Parameters
    ----------
    answer : CourseAnswer
        The course.

    Returns
    -------
    tuple of str
        Empty where there is nothing of the kind.
    """
    recent = answer.until - timedelta(days=RECENT_DAYS)
    stops = [each for each in answer.stops if each.day > recent]
    pains = [each for each in stops if each.what != "stiffness"]
    stiff = [each for each in stops if each.what == "stiffness"]
    sentences = list(red_flag_text(answer.red_flags))
    if pains:
        sentences += [STOP_TO_THE_PERSON, f"{'; '.join(_stop(each) for each in pains)}."]
    if stiff:
        sentences.append(
            f"Morning stiffness of over {stiff[0].bound:g} min is noted ({'; '.join(_stop(each) for each in stiff)}). "
            "On both sides it needs a doctor's look before the next session."
        )
    return tuple(sentences)


def _stop(stop: StopDay) -> str:
    unit = "min" if stop.what == "stiffness" else "of 10"
    return f"{stop.what} {stop.value:g} {unit} on {stop.day}"


def course_sentences(answer: CourseAnswer) -> tuple[str, ...]:
    """Say whose course it is, and where it stands.

    Parameters
    ----------
    answer : CourseAnswer
        The course.

    Returns
    -------
    tuple of str
        A heading, what changed since the last review, and what lies outside the course.
    """
    plan, days = answer.plan, len(answer.days)
    who = f", {plan.patient}" if plan.patient else ""
    heading = f"{plan.title}{who}: {counted(days, 'day')}, {span(answer.from_day, answer.until)}"
    run = answer.runs[-1]
    if answer.stage is None:
        stage = "no stage of the plan applies on the last day"
    else:
        stage = (
            f"stage {answer.stage.name!r} since {run.from_day} ({counted((run.to_day - run.from_day).days + 1, 'day')})"
        )
    lines = [f"{heading}; {stage}.", *review_sentences(answer)]
    if answer.days_outside:
        lines.append(f"Outside these days, and not counted: {days_in_words(answer.days_outside)}.")
    return tuple(lines)


def pain_sentences(answer: CourseAnswer) -> tuple[str, ...]:
    """Say how pain went: its baseline, flares, days to stop at, and other shoes or lifts than prescribed.

    Parameters
    ----------
    answer : CourseAnswer
        The course.

    Returns
    -------
    tuple of str
        Empty where nothing is known.
    """
    sentences = []
    if answer.baseline_next_morning is not None:
        sentences.append(
            f"Baseline of pain next morning: {one_decimal(answer.baseline_next_morning)} of 10, "
            "the median of the first seven answers."
        )
    for flare in answer.flares:
        baseline = "" if flare.baseline is None else f", baseline {flare.baseline:g}"
        sentences.append(
            f"Flare on {flare.day}: pain up to {flare.highest_pain:g} of 10 ({', '.join(flare.kinds)}{baseline})."
        )
    if answer.stops:
        sentences.append(f"Stop rule reached on: {'; '.join(_stop(each) for each in answer.stops)}.")
    return (*sentences, *_moved(answer.zero_moved))


def _moved(moved: tuple[ZeroMoved, ...]) -> Iterator[str]:
    groups: dict[tuple[str, str, str, str], list[ZeroMoved]] = {}
    for each in moved:
        groups.setdefault((named(each.exercise, each.side), each.what, each.prescribed, each.found), []).append(each)
    for (name, what, prescribed, found), days in groups.items():
        turned = "" if days[0].moved_deg is None else f", which turns the ankle's zero by {days[0].moved_deg:.1f} deg"
        of = f"{name}: " if name else ""
        yield f"{of}{what} {found} instead of {prescribed} on {days_in_words([each.day for each in days])}{turned}."


def reading_sentences(reading: CourseReading, answer: CourseAnswer) -> tuple[str, ...]:
    """Say what was read, and name all that could not be used.

    Parameters
    ----------
    reading : CourseReading
        What was read.
    answer : CourseAnswer
        Knows what came twice.

    Returns
    -------
    tuple of str
        How much there was; then a line for each thing that was left out.
    """
    read = (
        f"Read: {counted(reading.results, 'result')}, {counted(reading.recordings, 'recording')} "
        f"({len(reading.analysed)} analysed now), {counted(reading.diary_lines, 'line')} of the diary"
    )
    waiting = f"; {len(reading.waiting)} wait to be analysed: {', '.join(reading.waiting)}" if reading.waiting else ""
    twice = answer.repeated_recordings + answer.repeated_lines
    repeated = f"; {twice} came twice and count once" if twice else ""
    lines = [f"{read}{waiting}{repeated}."]
    if reading.skipped:
        kinds = Counter(each.kind for each in reading.skipped)
        counts = ", ".join(f"{kind} {number}" for kind, number in sorted(kinds.items()))
        lines.append(f"Not used, in all or in part ({counts}):")
        lines += [f"  {each.where}: {each.why.removesuffix('.')}." for each in reading.skipped]
    return tuple(lines)
