"""Sensors that move as a body does: gravity turns in the accelerometer at the gyroscope's rate."""

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from imu_rom.recording.bids import write_bids_motion
from imu_rom.recording.model import Sensor
from imu_rom.settings import ReadingSettings

GRAVITY_M_S2 = 9.81


def swinging_sensor(point="shank", seconds=20.0, rate_hz=100.0, seed=0, **fields):
    """A sensor on a hinge with an oblique axis, swinging by 20 degrees once in four seconds, with measurement noise."""
    rng = np.random.default_rng([seed, len(point), *point.encode()])
    time_s = np.arange(round(seconds * rate_hz)) / rate_hz
    axis = rng.normal(size=3)
    axis[2] = 0
    axis /= np.linalg.norm(axis)
    angle = np.deg2rad(20) * np.sin(2 * np.pi * time_s / 4 + rng.uniform(0, 6))
    turning = np.gradient(angle, 1 / rate_hz)
    up = Rotation.from_rotvec(angle[:, None] * axis).inv().apply([0, 0, GRAVITY_M_S2])
    given = {
        "accelerometer_m_s2": up + rng.normal(0, 0.05, up.shape),
        "gyroscope_rad_s": turning[:, None] * axis + rng.normal(0, 0.002, up.shape),
        "magnetometer_t": None,
        "missing": np.zeros(len(time_s), dtype=bool),
    }
    return Sensor(tracked_point=point, **(given | fields))


@pytest.fixture(scope="session")
def make_sensor():
    """Function that makes a swinging sensor: ``make_sensor(point, seconds, rate_hz, seed, **fields)``."""
    return swinging_sensor


@pytest.fixture(scope="session")
def two_sensors():
    """The module beside: sessions whose sensors have clocks of their own."""
    spec = importlib.util.spec_from_file_location("two_sensors", Path(__file__).with_name("two_sensors.py"))
    module = importlib.util.module_from_spec(spec)
    # dataclasses look their module up
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def settings():
    return ReadingSettings()


@pytest.fixture
def write_recording(tmp_path):
    """Function that writes two swinging sensors as a BIDS recording and returns its ``_motion.tsv``."""

    def write(*, seconds=20.0, rate_hz=100.0, sensors=None, folder="dataset", **options):
        sensors = sensors or [swinging_sensor(point, seconds, rate_hz) for point in ("shank", "foot")]
        return write_bids_motion(
            tmp_path / folder,
            **{"subject": "P0017", "task": "heeldrop", "rate_hz": rate_hz, "sensors": sensors} | options,
        )

    return write
