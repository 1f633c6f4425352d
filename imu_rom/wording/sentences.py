"""One plain sentence for each set and for the session.

Each says the figure, its interval and the probability in words, and, where an answer stays open, what would settle it.
No sentence judges the person.
"""

import math
from collections.abc import Sequence
from statistics import NormalDist, median

from imu_rom.dose.comparison import SessionComparison, SetComparison
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.verdict import needed_repetitions
from imu_rom.findings import Finding
from imu_rom.wording.cautions import DECLARED
from imu_rom.wording.figures import (
    compared_depths,
    counted,
    end_range_of_set,
    floor_of_set,
    interval,
    likelihood,
    one_decimal,
    prescribed_time,
    steadiness_of_set,
    thing,
    window,
)

__all__ = ["finding_line", "finding_lines", "session_sentence", "set_sentence"]

VERDICTS = {
    "met": "as planned",
    "short": "less than planned",
    "over": "more than planned",
    "undecided": "undecided",
    "not prescribed": "without a prescription to compare with",
}
# within this of the neutral angle, the foot's contact with the floor can be the reference instead of an angle
NEAR_NEUTRAL_DEG = 3.0
FLOOR_SETTLES = 'the floor as what ends a repetition instead of an angle (end_range = "floor")'
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
        return "is undecided", _undecided(exercise, done, u_deg)
    return "has nothing prescribed to compare it with", ""


def _reached_it(exercise: Exercise) -> str:
    """Say in the past tense what a repetition had to do."""
    if exercise.ends_on_floor:
        return "came back to the floor"
    return "reached it" if exercise.end_range_deg is None else f"reached {exercise.end_range_deg[0]:g} deg"


def _met(exercise: Exercise, done: SetComparison) -> str:
    reasons = []
    if done.probability_reached is not None:
        reasons.append(f"that enough of them {_reached_it(exercise)} is {likelihood(done.probability_reached)}")
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
            f"{done.reached} {_reached_it(exercise)}, {done.short} did not and {done.undecided} "
            f"can't be told, where {needed} were needed; that enough did is {likelihood(reached)}"
        )
    reason = "" if below is None else f"that the time is below what was asked is {likelihood(below)}"
    return "has less time past the compressive angle than planned", reason


WHY_UNJUDGED = {
    "slip": "a sensor slipped",
    "slip-or-stance": "the zero moved: a sensor slipped or the person stood differently",
    "zero-drift": "the zero crept",
}


def _undecided(exercise: Exercise, done: SetComparison, u_deg: float) -> str:
    decide = exercise.decide
    if not exercise.angle_is_known:
        (point,) = exercise.tracked_points
        return (
            f"the sensor on {point} alone can't tell how deep they went, and a second sensor, or a segment that keeps "
            "still (still_segment in the plan), would settle it"
        )
    unjudged = sum(bool(each.touched_by) for each in done.repetitions)
    if unjudged:
        codes = sorted({code for each in done.repetitions for code in each.touched_by})
        why = ", ".join(WHY_UNJUDGED.get(code, code) for code in codes)
        which = counted(unjudged, thing(exercise))
        return f"{which} can't be judged ({why}), and a recording without that would settle it"
    kept, reached = done.probability_within_limit, done.probability_reached
    if kept is not None and exercise.limit_deg is not None and 1 - decide.limit < kept < decide.limit:
        return (
            f"that the limit of {exercise.limit_deg:g} deg was kept is {likelihood(kept, decide.limit)}, and "
            f"{_settles_limit(exercise, done, u_deg)} would settle it"
        )
    if reached is not None and 1 - decide.reached < reached < decide.reached:
        settles = "a wider floor_tolerance_deg in the plan"
        if not exercise.ends_on_floor:
            settles = _settles_window(exercise, done, u_deg)
        return (
            f"that enough of them {_reached_it(exercise)} is {likelihood(reached, decide.reached)}, "
            f"and {settles} would settle it"
        )
    above, below = done.probability_above_window, done.probability_below_window
    for word, probability in (("above", above), ("below", below)):
        if probability is not None and 1 - decide.reached < probability < decide.reached:
            return (
                f"that the time past the compressive angle is {word} what was asked is "
                f"{likelihood(probability, decide.reached)}, and a better neutral pose or a wider time window in the "
                "plan would settle it"
            )
    return "a part of it was not recorded, and a recording without gaps would settle it"


def _better_pose(margin_deg: float, decide: float, u_deg: float) -> str:
    """Say how good the neutral pose would have to be, where any could be good enough."""
    largest_deg = abs(margin_deg) / NormalDist().inv_cdf(decide)
    if not 0.3 <= largest_deg < u_deg:
        return "a better neutral pose"
    uncertainty = f"standard uncertainty of at most {one_decimal(largest_deg)} deg, here {one_decimal(u_deg)}"
    return f"a better neutral pose ({uncertainty})"


def _settles_limit(exercise: Exercise, done: SetComparison, u_deg: float) -> str:
    limit_deg = exercise.limit_deg or 0.0
    levels = [
        each.repetition.end_range_deg if each.sustained_deg is None else each.sustained_deg for each in done.repetitions
    ]
    deepest_deg = max(levels)
    tolerance_deg = math.ceil(deepest_deg + NormalDist().inv_cdf(exercise.decide.limit) * u_deg)
    ways = [_better_pose(limit_deg - deepest_deg, exercise.decide.limit, u_deg)]
    ways.append(f"a tolerance in the plan (a limit of about {max(tolerance_deg, math.floor(limit_deg) + 1)} deg)")
    if abs(limit_deg) <= NEAR_NEUTRAL_DEG:
        ways.append(FLOOR_SETTLES)
    return _either(ways)


def _settles_window(exercise: Exercise, done: SetComparison, u_deg: float) -> str:
    edge_deg = exercise.end_range_deg[0] if exercise.end_range_deg is not None else 0.0
    needed = needed_repetitions(exercise.decide.share_of_repetitions, exercise.repetitions, done.complete)
    depths = sorted(compared_depths(exercise, done), reverse=True)
    # the repetition on which the asked share hangs
    deciding_deg = depths[min(needed, len(depths)) - 1] if depths else edge_deg
    lower_deg = math.floor(deciding_deg - NormalDist().inv_cdf(exercise.decide.reached) * u_deg)
    ways = [_better_pose(deciding_deg - edge_deg, exercise.decide.reached, u_deg)]
    ways.append(f"a tolerance in the plan (a window from about {min(lower_deg, math.ceil(edge_deg) - 1)} deg)")
    if abs(edge_deg) <= NEAR_NEUTRAL_DEG:
        ways.append(FLOOR_SETTLES)
    return _either(ways)


def _either(ways: Sequence[str]) -> str:
    return ways[0] if len(ways) == 1 else f"{', '.join(ways[:-1])} or {ways[-1]}"


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
        asked = _asked_in_all(exercise, done)
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


def _asked_in_all(exercise: Exercise, done: SessionComparison) -> str:
    if not done.sets:
        return ""
    low_s, high_s = done.sets[0].prescribed_low_s, done.sets[0].prescribed_high_s
    if low_s is None or high_s is None:
        return ""
    return window(exercise.sets * low_s, exercise.sets * high_s, "s")


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
