"""The uncertainty budget of a joint angle: its terms, what shares each, what each grows with, and where it comes from.

Terms are combined as independent standard uncertainties (JCGM 100:2008, 5.1.2, from memory). What matters is what each
has in common: the neutral pose's error is one number for the whole session and never averages out, and so is whatever
follows the angle (skin, accelerometer bias, rocking); soft tissue and attitude errors that change slowly are common to
the repetitions of a set; wobble is each sample's own.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from imu_rom.errors import SettingError
from imu_rom.motion.soft_tissue import PLACEMENTS, Placement, pair_factors
from imu_rom.settings import PRACTICE, UncertaintySettings

__all__ = [
    "NOTHING_KNOWN_DEG",
    "Budget",
    "FromRecording",
    "ScalesWith",
    "SharedBy",
    "Term",
    "angle_budget",
    "foot_inclination_standard_uncertainty_deg",
    "sample_standard_uncertainty_deg",
]

Floats = NDArray[np.float64]
SharedBy = Literal["session", "set", "repetition", "sample"]
ScalesWith = Literal["nothing", "excursion", "angular rate", "time"]

NOTHING_KNOWN_DEG = 180.0
RECOVERY_S = 3.0
AFTER_GAP_DEG = 5.0
DECLARED = "what the plan says the zero is"


@dataclass(frozen=True)
class Term:
    """One term of the budget.

    Parameters
    ----------
    name : str
        Short name.
    value_deg : float
        Standard uncertainty in degrees, at the budget's own excursion and angular rate.
    shared_by : {"session", "set", "repetition", "sample"}
        What has this error in common, so that nothing within it averages it out.
    scales_with : {"nothing", "excursion", "angular rate", "time"}
        What it grows with: distance of the angle from its zero, speed, or time without sight of the heading.
    source : str
        Where the value comes from.
    """

    name: str
    value_deg: float
    shared_by: SharedBy
    scales_with: ScalesWith
    source: str


@dataclass(frozen=True)
class Budget:
    """Terms of one session's joint angle.

    Parameters
    ----------
    terms : tuple of Term
        All of them, those that are zero included; none of two clocks where there is one, and none of rocking where
        the recording shows no more of it than the terms of soft tissue and attitude hold already.
    excursion_deg : float
        Distance from the zero at which terms that scale with it have their value.
    rate_deg_s : float
        Angular rate at which terms that scale with it have their value.
    """

    terms: tuple[Term, ...]
    excursion_deg: float = 0.0
    rate_deg_s: float = 0.0

    def combined_deg(self, *shared_by: SharedBy, scales_with: ScalesWith | None = None) -> float:
        """Combine terms.

        Parameters
        ----------
        *shared_by : str
            Which terms, by what shares them; none named takes all.
        scales_with : str, optional
            Only those that scale with this.

        Returns
        -------
        float
            Degrees, at the budget's own excursion and angular rate.
        """
        return float(
            np.sqrt(
                sum(
                    each.value_deg**2
                    for each in self.terms
                    if (not shared_by or each.shared_by in shared_by)
                    and (scales_with is None or each.scales_with == scales_with)
                )
            )
        )

    def share(self, shared_by: SharedBy) -> float:
        """Give the growth with the excursion of the terms shared by something.

        Parameters
        ----------
        shared_by : str
            What shares them.

        Returns
        -------
        float
            Degrees a degree of excursion.
        """
        if self.excursion_deg == 0:
            return 0.0
        return self.combined_deg(shared_by, scales_with="excursion") / self.excursion_deg

    def constant_deg(self, shared_by: SharedBy) -> float:
        """Combine the terms shared by something that don't grow with the excursion.

        Parameters
        ----------
        shared_by : str
            What shares them.

        Returns
        -------
        float
            Degrees.
        """
        return float(np.hypot(self.combined_deg(shared_by, scales_with="nothing"), self._heading_deg(shared_by)))

    def _heading_deg(self, shared_by: SharedBy) -> float:
        return self.combined_deg(shared_by, scales_with="time")

    @property
    def parts_deg(self) -> dict[str, float]:
        """Each term's value by its name."""
        return {each.name: each.value_deg for each in self.terms}

    @property
    def u_shared_deg(self) -> float:
        """What the whole session shares, at the largest excursion."""
        return self.combined_deg("session")

    @property
    def u_set_deg(self) -> float:
        """What the repetitions of one set share besides, at the largest excursion."""
        return self.combined_deg("set")

    @property
    def u_common_deg(self) -> float:
        """Both together: what every repetition of a set has in common."""
        return self.combined_deg("session", "set")


