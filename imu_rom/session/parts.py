"""Which exercises a recording holds, and who says so: events, the user, its task label, or the plan's order."""

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from imu_rom.dose.assignment import exercise_shown
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.plan import Plan
from imu_rom.errors import CannotAnswerError, PlanError, RecordingError
from imu_rom.findings import Finding
from imu_rom.recording.model import Event, Recording
from imu_rom.session.said_poses import is_pose

__all__ = ["WHOLE_SESSION", "AskedPart", "Part", "Parts", "Span", "combined_exercise", "parts_of"]

Span = tuple[float, float]

WHOLE_SESSION = "session"
"""Task label of recordings that hold all exercises of a stage."""

# So much may two exercises' stretches overlap: nobody presses a button to the second.
LARGEST_OVERLAP_S = 2.0


@dataclass(frozen=True)
class AskedPart:
    """An exercise that the user names.

    Parameters
    ----------
    name : str
        Of an exercise of the plan's stage.
    span_s : tuple of float or None
        (start_s, stop_s) in which it was done; None leaves that to the order.
    """

    name: str
    span_s: Span | None = None


@dataclass(frozen=True)
class Part:
    """One exercise of the recording.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.
    spans_s : tuple of tuple of float, or None
        (start_s, stop_s) of the stretches that hold its sets, in order; None: nothing says where they are.
    """

    exercise: Exercise
    spans_s: tuple[Span, ...] | None = None


@dataclass(frozen=True)
class Parts:
    """The exercises of a recording.

    Parameters
    ----------
    said_by : {"events", "option", "task", "order"}
        Events beside the recording, the user's ``--exercise``, the recording's task label or the plan's only exercise,
        or the plan's order.
    parts : tuple of Part
        In the plan's order where nothing says where they are, else in order of time.
    findings : tuple of Finding
        Events that name nothing of the plan.
    """

    said_by: str
    parts: tuple[Part, ...]
    findings: tuple[Finding, ...] = ()


def parts_of(recording: Recording, plan: Plan, asked: Sequence[AskedPart] = ()) -> Parts:
    """Tell which exercises a recording holds.

    Parameters
    ----------
    recording : Recording
        With its subject, task and events.
    plan : Plan
        What was prescribed.
    asked : sequence of AskedPart, optional
        What the user names; it goes before the events.

    Returns
    -------
    Parts
        Events that name exercises of the stage go before the task label. Without any of these all exercises of the
        stage are taken, in the plan's order, where the task label is ``session`` or there is none.

    Raises
    ------
    PlanError
        The plan is for another person or another exercise.
    RecordingError
        Stretches of two exercises overlap.
    """
    if asked:
        exercises = [exercise_shown(plan, subject=recording.subject, task=None, name=each.name) for each in asked]
        if len({each.span_s is None for each in asked}) > 1:
            raise PlanError(
                "of several exercises either each must be given its stretch or none",
                do="name all of them as NAME@START:STOP, in seconds, or leave all stretches out",
            )
        if asked[0].span_s is not None:
            spans = [(exercise, each.span_s) for exercise, each in zip(exercises, asked, strict=True) if each.span_s]
            return Parts("option", _in_time(spans, recording.label, "--exercise"))
        names = [each.name for each in exercises]
        if len(set(names)) < len(names):
            raise PlanError(f"an exercise is named twice: {', '.join(names)}", do="name each exercise once")
        return Parts("option" if len(exercises) == 1 else "order", tuple(Part(each) for each in exercises))
    named, findings = _named_by_events(recording, plan)
    if named:
        # another person's recording is refused whatever its events say
        exercise_shown(plan, subject=recording.subject, task=None, name=named[0][0].name)
        return Parts("events", _in_time(named, recording.label, "the events"), tuple(findings))
    exercises = list(plan.stage.exercises)
    several = len(exercises) > 1 and recording.task in {None, WHOLE_SESSION}
    if several or recording.task == WHOLE_SESSION:
        exercise_shown(plan, subject=recording.subject, task=None, name=exercises[0].name)
        return Parts("order" if several else "task", tuple(Part(each) for each in exercises), tuple(findings))
    alone = exercise_shown(plan, subject=recording.subject, task=recording.task)
    return Parts("task", (Part(alone),), tuple(findings))


