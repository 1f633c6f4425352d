"""Several exercises in one recording: whose sets are whose, one zero for one leg and shoe, and what stays open."""

from dataclasses import replace

import numpy as np
import pytest

from imu_rom.dose.exercise import CompressionThreshold, Exercise, Tempo
from imu_rom.dose.plan import Plan, Stage
from imu_rom.errors import CannotAnswerError, PlanError, RecordingError
from imu_rom.exchange.document import result_document
from imu_rom.recording.model import Event, Recording, Sensor
from imu_rom.session import AskedPart, Mark, analyse
from imu_rom.session.parts import combined_exercise, parts_of
from imu_rom.simulation import routine_from_exercise, simulate_session, simulate_wearings

STRAIGHT = Exercise(
    name="heeldrop",
    joint="ankle",
    motion="dorsiflexion",
    side="left",
    proximal="shank",
    distal="foot",
    calibration_movement="plantarflexion",
    sets=2,
    repetitions=6,
    tempo=Tempo(2.5, 2.0, 1.5, 0.6),
    rest_s=30.0,
    start_deg=-25.0,
    end_range_deg=(5.0, 15.0),
    compression_threshold=CompressionThreshold(4.0, "clinician"),
    knee="straight",
)
BENT = replace(STRAIGHT, name="heeldropbent", repetitions=5, start_deg=-15.0, end_range_deg=(12.0, 22.0), knee="bent")
RIGHT = replace(STRAIGHT, name="heeldropright", side="right")


def plan_of(*exercises, patient=None):
    return Plan("Two", "achilles insertion", (Stage("now", exercises),), "now", patient=patient)


@pytest.fixture(scope="module")
def two_knees():
    """Heel drops with a straight knee, then with a bent one; two sets each."""
    return simulate_session(1, routine_from_exercise(STRAIGHT), rate_hz=50, then=[routine_from_exercise(BENT)])


@pytest.fixture(scope="module")
def two_legs():
    """Heel drops of the left leg, then, with the sensors taped on anew, of the right one."""
    return simulate_wearings(1, [[routine_from_exercise(STRAIGHT)], [routine_from_exercise(RIGHT)]], rate_hz=50)


def without_events(recording):
    return replace(recording, events=())


def asked_by(recording):
    return [
        AskedPart(each.trial_type, (each.onset_s, each.onset_s + (each.duration_s or 0.0))) for each in recording.events
    ]


def sets_of(result):
    return [
        (each.exercise.name, each.exercise.side, done.number, done.start_s, done.stop_s, done.complete, done.verdict)
        for each in result.exercises
        for done in each.comparison.sets
    ]


def codes(result):
    return [each.code for each in result.findings]


@pytest.fixture(scope="module")
def by_events(two_knees):
    return analyse(two_knees.recording, plan_of(STRAIGHT, BENT))


def test_each_exercise_gets_the_sets_that_were_done_of_it(two_knees, by_events):
    assert [each.exercise for each in by_events.exercises] == [STRAIGHT, BENT]
    truth = iter(two_knees.truth.sets)
    for answer in by_events.exercises:
        assert answer.allotment.said_by == "events"
        assert [each.number for each in answer.comparison.sets] == [1, 2]
        for done in answer.comparison.sets:
            true = next(truth)
            assert done.complete == len(true.repetitions)
            assert done.start_s == pytest.approx(true.start_s, abs=1.0)
            measured = [each.repetition.end_range_deg for each in done.repetitions]
            expected = [each.end_range_deg - two_knees.truth.zero_shift_deg for each in true.repetitions]
            assert measured == pytest.approx(expected, abs=1.3)


def test_events_option_and_order_allot_the_same(two_knees, by_events):
    plan, recording = plan_of(STRAIGHT, BENT), without_events(two_knees.recording)
    by_option = analyse(recording, plan, parts=asked_by(two_knees.recording))
    by_order = analyse(recording, plan)
    named_in_order = analyse(recording, plan, parts=[AskedPart("heeldrop"), AskedPart("heeldropbent")])
    assert sets_of(by_option) == sets_of(by_order) == sets_of(named_in_order) == sets_of(by_events)
    assert [each.allotment.said_by for each in by_option.exercises] == ["option"] * 2
    assert [each.allotment.said_by for each in by_order.exercises] == ["order"] * 2


