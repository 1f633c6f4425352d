"""Attitude of one inertial sensor from its accelerometer and gyroscope.

Every filter stands behind one signature and gives one thing: the rotation from the sensor's axes to a world whose z
axis points up. Without a magnetometer the heading of that world is arbitrary and drifts slowly; ``heading.py`` ties
two sensors together.

Filters and their papers:

vqf
    Laidig, Seel, "VQF: Highly accurate IMU orientation estimation with bias estimation and magnetic disturbance
    rejection", Information Fusion 91 (2023) 187-204, doi:10.1016/j.inffus.2022.10.014; the offline variant, which
    looks at each sample from both sides in time. The default.
madgwick, mahony, ekf, aqua
    As the ``ahrs`` package implements them under these names, with its default gains (an extra of this package). Good
    for a second opinion on slow movement: on the first 135 s of trials 2, 16 and 21 of the BROAD data set
    (github.com/dlaidig/broad) the inclination of vqf is off by 0.3, 0.4 and 0.9 degrees RMS; theirs by 0.4 to 0.8 on
    the first, which is slow, and by 3 to 46 on the two fast ones.

Left out of those that ``ahrs`` offers, as they cannot give what is needed here: ``complementary`` and ``tilt`` don't
track the heading without a magnetometer, ``angular`` never corrects the inclination, ``ukf`` may lose the heading by
tens of degrees in half a minute of slow turning, and ``roleq`` and ``fourati`` need a magnetometer.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from imu_rom.errors import MissingExtraError, RecordingError, SettingError
from imu_rom.recording.model import Floats, freeze

if TYPE_CHECKING:
    from scipy.spatial.transform import Rotation

__all__ = ["FILTERS", "Attitude", "estimate_attitude", "step_rates_rad_s"]

FILTERS = ("vqf", "madgwick", "mahony", "ekf", "aqua")


@dataclass(frozen=True)
class Attitude:
    """Attitude of one sensor at each sample.

    Parameters
    ----------
    quaternion : ndarray of shape (n, 4)
        Unit quaternions, scalar first, sensor axes to world axes (world z up, heading arbitrary).
    gyroscope_bias_rad_s : ndarray of shape (n, 3) or None
        Estimated gyroscope bias in sensor axes; None where the filter gives none.
    bias_standard_uncertainty_rad_s : ndarray of shape (n,) or None
        The filter's own bound on the standard uncertainty of that bias.
    at_rest : ndarray of bool of shape (n,) or None
        True where the filter saw the sensor lie still.
    """

    quaternion: Floats
    gyroscope_bias_rad_s: Floats | None = None
    bias_standard_uncertainty_rad_s: Floats | None = None
    at_rest: NDArray[np.bool_] | None = None

    @cached_property
    def rotation(self) -> "Rotation":
        """The same as a SciPy ``Rotation``, sensor to world (SciPy is imported on first use)."""
        from scipy.spatial.transform import Rotation  # noqa: PLC0415  loads slowly

        return Rotation.from_quat(self.quaternion[:, [1, 2, 3, 0]])


def estimate_attitude(
    accelerometer_m_s2: Floats, gyroscope_rad_s: Floats, rate_hz: float, filter_name: str = "vqf"
) -> Attitude:
    """Estimate the attitude of one sensor at each sample.

    Parameters
    ----------
    accelerometer_m_s2 : ndarray of shape (n, 3)
        Specific force in m/s^2, sensor axes: at rest it points up.
    gyroscope_rad_s : ndarray of shape (n, 3)
        Angular rate in rad/s, sensor axes, the mean over the step before each sample (`step_rates_rad_s`).
    rate_hz : float
        Sampling rate, the same for both.
    filter_name : str
        One of `FILTERS`; upper and lower case are the same.

    Returns
    -------
    Attitude
        Sensor to world, world z up.

    Raises
    ------
    SettingError
        There is no filter of that name.
    MissingExtraError
        The filter needs the ``ahrs`` package, which is not installed.
    RecordingError
        The samples are not two finite arrays of the same shape (n, 3), or there are fewer than two.
    """
    name = filter_name.lower()
    if name not in FILTERS:
        raise SettingError(
            f"no attitude filter is called {filter_name!r}; there are {', '.join(FILTERS)}",
            where="setting angle.attitude_filter",
        )
    accelerometer, gyroscope = (
        np.ascontiguousarray(each, dtype=np.float64) for each in (accelerometer_m_s2, gyroscope_rad_s)
    )
    if accelerometer.ndim != 2 or accelerometer.shape[1] != 3 or accelerometer.shape != gyroscope.shape:
        raise RecordingError(
            "accelerometer and gyroscope must both have the shape (samples, 3), "
            f"got {accelerometer.shape} and {gyroscope.shape}"
        )
    if len(accelerometer) < 2:
        raise RecordingError(f"an attitude needs at least 2 samples, got {len(accelerometer)}")
    for word, samples in (("accelerometer", accelerometer), ("gyroscope", gyroscope)):
        # one value that is not finite would spoil all later samples, so it must never get in
        if not np.isfinite(samples).all():
            first = int(np.flatnonzero(~np.isfinite(samples).all(axis=1))[0])
            raise RecordingError(f"the {word} holds a value that is not a number at sample {first}")
    if name == "vqf":
        return _vqf(accelerometer, gyroscope, rate_hz)
    return Attitude(quaternion=freeze(_ahrs(name, accelerometer, gyroscope, rate_hz)))


def step_rates_rad_s(gyroscope_rad_s: Floats, gyroscope_samples: str) -> Floats:
    """Give each sample the mean rate over the step before it, which is what attitude filters sum up.

    Parameters
    ----------
    gyroscope_rad_s : ndarray of shape (n, 3)
        Angular rate as the sensor gave it.
    gyroscope_samples : {"means", "instants"}
        ``"means"``: each value is the mean since the sample before (sensors that sum up at a high rate, and nearly
        so those whose low-pass filter delays by half a sample or more). ``"instants"``: the rate at the sample's time.

    Returns
    -------
    ndarray of shape (n, 3)
        Mean rates.

    Raises
    ------
    SettingError
        There is no such kind of sample.
    """
    if gyroscope_samples == "means":
        return gyroscope_rad_s
    if gyroscope_samples != "instants":
        raise SettingError(
            f"must be means or instants, got {gyroscope_samples!r}", where="setting angle.gyroscope_samples"
        )
    between = np.array(gyroscope_rad_s, dtype=np.float64)
    between[1:] += gyroscope_rad_s[:-1]
    between[1:] *= 0.5
    return between


def _vqf(accelerometer: Floats, gyroscope: Floats, rate_hz: float) -> Attitude:
    from vqf import offlineVQF  # noqa: PLC0415  only where it is the filter asked for

    result = offlineVQF(gyroscope, accelerometer, None, 1.0 / rate_hz)
    at_rest = result["restDetected"]
    at_rest.flags.writeable = False
    return Attitude(
        quaternion=freeze(result["quat6D"]),
        gyroscope_bias_rad_s=freeze(result["bias"]),
        bias_standard_uncertainty_rad_s=freeze(result["biasSigma"]),
        at_rest=at_rest,
    )


def _ahrs(name: str, accelerometer: Floats, gyroscope: Floats, rate_hz: float) -> Floats:
    try:
        from ahrs import filters  # noqa: PLC0415  an extra
    except ImportError:
        raise MissingExtraError(
            f"the attitude filter {name!r} needs the ahrs package, which is not installed",
            do="pip install 'imu-rom[filters]', or take the filter vqf",
        ) from None
    samples = {"gyr": gyroscope, "acc": accelerometer, "frequency": float(rate_hz)}
    if name == "aqua":
        # its quaternion turns world axes into sensor axes: the conjugate is ours
        return np.asarray(filters.AQUA(**samples).Q) * [1.0, -1.0, -1.0, -1.0]
    if name == "ekf":
        # the frame it calls NED expects +z for a sensor at rest with z up, which is what specific force gives;
        # any magnetic dip will do, it only keeps a model of the earth's field from being computed
        return np.asarray(filters.EKF(**samples, frame="NED", magnetic_ref=60.0).Q)
    kind = filters.Madgwick if name == "madgwick" else filters.Mahony
    return np.asarray(kind(**samples).Q)
