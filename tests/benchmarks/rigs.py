"""Rigs with exactly known joint angles: a hand-moved chain, a robot arm, pendulums, a motor with an encoder.

Each rig is a function of a seed that returns a `Rig`: what its sensors delivered, and the joints to judge. They are
written from rigid-body kinematics (``rig_sensors.py``) and share nothing with the package's simulator.
"""

from dataclasses import dataclass, field

import numpy as np
from rig_courses import activity, minimum_jerk, smooth_triangle, wandering, waypoints
from rig_sensors import GRAVITY_M_S2, Body, Foam, fine_rate_hz, sampled, worn_on
from scipy.integrate import solve_ivp
from scipy.spatial.transform import Rotation

__all__ = ["Joint", "Rig", "arm", "chain", "motor", "pendulum"]


@dataclass(frozen=True)
class Joint:
    """A joint to judge: its two sensors, and the reference angle in degrees, as measured, shape (n,).

    ``axes`` holds the true axis in both sensors' axes (on foam: while it does not rock).
    """

    name: str
    proximal: str
    distal: str
    angle_deg: np.ndarray
    axes: tuple


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


def _direction(rng):
    vector = rng.normal(size=3)
    return vector / np.linalg.norm(vector)


def _fine_time_s(seconds, rate_hz):
    fine_hz = fine_rate_hz(rate_hz)
    return np.arange(round(seconds * fine_hz)) / fine_hz


def _hinged(parent, place_m, axis, angle_rad, home=None):
    """Return the body that turns about an axis of its parent through a point of it; its origin is that point."""
    turn = Rotation.from_rotvec(np.outer(angle_rad, axis))
    home = home or Rotation.identity()
    return Body(parent.attitude * turn * home, parent.position_m + parent.attitude.apply(place_m), parent.fine_hz)


class _Sensing:
    """Sensors put on bodies: courses, samples and the axes of joints in them."""

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

    def joint(self, name, proximal, distal, angle_rad, axis, home=None, *, noise_deg=0.0, step_deg=0.0):
        """Judge a joint whose axis is given in its proximal body."""
        ratio = round(fine_rate_hz(self.rate_hz) / self.rate_hz)
        angle_deg = np.degrees(angle_rad[::ratio])
        angle_deg = angle_deg + self.rng.normal(scale=noise_deg, size=len(angle_deg)) if noise_deg else angle_deg
        angle_deg = np.round(angle_deg / step_deg) * step_deg if step_deg else angle_deg
        distal_axis = axis if home is None else home.inv().apply(axis)
        axes = self.turned[proximal].apply(axis), self.turned[distal].apply(distal_axis)
        self.joints.append(Joint(name, proximal, distal, angle_deg, axes))

    def rig(self):
        return Rig(self.name, self.seed, self.rate_hz, self.samples, self.joints)


def chain(seed, *, rate_hz=40.0, seconds=67.0, soft=False, sampling="point", pace=1.0):
    """Four segments and three hinges, moved by hand through the room; optical reference (0.2 deg).

    Lies on a table at both ends, is lifted, turned and shifted in any way between, while the hinges swing over 130 to
    160 degrees at mixed speeds with pauses.
    """
    rng = np.random.default_rng([seed, 1])
    time_s = _fine_time_s(seconds, rate_hz)
    fine_hz = fine_rate_hz(rate_hz)
    still_s = rng.uniform(3.0, 5.0, size=2)

    def at_a_pace():
        return pace * activity(time_s, rng, still_s=still_s)

    carried = at_a_pace()
    turned = np.stack(
        [wandering(time_s, carried, rng, span=rng.uniform(1.5, 3.5), hertz=(0.06, 0.4)) for _ in "xyz"], 1
    )
    place = np.stack([wandering(time_s, carried, rng, span=rng.uniform(0.3, 0.8), hertz=(0.1, 0.6)) for _ in "xyz"], 1)
    body = Body(Rotation.random(rng=rng) * Rotation.from_rotvec(turned), place, fine_hz)
    sensing = _Sensing("chain on foam" if soft else "chain", seed, rate_hz, rng, sampling=sampling)

    def put(number, body):
        along = _direction(rng) * rng.uniform(0.05, 0.2)
        sensing.put(f"segment{number}", body, along, soft=Foam.drawn(rng) if soft else None)

    put(1, body)
    for number in range(1, 4):
        axis, home = _direction(rng), Rotation.random(rng=rng)
        angle = wandering(time_s, at_a_pace(), rng, span=np.radians(rng.uniform(130.0, 160.0)))
        body = _hinged(body, _direction(rng) * rng.uniform(0.1, 0.25), axis, angle, home)
        put(number + 1, body)
        sensing.joint(f"hinge{number}", f"segment{number}", f"segment{number + 1}", angle, axis, home, noise_deg=0.2)
    return sensing.rig()


