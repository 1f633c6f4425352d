"""A hinge thrown about by hand, from rigid-body kinematics, with exactly known angle, levers and faults."""

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.spatial.transform import Rotation

GRAVITY_M_S2 = 9.81


@dataclass(frozen=True)
class ThrownHinge:
    """What both sensors felt, (force, rate) each, and the truth."""

    sensors: tuple
    axes: tuple
    angle_rad: np.ndarray
    levers_m: tuple
    rate_hz: float


def smooth_noise(rng, count, sigma, size):
    """Return smooth random courses of the given standard deviation, shape (count, 3)."""
    course = gaussian_filter1d(rng.normal(size=(count, 3)), sigma, axis=0)
    return size * course / course.std(axis=0)


def throw(seed, *, seconds=60.0, rate_hz=50.0, upright=False, shake_m=0.05, tilt_rad=0.4, offset_m_s2=0.0, scale=0.0):
    """Throw a hinge about: the joint's centre shakes, the proximal segment tumbles, the joint swings by 100 degrees.

    ``offset_m_s2``: both accelerometers' offset; ``scale``: share by which the distal gyroscope reads too much.
    """
    rng = np.random.default_rng(seed)
    fine = 8
    count = round(seconds * rate_hz) * fine
    step_s = 1.0 / (rate_hz * fine)
    time_s = np.arange(count) * step_s
    axis = np.array([0.0, 0.0, 1.0]) if upright else np.array([1.0, 0.0, 0.0])
    tumble = smooth_noise(rng, count, 0.5 / step_s, tilt_rad)
    first = Rotation.from_rotvec(tumble) * Rotation.from_rotvec(np.outer(0.3 * np.sin(1.3 * time_s), [0.0, 0.0, 1.0]))
    angle = np.radians(50) * np.sin(2 * np.pi * time_s / 4.0) + np.radians(10) * np.sin(2 * np.pi * time_s / 1.7)
    second = first * Rotation.from_rotvec(angle[:, None] * axis)
    centre = smooth_noise(rng, count, 0.15 / step_s, shake_m)
    sensors, axes, levers = [], [], []
    for attitude, fault in ((first, 0.0), (second, scale)):
        lever = rng.normal(size=3)
        lever *= 0.12 / np.linalg.norm(lever)
        mounting = Rotation.random(rng=rng)
        place = centre + attitude.apply(lever)
        push = np.gradient(np.gradient(place, step_s, axis=0), step_s, axis=0)
        force = attitude.inv().apply(push + np.array([0.0, 0.0, GRAVITY_M_S2]))[::fine]
        # a mean over the step before each sample, as integrating sensors give it
        at = attitude[::fine]
        rate = np.vstack([np.zeros(3), (at[:-1].inv() * at[1:]).as_rotvec() * rate_hz])
        offset = rng.normal(size=3)
        force += offset_m_s2 * offset / np.linalg.norm(offset) + rng.normal(scale=0.02, size=force.shape)
        rate = rate * (1.0 + fault) + rng.normal(scale=0.002, size=rate.shape)
        sensors.append((mounting.inv().apply(force), mounting.inv().apply(rate)))
        axes.append(mounting.inv().apply(axis))
        levers.append(mounting.inv().apply(lever))
    return ThrownHinge(tuple(sensors), tuple(axes), angle[::fine], tuple(levers), rate_hz)
