"""One sensor beside a still segment: the joint's angle for any mounting, either segment, and a tilted axis."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from imu_rom.motion.segment_tracking import track_segment
from imu_rom.settings import AngleSettings

RATE_HZ = 50.0
GRAVITY_M_S2 = 9.81


def bends(count=8, deepest_deg=35.0):
    """Stands for 12 s, then bends slowly again and again, with a pause between."""
    way = 0.5 - 0.5 * np.cos(np.linspace(0, 2 * np.pi, 200))
    one = np.concatenate([deepest_deg * way, np.zeros(50)])
    return np.concatenate([np.zeros(600), np.tile(one, count)])


def measured(angle_deg, mounting, tilt_deg=0.0, turn_deg=0.0):
    """What a sensor measures that turns about a left-right axis, the person turning round slowly meanwhile."""
    axis = Rotation.from_euler("x", tilt_deg, degrees=True).apply([0.0, 1.0, 0.0])
    heading = Rotation.from_euler("z", np.linspace(0, turn_deg, len(angle_deg))[:, None], degrees=True)
    attitude = heading * Rotation.from_rotvec(np.radians(angle_deg)[:, None] * axis) * mounting
    rate = np.zeros((len(angle_deg), 3))
    rate[1:] = (attitude[:-1].inv() * attitude[1:]).as_rotvec() * RATE_HZ
    noise = np.random.default_rng(1).normal(0, 1, (2, len(angle_deg), 3))
    force = attitude.inv().apply([0.0, 0.0, GRAVITY_M_S2]) + 0.03 * noise[0]
    return force, rate + np.radians(0.07) * noise[1], mounting.inv().apply(axis)


def tracked(angle_deg, mounting, *, distal_worn=True, **named):
    force, rate, axis = measured(angle_deg, mounting, **named)
    track = track_segment(
        (force, rate),
        np.zeros(len(angle_deg), dtype=bool),
        RATE_HZ,
        AngleSettings(),
        distal_worn=distal_worn,
        attitude_deg=0.5,
    )
    return track, axis


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("distal_worn", [True, False])
def test_the_angle_follows_the_turn_for_any_mounting_and_side(seed, distal_worn):
    true_deg = bends()
    track, axis = tracked(true_deg, Rotation.random(random_state=seed), distal_worn=distal_worn)
    own = track.axis.distal if distal_worn else track.axis.proximal
    assert abs(own @ axis) > np.cos(np.radians(2))
    # about the axis that was found the distal segment turns forwards, or the proximal one backwards
    sign = np.sign(own @ axis) * (1 if distal_worn else -1)
    found_deg = np.degrees(track.angle_rad)
    error_deg = sign * (found_deg - np.median(found_deg[:500])) - true_deg
    assert np.sqrt(np.mean(error_deg**2)) < 0.4
    assert track.moves
    assert track.facing_is_clear


def test_turning_sensor_upside_down_turns_only_the_axis():
    upright = Rotation.from_euler("xyz", [20, 5, -30], degrees=True)
    flipped = upright * Rotation.from_euler("x", 180, degrees=True)
    angles, axes = [], []
    for mounting in (upright, flipped):
        track, axis = tracked(bends(), mounting)
        angles.append(track.angle_rad * np.sign(track.axis.distal @ axis))
        axes.append(track.axis.distal * np.sign(track.axis.distal @ axis))
    assert np.degrees(np.ptp(angles[0] - angles[1])) < 1.0
    assert axes[1] == pytest.approx(Rotation.from_euler("x", 180, degrees=True).inv().apply(axes[0]), abs=0.03)


def test_turning_round_meanwhile_does_no_harm():
    true_deg = bends()
    track, axis = tracked(true_deg, Rotation.random(random_state=9), turn_deg=200.0)
    error_deg = np.degrees(track.angle_rad) * np.sign(track.axis.distal @ axis) - true_deg
    assert np.std(error_deg) < 0.4


def test_a_tilted_axis_makes_the_angle_less_sure_by_its_cosine():
    for tilt_deg in (0.0, 60.0):
        track, _ = tracked(bends(), Rotation.random(random_state=3), tilt_deg=tilt_deg)
        total_deg = np.hypot(0.5, np.degrees(track.drift_standard_uncertainty_rad))
        assert np.median(total_deg) == pytest.approx(0.5 / np.cos(np.radians(tilt_deg)), rel=0.03)


def test_nothing_that_moves_is_said():
    track, _ = tracked(np.zeros(2000), Rotation.random(random_state=2))
    assert not track.moves
