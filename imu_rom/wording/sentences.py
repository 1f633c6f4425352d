"""One plain sentence for each set and for the session.

Each says the figure, its interval and the probability in words, and, where an answer stays open, what would settle it.
No sentence judges the person.
"""

from collections.abc import Sequence
from statistics import median

from imu_rom.dose.comparison import SessionComparison, SetComparison
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.verdict import needed_repetitions
from imu_rom.findings import Finding
from imu_rom.wording.cautions import DECLARED
from imu_rom.wording.figures import (
    asked_in_all,
    counted,
    end_range_of_set,
    floor_of_set,
    interval,
    likelihood,
    one_decimal,
    prescribed_time,
    steadiness_of_set,
    thing,
)
from imu_rom.wording.settling_text import reached_it, undecided_reason

__all__ = ["finding_line", "finding_lines", "session_sentence", "set_sentence"]

VERDICTS = {
    "met": "as planned",
    "short": "less than planned",
    "over": "more than planned",
    "undecided": "undecided",
    "not prescribed": "without a prescription to compare with",
}
# of more findings of one kind at one sensor, only the first ones are said one by one
MOST_ALIKE = 4


def _listed(parts: Sequence[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def set_sentence(exercise: Exercise, done: SetComparison, u_deg: float) -> str:
    """Say what one set was against the plan.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.
    done : SetComparison
        What was done.
    u_deg : float
        Combined standard uncertainty of the joint angle within the set, in degrees.

    Returns
    -------
    str
        One sentence.
    """
    head, reason = _judged(exercise, done, u_deg)
    return f"Set {done.number} {head}: {_figures(exercise, done)}{f'; {reason}' if reason else ''}."


def _figures(exercise: Exercise, done: SetComparison) -> str:
    figures = f"{done.complete} of {counted(done.prescribed_repetitions, thing(exercise))}"
    if done.partial:
        figures += f" and {done.partial} {'ended early' if exercise.is_held else 'partial'}"
    if done.interruptions:
        times = {1: "once", 2: "twice"}.get(len(done.interruptions), f"{len(done.interruptions)} times")
        figures += f" (interrupted {times}, taken as one set)"
    depth = end_range_of_set(exercise, done)
    if not exercise.angle_is_known:
        figures += f", {_tempo(done)}"
    elif depth is not None:
        where = "at" if exercise.is_held else "to"
        figures += f" {where} a median of {one_decimal(depth[0])} deg (95 % interval {interval(*depth[1:])})"
    figures += _held(exercise, done)
    floor = floor_of_set(done)
    if floor is not None:
        (foot, foot_low, foot_high), (lean, lean_low, lean_high) = floor
        figures += (
            f", the foot {one_decimal(foot)} deg from lying flat ({interval(foot_low, foot_high)}), the shank leaning "
            f"by {one_decimal(lean)} deg ({interval(lean_low, lean_high)}) from the neutral pose"
        )
    if done.exposure is not None and exercise.compression_threshold is not None:
        asked = prescribed_time(done)
        derived = ", derived from hold and tempo" if done.prescribed_derived else ""
        figures += (
            f", {one_decimal(done.exposure.past_threshold_s)} s past {exercise.compression_threshold.deg:g} deg "
            f"({interval(done.exposure.past_threshold_low_s, done.exposure.past_threshold_high_s)}"
            f"{f'; asked {asked}{derived}' if asked else ''})"
        )
    return figures


def _held(exercise: Exercise, done: SetComparison) -> str:
    """Say how long and how steadily a position was held."""
    steady = steadiness_of_set(done)
    if not exercise.is_held or steady is None:
        return ""
    shaking, (sag, low, high) = steady
    held = ", ".join(one_decimal(each.repetition.hold_s) for each in done.repetitions)
    return (
        f", held for {held} s (asked {exercise.tempo.end_range_hold_s:g} s), shaking by {one_decimal(shaking)} deg, "
        f"the angle changing by {one_decimal(sag)} deg ({interval(low, high)}) from start to end"
    )


def _tempo(done: SetComparison) -> str:
    """Say how long the phases took, where that is all that is known."""
    complete = [each.repetition for each in done.repetitions if each.repetition.complete]
    if not complete:
        return "none of them complete"
    there = one_decimal(median(each.eccentric_s for each in complete))
    held = one_decimal(median(each.hold_s for each in complete))
    ways_back_s = [each.concentric_s for each in complete if each.concentric_s is not None]
    back = f"{one_decimal(median(ways_back_s))} s back" if ways_back_s else "no way back seen"
    return f"in the median {there} s into the end range, {held} s held and {back}"


def _judged(exercise: Exercise, done: SetComparison, u_deg: float) -> tuple[str, str]:
    """Head and reason of a set's sentence, by its verdict and by the question that gave it."""
    if done.verdict == "met":
        return "is as planned", _met(exercise, done)
    if done.verdict == "over":
        return _over(exercise, done)
    if done.verdict == "short":
        return _short(exercise, done)
    if done.verdict == "undecided":
        return "is undecided", undecided_reason(exercise, done, u_deg)
    return "has nothing prescribed to compare it with", ""


def _met(exercise: Exercise, done: SetComparison) -> str:
    reasons = []
    if done.probability_reached is not None:
        reasons.append(f"that enough of them {reached_it(exercise)} is {likelihood(done.probability_reached)}")
    if done.probability_within_limit is not None and exercise.limit_deg is not None:
        verb = "" if reasons else "is "
        kept = likelihood(done.probability_within_limit)
        reasons.append(f"that the limit of {exercise.limit_deg:g} deg was kept {verb}{kept}")
    deeper = sum(each.deeper_than_asked for each in done.repetitions)
    if deeper:
        reasons.append(f"{deeper} went deeper than asked")
    return ", ".join(reasons)


def _over(exercise: Exercise, done: SetComparison) -> tuple[str, str]:
    kept = done.probability_within_limit
    if exercise.limit_deg is not None and kept is not None and kept <= 1 - exercise.decide.limit:
        deepest = max(done.repetitions, key=lambda each: each.repetition.end_range_deg)
        return f"went past the limit of {exercise.limit_deg:g} deg", (
            f"the deepest was at {one_decimal(deepest.repetition.end_range_deg)} deg "
            f"({interval(deepest.end_range_low_deg, deepest.end_range_high_deg)}), "
            f"{done.past_limit} of {len(done.repetitions)} went past it with the certainty asked for, and that it was "
            f"kept throughout is {likelihood(kept)}"
        )
    above = done.probability_above_window
    reason = "" if above is None else f"that the time is above what was asked is {likelihood(above)}"
    return "has more time past the compressive angle than planned", reason


def _were(number: int) -> str:
    return "was" if number == 1 else "were"


def _short(exercise: Exercise, done: SetComparison) -> tuple[str, str]:
    needed = needed_repetitions(exercise.decide.share_of_repetitions, exercise.repetitions, done.complete)
    if done.complete < needed:
        if exercise.is_held and done.partial:
            return "was held for less than planned", f"at least {needed} held for the whole time {_were(needed)} needed"
        return f"has fewer {counted(2, thing(exercise))[2:]} than planned", f"at least {needed} {_were(needed)} needed"
    reached, below = done.probability_reached, done.probability_below_window
    if reached is not None and reached <= 1 - exercise.decide.reached:
        head = "stopped short of the floor" if exercise.ends_on_floor else "is less deep than planned"
        return head, (
            f"{done.reached} {reached_it(exercise)}, {done.short} did not and {done.undecided} "
            f"can't be told, where {needed} were needed; that enough did is {likelihood(reached)}"
        )
    reason = "" if below is None else f"that the time is below what was asked is {likelihood(below)}"
    return "has less time past the compressive angle than planned", reason


def session_sentence(exercise: Exercise, done: SessionComparison) -> str:
    """Say what the whole session was against the plan: the total first, the grouping second.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.
    done : SessionComparison
        What was done.

    Returns
    -------
    str
        One sentence.
    """
    sets = len(done.sets)
    total = f"{done.complete} of {counted(done.prescribed_repetitions, f'prescribed {thing(exercise)}')}"
    partial = f" and {done.partial} {'ended early' if exercise.is_held else 'partial'}" if done.partial else ""
    instead = "" if sets == done.prescribed_sets else f" instead of {done.prescribed_sets}"
    parts = [f"{total}{partial}, in {counted(sets, 'set')}{instead}"]
    if done.exposure is not None and exercise.compression_threshold is not None:
        ends = interval(done.exposure.past_threshold_low_s, done.exposure.past_threshold_high_s)
        asked = asked_in_all(exercise, done)
        parts.append(
            f"{one_decimal(done.exposure.past_threshold_s)} s past {exercise.compression_threshold.deg:g} deg in them "
            f"(95 % interval {ends}{f'; asked {asked} in all' if asked else ''})"
        )
        if done.exposure.loaded_s is not None and done.exposure.unloaded_s is not None:
            parts[-1] += (
                f", {one_decimal(done.exposure.loaded_s)} s of it loaded and {one_decimal(done.exposure.unloaded_s)} s "
                f"unloaded ({DECLARED})"
            )
    outside = _outside(exercise, done)
    if outside:
        parts.append(outside)
    parts.append(_verdicts(done))
    return f"Session: {'; '.join(parts)}."


def _verdicts(done: SessionComparison) -> str:
    numbers: dict[str, list[str]] = {}
    for each in done.sets:
        numbers.setdefault(each.verdict, []).append(str(each.number))
    if not numbers:
        return "no set was found"
    if len(numbers) == 1 and len(done.sets) > 1:
        return f"every set {VERDICTS[next(iter(numbers))]}"
    return ", ".join(
        f"set{'s' if len(which) > 1 else ''} {_listed(which)} {VERDICTS[verdict]}" for verdict, which in numbers.items()
    )


def _outside(exercise: Exercise, done: SessionComparison) -> str:
    if done.outside_sets_s is None or done.outside_sets_low_s is None or done.outside_sets_high_s is None:
        return ""
    if done.outside_sets_high_s < 0.05:
        return "none outside them"
    ends = interval(done.outside_sets_low_s, done.outside_sets_high_s)
    them = counted(2, thing(exercise))[2:]
    return f"outside the {them}, in rests and walking, another {one_decimal(done.outside_sets_s)} s ({ends})"


def finding_line(finding: Finding) -> str:
    """Put a finding's level in front of its sentence.

    Parameters
    ----------
    finding : Finding
        What was noticed.

    Returns
    -------
    str
        Such as ``"Caution: The foot sensor delivered nothing from 70.0 s to 70.6 s."``.
    """
    return f"{finding.level.capitalize()}: {finding.sentence}"


def finding_lines(findings: Sequence[Finding]) -> list[str]:
    """Say what was noticed, many of one kind at one sensor cut short.

    Parameters
    ----------
    findings : sequence of Finding
        In order of time.

    Returns
    -------
    list of str
        One line a finding; of more than four of a kind, the first three and how many more there are.
    """
    alike: dict[tuple[str, str | None], list[Finding]] = {}
    for each in findings:
        alike.setdefault((each.code, each.sensor), []).append(each)
    lines = []
    for each in findings:
        kind = alike[each.code, each.sensor]
        place = kind.index(each) + 1
        if len(kind) <= MOST_ALIKE or place < MOST_ALIKE:
            lines.append(finding_line(each))
        elif place == MOST_ALIKE:
            last_s = max((one.stop_s for one in kind if one.stop_s is not None), default=None)
            until = "" if last_s is None else f", the last until {last_s:.1f} s"
            lines.append(f"{each.level.capitalize()}: {len(kind) - place + 1} more of this kind ({each.code}){until}.")
    return lines
