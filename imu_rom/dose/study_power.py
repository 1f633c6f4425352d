"""How many people a study needs to tell two amounts of exposure apart: what was assumed, and what came of it."""

from dataclasses import dataclass

__all__ = ["PowerAssumptions", "PowerRow", "StudyPower"]


@dataclass(frozen=True)
class PowerAssumptions:
    """What a study is planned by.

    Parameters
    ----------
    exercise : str
        Whose exposure is simulated.
    threshold_deg : float
        Its compressive angle.
    first_s, second_s : float
        True mean exposure a day in the two arms.
    between_share, within_share : float
        How much people differ, and one person's days: standard deviation of the logarithm, about the share of the mean.
    wanted : float
        Power that is asked for.
    level : float
        Two-sided level of the test.
    trials : int
        Studies simulated for each figure.
    seed : int
        Of all chance.
    """

    exercise: str
    threshold_deg: float
    first_s: float
    second_s: float
    between_share: float
    within_share: float
    wanted: float = 0.8
    level: float = 0.05
    trials: int = 1000
    seed: int = 1


@dataclass(frozen=True)
class PowerRow:
    """One way to do the study.

    Parameters
    ----------
    sensors : str
        Which sensors.
    zero_deg : float
        Standard deviation of the neutral pose from session to session.
    sessions : int
        Recorded sessions of each person, each with a neutral pose of its own.
    people : int or None
        Fewest people an arm that reach the power; None: not with the most that were tried.
    power : float
        With so many, or with the most.
    power_low, power_high : float
        95 % interval of that figure, from the number of trials.
    ratio : float
        Mean measured exposure over the true one: what the zero and the sensors do to the mean of many sessions.
    """

    sensors: str
    zero_deg: float
    sessions: int
    people: int | None
    power: float
    power_low: float
    power_high: float
    ratio: float


@dataclass(frozen=True)
class StudyPower:
    """All ways that were tried.

    Parameters
    ----------
    assumptions : PowerAssumptions
        What they rest on.
    most_people : int
        Most people an arm that were tried.
    rows : tuple of PowerRow
        One a way.
    """

    assumptions: PowerAssumptions
    most_people: int
    rows: tuple[PowerRow, ...]
