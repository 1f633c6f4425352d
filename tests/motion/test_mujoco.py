"""The independent simulator tested in itself, and the analysis tested on it."""

import ast

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from imu_rom.dose.exercise import CompressionThreshold, Exercise
from imu_rom.dose.plan import Plan, Stage
from imu_rom.recording.model import Recording, Sensor
from imu_rom.session import analyse
from imu_rom.settings import AngleSettings, Settings


def stretch(replay, start_s, stop_s):
    return slice(round(start_s * replay.rate_hz), round(stop_s * replay.rate_hz))


def integrated(gyroscope_rad_s, start, rate_hz):
    """Attitudes from angular rates alone, each step by the mean rate of its two ends."""
    attitude = [start]
    for step in Rotation.from_rotvec((gyroscope_rad_s[:-1] + gyroscope_rad_s[1:]) / (2.0 * rate_hz)):
        attitude.append(attitude[-1] * step)
    return Rotation.concatenate(attitude)


def test_simulator_shares_no_code_with_the_project(leg):
    tree = ast.parse(leg.MODEL.with_suffix(".py").read_text())
    imported = {
        name.split(".")[0]
        for node in ast.walk(tree)
        if isinstance(node, ast.Import | ast.ImportFrom)
        for name in ([node.module] if isinstance(node, ast.ImportFrom) else [each.name for each in node.names])
    }
    assert imported == {"dataclasses", "pathlib", "mujoco", "numpy", "scipy"}


def test_at_rest_accelerometers_feel_gravity_upwards_and_gyroscopes_nothing(perfect):
    table = stretch(perfect, 0.0, 24.0)
    for accelerometer in (perfect.shank_accelerometer_m_s2, perfect.foot_accelerometer_m_s2):
        assert np.abs(np.linalg.norm(accelerometer[table], axis=1) - 9.81).max() < 1e-9
    assert np.abs(perfect.shank_gyroscope_rad_s[table]).max() == 0.0
    standing = stretch(perfect, *perfect.neutral_s)
    up = perfect.shank_attitude[standing].apply(perfect.shank_accelerometer_m_s2[standing])
    assert np.abs(up - [0.0, 0.0, 9.81]).max() < 0.05  # a person sways
    assert perfect.shank_gyroscope_rad_s[standing].std() > 1e-3


def test_gyroscopes_integrate_to_the_attitudes_and_to_the_ankles_angle(perfect):
    worn = stretch(perfect, perfect.worn_s[0] + 1.0, perfect.sets_s[0][1])
    attitudes = []
    for gyroscope, truth in (
        (perfect.shank_gyroscope_rad_s[worn], perfect.shank_attitude[worn]),
        (perfect.foot_gyroscope_rad_s[worn], perfect.foot_attitude[worn]),
    ):
        attitude = integrated(gyroscope, truth[0], perfect.rate_hz)
        assert np.degrees((attitude.inv() * truth).magnitude().max()) < 0.5
        attitudes.append(attitude)
    # the ankle turns about its axis, and while walking the heel about another: look at the calibration and the set
    relative = attitudes[0].inv() * attitudes[1]
    first = stretch(perfect, *perfect.calibration_s).start - worn.start
    turned = np.degrees((relative[first].inv() * relative).magnitude())
    angle_deg = perfect.angle_deg[worn]
    for start_s, stop_s in (perfect.calibration_s, perfect.sets_s[0]):
        part = slice(round(start_s * perfect.rate_hz) - worn.start, round(stop_s * perfect.rate_hz) - worn.start)
        assert np.abs(turned[part] - np.abs(angle_deg[part] - angle_deg[first])).max() < 0.8


def test_gyroscopes_follow_the_sensors_from_the_table_onto_the_leg(perfect):
    """Turned on from how it lies on the table, each sensor knows where up is once it is taped on."""
    taped = round(perfect.worn_s[0] * perfect.rate_hz)
    for accelerometer, gyroscope, truth in (
        (perfect.shank_accelerometer_m_s2, perfect.shank_gyroscope_rad_s, perfect.shank_attitude),
        (perfect.foot_accelerometer_m_s2, perfect.foot_gyroscope_rad_s, perfect.foot_attitude),
    ):
        on_table, _ = Rotation.align_vectors([[0.0, 0.0, 1.0]], [accelerometer[0]])
        carried = integrated(gyroscope[: taped + 1], on_table, perfect.rate_hz)
        up = [each.apply([0.0, 0.0, 1.0], inverse=True) for each in (carried[taped], truth[taped])]
        assert np.degrees(np.arccos(np.clip(np.dot(*up), -1.0, 1.0))) < 0.1
        assert np.degrees((carried[0].inv() * carried[taped]).magnitude()) > 10.0


