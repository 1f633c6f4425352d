"""Sensors that don't stay where they were taped: at once, as after a knock, or creeping as sweat loosens the tape."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from scipy.spatial.transform import Rotation

from imu_rom.errors import SettingError
from imu_rom.simulation.body import Body, Motion
from imu_rom.simulation.performer import minimum_jerk
from imu_rom.simulation.turning import product

__all__ = ["Slip", "with_slips"]

LONGEST_JOLT_S = 2.0


@dataclass(frozen=True)
class Slip:
    """One sensor turns on its segment and stays so.

    Parameters
    ----------
    tracked_point : str
        Sensor that slips.
    time_s : float
        When it begins.
    size_deg : float
        By how much it turns. About the joint's axis a positive size makes the angle read more.
    lasts_s : float
        Time that it takes: up to 2 s in one smooth go, longer creeping evenly.
    about : {"any", "joint"}
        Axis: of any direction, or the joint's own, where nothing but the angle itself shows it.
    """

    tracked_point: str
    time_s: float
    size_deg: float
    lasts_s: float = 0.3
    about: Literal["any", "joint"] = "any"

    def __post_init__(self) -> None:
        numbers = (self.time_s, self.size_deg, self.lasts_s)
        if not all(map(math.isfinite, numbers)) or self.time_s < 0 or not self.lasts_s > 0 or abs(self.size_deg) > 180:
            raise SettingError(
                f"must be a time from 0 s, at most 180 deg, and a duration above 0 s, got {numbers}", where="fault slip"
            )
        if self.about not in {"any", "joint"}:
            raise SettingError(f"must be about any or joint, got {self.about!r}", where="fault slip")


def with_slips(
    motion: Motion, body: Body, slips: Sequence[Slip], points: dict[str, str], rng: np.random.Generator
) -> tuple[Motion, tuple[tuple[float, float, float], ...]]:
    """Turn sensors on their segments.

    Parameters
    ----------
    motion : Motion
        What body and sensors did.
    body : Body
        For the joint's axis and the mountings.
    slips : sequence of Slip
        What slips and when.
    points : dict of str to str
        Tracked point of ``proximal`` and ``distal``.
    rng : numpy.random.Generator
        Source of chance, for the axes.

    Returns
    -------
    motion : Motion
        With the sensors' attitudes after the slips.
    turns_deg : tuple of tuple of float
        Rotation vector of each slip in its sensor's axes, in degrees.
    """
    sensors, turns = dict(motion.sensors), []
    seconds = np.arange(len(motion.angle_deg)) / motion.rate_hz
    for slip in slips:
        which = next(each for each, point in points.items() if point == slip.tracked_point)
        if slip.about == "joint":
            # the angle is the distal segment's turn against the proximal one
            axis = (1.0 if which == "distal" else -1.0) * body.mountings[which].inv().apply(body.axis)
        else:
            axis = rng.standard_normal(3)
            axis /= np.linalg.norm(axis)
        share = np.clip((seconds - slip.time_s) / slip.lasts_s, 0.0, 1.0)
        if slip.lasts_s <= LONGEST_JOLT_S:
            share = minimum_jerk(share)
        turn_deg = slip.size_deg * axis
        slipped = Rotation.from_rotvec(np.deg2rad(turn_deg) * share[:, None])
        sensors[which] = product(sensors[which], slipped)
        turns.append((float(turn_deg[0]), float(turn_deg[1]), float(turn_deg[2])))
    return replace(motion, sensors=sensors), tuple(turns)
