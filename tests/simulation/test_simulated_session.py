"""The truth of a simulated session is exact: SciPy's Rotation and plain mechanics get it back from what is measured."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from imu_rom.errors import SettingError
from imu_rom.simulation import Person, Routine, SensorErrors, simulate_session

SHORT = Routine(sets=2, repetitions=3, rest_s=30)
KNEE = Routine(
    joint="knee",
    proximal="thigh",
    distal="shank",
    sets=2,
    repetitions=3,
    rest_s=30,
    start_deg=8,
    end_range_deg=60,
    calibration_sign=1,
    calibration_deg=(35, 55),
)
RIGID = Person(wobble_deg=0)
ROUTINES = pytest.mark.parametrize("routine", [SHORT, KNEE], ids=["ankle", "knee"])


def samples(interval, rate_hz):
    return slice(round(interval.start_s * rate_hz) + 1, round(interval.stop_s * rate_hz))


def on_segment(truth, which):
    return Rotation.from_quat(truth.sensors[which]) * truth.body.mountings[which].inv()


@ROUTINES
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_segments_are_joined_by_a_hinge_at_the_true_angle(routine, seed):
    truth = simulate_session(seed, routine).truth
    relative = Rotation.from_quat(truth.segments["proximal"]).inv() * Rotation.from_quat(truth.segments["distal"])
    expected = Rotation.from_rotvec(np.deg2rad(truth.angle_deg)[:, None] * truth.body.axis)
    assert np.max((relative.inv() * expected).magnitude()) < 1e-12
    assert np.linalg.norm(truth.body.axis) == pytest.approx(1, abs=1e-12)
    # oblique, but by no more than the person says
    assert np.rad2deg(np.arccos(abs(truth.body.axis[1]))) < np.hypot(8, 10)


@ROUTINES
def test_rigidly_worn_sensors_hold_the_true_angle(routine):
    truth = simulate_session(4, routine, RIGID).truth
    worn = samples(truth.worn, truth.rate_hz)
    relative = (on_segment(truth, "proximal").inv() * on_segment(truth, "distal")).as_rotvec()
    assert np.max(np.abs(np.rad2deg(relative @ truth.body.axis) - truth.angle_deg)[worn]) < 1e-9
    # off the limb they hold something else
    assert np.max(np.abs(np.rad2deg(relative @ truth.body.axis) - truth.angle_deg)[: worn.start - 100]) > 10


@ROUTINES
def test_gyroscope_integrates_to_the_attitude(routine):
    session = simulate_session(5, routine, errors=SensorErrors.none(), rate_hz=200)
    for which, sensor in zip(("proximal", "distal"), session.recording.sensors.values(), strict=True):
        attitude = Rotation.from_quat(session.truth.sensors[which])
        turns = Rotation.from_rotvec(sensor.gyroscope_rad_s[1:] / 200)
        # the turns one after another, two by two
        while len(turns) > 1:
            odd, even = turns[-1], turns[: len(turns) // 2 * 2]
            pairs = even[::2] * even[1::2]
            turns = pairs if len(turns) % 2 == 0 else Rotation.concatenate([pairs, odd])
        assert (attitude[0] * turns[0] * attitude[-1].inv()).magnitude() < 1e-9


@pytest.mark.parametrize("rate_hz", [50, 100])
def test_gyroscope_gives_the_mean_rate_of_its_interval(rate_hz):
    session = simulate_session(5, SHORT, errors=SensorErrors.none(), rate_hz=rate_hz)
    worn = samples(session.truth.worn, rate_hz)
    for which, sensor in zip(("proximal", "distal"), session.recording.sensors.values(), strict=True):
        attitude = Rotation.from_quat(session.truth.sensors[which])
        turned = (attitude[:-1].inv() * attitude[1:]).as_rotvec() * rate_hz
        # a mean rate is not quite a turn while the axis changes: less than 2 % of the largest rate
        difference = np.abs(turned - sensor.gyroscope_rad_s[1:])[worn]
        assert difference.max() < 0.02 * np.abs(turned[worn]).max()
        assert difference.max() > 0


def test_accelerometer_at_rest_on_the_table_shows_gravity_alone():
    session = simulate_session(6, SHORT, errors=SensorErrors.none())
    for which, sensor in zip(("proximal", "distal"), session.recording.sensors.values(), strict=True):
        table = sensor.accelerometer_m_s2[:400]
        up = Rotation.from_quat(session.truth.sensors[which][:400]).inv().apply([0, 0, 9.81])
        assert np.max(np.abs(table - up)) < 1e-12
        assert np.max(np.abs(sensor.gyroscope_rad_s[:400])) < 1e-12


def test_sensors_lie_on_the_table_in_different_attitudes():
    truth = simulate_session(6, SHORT).truth
    first = {which: Rotation.from_quat(quaternions[0]) for which, quaternions in truth.sensors.items()}
    assert (first["proximal"].inv() * first["distal"]).magnitude() > 0.1


@ROUTINES
def test_specific_force_integrates_to_the_way_of_the_sensor(routine):
    rate_hz = 200
    session = simulate_session(7, routine, RIGID, SensorErrors.none(), rate_hz=rate_hz)
    truth = session.truth
    repetition = truth.repetitions[1]
    window = slice(round(repetition.start_s * rate_hz) - 20, round(repetition.hold_stop_s * rate_hz))
    attitudes = {which: Rotation.from_quat(values) for which, values in truth.segments.items()}
    # plain geometry: where the sensors sit relative to the point that stays on the floor
    if routine.joint == "ankle":
        levers = {"distal": (-0.17, 0, 0.05), "joint": (-0.13, 0, 0.08), "proximal": (0.02, 0.03, 0.22)}
    else:
        levers = {"distal": (0.02, 0.03, 0.25), "joint": (0, 0, 0.41), "proximal": (0.06, 0, 0.2)}
    way = {"distal": attitudes["distal"].apply(levers["distal"])}
    way["proximal"] = attitudes["distal"].apply(levers["joint"]) + attitudes["proximal"].apply(levers["proximal"])
    for which, sensor in zip(("proximal", "distal"), session.recording.sensors.values(), strict=True):
        force = Rotation.from_quat(truth.sensors[which]).apply(np.array(sensor.accelerometer_m_s2)) - [0, 0, 9.81]
        position = way[which][window]
        velocity = (position[1] - position[0]) * rate_hz + np.cumsum(force[window][1:], axis=0) / rate_hz
        walked = position[1] + np.cumsum(velocity, axis=0) / rate_hz
        assert np.max(np.abs(walked[:-1] - position[2:])) < 1e-6
        assert np.ptp(position[:, 2]) > 0.005


def test_a_standing_person_sways_and_a_table_does_not():
    session = simulate_session(8, SHORT)
    pose = samples(session.truth.pose, 100)
    for sensor in session.recording.sensors.values():
        size = np.linalg.norm(sensor.gyroscope_rad_s, axis=1)
        smooth = np.convolve(size, np.full(50, 1 / 50), mode="same")
        assert smooth[pose].std() > 3 * smooth[100:400].std()
    assert 0.05 < session.truth.angle_deg[pose].std() < 1.5


def test_wobble_has_the_size_that_the_person_says():
    found = []
    for seed in range(2):
        truth = simulate_session(seed, Routine()).truth
        for which in ("proximal", "distal"):
            skin = Rotation.from_quat(truth.segments[which]).inv() * on_segment(truth, which)
            angle = np.rad2deg(skin.magnitude())
            found.append(np.sqrt(np.mean(angle[truth.within_sets] ** 2)))
            assert np.sqrt(np.mean(angle[samples(truth.pose, 100)] ** 2)) < 0.4
    assert np.mean(found) == pytest.approx(0.8, abs=0.03)


def test_locked_soft_tissue_hides_its_share_of_the_excursion():
    truth = simulate_session(9, SHORT, Person(wobble_deg=0, locked_share=(0.05, 0.10))).truth
    relative = (on_segment(truth, "proximal").inv() * on_segment(truth, "distal")).as_rotvec()
    seen = np.rad2deg(relative @ truth.body.axis)[truth.within_sets]
    share = 1 - np.polyfit(truth.angle_deg[truth.within_sets], seen, 1)[0]
    assert 0.05 < share < 0.10


@pytest.mark.parametrize("shift", [-4.0, 3.0])
def test_neutral_pose_is_off_by_the_zero_shift(shift):
    person = Person(zero_shift_mean_deg=shift, zero_shift_sd_deg=0)
    truth = simulate_session(10, SHORT, person).truth
    assert truth.zero_shift_deg == pytest.approx(shift, abs=0.5)
    assert truth.zero_shift_deg == pytest.approx(truth.angle_deg[samples(truth.pose, 100)].mean(), abs=0.01)
    # the foot is flat: its forward axis is level
    forward = Rotation.from_quat(truth.segments["distal"]).apply([1, 0, 0])[samples(truth.pose, 100)]
    assert np.rad2deg(np.abs(np.arcsin(forward[:, 2]))).max() < 0.5


def test_zero_shift_varies_between_sessions_as_the_person_says():
    shifts = [simulate_session(seed, Routine(sets=1, repetitions=1)).truth.zero_shift_deg for seed in range(12)]
    assert 1.0 < np.std(shifts) < 3.2
    assert abs(np.mean(shifts)) < 1.8


def test_sensor_errors_have_the_sizes_that_they_say():
    biases, offsets = [], []
    for seed in range(5):
        clean = simulate_session(seed, Routine(sets=1, repetitions=1), errors=SensorErrors.none()).recording
        real = simulate_session(seed, Routine(sets=1, repetitions=1)).recording
        for point, sensor in real.sensors.items():
            error = np.rad2deg(sensor.gyroscope_rad_s - clean.sensors[point].gyroscope_rad_s)
            biases.extend(error[:500].mean(axis=0))
            assert np.diff(error, axis=0).std() / np.sqrt(2) == pytest.approx(0.07, rel=0.1)
            error = sensor.accelerometer_m_s2 - clean.sensors[point].accelerometer_m_s2
            offsets.extend(error.mean(axis=0))
    assert np.std(biases) == pytest.approx(0.4, rel=0.3)
    assert np.std(offsets) == pytest.approx(0.1, rel=0.3)


def test_gyroscope_bias_drifts():
    errors = SensorErrors(gyroscope_drift_deg_s=0.5, gyroscope_noise_deg_s=0)
    clean = simulate_session(11, SHORT, errors=SensorErrors.none()).recording.sensor("foot")
    real = simulate_session(11, SHORT, errors=errors).recording.sensor("foot")
    error = np.rad2deg(real.gyroscope_rad_s - clean.gyroscope_rad_s)
    minutes = len(error) / 6000
    assert 0 < np.abs(error[-1] - error[0]).max() < 4 * 0.5 * np.sqrt(minutes / 10)


def test_same_seed_same_session_and_another_seed_another():
    first, again, other = (simulate_session(seed, SHORT) for seed in (12, 12, 13))
    for point in first.recording.sensors:
        one, two = first.recording.sensors[point], again.recording.sensors[point]
        assert one.gyroscope_rad_s.tobytes() == two.gyroscope_rad_s.tobytes()
        assert one.accelerometer_m_s2.tobytes() == two.accelerometer_m_s2.tobytes()
    assert first.truth.sets == again.truth.sets
    assert first.truth.sets != other.truth.sets


def test_the_rate_changes_the_samples_and_not_what_is_done():
    slow, fast = (simulate_session(14, SHORT, rate_hz=rate_hz) for rate_hz in (50, 100))
    assert slow.truth.sets == fast.truth.sets
    assert np.array_equal(slow.truth.angle_deg, fast.truth.angle_deg[::2])
    assert slow.recording.sample_count == len(slow.truth.angle_deg)


@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 10**6), knee=st.booleans())
def test_repetitions_lie_in_order_and_their_angles_are_those_of_the_course(seed, knee):
    truth = simulate_session(seed, KNEE if knee else SHORT, rate_hz=50).truth
    assert [len(one.repetitions) for one in truth.sets] == [3, 3]
    edges = [truth.worn.start_s, truth.pose.start_s, truth.pose.stop_s, truth.calibration.start_s]
    edges += [truth.calibration.stop_s]
    for repetition in truth.repetitions:
        edges += [repetition.start_s, repetition.hold_start_s, repetition.hold_stop_s, repetition.stop_s]
        assert repetition.start_s < repetition.end_range_s <= repetition.stop_s
        inside = truth.angle_deg[round(repetition.start_s * 50) : round(repetition.stop_s * 50) + 1]
        assert repetition.end_range_deg == pytest.approx(inside.max(), abs=0.2)
        assert repetition.held_deg <= repetition.end_range_deg
        assert repetition.end_range_deg > inside[0] + 15
        assert abs(inside[-1] - inside[0]) < 10
    assert np.all(np.diff([*edges, truth.worn.stop_s]) >= 0)
    for walk in truth.walking:
        assert not any(walk.start_s < one.stop_s and one.start_s < walk.stop_s for one in truth.sets)


def test_past_threshold_counts_the_samples_past_it():
    truth = simulate_session(15, SHORT).truth
    expected = [
        np.mean(truth.angle_deg[round(one.start_s * 100) : round(one.stop_s * 100) + 1] > 4)
        * (round(one.stop_s * 100) + 1 - round(one.start_s * 100))
        / 100
        for one in truth.sets
    ]
    assert truth.past_threshold_s(4) == pytest.approx(expected)
    assert truth.past_threshold_s(90) == (0.0, 0.0)


def test_the_calibration_movement_goes_the_way_the_routine_says():
    for routine, sign in ((SHORT, -1), (KNEE, 1)):
        truth = simulate_session(16, routine).truth
        angle = truth.angle_deg[samples(truth.calibration, 100)] - truth.zero_shift_deg
        assert np.abs(angle).max() == pytest.approx(sign * angle[np.argmax(np.abs(angle))])
        assert np.abs(angle).max() > 18


def test_people_turn_round_and_tread_hard_between_the_sets():
    session = simulate_session(17, SHORT)
    truth = session.truth
    between = slice(round(truth.sets[0].stop_s * 100), round(truth.sets[1].start_s * 100))
    forward = Rotation.from_quat(truth.segments["proximal"]).apply([1, 0, 0])[between]
    yaw = np.unwrap(np.arctan2(forward[:, 1], forward[:, 0]))
    assert np.ptp(yaw) > np.deg2rad(150)
    force = np.linalg.norm(session.recording.sensor("foot").accelerometer_m_s2, axis=1)
    assert force[between].max() > 20
    assert force[truth.within_sets].max() < 15


@pytest.mark.parametrize("rate_hz", [5, 2000, float("nan")])
def test_a_rate_out_of_range_is_refused(rate_hz):
    with pytest.raises(SettingError, match="must lie in 20 to 1000 Hz"):
        simulate_session(1, SHORT, rate_hz=rate_hz)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_no_sensor_ever_jumps(seed):
    truth = simulate_session(seed, SHORT).truth
    for quaternions in truth.sensors.values():
        attitude = Rotation.from_quat(quaternions)
        assert np.rad2deg((attitude[:-1].inv() * attitude[1:]).magnitude()).max() * 100 < 1500


def test_phases_take_the_time_that_the_routine_says():
    repetitions = simulate_session(18, Routine()).truth.repetitions
    means = [
        np.mean([getattr(each, name) for each in repetitions]) for name in ("eccentric_s", "hold_s", "concentric_s")
    ]
    assert means == pytest.approx([2.5, 2.0, 1.5], rel=0.1)
    for each in repetitions:
        assert each.eccentric_s + each.hold_s + each.concentric_s == pytest.approx(each.stop_s - each.start_s)
