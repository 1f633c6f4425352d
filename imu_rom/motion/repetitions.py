"""Joint angle to repetitions to sets."""

from dataclasses import dataclass

__all__ = ["Repetition", "RepetitionSet"]


@dataclass(frozen=True)
class Repetition:
    """One movement from the start position into end range and back.

    Indices refer to samples of the joint angle; times are seconds from the recording's start, between samples.

    Parameters
    ----------
    start_s, end_range_s, stop_s : float
        Leaving the start position, the deepest point, back at the start position.
    hold_start_s, hold_stop_s : float
        The dwell around the deepest point; the same instant where there is none.
    end_range_deg : float
        Angle of the deepest point, without noise bias.
    end_range_uncertainty_deg : float
        Standard uncertainty of that estimate alone (noise), without zero and other shared parts.
    held_deg : float or None
        Median angle within 2 degrees of the end range where that is held for 0.3 s or more, else None.
    start_deg : float
        Angle of the start position.
    complete : bool
        True where the excursion is at least the set share (0.70) of the set's median excursion.
    """

    start_s: float
    end_range_s: float
    stop_s: float
    hold_start_s: float
    hold_stop_s: float
    end_range_deg: float
    end_range_uncertainty_deg: float
    held_deg: float | None
    start_deg: float
    complete: bool

    @property
    def hold_s(self) -> float:
        """Time held at the end range."""
        return self.hold_stop_s - self.hold_start_s

    @property
    def eccentric_s(self) -> float:
        """Time from leaving the start position to the hold."""
        return self.hold_start_s - self.start_s

    @property
    def concentric_s(self) -> float:
        """Time from the end of the hold back to the start position."""
        return self.stop_s - self.hold_stop_s


@dataclass(frozen=True)
class RepetitionSet:
    """Repetitions between two rests.

    Parameters
    ----------
    repetitions : tuple of Repetition
        In time order, complete and partial.
    interruptions : tuple of tuple of float
        (start_s, stop_s) of pauses over which neighbouring groups were joined into this set.
    """

    repetitions: tuple[Repetition, ...]
    interruptions: tuple[tuple[float, float], ...] = ()

    @property
    def start_s(self) -> float:
        """Start of the first repetition."""
        return self.repetitions[0].start_s

    @property
    def stop_s(self) -> float:
        """Stop of the last repetition."""
        return self.repetitions[-1].stop_s
