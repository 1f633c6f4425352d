"""From where on a change of end range between two days is more than measuring again and again gives.

References
----------
J. P. Weir, "Quantifying test-retest reliability using the intraclass correlation coefficient and the SEM", J Strength
Cond Res 19(1):231-240, 2005 (the minimal detectable change; formula from memory).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from imu_rom.dose.exposure_answer import DetectableChange
from imu_rom.dose.follow_up import RecordedExercise
from imu_rom.dose.plan import OwnUncertainty
from imu_rom.errors import SettingError
from imu_rom.motion.small_samples import NORMAL_FACTOR

__all__ = [
    "PUBLISHED",
    "PublishedError",
    "detectable_change",
    "known_change",
    "minimal_detectable_change_deg",
    "smallest_change",
]

REPEATABILITY = ("own_standing_deg", "zero_pose_deg")
"""Parts that a re-taping check gives, the one that holds nothing but repeatability first."""


@dataclass(frozen=True)
class PublishedError:
    """A standard error of measurement between days, from a study.

    Parameters
    ----------
    joint, motion : str
        Of what.
    sem_deg : float
        The larger, where the study gives two.
    source : str
        The study, and how it measured.
    """

    joint: str
    motion: str
    sem_deg: float
    source: str


KONOR = "Konor et al., Int J Sports Phys Ther 7:279-287, 2012"
PUBLISHED = {
    "konor-2012-inclinometer": PublishedError(
        "ankle", "dorsiflexion", 1.4, f"{KONOR}: weight-bearing lunge, digital inclinometer, 1.3 to 1.4 deg"
    ),
    "konor-2012-goniometer": PublishedError(
        "ankle", "dorsiflexion", 2.8, f"{KONOR}: weight-bearing lunge, goniometer, 1.8 to 2.8 deg"
    ),
}
"""Published errors by name. They are of other instruments: whoever takes one says that the sensors do as well."""


def minimal_detectable_change_deg(sem_deg: float) -> float:
    """Give the change past which two measurements differ by more than chance, in 95 of 100 cases.

    Parameters
    ----------
    sem_deg : float
        Standard error of measurement, in degrees.

    Returns
    -------
    float
        1.96 times the square root of 2 times the standard error, in degrees (Weir 2005).
    """
    return NORMAL_FACTOR * math.sqrt(2.0) * sem_deg


def known_change(joint: str, motion: str, own: OwnUncertainty | None, published_sem: str) -> DetectableChange | None:
    """Give the change that two days must differ by, by what the clinic or a study measured.

    Parameters
    ----------
    joint, motion : str
        Of what.
    own : OwnUncertainty or None
        What the plan takes from the clinic's checks.
    published_sem : str
        Name of a published error, or ``"none"``.

    Returns
    -------
    DetectableChange or None
        By the clinic's own re-taping check, else by the published study if it is of this joint and motion; None where
        there is neither.

    Raises
    ------
    SettingError
        There is no published error of that name.

    Notes
    -----
    A check's part may have been enlarged for its few tapings (Student's t over 1.96), so that 1.96 times it is right. A
    value that was written into the plan by hand, with no check behind it, is not taken for a check.
    """
    if published_sem != "none" and published_sem not in PUBLISHED:
        raise SettingError(
            f"must be none or one of {', '.join(PUBLISHED)}, got {published_sem!r}",
            where="setting course.published_sem",
        )
    if own is not None and own.checks:
        for name in REPEATABILITY:
            if name in own.parts and " check " in f" {own.sources.get(name, '')} ":
                return _by(own.parts[name], "own check", own.sources[name])
    if published_sem != "none":
        study = PUBLISHED[published_sem]
        if (study.joint, study.motion) == (joint, motion):
            return _by(study.sem_deg, "published", study.source)
    return None


def smallest_change(u_deg: float) -> DetectableChange:
    """Give the change that two days must differ by at the least.

    Parameters
    ----------
    u_deg : float
        This tool's own standard uncertainty of a day, in degrees.

    Returns
    -------
    DetectableChange
        A lower bound: taping again, and people, add to it.
    """
    return _by(u_deg, "lower bound", "")


def detectable_change(
    recorded: Sequence[RecordedExercise], own: OwnUncertainty | None, published_sem: str
) -> DetectableChange:
    """Give the change that two days of one exercise must differ by.

    Parameters
    ----------
    recorded : sequence of RecordedExercise
        Of those days, all of one exercise and side; at least one.
    own : OwnUncertainty or None
        What the plan takes from the clinic's checks.
    published_sem : str
        Name of a published error, or ``"none"``.

    Returns
    -------
    DetectableChange
        As `known_change` gives it, else from this tool's own standard uncertainty of a day, as a lower bound.

    Raises
    ------
    SettingError
        There is no published error of that name.
    """
    exercise = recorded[0].exercise
    known = known_change(exercise.joint, exercise.motion, own, published_sem)
    if known is not None:
        return known
    # sets of a day share the zero, and each has its own slow error
    variance = max(each.u_shared_deg**2 + each.u_set_deg**2 / max(len(each.sets), 1) for each in recorded)
    return smallest_change(math.sqrt(variance))


def _by(sem_deg: float, basis: Literal["own check", "published", "lower bound"], source: str) -> DetectableChange:
    return DetectableChange(sem_deg, minimal_detectable_change_deg(sem_deg), basis, source)
