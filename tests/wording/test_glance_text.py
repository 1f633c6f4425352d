"""The first screen: the right word for each answer, each with figure, interval and likelihood."""

import re
from dataclasses import replace

import pytest

from imu_rom.findings import Finding
from imu_rom.session.result import Allotment, LaterPose
from imu_rom.wording.figures import one_decimal
from imu_rom.wording.glance_text import glance_lines, recording_line

U_DEG = 2.154
AGREES = LaterPose(250.5, 257.25, -0.4, 1.118, "agrees")


def lines_of(session, allotment=None):
    (answer,) = session.exercises
    return {each.question: each for each in glance_lines(answer.exercise, answer.comparison, U_DEG, allotment)}


def test_the_order_is_what_was_done_then_time_depth_limit_and_what_stays_open(made_session):
    (answer,) = made_session.exercises
    lines = glance_lines(answer.exercise, answer.comparison, U_DEG, None)
    assert [each.question for each in lines] == ["Done", "Time past 4 deg", "Depth", "Limit", "Not told"]
    for each in lines:
        assert each.sentence.endswith(".")
        assert "\n" not in each.sentence


def test_a_session_as_planned(made_session):
    lines = lines_of(made_session)
    past = made_session.exercises[0].comparison.exposure
    assert (lines["Done"].answer, lines["Done"].sign) == ("45 of 45", "well")
    assert lines["Time past 4 deg"].answer == f"{one_decimal(past.past_threshold_s)} s"
    ends = f"{one_decimal(past.past_threshold_low_s)} to {one_decimal(past.past_threshold_high_s)}"
    assert f"(95 % interval {ends}; asked 60 to 180 s)" in lines["Time past 4 deg"].sentence
    assert lines["Depth"].sentence.startswith(
        "Median 9.9 deg held at the end range (95 % interval 5.6 to 14.1; asked 5 to 15"
    )
    assert re.search(
        r"45 reached 5 deg, 0 did not, 0 can't be told; that enough did is \w+ \w+ ", lines["Depth"].sentence
    )
    assert (lines["Limit"].answer, lines["Limit"].sign) == ("kept", "well")
    assert (lines["Not told"].answer, lines["Not told"].sign) == ("nothing", "well")


@pytest.mark.parametrize(
    ("depths", "question", "answer", "sign"),
    [
        (((24.0,) * 15,) * 3, "Limit", "passed", "look"),
        (((16.0,) * 15,) * 3, "Limit", "undecided", "open"),
        (((10.0,) * 15,) * 2, "Done", "30 of 45", "look"),
        (((-3.0,) * 15,) * 3, "Depth", "-3.1 deg", "look"),
        (((5.1,) * 15,) * 3, "Depth", "5.0 deg", "open"),
        (((16.0,) * 15,) * 3, "Not told", "sets 1, 2 and 3", "open"),
    ],
)
def test_answers_by_what_was_done(make_session, depths, question, answer, sign):
    line = lines_of(make_session(depths=depths))[question]
    assert (line.answer, line.sign) == (answer, sign)


def test_deeper_than_asked_is_something_to_look_at(make_session, heeldrop):
    session = make_session(depths=((18.0,) * 15,) * 3, exercise=replace(heeldrop, limit_deg=None))
    line = lines_of(session)["Depth"]
    assert line.sign == "look"
    assert "45 went deeper than asked" in line.sentence


def test_what_is_undecided_says_what_would_settle_it(make_session):
    line = lines_of(make_session(depths=((16.0,) * 15,) * 3))["Not told"]
    assert line.sentence.startswith("Sets 1, 2 and 3 are undecided: in set 1 that the limit of 18 deg was kept is ")
    assert line.sentence.endswith("would settle it.")


def test_what_the_plan_does_not_ask_is_not_judged(make_session, unprescribed):
    lines = lines_of(make_session(exercise=unprescribed))
    assert "Time past 4 deg" not in lines
    assert (lines["Depth"].sign, lines["Limit"].sign) == ("none", "none")
    assert lines["Depth"].sentence.endswith("; none asked).")


def test_one_segment_alone_has_no_depth_and_no_limit(make_session, heeldrop):
    exercise = replace(heeldrop, sensors="distal only", proximal="none", still_segment=None)
    lines = lines_of(make_session(exercise=exercise))
    assert set(lines) == {"Done", "Not told"}
    assert "can't tell how deep" in lines["Not told"].sentence


def test_sets_of_nobody_are_said_to_be(made_session):
    allotment = Allotment("order", ("heeldrop", "heeldropbent"), "there are 3 sets, the plan asks for 5")
    assert lines_of(made_session, allotment)["Not told"].answer == "which exercise"


def test_floor_is_judged_by_the_foot(make_session, floordrop):
    lines = lines_of(make_session(depths=((0.0,) * 15,) * 3, exercise=floordrop))
    assert "from lying flat" in lines["Foot on floor"].sentence
    assert "came back to the floor" in lines["Foot on floor"].sentence


def test_no_pain_is_mentioned(made_session):
    assert "pain" not in " ".join(each.sentence for each in lines_of(made_session).values())


@pytest.mark.parametrize(
    ("poses", "levels", "answer", "sign"),
    [
        ((AGREES,), (), "usable", "well"),
        ((AGREES,), ("note",), "usable", "well"),
        ((AGREES,), ("caution",), "usable with care", "look"),
        ((AGREES,), ("caution", "problem"), "usable in part", "look"),
        ((), (), "zero unchecked", "open"),
        ((replace(AGREES, start_s=10.0, stop_s=12.0),), (), "zero unchecked", "open"),
    ],
)
def test_whether_the_recording_can_be_used(poses, levels, answer, sign):
    findings = [Finding("gap", level, "Something.") for level in levels]
    line = recording_line(findings, poses, 240.0)
    assert (line.answer, line.sign) == (answer, sign)
    if answer == "usable":
        start = "From start to end the zero moved by -0.4 deg (95 % interval -2.6 to 1.8), no more than standing twice"
        assert line.sentence.startswith(start)
