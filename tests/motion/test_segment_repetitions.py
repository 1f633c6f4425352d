"""Counting from one sensor: made movements, simulated sessions and real sets, and what must not matter."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from imu_rom.errors import RecordingError
from imu_rom.motion.segment_repetitions import count_segment_repetitions
from imu_rom.settings import Settings
from imu_rom.simulation import Person, Routine, simulate_session

GRAVITY_M_S2 = 9.80665
SQUAT = Routine(
    joint="knee",
    proximal="thigh",
    distal="shank",
    task="squat",
    start_deg=8.0,
    end_range_deg=60.0,
    calibration_sign=1,
    calibration_deg=(35.0, 55.0),
    pause_probability=0.0,
)
DROP = Routine(pause_probability=0.0, on_floor=True, end_range_deg=0.0)


def minimum_jerk(part):
    return 10 * part**3 - 15 * part**4 + 6 * part**5


def movement(rate_hz, pieces, begin=0.0):
    """Angle over time from pieces of (seconds, angle at its end), degrees."""
    angle, now = [], begin
    for seconds, goal in pieces:
        part = np.arange(round(seconds * rate_hz)) / round(seconds * rate_hz)
        angle.append(now + (goal - now) * minimum_jerk(part))
        now = goal
    return np.concatenate(angle)


def repeated(number, depth=40.0, out_s=1.2, back_s=1.2, hold_s=0.4, pause_s=0.4):
    return [(out_s, depth), (hold_s, depth), (back_s, 0.0), (pause_s, 0.0)] * number


def measured(
    angle_deg, rate_hz, *, axis=(0.3, 0.9, -0.2), lean=(40.0, 20.0), noise=0.01, seed=0, aside=None, height_m=None
):
    """Measure a segment that turns about an axis fixed in its sensor, and aside about another one; no lever."""
    axis = np.array(axis) / np.linalg.norm(axis)
    attitude = Rotation.from_euler("xy", lean, degrees=True) * Rotation.from_rotvec(
        np.radians(angle_deg)[:, None] * axis
    )
    if aside is not None:
        other = np.cross(axis, [0.0, 0.0, 1.0])
        attitude = attitude * Rotation.from_rotvec(np.radians(aside)[:, None] * other / np.linalg.norm(other))
    rate = (attitude[:-1].inv() * attitude[1:]).as_rotvec() * rate_hz
    rate = np.vstack([rate[:1], (rate[1:] + rate[:-1]) / 2, rate[-1:]])
    upward = np.zeros(len(angle_deg)) if height_m is None else np.gradient(np.gradient(height_m)) * rate_hz**2
    force = attitude.inv().apply(np.stack([0 * upward, 0 * upward, GRAVITY_M_S2 + upward], axis=1))
    chance = np.random.default_rng(seed)
    return force + chance.normal(0, noise, force.shape), rate + chance.normal(0, noise / 5, rate.shape)


def count(samples, rate_hz, **others):
    return count_segment_repetitions(*samples, np.zeros(len(samples[0]), dtype=bool), rate_hz, **others)


def counts(samples, rate_hz, **others):
    return [each.count for each in count(samples, rate_hz, **others).sets]


REST = [(8.0, 0.0)]


@pytest.mark.parametrize("rate_hz", [40.0, 50.0, 60.0, 100.0, 104.0, 200.0])
def test_repetitions_between_two_rests_are_counted_at_any_rate(rate_hz):
    angle = movement(rate_hz, [*REST, *repeated(7), *REST])
    (only,) = count(measured(angle, rate_hz), rate_hz).sets
    assert (only.count, only.least, only.most) == (7, 7, 7)
    assert only.decided
    assert only.regularity > 0.95
    assert only.excursion_deg == pytest.approx(40.0, abs=1.0)
    assert not only.cut_start
    assert not only.cut_stop


def test_times_and_tempo_are_those_of_the_movement():
    angle = movement(100.0, [*REST, *repeated(8, out_s=2.0, hold_s=1.0, back_s=1.2, pause_s=0.8), *REST])
    (only,) = count(measured(angle, 100.0), 100.0).sets
    for number, each in enumerate(only.done.repetitions):
        assert each.start_s == pytest.approx(8.0 + 5.0 * number, abs=0.2)
        assert each.stop_s == pytest.approx(8.0 + 5.0 * number + 4.2, abs=0.2)
        assert each.eccentric_s == pytest.approx(2.0, abs=0.25)
        assert each.hold_s == pytest.approx(1.0, abs=0.35)
        assert each.concentric_s == pytest.approx(1.2, abs=0.25)


@given(
    number=st.integers(3, 12),
    depth=st.floats(15.0, 120.0),
    out_s=st.floats(0.4, 3.0),
    back_s=st.floats(0.4, 3.0),
    hold_s=st.floats(0.1, 3.0),
    sign=st.sampled_from([-1, 1]),
)
@settings(max_examples=25, deadline=None)
def test_depth_tempo_number_and_direction_of_the_movement_do_not_matter(number, depth, out_s, back_s, hold_s, sign):
    pieces = [*REST, *repeated(number, sign * depth, out_s, back_s, hold_s), *REST]
    assert counts(measured(movement(50.0, pieces), 50.0), 50.0) == [number]


def test_speeding_up_within_a_set_does_not_matter():
    pieces = [piece for step in range(12) for piece in repeated(1, out_s=2.4 - 0.15 * step, back_s=2.4 - 0.15 * step)]
    assert counts(measured(movement(50.0, [*REST, *pieces, *REST]), 50.0), 50.0) == [12]


def test_two_peaks_in_a_repetition_are_one_repetition():
    # to the end, half-way back, to the end again, back: and another movement aside, once a repetition
    one = [(1.0, 50.0), (0.5, 30.0), (0.5, 50.0), (1.0, 0.0), (0.3, 0.0)]
    turned = [(1.0, 10.0), (0.5, 18.0), (0.5, 0.0), (1.0, 0.0), (0.3, 0.0)]
    angle, aside = (movement(50.0, [*REST, *each * 9, *REST]) for each in (one, turned))
    assert counts(measured(angle, 50.0, aside=aside), 50.0) == [9]


@pytest.mark.parametrize("number", [6, 9, 15])
def test_turning_to_and_fro_on_the_way_up_and_again_on_the_way_down_is_one_repetition(number):
    angle = movement(50.0, [*REST, *[(0.6, 25.0), (0.6, 0.0)] * (2 * number), *REST])
    height = movement(50.0, [*REST, *[(1.2, 0.35), (1.2, 0.0)] * number, *REST])
    (only,) = count(measured(angle, 50.0, height_m=height), 50.0).sets
    assert only.least <= number <= only.most
    assert only.count == number
    # the same turning without it is what it looks like
    assert counts(measured(angle, 50.0), 50.0) == [2 * number]


def test_bringing_the_limb_into_place_is_no_repetition():
    # the limb is raised by another movement first and lowered by it afterwards
    pause = [(1.5, 0.0)]
    angle = movement(50.0, [*REST, (1.5, 0.0), *pause, *repeated(9), *pause, (1.5, 0.0), *REST])
    raised = movement(50.0, [*REST, (1.5, 60.0), (len(angle) / 50.0 - 19.0, 60.0), (1.5, 0.0), *REST], begin=0.0)
    assert counts(measured(angle, 50.0, aside=raised[: len(angle)]), 50.0) == [9]


def test_a_way_half_as_long_to_and_from_the_start_position_is_no_repetition():
    approach = [(1.0, -20.0), (0.5, -20.0)]
    pieces = [*REST, *approach, *[(1.2, 20.0), (0.4, 20.0), (1.2, -20.0), (0.4, -20.0)] * 8, (1.0, 0.0), *REST]
    assert counts(measured(movement(50.0, pieces), 50.0), 50.0) == [8]


def test_a_last_way_without_a_way_back_leaves_the_count_undecided():
    pieces = [*REST, *repeated(6), (1.2, 40.0), (8.0, 40.0)]
    (only,) = count(measured(movement(50.0, pieces), 50.0), 50.0).sets
    assert (only.least, only.most) == (6, 7)
    assert not only.decided


def test_a_recording_that_begins_and_ends_within_repetitions_says_so():
    angle = movement(50.0, repeated(10))[40:-60]
    (only,) = count(measured(angle, 50.0), 50.0).sets
    # begun and ended within the end range: nine times back and out, or ten repetitions of which two are half seen
    assert (only.least, only.most) == (9, 10)
    assert only.cut_start
    assert only.cut_stop


def test_a_set_that_the_recording_cuts_is_never_decided():
    angle = movement(50.0, [*REST, *repeated(9)])
    for samples in (angle[:-30], angle[:-30][::-1]):
        (only,) = count(measured(samples, 50.0), 50.0).sets
        assert only.count == 9
        assert (only.least, only.most) == (9, 10)
        assert not only.decided


@pytest.mark.parametrize("reverse", [False, True])
@pytest.mark.parametrize(("seen", "counted"), [(0.25, 8), (0.35, 8), (0.65, 9), (0.75, 9)])
@pytest.mark.parametrize(("out_s", "bulge"), [(0.5, 0.0), (1.2, 30.0)])
def test_a_quick_or_curved_way_that_the_edge_cuts_counts_where_more_than_half_of_it_was_seen(
    out_s, bulge, seen, counted, reverse
):
    # the recording begins within a way back; the limb goes round and not straight there where it bulges
    angle = movement(50.0, [*repeated(9, out_s=out_s, back_s=out_s, hold_s=0.1, pause_s=0.1), *REST])
    highest = round((out_s + 0.05) * 50.0)
    begin = highest + int(np.flatnonzero(angle[highest:] < seen * 40.0)[0])
    aside = bulge * np.sin(np.pi * angle / 40.0) ** 2
    force, rate = measured(angle[begin:], 50.0, aside=aside[begin:])
    samples = (force[::-1], -rate[::-1]) if reverse else (force, rate)
    assert counts(samples, 50.0) == [counted]


def test_a_person_who_finds_the_form_during_the_first_repetitions_has_them_counted():
    # the plane turns by 60 degrees, 12 with each of the first five of twelve
    angle = movement(50.0, [*REST, *repeated(12), *REST])
    elapsed = np.arange(len(angle)) / 50.0 - REST[0][0]
    turned = np.radians(60.0) * (1.0 - np.clip(elapsed / (5 * 3.2), 0.0, 1.0))
    assert counts(measured(angle * np.cos(turned), 50.0, aside=angle * np.sin(turned)), 50.0) == [12]


@pytest.mark.parametrize("first_s", [8.0, 17.6, 30.4])
def test_jolts_in_a_set_that_goes_on_are_no_walking(first_s):
    # a band that snaps, a jerky movement: hard enough for steps, little harder than in the other repetitions
    angle = movement(50.0, [*REST, *repeated(10), *REST])
    force, rate = measured(angle, 50.0)
    at_s = np.arange(len(angle)) / 50.0
    moving = (at_s > 8.0) & (at_s < 40.0)
    harder = (at_s > first_s) & (at_s < first_s + 9.6)
    jolts = np.random.default_rng(1).normal(0.0, 1.0, len(angle)) * np.where(harder, 3.5, np.where(moving, 1.2, 0.0))
    up = force / np.linalg.norm(force, axis=1)[:, None]
    found = count((force + jolts[:, None] * up, rate), 50.0)
    assert [each.count for each in found.sets] == [10]


def test_rests_part_sets_and_pauses_that_every_repetition_has_do_not():
    pieces = [*REST, *repeated(6), *REST, *repeated(5), *REST]
    assert counts(measured(movement(50.0, pieces), 50.0), 50.0) == [6, 5]
    slow = [*REST, *repeated(5, hold_s=9.0, pause_s=1.0), *REST]
    assert counts(measured(movement(50.0, slow), 50.0), 50.0) == [5]


def test_two_exercises_in_a_row_are_two_sets():
    first = movement(50.0, [*REST, *repeated(7), (4.0, 0.0)])
    second = movement(50.0, [(4.0, 0.0), *repeated(9, depth=60.0, out_s=0.8, back_s=0.8), *REST])
    angle = np.concatenate([first, 0 * second])
    aside = np.concatenate([0 * first, second])
    assert counts(measured(angle, 50.0, aside=aside), 50.0) == [7, 9]


def test_nothing_is_counted_where_nothing_is_repeated():
    rate_hz = 50.0
    still = measured(np.zeros(3000), rate_hz)
    once = measured(movement(rate_hz, [*REST, (2.0, 80.0), (3.0, 80.0), (2.0, 20.0), *REST]), rate_hz)
    for samples in (still, once):
        assert count(samples, rate_hz).sets == ()


@pytest.mark.parametrize("smooth", [50, 100, 200])
def test_wandering_without_any_repetition_is_never_a_decided_count(smooth):
    for seed in range(6):
        chance = np.random.default_rng(seed)
        angle, aside = (np.convolve(chance.normal(0, 1, 3000), np.hanning(smooth), mode="same") for _ in range(2))
        samples = measured(angle * 15 / np.std(angle), 50.0, aside=aside * 15 / np.std(aside))
        assert not any(each.decided for each in count(samples, 50.0).sets)


def test_only_what_is_eligible_is_looked_at():
    angle = movement(50.0, [*REST, *repeated(6), *REST, *repeated(5), *REST])
    eligible = np.arange(len(angle)) > 28 * 50
    assert counts(measured(angle, 50.0), 50.0, eligible=eligible) == [5]


def test_a_gap_within_a_set_hides_what_was_in_it():
    angle = movement(50.0, [*REST, *repeated(12), *REST])
    samples = measured(angle, 50.0)
    missing = np.zeros(len(angle), dtype=bool)
    missing[1100:1300] = True
    found = count_segment_repetitions(*samples, missing, 50.0).sets
    assert 10 <= sum(each.count for each in found) <= 12
    assert max(each.stop_s for each in found[0].done.repetitions) < 22.1
    assert min(each.start_s for each in found[-1].done.repetitions) > 25.9
    assert found[0].cut_stop
    assert found[-1].cut_start


def test_small_movements_need_the_setting():
    angle = movement(50.0, [*REST, *repeated(8, depth=5.0), *REST])
    assert counts(measured(angle, 50.0), 50.0) == []
    small = replace(Settings(), repetitions=replace(Settings().repetitions, smallest_excursion_deg=3.0))
    assert counts(measured(angle, 50.0), 50.0, settings=small) == [8]


def test_wrong_shapes_are_said_in_one_sentence():
    samples = measured(np.zeros(500), 50.0)
    with pytest.raises(RecordingError, match=r"missing must have the shape \(500,\)"):
        count_segment_repetitions(*samples, np.zeros(499, dtype=bool), 50.0)


def mounted(samples, quaternion):
    turn = Rotation.from_quat(quaternion)
    return tuple(turn.apply(each) for each in samples)


QUATERNIONS = st.tuples(*[st.floats(-1, 1)] * 4).filter(lambda q: np.linalg.norm(q) > 0.1)


@pytest.fixture(scope="module")
def some_sets(shoulder_people):
    """One set of each exercise, people 1 to 5."""
    rate_hz, sets = shoulder_people
    chosen = {}
    for each in sets:
        if each.person <= 5:
            chosen[each.exercise] = each
    return rate_hz, [(each.accelerometer_m_s2, each.gyroscope_rad_s) for each in chosen.values()]


@given(quaternion=QUATERNIONS, number=st.integers(0, 6))
@settings(max_examples=15, deadline=None)
def test_mounting_does_not_matter_on_real_sets(some_sets, quaternion, number):
    rate_hz, sets = some_sets
    samples = sets[number]
    assert counts(mounted(samples, quaternion), rate_hz) == counts(samples, rate_hz)


def test_time_reversed_and_mirrored_real_sets_have_the_same_count(some_sets):
    rate_hz, sets = some_sets
    for force, rate in sets:
        usual = counts((force, rate), rate_hz)
        assert counts((force[::-1], -rate[::-1]), rate_hz) == usual
        # in a mirror: one axis of a vector changes its sign, the other two of a turn do
        assert counts((force * [-1, 1, 1], rate * [1, -1, -1]), rate_hz) == usual


@pytest.mark.parametrize(
    ("routine", "point", "rate_hz"),
    [
        (DROP, "foot", 40.0),
        (DROP, "foot", 200.0),
        (SQUAT, "thigh", 50.0),
        (SQUAT, "thigh", 100.0),
        (replace(SQUAT, eccentric_s=0.6, hold_s=0.15, concentric_s=0.55, top_pause_s=0.2), "thigh", 60.0),
    ],
)
def test_simulated_sessions_are_counted_by_one_sensor_between_walks(routine, point, rate_hz):
    session = simulate_session(7, routine, Person(), rate_hz=rate_hz)
    sensor = session.recording.sensor(point)
    found = count_segment_repetitions(sensor.accelerometer_m_s2, sensor.gyroscope_rad_s, sensor.missing, rate_hz)
    for true in session.truth.sets:
        (hit,) = [each for each in found.sets if each.done.stop_s > true.start_s and each.done.start_s < true.stop_s]
        assert hit.least <= len(true.repetitions) <= hit.most
        assert abs(hit.count - len(true.repetitions)) <= 1


@pytest.mark.parametrize("number", [0, 1])
def test_a_real_walk_is_no_exercise(knee_walk, number):
    rate_hz, sensors = knee_walk
    found = count(sensors[number], rate_hz)
    assert found.sets == ()
    assert sum(stop - start for start, stop in found.walking) > 20


def real_counts(shoulder_people, people):
    """What is counted in each set of some people."""
    rate_hz, sets = shoulder_people
    found = [
        count((each.accelerometer_m_s2, each.gyroscope_rad_s), rate_hz).sets for each in sets if each.person in people
    ]
    return np.array([sum(each.count for each in its) for its in found])


def test_real_sets_of_the_people_tuned_on(shoulder_people):
    # nominally 20 each; what was really done isn't recorded. Measured: 76 % exactly, 99 % within one
    off = real_counts(shoulder_people, range(1, 6)) - 20
    assert np.mean(off == 0) >= 0.74
    assert np.mean(abs(off) <= 1) >= 0.97


def test_real_sets_of_people_not_tuned_on(shoulder_people):
    # wished for: 85 % exactly and 97 % within one, which is missed; measured: 80 % and 96 %, none doubled
    off = real_counts(shoulder_people, range(6, 11)) - 20
    assert len(off) == 70
    assert np.mean(off == 0) >= 0.80
    assert np.mean(abs(off) <= 1) >= 0.94
    assert abs(off).max() <= 5