ARM_AXES = np.array([[0, 0, 1], [0, 1, 0], [0, 1, 0], [1, 0, 0], [0, 1, 0], [1, 0, 0]], dtype=float)
ARM_LINKS_M = np.array([[0, 0, 0.3], [0, 0.05, 0.1], [0, 0, 0.4], [0.15, 0, 0.05], [0.25, 0, 0], [0.1, 0, 0]])


def arm(seed, *, rate_hz=100.0, seconds=None, circling=False, sampling="point"):
    """Six rotary joints in a row that move together; encoders.

    From point to point, at rest at each; ``circling``: the tool goes round in a circle, so that all joints swing by a
    few degrees slowly, in one rhythm.
    """
    rng = np.random.default_rng([seed, 2])
    seconds = seconds or rng.uniform(30.0, 47.0)
    time_s = _fine_time_s(seconds, rate_hz)
    first = np.radians([0.0, 20.0, 60.0, 0.0, 40.0, 0.0]) + rng.uniform(-0.2, 0.2, size=6)
    if circling:
        begins = minimum_jerk((time_s - 3.0) / 3.0) * minimum_jerk((time_s[-1] - 3.0 - time_s) / 3.0)
        phase = 2.0 * np.pi / rng.uniform(4.0, 7.0) * (time_s - 3.0)
        swings = np.radians(rng.uniform([6, 6, 8, 4, 6, 4], [15, 12, 15, 12, 14, 12]))
        lags = rng.uniform(0.0, 2.0 * np.pi, size=6)
        joints = first + begins[:, None] * swings * np.sin(phase[:, None] + lags)
    else:
        most = np.radians([90.0, 35.0, 45.0, 70.0, 60.0, 90.0])
        joints = waypoints(time_s, rng, draw=lambda: first + rng.uniform(-1.0, 1.0, size=6) * most, first=first)
    sensing = _Sensing("arm circling" if circling else "arm", seed, rate_hz, rng, sampling=sampling)
    n = len(time_s)
    body = Body(Rotation.identity(n), np.zeros((n, 3)), fine_rate_hz(rate_hz))
    sensing.put("link0", body, [0.1, 0.1, 0.1])
    for number, (axis, link) in enumerate(zip(ARM_AXES, ARM_LINKS_M, strict=True), start=1):
        body = _hinged(body, link, axis, joints[:, number - 1])
        sensing.put(f"link{number}", body, rng.normal([0.0, 0.0, 0.08], 0.05))
        if number > 1:  # the first one's axis is upright
            sensing.joint(
                f"joint{number}", f"link{number - 1}", f"link{number}", joints[:, number - 1], axis, step_deg=0.01
            )
    return sensing.rig()


def _swing(time_s, start_deg, rng):
    """Return a physical pendulum's angle, let go at rest."""
    omega2 = GRAVITY_M_S2 / rng.uniform(0.25, 0.5)
    rubs, drags = rng.uniform(0.01, 0.04), rng.uniform(0.01, 0.04)

    def falls(_, state):
        return [state[1], -omega2 * np.sin(state[0]) - rubs * state[1] - drags * state[1] * abs(state[1])]

    found = solve_ivp(
        falls, (0.0, time_s[-1]), [np.radians(start_deg), 0.0], t_eval=time_s, rtol=1e-8, atol=1e-9, max_step=0.05
    )
    return found.y[0]


