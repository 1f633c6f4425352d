"""Hinge angle and its parts against SciPy's Rotation."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from imu_rom.motion.angle import axis_to_z, axis_world, hinge_angle_rad, quaternion_product, up_in_sensor
from imu_rom.motion.joint_rotation import twist_angle_rad

SEEDS = st.integers(0, 2**31)
FEW = settings(max_examples=25, deadline=None)


def scalar_first(rotation):
    return np.roll(rotation.as_quat(), 1, axis=-1)


def unit(seed):
    return Rotation.random(random_state=seed).apply([0.0, 0.0, 1.0])


def hinge(seed, angle_rad):
    """Two sensors in any direction on two segments that turn about one axis, moving freely in the world.

    Returns attitudes of both and the axis in both sensors' axes.
    """
    draw = Rotation.random(3, random_state=seed)
    axis = unit(seed + 1)
    way = np.cumsum(np.random.default_rng(seed).normal(0, 0.05, (len(angle_rad), 3)), axis=0)
    proximal_segment = draw[2] * Rotation.from_rotvec(way)
    distal_segment = proximal_segment * Rotation.from_rotvec(angle_rad[:, None] * axis)
    return (
        proximal_segment * draw[0],
        distal_segment * draw[1],
        draw[0].inv().apply(axis),
        draw[1].inv().apply(axis),
    )


@FEW
@given(SEEDS)
def test_products_are_scipys(seed):
    first, second = Rotation.random(5, random_state=seed), Rotation.random(5, random_state=seed + 1)
    ours = quaternion_product(scalar_first(first), scalar_first(second))
    again = Rotation.from_quat(np.roll(ours, -1, axis=-1))
    assert ((first * second).inv() * again).magnitude().max() < 1e-12
    # one of them may be a single one
    single = quaternion_product(scalar_first(first), scalar_first(second[0]))
    assert np.allclose(single[0], ours[0])


@FEW
@given(SEEDS)
def test_up_and_axis_are_scipys(seed):
    attitude, axis = Rotation.random(7, random_state=seed), unit(seed + 1)
    assert np.allclose(up_in_sensor(scalar_first(attitude)), attitude.inv().apply([0.0, 0.0, 1.0]))
    assert np.allclose(axis_world(scalar_first(attitude), axis), attitude.apply(axis))


@FEW
@given(st.one_of(SEEDS.map(unit), st.sampled_from([*np.eye(3), *-np.eye(3), np.array([1e-9, 0.0, -1.0])])))
def test_aligned_frame_has_the_axis_as_z_by_the_shortest_way(axis):
    rotation = Rotation.from_quat(np.roll(axis_to_z(axis), -1))
    assert np.allclose(rotation.apply([0.0, 0.0, 1.0]), axis, atol=2e-6)
    assert rotation.magnitude() == pytest.approx(np.arccos(np.clip(axis[2], -1, 1)), abs=2e-3)


@FEW
@given(SEEDS)
def test_a_hinges_angle_comes_back_whatever_mounting_and_movement(seed):
    # past half a turn both ways: the angle is unwrapped
    angle = np.radians(250) * np.sin(np.arange(300) / 40)
    proximal, distal, proximal_axis, distal_axis = hinge(seed, angle)
    found = hinge_angle_rad(
        scalar_first(proximal), scalar_first(distal), proximal_axis, distal_axis, np.zeros(len(angle))
    )
    assert np.ptp(found - angle) < 1e-6


@FEW
@given(SEEDS, st.floats(-3, 3), st.floats(-3, 3))
def test_headings_do_nothing_once_their_difference_is_known(seed, common, between):
    """Each sensor's world has a heading of its own; a turn of both together is no turn of the joint."""
    angle = np.radians(30) * np.sin(np.arange(200) / 20)
    proximal, distal, *axes = hinge(seed, angle)
    drift = common * np.linspace(0, 3, len(angle))
    turned_proximal = Rotation.from_euler("z", drift[:, None]) * proximal
    turned_distal = Rotation.from_euler("z", drift[:, None] - between) * distal
    plain = hinge_angle_rad(scalar_first(proximal), scalar_first(distal), *axes, np.zeros(len(angle)))
    turned = hinge_angle_rad(
        scalar_first(turned_proximal), scalar_first(turned_distal), *axes, np.full(len(angle), between)
    )
    off = np.degrees(turned - plain)
    assert np.ptp(off) < 1e-4
    assert abs((off[0] + 180) % 360 - 180) < 1e-4


@FEW
@given(SEEDS)
def test_turning_the_axis_round_turns_the_sign_and_nothing_else(seed):
    angle = np.radians(30) * np.sin(np.arange(200) / 20)
    proximal, distal, *axes = hinge(seed, angle)
    nothing = np.zeros(len(angle))
    plain = hinge_angle_rad(scalar_first(proximal), scalar_first(distal), *axes, nothing)
    turned = hinge_angle_rad(scalar_first(proximal), scalar_first(distal), *(-each for each in axes), nothing)
    assert np.ptp(plain + turned) < 1e-6


@FEW
@given(SEEDS, st.floats(0, 12))
def test_angle_is_the_twist_of_the_relative_rotation(seed, off_deg):
    """Also where the axes are off: then ours and the twist about the axis agree by their own definition."""
    angle = np.radians(30) * np.sin(np.arange(100) / 15)
    proximal, distal, proximal_axis, distal_axis = hinge(seed, angle)
    off = Rotation.from_rotvec(np.radians(off_deg) * unit(seed + 9)).apply(distal_axis)
    found = hinge_angle_rad(scalar_first(proximal), scalar_first(distal), proximal_axis, off, np.zeros(len(angle)))
    aligned = [
        attitude * Rotation.from_quat(np.roll(axis_to_z(axis), -1))
        for attitude, axis in ((proximal, proximal_axis), (distal, off))
    ]
    twist = twist_angle_rad(aligned[0].inv() * aligned[1], [0.0, 0.0, 1.0])
    assume(np.abs(twist).max() < 3.1)
    assert np.degrees(np.abs(found - found[0] - (twist - twist[0]))).max() < 1e-4


@pytest.mark.parametrize(("off_deg", "largest_loss_deg"), [(5.0, 0.12), (10.0, 0.4)])
def test_an_axis_that_is_off_only_scales_the_excursion(off_deg, largest_loss_deg):
    """A shared axis that is off by e scales by cos e: 20 degrees lose 0.08 at 5 and 0.30 at 10 degrees."""
    angle = np.radians(10) * (1 + np.sin(np.arange(200) / 20))
    proximal, distal, proximal_axis, distal_axis = hinge(4, angle)
    across = np.cross(proximal_axis, unit(8))
    across /= np.linalg.norm(across)
    # the same wrong direction in the body for both, at the first sample
    wrong = Rotation.from_rotvec(np.radians(off_deg) * across).apply(proximal_axis)
    seen = (proximal[0].inv() * distal[0]).inv().apply(wrong)
    assert seen @ distal_axis == pytest.approx(np.cos(np.radians(off_deg)))
    found = hinge_angle_rad(scalar_first(proximal), scalar_first(distal), wrong, seen, np.zeros(len(angle)))
    lost_deg = np.degrees(np.ptp(angle) - np.ptp(found))
    assert 0 < lost_deg < largest_loss_deg
    assert lost_deg == pytest.approx(np.degrees(np.ptp(angle)) * (1 - np.cos(np.radians(off_deg))), rel=0.35)
