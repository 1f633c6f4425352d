"""Two sensors on a straight edge that is set to angles, as readings with known faults; shares no code with the project.

The edge turns about one horizontal axis of its own; sensors sit on it in any direction. What they read at each moment
follows from the attitude alone (the movements are slow), with bias, scale and noise on top.
"""

import sys
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

import numpy as np
from scipy.spatial.transform import Rotation

GRAVITY_M_S2 = 9.81


@dataclass(frozen=True)
class Faults:
    """What is wrong with one sensor."""

    accelerometer_bias_m_s2: tuple = (0.0, 0.0, 0.0)
    accelerometer_scale: float = 1.0
    gyroscope_bias_deg_s: tuple = (0.0, 0.0, 0.0)
    gyroscope_scale: float = 1.0
    accelerometer_noise_m_s2: float = 0.02
    gyroscope_noise_deg_s: float = 0.05


@dataclass(frozen=True)
class Handling:
    """What is done with the edge."""

    angles_deg: tuple = (0.0, 45.0, 90.0)
    setting_sd_deg: float = 0.0
    rest_s: float = 8.0
    move_s: float = 3.0
    heading_deg: float = 40.0
    twist_deg: float = 0.0
    proximal_stays: bool = False
    rate_hz: float = 100.0
    knock_s: tuple = ()
    seats: tuple = field(default=(None, None))


@dataclass(frozen=True)
class Edge:
    """Readings and truth; ``true_deg`` is how the edge really stood in each position."""

    rate_hz: float
    forces_m_s2: list
    rates_rad_s: list
    rests_s: list
    true_deg: np.ndarray
    seats: list


def _smooth(start, stop, count):
    share = np.linspace(0.0, 1.0, count, endpoint=False)
    return start + (stop - start) * (10 * share**3 - 15 * share**4 + 6 * share**5)


def _course(values, handling):
    """One value a position, moved smoothly between them."""
    rest, move = (round(each * handling.rate_hz) for each in (handling.rest_s, handling.move_s))
    parts = [np.full(rest, values[0])]
    for before, after in pairwise(values):
        parts += [_smooth(before, after, move), np.full(rest, after)]
    return np.concatenate(parts)


def edge(seed, handling=None, faults=None):
    """Set the edge to its angles and read both sensors."""
    handling = handling or Handling()
    faults = faults or (Faults(), Faults())
    rng = np.random.default_rng(seed)
    count = len(handling.angles_deg)
    true = np.array(handling.angles_deg) + handling.setting_sd_deg * rng.standard_normal(count)
    tilt = _course(true, handling)
    heading = _course(handling.heading_deg * rng.uniform(-1, 1, count), handling)
    twist = _course(handling.twist_deg * np.concatenate([[0.0], rng.uniform(-1, 1, count - 1)]), handling)
    moving = Rotation.from_euler("ZYX", np.stack([heading, -tilt, twist], axis=1), degrees=True)
    still = Rotation.from_euler("Z", np.zeros((len(tilt), 1)))
    forces, rates, seats = [], [], []
    for index, fault in enumerate(faults):
        attitude = still if handling.proximal_stays and index == 0 else moving
        seat = handling.seats[index] or Rotation.random(random_state=rng)
        seats.append(seat)
        sensor = attitude * seat
        steps = (sensor[:-1].inv() * sensor[1:]).as_rotvec() * handling.rate_hz
        # the rate at a sample lies between those of the steps before and after it
        rate = np.concatenate([steps[:1], 0.5 * (steps[1:] + steps[:-1]), steps[-1:]])
        force = sensor.inv().apply([0.0, 0.0, GRAVITY_M_S2])
        for at_s in handling.knock_s:
            at = round(at_s * handling.rate_hz)
            force[at : at + 4] += np.array([[6.0, 0, 0], [-8, 2, 0], [3, -3, 1], [-1, 1, -1]])
        noise = rng.standard_normal((2, len(force), 3))
        forces.append(
            fault.accelerometer_scale * force
            + np.array(fault.accelerometer_bias_m_s2)
            + fault.accelerometer_noise_m_s2 * noise[0]
        )
        rates.append(
            fault.gyroscope_scale * rate
            + np.radians(fault.gyroscope_bias_deg_s)
            + np.radians(fault.gyroscope_noise_deg_s) * noise[1]
        )
    step_s = handling.rest_s + handling.move_s
    rests = [(index * step_s, index * step_s + handling.rest_s) for index in range(count)]
    return Edge(handling.rate_hz, forces, rates, rests, true, seats)


def write_sample(path):
    """Write the sample of a check: an edge set to 0, 45 and 90 deg by hand, two sensors as one buys them."""
    faults = (
        Faults(
            accelerometer_bias_m_s2=(0.08, -0.05, 0.08), gyroscope_bias_deg_s=(0.3, -0.6, 0.1), gyroscope_scale=1.01
        ),
        Faults(accelerometer_bias_m_s2=(-0.05, 0.05, 0.02), gyroscope_bias_deg_s=(0.2, 0.1, -0.4)),
    )
    handling = Handling(setting_sd_deg=0.3, rest_s=10.0, rate_hz=50.0, heading_deg=5.0, twist_deg=1.0)
    done = edge(1, handling, faults)
    names, columns = ["time_s"], [np.arange(len(done.forces_m_s2[0])) / done.rate_hz]
    for point, force, rate in zip(("shank", "foot"), done.forces_m_s2, done.rates_rad_s, strict=True):
        for kind, unit, samples in (("acc", "m/s2", force), ("gyr", "rad/s", rate)):
            names += [f"{point}_{kind}_{axis}_{unit}" for axis in "xyz"]
            columns += list(samples.T)
    lines = [",".join(f"{value:.5f}" for value in row) for row in np.stack(columns, axis=1).tolist()]
    path.write_text("\n".join([",".join(names), *lines]) + "\n", encoding="utf-8")


if __name__ == "__main__":
    write_sample(Path(sys.argv[1]))