def test_an_event_a_set_in_any_order_of_rows_does_as_well(two_knees, by_events):
    names = ["heeldrop", "heeldrop", "heeldropbent", "heeldropbent"]
    events = [
        # somebody presses a second late, and lets go a second early
        Event(one.start_s + 1.0, one.stop_s - one.start_s - 2.0, name)
        for one, name in zip(two_knees.truth.sets, names, strict=True)
    ]
    result = analyse(replace(two_knees.recording, events=tuple(events)), plan_of(BENT, STRAIGHT))
    assert sets_of(result) == sets_of(by_events)


def test_one_leg_and_shoe_share_the_pose_and_its_uncertainty(by_events):
    first, second = by_events.exercises
    assert (first.zero, first.alignment) == (second.zero, second.alignment)
    poses = [
        [(term.value_deg, term.source) for term in each.budget.terms if term.name == "zero_pose"]
        for each in (first, second)
    ]
    assert poses[0] == poses[1]
    assert codes(by_events).count("zero-held") == 1


def test_time_outside_the_sets_is_counted_once(two_knees, by_events):
    together = analyse(without_events(two_knees.recording), plan_of(STRAIGHT, replace(BENT, sets=3)))
    outside = sum(each.comparison.outside_sets_s for each in by_events.exercises)
    assert outside == pytest.approx(together.exercises[0].comparison.outside_sets_s, abs=0.05)


@pytest.mark.parametrize("sets", [1, 3])
def test_more_or_fewer_sets_than_prescribed_are_shown_and_left_undecided(two_knees, by_events, sets):
    result = analyse(without_events(two_knees.recording), plan_of(STRAIGHT, replace(BENT, sets=sets)))
    (answer,) = result.exercises
    assert answer.allotment.candidates == ("heeldrop", "heeldropbent")
    assert answer.allotment.why == f"4 sets were found where the plan asks for 2 of heeldrop and {sets} of heeldropbent"
    done = answer.comparison.sets
    assert [each.verdict for each in done] == ["undecided"] * 4
    assert answer.comparison.prescribed_repetitions == 12 + 5 * sets
    # what both exercises have alike is kept, what differs is not prescribed
    assert (answer.exercise.compression_threshold, answer.exercise.end_range_deg) == (
        STRAIGHT.compression_threshold,
        None,
    )
    known = [each for one in by_events.exercises for each in one.comparison.sets]
    assert [each.start_s for each in done] == [each.start_s for each in known]
    ends = [[each.repetition.end_range_deg for each in one.repetitions] for one in done]
    assert ends == [[each.repetition.end_range_deg for each in one.repetitions] for one in known]


def test_holds_that_contradict_the_order_leave_it_undecided():
    brief, long = (
        replace(STRAIGHT, name=name, repetitions=4, tempo=replace(STRAIGHT.tempo, end_range_hold_s=held_s))
        for name, held_s in (("brief", 1.0), ("long", 6.0))
    )
    session = simulate_session(2, routine_from_exercise(brief), rate_hz=50, then=[routine_from_exercise(long)])
    recording = without_events(session.recording)
    in_order = analyse(recording, plan_of(brief, long))
    assert [each.exercise.name for each in in_order.exercises] == ["brief", "long"]
    # done in another order than the plan's: as many sets, and nothing but the holds that speaks against it
    (answer,) = analyse(recording, plan_of(long, brief)).exercises
    assert answer.allotment.candidates == ("long", "brief")
    assert "they may have been done in another order" in answer.allotment.why
    assert [each.verdict for each in answer.comparison.sets] == ["undecided"] * 4


def test_sets_outside_all_events_are_named(two_knees):
    alone = replace(two_knees.recording, events=two_knees.recording.events[:1])
    result = analyse(alone, plan_of(STRAIGHT, BENT))
    assert [each.exercise.name for each in result.exercises] == ["heeldrop"]
    left_out = [each.sentence for each in result.findings if each.code == "set-left-out"]
    assert len(left_out) == 2
    assert left_out[0].startswith("5 repetitions from 31")


