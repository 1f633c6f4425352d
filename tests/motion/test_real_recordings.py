"""Real people: a walk with sensors on thigh and shank, and shoulder exercises with one on the wrist.

The data come with packages that the tests need anyway; there is no angle to compare with, but plain facts of how people
move: how a knee bends in walking, and how often an exercise was done.
"""

from itertools import pairwise

import numpy as np
import pytest
from scipy.interpolate import CubicSpline
from scipy.signal import find_peaks

from imu_rom.motion.coarse import block_mean
from imu_rom.motion.orientation import FILTERS, estimate_attitude
from imu_rom.motion.repetitions import find_sets
from imu_rom.motion.tracking import track_hinge
from imu_rom.recording.clock_search import SensorMotion
from imu_rom.recording.two_clocks import compare_clocks
from imu_rom.settings import AngleSettings, ReadingSettings, RepetitionSettings


@pytest.fixture(scope="module")
def knee_flexion_deg(knee_walk):
    """Knee angle against the two seconds of standing; flexion is the side to which the knee goes far."""
    rate_hz, (thigh, shank) = knee_walk
    track = track_hinge(thigh, shank, np.zeros(len(thigh[0]), dtype=bool), rate_hz, AngleSettings())
    assert track.worn_stop_s - track.worn_start_s == pytest.approx(len(thigh[0]) / rate_hz, abs=0.1)
    angle_deg = np.degrees(track.angle_rad)
    angle_deg -= np.median(angle_deg[: round(2.0 * rate_hz)])
    return angle_deg * np.sign(angle_deg[np.argmax(np.abs(angle_deg))])


def test_samples_are_in_the_units_that_they_are_taken_for(knee_walk, shoulder_sets):
    rate_hz, sensors = knee_walk
    for force, rate in sensors:
        standing = slice(0, round(2.0 * rate_hz))
        assert np.linalg.norm(force[standing], axis=1).mean() == pytest.approx(9.81, abs=0.1)
        assert np.linalg.norm(rate[standing], axis=1).mean() < 0.05
    _, sets = shoulder_sets
    assert len(sets) == 140
    # a swinging arm feels a little more than gravity, and turns by a few radians a second at most
    assert np.median([np.median(np.linalg.norm(force, axis=1)) for _, force, _ in sets]) == pytest.approx(9.81, abs=1.2)
    assert 0.2 < np.median([np.median(np.linalg.norm(rate, axis=1)) for _, _, rate in sets]) < 3.0


def test_knee_bends_by_some_55_degrees_in_each_swing(knee_walk, knee_flexion_deg):
    """Level walking at an easy pace: about 60 degrees in swing, one stride in 1.0 to 1.4 s.

    Perry, Gait analysis: normal and pathological function (1992), from memory.
    """
    rate_hz, _ = knee_walk
    swings, _ = find_peaks(knee_flexion_deg, prominence=30.0)
    assert 17 <= len(swings) <= 21
    assert 1.0 < np.median(np.diff(swings)) / rate_hz < 1.4
    peaks_deg = knee_flexion_deg[swings]
    assert np.median(peaks_deg) == pytest.approx(55.0, abs=5.0)
    assert peaks_deg.min() > 48.0
    assert peaks_deg.max() < 64.0
    # no drift: the last swings are like the first ones
    assert np.median(peaks_deg[-6:]) == pytest.approx(np.median(peaks_deg[:6]), abs=2.5)


def test_knee_gives_a_little_under_load_and_comes_straight(knee_walk, knee_flexion_deg):
    """Between two swings: nearly straight at landing, 10 to 25 degrees under load, nearly straight again."""
    rate_hz, _ = knee_walk
    swings, _ = find_peaks(knee_flexion_deg, prominence=30.0)
    loading, straightest = [], []
    for first, second in pairwise(swings[1:]):
        stance = knee_flexion_deg[first + round(0.25 * rate_hz) : second - round(0.35 * rate_hz)]
        bumps, _ = find_peaks(stance, prominence=3.0)
        loading += [stance[bumps].max()] if len(bumps) else []
        straightest.append(stance.min())
    assert len(loading) >= 0.8 * (len(swings) - 2)
    assert 8.0 < np.median(loading) < 28.0
    assert -6.0 < np.median(straightest) < 9.0


