"""The benchmark's rigs are true: their sensors feel what a rigid-body simulator says, and their references fit them."""

import sys
from pathlib import Path

import mujoco
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

sys.path.append(str(Path(__file__).parent))

import rigs
from rig_courses import wandering
from rig_sensing import fine_time_s, hinged
from rig_sensors import Body, Foam, Grade, fine_rate_hz, sampled

PERFECT = Grade(
    accelerometer_bias_m_s2=(0.0, 0.0),
    accelerometer_noise_m_s2_rthz=0.0,
    accelerometer_step_m_s2=1e-9,
    gyroscope_bias_deg_s=(0.0, 0.0),
    gyroscope_walk_deg_s_rtmin=0.0,
    gyroscope_noise_deg_s_rthz=0.0,
    gyroscope_step_deg_s=1e-9,
    scale_share=0.0,
    cross_axis_deg=0.0,
    low_pass_hz=(400.0, 400.0),
)
MODEL = """<mujoco><option gravity="0 0 -9.81"/><worldbody><body><freejoint/><geom size="0.1" mass="1"/>
<body pos="0.1 0.2 -0.1"><joint type="hinge" axis="0.6 0 0.8"/><geom size="0.1" mass="1"/>
<site name="worn" pos="0.05 -0.1 0.12"/></body></body></worldbody>
<sensor><accelerometer site="worn"/><gyro site="worn"/></sensor></mujoco>"""


@pytest.fixture(scope="module")
def carried():
    """A body that is carried and turned about, and the angle of a hinge on it."""
    rng, rate_hz = np.random.default_rng(3), 100.0
    time_s = fine_time_s(8.0, rate_hz)
    pace = np.ones(len(time_s))
    turns = np.stack([wandering(time_s, pace, rng, span=2.0) for _ in "xyz"], axis=1)
    place = np.stack([wandering(time_s, pace, rng, span=0.6) for _ in "xyz"], axis=1)
    return Body(Rotation.from_rotvec(turns), place, fine_rate_hz(rate_hz)), wandering(time_s, pace, rng, span=2.5)


def test_sensors_feel_what_inverse_dynamics_says(carried):
    body, angle = carried
    model = mujoco.MjModel.from_xml_string(MODEL)
    data = mujoco.MjData(model)
    step_s = 1.0 / body.fine_hz
    # the simulator wants world-frame velocity and body-frame rate; differentiated by NumPy, not by the rig
    matrix = body.attitude.as_matrix()
    turning = np.einsum("nji,njk->nik", matrix, np.gradient(matrix, step_s, axis=0))
    rate = np.stack([turning[:, 2, 1], turning[:, 0, 2], turning[:, 1, 0]], axis=1)
    speed = np.column_stack([np.gradient(body.position_m, step_s, axis=0), rate, np.gradient(angle, step_s)])
    pull = np.gradient(speed, step_s, axis=0)
    pose = np.column_stack([body.position_m, body.attitude.as_quat(scalar_first=True), angle])
    worn = hinged(body, [0.1, 0.2, -0.1], np.array([0.6, 0.0, 0.8]), angle).point([0.05, -0.1, 0.12])
    force, turned = worn.force_m_s2(), worn.rate_rad_s()
    for i in range(50, len(angle) - 50, 97):
        data.qpos[:], data.qvel[:], data.qacc[:] = pose[i], speed[i], pull[i]
        mujoco.mj_inverse(model, data)
        np.testing.assert_allclose(force[i], data.sensordata[:3], atol=2e-3)
        np.testing.assert_allclose(turned[i], data.sensordata[3:], atol=2e-4)


def test_means_before_the_stamp_add_up_to_the_turn(carried):
    body, _ = carried
    samples = sampled(body, 100.0, np.random.default_rng(1), grade=PERFECT, sampling="mean before")
    attitude = samples.attitude[1]
    for rate in samples.gyroscope_rad_s[2:-2]:
        attitude *= Rotation.from_rotvec(rate / 100.0)
    assert np.degrees((samples.attitude[-3].inv() * attitude).magnitude()) < 0.1
    points = sampled(body, 100.0, np.random.default_rng(1), grade=PERFECT).gyroscope_rad_s
    late = np.interp(np.arange(len(points)) - 0.5, np.arange(len(points)), points[:, 0])
    assert np.std(samples.gyroscope_rad_s[5:-5, 0] - late[5:-5]) < 0.1 * np.std(
        samples.gyroscope_rad_s[5:-5, 0] - points[5:-5, 0]
    )


def test_foam_leans_with_gravity_and_rings_at_its_resonance():
    foam = Foam(np.array([1.0, 0.0, 0.0]), (5.0, 5.0), (0.1, 0.1), lean_deg_per_g=(4.0, 4.0))
    time_s = fine_time_s(30.0, 100.0)
    # its surface upright: gravity pulls along it
    still = Body(Rotation.identity(len(time_s)), np.zeros((len(time_s), 3)), 1000.0)
    assert np.degrees(foam.rocked(still).attitude.magnitude()) == pytest.approx(4.0, abs=1e-6)
    pushed = Body(still.attitude, np.outer(np.where(time_s > 10.0, 0.001, 0.0), [0.0, 1.0, 0.0]), 1000.0)
    rocking = np.degrees((foam.rocked(still).attitude.inv() * foam.rocked(pushed).attitude).as_rotvec()[10010:11010, 2])
    spectrum = np.abs(np.fft.rfft(rocking - rocking.mean(), 8192))
    assert np.fft.rfftfreq(8192, 0.001)[np.argmax(spectrum)] == pytest.approx(5.0, abs=0.4)


@pytest.mark.parametrize(
    "make",
    [
        lambda seed: rigs.chain(seed, seconds=20.0),
        lambda seed: rigs.arm(seed, seconds=20.0),
        lambda seed: rigs.motor(seed, seconds=20.0, upright=True),
        lambda seed: rigs.double_pendulum(seed, seconds=20.0),
    ],
    ids=["chain", "arm", "motor", "double pendulum"],
)
def test_references_are_the_turn_between_the_sensors_about_the_axes(make):
    for seed in (1, 2):
        rig = make(seed)
        for joint in rig.joints:
            first, second = (rig.sensors[each].attitude for each in (joint.proximal, joint.distal))
            lines = [each.apply(axis) for each, axis in zip((first, second), joint.axes, strict=True)]
            np.testing.assert_allclose(lines[0], lines[1], atol=1e-6)
            relative = first.inv() * second
            turned = (relative * relative[0].inv()).as_quat()
            angle_deg = np.degrees(np.unwrap(2.0 * np.arctan2(turned[:, :3] @ joint.axes[0], turned[:, 3])))
            off_deg = angle_deg - joint.angle_deg
            assert np.abs(off_deg - np.median(off_deg)).max() < 1.2
            assert np.std(off_deg) < 0.25


def test_a_rig_is_its_seed():
    first, again, other = (rigs.chain(seed, seconds=20.0).sensors["segment2"].gyroscope_rad_s for seed in (1, 1, 2))
    np.testing.assert_array_equal(first, again)
    assert not np.allclose(first, other)