def test_an_exercise_without_sets_in_its_time_is_said_and_the_other_answered(two_knees):
    events = (two_knees.recording.events[0], Event(440.0, 5.0, "heeldropbent"))
    result = analyse(replace(two_knees.recording, events=events), plan_of(STRAIGHT, BENT))
    assert [each.exercise.name for each in result.exercises] == ["heeldrop"]
    (problem,) = [each for each in result.findings if each.code == "exercise-not-answered"]
    assert problem.sentence.startswith("heeldropbent is not answered: no repetition of 'heeldropbent' was found")


def test_marks_go_to_the_exercise_that_they_touch(two_knees, by_events):
    last = by_events.exercises[1].comparison.sets[0].repetitions[0].repetition
    mark = Mark("strike", last.end_range_s - 0.5, last.end_range_s + 0.5, "coughed", "clinician 3", "2026-12-04")
    struck = analyse(two_knees.recording, plan_of(STRAIGHT, BENT), marks=[mark])
    assert [each.comparison.complete for each in struck.exercises] == [12, 9]
    with pytest.raises(CannotAnswerError, match="touches no set"):
        analyse(two_knees.recording, plan_of(STRAIGHT, BENT), marks=[replace(mark, start_s=5.0, stop_s=6.0)])


def test_a_recording_of_one_exercise_says_nothing_of_allotting(two_knees):
    result = analyse(
        without_events(two_knees.recording), plan_of(STRAIGHT, BENT), exercise_name="heeldrop", span_s=(150, 280)
    )
    assert sets_of(result)[0][:3] == ("heeldrop", "left", 1)
    assert len(sets_of(result)) == 2
    assert result.exercises[0].allotment is None
    assert result_document(result).exercises[0].allotment is None


# ------------------------------------------------------------------------------------------ another leg or shoe


def test_each_leg_has_a_zero_of_its_own(two_legs):
    result = analyse(two_legs.recording, plan_of(STRAIGHT, RIGHT))
    assert [(each.exercise.name, each.exercise.side) for each in result.exercises] == [
        ("heeldrop", "left"),
        ("heeldropright", "right"),
    ]
    others = reversed(two_legs.wearings)
    for answer, truth, other in zip(result.exercises, two_legs.wearings, others, strict=True):
        assert answer.zero.start_s < truth.pose.stop_s
        assert answer.zero.stop_s > truth.pose.start_s
        assert answer.worn_start_s == pytest.approx(truth.worn.start_s, abs=5.0)
        assert answer.worn_stop_s == pytest.approx(truth.worn.stop_s, abs=5.0)
        measured = [each.repetition.end_range_deg for one in answer.comparison.sets for each in one.repetitions]
        expected = [each.end_range_deg - truth.zero_shift_deg for each in truth.repetitions]
        assert measured == pytest.approx(expected, abs=1.3)
        # nothing is claimed of the other leg's time
        middle = round((other.sets[0].start_s + other.sets[0].stop_s) / 2 * 50)
        assert answer.trace.standard_uncertainty_deg[middle] == 180.0
        assert len(answer.trace.time_s) == two_legs.recording.sample_count


def test_legs_are_told_apart_by_the_order_too(two_legs):
    expected = sets_of(analyse(two_legs.recording, plan_of(STRAIGHT, RIGHT)))
    found = sets_of(analyse(without_events(two_legs.recording), plan_of(STRAIGHT, RIGHT)))
    assert [each[:3] for each in found] == [each[:3] for each in expected]
    assert [each[3:5] for each in found] == [pytest.approx(each[3:5], abs=0.5) for each in expected]


def test_another_shoe_without_a_pose_of_its_own_is_not_answered(two_knees):
    lifted = replace(BENT, heel_lift_mm=12.0)
    result = analyse(two_knees.recording, plan_of(STRAIGHT, lifted))
    assert [each.exercise.name for each in result.exercises] == ["heeldrop"]
    (problem,) = [each for each in result.findings if each.code == "exercise-not-answered"]
    assert problem.level == "problem"
    assert "heeldropbent is not answered: no calibration movement" in problem.sentence
    with pytest.raises(
        CannotAnswerError, match="put on 2 times, each followed by a neutral pose, but the recording shows 1"
    ):
        analyse(without_events(two_knees.recording), plan_of(STRAIGHT, lifted))


