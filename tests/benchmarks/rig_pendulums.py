"""Pendulums that swing freely from a stand that hardly moves, let go by hand a few times; optical reference."""

import mujoco
import numpy as np
from rig_courses import minimum_jerk
from rig_sensing import Sensing, fine_time_s, hinged
from rig_sensors import GRAVITY_M_S2, Body, fine_rate_hz
from scipy.integrate import solve_ivp
from scipy.spatial.transform import Rotation

__all__ = ["double_pendulum", "pendulum"]

LIFTED_S = 2.5
OPTICAL_DEG = 0.2


def _swing(time_s, start_rad, rng):
    """Return a physical pendulum's angle from rest, with friction in the bearing and in the air."""
    pull = GRAVITY_M_S2 / rng.uniform(0.25, 0.5)
    rubs, drags = rng.uniform(0.01, 0.04, size=2)

    def falls(_, state):
        return [state[1], -pull * np.sin(state[0]) - rubs * state[1] - drags * state[1] * abs(state[1])]

    span_s = 0.0, time_s[-1]
    return solve_ivp(falls, span_s, [start_rad, 0.0], t_eval=time_s, rtol=1e-8, atol=1e-9, max_step=0.05).y[0]


def _lifts_s(seconds, rng):
    """Times at which a hand takes the pendulum."""
    return np.linspace(6.0, seconds, rng.integers(4, 6), endpoint=False)


def _stand(time_s, fine_hz, axis, swings):
    """Return a stand that gives a little with the swinging, and trembles."""
    gives = swings + np.radians(0.02) * np.sin(2.0 * np.pi * 6.0 * time_s)
    return Body(Rotation.from_rotvec(np.outer(gives, axis)), np.zeros((len(time_s), 3)), fine_hz)


def pendulum(seed, *, rate_hz=91.0, seconds=None, sampling="mean before"):
    """One rod, let go at some 60 degrees to either side."""
    rng = np.random.default_rng([seed, 3])
    seconds = seconds or rng.uniform(180.0, 240.0)
    time_s, fine_hz = fine_time_s(seconds, rate_hz), fine_rate_hz(rate_hz)
    angle = np.zeros(len(time_s))
    starts_s = _lifts_s(seconds, rng)
    for begin_s, stop_s in zip(starts_s, [*starts_s[1:], seconds], strict=True):
        lifted_rad = np.radians(rng.choice([-1.0, 1.0]) * rng.uniform(50.0, 65.0))
        first, released = round(begin_s * fine_hz), round((begin_s + LIFTED_S) * fine_hz)
        last = min(round(stop_s * fine_hz), len(angle))
        angle[first:released] = lifted_rad * minimum_jerk((time_s[first:released] - begin_s) / 1.8)
        angle[released:last] = _swing(time_s[: last - released], lifted_rad, rng)
        # a hand catches it: the rest of the swing is gone within a second and a half
        caught = slice(last - round(1.5 * fine_hz), last)
        angle[caught] *= 1.0 - minimum_jerk((time_s[caught] - time_s[caught.start]) / 1.4)
    axis = Rotation.from_rotvec([0.0, rng.normal(scale=0.05), rng.uniform(0.0, 6.0)]).apply([1.0, 0.0, 0.0])
    stand = _stand(time_s, fine_hz, axis, rng.uniform(0.001, 0.005) * angle)
    sensing = Sensing("pendulum", seed, rate_hz, rng, sampling=sampling)
    sensing.put("stand", stand, [0.05, 0.02, 0.05])
    home = Rotation.random(rng=rng)
    rod = hinged(stand, [0.0, 0.0, 0.0], axis, angle, home)
    sensing.put("rod", rod, home.inv().apply([0.0, 0.02, -rng.uniform(0.15, 0.4)]))
    sensing.joint("pivot", "stand", "rod", angle, axis, home, noise_deg=OPTICAL_DEG)
    return sensing.rig()


DOUBLE = """<mujoco><option timestep="{step_s}" integrator="RK4" gravity="0 0 -9.81"/><worldbody>
<body><joint name="upper" type="hinge" axis="{first}" damping="{rubs}"/><geom type="capsule" fromto="0 0 0 0 0 -0.3"
 size="0.015" mass="0.5"/><body pos="0 0 -0.3"><joint name="lower" type="hinge" axis="{second}" damping="{rubs}"/>
<geom type="capsule" fromto="0 0 0 0 0 -0.25" size="0.012" mass="0.3"/></body></body></worldbody></mujoco>"""


def _words(numbers):
    return " ".join(f"{each:.6f}" for each in numbers)


def double_pendulum(seed, *, rate_hz=91.0, seconds=None, sampling="mean before"):
    """Two rods, their axes some degrees out of parallel; MuJoCo lets them swing, and a hand is a soft spring.

    MuJoCo: Todorov, Erez, Tassa 2012, doi:10.1109/IROS.2012.6386109.
    """
    rng = np.random.default_rng([seed, 7])
    seconds = seconds or rng.uniform(180.0, 240.0)
    time_s, fine_hz = fine_time_s(seconds, rate_hz), fine_rate_hz(rate_hz)
    first = Rotation.from_rotvec([0.0, 0.0, rng.uniform(0.0, 6.0)]).apply([1.0, 0.0, 0.0])
    second = Rotation.from_rotvec([0.0, 0.0, np.radians(rng.normal(scale=6.0))]).apply(first)
    rubs = rng.uniform(0.001, 0.004)
    text = DOUBLE.format(step_s=1.0 / fine_hz, first=_words(first), second=_words(second), rubs=rubs)
    model = mujoco.MjModel.from_xml_string(text)
    data = mujoco.MjData(model)
    held = np.zeros(len(time_s), dtype=bool)
    goal = np.zeros((len(time_s), 2))
    for begin_s in _lifts_s(seconds, rng):
        inside = (time_s >= begin_s) & (time_s < begin_s + LIFTED_S)
        held |= inside
        lifted_rad = np.radians(rng.choice([-1.0, 1.0]) * rng.uniform([45.0, -30.0], [60.0, 30.0]))
        goal[inside] = minimum_jerk((time_s[inside] - begin_s) / 1.8)[:, None] * lifted_rad
    angles = np.empty((len(time_s), 2))
    axes = model.jnt_axis.copy()
    for i in range(len(time_s)):
        angles[i] = data.qpos
        data.qfrc_applied[:] = 3.0 * (goal[i] - data.qpos) - 0.4 * data.qvel if held[i] else 0.0
        mujoco.mj_step(model, data)
    stand = _stand(time_s, fine_hz, first, rng.uniform(0.001, 0.005) * angles[:, 0])
    sensing = Sensing("double pendulum", seed, rate_hz, rng, sampling=sampling)
    sensing.put("stand", stand, [0.05, 0.02, 0.05])
    upper = hinged(stand, [0.0, 0.0, 0.0], axes[0], angles[:, 0])
    sensing.put("upper", upper, [0.0, 0.02, -rng.uniform(0.1, 0.25)])
    lower = hinged(upper, [0.0, 0.0, -0.3], axes[1], angles[:, 1])
    sensing.put("lower", lower, [0.0, 0.02, -rng.uniform(0.05, 0.2)])
    sensing.joint("upper", "stand", "upper", angles[:, 0], axes[0], noise_deg=OPTICAL_DEG)
    sensing.joint("lower", "upper", "lower", angles[:, 1], axes[1], noise_deg=OPTICAL_DEG)
    return sensing.rig()