def test_accelerometers_feel_gravity_and_how_the_sensor_moves_through_space(perfect):
    """Force over mass is the second derivative of the place, less gravity; walking included."""
    worn = stretch(perfect, perfect.worn_s[0] + 1.0, perfect.sets_s[0][1])
    for accelerometer, attitude, place in (
        (perfect.shank_accelerometer_m_s2, perfect.shank_attitude, perfect.shank_position_m),
        (perfect.foot_accelerometer_m_s2, perfect.foot_attitude, perfect.foot_position_m),
    ):
        felt = attitude[worn].apply(accelerometer[worn]) - [0.0, 0.0, 9.81]
        # differences over 10 ms fall short at the thump of a step, where the acceleration jumps
        moved = np.diff(place[worn], n=2, axis=0) * perfect.rate_hz**2
        off = felt[1:-1] - moved
        assert np.abs(felt).max() > 5.0
        assert np.median(np.abs(off)) < 0.002
        assert np.sqrt(np.mean(off**2)) < 0.1


def test_axis_given_as_truth_stands_still_in_both_sensors(perfect):
    part = stretch(perfect, *perfect.calibration_s)
    seen = [
        attitude[part].apply(axis)
        for attitude, axis in (
            (perfect.shank_attitude, perfect.shank_axis),
            (perfect.foot_attitude, perfect.foot_axis),
        )
    ]
    assert np.degrees(np.arccos(np.einsum("ij,ij->i", *seen).clip(-1, 1))).max() < 0.8  # the heel turns a little
    assert np.degrees(np.arcsin(np.abs(seen[0][:, 2]))).max() < 16.0  # oblique, but near level


def test_same_seed_same_session_other_seed_another(leg, perfect):
    course = leg.Course(sets=1, repetitions=3)
    again = leg.replay(1, course, perfect=True)
    assert np.array_equal(again.foot_accelerometer_m_s2, perfect.foot_accelerometer_m_s2)
    other = leg.replay(2, course, perfect=True)
    assert not np.allclose(other.foot_accelerometer_m_s2[0], perfect.foot_accelerometer_m_s2[0])


def test_faults_have_the_sizes_asked_for(leg, perfect):
    faulty = leg.replay(1, leg.Course(sets=1, repetitions=3))
    table = stretch(faulty, 0.0, 24.0)
    off = faulty.foot_gyroscope_rad_s[table]
    assert np.degrees(np.linalg.norm(off.mean(axis=0))) == pytest.approx(0.4, rel=0.25)
    assert np.degrees(off.std(axis=0)) == pytest.approx([0.1] * 3, rel=0.1)
    assert faulty.foot_accelerometer_m_s2[table].std(axis=0) == pytest.approx([0.03] * 3, rel=0.1)
    # skin: the foot sensor turns against the foot by 0.8 degrees RMS while it moves
    part = stretch(faulty, *faulty.sets_s[0])
    skin = (faulty.foot_attitude[part].inv() * perfect.foot_attitude[part]).magnitude()
    assert np.degrees(np.sqrt(np.mean(skin**2))) == pytest.approx(0.8, abs=0.3)


