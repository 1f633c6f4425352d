"""From a plan's exercise to a routine; named scenarios."""

import numpy as np
import pytest

from imu_rom.dose.exercise import Exercise, Tempo
from imu_rom.errors import SettingError
from imu_rom.simulation import SCENARIOS, Person, Routine, routine_from_exercise, simulate_session

EXERCISE = Exercise(
    name="heeldrop",
    joint="ankle",
    motion="dorsiflexion",
    side="right",
    proximal="leg",
    distal="shoe",
    sets=2,
    repetitions=4,
    calibration_movement="plantarflexion",
    tempo=Tempo(eccentric_s=3.0, end_range_hold_s=1.0),
    rest_s=40,
    start_deg=-20,
    end_range_deg=(4.0, 12.0),
)


def test_routine_takes_what_the_exercise_prescribes():
    routine = routine_from_exercise(EXERCISE, depth_offset_deg=-3)
    assert (routine.proximal, routine.distal, routine.side, routine.task) == ("leg", "shoe", "right", "heeldrop")
    assert (routine.sets, routine.repetitions, routine.rest_s, routine.start_deg) == (2, 4, 40, -20)
    assert (routine.eccentric_s, routine.hold_s) == (3, 1)
    assert routine.end_range_deg == 8 - 3
    assert routine.calibration_sign == -1
    # what the exercise leaves out keeps its default
    assert routine.concentric_s == Routine().concentric_s


@pytest.mark.parametrize(
    ("joint", "motion", "said"),
    [
        ("ankle", "inversion", "motion of the ankle must be dorsiflexion, got 'inversion'; other motions"),
        ("ankle", "plantarflexion", "motion of the ankle must be dorsiflexion, got 'plantarflexion'; other motions"),
        ("knee", "extension", "motion of the knee must be flexion, got 'extension'; other motions"),
        ("hip", "flexion", "joint must be ankle or knee, got 'hip'."),
    ],
)
def test_what_has_no_simulated_truth_is_refused_and_not_simulated_as_something_else(joint, motion, said):
    from dataclasses import replace

    with pytest.raises(SettingError) as refused:
        routine_from_exercise(replace(EXERCISE, joint=joint, motion=motion))
    assert said in str(refused.value)


def test_open_ended_window_is_passed_by_a_little():
    from dataclasses import replace

    assert routine_from_exercise(replace(EXERCISE, end_range_deg=(5.0, np.inf))).end_range_deg == 9


def test_changes_win_over_the_exercise():
    routine = routine_from_exercise(EXERCISE, repetitions=2, rest_s=10)
    assert (routine.repetitions, routine.rest_s) == (2, 10)


def test_knee_exercise_bends_the_knee():
    from dataclasses import replace

    exercise = replace(
        EXERCISE,
        joint="knee",
        motion="flexion",
        proximal="thigh",
        distal="shank",
        start_deg=None,
        end_range_deg=(50, 70),
        calibration_movement="flexion",
    )
    routine = routine_from_exercise(exercise)
    assert (routine.joint, routine.calibration_sign, routine.end_range_deg) == ("knee", 1, 60)
    assert simulate_session(1, routine).truth.angle_deg.max() > 55


def test_declared_mounting_is_how_the_sensors_sit():
    from dataclasses import replace

    exercise = replace(EXERCISE, mounting={"leg": "z outward, x up", "shoe": "z up, x forward"})
    routine = routine_from_exercise(exercise)
    mountings = simulate_session(2, routine, Person(mounting_error_deg=0)).truth.body.mountings
    # segments: x forward, y left, z up; outward on the right side is right
    assert np.allclose(mountings["proximal"].apply([[0, 0, 1], [1, 0, 0]]), [[0, -1, 0], [0, 0, 1]])
    assert np.allclose(mountings["distal"].apply([[0, 0, 1], [1, 0, 0]]), [[0, 0, 1], [1, 0, 0]])
    askew = simulate_session(2, routine).truth.body.mountings["distal"]
    assert 0.5 < np.rad2deg((askew * mountings["distal"].inv()).magnitude()) < 20


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"joint": "elbow"}, "joint must be ankle or knee, got 'elbow'"),
        ({"sets": 0}, "sets and repetitions must be at least 1, got 0 and 15"),
        ({"end_range_deg": -30}, "the end range must lie past the start, got -25.0 to -30 deg"),
        ({"set_repetitions": (15, 12)}, "set_repetitions must be 3 numbers from 1, got"),
        ({"hold_s": -1}, "hold_s must be a number from 0, got -1"),
        ({"rest_s": float("nan")}, "rest_s must be a number from 0, got nan"),
        ({"start_deg": float("inf")}, "start_deg must be a number, got inf"),
        ({"partial_share": 1.5}, "partial_share must lie in 0 to 1, got 1.5"),
    ],
)
def test_impossible_routines_are_refused(changes, sentence):
    with pytest.raises(SettingError) as refused:
        Routine(**changes)
    assert sentence in str(refused.value)


