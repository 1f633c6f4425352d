"""One sensor's turn about its own axis by gravity: exact for any mounting, heading and tilt of the axis."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from imu_rom.motion.inclination import axis_flatness, inclination_rad


def up_in(attitude):
    return attitude.inv().apply([0.0, 0.0, 1.0])


@given(
    st.integers(0, 10_000),
    st.floats(-80, 80),
    st.floats(0, 360),
    st.lists(st.floats(-170, 170), min_size=1, max_size=5),
)
def test_it_is_the_turn_about_the_axis_whatever_mounting_heading_and_tilt(seed, tilt_deg, heading_deg, turns_deg):
    generator = np.random.default_rng(seed)
    mounting = Rotation.random(random_state=generator)
    # in the world the axis is tilted; the person turned round since the pose
    axis_world = Rotation.from_euler("y", -tilt_deg, degrees=True).apply([1.0, 0.0, 0.0])
    axis = mounting.inv().apply(axis_world)
    heading = Rotation.from_euler("z", heading_deg, degrees=True)
    up = np.array(
        [up_in(heading * Rotation.from_rotvec(np.radians(turn) * axis_world) * mounting) for turn in turns_deg]
    )
    assert np.degrees(inclination_rad(up, axis, up_in(mounting))) == pytest.approx(turns_deg, abs=1e-6)
    assert axis_flatness(up, axis) == pytest.approx(np.cos(np.radians(tilt_deg)))


def test_a_turn_about_another_axis_is_none():
    # rolling a foot inwards is no rising of the heel
    reference = np.array([0.0, 0.0, 1.0])
    rolled = up_in(Rotation.from_euler("x", [[0.0], [10.0], [25.0]], degrees=True))
    assert inclination_rad(rolled, np.array([0.0, 1.0, 0.0]), reference) == pytest.approx(0.0, abs=1e-12)
    assert np.degrees(inclination_rad(rolled, np.array([1.0, 0.0, 0.0]), reference)) == pytest.approx([0, 10, 25])
