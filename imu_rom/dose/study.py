"""What a study declares before it looks: which recordings count, and the one angle that its main answer is about."""

from dataclasses import dataclass
from datetime import date

__all__ = ["Study", "ValidRecording", "why_not_valid"]


@dataclass(frozen=True)
class ValidRecording:
    """Which recordings count in the main answer; what is None is not asked.

    Parameters
    ----------
    least_repetitions_share : float or None
        Complete repetitions over those prescribed.
    largest_u_shared_deg : float or None
        Standard uncertainty that the whole session shares.
    largest_unseen_share : float or None
        Time without data over the time of the sets.
    without_findings : tuple of str
        Codes of findings, none of which it may have.
    """

    least_repetitions_share: float | None = None
    largest_u_shared_deg: float | None = None
    largest_unseen_share: float | None = None
    without_findings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Study:
    """A study's declaration.

    Parameters
    ----------
    declared_on : date
        When it was declared.
    primary_threshold_deg : float or None
        The compressive angle of the main answer; None: that of each exercise's plan.
    registration : str or None
        Where it was registered, in words or as an address.
    valid_recording : ValidRecording
        Which recordings count.
    """

    declared_on: date
    primary_threshold_deg: float | None = None
    registration: str | None = None
    valid_recording: ValidRecording = ValidRecording()


def why_not_valid(
    rule: ValidRecording,
    *,
    repetitions: int,
    prescribed_repetitions: int | None,
    u_shared_deg: float | None,
    unseen_share: float,
    findings: frozenset[str],
) -> tuple[str, ...]:
    """Tell why a recording does not count.

    Parameters
    ----------
    rule : ValidRecording
        As declared.
    repetitions : int
        Complete ones.
    prescribed_repetitions : int or None
        Asked for; None: nothing was.
    u_shared_deg : float or None
        None: not known.
    unseen_share : float
        Time without data over the time of the sets.
    findings : frozenset of str
        Codes.

    Returns
    -------
    tuple of str
        Stable words, one for each part of the rule that it breaks; empty where it counts.
    """
    share = rule.least_repetitions_share
    largest = rule.largest_u_shared_deg
    reasons = []
    if share is not None and prescribed_repetitions and repetitions < share * prescribed_repetitions:
        reasons.append("too-few-repetitions")
    if largest is not None and (u_shared_deg is None or u_shared_deg > largest):
        reasons.append("zero-too-unsure")
    if rule.largest_unseen_share is not None and unseen_share > rule.largest_unseen_share:
        reasons.append("too-much-unseen")
    reasons += [f"finding-{each}" for each in rule.without_findings if each in findings]
    return tuple(reasons)
