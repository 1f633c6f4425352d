"""The invented person and the sensors: what varies from one session to the next, and by how much."""

import math
from dataclasses import dataclass, fields
from typing import Any

from imu_rom.errors import SettingError

__all__ = ["Person", "SensorErrors"]


def _check(thing: Any, where: str, signed: str = "") -> None:  # noqa: ANN401 - either of the dataclasses
    for each in fields(thing):
        value = getattr(thing, each.name)
        numbers = value if isinstance(value, tuple) else (value,)
        if len(numbers) != (2 if "tuple" in str(each.type) else 1) or not all(map(math.isfinite, numbers)):
            raise SettingError(
                f"must be {'two numbers' if 'tuple' in str(each.type) else 'a number'}, got {value}",
                where=f"{where} {each.name}",
            )
        if each.name != signed and min(numbers) < 0:
            raise SettingError(f"must be 0 or more, got {value}", where=f"{where} {each.name}")


@dataclass(frozen=True)
class Person:
    """What varies from one person and session to the next.

    Parameters
    ----------
    zero_shift_mean_deg, zero_shift_sd_deg : float
        True angle at which the person stands "at neutral": mean and spread between sessions.
    wobble_deg : float
        Soft-tissue wobble of each sensor on its segment within the sets: RMS of the length of the rotation vector.
        Outside the sets it follows the movement down to ``wobble_at_rest`` of that.
    wobble_at_rest : float
        Share of the wobble that is left in quiet standing.
    wobble_band_hz : tuple of float
        Lowest and highest frequency of the wobble (power falls with frequency, as 1/f).
    locked_share : tuple of float
        Smallest and largest share of the excursion that the skin follows, so that the sensors miss it.
    axis_frontal_deg, axis_horizontal_deg : float
        Largest tilt of the hinge axis in the frontal and the horizontal plane.
    mounting_error_deg : float
        How far a sensor sits off its declared mounting: standard deviation about each axis.
    sway_deg : float
        Postural sway in standing, RMS.
    tremor_deg : float
        Unsteadiness of the joint angle while the foot is not flat, RMS; part of the true angle.
    """

    zero_shift_mean_deg: float = 0.0
    zero_shift_sd_deg: float = 2.0
    wobble_deg: float = 0.8
    wobble_at_rest: float = 0.15
    wobble_band_hz: tuple[float, float] = (0.5, 6.0)
    locked_share: tuple[float, float] = (0.0, 0.0)
    axis_frontal_deg: float = 8.0
    axis_horizontal_deg: float = 10.0
    mounting_error_deg: float = 4.0
    sway_deg: float = 0.4
    tremor_deg: float = 0.15

    def __post_init__(self) -> None:
        _check(self, "simulated person", signed="zero_shift_mean_deg")
        low, high = self.wobble_band_hz
        if not 0.05 <= low < high <= 50:
            raise SettingError(
                f"must be two frequencies in 0.05 to 50 Hz, the lower one first, got {self.wobble_band_hz}",
                where="simulated person wobble_band_hz",
            )


@dataclass(frozen=True)
class SensorErrors:
    """Errors of the sensors themselves.

    Parameters
    ----------
    gyroscope_bias_deg_s : float
        Bias of each axis when switched on: standard deviation between axes.
    gyroscope_drift_deg_s : float
        Random walk of that bias: standard deviation after ten minutes.
    gyroscope_noise_deg_s : float
        White noise at 100 Hz, RMS; scaled with the square root of the rate.
    accelerometer_bias_m_s2 : float
        Bias of each axis: standard deviation between axes.
    accelerometer_noise_m_s2 : float
        White noise at 100 Hz, RMS; scaled with the square root of the rate.
    """

    gyroscope_bias_deg_s: float = 0.4
    gyroscope_drift_deg_s: float = 0.1
    gyroscope_noise_deg_s: float = 0.07
    accelerometer_bias_m_s2: float = 0.1
    accelerometer_noise_m_s2: float = 0.03

    def __post_init__(self) -> None:
        _check(self, "simulated sensor errors")

    @classmethod
    def none(cls) -> "SensorErrors":
        """Sensors without errors.

        Returns
        -------
        SensorErrors
            All zero.
        """
        return cls(0.0, 0.0, 0.0, 0.0, 0.0)
