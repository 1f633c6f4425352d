"""How much of the disagreement about the axis' direction a budget takes, by a track made by hand."""

from types import SimpleNamespace

import numpy as np
import pytest

from imu_rom.motion.leaning import Lean
from imu_rom.session.budget import _apart_deg

COUNT = 1000
TIME_S = np.arange(COUNT) / 25.0
AXIS = np.array([0.0, 1.0, 0.0])
ALL = np.ones(COUNT, dtype=bool)


def track(apart_deg, lean=None, up=(0.0, 0.0, 1.0)):
    ups = np.broadcast_to(np.asarray(up, dtype=float), (COUNT, 3))
    motion = SimpleNamespace(time_s=TIME_S, proximal_up=ups, distal_up=ups)
    apart_rad = np.radians(np.broadcast_to(apart_deg, COUNT))
    return SimpleNamespace(motion=motion, lean=lean, axes_apart_rad=lambda at: apart_rad[at])


def test_between_slips_the_stretch_that_fits_the_axis_best_is_taken():
    after = np.where(TIME_S < 15.0, 2.0, 6.0)
    assert _apart_deg(track(after), ALL, ALL, [14.99]) == pytest.approx(2.0)
    # a moment shows nothing
    moment = np.where(TIME_S < 1.0, 0.5, 6.0)
    assert _apart_deg(track(moment), ALL, ALL, [0.99]) == pytest.approx(6.0)


def test_of_many_short_stretches_the_longest_is_taken_and_not_none():
    """Of thirteen stretches none has a tenth of all; the one from 0 s to 3.6 s is longer than the others."""
    slips_s = np.linspace(3.59, 36.59, 12)
    apart_deg = np.where(TIME_S < 3.6, 4.0, 5.0)
    assert _apart_deg(track(apart_deg), ALL, ALL, slips_s) == pytest.approx(4.0)


def test_nothing_measured_shows_nothing():
    assert _apart_deg(track(3.0), ~ALL, ~ALL, []) == 0.0


def test_a_lean_that_was_taken_out_counts_from_where_the_zero_is():
    """A lean by l rad/g about the axis turns a sensor by l sin(t) where it is tilted by t."""
    lean = Lean(AXIS, AXIS, np.array([0.1, 0.0, 0.0]), np.zeros(3), np.eye(6), np.ones(3), np.zeros(3))
    tilt_rad = np.where(TIME_S < 4.0, 0.0, np.radians(30.0))
    up = np.stack([np.sin(tilt_rad), np.zeros(COUNT), np.cos(tilt_rad)], axis=1)
    inside = TIME_S > 5.0
    taken_deg = np.degrees(np.ptp(lean.correction_rad(up, up)))
    assert taken_deg > 0.5
    assert _apart_deg(track(0.0, lean, up), inside, slice(0, 50), []) == pytest.approx(taken_deg)
    # where the zero is arbitrary, only what changes counts
    assert _apart_deg(track(0.0, lean, up), inside, inside, []) == pytest.approx(0.0, abs=1e-9)
