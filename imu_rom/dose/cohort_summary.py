"""What a cohort's summary says: exposure, reliability, agreement, answers, sensitivity, missing data.

Figures stand with their interval, how it was worked out, and how many people and sessions it rests on; where there are
too few, the figure or its interval is None and a sentence says why.
"""

from dataclasses import dataclass

from imu_rom.dose.agreement import ClusteredAgreement
from imu_rom.dose.reliability import Reliability
from imu_rom.dose.study import Study

__all__ = [
    "AnswerShares",
    "ArmDifference",
    "CohortSummary",
    "Estimate",
    "GroupExposure",
    "MeasureReliability",
    "MissingData",
    "ReferenceAgreement",
    "SensitivityRow",
]


@dataclass(frozen=True)
class Estimate:
    """A mean with its interval.

    Parameters
    ----------
    value, low, high : float or None
        Estimate and its 95 % interval.
    people, sessions : int
        What it rests on.
    method : str
        How the interval was worked out, or why there is none.
    """

    value: float | None
    low: float | None
    high: float | None
    people: int
    sessions: int
    method: str


@dataclass(frozen=True)
class GroupExposure:
    """Time past the compressive angle a session, of one participant, week or arm.

    Parameters
    ----------
    group : str
        Which.
    past_threshold_s : Estimate
        Mean over sessions; of weeks and arms the mean of their participants' means.
    """

    group: str
    past_threshold_s: Estimate


@dataclass(frozen=True)
class ArmDifference:
    """What two arms differ by, in seconds a session.

    Parameters
    ----------
    arm, other : str
        The first less the second.
    by_means : Estimate
        Of participants' means.
    by_model : Estimate
        By a mixed model.
    """

    arm: str
    other: str
    by_means: Estimate
    by_model: Estimate


@dataclass(frozen=True)
class MeasureReliability:
    """How well a figure repeats from one day to the next, the sensors taped on anew.

    Parameters
    ----------
    exercise : str
        Which.
    measure : {"end_range_deg", "past_threshold_s"}
        Median end range of a session's complete repetitions; a session's time past the compressive angle.
    reliability : Reliability or None
        Of each person's first two days.
    left_out : int
        People with fewer days.
    why_not : str
        Why it is None; empty else.
    """

    exercise: str
    measure: str
    reliability: Reliability | None
    left_out: int
    why_not: str


@dataclass(frozen=True)
class ReferenceAgreement:
    """Complete repetitions by the sensors less the same by another measurement.

    Parameters
    ----------
    channel : str
        The other measurement.
    measure : {"end_range_deg", "past_threshold_s"}
        What was compared.
    agreement : ClusteredAgreement or None
        Over people.
    why_not : str
        Why it is None; empty else.
    """

    channel: str
    measure: str
    agreement: ClusteredAgreement | None
    why_not: str


@dataclass(frozen=True)
class AnswerShares:
    """How the sensors answered where another measurement says one thing.

    Parameters
    ----------
    channel : str
        The other measurement.
    question : {"reached", "within_limit"}
        Was the end range reached; was the limit kept.
    by_reference : {"yes", "no"}
        What it says.
    yes, no, undecided : Estimate
        Shares of these repetitions, and of all decided ones among them the right ones.
    right_of_decided : Estimate
        Share of the answers that are right, of those that were given: sensitivity where the reference says yes,
        specificity where it says no.
    """

    channel: str
    question: str
    by_reference: str
    yes: Estimate
    no: Estimate
    undecided: Estimate
    right_of_decided: Estimate


@dataclass(frozen=True)
class SensitivityRow:
    """The main answer worked out otherwise; never the main answer.

    Parameters
    ----------
    what : {"threshold", "zero", "all recordings"}
        What was changed: the angle; each session's zero by one standard uncertainty of its own; the rule.
    change : str
        By how much.
    arm : str
        Of which arm.
    past_threshold_s : Estimate
        Mean of participants' means.
    """

    what: str
    change: str
    arm: str
    past_threshold_s: Estimate


@dataclass(frozen=True)
class MissingData:
    """What is missing of one participant.

    Parameters
    ----------
    participant, arm : str
        Whose.
    recordings, analysed, valid : int
        In the dataset; in the tables; counted in the main answer.
    reasons : dict of str to int
        Why the others were not: codes of failures, and parts of the rule.
    undecided_repetitions, repetitions : int
        Complete repetitions of which it can't be told whether the end range was reached, and all.
    unseen_s : float
        Time of the sets without data.
    weeks_without : int
        Weeks between the first and the last recording without a valid one.
    """

    participant: str
    arm: str
    recordings: int
    analysed: int
    valid: int
    reasons: dict[str, int]
    undecided_repetitions: int
    repetitions: int
    unseen_s: float
    weeks_without: int


@dataclass(frozen=True)
class CohortSummary:
    """All that a summary says.

    Parameters
    ----------
    study : Study or None
        What was declared beforehand; None: nothing was, and all of this is exploratory.
    threshold : str
        The angle of the main answer, in words.
    arm_column : str or None
        Column of ``participants.tsv`` that tells arms apart; None: all are one arm.
    participants, weeks, arms : tuple of GroupExposure
        The main answer.
    differences : tuple of ArmDifference
        Of each arm from the first.
    reliability : tuple of MeasureReliability
        From day to day.
    agreement : tuple of ReferenceAgreement
        With other measurements; empty where there are none.
    answers : tuple of AnswerShares
        Against other measurements.
    sensitivity : tuple of SensitivityRow
        Sensitivity analyses.
    missing : tuple of MissingData
        By participant.
    sessions, valid_sessions : int
        Sessions in the tables, and those that count.
    """

    study: Study | None
    threshold: str
    arm_column: str | None
    participants: tuple[GroupExposure, ...]
    weeks: tuple[GroupExposure, ...]
    arms: tuple[GroupExposure, ...]
    differences: tuple[ArmDifference, ...]
    reliability: tuple[MeasureReliability, ...]
    agreement: tuple[ReferenceAgreement, ...]
    answers: tuple[AnswerShares, ...]
    sensitivity: tuple[SensitivityRow, ...]
    missing: tuple[MissingData, ...]
    sessions: int
    valid_sessions: int
