"""Exercises measured by one sensor: which segment must keep still for its angle to be the joint's.

With one sensor the joint's angle is known only where the other segment truly keeps still. A plan has to say that it
does; else, as in a heel raise while standing, where the shank leans, one sensor shows repetitions and tempo only.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from imu_rom.dose.exercise import ABSENT, Exercise
from imu_rom.dose.plan_fault import PlanFault
from imu_rom.settings import UncertaintySettings

__all__ = ["STILL_SEGMENTS", "StillSegment", "one_sensor_faults", "still_standard_uncertainty_deg"]


@dataclass(frozen=True)
class StillSegment:
    """A segment that keeps still in an exercise.

    Parameters
    ----------
    side_of_joint : {"proximal", "distal"}
        Which of the joint's two segments it is.
    joints : tuple of str
        Joints whose exercises can have it.
    setting : str
        Field of `imu_rom.settings.UncertaintySettings` that says how still it keeps.
    """

    side_of_joint: Literal["proximal", "distal"]
    joints: tuple[str, ...]
    setting: Literal["still_foot_deg", "still_seated_deg"]


STILL_SEGMENTS = {
    "foot flat on the floor": StillSegment("distal", ("ankle",), "still_foot_deg"),
    "shank, seated": StillSegment("proximal", ("ankle",), "still_seated_deg"),
    "thigh, seated": StillSegment("proximal", ("knee",), "still_seated_deg"),
    "trunk against a chair": StillSegment("proximal", ("shoulder", "hip"), "still_seated_deg"),
}
"""Segments that keep still, by the words of a plan's ``still_segment``; common practice, no source."""


def still_standard_uncertainty_deg(exercise: Exercise, settings: UncertaintySettings) -> float | None:
    """Give the standard uncertainty that the other segment's stillness adds to the angle.

    Parameters
    ----------
    exercise : Exercise
        An exercise of a plan without contradictions.
    settings : UncertaintySettings
        How still each keeps.

    Returns
    -------
    float or None
        Degrees; None where both segments wear a sensor, or where nothing is said to keep still.
    """
    if exercise.still_segment is None:
        return None
    return float(getattr(settings, STILL_SEGMENTS[exercise.still_segment].setting))


def one_sensor_faults(exercise: Exercise) -> Iterator[PlanFault]:
    """Find contradictions in which sensors are worn and what keeps still.

    Parameters
    ----------
    exercise : Exercise
        An exercise of a plan.

    Yields
    ------
    PlanFault
        Each with its field.
    """
    names = {"proximal": exercise.proximal, "distal": exercise.distal}
    for which, name in names.items():
        worn = exercise.sensors in {"both", f"{which} only"}
        if worn and name == ABSENT:
            with_it = "" if exercise.sensors == "both" else f" with sensors = {exercise.sensors!r}"
            yield PlanFault((which,), f"must be given{with_it}", "nothing")
        if not worn and name != ABSENT:
            yield PlanFault((which,), f"must be left out with sensors = {exercise.sensors!r}", repr(name))
    if exercise.ends_on_floor and exercise.sensors != "both":
        yield PlanFault(
            ("end_range",),
            "must be 'angle' with one sensor (the floor takes foot and shank)",
            f"'floor' with sensors = {exercise.sensors!r}",
        )
    if exercise.still_segment is None:
        return
    still = STILL_SEGMENTS.get(exercise.still_segment)
    if still is None:
        words = " or ".join(map(repr, STILL_SEGMENTS))
        yield PlanFault(("still_segment",), f"must be {words}", repr(exercise.still_segment))
    elif exercise.sensors == "both":
        yield PlanFault(("still_segment",), "must be left out with two sensors", repr(exercise.still_segment))
    elif exercise.joint not in still.joints:
        yield PlanFault(
            ("still_segment",), f"must be a segment beside the {exercise.joint}", repr(exercise.still_segment)
        )
    elif exercise.sensors == f"{still.side_of_joint} only":
        yield PlanFault(
            ("still_segment",),
            f"must be the segment without a sensor (sensors = {exercise.sensors!r})",
            repr(exercise.still_segment),
        )
