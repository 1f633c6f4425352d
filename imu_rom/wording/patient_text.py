"""What the patient is told about each exercise: what was done, what to keep, what to change; which sentence when.

No sentence judges the person, none gives a decision that is the clinician's to make: the furthest that any goes is "go
on as planned; your clinician looks at it with you". Where the measurement can't tell, that is said to be about the
recording, and what to do meanwhile is the careful thing. "Lower than planned" is said of numbers and times only: of a
heel that sinks below a step it could be taken for further.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from imu_rom.dose.comparison import SessionComparison, SetComparison
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.verdict import needed_repetitions
from imu_rom.session.result import Allotment
from imu_rom.wording.exercise_text import is_undecided
from imu_rom.wording.language import Speech, said_later
from imu_rom.wording.patient_angles import about, planned_part, planned_words, span, stop_deg, usual

__all__ = ["ABOUT_THE_RECORDING", "ExerciseWords", "Kind", "exercise_words", "set_kind"]

Kind = Literal[
    "as planned",
    "past the limit",
    "too long",
    "too few",
    "held too short",
    "not far enough",
    "too short",
    "limit undecided",
    "depth undecided",
    "time undecided",
    "angle unknown",
    "undecided",
    "not prescribed",
]

ABOUT_THE_RECORDING = said_later("We couldn't tell; that is about the recording, not about you.")

# of each kind, what is said of a set; of the undecided ones a question, which the sentence above answers. No day is
# named, since the page is read on later days too.
SAID: dict[Kind, str] = {
    "as planned": said_later("As planned."),
    "past the limit": said_later("You went further than planned."),
    "too long": said_later("You stayed in the far part longer than planned."),
    "too few": said_later("Lower than planned."),
    "held too short": said_later("You held it for less time than planned."),
    "not far enough": said_later("Not as far as planned."),
    "too short": said_later("The time in the far part was lower than planned."),
    "limit undecided": said_later("Did you go further than planned?"),
    "depth undecided": said_later("Did you go as far as planned?"),
    "time undecided": said_later("Was the time in the far part as planned?"),
    "angle unknown": said_later("How far did you go?"),
    "undecided": said_later("Was it as planned?"),
}
# what there could be more of, by kind; always with the way out
MORE: dict[Kind, str] = {
    "held too short": said_later("Try to hold it as long as your plan says. If it is too much, tell your clinician."),
    "not far enough": said_later(
        "Aim for the planned part in the picture. Do not push into more pain. If it is too much, tell your clinician."
    ),
    "too short": said_later("Aim for the time in your plan. If it is too much, tell your clinician."),
}
UNDECIDED: frozenset[Kind] = frozenset(
    {"limit undecided", "depth undecided", "time undecided", "angle unknown", "undecided"}
)


@dataclass(frozen=True)
class ExerciseWords:
    """What the patient is told about one exercise.

    Parameters
    ----------
    done : tuple of str
        What was done.
    keep : tuple of str
        What to keep.
    change : tuple of str
        What to change; never empty.
    """

    done: tuple[str, ...]
    keep: tuple[str, ...]
    change: tuple[str, ...]


def set_kind(exercise: Exercise, done: SetComparison) -> Kind:
    """Name what is to be said of one set.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.
    done : SetComparison
        What was done.

    Returns
    -------
    str
        The verdict, with the question that gave it.
    """
    if done.verdict == "met":
        return "as planned"
    if done.verdict == "over":
        kept = done.probability_within_limit
        return "past the limit" if kept is not None and kept <= 1 - exercise.decide.limit else "too long"
    if done.verdict == "short":
        return _short(exercise, done)
    return _undecided(exercise, done) if done.verdict == "undecided" else "not prescribed"


def _short(exercise: Exercise, done: SetComparison) -> Kind:
    needed = needed_repetitions(exercise.decide.share_of_repetitions, exercise.repetitions, done.complete)
    if done.complete < needed:
        return "held too short" if exercise.is_held and done.partial else "too few"
    reached = done.probability_reached
    return "not far enough" if reached is not None and reached <= 1 - exercise.decide.reached else "too short"


def _undecided(exercise: Exercise, done: SetComparison) -> Kind:
    if not exercise.angle_is_known:
        return "angle unknown"
    if any(each.touched_by for each in done.repetitions):
        return "undecided"
    decide = exercise.decide
    kept, reached = done.probability_within_limit, done.probability_reached
    if kept is not None and 1 - decide.limit < kept < decide.limit:
        return "limit undecided"
    if reached is not None and 1 - decide.reached < reached < decide.reached:
        return "depth undecided"
    times = (done.probability_above_window, done.probability_below_window)
    if any(each is not None and 1 - decide.reached < each < decide.reached for each in times):
        return "time undecided"
    return "undecided"


def exercise_words(
    exercise: Exercise, comparison: SessionComparison, allotment: Allotment | None, to: Speech
) -> ExerciseWords:
    """Say what was done, what to keep and what to change.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed; what all candidates have alike where nobody can tell which it was.
    comparison : SessionComparison
        What was done.
    allotment : Allotment or None
        How it is known that the sets are this exercise's; None where the recording is of one exercise alone.
    to : Speech
        The patient's language.

    Returns
    -------
    ExerciseWords
        Sentences in that language.
    """
    careful = to.say("Go on with your plan. Your clinician looks at it with you.")
    if is_undecided(allotment):
        question = to.say("Which exercise was this?")
        return ExerciseWords(
            done=(_counts(exercise, comparison, to, asked=False), f"{question} {to.say(ABOUT_THE_RECORDING)}"),
            keep=(careful,),
            change=tuple(_stop_to_be_safe(exercise, to)) or (_nothing(to),),
        )
    if not comparison.sets:
        question = to.say("How often did you move?")
        return ExerciseWords((f"{question} {to.say(ABOUT_THE_RECORDING)}",), (careful,), (_nothing(to),))
    kinds = [set_kind(exercise, each) for each in comparison.sets]
    return ExerciseWords(
        done=(
            _counts(exercise, comparison, to, asked=True),
            *_verdicts(exercise, comparison, kinds, to),
            *_figures(exercise, comparison, to),
        ),
        keep=tuple(_keep(exercise, comparison, kinds, to)),
        change=tuple(_change(exercise, comparison, kinds, to)) or (_nothing(to),),
    )


def _nothing(to: Speech) -> str:
    return to.say("Nothing for now.")


def _counts(exercise: Exercise, done: SessionComparison, to: Speech, *, asked: bool) -> str:
    sets = len(done.sets)
    if exercise.is_held:
        parts = [to.say_of("We counted {number} hold.", "We counted {number} holds.", done.complete)]
    else:
        parts = [to.say_of("We counted {number} time.", "We counted {number} times.", done.complete)]
    if sets > 1:
        parts.append(to.say_of("That was in {number} set.", "That was in {number} sets.", sets))
    if asked:
        parts.append(_asked(done, to))
    if done.partial and exercise.is_held:
        parts.append(
            to.say_of("{number} more was shorter than asked.", "{number} more were shorter than asked.", done.partial)
        )
    elif done.partial:
        parts.append(
            to.say_of(
                "{number} more went only part of the way.", "{number} more went only part of the way.", done.partial
            )
        )
    return " ".join(parts)


def _asked(done: SessionComparison, to: Speech) -> str:
    if done.prescribed_sets < 2:
        return to.say_of(
            "The plan asks for {number} time.", "The plan asks for {number} times.", done.prescribed_repetitions
        )
    return to.say_of(
        "The plan asks for {number} time, in {sets} sets.",
        "The plan asks for {number} times, in {sets} sets.",
        done.prescribed_repetitions,
        sets=done.prescribed_sets,
    )


def _verdicts(exercise: Exercise, done: SessionComparison, kinds: Sequence[Kind], to: Speech) -> Iterator[str]:
    """Say it once where all sets are alike, else set by set."""
    alike = len(set(kinds)) == 1
    if alike and kinds[0] == "not prescribed":
        yield to.say("The plan does not say how far to go.")
    elif alike and kinds[0] == "as planned" and _lower(exercise, done, kinds):
        yield to.say("Lower than planned: some sets are missing. What you did was as planned.")
    elif alike:
        yield _said(kinds[0], to)
    else:
        for each, kind in zip(done.sets, kinds, strict=True):
            which = to.say(
                "Set {number}: {done} of {asked}.",
                number=each.number,
                done=each.complete,
                asked=each.prescribed_repetitions,
            )
            yield f"{which} {_said(kind, to)}".strip()
    further = sum(rep.deeper_than_asked for each in done.sets for rep in each.repetitions)
    if further and not {"past the limit", "limit undecided"} & set(kinds):
        yield to.say_of(
            "It looks as if you went a bit past the planned part {number} time.",
            "It looks as if you went a bit past the planned part {number} times.",
            further,
        )


def _said(kind: Kind, to: Speech) -> str:
    if kind not in SAID:
        return ""
    said = to.say(SAID[kind])
    return f"{said} {to.say(ABOUT_THE_RECORDING)}" if kind in UNDECIDED else said


def _lower(exercise: Exercise, done: SessionComparison, kinds: Sequence[Kind]) -> bool:
    """Tell whether fewer repetitions were done in all than the asked share, where none can have gone unseen."""
    if "undecided" in kinds:
        return False
    needed = needed_repetitions(exercise.decide.share_of_repetitions, done.prescribed_repetitions, done.complete)
    return done.complete < needed


def _more(done: SessionComparison) -> bool:
    return done.complete > done.prescribed_repetitions


def _figures(exercise: Exercise, comparison: SessionComparison, to: Speech) -> Iterator[str]:
    part = planned_part(exercise)
    if exercise.ends_on_floor:
        yield to.say("The plan asks you to come back to the floor each time.")
    how_far = usual(exercise, comparison)
    if how_far is not None and not exercise.ends_on_floor:
        yield to.say(
            "Most times you went to about {angle}. The sensors are not perfect: it may be {span}.",
            angle=about(round(how_far.deg), to),
            span=span(math.floor(how_far.low_deg), math.ceil(how_far.high_deg), to),
        )
    if part is not None:
        yield to.say("The planned part: {part}.", part=planned_words(part, to))
    yield from _time(exercise, comparison, to)
    yield from _held(exercise, comparison, to)


def _time(exercise: Exercise, comparison: SessionComparison, to: Speech) -> Iterator[str]:
    exposure, threshold = comparison.exposure, exercise.compression_threshold
    if exposure is None or threshold is None or not exercise.angle_is_known:
        return
    yield to.say("The far part starts at {angle}.", angle=about(threshold.deg, to))
    if exposure.past_threshold_high_s < 0.5:
        yield to.say("You did not go there.")
    else:
        yield to.say(
            "You were there for about {seconds} seconds in all. It may be {low} to {high}.",
            seconds=round(exposure.past_threshold_s),
            low=math.floor(exposure.past_threshold_low_s),
            high=math.ceil(exposure.past_threshold_high_s),
        )
    done, sets = comparison.sets[0], comparison.prescribed_sets
    if done.prescribed_low_s is None or done.prescribed_high_s is None:
        return
    low = round(sets * done.prescribed_low_s)
    if math.isinf(done.prescribed_high_s):
        yield to.say("The plan asks for at least {low} seconds there in all.", low=low)
    else:
        high = round(sets * done.prescribed_high_s)
        yield to.say("The plan asks for {low} to {high} seconds there in all.", low=low, high=high)


def _held(exercise: Exercise, comparison: SessionComparison, to: Speech) -> Iterator[str]:
    asked_s = exercise.tempo.end_range_hold_s
    holds_s = [each.repetition.hold_s for done in comparison.sets for each in done.repetitions]
    if not exercise.is_held or not holds_s:
        return
    shortest, longest = round(min(holds_s)), round(max(holds_s))
    if shortest == longest:
        yield to.say("Each time you held it for about {seconds} seconds.", seconds=longest)
    else:
        yield to.say("You held it for about {low} to {high} seconds each time.", low=shortest, high=longest)
    if asked_s is not None:
        yield to.say("The plan asks for {seconds} seconds each time.", seconds=to.number(asked_s))


def _keep(exercise: Exercise, done: SessionComparison, kinds: Sequence[Kind], to: Speech) -> Iterator[str]:
    if set(kinds) == {"as planned"} and not _lower(exercise, done, kinds) and not _more(done):
        yield to.say("Go on as planned. Your clinician looks at it with you.")
        return
    if "past the limit" not in kinds and "too long" not in kinds:
        yield to.say("Go on with your plan. Your clinician looks at it with you.")
    if not _lower(exercise, done, kinds) and not _more(done) and "too few" not in kinds:
        yield to.say("Keep the number in your plan.")
    yield to.say("Keep writing down your pain.")


def _stop_to_be_safe(exercise: Exercise, to: Speech) -> Iterator[str]:
    stop = stop_deg(exercise)
    if exercise.ends_on_floor:
        yield to.say("To be safe, stop when your foot is flat on the floor, and tell your clinician.")
    elif stop is not None:
        yield to.say(
            "To be safe, stop at {angle}, and tell your clinician. The picture shows where.", angle=about(stop, to)
        )


def _change(exercise: Exercise, done: SessionComparison, kinds: Sequence[Kind], to: Speech) -> Iterator[str]:
    yield from _where_to_stop(exercise, done, kinds, to)
    if "too long" in kinds:
        yield to.say("Stay in the far part only as long as your plan says, and tell your clinician.")
    if _more(done):
        yield to.say("You did more than planned. Do not do more than your plan says.")
    elif "too few" in kinds or _lower(exercise, done, kinds):
        yield to.say("Aim for the number in your plan. If it is too much, tell your clinician.")
    # who went too far is not asked for more of anything else
    if not {"past the limit", "too long"} & set(kinds):
        yield from (to.say(MORE[kind]) for kind in MORE if kind in kinds)


def _where_to_stop(exercise: Exercise, done: SessionComparison, kinds: Sequence[Kind], to: Speech) -> Iterator[str]:
    stop = stop_deg(exercise)
    if "past the limit" in kinds and stop is not None:
        yield to.say(
            "You went further than planned. Stop at {angle}, and tell your clinician. The picture shows where.",
            angle=about(stop, to),
        )
    elif "past the limit" in kinds:
        yield to.say(
            "You went further than planned. Stop when your foot is flat on the floor, and tell your clinician."
        )
    elif any(_may_have_passed(exercise, each) for each in done.sets):
        yield from _stop_to_be_safe(exercise, to)
    elif stop is not None and any(each.deeper_than_asked for one in done.sets for each in one.repetitions):
        yield to.say("Stop at {angle}. The picture shows where.", angle=about(stop, to))


def _may_have_passed(exercise: Exercise, done: SetComparison) -> bool:
    """Tell whether it is not sure enough that a limit was kept."""
    if exercise.limit_deg is None:
        return False
    kept = done.probability_within_limit
    return kept is None or kept < exercise.decide.limit or any(each.touched_by for each in done.repetitions)