def test_every_scenario_says_what_it_is_and_can_be_done():
    for name, scenario in SCENARIOS.items():
        assert scenario.meaning, name
        routine, person = scenario.apply(Routine(sets=1, repetitions=2), Person())
        assert routine.joint == "ankle"
        assert person.wobble_deg == 0.8


def done(name, seed=3, **changes):
    routine, person = SCENARIOS[name].apply(Routine(**changes), Person())
    return simulate_session(seed, routine, person).truth


def test_partial_repetitions_come_on_top_and_stop_short():
    truth = done("partial", sets=2)
    partial = [each for each in truth.repetitions if each.partial]
    complete = [each for each in truth.repetitions if not each.partial]
    assert len(complete) == 30
    assert partial
    assert max(each.end_range_deg for each in partial) < min(each.end_range_deg for each in complete)


def test_fast_takes_about_a_second_and_a_half():
    truth = done("fast", sets=1)
    starts = [each.start_s for each in truth.repetitions]
    assert np.mean(np.diff(starts)) == pytest.approx(1.5, abs=0.15)


def test_long_hold_lasts():
    assert np.mean([each.hold_s for each in done("long-hold").repetitions]) == pytest.approx(18, abs=2)


def test_floor_level_ends_with_the_foot_on_the_floor():
    truth = done("floor", sets=1)
    assert np.mean([each.end_range_deg for each in truth.repetitions]) == pytest.approx(0, abs=1.5)
    assert truth.repetitions[-1].concentric_s == 0
    assert all(each.concentric_s > 0 for each in truth.repetitions[:-1])


def test_short_rests_are_short_and_without_walking():
    truth = done("short-rests")
    rests = [after.start_s - before.stop_s for before, after in zip(truth.sets, truth.sets[1:], strict=False)]
    assert max(rests) < 18
    long_walks = [each for each in truth.walking if truth.sets[0].start_s < each.start_s < truth.sets[-1].stop_s]
    assert all(each.stop_s - each.start_s < 1.3 for each in long_walks)


def test_a_pause_interrupts_its_set():
    truth = simulate_session(4, Routine(sets=1, repetitions=6, pause_probability=1)).truth
    (pause,) = truth.sets[0].pauses
    assert 5 <= pause.stop_s - pause.start_s <= 20
    between = [
        (one.stop_s, after.start_s) for one, after in zip(truth.repetitions, truth.repetitions[1:], strict=False)
    ]
    assert sum(stop_s <= pause.start_s and pause.stop_s <= start_s for stop_s, start_s in between) == 1
    standing = simulate_session(4, Routine(sets=1, repetitions=6, pause_probability=1, pauses_standing=True)).truth
    (pause,) = standing.sets[0].pauses
    middle = round((pause.start_s + pause.stop_s) * 50)
    assert standing.angle_deg[middle] == pytest.approx(standing.zero_shift_deg, abs=4)


def test_sets_may_differ_in_length():
    truth = simulate_session(5, Routine(sets=2, set_repetitions=(3, 2))).truth
    assert [len(each.repetitions) for each in truth.sets] == [3, 2]


def test_chair_and_leaning_stand_come_before_the_pose():
    truth = simulate_session(6, Routine(sets=1, repetitions=1, sits_before=True, leans_before_deg=6)).truth
    assert truth.chair is not None
    assert truth.leaning is not None
    assert truth.chair.stop_s < truth.leaning.start_s < truth.leaning.stop_s < truth.pose.start_s
    middle = round((truth.leaning.start_s + truth.leaning.stop_s) * 50)
    assert truth.angle_deg[middle] - truth.zero_shift_deg == pytest.approx(6, abs=1.5)
    assert simulate_session(6, Routine(sets=1, repetitions=1, sits_before=False)).truth.chair is None
