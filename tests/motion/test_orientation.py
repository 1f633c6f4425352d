"""One test over every attitude filter, as a filter that is selectable must give the same thing as the others."""

import builtins
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from imu_rom.errors import MissingExtraError, RecordingError, SettingError
from imu_rom.motion.orientation import FILTERS, estimate_attitude, step_rates_rad_s

GRAVITY_M_S2 = 9.81
RATE_HZ = 50.0


def up_in_sensor(rotation):
    return rotation.inv().apply([0.0, 0.0, 1.0])


def inclination_error_deg(estimate, truth):
    cosine = np.einsum("ij,ij->i", up_in_sensor(estimate), up_in_sensor(truth))
    return np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))


def slow_rotation(seed, seconds=40.0):
    """Return attitudes and noisy samples: still for 5 s, then turning slowly about all three axes."""
    rng = np.random.default_rng(seed)
    n = int(seconds * RATE_HZ)
    time_s = np.arange(n) / RATE_HZ
    rate = np.zeros((n, 3))
    for axis in range(3):
        for frequency_hz in (0.07, 0.2, 0.35):
            rate[:, axis] += 0.25 * rng.normal() * np.sin(2 * np.pi * frequency_hz * time_s + rng.uniform(0, 6))
    rate[time_s < 5.0] = 0.0
    attitude = [Rotation.random(rng=rng)]
    # this sensor gives its rate at the sample; the step to it turns by the mean of both ends
    for step in (rate[1:] + rate[:-1]) / 2:
        attitude.append(attitude[-1] * Rotation.from_rotvec(step / RATE_HZ))
    truth = Rotation.concatenate(attitude)
    accelerometer = truth.inv().apply([0.0, 0.0, GRAVITY_M_S2]) + rng.normal(scale=0.05, size=(n, 3))
    gyroscope = rate + rng.normal(scale=0.005, size=(n, 3)) + np.radians([0.3, -0.2, 0.2])
    return truth, accelerometer, gyroscope


@pytest.mark.parametrize("name", FILTERS)
def test_static_tilt_is_found_in_any_mounting(name):
    rng = np.random.default_rng(5)
    for tilt in Rotation.random(6, rng=rng):
        n = 500
        accelerometer = np.tile(tilt.inv().apply([0.0, 0.0, GRAVITY_M_S2]), (n, 1))
        accelerometer += rng.normal(scale=0.02, size=(n, 3))
        gyroscope = rng.normal(scale=0.002, size=(n, 3))
        attitude = estimate_attitude(accelerometer, gyroscope, RATE_HZ, name)
        error_deg = inclination_error_deg(attitude.rotation, Rotation.concatenate([tilt] * n))
        assert error_deg[n // 2 :].max() < 0.7


@pytest.mark.parametrize("name", FILTERS)
@pytest.mark.parametrize("seed", [1, 2])
def test_slow_rotation_keeps_its_inclination_and_turns_with_the_sensor(name, seed):
    truth, accelerometer, gyroscope = slow_rotation(seed)
    estimate = estimate_attitude(accelerometer, gyroscope, RATE_HZ, name).rotation
    error_deg = inclination_error_deg(estimate, truth)[int(5 * RATE_HZ) :]
    assert np.sqrt(np.mean(error_deg**2)) < 1.0
    assert error_deg.max() < 2.0
    # estimate = (turn about the vertical) * truth; with 0.4 deg/s of bias the turn may drift by 14 deg in 35 s, while a
    # filter that does not follow the heading at all, or follows it the wrong way, is off by far more
    x, y = np.moveaxis((estimate * truth.inv()).as_matrix(), 0, -1)[[0, 1], 0]
    heading_deg = np.degrees(np.unwrap(np.arctan2(y, x)))
    assert np.ptp(heading_deg[int(5 * RATE_HZ) :]) < 25.0


@pytest.mark.parametrize("name", FILTERS)
def test_quaternions_are_unit_and_read_only(name):
    _, accelerometer, gyroscope = slow_rotation(3, seconds=10.0)
    attitude = estimate_attitude(accelerometer, gyroscope, RATE_HZ, name)
    assert attitude.quaternion.shape == (len(gyroscope), 4)
    assert np.allclose(np.linalg.norm(attitude.quaternion, axis=1), 1.0)
    with pytest.raises(ValueError, match="read-only"):
        attitude.quaternion[0] = 0.0
    same = Rotation.from_quat(attitude.quaternion, scalar_first=True) * attitude.rotation.inv()
    assert same.magnitude().max() < 1e-9


def test_vqf_is_far_better_than_a_degree_and_finds_the_bias():
    truth, accelerometer, gyroscope = slow_rotation(4, seconds=60.0)
    attitude = estimate_attitude(accelerometer, step_rates_rad_s(gyroscope, "instants"), RATE_HZ)
    error_deg = inclination_error_deg(attitude.rotation, truth)
    assert np.sqrt(np.mean(error_deg**2)) < 0.15
    # taken for means of the step before, the same rates make the attitude run half a sample ahead
    ahead_deg = inclination_error_deg(estimate_attitude(accelerometer, gyroscope, RATE_HZ).rotation, truth)
    assert np.sqrt(np.mean(ahead_deg**2)) > 0.2
    bias_deg_s = np.degrees(np.median(attitude.gyroscope_bias_rad_s, axis=0))
    assert np.abs(bias_deg_s - [0.3, -0.2, 0.2]).max() < 0.05
    assert attitude.bias_standard_uncertainty_rad_s.max() < np.radians(0.5)
    assert attitude.at_rest[: int(4 * RATE_HZ)].any()
    assert not attitude.at_rest[int(8 * RATE_HZ) : -int(8 * RATE_HZ)].all()


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000))
def test_turning_the_sensor_in_its_mount_turns_the_attitude_alike(seed):
    """Of an estimate R and a mounting M (new sensor axes -> old), the new estimate is R M up to heading."""
    _, accelerometer, gyroscope = slow_rotation(6, seconds=10.0)
    mounting = Rotation.random(rng=np.random.default_rng(seed))
    first = estimate_attitude(accelerometer, gyroscope, RATE_HZ).rotation
    second = estimate_attitude(mounting.inv().apply(accelerometer), mounting.inv().apply(gyroscope), RATE_HZ).rotation
    assert inclination_error_deg(second, first * mounting)[int(RATE_HZ) :].max() < 0.05