@dataclass(frozen=True)
class FromRecording:
    """Parts of the budget that the recording itself gives.

    Parameters
    ----------
    axis_deg : float
        Standard uncertainty of the axis' direction.
    heading_deg : float
        Standard uncertainty that heading and drift leave in the angle within the sets.
    tilt_growth : float
        Growth of the accelerometers' part with the excursion, from `tilt_error.growth_with_excursion`.
    excursion_deg : float
        Largest distance of the angle from its zero.
    rate_deg_s : float
        Root mean square of the angular rate in the sets.
    clock_s : float or None
        Standard uncertainty of the offset between the two sensors' clocks; None where there is one clock.
    apart_deg : float
        Root mean square of how far apart both sensors see the joint's axis, and of what was taken out as their lean.
    """

    axis_deg: float = 0.0
    heading_deg: float = 0.0
    tilt_growth: float = 0.0
    excursion_deg: float = 0.0
    rate_deg_s: float = 0.0
    clock_s: float | None = None
    apart_deg: float = 0.0


def angle_budget(
    settings: UncertaintySettings,
    recording: FromRecording | None = None,
    placements: tuple[Placement, Placement] | None = None,
    own_sources: Mapping[str, str] | None = None,
    *,
    has_zero: bool = True,
    zero_deg: float | None = None,
    still_deg: float | None = None,
) -> Budget:
    """Put the budget together.

    Parameters
    ----------
    settings : UncertaintySettings
        Sizes that don't come from the recording.
    recording : FromRecording, optional
        What the recording gives; None: nothing, as before there is one.
    placements : tuple of Placement, optional
        Where the proximal and the distal sensor are worn; None takes the shin and a stiff shoe.
    own_sources : mapping of str to str, optional
        Names of settings that somebody has measured, and where each value comes from: they are taken as they are,
        whatever the placement.
    has_zero : bool
        False where the angle's zero is arbitrary, so that there is nothing to be off from.
    zero_deg : float, optional
        Standard uncertainty of the zero; None takes the setting for a neutral pose.
    still_deg : float, optional
        Standard uncertainty of the other segment's stillness where one sensor is worn; None where both are.

    Returns
    -------
    Budget
        Terms with what shares them.

    Raises
    ------
    SettingError
        The mount is neither skin nor rigid.
    """
    recording, own = recording or FromRecording(), own_sources or {}
    if settings.mount not in {"skin", "rigid"}:
        raise SettingError(f"must be skin or rigid, got {settings.mount!r}", where="setting uncertainty.mount")
    pair = placements or (PLACEMENTS["shin"], PLACEMENTS["shoe"])
    if settings.mount == "rigid":
        pair = (PLACEMENTS["rigid"], PLACEMENTS["rigid"])
    wobble, locked = pair_factors(*pair)
    # where one end has flesh beneath, that is where all of it comes from: the other is rigid, or wears no sensor
    fleshy = [each for each in pair if each != PLACEMENTS["rigid"]] or list(pair)
    names = " and ".join(each.name for each in fleshy)
    worn = f"on {names} ({'; '.join(dict.fromkeys(each.source for each in fleshy))})"
    excursion = abs(recording.excursion_deg)

    def worn_by(name: str, factor: float) -> tuple[float, str]:
        return (getattr(settings, name), own[name]) if name in own else (factor * getattr(settings, name), worn)

    def said(name: str) -> str:
        return own.get(name) or _source(name)

    slow, slow_source = worn_by("soft_tissue_slow_deg", wobble)
    fast, fast_source = worn_by("soft_tissue_fast_deg", wobble)
    share, share_source = worn_by("soft_tissue_locked_share", locked)
    zero = (settings.zero_pose_deg if zero_deg is None else zero_deg) if has_zero else 0.0
    zero_source = said("zero_pose_deg") if zero == settings.zero_pose_deg else DECLARED
    # the expectation of 1 - cos e for a direction that is off by e in two directions is e^2, for small e
    axis = excursion * (1.0 - np.cos(np.radians(min(recording.axis_deg, 90.0)))) * np.sqrt(2.0)
    tilt = recording.tilt_growth * excursion
    terms: tuple[Term, ...] = (
        Term("zero_pose", zero, "session", "nothing", zero_source),
        Term("soft_tissue_locked", share * excursion, "session", "excursion", share_source),
        Term("accelerometer_bias", tilt, "session", "excursion", said("accelerometer_bias_m_s2")),
        Term("soft_tissue_slow", slow, "set", "nothing", slow_source),
        Term("attitude", settings.attitude_deg, "set", "nothing", said("attitude_deg")),
        Term("axis", float(axis), "set", "excursion", "the fit of the joint's axis to this recording"),
        Term("heading", recording.heading_deg, "set", "time", "how well this recording shows the angle against drift"),
        Term("soft_tissue_fast", fast, "sample", "nothing", fast_source),
    )
    expected = float(np.sqrt(slow**2 + fast**2 + settings.attitude_deg**2))
    if recording.apart_deg > expected:
        rocking = float(np.sqrt(recording.apart_deg**2 - expected**2))
        seen = "how far apart both sensors see the joint's axis in this recording, beyond soft tissue and attitude"
        # it follows pose and movement, which are alike in each set, so that no number of sets averages it out
        terms = (*terms, Term("rocking", rocking, "session", "nothing", seen))
    if recording.clock_s is not None:
        known = "how well the two sensors' clocks are known against each other"
        terms = (*terms, Term("clock", recording.clock_s * recording.rate_deg_s, "sample", "angular rate", known))
    if still_deg is not None:
        still = Term("still_segment", still_deg, "set", "nothing", "what the plan says keeps still; " + PRACTICE)
        terms = (*terms, still)
    return Budget(terms, excursion, recording.rate_deg_s)


