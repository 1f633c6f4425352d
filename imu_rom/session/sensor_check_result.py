"""What a check of the sensors on a straight edge answers."""

from dataclasses import dataclass
from typing import Literal

from imu_rom.findings import Finding
from imu_rom.motion.gyroscope_check import TurnCheck
from imu_rom.motion.sensor_check import PairPosition, SensorPosition
from imu_rom.recording.model import InputFile, Recording
from imu_rom.settings import Settings

__all__ = ["CheckedPair", "CheckedSensor", "Position", "SensorCheck"]


@dataclass(frozen=True)
class Position:
    """One position of the edge.

    Parameters
    ----------
    reference_deg : float
        The angle that it was set to.
    start_s, stop_s : float
        The still stretch that is used.
    """

    reference_deg: float
    start_s: float
    stop_s: float


@dataclass(frozen=True)
class CheckedSensor:
    """What the check shows of one sensor.

    Parameters
    ----------
    tracked_point : str
        Which sensor.
    tilted : bool
        True where it followed the reference; False where it stayed (the other leg of a hinged square).
    moved_deg : float
        Largest change of its inclination since the first position.
    positions : tuple of SensorPosition
        Its tilt against the reference, one entry a position; empty where it stayed.
    gravity_m_s2, gravity_low_m_s2, gravity_high_m_s2 : float
        Mean, smallest and largest length of gravity over the positions.
    accelerometer_bias_at_least_m_s2 : float
        A bias of at least so much explains how they differ between the two positions that lie farthest apart: its part
        along the difference of their directions.
    accelerometer_noise_m_s2 : float
        Standard deviation of one sample.
    gyroscope_bias_deg_s : tuple of float
        Mean rate at rest, each axis.
    gyroscope_bias_change_deg_s : float
        Largest difference of that between two positions, any axis.
    gyroscope_noise_deg_s : float
        Standard deviation of one sample.
    turns : tuple of TurnCheck
        Turns from position to position by the gyroscope; empty where it stayed.
    gyroscope_scale_error, u_gyroscope_scale_error : float or None
        Share by which it turns too far about the axis of tilting, and its standard uncertainty; None: not seen.
    """

    tracked_point: str
    tilted: bool
    moved_deg: float
    positions: tuple[SensorPosition, ...]
    gravity_m_s2: float
    gravity_low_m_s2: float
    gravity_high_m_s2: float
    accelerometer_bias_at_least_m_s2: float
    accelerometer_noise_m_s2: float
    gyroscope_bias_deg_s: tuple[float, float, float]
    gyroscope_bias_change_deg_s: float
    gyroscope_noise_deg_s: float
    turns: tuple[TurnCheck, ...]
    gyroscope_scale_error: float | None
    u_gyroscope_scale_error: float | None


@dataclass(frozen=True)
class CheckedPair:
    """What the check shows of both sensors together.

    Parameters
    ----------
    proximal, distal : str
        Tracked points.
    way : {"both tilted", "one tilted"}
        Both on one edge, so that the angle between them should stay what it was; or one of them on the leg that moves.
    tilted : str or None
        The one that was tilted; None where both were.
    positions : tuple of PairPosition
        One entry a position.
    error_rms_deg : float
        Root mean square of the errors of all positions but the first, what noise and reference explain taken off.
    accelerometer_bias_m_s2 : float
        Standard deviation of each accelerometer axis' bias that would make errors of this size, and differences of
        gravity between the positions as they were found.
    """

    proximal: str
    distal: str
    way: Literal["both tilted", "one tilted"]
    tilted: str | None
    positions: tuple[PairPosition, ...]
    error_rms_deg: float
    accelerometer_bias_m_s2: float


@dataclass(frozen=True)
class SensorCheck:
    """What a check of the sensors shows.

    Parameters
    ----------
    recording : Recording
        What was measured.
    positions : tuple of Position
        Angles, and where they were found.
    u_reference_deg : float
        Standard uncertainty with which one angle was set.
    sensors : tuple of CheckedSensor
        Each sensor.
    pair : CheckedPair or None
        Both together; None where there is one sensor.
    plan_parts : dict of str to float
        Parts of the angle's uncertainty, by the settings' names, that a plan may take from this check; empty where the
        settings' values are large enough: a few positions about one axis make nothing smaller.
    inputs : tuple of InputFile
        What was read.
    settings : Settings
        All settings.
    findings : tuple of Finding
        What was noticed.
    """

    recording: Recording
    positions: tuple[Position, ...]
    u_reference_deg: float
    sensors: tuple[CheckedSensor, ...]
    pair: CheckedPair | None
    plan_parts: dict[str, float]
    inputs: tuple[InputFile, ...]
    settings: Settings
    findings: tuple[Finding, ...]
