"""The table of sets as people read it, the same cells in the terminal and on the page."""

from imu_rom.dose.comparison import SessionComparison, SetComparison
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.prescription import prescribed_time_per_set
from imu_rom.wording.figures import (
    end_range_of_set,
    floor_of_set,
    interval,
    one_decimal,
    prescribed_time,
    steadiness_of_set,
)

__all__ = ["set_headings", "set_rows"]

NONE = "-"
MOST_LISTED = 2


def set_headings(exercise: Exercise) -> tuple[str, ...]:
    """Give the headings of the table.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.

    Returns
    -------
    tuple of str
        One heading a column.
    """
    threshold = exercise.compression_threshold
    past = "past angle, s" if threshold is None else f"past {threshold.deg:g} deg, s"
    floor = ("foot from flat, deg", "shank lean, deg") if exercise.ends_on_floor else ()
    asked_s = exercise.tempo.end_range_hold_s
    held = (f"held, of {asked_s:g} s", "shaking, deg", "change, deg") if exercise.is_held else ("hold, s",)
    return (
        "set",
        "from-to, s",
        "done/ asked",
        "ended early" if exercise.is_held else "partial",
        "reached/ short/ undecided",
        *(("past limit",) if _shows_limit(exercise) else ()),
        "end range, deg",
        *floor,
        *held,
        past,
        *(("asked, s",) if _shows_asked(exercise) else ()),
        "verdict",
    )


def set_rows(exercise: Exercise, done: SessionComparison) -> list[tuple[str, ...]]:
    """Give the cells of the table, a row for each set.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.
    done : SessionComparison
        What was done.

    Returns
    -------
    list of tuple of str
        As many cells as `set_headings` has; what is not prescribed is a dash, intervals are 95 %.
    """
    return [_row(exercise, each) for each in done.sets]


def _row(exercise: Exercise, done: SetComparison) -> tuple[str, ...]:
    depth = end_range_of_set(exercise, done)
    exposure = done.exposure
    floor = floor_of_set(done)
    limit = NONE if exercise.limit_deg is None or not exercise.angle_is_known else str(done.past_limit)
    contact = () if floor is None else tuple(f"{one_decimal(each[0])} ({interval(*each[1:])})" for each in floor)
    if exercise.ends_on_floor and floor is None:
        contact = (NONE, NONE)
    return (
        str(done.number),
        f"{done.start_s:.0f}-{done.stop_s:.0f}",
        f"{done.complete}/{done.prescribed_repetitions or NONE}",
        str(done.partial),
        f"{done.reached}/{done.short}/{done.undecided}"
        if exercise.asks_end_range and exercise.angle_is_known
        else NONE,
        *((limit,) if _shows_limit(exercise) else ()),
        NONE if depth is None or not exercise.angle_is_known else f"{one_decimal(depth[0])} ({interval(*depth[1:])})",
        *contact,
        *(_held(done) if exercise.is_held else (one_decimal(done.hold_s),)),
        NONE
        if exposure is None
        else f"{one_decimal(exposure.past_threshold_s)} "
        f"({interval(exposure.past_threshold_low_s, exposure.past_threshold_high_s)})",
        *((prescribed_time(done).removesuffix(" s") or NONE,) if _shows_asked(exercise) else ()),
        done.verdict,
    )


def _held(done: SetComparison) -> tuple[str, str, str]:
    """Time, shaking and change of the angle of the holds."""
    steady = steadiness_of_set(done)
    times_s = [each.repetition.hold_s for each in done.repetitions]
    # the sentence lists them all; here they would push the verdict off the page
    said = times_s if len(times_s) <= MOST_LISTED else (min(times_s), max(times_s))
    held = (", " if len(times_s) <= MOST_LISTED else " to ").join(one_decimal(each) for each in said)
    if steady is None:
        return held, NONE, NONE
    shaking, (sag, low, high) = steady
    return held, one_decimal(shaking), f"{one_decimal(sag)} ({interval(low, high)})"


def _is_wide(exercise: Exercise) -> bool:
    """Tell whether columns of its own make the table so wide that empty ones have to go."""
    return exercise.is_held or exercise.ends_on_floor


def _shows_limit(exercise: Exercise) -> bool:
    return exercise.limit_deg is not None or not _is_wide(exercise)


def _shows_asked(exercise: Exercise) -> bool:
    return prescribed_time_per_set(exercise) is not None or not _is_wide(exercise)
