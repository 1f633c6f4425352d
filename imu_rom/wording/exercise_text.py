"""What is said of one exercise of a session, or of sets of which nobody can tell whose they are."""

from imu_rom.dose.comparison import SessionComparison, SetComparison
from imu_rom.dose.exercise import Exercise
from imu_rom.session.result import Allotment
from imu_rom.wording.figures import counted, end_range_of_set, interval, one_decimal, thing
from imu_rom.wording.sentences import session_sentence, set_sentence

__all__ = ["exercise_heading", "is_undecided", "set_sentences", "total_sentence"]

WHAT_TO_DO = (
    "Say which is which by an _events.tsv beside the recording, or by --exercise NAME@START:STOP for each exercise."
)


def is_undecided(allotment: Allotment | None) -> bool:
    """Tell whether nobody can tell which exercise sets belong to.

    Parameters
    ----------
    allotment : Allotment or None
        None where the recording is of one exercise alone.

    Returns
    -------
    bool
        True where it is undecided.
    """
    return allotment is not None and allotment.is_undecided


def exercise_heading(exercise: Exercise, allotment: Allotment | None) -> str:
    """Give the heading of an exercise.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed; what all candidates have alike where nobody can tell.
    allotment : Allotment or None
        How it is known that the sets are this exercise's; None where the recording is of one exercise alone.

    Returns
    -------
    str
        Name, side and motion.
    """
    heading = f"{exercise.name}, {exercise.side} {exercise.joint} {exercise.motion}"
    return f"Nobody can tell which exercise these sets belong to: {heading}" if is_undecided(allotment) else heading


def set_sentences(
    exercise: Exercise, done: SessionComparison, u_deg: float, allotment: Allotment | None
) -> tuple[str, ...]:
    """Say what each set was against the plan.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed; what all candidates have alike where nobody can tell.
    done : SessionComparison
        What was done.
    u_deg : float
        Combined standard uncertainty of the joint angle within a set, in degrees.
    allotment : Allotment or None
        How it is known that the sets are this exercise's; None where the recording is of one exercise alone.

    Returns
    -------
    tuple of str
        One sentence a set.
    """
    if is_undecided(allotment):
        return tuple(_unallotted(exercise, each) for each in done.sets)
    return tuple(set_sentence(exercise, each, u_deg) for each in done.sets)


def _unallotted(exercise: Exercise, done: SetComparison) -> str:
    depth = end_range_of_set(exercise, done) if exercise.angle_is_known else None
    figures = counted(done.complete, thing(exercise))
    if done.partial:
        figures += f" and {done.partial} {'ended early' if exercise.is_held else 'partial'}"
    if depth is not None:
        where = "at" if exercise.is_held else "to"
        figures += f" {where} a median of {one_decimal(depth[0])} deg (95 % interval {interval(*depth[1:])})"
    return (
        f"Set {done.number}, {done.start_s:.0f} to {done.stop_s:.0f} s, is undecided: {figures}, of an exercise that "
        "nobody can tell."
    )


def total_sentence(exercise: Exercise, done: SessionComparison, allotment: Allotment | None) -> str:
    """Say what the exercise was against the plan over all its sets.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed; what all candidates have alike where nobody can tell.
    done : SessionComparison
        What was done.
    allotment : Allotment or None
        How it is known that the sets are this exercise's; None where the recording is of one exercise alone.

    Returns
    -------
    str
        One sentence; where nobody can tell whose sets they are, why not and what would settle it.
    """
    if allotment is None or not allotment.is_undecided:
        return session_sentence(exercise, done)
    why = allotment.why
    return (
        f"{why[0].upper()}{why[1:]}, so nobody can tell which exercise they belong to, and nothing is compared with "
        f"the plan. {WHAT_TO_DO}"
    )
