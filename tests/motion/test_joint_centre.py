"""The joint's centre: what rotation adds at a lever, and levers and offsets found in what both sensors felt."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from imu_rom.motion.hinge_fusion import along_axis
from imu_rom.motion.joint_centre import AngleFaults, Segment, fit_joint_centre

NO_FAULT = AngleFaults(np.zeros((10_000, 0)), np.zeros(0), np.zeros(0))


@given(st.integers(0, 1000))
@settings(max_examples=15, deadline=None)
def test_a_lever_feels_the_second_derivative_of_its_end(seed):
    rng = np.random.default_rng(seed)
    time_s = np.arange(0, 2, 0.001)
    turn = Rotation.from_rotvec(np.outer(np.sin(3 * time_s), rng.normal(size=3)) + np.outer(time_s, rng.normal(size=3)))
    lever = rng.normal(size=3)
    place = turn.apply(lever)
    push = turn.inv().apply(np.gradient(np.gradient(place, time_s, axis=0), time_s, axis=0))
    rate = np.gradient(np.zeros((len(time_s), 3)), axis=0)
    between = (turn[:-1].inv() * turn[1:]).as_rotvec() / 0.001
    rate[1:-1] = (between[1:] + between[:-1]) / 2
    inside = slice(10, -10)
    segment = Segment.of(push, rate, 1000.0)
    assert segment.added_m_s2(lever)[inside] == pytest.approx(push[inside], abs=0.02)
    added = np.tensordot(lever, segment.lever_rows(np.arange(len(time_s))), 1).T
    assert added == pytest.approx(segment.added_m_s2(lever), rel=1e-9, abs=1e-9)


def segments(made):
    return [
        Segment.of(along_axis(force, axis), along_axis(rate, axis), made.rate_hz)
        for (force, rate), axis in zip(made.sensors, made.axes, strict=True)
    ]


def angle_between(made):
    """Return the rotation about z that takes distal to proximal axes, whose zero depends on both mountings."""
    first, second = (each.force_m_s2 for each in segments(made))
    apart = np.arctan2(first[:, 1], first[:, 0]) - np.arctan2(second[:, 1], second[:, 0]) - made.angle_rad
    return made.angle_rad + np.angle(np.mean(np.exp(1j * apart)))


@pytest.mark.parametrize("seed", range(5))
def test_levers_and_offsets_are_found_across_the_axis(throw, seed):
    made = throw(seed, shake_m=0.1)
    count = len(made.angle_rad)
    # the mean over the step before a sample lies half a sample early
    faults = AngleFaults(np.gradient(made.angle_rad)[:, None] * made.rate_hz, np.zeros(1), np.array([0.02]))
    found = fit_joint_centre(*segments(made), angle_between(made), faults, np.ones(count, dtype=bool))
    for which, (lever, axis) in enumerate(zip(made.levers_m, made.axes, strict=True)):
        true_m = along_axis(lever[None], axis)[0]
        assert found.levers_m[which][:2] == pytest.approx(true_m[:2], abs=0.02)
    assert found.spread_m_s2 < 0.25


def test_a_wrong_angle_agrees_worse(throw):
    made = throw(1)
    usable = np.ones(len(made.angle_rad), dtype=bool)
    faults = AngleFaults(np.zeros((len(usable), 0)), np.zeros(0), np.zeros(0))
    right = fit_joint_centre(*segments(made), angle_between(made), faults, usable)
    wrong = fit_joint_centre(*segments(made), angle_between(made) * 0.8 + 0.3, faults, usable)
    assert right.cost < wrong.cost - 1.0


def test_nothing_to_use_is_refused(throw):
    made = throw(1, seconds=12.0)
    with pytest.raises(ValueError, match="got none"):
        fit_joint_centre(*segments(made), made.angle_rad, NO_FAULT, np.zeros(len(made.angle_rad), dtype=bool))