@pytest.mark.parametrize("name", [each for each in FILTERS if each != "vqf"])
def test_other_filters_see_the_same_thigh(knee_walk, name):
    """On a real walk the filters are independent opinions.

    Laidig and Seel 2023, doi:10.1016/j.inffus.2022.10.014: 2.9 degrees for vqf and 5.3 or more for eight others, on the
    average over movements; here they differ from vqf by less than 6.
    """
    rate_hz, (thigh, _) = knee_walk
    up = [estimate_attitude(*thigh, rate_hz, each).rotation.inv().apply([0.0, 0.0, 1.0]) for each in ("vqf", name)]
    apart_deg = np.degrees(np.arccos(np.einsum("ij,ij->i", *up).clip(-1.0, 1.0)))
    assert np.sqrt(np.mean(apart_deg**2)) < 6.0


def swing_deg(force, rate, rate_hz):
    """Angle of one sensor about the line about which it turns most, and the share of turning about that line."""
    rotation = estimate_attitude(force, rate, rate_hz).rotation
    turns = (rotation.mean().inv() * rotation).as_rotvec()
    power, lines = np.linalg.eigh(np.cov(turns.T))
    return np.degrees(turns @ lines[:, -1]), power[-1] / power.sum()


def counted(force, rate, rate_hz):
    angle_deg = block_mean(swing_deg(force, rate, rate_hz)[0], 2)
    # each set begins at the start position, so the side away from it is end range
    if angle_deg[:8].mean() > (angle_deg.max() + angle_deg.min()) / 2.0:
        angle_deg = -angle_deg
    found = find_sets(angle_deg, np.ones(len(angle_deg), dtype=bool), rate_hz / 2, RepetitionSettings())
    return sum(len(each.repetitions) for each in found)


@pytest.fixture(scope="module")
def shoulder_counts(shoulder_sets):
    rate_hz, sets = shoulder_sets
    counts = {}
    for exercise, force, rate in sets:
        counts.setdefault(exercise, []).append(counted(force, rate, rate_hz))
    return {exercise: np.array(each) for exercise, each in counts.items()}


def test_shoulder_exercises_are_counted_as_they_were_done(shoulder_counts):
    """Raising forwards and sideways, turning in and out: one line of turning, nominally 20 each.

    The files begin and end with the movement, so that half of the first or the last one may lie outside.
    """
    counts = np.concatenate([shoulder_counts[exercise] for exercise in ("FEL", "ABD", "IR", "ER")])
    assert len(counts) == 80
    assert np.median(counts) == 20
    assert (np.abs(counts - 20) <= 2).all()
    assert (np.abs(counts - 20) <= 1).mean() >= 0.90
    assert (counts == 20).mean() >= 0.55


def test_exercises_that_a_hinge_does_not_describe_are_mostly_counted(shoulder_counts):
    """Pendulum, shrug and row hardly turn the wrist, or about more than one line: said as it is."""
    counts = np.concatenate([shoulder_counts[exercise] for exercise in ("PEN", "TRAP", "ROW")])
    assert len(counts) == 60
    assert (np.abs(counts - 20) <= 2).mean() >= 0.70


@pytest.mark.parametrize(("later_s", "skew"), [(2.427, 92e-6), (0.164, -193e-6), (1.199, -31e-6)])
def test_thigh_and_shank_recorded_apart_come_together_to_half_a_sample(knee_walk, later_s, skew):
    """The shank's samples read by a clock of its own, by cubic interpolation; the joint's centre tells the lag."""
    rate_hz, (thigh, shank) = knee_walk
    time_s = np.arange(len(thigh[0])) / rate_hz
    stamp_s = np.arange(int((time_s[-1] - later_s - 0.1) * rate_hz)) / rate_hz
    own = [CubicSpline(time_s, values)(later_s + (1 + skew) * stamp_s) for values in shank]
    pair = [
        (name, SensorMotion(0.0, rate_hz, force, rate, np.zeros(len(force), dtype=bool)))
        for name, force, rate in (("thigh", *thigh), ("shank", *own))
    ]
    fit = compare_clocks(*pair, ReadingSettings(), where="walk")
    error_s = fit.offset_s + (1 + fit.skew) * stamp_s - (later_s + (1 + skew) * stamp_s)
    assert np.abs(error_s).max() < 0.5 / rate_hz
    assert (np.abs(error_s) < 2 * fit.standard_uncertainty_s(stamp_s + later_s - fit.start_s)).all()
    assert fit.found_by == ("motion",)
