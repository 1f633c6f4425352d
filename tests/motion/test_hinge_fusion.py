"""The fused hinge angle, on hinges thrown about by hand whose angle is known exactly."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from imu_rom.motion.angle import axis_to_z, quaternion_product
from imu_rom.motion.hinge_fusion import along_axis, turning_rad
from imu_rom.motion.orientation import Attitude
from imu_rom.motion.tracking import track_hinge
from imu_rom.settings import AngleSettings


def tracked(made, missing=None):
    missing = np.zeros(len(made.angle_rad), dtype=bool) if missing is None else missing
    return track_hinge(*made.sensors, missing, made.rate_hz, AngleSettings())


def error_deg(track, made):
    offs = [np.degrees(sign * track.angle_rad - made.angle_rad) for sign in (1, -1)]
    return min((off - off.mean() for off in offs), key=np.std)


def test_axes_are_turned_as_the_aligning_quaternion_says():
    axis = np.array([0.6, 0.0, -0.8])
    assert along_axis(axis[None], axis)[0] == pytest.approx([0, 0, 1], abs=1e-12)
    vector = np.array([0.3, -1.0, 2.0])
    turn = Rotation.from_quat(axis_to_z(axis), scalar_first=True)
    assert along_axis(vector[None], axis)[0] == pytest.approx(turn.inv().apply(vector), abs=1e-12)


@pytest.mark.parametrize("seed", range(4))
def test_turning_is_the_change_of_the_twist_for_joints_that_are_no_perfect_hinges(seed):
    """Against the twist of the relative rotation itself, with both segments and the joint turning about all axes."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(0, 10, 0.001)
    first = Rotation.from_rotvec(np.sin(np.outer(time_s, rng.uniform(0.5, 2, 3))))
    swing = Rotation.from_rotvec(0.3 * np.sin(np.outer(time_s, [1.1, 1.7, 0.0])))
    second = first * Rotation.from_rotvec(np.outer(0.8 * np.sin(1.3 * time_s), [0.0, 0.0, 1.0])) * swing
    attitudes, rates = [], []
    for each in (first, second):
        attitudes.append(Attitude(quaternion=each.as_quat(scalar_first=True)))
        rates.append(np.vstack([np.zeros(3), (each[:-1].inv() * each[1:]).as_rotvec() * 1000.0]))
    axis = np.array([0.0, 0.0, 1.0])
    joint, _, _ = turning_rad(
        tuple(attitudes), tuple(rates), (axis, axis), np.zeros(len(time_s)), np.zeros(len(time_s), dtype=bool), 1000.0
    )
    between = quaternion_product(attitudes[0].quaternion * [1, -1, -1, -1], attitudes[1].quaternion)
    twist = np.unwrap(2 * np.arctan2(between[:, 3], between[:, 0]))
    assert joint - joint[0] == pytest.approx(twist - twist[0], abs=0.005)


@pytest.mark.parametrize("seed", range(4))
def test_a_hinge_thrown_about_is_followed_within_a_third_of_a_degree(throw, seed):
    made = throw(seed, shake_m=0.05)
    track = tracked(made)
    assert np.sqrt(np.mean(error_deg(track, made) ** 2)) < 0.35


@pytest.mark.parametrize("seed", range(3))
def test_scale_and_offset_faults_are_found_and_taken_out(throw, seed):
    made = throw(seed, seconds=90.0, offset_m_s2=0.15, scale=0.01)
    track = tracked(made)
    assert np.sqrt(np.mean(error_deg(track, made) ** 2)) < 0.5


def test_mounting_changes_nothing(throw):
    made = throw(5)
    turns = Rotation.random(2, random_state=7)
    sensors = tuple(
        (turn.apply(force), turn.apply(rate)) for turn, (force, rate) in zip(turns, made.sensors, strict=True)
    )
    plain = tracked(made)
    turned = track_hinge(*sensors, np.zeros(len(made.angle_rad), dtype=bool), made.rate_hz, AngleSettings())
    apart = [np.degrees(plain.angle_rad - sign * turned.angle_rad) for sign in (1, -1)]
    assert min(np.std(each) for each in apart) < 0.05


@pytest.mark.parametrize("seed", range(3))
def test_an_upright_axis_is_told_by_a_growing_uncertainty_that_holds_the_truth(throw, seed):
    made = throw(seed, seconds=240.0, upright=True, shake_m=0.002, tilt_rad=0.02)
    track = tracked(made)
    time_s = np.arange(len(made.angle_rad)) / made.rate_hz
    u_deg = np.degrees(np.interp(time_s, track.motion.time_s, track.drift_standard_uncertainty_rad))
    assert track.observed.mean() < 0.1
    assert u_deg[-1] > 5.0
    off = error_deg(track, made)
    assert np.mean(np.abs(off - off[0]) <= 1.96 * np.hypot(u_deg, 0.5)) > 0.95


def test_over_a_gap_the_angle_goes_on_where_it_was(throw):
    made = throw(3)
    missing = np.zeros(len(made.angle_rad), dtype=bool)
    missing[1500:1600] = True
    off = error_deg(tracked(made, missing), made)[~missing]
    assert np.sqrt(np.mean((off - off.mean()) ** 2)) < 0.6
