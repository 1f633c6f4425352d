"""Drops to the floor, simulated: whether the foot came back is told rightly, knees bent or not, and so is the lean."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from imu_rom.dose.plan_file import read_plan
from imu_rom.session import analyse
from imu_rom.simulation import SCENARIOS, Person, routine_from_exercise, simulate_session

SEEDS = range(40, 44)
# what is right to say of each set
RIGHT = {"floor": "met", "floor-bent-knee": "met", "heel-raised": "short"}


@pytest.fixture(scope="module")
def plan(request):
    return read_plan(request.config.rootpath / "sample_recordings" / "plans" / "P-0004-floor.toml")


def simulated(plan, scenario, seed):
    # the person's own neutral pose is off by a few degrees, so that an angle could not tell
    planned = routine_from_exercise(plan.stage.exercises[0], sits_before=False, rest_s=12.0, walks_in_rests=False)
    routine, person = SCENARIOS[scenario].apply(planned, Person(zero_shift_sd_deg=3.0))
    return simulate_session(seed, routine, person, rate_hz=50.0)


@pytest.fixture(scope="module")
def result_of(plan):
    """A session with its result, each worked out once."""

    @cache
    def found(scenario, seed):
        session = simulated(plan, scenario, seed)
        return session, analyse(session.recording, plan)

    return found


def contacts(result_of, scenario):
    """Each repetition's comparison with the foot's and the shank's true inclination where it stopped."""
    for session, result in (result_of(scenario, seed) for seed in SEEDS):
        truth = session.truth
        foot, shank = (_pitch_deg(truth, which) for which in ("distal", "proximal"))
        for one in result.exercises[0].comparison.sets:
            for each in one.repetitions:
                done = each.repetition
                within = slice(round(done.start_s * 50), round(done.stop_s * 50))
                at = round(done.end_range_s * 50)
                yield each, -float(np.min(foot[within])), float(np.median(shank[at - 10 : at + 11]))


@pytest.mark.parametrize("scenario", RIGHT)
def test_at_least_95_percent_of_the_verdicts_are_right(result_of, scenario):
    sets = [one for seed in SEEDS for one in result_of(scenario, seed)[1].exercises[0].comparison.sets]
    assert len(sets) == 2 * len(SEEDS)
    assert np.mean([one.verdict == RIGHT[scenario] for one in sets]) >= 0.95


@pytest.mark.parametrize("scenario", RIGHT)
def test_whether_the_foot_came_back_is_told_for_each_repetition(result_of, scenario):
    answers = [
        (each.reached, "yes" if foot_deg > -3.0 else "no") for each, foot_deg, _ in contacts(result_of, scenario)
    ]
    assert np.mean([said == true for said, true in answers]) >= 0.95
    assert {("yes", "no"), ("no", "yes")}.isdisjoint(answers)


@pytest.mark.parametrize("scenario", RIGHT)
def test_foot_and_shank_are_where_they_are_said_to_be(result_of, scenario):
    floors = [(each.floor, foot_deg, lean_deg) for each, foot_deg, lean_deg in contacts(result_of, scenario)]
    assert np.mean([each.foot_low_deg <= foot_deg <= each.foot_high_deg for each, foot_deg, _ in floors]) >= 0.95
    leans = [each.shank_lean_low_deg <= lean_deg <= each.shank_lean_high_deg for each, _, lean_deg in floors]
    assert np.mean(leans) >= 0.95
    assert abs(np.mean([each.foot_deg - foot_deg for each, foot_deg, _ in floors])) < 0.8


def _pitch_deg(truth, which):
    """Pitch of a segment, top or toes forward and down, from its true attitude; 0 in the pose."""
    yaw_pitch_roll = Rotation.from_quat(truth.segments[which]).as_euler("ZYX", degrees=True)
    pose = slice(*(round(time_s * truth.rate_hz) for time_s in (truth.pose.start_s, truth.pose.stop_s)))
    return yaw_pitch_roll[:, 1] - np.median(yaw_pitch_roll[pose, 1])


def test_the_angle_alone_could_not_have_told(plan):
    session = simulated(plan, "floor", 43)
    assert abs(session.truth.zero_shift_deg) < 1
    by_angle = replace(plan.stage.exercises[0], end_range="angle", end_range_deg=(-2.0, 2.0), limit_deg=2.0)
    other = replace(plan, stages=(replace(plan.stage, exercises=(by_angle,)),))
    done = analyse(session.recording, other).exercises[0].comparison
    assert {each.verdict for each in done.sets} == {"undecided"}
    assert all(each.floor is None for one in done.sets for each in one.repetitions)


def test_a_clinicians_measurement_of_the_pose_moves_every_angle_and_nothing_else(result_of, plan):
    session, first = result_of("floor", 41)
    measured = replace(plan.stage.exercises[0], neutral_deg=6.5, neutral_uncertainty_deg=1.0)
    second = analyse(session.recording, replace(plan, stages=(replace(plan.stage, exercises=(measured,)),)))
    one, other = first.exercises[0], second.exercises[0]
    assert (other.zero.pose_deg, one.zero.pose_deg) == (6.5, 0.0)
    assert (other.u_shared_deg, one.u_shared_deg) == (pytest.approx(1.0, abs=0.1), pytest.approx(2.1, abs=0.2))
    assert other.trace.angle_deg - one.trace.angle_deg == pytest.approx(6.5)
    for before, after in zip(one.comparison.sets, other.comparison.sets, strict=True):
        for a, b in zip(before.repetitions, after.repetitions, strict=True):
            assert b.repetition.end_range_deg - a.repetition.end_range_deg == pytest.approx(6.5)
            assert (a.repetition.start_s, a.repetition.stop_s) == (b.repetition.start_s, b.repetition.stop_s)
            assert a.floor == b.floor
    taken = [each.joint_angle_deg for each in other.zero.candidates if each.start_s == other.zero.start_s]
    assert taken == [pytest.approx(6.5)]
