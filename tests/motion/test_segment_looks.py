"""Looks at the heading from joint limits, standing, and two axes at a constant angle, on made-up attitudes."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from imu_rom.motion.coarse import CoarseMotion
from imu_rom.motion.heading_looks import Drift, looks_of, smooth_looks
from imu_rom.motion.joints import joint_named
from imu_rom.motion.segment_looks import (
    beyond_range_deg,
    range_looks,
    relative_rotation,
    standing_looks,
    two_axis_looks,
)

COUNT, RATE_HZ = 3000, 25.0
BODY = Rotation.from_matrix([[1, 0, 0], [0, 0, -1], [0, 1, 0]])


def scalar_first(rotation):
    return rotation.as_quat()[:, [3, 0, 1, 2]]


def motion():
    nothing = np.zeros((COUNT, 3))
    quaternion = np.tile([1.0, 0, 0, 0], (COUNT, 1))
    return CoarseMotion(
        RATE_HZ, 4, nothing, nothing, nothing, nothing, quaternion, quaternion, nothing, nothing,
        np.zeros(COUNT), np.zeros(COUNT, dtype=bool),
    )  # fmt: skip


def segments(relative, heading_rad, yaw=0.7, lean_deg=0.0):
    """Attitudes of both segments, the distal one in a world that is turned back by the heading."""
    proximal = (
        Rotation.from_euler("z", yaw) * BODY * Rotation.from_euler("Z", np.full((COUNT, 1), -lean_deg), degrees=True)
    )
    distal = Rotation.from_euler("z", -heading_rad) * proximal * relative
    return scalar_first(proximal), scalar_first(distal)


def moves(seed):
    """Two angles that wander by tens of degrees."""
    phase = np.random.default_rng(seed).uniform(0, 2 * np.pi, 2)
    seconds = np.arange(COUNT) / RATE_HZ
    return 35 * np.sin(2 * np.pi * seconds / 5 + phase[0]), 25 * np.sin(2 * np.pi * seconds / 7.3 + phase[1])


@given(st.integers(0, 1000), st.floats(-3, 3))
def test_relative_rotation_is_the_one_it_was_made_from(seed, heading):
    relative = Rotation.random(COUNT, random_state=seed)
    found = relative_rotation(*segments(relative, heading), np.full(COUNT, heading))
    assert (found.inv() * relative).magnitude().max() < 1e-6


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 1000), st.floats(-3, 3), st.sampled_from([("ankle", "ZX"), ("wrist", "ZX"), ("elbow", "ZY")]))
def test_two_axes_show_the_heading_of_a_joint_that_has_no_third(seed, heading, joint):
    name, sequence = joint
    known = joint_named(name)
    axes = [np.array(known.motions[index].axis("right")) for index in (0, 2)]
    angles = np.stack(moves(seed), axis=1) + [60.0, 0.0] * np.array([name == "elbow"])
    proximal, distal = segments(Rotation.from_euler(sequence, angles, degrees=True), heading, lean_deg=40.0)
    world = [
        Rotation.from_quat(each[:, [1, 2, 3, 0]]).apply(axis)
        for each, axis in zip((proximal, distal), axes, strict=True)
    ]
    guess = np.full(COUNT, heading + 0.35)
    start = looks_of("guess", np.array([0.0]), guess[:1], 0.5)
    time_s, none = motion().time_s, np.zeros(COUNT, dtype=bool)
    for _ in range(4):
        found = two_axis_looks(motion(), *world, float(axes[0] @ axes[1]), guess, ~none)
        guess = smooth_looks([start, found], time_s, none, Drift()).angle_rad
    assert np.degrees(np.abs(guess - heading)).max() < 1.5


def test_two_axes_say_nothing_where_both_stand_upright():
    upright = np.tile([0.0, 0.0, 1.0], (COUNT, 1))
    found = two_axis_looks(motion(), upright, upright, 1.0, np.zeros(COUNT), np.ones(COUNT, dtype=bool))
    assert len(found.time_s) == 0


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 1000), st.floats(-3, 3))
def test_range_of_motion_rules_out_headings_that_no_hip_can_take(seed, heading):
    first, second = moves(seed)
    angles = np.stack([first + 30, second / 2, second / 3], axis=1)
    proximal, distal = segments(Rotation.from_euler("ZXY", angles, degrees=True), heading, lean_deg=20.0)
    found = range_looks(motion(), proximal, distal, np.ones(COUNT, dtype=bool), joint_named("hip"), "right")
    assert len(found.time_s)
    off = np.abs(np.angle(np.exp(1j * (found.heading_rad - heading))))
    assert (off < 2.0 * found.standard_uncertainty_rad).all()
    # the same posture again and again is one look: it must not average out
    assert np.degrees(found.standard_uncertainty_rad).min() > 75


def test_a_hip_within_its_range_is_not_beyond_it_and_a_backward_thigh_is():
    relative = Rotation.from_euler("ZXY", [[60, 10, 20], [0, 0, 170]], degrees=True)
    for side in ("left", "right"):
        beyond = beyond_range_deg(relative, joint_named("hip"), side)
        assert beyond == pytest.approx([0.0, 80.0])


def test_standing_alike_shows_the_heading_once_a_stretch():
    proximal, distal = segments(Rotation.identity(COUNT), 1.1)
    found = standing_looks(motion(), proximal, distal, [(100, 200), (900, 1000)], np.radians(5))
    assert found.time_s == pytest.approx([6.0, 38.0], abs=0.05)
    assert np.angle(np.exp(1j * (found.heading_rad - 1.1))) == pytest.approx([0, 0], abs=1e-6)
    assert np.degrees(found.standard_uncertainty_rad) == pytest.approx([5, 5])
    assert len(standing_looks(motion(), proximal, distal, [], np.radians(5)).time_s) == 0
