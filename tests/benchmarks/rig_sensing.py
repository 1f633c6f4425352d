"""What a rig is: sensors put on moving bodies, and the joints between them to judge."""

from dataclasses import dataclass, field

import numpy as np
from rig_sensors import Body, fine_rate_hz, product, sampled, worn_on
from scipy.spatial.transform import Rotation

__all__ = ["Joint", "Rig", "Sensing", "direction", "fine_time_s", "hinged", "still_body"]


@dataclass(frozen=True)
class Joint:
    """A joint to judge: its two sensors, and its reference angles in degrees as they were measured.

    Parameters
    ----------
    name, proximal, distal : str
        Joint and its two sensors.
    angle_deg : ndarray of shape (n,) or (n, k)
        One angle for a hinge; for a joint with k degrees of freedom the turns about its axes one after the other.
    axes : tuple of two ndarrays of shape (3,) or (k, 3)
        True axes in the proximal and in the distal sensor (on foam: while it does not rock), for k degrees of freedom
        each in the pose where all angles are zero.
    parts_s : tuple of tuple of float
        Stretches to judge one by one, each with its own offset; empty: the whole recording at once.
    """

    name: str
    proximal: str
    distal: str
    angle_deg: np.ndarray
    axes: tuple
    parts_s: tuple = ()


@dataclass(frozen=True)
class Rig:
    """What a rig's sensors delivered, and its joints."""

    name: str
    seed: int
    rate_hz: float
    sensors: dict
    joints: list = field(default_factory=list)

    def recording(self):
        """Return the sensors as the package's `Recording`."""
        from imu_rom.recording.model import Recording, Sensor

        return Recording(
            rate_hz=self.rate_hz,
            sensors={
                name: Sensor(
                    name, each.accelerometer_m_s2, each.gyroscope_rad_s, None, np.zeros(len(each.gyroscope_rad_s), bool)
                )
                for name, each in self.sensors.items()
            },
            label=f"{self.name}, seed {self.seed}",
        )

    def pair(self, joint):
        """Return accelerometer and gyroscope of the joint's two sensors."""
        return [
            (self.sensors[each].accelerometer_m_s2, self.sensors[each].gyroscope_rad_s)
            for each in (joint.proximal, joint.distal)
        ]


def direction(rng):
    """Draw a unit vector."""
    vector = rng.normal(size=3)
    return vector / np.linalg.norm(vector)


def fine_time_s(seconds, rate_hz):
    """Return the fine time base."""
    fine_hz = fine_rate_hz(rate_hz)
    return np.arange(round(seconds * fine_hz)) / fine_hz


def still_body(time_s, fine_hz):
    """Return a body that stays at the origin."""
    return Body(Rotation.identity(len(time_s)), np.zeros((len(time_s), 3)), fine_hz)


def hinged(parent, place_m, axis, angle_rad, home=None):
    """Return the body that turns about an axis of its parent through a point of it; its origin is that point."""
    turn = Rotation.from_rotvec(np.outer(angle_rad, axis))
    home = home or Rotation.identity()
    attitude = product(parent.attitude, turn, home)
    return Body(attitude, parent.position_m + parent.attitude.apply(place_m), parent.fine_hz)


class Sensing:
    """Sensors put on bodies: their samples, and how each lies on its body."""

    def __init__(self, name, seed, rate_hz, rng, **how):
        self.name, self.seed, self.rate_hz, self.rng, self.how = name, seed, rate_hz, rng, how
        self.samples, self.turned, self.joints = {}, {}, []

    def put(self, point, body, offset_m, *, soft=None, delay_s=0.0):
        """Put a sensor on a body in any direction; ``soft`` is a foam whose normal is in sensor axes."""
        place = worn_on(body, self.rng, offset_m)
        # body axes as seen from the sensor at rest
        self.turned[point] = place.attitude[0].inv() * body.attitude[0]
        course = place if soft is None else soft.rocked(place)
        self.samples[point] = sampled(course, self.rate_hz, self.rng, delay_s=delay_s, **self.how)

    def joint(self, name, proximal, distal, angle_rad, axis, home=None, *, noise_deg=0.0, step_deg=0.0, parts_s=()):
        """Judge a joint whose axes are given in its proximal body, measured with noise or in steps."""
        ratio = round(fine_rate_hz(self.rate_hz) / self.rate_hz)
        angle_deg = np.degrees(angle_rad[::ratio])
        if noise_deg:
            angle_deg += self.rng.normal(scale=noise_deg, size=angle_deg.shape)
        if step_deg:
            angle_deg = np.round(angle_deg / step_deg) * step_deg
        distal_axis = axis if home is None else home.inv().apply(axis)
        axes = self.turned[proximal].apply(axis), self.turned[distal].apply(distal_axis)
        self.joints.append(Joint(name, proximal, distal, angle_deg, axes, tuple(parts_s)))

    def rig(self):
        """Return what came of it."""
        return Rig(self.name, self.seed, self.rate_hz, self.samples, self.joints)
