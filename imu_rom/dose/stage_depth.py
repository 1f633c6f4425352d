"""How far into the motion that compresses the tendon a stage lets the joint go."""

import math
from dataclasses import dataclass
from typing import Literal

from imu_rom.dose.exercise import Exercise
from imu_rom.dose.plan import Stage
from imu_rom.dose.sites import TendonSite

__all__ = ["Depth", "compresses", "exercise_depth", "stage_depth"]

OVER_AN_EDGE = "step"


@dataclass(frozen=True)
class Depth:
    """How far an exercise goes, as prescribed.

    Parameters
    ----------
    exercise : str
        Its name.
    by : {"window", "limit", "floor", "open"}
        What says where it ends. "open": nothing does, off a step or in a window without an upper edge.
    deg : float
        Where a repetition should end at the deepest, in degrees; the floor counts as neutral, and what is open as
        infinite.
    limit_deg : float
        What is not to be passed; infinite where there is no limit.
    past_deg : float or None
        The compressive angle; None: not prescribed.
    """

    exercise: str
    by: Literal["window", "limit", "floor", "open"]
    deg: float
    limit_deg: float
    past_deg: float | None

    @property
    def is_past(self) -> bool | None:
        """True where it goes past the compressive angle; None where there is none."""
        return None if self.past_deg is None else self.deg > self.past_deg

    def is_deeper_than(self, other: "Depth") -> bool:
        """Tell whether this goes deeper, or as deep under a laxer limit.

        Parameters
        ----------
        other : Depth
            Another.

        Returns
        -------
        bool
            False where both are open.
        """
        return (self.deg, self.limit_deg) > (other.deg, other.limit_deg)


def compresses(exercise: Exercise, site: TendonSite) -> bool:
    """Tell whether an exercise counts the motion that compresses a tendon.

    Parameters
    ----------
    exercise : Exercise
        Of a plan.
    site : TendonSite
        The plan's.

    Returns
    -------
    bool
        False for other motions, whose depth says nothing about the compression.
    """
    return (exercise.joint, exercise.motion) == (site.joint, site.motion)


def exercise_depth(exercise: Exercise, *, had_an_end: bool = False) -> Depth | None:
    """Tell how far an exercise goes.

    Parameters
    ----------
    exercise : Exercise
        Of a plan.
    had_an_end : bool
        True where something said so far where it ends, so that now nothing does.

    Returns
    -------
    Depth or None
        None where the plan does not say, and nothing else makes it open: on a machine or on the floor, for one.
    """
    limit_deg = math.inf if exercise.limit_deg is None else exercise.limit_deg
    past_deg = None if exercise.compression_threshold is None else exercise.compression_threshold.deg
    high = None if exercise.end_range_deg is None else exercise.end_range_deg[1]
    by: Literal["window", "limit", "floor", "open"]
    if exercise.ends_on_floor:
        by, deg = "floor", 0.0
    elif high is not None and math.isfinite(high):
        by, deg = "window", high
    elif math.isfinite(limit_deg):
        by, deg = "limit", limit_deg
    elif high is not None or had_an_end or exercise.surface == OVER_AN_EDGE:
        by, deg = "open", math.inf
    else:
        return None
    return Depth(exercise.name, by, deg, limit_deg, past_deg)


def stage_depth(stage: Stage, side: str, site: TendonSite, before: Stage | None = None) -> Depth | None:
    """Tell how far a stage goes.

    Parameters
    ----------
    stage : Stage
        Of a plan.
    side : {"left", "right"}
        Side of the body.
    site : TendonSite
        The plan's.
    before : Stage, optional
        The stage before it: an exercise that lost its window and its limit since is open now.

    Returns
    -------
    Depth or None
        Of the exercise that goes deepest; None where the plan says it of none.
    """
    ended = {
        each.name
        for each in (() if before is None else before.exercises)
        if each.side == side and exercise_depth(each) is not None
    }
    depths = [
        depth
        for each in stage.exercises
        if each.side == side and compresses(each, site)
        if (depth := exercise_depth(each, had_an_end=each.name in ended)) is not None
    ]
    return max(depths, key=lambda each: (each.deg, each.limit_deg), default=None)
