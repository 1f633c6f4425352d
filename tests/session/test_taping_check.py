"""The re-taping check: a known spread of the zero comes back, and what can't be told is one clear sentence."""

from dataclasses import replace

import numpy as np
import pytest

from imu_rom.errors import CannotAnswerError, RecordingError, SettingError
from imu_rom.recording.model import Gap, InputFile
from imu_rom.session.taping_check import check_tapings
from imu_rom.simulation import Person, Routine, simulate_session

POSTURE_DEG = 15.0
# up to the posture once and hold it: what a person does in this check, sensors put on anew each time
ROUTINE = Routine(
    sets=1,
    repetitions=1,
    start_deg=-5.0,
    start_sd_deg=0.0,
    end_range_deg=POSTURE_DEG,
    end_range_sd_deg=0.0,
    hold_s=9.0,
    pause_probability=0.0,
    sits_before=False,
    walks_in_rests=False,
    time_variation=0.0,
)


def taped(seed, person, routine=ROUTINE):
    session = simulate_session(seed, routine, person, rate_hz=50.0)
    repetition = session.truth.sets[0].repetitions[0]
    poses = (
        (session.truth.pose.start_s, session.truth.pose.stop_s),
        (repetition.hold_start_s, repetition.hold_stop_s),
    )
    recording = replace(session.recording, label=f"taping {seed}", files=(InputFile("x", f"{seed:064x}"),))
    return recording, poses, repetition.held_deg - session.truth.zero_shift_deg


@pytest.fixture(scope="module")
def tapings():
    """Five tapings of a person whose neutral pose is off by 1.5 deg on average, with a spread of 1.2 deg."""
    person = Person(zero_shift_mean_deg=1.5, zero_shift_sd_deg=1.2)
    return [taped(seed, person) for seed in range(40, 45)]


def check_of(tapings, **options):
    recordings, poses, _ = zip(*tapings, strict=True)
    return check_tapings(recordings, "shank", "foot", **{"poses_s": poses, **options})


@pytest.fixture(scope="module")
def usual_check(tapings):
    return check_of(tapings)


def test_each_angle_is_the_true_one_within_the_rest_of_the_budget(tapings, usual_check):
    check = usual_check
    for taping, (recording, _, true_deg) in zip(check.tapings, tapings, strict=True):
        assert taping.label == recording.label
        assert taping.angle_deg == pytest.approx(true_deg, abs=0.8)
    assert [each.sha256 for each in check.inputs] == [f"{seed:064x}" for seed in range(40, 45)]


def test_the_zero_term_is_that_of_the_spread(usual_check):
    check = usual_check
    angles = [each.angle_deg for each in check.tapings]
    assert check.spread.standard_deviation == pytest.approx(np.std(angles, ddof=1))
    assert check.spread.low < 1.2 < check.spread.high
    assert check.own_standing_deg == pytest.approx(np.std(angles, ddof=1) * 2.77645 / 1.95996, rel=1e-5)
    assert check.zero_pose_deg is check.offset_deg is None
    usual = check.settings.uncertainty.zero_pose_deg
    expected = {"own_standing_deg": check.own_standing_deg}
    if check.own_standing_deg > usual:
        expected["zero_pose_deg"] = check.own_standing_deg
    assert check.plan_parts == expected


def test_a_known_posture_shows_the_offset_of_the_neutral_pose(tapings):
    check = check_of(tapings, posture_deg=-POSTURE_DEG, u_posture_deg=0.5)
    assert check.offset_deg == pytest.approx(check.spread.mean - POSTURE_DEG)
    # the person stands 1.5 deg towards the posture, so it reads short by that
    assert check.offset_low_deg < -1.5 < check.offset_high_deg
    whole = np.sqrt(check.own_standing_deg**2 + check.offset_deg**2 + 0.5**2)
    assert check.zero_pose_deg == pytest.approx(whole)
    assert check.plan_parts == {"own_standing_deg": check.own_standing_deg, "zero_pose_deg": check.zero_pose_deg}


