"""What two rocking sensors show of it: the two directions in which they see the joint's one axis."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from imu_rom.motion.coarse import CoarseMotion
from imu_rom.motion.heading import RelativeHeading
from imu_rom.motion.leaning import Lean
from imu_rom.motion.rocking import axes_apart_rad

COUNT = 400
AXIS = np.array([0.6, 0.0, 0.8])


def scalar_first(attitude):
    return attitude.as_quat()[:, [3, 0, 1, 2]]


def sky(attitude):
    return attitude.inv().apply([0.0, 0.0, 1.0])


def two_sensors(rocking, heading_rad=0.0):
    """A hinge between two sensors that turn through the room, the distal one rocking (own axes) on its segment."""
    rng = np.random.default_rng(3)
    first = Rotation.random(COUNT, rng=rng)
    turned = first * Rotation.from_rotvec(np.outer(rng.uniform(-1.0, 1.0, COUNT), AXIS)) * rocking
    second = Rotation.from_euler("z", -heading_rad) * turned
    none = np.zeros((COUNT, 3))
    return CoarseMotion(
        rate_hz=25.0,
        block=1,
        proximal_rate=none,
        distal_rate=none,
        proximal_up=sky(first),
        distal_up=sky(second),
        proximal_quaternion=scalar_first(first),
        distal_quaternion=scalar_first(second),
        proximal_force_m_s2=none,
        distal_force_m_s2=none,
        shock_m_s2=np.zeros(COUNT),
        missing=np.zeros(COUNT, dtype=bool),
    )


def apart_rad(motion, heading_rad=0.0, lean=None, *, observed=True):
    heading = RelativeHeading(np.full(COUNT, heading_rad), np.zeros(COUNT), np.full(COUNT, observed))
    return axes_apart_rad(motion, (AXIS, AXIS), heading, lean, np.arange(COUNT))


def test_sensors_that_do_not_rock_see_one_axis_whatever_their_worlds_headings():
    motion = two_sensors(Rotation.identity(COUNT), heading_rad=2.0)
    assert np.max(apart_rad(motion, 2.0)) < 1e-12


def test_a_heading_that_nothing_shows_is_no_rocking():
    motion = two_sensors(Rotation.identity(COUNT), heading_rad=2.0)
    assert np.median(apart_rad(motion, 1.0)) > 0.1
    assert np.max(apart_rad(motion, 1.0, observed=False)) < 1e-7


@given(st.floats(-0.2, 0.2), st.floats(0.0, np.pi))
def test_rocking_is_seen_across_the_axis_and_never_about_it(turn_rad, about_rad):
    """A turn by e about a line at the angle b to the axis moves the axis by 2 sin(e / 2) sin(b)."""
    across = np.array([0.8, 0.0, -0.6])
    line = np.cos(about_rad) * AXIS + np.sin(about_rad) * across
    motion = two_sensors(Rotation.from_rotvec(np.tile(turn_rad * line, (COUNT, 1))))
    assert apart_rad(motion) == pytest.approx(2.0 * abs(np.sin(turn_rad / 2.0)) * np.sin(about_rad), abs=1e-9)


@given(st.integers(0, 10**6))
def test_a_layer_shows_at_least_as_much_as_it_puts_into_the_angle(seed):
    """Rocking as large about every line of a layer's surface, however the layer lies to the axis."""
    rng = np.random.default_rng(seed)
    normal = rng.normal(size=3)
    normal /= np.linalg.norm(normal)
    first = np.cross(normal, AXIS)
    first /= np.linalg.norm(first)
    around = np.linspace(0.0, 2.0 * np.pi, COUNT, endpoint=False)
    turns = 0.03 * (np.outer(np.cos(around), first) + np.outer(np.sin(around), np.cross(normal, first)))
    seen = apart_rad(two_sensors(Rotation.from_rotvec(turns)))
    assert np.sqrt(np.mean(seen**2)) > (1.0 - 1e-3) * np.sqrt(np.mean((turns @ AXIS) ** 2))


def test_a_lean_that_was_taken_out_is_no_rocking():
    """A sensor turned by l x u against the bone; what is left is of second order."""
    lean_rad = np.array([0.02, -0.03, 0.01])
    upright = two_sensors(Rotation.identity(COUNT))
    leans = np.cross(lean_rad, upright.distal_up)
    motion = two_sensors(Rotation.from_rotvec(leans))
    lean = Lean(AXIS, AXIS, np.zeros(3), lean_rad, np.eye(6), np.ones(3), np.zeros(3))
    assert np.max(apart_rad(motion, lean=lean)) < 0.003
    assert np.median(apart_rad(motion)) > 0.01
    still = replace(lean, distal_rad=np.zeros(3))
    assert apart_rad(motion, lean=still) == pytest.approx(apart_rad(motion))
