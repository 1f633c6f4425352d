"""How much of a prescription was done: counts of sessions, repetitions and time, recorded and ticked kept apart."""

from dataclasses import dataclass
from typing import Literal

from imu_rom.dose.follow_up import Interval

__all__ = ["DoneShare", "DoseCount"]


@dataclass(frozen=True)
class DoneShare:
    """Done over prescribed.

    Parameters
    ----------
    recorded : float
        What sensors recorded, over what was prescribed; above 1 where more was done.
    with_ticks : float
        What was recorded or is the full dose by the person's word, over what was prescribed.
    recorded_capped, with_ticks_capped : float
        The same, 1 at most.
    """

    recorded: float
    with_ticks: float
    recorded_capped: float
    with_ticks_capped: float


@dataclass(frozen=True)
class DoseCount:
    """One exercise, on its side, over a stretch of days: prescribed, recorded, ticked and missing.

    Nothing is extrapolated. A session that was only ticked counts with the prescribed dose in ``..._ticked``, by the
    person's word, and nowhere else; one that was ticked as done in part counts as a session, with no number.

    Parameters
    ----------
    exercise : str
        Its name in the plan.
    side : {"left", "right"}
        Side of the body.
    sessions_prescribed, repetitions_prescribed, under_tension_prescribed_s : float or None
        Over these days; None where the plan does not say how often, or how long. A frequency a week counts a seventh
        for each day.
    recordings_prescribed : float or None
        How many of the sessions should have been recorded with sensors; None: not known.
    sessions_recorded : int
        With sensors.
    sessions_ticked : int
        Only in the diary, as done.
    sessions_ticked_in_part : int
        Only in the diary, as done in part.
    sessions_said_not_done : int
        In the diary, as not done.
    sessions_missing, sessions_excess : float or None
        Prescribed sessions of which nothing is known or that were said not to be done; done ones beyond the prescribed.
    repetitions_recorded, repetitions_partial : int
        Complete repetitions that sensors recorded, and partial ones beside them.
    repetitions_ticked : int
        Of the sessions that were only ticked as done: the prescribed number, by the person's word.
    under_tension_recorded_s : float
        Time of all recorded repetitions, partial ones included, pauses at the start left out.
    under_tension_ticked_s : float or None
        As for repetitions; None where no tempo is prescribed.
    repetitions_missing, repetitions_excess : float or None
        Against recorded and ticked ones together.
    sessions_share, repetitions_share, under_tension_share : DoneShare or None
        None where nothing is prescribed, or not how much.
    reached_interval : Interval or None
        Share of the recorded complete repetitions that reached the end range, of those that were decided, with its
        95 % interval after Wilson; None where none was decided. Repetitions of one session share its zero, so the true
        interval is wider.
    repetitions_reached, repetitions_short, repetitions_undecided, repetitions_past_limit : int
        Answers of the recorded complete repetitions; past the limit counts partial ones too.
    """

    exercise: str
    side: Literal["left", "right"]
    sessions_prescribed: float | None
    repetitions_prescribed: float | None
    under_tension_prescribed_s: float | None
    recordings_prescribed: float | None
    sessions_recorded: int
    sessions_ticked: int
    sessions_ticked_in_part: int
    sessions_said_not_done: int
    sessions_missing: float | None
    sessions_excess: float | None
    repetitions_recorded: int
    repetitions_partial: int
    repetitions_ticked: int
    under_tension_recorded_s: float
    under_tension_ticked_s: float | None
    repetitions_missing: float | None
    repetitions_excess: float | None
    sessions_share: DoneShare | None
    repetitions_share: DoneShare | None
    under_tension_share: DoneShare | None
    reached_interval: Interval | None
    repetitions_reached: int
    repetitions_short: int
    repetitions_undecided: int
    repetitions_past_limit: int