def _named_by_events(recording: Recording, plan: Plan) -> tuple[list[tuple[Exercise, Span]], list[Finding]]:
    """Pair each event that names an exercise of the stage with it."""
    named, unknown = [], []
    for event, stop_s in zip(recording.events, recording.event_stops_s, strict=True):
        if is_pose(event):
            continue
        alike = [each for each in plan.stage.exercises if each.name == event.trial_type]
        meant = [each for each in alike if event.side in {None, each.side}]
        if not meant:
            unknown.append(_unknown(event, stop_s, alike, plan))
        elif stop_s > event.onset_s:
            named.append((meant[0], (event.onset_s, stop_s)))
    return named, unknown


def _unknown(event: Event, stop_s: float, alike: Sequence[Exercise], plan: Plan) -> Finding:
    names = ", ".join(each.name for each in plan.stage.exercises)
    why = (
        f"is of the {event.side} side, but the plan has {event.trial_type!r} on the {alike[0].side} side"
        if alike
        else f"names no exercise of the plan's stage {plan.current_stage!r}, which has {names}"
    )
    return Finding(
        "event-unknown",
        "caution",
        f"The event {event.trial_type!r} from {event.onset_s:.1f} to {stop_s:.1f} s {why}: it was left out.",
        event.onset_s,
        stop_s,
    )


def _in_time(named: Iterable[tuple[Exercise, Span]], label: str, said_by: str) -> tuple[Part, ...]:
    """Gather the stretches of each exercise, the exercises in order of their first one."""
    ordered = sorted(named, key=lambda each: each[1])
    for (before, first), (after, second) in itertools.pairwise(ordered):
        if before != after and min(first[1], second[1]) - second[0] > LARGEST_OVERLAP_S:
            raise RecordingError(
                f"{said_by} give {before.name!r} the time from {first[0]:g} to {first[1]:g} s and {after.name!r} that "
                f"from {second[0]:g} to {second[1]:g} s, which overlap",
                where=label,
                do="correct one of them",
            )
    spans: dict[str, tuple[Exercise, list[Span]]] = {}
    for exercise, span in ordered:
        spans.setdefault(exercise.name, (exercise, []))[1].append(span)
    return tuple(Part(exercise, tuple(each)) for exercise, each in spans.values())


# what several exercises must have alike for their sets to be found in one go
_SAME = ("joint", "motion", "side", "proximal", "distal", "sensors", "still_segment", "kind")


def combined_exercise(exercises: Sequence[Exercise], where: str) -> Exercise:
    """Put what several exercises have alike into one, for sets that may belong to any of them.

    Parameters
    ----------
    exercises : sequence of Exercise
        In the plan's order.
    where : str
        Name of the recording, for the error.

    Returns
    -------
    Exercise
        What differs is "not prescribed" in it; ``sets`` is the sum; ``repetitions`` is 0 where the numbers differ.

    Raises
    ------
    CannotAnswerError
        They differ in joint, motion, sensors or kind, so that not even their sets can be found in one go.
    """
    first = exercises[0]
    for name in _SAME:
        if any(getattr(each, name) != getattr(first, name) for each in exercises):
            raise CannotAnswerError(
                f"{' and '.join(each.name for each in exercises)} differ in their {name.replace('_', ' ')}, so the "
                "plan's order can't tell where one ends and the other begins",
                where=where,
                do="say it by events beside the recording, or by --exercise NAME@START:STOP for each",
            )
    apart = {
        name: getattr(Exercise("", "", "", "left", "", "", 1, 1), name)
        for name, value in vars(first).items()
        if any(getattr(each, name) != value for each in exercises)
    }
    repetitions = {each.repetitions for each in exercises}
    return replace(
        first,
        **apart
        | {
            "name": " or ".join(each.name for each in exercises),
            "sets": sum(each.sets for each in exercises),
            "repetitions": repetitions.pop() if len(repetitions) == 1 else 0,
        },
    )