def pendulum(seed, *, rate_hz=91.0, seconds=None, sampling="point"):
    """A rod that swings freely from a stand that hardly moves, let go by hand a few times; optical reference."""
    rng = np.random.default_rng([seed, 3])
    seconds = seconds or rng.uniform(180.0, 240.0)
    time_s = _fine_time_s(seconds, rate_hz)
    fine_hz = fine_rate_hz(rate_hz)
    angle = np.zeros(len(time_s))
    starts_s = np.linspace(6.0, seconds, rng.integers(4, 6), endpoint=False)
    for begin_s, stop_s in zip(starts_s, [*starts_s[1:], seconds + 1.0], strict=True):
        lifted_deg = rng.choice([-1.0, 1.0]) * rng.uniform(50.0, 65.0)
        first, released = round(begin_s * fine_hz), round((begin_s + 2.5) * fine_hz)
        last = min(round(stop_s * fine_hz), len(angle))
        if released >= last:
            break
        lift = minimum_jerk((time_s[first:released] - begin_s) / 1.8)
        angle[first:released] = angle[first] + lift * (np.radians(lifted_deg) - angle[first])
        angle[released:last] = _swing(time_s[: last - released], lifted_deg, rng)
        if last < len(angle):
            # a hand catches it: the rest of the swing is damped within a second
            caught = slice(last - round(1.5 * fine_hz), last)
            angle[caught] *= 1.0 - minimum_jerk((time_s[caught] - time_s[caught.start]) / 1.4)
    axis = Rotation.from_rotvec([0.0, rng.normal(scale=0.05), rng.uniform(0.0, 6.0)]).apply([1.0, 0.0, 0.0])
    gives = np.radians(rng.uniform(0.05, 0.3)) * angle + np.radians(0.02) * np.sin(2.0 * np.pi * 6.0 * time_s)
    stand = Body(Rotation.from_rotvec(np.outer(gives, axis)), np.zeros((len(time_s), 3)), fine_hz)
    sensing = _Sensing("pendulum", seed, rate_hz, rng, sampling=sampling)
    sensing.put("stand", stand, [0.05, 0.02, 0.05])
    home = Rotation.random(rng=rng)
    rod = _hinged(stand, [0.0, 0.0, 0.0], axis, angle, home)
    sensing.put("rod", rod, home.inv().apply([0.0, 0.02, -rng.uniform(0.15, 0.4)]))
    sensing.joint("pivot", "stand", "rod", angle, axis, home, noise_deg=0.2)
    return sensing.rig()


MOTOR_PERIODS_S = {"slow": 30.0, "medium": 8.0, "fast": 2.0}


def motor(seed, *, speed="medium", upright=False, rate_hz=100.0, seconds=1500.0, sampling="point"):
    """A motor turns one sensor to and fro by 180 degrees beside another on its stand; encoder.

    ``speed``: slow (12 deg/s), medium (45 to 70 deg/s), fast (up to 300 deg/s); ``upright``: the axis is vertical.
    """
    rng = np.random.default_rng([seed, 4])
    time_s = _fine_time_s(seconds, rate_hz)
    fine_hz = fine_rate_hz(rate_hz)
    period_s = MOTOR_PERIODS_S[speed] * rng.uniform(0.9, 1.1)
    turning_s = np.maximum(time_s - 3.0, 0.0)
    if rng.random() < 0.5:
        angle = np.pi * smooth_triangle(turning_s, period_s, 0.04 * period_s)
    else:
        angle = np.pi / 2 * (1.0 - np.cos(2.0 * np.pi / period_s * turning_s))
    tilt = rng.normal(scale=np.radians(0.7), size=2)
    axis = (
        Rotation.from_rotvec([*tilt, 0.0]).apply([0.0, 0.0, 1.0])
        if upright
        else Rotation.from_rotvec([tilt[0], 0.0, rng.uniform(0.0, 6.0)]).apply([0.0, 1.0, 0.0])
    )
    stand = Body(Rotation.identity(len(time_s)), np.zeros((len(time_s), 3)), fine_hz)
    sensing = _Sensing(
        f"motor {speed}{', upright' if upright else ''}", seed, rate_hz, rng, sampling=sampling, vibration_m_s2=0.3
    )
    sensing.put("stand", stand, [0.05, 0.0, 0.02])
    home = Rotation.random(rng=rng)
    sensing.put(
        "shaft",
        _hinged(stand, [0.0, 0.0, 0.0], axis, angle, home),
        home.inv().apply([0.08, 0.02, 0.0]),
        delay_s=rng.uniform(0.0, 0.003),
    )
    sensing.joint("shaft", "stand", "shaft", angle, axis, home, step_deg=0.1)
    return sensing.rig()
