"""What a comparison with the plan says, of one repetition, one set and one session."""

from dataclasses import dataclass
from typing import Literal

from imu_rom.dose.exposure import Exposure, ExposureCurve
from imu_rom.dose.floor import FloorContact
from imu_rom.dose.verdict import SetVerdict
from imu_rom.motion.repetitions import Repetition

__all__ = ["Answer", "RepetitionComparison", "SessionComparison", "SetComparison"]

Answer = Literal["yes", "no", "undecided", "not prescribed"]


@dataclass(frozen=True)
class RepetitionComparison:
    """One repetition against the plan.

    Parameters
    ----------
    number : int
        From 1 within its set, complete and partial together.
    repetition : Repetition
        What was done.
    end_range_low_deg, end_range_high_deg : float
        95 % interval of the end range, all parts of the uncertainty.
    exposure : Exposure or None
        Past the compressive angle; None where the plan names none.
    curve : ExposureCurve
        Time past each angle within the repetition.
    probability_reached : float or None
        That the window's lower edge was reached, or that the foot came back to the floor where that is asked; None
        where not prescribed.
    reached : {"yes", "no", "undecided", "not prescribed"}
        Answer at the plan's decide value.
    probability_within_limit : float or None
        That the limit was kept; None where not prescribed.
    within_limit : {"yes", "no", "undecided", "not prescribed"}
        Answer at the plan's decide value.
    deeper_than_asked : bool
        Past the window's upper edge, more likely than not.
    touched_by : tuple of str
        Codes of findings (gap, clipping) that touch it and make it undecided; the probabilities then are what the
        samples say, taken at their word.
    sustained_deg : float or None
        Highest angle kept or exceeded for 0.2 s without a break, which is compared with the limit; None where it lasts
        less than that.
    floor : FloorContact or None
        Foot and shank where it stopped; None where the floor is not what is asked.
    """

    number: int
    repetition: Repetition
    end_range_low_deg: float
    end_range_high_deg: float
    exposure: Exposure | None
    curve: ExposureCurve
    probability_reached: float | None
    reached: Answer
    probability_within_limit: float | None
    within_limit: Answer
    deeper_than_asked: bool
    touched_by: tuple[str, ...] = ()
    sustained_deg: float | None = None
    floor: FloorContact | None = None


@dataclass(frozen=True)
class SetComparison:
    """One set against the plan.

    Parameters
    ----------
    number : int
        From 1 within the exercise.
    start_s, stop_s : float
        From the first repetition's start to the last one's stop.
    interruptions : tuple of tuple of float
        Pauses over which neighbours were joined.
    repetitions : tuple of RepetitionComparison
        In time order.
    complete, partial : int
        Counts of complete and partial repetitions.
    prescribed_repetitions : int
        As the plan says.
    reached, short, undecided, past_limit : int
        Counts of complete repetitions: reached yes, no, undecided; within_limit no (partial ones included).
    hold_s : float
        Sum of the holds.
    exposure : Exposure or None
        Over its repetitions; its interval is joint over the error that they share, and holds the time without data
        between its start and stop.
    prescribed_low_s, prescribed_high_s : float or None
        Prescribed time past the threshold.
    prescribed_derived : bool
        True where that was derived from hold and tempo.
    probability_reached, probability_within_limit, probability_above_window, probability_below_window : float or None
        Joint probabilities behind the verdict: the asked share of repetitions reached; the limit kept; time past the
        threshold above, and below, the prescribed window. What a gap hides is left out of them, but not of the verdict.
    verdict : {"met", "short", "over", "undecided", "not prescribed"}
        Joint over the shared zero; see `imu_rom.dose.verdict.set_verdict`. Where no window is prescribed but a limit or
        a time is, a complete repetition counts as reached.
    """

    number: int
    start_s: float
    stop_s: float
    interruptions: tuple[tuple[float, float], ...]
    repetitions: tuple[RepetitionComparison, ...]
    complete: int
    partial: int
    prescribed_repetitions: int
    reached: int
    short: int
    undecided: int
    past_limit: int
    hold_s: float
    exposure: Exposure | None
    prescribed_low_s: float | None
    prescribed_high_s: float | None
    prescribed_derived: bool
    probability_reached: float | None
    probability_within_limit: float | None
    probability_above_window: float | None
    probability_below_window: float | None
    verdict: SetVerdict


@dataclass(frozen=True)
class SessionComparison:
    """One exercise of a session against the plan: the total first, the grouping second.

    Parameters
    ----------
    sets : tuple of SetComparison
        In time order.
    complete, partial : int
        Repetitions over all sets.
    prescribed_sets, prescribed_repetitions : int
        As prescribed, repetitions in all.
    exposure : Exposure or None
        Over all sets, joint over the shared zero.
    outside_sets_s, outside_sets_low_s, outside_sets_high_s : float or None
        Time past the threshold outside the repetitions of the sets (worn time only); None where the plan names no
        threshold.
    """

    sets: tuple[SetComparison, ...]
    complete: int
    partial: int
    prescribed_sets: int
    prescribed_repetitions: int
    exposure: Exposure | None
    outside_sets_s: float | None
    outside_sets_low_s: float | None
    outside_sets_high_s: float | None
