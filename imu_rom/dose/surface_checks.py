"""What a plan can't mean about its zero, and about the surface that the person stands on."""

from collections.abc import Iterator

from imu_rom.dose.exercise import Exercise
from imu_rom.dose.plan_fault import PlanFault
from imu_rom.dose.zero import OWN_STANDING, neutral_words

__all__ = ["surface_faults", "zero_faults"]

# the one motion in which the foot comes down to the floor and can go no further
_TO_THE_FLOOR = ("ankle", "dorsiflexion")


def zero_faults(exercise: Exercise) -> Iterator[PlanFault]:
    """Find contradictions in what the zero is.

    Parameters
    ----------
    exercise : Exercise
        An exercise of a known joint.

    Yields
    ------
    PlanFault
        Each with its field.
    """
    words = (neutral_words(exercise.joint), OWN_STANDING)
    if exercise.zero is not None and exercise.zero not in words:
        yield PlanFault(("zero",), f"must be {' or '.join(map(repr, words))}", repr(exercise.zero))
    measured = {
        "neutral_deg": exercise.neutral_deg,
        "neutral_uncertainty_deg": exercise.neutral_uncertainty_deg,
    }
    for name, other in (tuple(measured), tuple(measured)[::-1]):
        if measured[name] is not None and measured[other] is None:
            yield PlanFault((name,), f"must come with {other}", f"{measured[name]:g} alone")
    if exercise.neutral_deg is not None and exercise.zero == OWN_STANDING:
        yield PlanFault(
            ("neutral_deg",),
            f"must be left out with zero = {OWN_STANDING!r}, where angles count from that pose",
            f"{exercise.neutral_deg:g}",
            f"or write zero = {neutral_words(exercise.joint)!r}",
        )


def surface_faults(exercise: Exercise) -> Iterator[PlanFault]:
    """Find contradictions in what the person stands on and where a repetition ends.

    Parameters
    ----------
    exercise : Exercise
        An exercise of a known joint.

    Yields
    ------
    PlanFault
        Each with its field.
    """
    if exercise.step_height_mm is not None and exercise.surface not in {"step", "wedge"}:
        yield PlanFault(
            ("step_height_mm",),
            "must come with surface = 'step' or 'wedge'",
            f"{exercise.step_height_mm:g} with {'no surface' if exercise.surface is None else repr(exercise.surface)}",
        )
    if not exercise.ends_on_floor:
        return
    if (exercise.joint, exercise.motion) != _TO_THE_FLOOR:
        yield PlanFault(
            ("end_range",),
            "must be 'angle' for this motion (only ankle dorsiflexion ends on the floor)",
            f"'floor' with {exercise.joint} {exercise.motion}",
        )
    if exercise.surface != "floor":
        yield PlanFault(
            ("end_range",),
            "must be 'angle' unless surface = 'floor'",
            f"'floor' with {'no surface' if exercise.surface is None else f'surface = {exercise.surface!r}'}",
        )
    if exercise.end_range_deg is not None:
        yield PlanFault(
            ("end_range_deg",),
            "must be left out with end_range = 'floor', which is a surface and not an angle",
            "[" + ", ".join(f"{each:g}" for each in exercise.end_range_deg) + "]",
        )