def _source(name: str) -> str:
    return next(str(each.metadata["source"]) for each in fields(UncertaintySettings) if each.name == name)


def foot_inclination_standard_uncertainty_deg(settings: UncertaintySettings) -> float:
    """Give the standard uncertainty of one sensor's inclination since the neutral pose, the foot back on the floor.

    Parameters
    ----------
    settings : UncertaintySettings
        Attitude, slow soft tissue, and how alike a foot lies flat each time.

    Returns
    -------
    float
        Degrees, shared by the repetitions of one set.

    Notes
    -----
    The parts for attitude and slow soft tissue are those of the difference of two sensors at one time. One sensor has
    1 / sqrt 2 of each, and the difference of one sensor between two times has sqrt 2 of that, so they stand as they
    are. The neutral pose's distance from the joint's zero has no part in it.
    """
    return float(np.sqrt(settings.attitude_deg**2 + settings.soft_tissue_slow_deg**2 + settings.foot_flat_deg**2))


def sample_standard_uncertainty_deg(
    budget: Budget,
    angle_deg: Floats,
    rate_hz: float,
    *,
    drift_rad: Floats,
    missing: NDArray[np.bool_],
    worn: NDArray[np.bool_],
    clock_s: Floats | None = None,
) -> tuple[Floats, Floats]:
    """Combine the standard uncertainty of each sample.

    Parameters
    ----------
    budget : Budget
        Terms.
    angle_deg : ndarray of shape (m,)
        Joint angle from its zero.
    rate_hz : float
        Rate of these arrays.
    drift_rad : ndarray of shape (m,)
        Standard uncertainty of the angle's drift, which takes the place of the budget's drift term.
    missing : ndarray of bool of shape (m,)
        True where a sensor delivered nothing.
    worn : ndarray of bool of shape (m,)
        True where both sensors were worn; elsewhere nothing is known of the joint (180 degrees).
    clock_s : ndarray of shape (m,), optional
        Standard uncertainty of the offset between two clocks at each time, which takes the place of the budget's.

    Returns
    -------
    all_deg : ndarray of shape (m,)
        All terms; at most 180.
    shared_deg : ndarray of shape (m,)
        The part that the whole session shares.
    """
    excursion = np.minimum(np.abs(angle_deg), NOTHING_KNOWN_DEG)
    shared = budget.constant_deg("session") ** 2 + (budget.share("session") * excursion) ** 2
    squared = shared + budget.combined_deg("set", "repetition", "sample", scales_with="nothing") ** 2
    squared += (budget.share("set") * excursion) ** 2
    squared += np.degrees(drift_rad) ** 2
    if clock_s is not None or budget.rate_deg_s:
        known_s = budget.combined_deg(scales_with="angular rate") / budget.rate_deg_s if clock_s is None else clock_s
        squared += (known_s * np.gradient(angle_deg) * rate_hz) ** 2
    if missing.any():
        # after a gap the filter finds its inclination again within a few seconds
        since = np.arange(len(missing)) - np.maximum.accumulate(np.where(missing, np.arange(len(missing)), -(10**9)))
        squared += (AFTER_GAP_DEG * np.exp(-since / rate_hz / RECOVERY_S)) ** 2
    total = np.sqrt(squared)
    total[missing | ~worn] = NOTHING_KNOWN_DEG
    return np.minimum(total, NOTHING_KNOWN_DEG), np.minimum(np.sqrt(shared), NOTHING_KNOWN_DEG)
