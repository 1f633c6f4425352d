"""What comes out where a session's angle is held against another measurement of the same joint."""

from dataclasses import dataclass

from imu_rom.dose.agreement import Agreement

__all__ = ["Lag", "ReferenceComparison", "ReferenceRepetition", "ReferenceSet"]


@dataclass(frozen=True)
class Lag:
    """How the reference lies in time.

    Parameters
    ----------
    lag_s : float
        How much later the reference shows the same.
    source : {"found", "given"}
        Found by the least variance of the difference, or given.
    correlation : float
        Of both after it was taken out.
    """

    lag_s: float
    source: str
    correlation: float


@dataclass(frozen=True)
class ReferenceRepetition:
    """One repetition by both.

    Parameters
    ----------
    set, repetition : int
        From 1.
    complete : bool
        Complete by the session's angle.
    end_range_deg, end_range_low_deg, end_range_high_deg : float
        The session's end range with its 95 % interval.
    reference_end_range_deg : float
        The reference's, estimated the same way within the same time.
    past_threshold_s, past_threshold_low_s, past_threshold_high_s : float or None
        The session's time past the compressive angle; None where the plan names none.
    reference_past_threshold_s : float or None
        The reference's.
    reached : str
        The session's answer.
    reference_reached : bool or None
        What the reference says, taken at its word; None where not prescribed.
    within_limit : str
        The session's answer.
    reference_within_limit : bool or None
        What the reference says, taken at its word; None where not prescribed.
    """

    set: int
    repetition: int
    complete: bool
    end_range_deg: float
    end_range_low_deg: float
    end_range_high_deg: float
    reference_end_range_deg: float
    past_threshold_s: float | None
    past_threshold_low_s: float | None
    past_threshold_high_s: float | None
    reference_past_threshold_s: float | None
    reached: str
    reference_reached: bool | None
    within_limit: str
    reference_within_limit: bool | None


@dataclass(frozen=True)
class ReferenceSet:
    """Time past the compressive angle of one set by both.

    Parameters
    ----------
    set : int
        From 1.
    past_threshold_s, past_threshold_low_s, past_threshold_high_s : float
        The session's, with its 95 % interval.
    reference_past_threshold_s : float
        The reference's, within the same repetitions.
    """

    set: int
    past_threshold_s: float
    past_threshold_low_s: float
    past_threshold_high_s: float
    reference_past_threshold_s: float


@dataclass(frozen=True)
class ReferenceComparison:
    """One exercise of a session against a reference.

    Parameters
    ----------
    exercise, side : str
        Of the plan.
    channel : str
        Name of the reference.
    lag : Lag
        How it lies in time; taken out before anything else.
    compared_s : float
        Time within the sets in which both are known.
    root_mean_square_deg, bias_deg, spread_deg : float
        Of the differences of all samples within the sets, session less reference: root mean square, mean, and standard
        deviation about that mean.
    zero_difference_deg : float or None
        What the reference reads in the session's neutral pose, less what that pose counts as; None where it is not
        known there.
    samples_covered : float
        Share of these samples whose 95 % interval holds the reference.
    end_ranges_covered : float or None
        The same of the repetitions' end ranges.
    times_covered : float or None
        Share of sets whose 95 % interval of the time past the compressive angle holds the reference's.
    end_range : Agreement or None
        End ranges of complete repetitions, session less reference; None with fewer than two.
    time_past : Agreement or None
        Time past the compressive angle of complete repetitions, session less reference.
    repetitions : tuple of ReferenceRepetition
        Those in which the reference is known.
    sets : tuple of ReferenceSet
        Those in all of whose repetitions it is.
    left_out : int
        Repetitions in which it is not.
    """

    exercise: str
    side: str
    channel: str
    lag: Lag
    compared_s: float
    root_mean_square_deg: float
    bias_deg: float
    spread_deg: float
    zero_difference_deg: float | None
    samples_covered: float
    end_ranges_covered: float | None
    times_covered: float | None
    end_range: Agreement | None
    time_past: Agreement | None
    repetitions: tuple[ReferenceRepetition, ...]
    sets: tuple[ReferenceSet, ...]
    left_out: int