def test_a_leg_that_comes_back_is_refused(two_legs):
    first, second = two_legs.recording.events
    again = Event(second.onset_s + 115.0, 20.0, "heeldrop")
    with pytest.raises(CannotAnswerError, match=r"is done again from 564\.25 s on, after another leg or shoe"):
        analyse(replace(two_legs.recording, events=(first, second, again)), plan_of(STRAIGHT, RIGHT))


# ------------------------------------------------------------------------------------------ who says so


def recording_with(events=(), task="session", subject=None):
    still = np.zeros((5000, 3))
    sensors = {point: Sensor(point, still, still, None, np.zeros(5000, dtype=bool)) for point in ("shank", "foot")}
    return Recording(rate_hz=50.0, sensors=sensors, label="made", task=task, subject=subject, events=tuple(events))


def test_an_event_of_unknown_length_lasts_until_the_next():
    events = [Event(10.0, None, "heeldrop"), Event(30.0, 5.0, "cough"), Event(60.0, None, "heeldropbent")]
    held = parts_of(recording_with(events), plan_of(STRAIGHT, BENT))
    assert [(each.exercise.name, each.spans_s) for each in held.parts] == [
        ("heeldrop", ((10.0, 30.0),)),
        ("heeldropbent", ((60.0, 100.0),)),
    ]
    (unknown,) = held.findings
    assert (unknown.code, unknown.start_s, unknown.stop_s) == ("event-unknown", 30.0, 35.0)
    assert "names no exercise of the plan's stage 'now', which has heeldrop, heeldropbent" in unknown.sentence


def test_an_event_of_the_other_side_is_left_out():
    held = parts_of(recording_with([Event(10.0, 5.0, "heeldrop", "right")], "heeldrop"), plan_of(STRAIGHT, BENT))
    assert (held.said_by, [each.exercise.name for each in held.parts]) == ("task", ["heeldrop"])
    assert "is of the right side, but the plan has 'heeldrop' on the left side" in held.findings[0].sentence


@pytest.mark.parametrize(
    ("task", "said_by", "names"),
    [("session", "order", 2), (None, "order", 2), ("heeldropbent", "task", 1)],
)
def test_the_task_label_says_whether_all_of_the_stage_is_in_it(task, said_by, names):
    held = parts_of(recording_with(task=task), plan_of(STRAIGHT, BENT))
    assert (held.said_by, len(held.parts)) == (said_by, names)
    assert parts_of(recording_with(), plan_of(STRAIGHT)).said_by == "task"
    with pytest.raises(PlanError, match="of the task 'squat'"):
        parts_of(recording_with(task="squat"), plan_of(STRAIGHT, BENT))


def test_contradictions_are_refused():
    plan = plan_of(STRAIGHT, BENT, patient="P-1")
    overlapping = [Event(10.0, 30.0, "heeldrop"), Event(30.0, 30.0, "heeldropbent")]
    with pytest.raises(RecordingError, match="from 10 to 40 s and 'heeldropbent' that from 30 to 60 s, which overlap"):
        parts_of(recording_with(overlapping), plan)
    with pytest.raises(PlanError, match="each must be given its stretch or none"):
        parts_of(recording_with(), plan, [AskedPart("heeldrop", (1.0, 2.0)), AskedPart("heeldropbent")])
    with pytest.raises(PlanError, match="named twice"):
        parts_of(recording_with(), plan, [AskedPart("heeldrop"), AskedPart("heeldrop")])
    for events in ((), overlapping[:1]):
        with pytest.raises(PlanError, match="but the recording is of subject 'P2'"):
            parts_of(recording_with(events, subject="P2"), plan)


def test_exercises_of_different_angles_have_no_order_to_be_found_in():
    with pytest.raises(CannotAnswerError, match="differ in their motion"):
        combined_exercise([STRAIGHT, replace(BENT, motion="plantarflexion")], "made")
    combined = combined_exercise([STRAIGHT, BENT], "made")
    assert (combined.name, combined.sets, combined.repetitions) == ("heeldrop or heeldropbent", 4, 0)
    assert (combined.knee, combined.start_deg, combined.tempo) == (None, None, STRAIGHT.tempo)
