"""Whether a repetition came back to the floor, from the inclination of the foot alone."""

from dataclasses import replace

import numpy as np
import pytest

from imu_rom.dose.comparison import compare_session
from imu_rom.dose.conformance import normal_cdf
from imu_rom.dose.floor import FloorReference, floor_contact
from imu_rom.motion.repetitions import Repetition, RepetitionSet

RATE_HZ, U_SET_DEG = 25.0, 0.9


def reference(foot_deg, lean_deg):
    """Ten repetitions of 8 s: heel up by 25 deg, down to an inclination, 2 s there, up again."""
    rise, hold = np.linspace(0, 1, 75), np.ones(50)
    one = np.concatenate([rise, hold, rise[::-1]])
    foot = np.tile(-25.0 + (25.0 + foot_deg) * one, 10)
    return FloorReference(RATE_HZ, 0.0, foot, np.tile(lean_deg * one, 10), U_SET_DEG)


def repetition(number):
    start_s = 8.0 * number
    return Repetition(start_s, start_s + 4, start_s + 7.9, start_s + 3, start_s + 5, 1.0, 0.3, 1.0, -25.0, True)


def compared(heeldrop, foot_deg, lean_deg=0.0, **changes):
    exercise = replace(
        heeldrop,
        surface="floor",
        end_range="floor",
        end_range_deg=None,
        limit_deg=None,
        past_threshold_s_per_set=None,
        start_deg=None,
        sets=1,
        repetitions=10,
        **changes,
    )
    floor = reference(foot_deg, lean_deg)
    done = [RepetitionSet(tuple(map(repetition, range(10))))]
    session = compare_session(
        exercise, done, RATE_HZ, floor.foot_deg + floor.lean_deg, u_shared_deg=2.0, u_set_deg=0.8, floor=floor
    )
    return session.sets[0]


@pytest.mark.parametrize("lean_deg", [0.0, 15.0, -6.0])
def test_a_foot_that_lies_flat_is_back_however_far_the_shank_leans(heeldrop, lean_deg):
    done = compared(heeldrop, 0.0, lean_deg)
    assert (done.verdict, done.reached) == ("met", 10)
    assert [each.floor.shank_lean_deg for each in done.repetitions] == pytest.approx([lean_deg] * 10)
    assert all(
        each.probability_reached == pytest.approx(normal_cdf(3 / U_SET_DEG), abs=2e-3) for each in done.repetitions
    )


@pytest.mark.parametrize(("raised_deg", "verdict"), [(6.0, "short"), (3.0, "undecided"), (1.0, "met")])
def test_a_heel_that_stays_raised_stopped_short_and_near_the_tolerance_it_stays_open(heeldrop, raised_deg, verdict):
    done = compared(heeldrop, -raised_deg)
    assert done.verdict == verdict
    assert done.repetitions[0].floor.foot_deg == pytest.approx(-raised_deg, abs=0.3)


def test_the_tolerance_is_the_plans(heeldrop):
    assert compared(heeldrop, -3.0, floor_tolerance_deg=6.0).verdict == "met"
    assert compared(heeldrop, -3.0, floor_tolerance_deg=1.0).verdict == "short"


def test_the_neutral_poses_error_has_no_part_in_it(heeldrop):
    done = compared(heeldrop, 0.0)
    contact = done.repetitions[0].floor
    # the joint angle's interval is wider by the zero
    assert contact.foot_high_deg - contact.foot_low_deg == pytest.approx(2 * 1.96 * U_SET_DEG, rel=0.05)
    assert done.repetitions[0].end_range_high_deg - done.repetitions[0].end_range_low_deg > 8


def test_an_angle_limit_may_stand_beside_the_floor(heeldrop):
    exercise = replace(
        heeldrop, surface="floor", end_range="floor", end_range_deg=None, limit_deg=2.0, repetitions=10, sets=1
    )
    floor = reference(0.0, 15.0)
    done = compare_session(
        exercise,
        [RepetitionSet(tuple(map(repetition, range(10))))],
        RATE_HZ,
        floor.foot_deg + floor.lean_deg,
        u_shared_deg=2.0,
        u_set_deg=0.8,
        floor=floor,
    ).sets[0]
    # the foot is on the floor, yet the shank leant past the angle that must not be passed
    assert (done.reached, done.verdict) == (10, "over")


def test_noise_reads_neither_deep_nor_shallow():
    clean = reference(-4.0, 0.0)
    noise = np.random.default_rng(5).normal(0, 0.5, len(clean.foot_deg))
    noisy = replace(clean, foot_deg=clean.foot_deg + noise)
    errors = [floor_contact(repetition(each), noisy).foot_deg + 4.0 for each in range(10)]
    assert abs(np.mean(errors)) < 0.35
    assert np.std(errors) < 0.35