@pytest.fixture(scope="module", params=[11, 12, 13])
def analysed(leg, request):
    """Analyse a session of 3 x 8 with noise, bias, skin and table against its plan; only the plan is told."""
    course = leg.Course(repetitions=8)
    replay = leg.replay(request.param, course)
    nothing_missing = np.zeros(len(replay.angle_deg), dtype=bool)
    recording = Recording(
        rate_hz=replay.rate_hz,
        sensors={
            "shank": Sensor(
                "shank", replay.shank_accelerometer_m_s2, replay.shank_gyroscope_rad_s, None, nothing_missing
            ),
            "foot": Sensor("foot", replay.foot_accelerometer_m_s2, replay.foot_gyroscope_rad_s, None, nothing_missing),
        },
        label="independent",
        task="heeldrop",
    )
    exercise = Exercise(
        name="heeldrop",
        joint="ankle",
        motion="dorsiflexion",
        side="left",
        proximal="shank",
        distal="foot",
        calibration_movement="plantarflexion",
        sets=course.sets,
        repetitions=course.repetitions,
        end_range_deg=(8.0, 16.0),
        limit_deg=25.0,
        compression_threshold=CompressionThreshold(deg=course.end_range_deg - 4.0, basis="clinician"),
    )
    plan = Plan("Independent", "achilles insertion", (Stage("only one", (exercise,)),), "only one")
    # the simulator's gyroscope gives the rate at the sample's instant
    instants = Settings(angle=AngleSettings(gyroscope_samples="instants"))
    return replay, analyse(recording, plan, settings=instants)


def test_worn_part_begins_when_both_sensors_are_on(analysed):
    replay, session = analysed
    (answer,) = session.exercises
    # the second sensor comes to rest on the foot two seconds before the truth calls both worn
    assert replay.worn_s[0] - 6.0 < answer.worn_start_s < replay.neutral_s[0]
    assert answer.worn_stop_s > replay.worn_s[1] - 2.0


def test_pose_and_calibration_are_where_they_were(analysed):
    replay, session = analysed
    (answer,) = session.exercises
    assert replay.neutral_s[0] - 2.0 < answer.zero.start_s < answer.zero.stop_s < replay.neutral_s[1] + 2.0
    assert answer.alignment.sign_source == "calibration movement"
    assert answer.alignment.calibration_start_s == pytest.approx(replay.calibration_s[0], abs=1.5)
    assert answer.alignment.calibration_stop_s == pytest.approx(replay.calibration_s[1], abs=2.0)


def test_ankle_angle_within_the_sets_is_the_simulators(analysed):
    """Sign and zero included: here the neutral pose is the joint's true zero but for sway."""
    replay, session = analysed
    off_deg = session.exercises[0].trace.angle_deg - replay.angle_deg
    for each in replay.sets_s:
        inside = off_deg[stretch(replay, *each)]
        assert inside.std() < 0.75
        assert np.sqrt(np.mean(inside**2)) < 1.0


def test_repetitions_are_the_simulators_and_so_are_their_end_ranges(analysed):
    replay, session = analysed
    sets = session.exercises[0].comparison.sets
    assert [(each.complete, each.partial) for each in sets] == [(8, 0)] * 3
    end_off_deg, held_off_deg = [], []
    for one, windows in zip(sets, replay.repetitions_s, strict=True):
        assert (one.start_s, one.stop_s) == pytest.approx((windows[0][0], windows[-1][2]), abs=0.5)
        for compared, (start_s, bottom_s, stop_s) in zip(one.repetitions, windows, strict=True):
            repetition = compared.repetition
            assert repetition.start_s == pytest.approx(start_s, abs=0.4)
            assert repetition.stop_s == pytest.approx(stop_s, abs=0.4)
            assert bottom_s - 0.4 < repetition.end_range_s < stop_s
            truth_deg = replay.angle_deg[stretch(replay, start_s, stop_s)]
            end_off_deg.append(repetition.end_range_deg - truth_deg.max())
            held_off_deg.append(repetition.held_deg - np.median(truth_deg[truth_deg > truth_deg.max() - 2.0]))
    assert np.mean(np.abs(end_off_deg) < 1.3) >= 0.95
    assert np.mean(np.abs(held_off_deg) < 1.3) >= 0.95
    assert abs(np.median(end_off_deg)) < 0.5
    assert abs(np.median(held_off_deg)) < 0.5


def test_time_past_the_compressive_angle_is_the_simulators(analysed):
    replay, session = analysed
    (answer,) = session.exercises
    threshold_deg = answer.exercise.compression_threshold.deg
    for one in answer.comparison.sets:
        truth_s = np.sum(replay.angle_deg[stretch(replay, one.start_s, one.stop_s)] > threshold_deg) / replay.rate_hz
        assert truth_s > 15.0
        assert one.exposure.past_threshold_s == pytest.approx(truth_s, abs=max(1.0, 0.05 * truth_s))
        assert one.exposure.past_threshold_low_s < truth_s < one.exposure.past_threshold_high_s
