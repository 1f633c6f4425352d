"""What became of the recordings of a cohort: how many there were, and what could not be used, counted."""

from dataclasses import dataclass

__all__ = ["CohortReading"]


@dataclass(frozen=True)
class CohortReading:
    """What was read of a dataset of many people.

    Parameters
    ----------
    participants : int
        People with at least one recording.
    recordings : int
        Recordings in the dataset.
    now : int
        Of these, those that were analysed now, or tried.
    kept : int
        Those whose earlier result is still true.
    failures : dict of str to int
        Recordings that are in no table but that of the failures, by code; the most frequent first.
    plan_faults : int
        Files of the folder of plans that can't be used.
    without_recording : int
        People of ``participants.tsv`` without a recording.
    has_participants : bool
        False where the dataset has no ``participants.tsv`` that can be read.
    """

    participants: int
    recordings: int
    now: int
    kept: int
    failures: dict[str, int]
    plan_faults: int = 0
    without_recording: int = 0
    has_participants: bool = True

    @property
    def failed(self) -> int:
        """Recordings that are in no table but that of the failures."""
        return sum(self.failures.values())

    @property
    def used(self) -> int:
        """Recordings that are in the tables."""
        return self.recordings - self.failed