def test_poses_are_found_where_they_are_the_only_long_ones():
    recording, poses, true_deg = taped(41, Person(), replace(ROUTINE, hold_s=14.0))
    # the stretch from just before the pose to the end of the posture, as a check would be recorded
    first, last = (round(each * recording.rate_hz) for each in (poses[0][0] - 2.0, poses[1][1] + 6.0))
    sensors = {
        point: replace(
            each,
            accelerometer_m_s2=each.accelerometer_m_s2[first:last],
            gyroscope_rad_s=each.gyroscope_rad_s[first:last],
            missing=each.missing[first:last],
        )
        for point, each in recording.sensors.items()
    }
    cut = replace(recording, sensors=sensors)
    check = check_tapings([replace(cut, label=str(n), files=()) for n in range(3)], "shank", "foot")
    for taping in check.tapings:
        assert taping.neutral_start_s == pytest.approx(2.0, abs=2.0)
        assert taping.posture_stop_s == pytest.approx(poses[1][1] - poses[0][0] + 2.0, abs=1.5)
        assert taping.angle_deg == pytest.approx(true_deg, abs=0.8)
    assert {each.code for each in check.findings} == {"few-tapings"}


def refused(tapings, error=CannotAnswerError, **options):
    with pytest.raises(error) as caught:
        check_of(tapings, **options)
    said = str(caught.value)
    assert "\n" not in said
    assert said.endswith(".")
    return said


def test_what_can_not_be_told_is_one_sentence(tapings):
    assert "recordings: must be 3 or more, one a taping, got 2" in refused(tapings[:2], SettingError)
    assert "must all differ, but taping 41 is there twice" in refused([*tapings[:2], tapings[1]], SettingError)
    assert "poses: must be given once for each of the 5 recordings, got 1" in refused(
        tapings, SettingError, poses_s=[((0.0, 5.0), (6.0, 9.0))]
    )
    assert "posture angle: must lie 5 to 180 deg from neutral, got 2" in refused(tapings, SettingError, posture_deg=2)
    said = refused(tapings, SettingError, posture_deg=15, u_posture_deg=30)
    assert "posture uncertainty: must lie in 0 to 20 deg, got 30" in said
    poses = [each[1] for each in tapings]
    late = [((5000.0, 5010.0), each[1]) for each in poses]
    assert "the pose 5000:5010 must lie within the recording, which ends at " in refused(tapings, poses_s=late)
    short = [(each[0], (each[1][0], each[1][0] + 1.0)) for each in poses]
    assert "must be 2 s or longer" in refused(tapings, poses_s=short)
    with pytest.raises(RecordingError, match="no sensor on 'thigh'"):
        check_tapings([each[0] for each in tapings], "thigh", "foot", poses_s=poses)


def test_a_pose_in_a_gap_is_refused(tapings):
    recording, poses, true_deg = tapings[0]
    middle = sum(poses[0]) / 2
    holed = replace(recording, gaps=(Gap(middle - 0.5, middle + 0.5, "foot"),))
    said = refused([(holed, poses, true_deg), *tapings[1:]])
    assert said.startswith("taping 40: the pose ")
    assert f"must lie outside the gaps in the data, such as {middle - 0.5:.1f} to" in said


def test_a_posture_near_neutral_says_nothing(tapings):
    near = [(recording, (poses[0], poses[0]), true_deg) for recording, poses, true_deg in tapings[:3]]
    said = refused(near)
    assert "the posture is too near the neutral pose to tell on which side of it it lies: 0.0 deg" in said
    assert "such as the foot on a wedge" in said


def test_a_whole_session_has_too_many_long_still_stretches(tapings):
    said = refused(tapings, poses_s=())
    assert "must be the only two stretches of 7 s or longer in which the person keeps still, but there are " in said
    assert "name both poses of each recording by --poses" in said
