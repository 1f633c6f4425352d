"""Both axes face the same way also where only walking or a push shows it: movement in one plane, a level axis."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from imu_rom.motion.tracking import track_hinge
from imu_rom.recording.model import Recording, Sensor
from imu_rom.session import measure_angle
from imu_rom.settings import AngleSettings

RATE_HZ = 50.0
AXIS = np.array([1.0, 0.0, 0.0])
# the other half is left to the long tests
SIX_SEEDS = range(6)


def planar(seed, *, walks, pushed):
    """Two segments that only pitch about one level axis: what both sensors measure, joint angle in rad, mountings.

    The mountings are matrices from each sensor to its segment.
    """
    rng = np.random.default_rng(seed)
    time_s = np.arange(0, 120, 1 / RATE_HZ)
    heel = np.radians(-10 - 15 * np.cos(2 * np.pi * time_s / 5.0))
    lean = np.radians(6 * np.cos(2 * np.pi * time_s / 5.0 + 0.4))
    stride = 2 * np.pi * time_s / 1.1
    walking = (time_s < 40.0) & walks
    shank = np.where(walking, np.radians(28 * np.sin(stride)), lean)
    joint = np.where(walking, np.radians(12 * np.sin(stride + 1.5)), heel)
    # no jump where walking ends
    window = np.hanning(26) / np.hanning(26).sum()
    shank, joint = (np.convolve(np.pad(each, 13, mode="edge"), window, mode="same")[13:-13] for each in (shank, joint))
    push = rng.normal(size=(len(time_s), 3)) * (1.0 if pushed else 0.0)
    push = np.stack([np.convolve(each, window, mode="same") for each in push.T], axis=1) * [0, 8, 0]
    sensors, mountings = [], []
    for pitch in (shank, shank + joint):
        mounting = Rotation.random(rng=rng)
        attitude = Rotation.from_rotvec(pitch[:, None] * AXIS)
        rate = np.gradient(pitch, time_s)[:, None] * AXIS
        force = attitude.inv().apply(np.array([0.0, 0.0, 9.81]) + push)
        noise = [rng.normal(scale=scale, size=rate.shape) for scale in (0.02, 0.002)]
        mountings.append(mounting.as_matrix())
        sensors.append((mounting.inv().apply(force) + noise[0], mounting.inv().apply(rate) + noise[1]))
    return sensors, joint, tuple(mountings)


def slope(track, joint):
    return abs(np.polyfit(joint[500:-500], track.angle_rad[500:-500], 1)[0])


@pytest.mark.parametrize(("walks", "pushed"), [(True, False), (False, True), (True, True)])
@pytest.mark.parametrize("seed", SIX_SEEDS)
def test_the_angle_is_the_difference_of_both_pitches_and_not_their_sum(seed, walks, pushed):
    sensors, joint, _ = planar(seed, walks=walks, pushed=pushed)
    track = track_hinge(*sensors, np.zeros(len(joint), dtype=bool), RATE_HZ, AngleSettings())
    assert track.facing_is_clear
    assert slope(track, joint) == pytest.approx(1.0, abs=0.03)


@pytest.mark.parametrize("seed", range(3))
def test_where_nothing_shows_it_that_is_said(seed):
    sensors, joint, _ = planar(seed, walks=False, pushed=False)
    track = track_hinge(*sensors, np.zeros(len(joint), dtype=bool), RATE_HZ, AngleSettings())
    assert not track.facing_is_clear


@pytest.mark.parametrize("seed", SIX_SEEDS)
def test_where_nothing_shows_it_declared_mountings_decide(seed):
    sensors, joint, mountings = planar(seed, walks=False, pushed=False)
    # taped on by hand: each is off by up to 20 degrees
    off = Rotation.from_rotvec(np.random.default_rng(seed).normal(size=(2, 3)) * np.radians(7)).as_matrix()
    taped = (off[0] @ mountings[0], off[1] @ mountings[1])
    missing = np.zeros(len(joint), dtype=bool)
    track = track_hinge(*sensors, missing, RATE_HZ, AngleSettings(), taped)
    assert track.facing_is_clear
    assert not track.facing_is_seen
    assert track.faced_by_mounting
    assert slope(track, joint) == pytest.approx(1.0, abs=0.05)
    # a sensor said to sit the other way round about the axis' normal makes it the sum of both pitches
    turned = (np.diag([-1.0, 1.0, -1.0]) @ mountings[0], mountings[1])
    wrong = track_hinge(*sensors, missing, RATE_HZ, AngleSettings(), turned)
    assert slope(wrong, joint) != pytest.approx(1.0, abs=0.05)
    assert not track_hinge(*sensors, missing, RATE_HZ, AngleSettings(), (None, mountings[1])).facing_is_clear


@pytest.mark.parametrize("seed", range(3))
def test_what_the_recording_shows_clearly_stands_against_a_mounting(seed):
    sensors, joint, mountings = planar(seed, walks=True, pushed=True)
    turned = (np.diag([-1.0, 1.0, -1.0]) @ mountings[0], mountings[1])
    track = track_hinge(*sensors, np.zeros(len(joint), dtype=bool), RATE_HZ, AngleSettings(), turned)
    assert not track.faced_by_mounting
    assert slope(track, joint) == pytest.approx(1.0, abs=0.03)


def test_an_angle_whose_facing_is_unseen_says_so():
    sensors, joint, _ = planar(1, walks=False, pushed=False)
    recording = Recording(
        rate_hz=RATE_HZ,
        sensors={
            name: Sensor(name, force, rate, None, np.zeros(len(joint), dtype=bool))
            for name, (force, rate) in zip(("shank", "foot"), sensors, strict=True)
        },
        label="made up",
    )
    codes = {each.code: each.level for each in measure_angle(recording, "shank", "foot", neutral=None).findings}
    assert codes["facing-unseen"] == "problem"
    pushed, _, _ = planar(1, walks=True, pushed=True)
    told = replace(
        recording,
        sensors={
            name: Sensor(name, force, rate, None, np.zeros(len(joint), dtype=bool))
            for name, (force, rate) in zip(("shank", "foot"), pushed, strict=True)
        },
    )
    assert "facing-unseen" not in {each.code for each in measure_angle(told, "shank", "foot", neutral=None).findings}