def test_read_only_and_strided_samples_are_taken():
    _, accelerometer, gyroscope = slow_rotation(3, seconds=10.0)
    table = np.asfortranarray(np.hstack([accelerometer, gyroscope]))
    table.flags.writeable = False
    plain = estimate_attitude(accelerometer, gyroscope, RATE_HZ)
    assert np.array_equal(
        estimate_attitude(table[:, :3], table[:, 3:], RATE_HZ, "VQF").quaternion,
        plain.quaternion,
    )


def test_unknown_filter_is_refused_with_the_names_there_are():
    samples = np.ones((10, 3))
    with pytest.raises(SettingError, match=r"'kalman'.*vqf, madgwick, mahony, ekf, aqua"):
        estimate_attitude(samples, samples, RATE_HZ, "kalman")


def test_missing_extra_names_the_command(monkeypatch):
    real = builtins.__import__

    def without_ahrs(name, *args, **kwargs):
        if name.split(".")[0] == "ahrs":
            raise ImportError(name)
        return real(name, *args, **kwargs)

    monkeypatch.setattr(builtins, "__import__", without_ahrs)
    samples = np.ones((10, 3))
    with pytest.raises(MissingExtraError, match=r"madgwick.*pip install 'imu-rom\[filters\]'"):
        estimate_attitude(samples, samples, RATE_HZ, "madgwick")


@pytest.mark.parametrize(
    ("accelerometer", "gyroscope", "words"),
    [
        (np.ones((10, 3)), np.ones((9, 3)), r"\(10, 3\) and \(9, 3\)"),
        (np.ones((10, 2)), np.ones((10, 2)), r"must both have the shape"),
        (np.ones((1, 3)), np.ones((1, 3)), r"at least 2 samples, got 1"),
        (np.ones((10, 3)), np.where(np.arange(30).reshape(10, 3) == 13, np.nan, 1.0), r"gyroscope .* sample 4"),
        (np.where(np.arange(30).reshape(10, 3) == 7, np.inf, 1.0), np.ones((10, 3)), r"accelerometer .* sample 2"),
    ],
)
def test_samples_that_cannot_be_used_are_refused_in_one_sentence(accelerometer, gyroscope, words):
    with pytest.raises(RecordingError, match=words):
        estimate_attitude(accelerometer, gyroscope, RATE_HZ)


def test_importing_the_module_loads_no_scipy_vqf_or_ahrs():
    program = (
        "import sys, imu_rom.motion.orientation\n"
        "print([each for each in ('scipy', 'vqf', 'ahrs', 'pandas') if each in sys.modules])"
    )
    answer = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert answer.stdout.strip() == "[]"


def test_means_are_left_as_they_are_and_instants_become_means():
    rate = np.array([[0.0, 1.0, 2.0], [2.0, 1.0, 0.0], [4.0, 5.0, 6.0]])
    assert step_rates_rad_s(rate, "means") is rate
    assert step_rates_rad_s(rate, "instants").tolist() == [[0.0, 1.0, 2.0], [1.0, 1.0, 1.0], [3.0, 3.0, 3.0]]
    with pytest.raises(SettingError, match="means or instants, got 'both'"):
        step_rates_rad_s(rate, "both")
