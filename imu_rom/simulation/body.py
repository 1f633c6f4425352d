"""Body and sensors: from the channels of a course to segment attitudes, sensor motion and what sensors measure.

Frames: world z up; a segment's x forward, y left, z up when the person stands upright facing along x. The two segments
are joined by an exact hinge: distal attitude = proximal attitude * exp(axis * angle), with one axis fixed in both.
Ankle dorsiflexion turns the foot about -y, knee flexion turns the shank about +y, tilted by the person's obliquity.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation, RotationSpline

from imu_rom.motion.joints import joint_motion
from imu_rom.motion.mounting import mounting_rotation
from imu_rom.simulation.jolts import add_taps, hold_together
from imu_rom.simulation.noise import band_noise
from imu_rom.simulation.performer import Course, minimum_jerk
from imu_rom.simulation.person import Person, SensorErrors
from imu_rom.simulation.routine import SIMULATED_MOTIONS, Routine
from imu_rom.simulation.turning import product, turning_vectors, yaw_pitch_roll

__all__ = ["Body", "Motion", "joint_angle", "measured", "move_body", "random_body", "with_errors"]

Floats = NDArray[np.float64]
GRAVITY_M_S2 = 9.81

# columns of the mounting's body frame (X forward, Y up, Z right) in segment axes
_FROM_FORWARD_UP_RIGHT = np.array([[1, 0, 0], [0, 0, -1], [0, 1, 0]])

# metres from the base point (ball of the foot; ankle for the knee) in distal axes, and from the joint in proximal axes
_LEVERS = {
    "ankle": {"distal sensor": (-0.17, 0.0, 0.05), "joint": (-0.13, 0.0, 0.08), "proximal sensor": (0.02, 0.03, 0.22)},
    "knee": {"distal sensor": (0.02, 0.03, 0.25), "joint": (0.0, 0.0, 0.41), "proximal sensor": (0.06, 0.0, 0.2)},
}


@dataclass(frozen=True)
class Body:
    """One person's body with two sensors on it, as drawn by chance.

    Parameters
    ----------
    joint, side : str
        Of the routine.
    axis : ndarray of shape (3,)
        Hinge axis of the positive motion, unit vector in segment axes (both segments).
    mountings : mapping of str to Rotation
        ``proximal`` and ``distal``: sensor axes -> segment axes.
    locked : mapping of str to float
        Share of the angle by which the skin turns each sensor back.
    """

    joint: str
    side: str
    axis: Floats
    mountings: Mapping[str, Rotation]
    locked: Mapping[str, float]


@dataclass(frozen=True)
class Motion:
    """What body and sensors did on the fine time base, free of sensor errors.

    Parameters
    ----------
    rate_hz : float
        Rate of the fine time base.
    angle_deg : ndarray of shape (n,)
        True joint angle.
    segments : mapping of str to Rotation
        ``proximal`` and ``distal`` segment attitude, segment -> world.
    sensors : mapping of str to Rotation
        Sensor attitude, sensor -> world, with soft tissue, taping and table.
    specific_forces_m_s2 : mapping of str to ndarray of shape (n, 3)
        In world axes.
    """

    rate_hz: float
    angle_deg: Floats
    segments: Mapping[str, Rotation]
    sensors: Mapping[str, Rotation]
    specific_forces_m_s2: Mapping[str, Floats]


def random_body(person: Person, routine: Routine, rng: np.random.Generator) -> Body:
    """Draw hinge axis, mountings and soft tissue.

    Parameters
    ----------
    person : Person
        Ranges.
    routine : Routine
        Joint, side and declared mounting.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    Body
        The body.
    """
    frontal, horizontal = rng.uniform(-1, 1, 2) * (person.axis_frontal_deg, person.axis_horizontal_deg)
    axis = Rotation.from_euler("XZ", [frontal, horizontal], degrees=True).apply(
        _FROM_FORWARD_UP_RIGHT @ joint_motion(routine.joint, SIMULATED_MOTIONS[routine.joint]).axis(routine.side)
    )
    mountings = dict(zip(("proximal", "distal"), Rotation.random(2, random_state=rng), strict=True))
    askew = Rotation.from_rotvec(np.deg2rad(person.mounting_error_deg) * rng.standard_normal((2, 3)))
    for which, words, error in zip(mountings, (routine.proximal_mounting, routine.distal_mounting), askew, strict=True):
        if words is not None:
            declared = _FROM_FORWARD_UP_RIGHT @ mounting_rotation(words, routine.side)
            mountings[which] = Rotation.from_matrix(declared) * error
    share, split = rng.uniform(*person.locked_share), rng.uniform(0.3, 0.7)
    return Body(
        routine.joint, routine.side, axis, mountings, {"proximal": share * split, "distal": share * (1 - split)}
    )


def _smooth(values: Floats, sigma: float) -> Floats:
    from scipy.ndimage import gaussian_filter1d  # noqa: PLC0415 - only simulations need it

    smoothed: Floats = gaussian_filter1d(values, sigma, mode="nearest")
    return smoothed


def _wobble_size(course: Course, at_rest: float) -> Floats:
    """Share of the wobble at each instant: 1 in the sets, with the movement elsewhere."""
    rate = course.rate_hz
    moving = [np.abs(np.gradient(course.channels[name])) for name in ("angle", "pitch", "roll", "yaw")]
    speed = np.sum(moving, axis=0) * rate
    size = np.clip(_smooth(speed, 0.3 * rate) / 15, at_rest, 1)
    for number in {mark[0] for mark in course.marks}:
        within = [mark for mark in course.marks if mark[0] == number]
        size[round(within[0][1] * rate) : round(within[-1][4] * rate)] = 1
    return _smooth(size, 0.1 * rate)


def _carried(
    worn: Rotation, rests: tuple[Rotation, Rotation], course: Course, which: str, rng: np.random.Generator
) -> Rotation:
    """Attitude of a sensor that lies on the table, is taped on, worn, taken off and laid down again."""
    quaternions = worn.as_quat()
    on, off = course.handling[which]
    for resting, interval, taking_off in ((rests[0], on, False), (rests[1], off, True)):
        start, stop = (round(time_s * course.rate_hz) for time_s in (interval.start_s, interval.stop_s))
        share = minimum_jerk(np.linspace(0, 1, stop - start))
        there = worn[stop - 1] if taking_off else worn[start]
        # the way between table and limb leads through a few arbitrary attitudes
        turns = Rotation.concatenate(
            [there.inv() * resting, *Rotation.random(int(rng.integers(4, 11)), random_state=rng), Rotation.identity()]
        )
        way = RotationSpline(np.linspace(0, 1, len(turns)), turns)(share[::-1] if taking_off else share)
        quaternions[start:stop] = (worn[start:stop] * way).as_quat()
        lying = slice(stop, None) if taking_off else slice(0, start)
        quaternions[lying] = resting.as_quat()
    return Rotation.from_quat(quaternions)


def _on_table(course: Course, which: str, force: Floats, rng: np.random.Generator) -> None:
    """Overwrite the specific force where the sensor is not worn: at rest on the table, moved by hands in between."""
    rate = course.rate_hz
    on, off = course.handling[which]
    rest = (0.0, 0.0, GRAVITY_M_S2)
    for interval in (on, off):
        start, stop = round(interval.start_s * rate), round(interval.stop_s * rate)
        size = 1.5 * np.sin(np.pi * np.linspace(0, 1, stop - start))
        noise = [band_noise(stop - start, rate, (0.3, 5.0), 1.0, rng) for _ in range(3)]
        force[start:stop] = np.transpose(noise) * size[:, None] + rest
    force[: round(on.start_s * rate)] = rest
    force[round(off.stop_s * rate) :] = rest


def _positions(course: Course, segments: Mapping[str, Rotation], body: Body) -> dict[str, Floats]:
    channels = course.channels
    yaw = np.deg2rad(channels["yaw"])
    steps = np.diff(channels["ahead"], prepend=channels["ahead"][0])
    beside = 0.1 if body.side == "left" else -0.1
    base = np.stack(
        [
            np.cumsum(steps * np.cos(yaw)) + 0.05 * np.cos(yaw) - beside * np.sin(yaw),
            np.cumsum(steps * np.sin(yaw)) + 0.05 * np.sin(yaw) + beside * np.cos(yaw),
            channels["height"],
        ],
        axis=1,
    )
    lever = _LEVERS[body.joint]
    joint = base + segments["distal"].apply(lever["joint"])
    return {
        "distal": base + segments["distal"].apply(lever["distal sensor"]),
        "proximal": joint + segments["proximal"].apply(lever["proximal sensor"]),
    }


def _forces(
    course: Course, segments: Mapping[str, Rotation], body: Body, rng: np.random.Generator
) -> dict[str, Floats]:
    """Specific force of each sensor in world axes: second derivative of its position, gravity, heel strikes."""
    rate = course.rate_hz
    ring_s = np.arange(round(0.12 * rate)) / rate
    ring = np.exp(-ring_s / 0.02) * np.cos(2 * np.pi * 22 * ring_s)
    forces = {}
    for which, position in _positions(course, segments, body).items():
        force = np.empty_like(position)
        force[1:-1] = (position[2:] - 2 * position[1:-1] + position[:-2]) * rate**2
        force[0], force[-1] = force[1], force[-2]
        force[:, 2] += GRAVITY_M_S2
        for time_s, size in course.shocks:
            start = round(time_s * rate)
            direction = rng.normal([0, 0, 1], 0.3) * size * (1.0 if which == "distal" else 0.5)
            force[start : start + len(ring)] += ring[: len(force) - start, None] * direction
        forces[which] = force
    return forces


def joint_angle(course: Course, person: Person, rng: np.random.Generator) -> tuple[Floats, Floats, Floats]:
    """Add sway and unsteadiness to what was meant: with the foot flat, sway goes into the joint.

    Parameters
    ----------
    course : Course
        What is done.
    person : Person
        Sway and tremor.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    angle_deg, forward_deg, sideways_deg : ndarray of shape (n,)
        True joint angle; sway of the proximal segment.
    """
    channels, rate = course.channels, course.rate_hz
    sway, flat, count = person.sway_deg * channels["sway"], channels["flat"], len(channels["angle"])
    forward = sway * band_noise(count, rate, (0.05, 3.0), 2.0, rng)
    tremor = person.tremor_deg * band_noise(count, rate, (0.5, 4.0), 1.0, rng)
    sideways = 0.6 * sway * band_noise(count, rate, (0.05, 3.0), 2.0, rng)
    # a standing body sways about the ankle; little of it reaches the knee
    share = flat * (0.2 if course.knee else 1.0)
    return channels["angle"] + forward * share + tremor * (1 - flat), forward, sideways


def move_body(course: Course, body: Body, person: Person, rng: np.random.Generator) -> Motion:
    """Turn channels into attitudes and specific forces.

    Parameters
    ----------
    course : Course
        What is done.
    body : Body
        Whose body.
    person : Person
        Sway, tremor and wobble.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    Motion
        On the course's time base.
    """
    channels, rate = course.channels, course.rate_hz
    streams = rng.spawn(4)
    angle, forward, sideways = joint_angle(course, person, streams[0])
    count = len(angle)
    euler = np.stack([channels["yaw"], channels["pitch"] + forward, channels["roll"] + sideways], axis=1)
    proximal = yaw_pitch_roll(euler)
    segments = {
        "proximal": proximal,
        "distal": product(proximal, Rotation.from_rotvec(np.deg2rad(angle)[:, None] * body.axis)),
    }
    forces = _forces(course, segments, body, streams[1])
    size = _wobble_size(course, person.wobble_at_rest)
    per_axis = np.deg2rad(person.wobble_deg / np.sqrt(3)) * size
    sensors = {}
    for which, sign in (("proximal", 1.0), ("distal", -1.0)):
        skin = np.stack(
            [per_axis * band_noise(count, rate, person.wobble_band_hz, 1.0, streams[2]) for _ in range(3)], 1
        )
        skin += sign * body.locked[which] * np.deg2rad(angle)[:, None] * body.axis
        worn = product(segments[which], Rotation.from_rotvec(skin), body.mountings[which])
        lying = Rotation.random(2, random_state=streams[3])
        sensors[which] = _carried(worn, (lying[0], lying[1]), course, which, streams[3])
        _on_table(course, which, forces[which], streams[3])
    add_taps(course, forces)
    hold_together(course, sensors, forces, streams[3])
    return Motion(rate, angle, segments, sensors, forces)


def measured(
    motion: Motion, which: str, every: int, errors: SensorErrors, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Measure as a sensor does: mean rate and mean specific force since the last sample, with its errors.

    Parameters
    ----------
    motion : Motion
        True motion on the fine time base.
    which : {"proximal", "distal"}
        Sensor.
    every : int
        Fine samples a sample.
    errors : SensorErrors
        Errors.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    accelerometer_m_s2, gyroscope_rad_s : ndarray of shape (n, 3)
        In sensor axes.
    """
    attitude = motion.sensors[which]
    turns = turning_vectors(product(attitude[:-1].inv(), attitude[1:])) * motion.rate_hz
    forces = attitude.inv().apply(motion.specific_forces_m_s2[which])
    count = (len(forces) - 1) // every
    gyroscope = np.zeros((count + 1, 3))
    gyroscope[1:] = turns[: count * every].reshape(count, every, 3).mean(axis=1)
    accelerometer = np.empty((count + 1, 3))
    accelerometer[0] = forces[0]
    accelerometer[1:] = forces[1 : count * every + 1].reshape(count, every, 3).mean(axis=1)
    rate_hz = motion.rate_hz / every
    return with_errors(accelerometer, gyroscope, rate_hz, errors, rng)


def with_errors(
    accelerometer: Floats, gyroscope: Floats, rate_hz: float, errors: SensorErrors, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Add a sensor's errors.

    Parameters
    ----------
    accelerometer, gyroscope : ndarray of shape (n, 3)
        Free of errors, in m/s^2 and rad/s; changed in place.
    rate_hz : float
        Their rate.
    errors : SensorErrors
        Errors.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    accelerometer_m_s2, gyroscope_rad_s : ndarray of shape (n, 3)
        With errors.
    """
    noise = np.sqrt(rate_hz / 100)
    steps = rng.standard_normal(gyroscope.shape) * errors.gyroscope_drift_deg_s / np.sqrt(600 * rate_hz)
    bias = errors.gyroscope_bias_deg_s * rng.standard_normal(3) + np.cumsum(steps, axis=0)
    bias += errors.gyroscope_noise_deg_s * noise * rng.standard_normal(gyroscope.shape)
    gyroscope += np.deg2rad(bias)
    accelerometer += errors.accelerometer_bias_m_s2 * rng.standard_normal(3)
    accelerometer += errors.accelerometer_noise_m_s2 * noise * rng.standard_normal(accelerometer.shape)
    return accelerometer, gyroscope
