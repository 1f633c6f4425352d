"""What a clinician must know of one session in half a minute: a line each, with figure, interval and likelihood."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import Literal

from imu_rom.dose.comparison import RepetitionComparison, SessionComparison, SetComparison
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.exposure import COVERAGE_FACTOR
from imu_rom.findings import Finding
from imu_rom.session.result import Allotment, LaterPose
from imu_rom.wording.exercise_text import is_undecided, total_sentence
from imu_rom.wording.figures import (
    asked_in_all,
    compared_depths,
    counted,
    floor_of_set,
    interval,
    likelihood,
    one_decimal,
    thing,
    window,
)
from imu_rom.wording.settling_text import reached_it, undecided_reason

__all__ = ["UNDER_WAY", "GlanceLine", "glance_lines", "recording_line"]

Sign = Literal["well", "look", "open", "none"]

# what was made of the last later stand in the neutral pose
ZERO_WORDS = {
    "agrees": "no more than standing twice makes",
    "compared": "which a later stand did not confirm",
    "drift shared out": "a creep that was shared out over the time between",
    "new zero": "a slip, and the zero of what follows",
    "undecided": "a slip or another stance, which nothing here tells apart",
}


UNDER_WAY = "The angle is drawn while this exercise was under way; another one's is in its own part."


@dataclass(frozen=True)
class GlanceLine:
    """One line of the first screen.

    Parameters
    ----------
    question : str
        What it answers, in a word or two.
    answer : str
        The answer at its shortest.
    sentence : str
        One sentence with figure, interval and likelihood.
    sign : {"well", "look", "open", "none"}
        Nothing to look at; something to look at; can't be told; nothing was asked.
    """

    question: str
    answer: str
    sentence: str
    sign: Sign


def _numbers(sets: Sequence[SetComparison]) -> str:
    numbers = [str(each.number) for each in sets]
    if len(numbers) == 1:
        return f"set {numbers[0]}"
    return f"sets {', '.join(numbers[:-1])} and {numbers[-1]}"


def recording_line(findings: Sequence[Finding], poses: Sequence[LaterPose], last_set_stop_s: float) -> GlanceLine:
    """Say whether the recording can be used.

    Parameters
    ----------
    findings : sequence of Finding
        All of them.
    poses : sequence of LaterPose
        Later stands in the neutral pose, in order of time.
    last_set_stop_s : float
        When the last set ended.

    Returns
    -------
    GlanceLine
        Difference of the zero from start to end, and how many findings there are.
    """
    problems, cautions = (sum(each.level == level for each in findings) for level in ("problem", "caution"))
    after = [each for each in poses if each.start_s >= last_set_stop_s]
    if after:
        last = after[-1]
        half_deg = COVERAGE_FACTOR * last.standard_uncertainty_deg
        ends = interval(last.difference_deg - half_deg, last.difference_deg + half_deg)
        zero = (
            f"from start to end the zero moved by {one_decimal(last.difference_deg)} deg (95 % interval {ends}), "
            f"{ZERO_WORDS.get(last.use, last.use)}"
        )
    else:
        zero = (
            "whether the zero moved from start to end can't be told, because nobody stood in the neutral pose again "
            "after the last set"
        )
    told = "nothing was found that speaks against it"
    if problems or cautions:
        counts = [counted(number, word) for number, word in ((problems, "problem"), (cautions, "caution")) if number]
        told = f"{' and '.join(counts)} below"
    sentence = f"{zero[0].upper()}{zero[1:]}; {told}."
    if problems or cautions:
        return GlanceLine("Recording", "usable in part" if problems else "usable with care", sentence, "look")
    if not after:
        return GlanceLine("Recording", "zero unchecked", sentence, "open")
    return GlanceLine("Recording", "usable", sentence, "well")


def glance_lines(
    exercise: Exercise,
    done: SessionComparison,
    u_deg: float,
    allotment: Allotment | None,
    of_course: Sequence[GlanceLine] = (),
) -> tuple[GlanceLine, ...]:
    """Say what was done, how deep, whether the limit was kept, and what stays open.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed; what all candidates have alike where nobody can tell.
    done : SessionComparison
        What was done.
    u_deg : float
        Combined standard uncertainty of the joint angle within a set, in degrees.
    allotment : Allotment or None
        How it is known that the sets are this exercise's.
    of_course : sequence of GlanceLine
        What no result holds but its course does; stands before what stays open.

    Returns
    -------
    tuple of GlanceLine
        In that order. What the plan doesn't ask for says so.
    """
    lines = [_done(exercise, done)]
    if exercise.angle_is_known:
        lines += [_depth(exercise, done), _limit(exercise, done)]
        time = _time(exercise, done)
        lines[1:1] = [] if time is None else [time]
    return (*lines, *of_course, _open(exercise, done, u_deg, allotment))


def _done(exercise: Exercise, done: SessionComparison) -> GlanceLine:
    partial = f", {done.partial} {'ended early' if exercise.is_held else 'partial'}" if done.partial else ""
    sentence = (
        f"{done.complete} of {counted(done.prescribed_repetitions, f'prescribed {thing(exercise)}')} in "
        f"{len(done.sets)} of {counted(done.prescribed_sets, 'set')}{partial}."
    )
    sign: Sign = "well" if done.complete >= done.prescribed_repetitions else "look"
    return GlanceLine("Done", f"{done.complete} of {done.prescribed_repetitions}", sentence, sign)


def _time(exercise: Exercise, done: SessionComparison) -> GlanceLine | None:
    threshold = exercise.compression_threshold
    if threshold is None or done.exposure is None:
        return None
    past = done.exposure
    asked = asked_in_all(exercise, done)
    judged = [
        each
        for each in done.sets
        if each.probability_above_window is not None and each.probability_below_window is not None
    ]
    sure = ""
    sign: Sign = "none"
    if judged:
        # that the time is within what was asked, for the set where that is least sure
        within = [
            (1.0 - (each.probability_above_window or 0.0) - (each.probability_below_window or 0.0)) for each in judged
        ]
        sure = f"; {_least_sure('that it is what was asked', judged, within)}"
        decide = exercise.decide.reached
        sign = "look" if min(within) <= 1 - decide else "open"
        if min(within) >= decide and not _touched(done.sets):
            sign = "well"
    ends = interval(past.past_threshold_low_s, past.past_threshold_high_s)
    sentence = (
        f"{one_decimal(past.past_threshold_s)} s past the compressive angle of {threshold.deg:g} deg in all (95 % "
        f"interval {ends}{f'; asked {asked}' if asked else ''}){sure}."
    )
    return GlanceLine(f"Time past {threshold.deg:g} deg", f"{one_decimal(past.past_threshold_s)} s", sentence, sign)


def _least_sure(what: str, sets: Sequence[SetComparison], probabilities: Sequence[float]) -> str:
    """Say a probability that each set has: one figure where the words agree, else from the least to the most sure."""
    order = sorted(range(len(sets)), key=probabilities.__getitem__)
    least, most = likelihood(probabilities[order[0]]), likelihood(probabilities[order[-1]])
    where = " in every set" if len(sets) > 1 else ""
    if least == most:
        return f"{what} is {least}{where}"
    (word, _, low), (other, _, high) = (each.removesuffix(")").partition(" (") for each in (least, most))
    if word == other:
        return f"{what} is {word}{where} ({low} to {high})"
    return f"{what} is {least} in {_numbers([sets[order[0]]])} and {most} in {_numbers([sets[order[-1]]])}"


def _complete(done: SessionComparison) -> list[RepetitionComparison]:
    return [each for one in done.sets for each in one.repetitions if each.repetition.complete]


def _depth(exercise: Exercise, done: SessionComparison) -> GlanceLine:
    complete = _complete(done)
    if not complete:
        return GlanceLine("Depth", "none", f"No {thing(exercise)} was complete.", "look")
    name = "Foot on floor" if exercise.ends_on_floor else "Depth"
    if exercise.ends_on_floor:
        flats = [each for each in map(floor_of_set, done.sets) if each is not None]
        middle, low, high = (median(values) for values in zip(*(each[0] for each in flats), strict=True))
        figures, asked = "from lying flat", f"asked within {exercise.floor_tolerance_deg:g}"
    else:
        middle = median(depth for each in done.sets for depth in compared_depths(exercise, each))
        low = middle - median(each.repetition.end_range_deg - each.end_range_low_deg for each in complete)
        high = middle + median(each.end_range_high_deg - each.repetition.end_range_deg for each in complete)
        figures = "held at the end range" if exercise.tempo.end_range_hold_s else "at the end range"
        asked = "none asked" if exercise.end_range_deg is None else f"asked {window(*exercise.end_range_deg, 'deg')}"
    sentence = f"Median {one_decimal(middle)} deg {figures} (95 % interval {interval(low, high)}; {asked})"
    if not exercise.asks_end_range:
        return GlanceLine(name, f"{one_decimal(middle)} deg", f"{sentence}.", "none")
    reached, short, unclear = (
        sum(getattr(each, kind) for each in done.sets) for kind in ("reached", "short", "undecided")
    )
    sentence += f": {reached} {reached_it(exercise)}, {short} did not, {unclear} can't be told"
    deeper = sum(each.deeper_than_asked or each.within_limit == "no" for each in complete)
    if deeper:
        sentence += f", {deeper} went deeper than asked"
    judged = [each for each in done.sets if each.probability_reached is not None]
    probabilities = [each.probability_reached or 0.0 for each in judged]
    sign: Sign = "open"
    if judged:
        sentence += f"; {_least_sure('that enough did', judged, probabilities)}"
        decide = exercise.decide.reached
        if min(probabilities) <= 1 - decide or 2 * deeper > len(complete):
            sign = "look"
        elif min(probabilities) >= decide and not _touched(done.sets):
            sign = "well"
    return GlanceLine(name, f"{one_decimal(middle)} deg", f"{sentence}.", sign)


def _touched(sets: Sequence[SetComparison]) -> bool:
    return any(each.touched_by for one in sets for each in one.repetitions)


def _limit(exercise: Exercise, done: SessionComparison) -> GlanceLine:
    repetitions = [each for one in done.sets for each in one.repetitions]
    if exercise.limit_deg is None or not repetitions:
        return GlanceLine("Limit", "none asked", "The plan names no limit.", "none")
    deepest = max(repetitions, key=lambda each: each.repetition.end_range_deg)
    ends = interval(deepest.end_range_low_deg, deepest.end_range_high_deg)
    sentence = (
        f"The deepest was at {one_decimal(deepest.repetition.end_range_deg)} deg (95 % interval {ends}; limit "
        f"{exercise.limit_deg:g} deg)"
    )
    judged = [each for each in done.sets if each.probability_within_limit is not None]
    probabilities = [each.probability_within_limit or 0.0 for each in judged]
    answer = "undecided"
    sign: Sign = "open"
    if judged:
        sentence += f"; {_least_sure('that the limit was kept throughout', judged, probabilities)}"
        decide = exercise.decide.limit
        passed = sum(each.past_limit for each in done.sets)
        if passed:
            sentence += f", and {passed} of {len(repetitions)} went past it with the certainty asked for"
        if passed or min(probabilities) <= 1 - decide:
            answer, sign = "passed", "look"
        elif min(probabilities) >= decide and not _touched(done.sets):
            answer, sign = "kept", "well"
    return GlanceLine("Limit", answer, f"{sentence}.", sign)


def _open(exercise: Exercise, done: SessionComparison, u_deg: float, allotment: Allotment | None) -> GlanceLine:
    if is_undecided(allotment):
        return GlanceLine("Not told", "which exercise", total_sentence(exercise, done, allotment), "open")
    undecided = [each for each in done.sets if each.verdict == "undecided"]
    if undecided:
        which = _numbers(undecided)
        reason = undecided_reason(exercise, undecided[0], u_deg)
        are = f"{which[0].upper()}{which[1:]} {'is' if len(undecided) == 1 else 'are'} undecided"
        where = "" if len(undecided) == 1 else f" in set {undecided[0].number}"
        answer = which if len(undecided) <= 3 else f"{len(undecided)} of {len(done.sets)} sets"
        return GlanceLine("Not told", answer, f"{are}:{where} {reason}.", "open")
    if not done.sets:
        return GlanceLine("Not told", "all", "No set was found, so nothing is compared with the plan.", "open")
    if all(each.verdict == "not prescribed" for each in done.sets):
        return GlanceLine("Not told", "nothing asked", "The plan asks for nothing that could be compared.", "none")
    unclear = sum(each.undecided for each in done.sets)
    if unclear:
        return GlanceLine(
            "Not told",
            counted(unclear, thing(exercise)),
            f"Every set is decided; of {counted(unclear, thing(exercise))} alone it can't be told whether the end "
            f"range was reached, and a better neutral pose (standard uncertainty here {one_decimal(u_deg)} deg) would "
            "settle more of them.",
            "open",
        )
    return GlanceLine("Not told", "nothing", "Nothing that the plan asks stays open.", "well")
